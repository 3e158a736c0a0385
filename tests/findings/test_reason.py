"""The one sentence: right or wrong, by how much, and which term is named with which value.

Expected values are phasors written out: on a solid neutral a current is V/Z, on an isolated star
Millman gives the point. Expected words are those of design/commands.md and design/vocabulary.md,
or what a trainee must find in the sentence.
"""

from __future__ import annotations

import cmath
import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import simulator

if TYPE_CHECKING:
    from simulator.findings.result import TotalResult

A = cmath.rect(1, 2 * math.pi / 3)
ABC = np.array([1, A**2, A])
V = 230 * ABC
Z = np.array([23, 46, cmath.rect(23, math.pi / 3)])  # U of design/needs.md
U = {"L1": "23 ohm", "L2": "46 ohm", "L3": "23 ohm @ 60 deg"}
FOUR = {"wires": 4, "sequence_voltages": {"positive": "230 V"}}
THREE = {"wires": 3, "sequence_voltages": {"positive": "230 V"}}
ON_NEUTRAL = {"connection": "star", "star_point": "neutral"} | U
ISOLATED = {"connection": "star"} | U


def total(supply: dict[str, Any], load: dict[str, Any], **tables: Any) -> TotalResult:
    document = {"title": "reason", "supply": supply, "load": [load]} | tables
    found = simulator.solve(simulator.scenario_from(document)).total
    assert found is not None
    return found


def two(common: str, **first: Any) -> dict[str, Any]:
    lines = [line for line in ("L1", "L2", "L3") if line != common]
    meters: list[dict[str, Any]] = [
        {"name": f"W{k}", "current": line, "voltage": [line, common]}
        for k, line in enumerate(lines, 1)
    ]
    meters[0] |= first
    return {"wattmeter": meters, "total": {"power": "W1 + W2"}}


def method(name: str, **options: Any) -> dict[str, Any]:
    return {"method": {"name": name} | options}


def values_in(text: str, unit: str = "W") -> list[float]:
    """Collect the numbers that stand before a unit, with their sign."""
    found = re.findall(rf"(−?[\d.]+) {unit}\b", text)
    return [float(number.replace("−", "-")) for number in found]


def said_once(text: str, error: float, unit: str = "W") -> bool:
    """Tell whether the sentence gives the size of the error once, and its direction."""
    (size,) = values_in(text, unit)
    return size == to_four_digits(abs(error)) and f"too {'high' if error > 0 else 'low'}" in text


def to_four_digits(value: float) -> object:
    return pytest.approx(value, rel=6e-4)


# Wrong totals -------------------------------------------------------------------------------


@pytest.mark.parametrize("common", ["L1", "L2", "L3"])
def test_a_common_line_with_a_neutral_current(common: str) -> None:
    found = total(FOUR, ON_NEUTRAL, **two(common))
    I_N = (V / Z).sum()
    error = -(V[int(common[1]) - 1] * I_N.conj()).real
    assert found.error == pytest.approx(error, rel=1e-10)
    assert f"(Re((V_N − V_{common})·I_N*) = " in found.reason
    assert f"the common line {common}, 230 V away from the neutral" in found.reason
    assert f"a neutral current of {abs(I_N):.4g} A flows" in found.reason
    size, term = values_in(found.reason)
    assert size == to_four_digits(abs(error))
    assert term == to_four_digits(error)
    assert found.reason.startswith(f"The total is {size:g} W too {'high' if error > 0 else 'low'}")


def test_a_displaced_pseudo_neutral() -> None:
    # coils 21:20:20 on four wires; P by Millman
    instruments = {"a": {"voltage_circuit": "21 kohm"}, "b": {"voltage_circuit": "20 kohm"}}
    name = "three wattmeters to a floating star point"
    found = total(
        FOUR, ON_NEUTRAL, instrument=instruments, **method(name, instrument=["a", "b", "b"])
    )
    y = 1 / np.array([21, 20, 20])
    P = V @ y / y.sum()
    error = -(P * (V / Z).sum().conj()).real
    assert found.error == pytest.approx(error, rel=1e-9)
    assert "(Re((V_N − V_P)·I_N*) = " in found.reason
    assert f"'P', {abs(P):.4g} V away from the neutral" in found.reason
    assert values_in(found.reason) == [to_four_digits(abs(error)), to_four_digits(error)]


@pytest.mark.parametrize("line", ["L1", "L2"])
def test_times_three_on_an_unbalanced_load(line: str) -> None:
    found = total(FOUR, ON_NEUTRAL, **method("one wattmeter to neutral", line=line))
    P = (V * (V / Z).conj()).real
    error = 3 * P[int(line[1]) - 1] - P.sum()
    assert "×3 on an unbalanced load" in found.reason
    assert said_once(found.reason, error)


def test_times_three_on_a_balanced_load_with_unequal_branches() -> None:
    # the balanced load is not to blame, the point P is: Millman with 20, 20 and 30 kΩ
    instruments = {"a": {"voltage_circuit": "20 kohm"}}
    name = "one wattmeter with artificial neutral"
    options = {"instrument": "a", "resistors": ["20 kohm", "30 kohm"]}
    load = {"connection": "star", "each": "23 ohm"}
    found = total(THREE, load, instrument=instruments, **method(name, **options))
    y = 1 / np.array([20, 20, 30])
    P = V @ y / y.sum()
    error = 3 * ((V[0] - P) * (V[0] / 23).conj()).real - 3 * 2300
    assert f"'P' are unequal, so it lies {abs(P):.4g} V from the middle" in found.reason
    assert "×3" not in found.reason
    assert "on a balanced load too" in found.reason
    assert said_once(found.reason, error)


def test_a_reversed_circuit() -> None:
    found = total(THREE, ISOLATED, **two("L2", reversed=["current"]))
    I = (V - (V / Z).sum() / (1 / Z).sum()) / Z
    error = -2 * ((V[0] - V[1]) * I[0].conj()).real
    assert "one circuit of W1 is connected the other way round" in found.reason
    assert "Re(2·(V_L2 − V_L1)·I_L1*)" in found.reason
    assert values_in(found.reason) == [to_four_digits(abs(error)), to_four_digits(error)]


def test_difference_currents_on_voltages_that_do_not_sum_to_zero() -> None:
    supply = {"wires": 4, "sequence_voltages": {"positive": "230 V", "zero": "5 V"}}
    load = {"connection": "star", "each": "23 ohm", "star_point": "neutral"}
    found = total(supply, load, **method("two elements, difference currents"))
    error = -(15 * ((V[1] + 5) / 23).conjugate()).real  # −Re(ΣV·I2*)
    assert found.error == pytest.approx(error, rel=1e-9)
    assert "the three voltages to the neutral sum to zero" in found.reason
    assert values_in(found.reason) == [to_four_digits(abs(error)), to_four_digits(error)]


@pytest.mark.parametrize("name", ["one", "two", "three"])
def test_a_reactive_total_in_the_other_sequence(name: str) -> None:
    plural = "wattmeter" if name == "one" else "wattmeters"
    load = {"connection": "star", "each": "23+10j ohm"}
    supply = THREE | {"sequence": "L3-L2-L1"}
    found = total(supply, load, **method(f"{name} {plural} for reactive power"))
    Q = 3 * 230**2 * (1 / (23 - 10j)).imag
    assert found.true == pytest.approx(Q, rel=1e-10)
    assert found.indicated == pytest.approx(-Q, rel=1e-10)
    assert "the sequence is L3-L2-L1" in found.reason
    assert "opposite sign" in found.reason
    assert said_once(found.reason, -2 * Q, "var")


def test_reactive_power_of_an_unbalanced_load_by_two_wattmeters() -> None:
    found = total(THREE, ISOLATED, **method("two wattmeters for reactive power"))
    assert "only on symmetrical voltages with a balanced load" in found.reason
    # needs.md, 3.1 (derived): common B, 2201.5 → 5346.6 var; three roundings of 0.05
    assert values_in(found.reason, "var")[0] == pytest.approx(5346.6 - 2201.5, abs=0.15)


def test_leads_beyond_the_meters() -> None:
    load = ON_NEUTRAL | {"lead_impedance": "1 ohm"}
    found = total(FOUR, load, **method("three wattmeters to neutral"))
    lost = float(np.sum(np.abs(V / (Z + 1)) ** 2))
    assert "between the meters and the loads take their part" in found.reason
    assert said_once(found.reason, lost)
    assert "too high" in found.reason


@pytest.mark.parametrize("tap", ["supply", "load"])
def test_the_meters_own_circuits(tap: str) -> None:
    # derived: 1 ohm and 1 kΩ around a load of 22 ohm, so one of them is measured along
    instruments = {"m": {"current_circuit": "1 ohm", "voltage_circuit": "1 kohm"}}
    load = {"connection": "star", "each": "22 ohm", "star_point": "neutral"}
    options = {"instrument": "m", "voltage_tap": tap}
    found = total(
        FOUR, load, instrument=instruments, **method("three wattmeters to neutral", **options)
    )
    if tap == "supply":
        own = 3 * (230 / 23) ** 2
    else:
        both = 1 / (1 / 22 + 1 / 1000)
        own = 3 * (230 * both / (1 + both)) ** 2 / 1000
    assert f"on the {tap} side of the current circuits" in found.reason
    circuits = {"supply": "current circuits take", "load": "voltage circuits take"}
    assert circuits[tap] in found.reason
    assert said_once(found.reason, own)


def test_the_angle_of_inductive_voltage_circuits() -> None:
    # derived: cos β·cos(φ − β) in place of cos φ, three times 2300 VA at φ = 60°
    R, X = 2e4, 400.0
    instruments = {"m": {"voltage_circuit": f"{R} ohm, {X / (100 * math.pi)!r} H"}}
    load = {"connection": "star", "each": "23 ohm @ 60 deg", "star_point": "neutral"}
    found = total(
        FOUR, load, instrument=instruments, **method("three wattmeters to neutral", instrument="m")
    )
    beta = math.atan(X / R)
    error = 6900 * (math.cos(beta) * math.cos(math.pi / 3 - beta) - 0.5)
    assert found.error == pytest.approx(error, rel=1e-9)
    assert "turns the angle that the meters feel" in found.reason
    assert values_in(found.reason) == [to_four_digits(error), to_four_digits(error)]


def test_errors_of_transformers() -> None:
    # derived: 1.005·cos(φ − 30') for cos φ
    transformer = {
        "ct": {"ratio": "100/5 A", "ratio_error": "0.5 %", "phase_displacement": "30 min"}
    }
    load = {"connection": "star", "each": "23 ohm @ 60 deg", "star_point": "neutral"}
    options = {"current_transformer": "ct"}
    found = total(
        FOUR,
        load,
        current_transformer=transformer,
        **method("three wattmeters to neutral", **options),
    )
    error = 6900 * (1.005 * math.cos(math.radians(59.5)) - 0.5)
    assert "instrument transformers" in found.reason
    assert said_once(found.reason, error)


def test_several_terms_the_largest_first_and_together_the_error() -> None:
    load = ON_NEUTRAL | {"lead_impedance": "1 ohm"}
    found = total(FOUR, load, **two("L2"))
    I = V / (Z + 1)
    method_term = -(V[1] * I.sum().conj()).real
    leads = float(np.sum(np.abs(I) ** 2))
    assert method_term > leads > 0.02 * method_term
    assert values_in(found.reason) == [
        to_four_digits(method_term + leads),
        to_four_digits(method_term),
        to_four_digits(leads),
    ]


# Right totals -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("supply", "load", "tables", "words"),
    [
        (THREE, ISOLATED, two("L2"), "on three wires the currents sum to zero"),
        (THREE, ISOLATED, two("L2", reversed=["current", "voltage"]), "the currents sum to zero"),
        (FOUR, ON_NEUTRAL, method("three wattmeters to neutral"), "own voltage to the neutral"),
        (FOUR, ON_NEUTRAL, method("two elements, difference currents"),
         "any load on voltages that sum to zero"),
        (FOUR, {"connection": "star", "each": "23 ohm", "star_point": "neutral"},
         method("one wattmeter to neutral"), "any balanced load on symmetrical voltages"),
        (FOUR, ON_NEUTRAL | {"star_point": "isolated"}, two("L2"), "without neutral current"),
        (FOUR, ON_NEUTRAL, method("three wattmeters for reactive power"),
         "any load on symmetrical voltages"),
    ],
)  # fmt: skip
def test_a_right_total_says_for_which_class_it_is_right(
    supply: dict[str, Any], load: dict[str, Any], tables: dict[str, Any], words: str
) -> None:
    found = total(supply, load, **tables)
    assert found.is_right
    assert found.reason.startswith("The total is right")
    assert words in found.reason


def test_a_total_that_is_right_by_luck_says_so() -> None:
    # needs.md, row 17 (derived): the high leg stands at 90° to the neutral current
    emfs = {"L1": "120 V", "L2": "207.84609690826528 V @ 90 deg", "L3": "120 V @ 180 deg"}
    load = {"connection": "line-to-neutral", "L1": "6 ohm", "L3": "12 ohm"}
    found = total({"wires": 4, "phase_voltages": emfs}, load, **two("L2"))
    assert found.is_right
    assert found.reason == "The total is right here by coincidence, not by the method."


def test_a_current_through_the_earth_is_named() -> None:
    # common practice, no source: an earth fault on a corner-earthed supply returns beside the lines
    scenario = simulator.scenario_from(
        {
            "title": "t",
            "supply": {"wires": 3, "voltage": "400 V", "earthed": "L2"},
            "load": [{"connection": "star", "each": "20 ohm"}],
            "impedance": [{"name": "fault", "between": ["L3", "PE"], "value": "200 ohm"}],
            "voltmeter": [{"name": "V1", "between": ["L1", "PE"]}],
            "method": {"name": "two wattmeters", "common": "L1"},
        }
    )
    total = simulator.solve(scenario).total
    assert total is not None
    assert "2 A return by another way than the lines" in total.reason

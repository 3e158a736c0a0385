"""Each term of a total's error by a closed form of its own, and their sum."""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import simulator
from simulator.findings.error_terms import error_terms, read_at

if TYPE_CHECKING:
    from simulator.findings.error_terms import Term

A = cmath.rect(1, 2 * math.pi / 3)
V = 230 * np.array([1, A**2, A])
Z = np.array([20 + 5j, 30 - 9j, 10 + 8j])
FOUR = {"wires": 4, "sequence_voltages": {"positive": "230 V"}}
STAR = {
    "connection": "star", "star_point": "neutral", "L1": "20+5j ohm", "L2": "30-9j ohm",
    "L3": "10+8j ohm",
}  # fmt: skip
NAMES = [
    "angle of the voltage circuits",
    "the meters' own consumption",
    "transformers and channels",
    "leads beyond the meters",
]


def split(load: dict[str, Any], **tables: Any) -> tuple[Term, list[float], float]:
    """Return the method's term, the values of the four others, and the whole error."""
    document = {"title": "terms", "supply": FOUR, "load": [load]} | tables
    result = simulator.solve(simulator.scenario_from(document))
    assert result.total is not None
    terms = error_terms(result.measurement, result.stations, result.total.indicated)
    assert [term.name for term in terms[1:]] == NAMES
    total = sum(term.value for term in terms)
    assert total == pytest.approx(result.total.error, rel=1e-10, abs=1e-9)
    return terms[0], [term.value for term in terms[1:]], result.total.error


def to_neutral(**instrument: str) -> dict[str, Any]:
    method = {"name": "three wattmeters to neutral", "instrument": "m"}
    return {"instrument": {"m": instrument}, "method": method}


def test_ideal_meters_on_the_right_method_have_no_error() -> None:
    first, others, error = split(STAR, **to_neutral())
    assert [first.value, *others, error] == pytest.approx([0] * 6, abs=1e-9)
    assert first.expression == "0"


def test_the_methods_term() -> None:
    # a common line on four wires: −Re(V_L2·I_N*)
    meters = [{"name": f"W{k}", "current": f"L{k}", "voltage": [f"L{k}", "L2"]} for k in (1, 3)]
    first, others, error = split(STAR, wattmeter=meters, total={"power": "W1 + W3"})
    expected = -(V[1] * (V / Z).sum().conj()).real
    assert (first.value, error) == pytest.approx((expected, expected), rel=1e-10)
    assert first.expression == "Re((V_N − V_L2)·I_N*)"
    assert others == pytest.approx([0] * 4, abs=1e-9)


def test_the_angle_of_the_voltage_circuits() -> None:
    # Σ Re((Z_v0/Z_v − 1)·V·I*), Z_v = 20 kΩ + j·400 Ω without any load on the lines of 0 ohm
    inductance = 400 / (2 * math.pi * 50)
    first, others, _ = split(STAR, **to_neutral(voltage_circuit=f"20 kohm, {inductance!r} H"))
    factor = 20e3 / (20e3 + 400j) - 1
    expected = float(np.sum((factor * V * (V / Z).conj()).real))
    assert first.value == pytest.approx(0, abs=1e-9)
    assert others == pytest.approx([expected, 0, 0, 0], rel=1e-10, abs=1e-9)


@pytest.mark.parametrize("tap", ["supply", "load"])
def test_the_meters_own_consumption(tap: str) -> None:
    tables = to_neutral(current_circuit="1+2j ohm", voltage_circuit="1 kohm")
    tables["method"]["voltage_tap"] = tap
    first, others, _ = split(STAR, **tables)
    if tap == "supply":
        I = V / (Z + 1 + 2j)
        expected = float(np.sum(np.abs(I) ** 2))
    else:
        both = 1 / (1 / Z + 1 / 1000)
        expected = float(np.sum(np.abs(V * both / (both + 1 + 2j)) ** 2)) / 1000
    assert first.value == pytest.approx(0, abs=1e-9)
    assert others == pytest.approx([0, expected, 0, 0], rel=1e-10, abs=1e-9)


def test_transformers_and_channels() -> None:
    # (1 + ε)·e^{jδ} of the channel, (1 + f)·e^{−jβ} of the current transformer's conjugate
    tables = to_neutral(kind="electronic", gain_error="0.4 %", phase_error="20 min")
    tables["current_transformer"] = {
        "ct": {"ratio": "100/5 A", "ratio_error": "-0.2 %", "phase_displacement": "12 min"}
    }
    tables["method"]["current_transformer"] = "ct"
    first, others, _ = split(STAR, **tables)
    factor = 1.004 * 0.998 * cmath.rect(1, math.radians((20 - 12) / 60)) - 1
    expected = float(np.sum((factor * V * (V / Z).conj()).real))
    assert first.value == pytest.approx(0, abs=1e-9)
    assert others == pytest.approx([0, 0, expected, 0], rel=1e-9, abs=1e-9)


def test_leads_beyond_the_meters() -> None:
    first, others, _ = split(STAR | {"lead_impedance": "0.5+1j ohm"}, **to_neutral())
    expected = float(np.sum(np.abs(V / (Z + 0.5 + 1j)) ** 2)) * 0.5
    assert first.value == pytest.approx(0, abs=1e-9)
    assert others == pytest.approx([0, 0, 0, expected], rel=1e-10, abs=1e-9)


def test_everything_at_once_still_adds_up() -> None:
    tables = to_neutral(current_circuit="0.3 ohm", voltage_circuit="2 kohm, 300 mH")
    tables["method"] = {"name": "two elements, difference currents", "instrument": "m"}
    tables["current_transformer"] = {"ct": {"ratio": "50/5 A", "ratio_error": "1 %"}}
    tables["voltage_transformer"] = {"vt": {"ratio": "400/100 V", "phase_displacement": "1 deg"}}
    tables["method"] |= {"current_transformer": "ct", "voltage_transformer": "vt"}
    first, others, error = split(STAR | {"neutral_lead": "3 ohm"}, **tables)
    assert all(abs(value) > 1e-4 for value in (first.value, *others))
    assert abs(error) > 1


def test_without_a_total_there_is_no_error_to_split() -> None:
    document = {"title": "none", "supply": FOUR, "load": [STAR]}
    result = simulator.solve(simulator.scenario_from(document))
    with pytest.raises(ValueError, match="forms no total"):
        error_terms(result.measurement, result.stations, 0.0)


def test_every_wattmeter_is_read_once_at_its_first_station() -> None:
    meters = [
        {"name": "W0", "current": "N", "voltage": ["L1", "N"]},
        {"name": "W1", "current": "L2", "voltage": ["L2", "N"], "station": 1},
        {"name": "W2", "current": "L3", "voltage": ["L3", "N"], "station": 2},
    ]
    document = {"title": "stations", "supply": FOUR, "load": [STAR], "wattmeter": meters}
    result = simulator.solve(simulator.scenario_from(document))
    found = [(station.number, meter.name) for station, meter in read_at(result.stations)]
    assert found == [(1, "W0"), (1, "W1"), (2, "W2")]


BALANCED = {"connection": "star", "each": "23 ohm"}
UNEQUAL = STAR | {"L1": "10 ohm", "L2": "20 ohm", "L3": "20 ohm"}
THREE = {"wires": 3, "sequence_voltages": {"positive": "230 V"}}
REACTIVE = "the formula gives the reactive power only on symmetrical voltages"
COILS = {"m": {"voltage_circuit": "20 kohm"}, "n": {"voltage_circuit": "10 kohm"}}


@pytest.mark.parametrize(
    ("load", "tables", "name", "value", "expression", "cause"),
    [
        (  # derived: 20 kohm from L1 and L2, 10 kohm from L3 meet at V_L3/4, 57.5 V; 3·(230 +
            # 28.75)·10 instead of 3·2300
            BALANCED,
            {
                "supply": THREE,
                "instrument": COILS,
                "method": {
                    "name": "one wattmeter with artificial neutral",
                    "instrument": "m",
                    "resistors": ["20 kohm", "10 kohm"],
                },
            },
            "displaced pseudo-neutral",
            862.5,
            "Re(2·(V_L1 − 1.5·V_P)·I_L1* − V_L2·I_L2* − V_L3·I_L3*)",
            (
                "the branches that meet at 'P' are unequal, so it lies 57.5 V from the middle of "
                "the lines, and one reading times 3 is wrong on a balanced load too"
            ),
        ),
        (  # derived: 3·5290 instead of 5290 + 2·2645
            UNEQUAL,
            {"method": {"name": "one wattmeter to neutral"}},
            "×3 on an unbalanced load",
            5290,
            "Re(2·(V_L1 − V_N)·I_L1* + (V_N − V_L2)·I_L2* + (V_N − V_L3)·I_L3*)",
            (
                "×3 on an unbalanced load is not the total, because the lines do not carry the "
                "same power"
            ),
        ),
        (  # derived: the star point lies at V_L2/4, 57.5 V, −28.75 W/A; 23 − 11.5 A in the neutral
            UNEQUAL,
            {
                "instrument": COILS,
                "method": {
                    "name": "three wattmeters to a floating star point",
                    "instrument": ["m", "n", "m"],
                },
            },
            "displaced pseudo-neutral",
            28.75 * 11.5,
            "Re((V_N − V_P)·I_N*)",
            (
                "a neutral current of 11.5 A flows while the voltages are taken to 'P', 57.5 V "
                "away from the neutral"
            ),
        ),
        (  # derived: −(−115)·11.5
            UNEQUAL,
            {
                "wattmeter": [
                    {"name": f"W{k}", "current": f"L{k}", "voltage": [f"L{k}", "L2"]}
                    for k in (1, 3)
                ],
                "total": {"power": "W1 + W3"},
            },
            "neutral current with a common line",
            115 * 11.5,
            "Re((V_N − V_L2)·I_N*)",
            (
                "a neutral current of 11.5 A flows while the voltages are taken to the common line "
                "L2, 230 V away from the neutral"
            ),
        ),
        (
            BALANCED,
            {"supply": THREE, "method": {"name": "two wattmeters"}},
            "the method",
            0,
            "0",
            (
                "on three wires the currents sum to zero, so it does not matter to which common "
                "point the voltages are taken"
            ),
        ),
        (
            STAR,
            {"method": {"name": "three wattmeters to neutral"}},
            "the method",
            0,
            "0",
            "every line is measured with its own voltage to the neutral",
        ),
        (  # derived: 2·V1·I1 − (V2 + V3)·I1 less ΣV·I, with I1 = −I2 − I3
            BALANCED,
            {"supply": THREE, "method": {"name": "one wattmeter, two positions"}},
            "one line's current for all",
            0,
            "Re(V_L1·I_L1* + V_L3·I_L2* + V_L2·I_L3*)",
            (
                "only the current of L1 is sensed, which gives the total only on symmetrical "
                "voltages with a balanced load"
            ),
        ),
        (
            BALANCED | {"star_point": "neutral"},
            {"method": {"name": "two elements, difference currents"}},
            "voltages that do not sum to zero",
            0,
            "−Re((V_L1 + V_L2 + V_L3 − 3·V_N)·I_L2*)",
            (
                "difference currents give the total only where the three voltages to the neutral "
                "sum to zero"
            ),
        ),
        (
            BALANCED,
            {"supply": THREE, "method": {"name": "one wattmeter for reactive power"}},
            "reactive power from active readings",
            0,
            "Re(√3·(V_L2 − V_L3)·I_L1*) − Im(V_L1·I_L1* + V_L2·I_L2* + V_L3·I_L3*)",
            f"{REACTIVE} with a balanced load",
        ),
        (
            BALANCED,
            {"supply": THREE, "method": {"name": "three wattmeters for reactive power"}},
            "reactive power from active readings",
            0,
            (
                "Re(1/√3·(V_L2 − V_L3)·I_L1* + 1/√3·(V_L3 − V_L1)·I_L2* + 1/√3·(V_L1 − V_L2)·I_L3*)"
                " − Im(V_L1·I_L1* + V_L2·I_L2* + V_L3·I_L3*)"
            ),
            REACTIVE,
        ),
        (
            BALANCED,
            {
                "supply": {"wires": 3, "voltage": "400 V", "sequence": "L3-L2-L1"},
                "method": {"name": "one wattmeter for reactive power"},
            },
            "the other sequence",
            0,
            "Re(√3·(V_L2 − V_L3)·I_L1*) − Im(V_L1·I_L1* + V_L2·I_L2* + V_L3·I_L3*)",
            (
                "the sequence is L3-L2-L1, and with it a reactive total of this connection has the "
                "opposite sign"
            ),
        ),
        (  # derived: √3·230 V on 230 ohm
            BALANCED,
            {
                "supply": THREE | {"earthed": "L2"},
                "impedance": [{"name": "leak", "between": ["L1", "PE"], "value": "230 ohm"}],
                "method": {"name": "two wattmeters"},
            },
            "current beside the lines",
            0,
            "what ΣI meets",
            (
                "1.732 A return by another way than the lines, so that the line currents do not "
                "sum to zero as on three wires they should"
            ),
        ),
        (  # derived: W1 shows −Re((V1 − V2)·I1*), 3450 W, for 3450 W
            BALANCED,
            {
                "supply": THREE,
                "wattmeter": [
                    {"name": "W1", "current": "L1", "voltage": ["L1", "L2"]}
                    | {"reversed": ["current"]},
                    {"name": "W2", "current": "L3", "voltage": ["L3", "L2"]},
                ],
                "total": {"power": "W1 + W2"},
            },
            "reversed circuit",
            -6900,
            None,
            "one circuit of W1 is connected the other way round",
        ),
        (
            BALANCED,
            {
                "supply": THREE,
                "wattmeter": [
                    {"name": "W1", "current": "L1", "voltage": ["L2", "L3"]},
                    {"name": "W2", "current": "L2", "voltage": ["L3", "L1"]},
                ],
                "total": {"power": "W1 + W2"},
            },
            "the connections",
            -6900,  # at a right angle to their currents both read nothing
            None,
            "these voltages and currents, as connected, do not form the power of the load",
        ),
    ],
)
def test_the_methods_term_in_full(  # noqa: PLR0917  (a row of a table)
    load: dict[str, Any],
    tables: dict[str, Any],
    name: str,
    value: float,
    expression: str | None,
    cause: str,
) -> None:
    first, _, _ = split(load, **tables)
    assert (first.name, first.cause) == (name, cause)
    assert first.value == pytest.approx(value, rel=1e-9, abs=1e-9)
    assert expression in (None, first.expression)


@pytest.mark.parametrize(
    ("tap", "own"),
    [
        (
            "supply",
            (
                "the voltages are taken on the supply side of the current circuits, so what the "
                "current circuits take is measured along"
            ),
        ),
        (
            "load",
            (
                "the voltages are taken on the load side of the current circuits, so what the "
                "voltage circuits take is measured along"
            ),
        ),
        (None, "what some of the meters' own circuits take is measured along"),
    ],
)
def test_the_other_terms_in_full(tap: str | None, own: str) -> None:
    meters = [
        {"name": f"W{k}", "current": f"L{k}", "voltage": [f"L{k}", "N"]}
        | {"voltage_tap": tap or ("load" if k == 1 else "supply")}
        for k in (1, 2, 3)
    ]
    document = {"title": "t", "supply": FOUR, "load": [STAR], "wattmeter": meters}
    document["total"] = {"power": "W1 + W2 + W3"}
    result = simulator.solve(simulator.scenario_from(document))
    terms = error_terms(result.measurement, result.stations, result.total.indicated)
    assert [(term.expression, term.cause) for term in terms[1:]] == [
        (
            "Σ c·Re((Z_v0/Z_v − 1)·V·I*)",
            "the inductance of the voltage circuits turns the angle that the meters feel",
        ),
        ("current and voltage circuits", own),
        (
            "ratio error, phase displacement, gain",
            "instrument transformers or electronic channels have errors of their own",
        ),
        (
            "Σ |I|²·Z of what lies between the meters and the loads",
            "leads and impedances between the meters and the loads take their part",
        ),
    ]

"""Blondel's theorem: how many wattmeters a total needs, and what spoils one that has too few.

The theorem: A. Blondel, International Electrical Congress, Chicago 1893; SEEN as quoted at
https://en.wikipedia.org/wiki/Blondel's_theorem (citing Knowlton 1934, p. 77). Numbers are CALC.
"""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING, Any

import pytest

import simulator

if TYPE_CHECKING:
    from simulator.findings.result import Result, TotalResult

pytestmark = pytest.mark.reference
LINES = ("L1", "L2", "L3")
Z = {"L1": 12 - 16j, "L2": 25 + 0j, "L3": 8 + 6j}
STAR = {line: f"{z.real}{z.imag:+}j ohm" for line, z in Z.items()}
E = {line: cmath.rect(230, math.radians(-120 * k)) for k, line in enumerate(LINES)}
# Ohm's law in each branch of a star to the neutral of an ideal supply
I = {line: E[line] / Z[line] for line in LINES}
POWER = sum((E[line] * I[line].conjugate()).real for line in LINES)


def solve(
    wires: int, load: dict[str, Any], supply: dict[str, Any] | None = None, **rest: Any
) -> Result:
    point = {"star_point": "neutral" if wires == 4 else "isolated"}
    table = {
        "title": "Blondel",
        "supply": {"wires": wires, **(supply or {"sequence_voltages": {"positive": "230 V"}})},
        "load": [{"connection": "star", **point, **load}],
        **rest,
    }
    return simulator.solve(simulator.scenario_from(table))


def total_of(result: Result) -> TotalResult:
    assert result.total is not None
    return result.total


def meters(conductors: str, end: str, instruments: dict[str, str] | None = None) -> dict[str, Any]:
    """One wattmeter in each conductor, its voltage circuit from there to a common point."""
    wattmeters = [
        {"name": f"W_{k}", "current": k, "voltage": [k, end]}
        | ({"instrument": k} if instruments else {})
        for k in conductors.split()
    ]
    parts = {name: {"voltage_circuit": z} for name, z in (instruments or {}).items()}
    formula = " + ".join(str(meter["name"]) for meter in wattmeters)
    return {"wattmeter": wattmeters, "instrument": parts, "total": {"power": formula}}


def test_four_conductors_four_wattmeters() -> None:
    # their common point floats; unequal voltage circuits do not matter
    circuits = {"L1": "5 kohm", "L2": "7 kohm", "L3": "11 kohm", "N": "13 kohm"}
    result = solve(4, STAR, **meters("L1 L2 L3 N", "P", circuits))
    assert abs(result.first.neutral_current) > 5
    assert total_of(result).indicated == pytest.approx(POWER)


def test_common_point_on_a_conductor_makes_its_wattmeter_read_zero() -> None:
    result = solve(4, STAR, **meters("L1 L2 L3 N", "N"))
    assert result["W_N"].watts == 0
    assert result["W_N"].direction == "zero"
    assert total_of(result).indicated == pytest.approx(POWER)


def test_one_wattmeter_fewer_suffices() -> None:
    assert total_of(solve(4, STAR, **meters("L1 L2 L3", "N"))).indicated == pytest.approx(POWER)
    assert total_of(solve(4, STAR, **meters("L1 L2 N", "L3"))).indicated == pytest.approx(POWER)


def test_floating_star_of_unequal_resistances_on_three_wires() -> None:
    # 5, 7 and 11 kohm in free star (CALC): the sum is right, no single reading need be
    circuits = {"L1": "5 kohm", "L2": "7 kohm", "L3": "11 kohm"}
    result = solve(3, STAR, **meters("L1 L2 L3", "P", circuits))
    total = total_of(result)
    assert total.is_right
    branches = [branch.power.real for branch in result.first.loads[0].branches]
    assert total.indicated == pytest.approx(sum(branches))
    readings = [reading.watts for reading in result.readings.values()]
    assert all(abs(w - p) > 10 for w, p in zip(readings, branches, strict=True))


def test_two_and_a_half_elements_with_one_voltage_low() -> None:
    # V_B 2 % low, balanced currents at power factor 0.9: sum = P − Re(3·V0·I_B*), +0.671 %
    angle = math.degrees(math.acos(0.9))
    load = {
        line: f"{ohms} ohm @ {angle} deg" for line, ohms in zip(LINES, (23, 22.54, 23), strict=True)
    }
    low = {"L1": "230 V", "L2": "225.4 V @ -120 deg", "L3": "230 V @ 120 deg"}
    method = {"name": "two elements, difference currents"}
    result = solve(4, load, {"phase_voltages": low}, method=method)
    assert [abs(i) for i in result.first.line_currents] == pytest.approx([10, 10, 10])
    assert total_of(result).error_percent == pytest.approx(0.671, abs=5e-4)


@pytest.mark.parametrize("angle", [-60, 0, 75])
def test_two_and_a_half_elements_on_a_zero_sum_supply(angle: float) -> None:
    # exact if V_A + V_B + V_C = 0, whatever the currents
    supply = {"sequence_voltages": {"positive": "230 V", "negative": f"40 V @ {angle} deg"}}
    result = solve(4, STAR, supply, method={"name": "two elements, difference currents"})
    assert abs(result.first.neutral_current) > 5
    assert total_of(result).is_right


def test_two_elements_on_four_wires() -> None:
    # A-B and C-B: error −Re(V_BN·(I_A + I_B + I_C)*), with a neutral current only
    pair: dict[str, Any] = {
        "wattmeter": [
            {"name": "W1", "current": "L1", "voltage": ["L1", "L2"]},
            {"name": "W2", "current": "L3", "voltage": ["L3", "L2"]},
        ],
        "total": {"power": "W1 + W2"},
    }
    error = -(E["L2"] * sum(I.values()).conjugate()).real
    assert abs(error) > 100
    assert total_of(solve(4, STAR, **pair)).error == pytest.approx(error)
    balanced = solve(4, {"each": "12-16j ohm"}, **pair)
    assert total_of(balanced).is_right

"""Readings and totals over one or several stations."""

from __future__ import annotations

import cmath
import math
from typing import Any

import numpy as np
import pytest

import simulator
from simulator.findings.result import Result, TotalResult

A = cmath.rect(1, 2 * math.pi / 3)
V = 230 * np.array([1, A**2, A])
FOUR = {"wires": 4, "sequence_voltages": {"positive": "230 V"}}
LOAD = {
    "connection": "star", "star_point": "neutral",
    "L1": "23 ohm", "L2": "46 ohm", "L3": "23 ohm @ 60 deg",
}  # fmt: skip


def solved(**tables: Any) -> Result:
    document = {"title": "result", "supply": FOUR, "load": [LOAD]} | tables
    return simulator.solve(simulator.scenario_from(document))


def total(result: Result) -> TotalResult:
    assert result.total is not None
    return result.total


def test_a_meter_moved_from_place_to_place_is_in_one_place_at_a_time() -> None:
    # derived: with 1 ohm of current circuit in one line at a time, each station has two lines of
    # its own impedance and one with 1 ohm more; true is the mean over the stations
    instrument = {"m": {"current_circuit": "1 ohm"}}
    method = {"name": "one wattmeter moved in turn", "instrument": "m"}
    result = solved(instrument=instrument, method=method)
    Z = np.array([23, 46, cmath.rect(23, math.pi / 3)])
    true, readings = [], []
    for k in range(3):
        I = V / (Z + np.eye(3)[k])
        true.append(float(np.abs(I) ** 2 @ Z.real))
        readings.append((V[k] * I[k].conj()).real)
    assert [s.number for s in result.stations] == [1, 2, 3]
    assert [s.true.real for s in result.stations] == pytest.approx(true, rel=1e-12)
    assert [list(s.arrangement.wattmeters) for s in result.stations] == [
        [m] for m in result.measurement.wattmeters
    ]
    assert [result[f"W{k}"].watts for k in (1, 2, 3)] == pytest.approx(readings, rel=1e-12)
    found = total(result)
    assert found.true == pytest.approx(sum(true) / 3, rel=1e-12)
    assert found.crossing == pytest.approx(found.true, rel=1e-12)
    assert found.indicated == pytest.approx(sum(readings), rel=1e-12)
    assert found.error == pytest.approx(found.indicated - found.true, rel=1e-9)


def test_a_meter_without_a_station_stays_and_is_read_at_the_first() -> None:
    # W0 stays in L1; W1 and W2 follow each other in L2 and L3, each with 2 ohm
    instrument = {"m": {"current_circuit": "2 ohm"}}
    meters = [
        {"name": "W0", "current": "N", "voltage": ["L1", "N"]},
        {"name": "W1", "current": "L2", "voltage": ["L2", "N"], "station": 1, "instrument": "m"},
        {"name": "W2", "current": "L3", "voltage": ["L3", "N"], "station": 5, "instrument": "m"},
    ]
    result = solved(instrument=instrument, wattmeter=meters)
    Z = np.array([23, 46 + 2, cmath.rect(23, math.pi / 3)])
    I_N = (V / Z).sum()
    assert list(result.readings) == ["W0", "W1", "W2"]
    assert result["W0"].watts == pytest.approx(-(V[0] * I_N.conj()).real, rel=1e-12)
    assert [s.number for s in result.stations] == [1, 5]
    other = result.stations[1].readings[0]
    assert other.name == "W0"
    assert other.watts != pytest.approx(result["W0"].watts, rel=1e-3)
    assert result.first is result.stations[0]
    assert result.total is None


def test_weights_of_the_formula() -> None:
    meters = [{"name": f"W{k}", "current": f"L{k}", "voltage": [f"L{k}", "N"]} for k in (1, 2, 3)]
    result = solved(wattmeter=meters, total={"power": "2*W1 - W2/4 + sqrt(3)*(W3 - W2)"})
    # needs.md, base case U (derived): 2300, 1150, 1150 W
    expected = 2 * 2300 - 1150 / 4
    assert total(result).indicated == pytest.approx(expected, rel=1e-12)
    assert total(result).formula == "2*W1 - W2/4 + sqrt(3)*(W3 - W2)"
    assert total(result).true == pytest.approx(4600, rel=1e-12)


def test_a_reactive_total_is_compared_with_reactive_power() -> None:
    result = solved(method={"name": "three wattmeters for reactive power"})
    found = total(result)
    assert (found.quantity, found.unit) == ("reactive power", "var")
    # needs.md, base case U (derived): Q = 1991.86 var, printed to 0.01
    assert found.true == pytest.approx(1991.86, abs=5e-3)
    assert found.crossing == pytest.approx(1991.86, abs=5e-3)


def given_total(**changed: float) -> TotalResult:
    values = {"indicated": 105.0, "true": 100.0, "crossing": 102.0, "apparent": 200.0} | changed
    return TotalResult(formula="W", reactive=False, tell=str, **values)  # type: ignore[arg-type]


def test_errors_and_their_scale() -> None:
    found = given_total()
    assert (found.error, found.method_error, found.error_percent) == (5, 3, 5)
    assert (found.quantity, found.unit) == ("active power", "W")
    assert not found.is_right
    # right is within 1e-9 of the apparent power: 2e-7 W of 200 VA
    assert given_total(indicated=100 + 1.9e-7).is_right
    assert not given_total(indicated=100 + 2.1e-7).is_right
    # a negative true power keeps the sense of "too high"
    assert given_total(true=-100.0, indicated=-95.0).error_percent == -5


def test_no_percentage_of_nothing() -> None:
    assert math.isnan(given_total(true=0.0).error_percent)
    assert math.isnan(given_total(true=1e-7).error_percent)
    assert given_total(true=3e-7).error_percent > 0


def test_residual_is_the_largest_of_all_stations() -> None:
    result = solved(method={"name": "one wattmeter moved in turn"})
    assert result.residual == max(s.solution.residual for s in result.stations)
    assert result.residual < 1e-12


def test_an_unknown_meter_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        solved()["W1"]

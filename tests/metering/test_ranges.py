"""Ranges: constants of the scale, and how far each circuit and the pointer are used."""

from __future__ import annotations

import math

import pytest

import simulator
from simulator.metering.instruments import Instrument
from simulator.metering.ranges import RangeUse, range_use, smallest_range

# needs.md, row 15: 8 A at 400 V, pf 0.3, meters of 5 A, 480 V
FILE = """
title = "An idle motor on meters that are too small"
[supply]
wires = 3
voltage = "400 V"
[[load]]
connection = "star"
each = {{ current = "8 A", power_factor = "0.3 lag" }}
[instrument.m]
current_range = "5 A"
voltage_range = "480 V"
{more}
[method]
name = "two wattmeters"
common = "L2"
instrument = "m"
"""


def used(more: str = "") -> list[RangeUse]:
    result = simulator.solve(simulator.parse_scenario(FILE.format(more=more)))
    first = result.first
    return [range_use(r, first.wired, first.solution) for r in first.readings]


@pytest.mark.reference
def test_each_circuit_and_the_pointer_are_judged_apart() -> None:
    # needs.md, row 15 (derived there): current 160 %; −695 and 2358 W look on scale of 2400 W
    for use, watts in zip(used(), (695, 2358), strict=True):
        assert use.current == pytest.approx(1.60, rel=1e-9)
        assert use.voltage == pytest.approx(400 / 480, rel=1e-9)
        assert use.pointer == pytest.approx(watts / 2400, abs=0.5 / 2400)  # printed to 1 W


def test_full_scale_at_a_low_rated_power_factor() -> None:
    low = used("rated_power_factor = 0.5")
    assert low[1].pointer == pytest.approx(2 * 2358 / 2400, abs=1 / 2400)


def test_unknown_ranges_are_not_judged() -> None:
    text = FILE.format(more="").replace('voltage_range = "480 V"', "")
    result = simulator.solve(simulator.parse_scenario(text))
    use = range_use(result["W1"], result.first.wired, result.first.solution)
    assert use.current == pytest.approx(1.6, rel=1e-9)
    assert (use.voltage, use.pointer) == (None, None)


def test_every_winding_of_a_difference_counts() -> None:
    # derived: 10 A and 5 A of equal angle differ by 5 A only, but one winding carries the 10 A
    text = """
    title = "t"
    [supply]
    wires = 4
    phase_voltages = { L1 = "230 V", L2 = "230 V", L3 = "230 V @ 120 deg" }
    [[load]]
    connection = "line-to-neutral"
    L1 = "23 ohm"
    L2 = "46 ohm"
    [instrument.m]
    current_range = "10 A"
    [[wattmeter]]
    name = "W"
    current = ["L1", "-L2"]
    voltage = ["L1", "N"]
    instrument = "m"
    """
    result = simulator.solve(simulator.parse_scenario(text))
    assert abs(result["W"].current) == pytest.approx(5, rel=1e-9)
    use = range_use(result["W"], result.first.wired, result.first.solution)
    assert use.current == pytest.approx(1, rel=1e-9)


@pytest.mark.reference
def test_wattmeter_constant() -> None:
    # standards.md, section 2 (MEM high, CALC): 300 V × 5 A, pf 0.2, 150 divisions: 2 W each
    instrument = Instrument(
        current_range=5, voltage_range=300, rated_power_factor=0.2, divisions=150
    )
    assert instrument.watts_per_division == pytest.approx(2, rel=1e-12)
    assert instrument.fiducial == pytest.approx(300, rel=1e-12)


def test_class_limit() -> None:
    # derived: half a percent of 480 V × 5 A
    assert Instrument(
        current_range=5, voltage_range=480, accuracy_class=0.5
    ).class_limit == pytest.approx(12, rel=1e-12)


def test_without_ranges_divisions_or_class_there_is_no_constant_and_no_limit() -> None:
    assert Instrument(divisions=150, current_range=5).watts_per_division is None
    assert Instrument(current_range=5, voltage_range=300).watts_per_division is None
    assert Instrument(accuracy_class=0.5, voltage_range=300).class_limit is None
    assert Instrument(current_range=5, voltage_range=300).class_limit is None


def test_deflection() -> None:
    result = simulator.solve(simulator.parse_scenario(FILE.format(more="divisions = 120")))
    for name in ("W1", "W2"):  # 2400 W on 120 divisions: 20 W each
        reading = result[name]
        assert reading.deflection == pytest.approx(reading.watts / 20, rel=1e-12)
    plain = simulator.solve(simulator.parse_scenario(FILE.format(more="")))
    assert plain["W1"].deflection is None


@pytest.mark.parametrize(
    ("value", "chosen"), [(0.2, 1.0), (1.0, 1.0), (1.001, 5.0), (8.0, 10.0), (10.1, None)]
)
def test_smallest_range_that_carries(value: float, chosen: float | None) -> None:
    assert smallest_range((5.0, 1.0, 10.0), value) == chosen
    assert smallest_range((), value) is None
    assert smallest_range((math.inf,), value) == math.inf

"""Induction motors of the machines textbooks: what the equivalent circuits take.

Circuits, numbers and their confidence stand in data/motors.toml.
"""

from __future__ import annotations

import cmath
import math
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import simulator

if TYPE_CHECKING:
    from simulator.findings.result import Result

pytestmark = pytest.mark.reference
MOTORS = tomllib.loads(
    (Path(__file__).parent / "data" / "motors.toml").read_text(encoding="utf-8")
)["motor"]
BY_HP = MOTORS[0]
PHASE_VOLTS = 460 / math.sqrt(3)


def solve(motor: dict[str, Any], supply: dict[str, Any] | None = None) -> Result:
    load = {"connection": "motor", "slip": motor["slip"], "circuit": motor["circuit"]}
    table = {
        "title": motor["name"],
        "supply": supply or motor["supply"],
        "load": [load],
        "method": {"name": "two wattmeters"},
    }
    return simulator.solve(simulator.scenario_from(table))


def quantities(motor: dict[str, Any]) -> dict[str, float]:
    result = solve(motor)
    current, power = result.first.line_currents[0], result.first.true
    # what the stator copper does not take crosses the air gap (no iron loss in these circuits)
    air_gap = power.real - 3 * motor.get("R1", math.nan) * abs(current) ** 2
    return {
        "current": abs(current),
        "angle": math.degrees(cmath.phase(current)),
        "power_factor": power.real / abs(power),
        "power": power.real,
        "reactive_power": power.imag,
        "air_gap_power": air_gap,
        "torque": air_gap / (2 * math.pi * 60 / 2),  # four poles at 60 Hz
    }


def half_unit(text: str) -> float:
    return 0.5 / 10 ** len(text.partition(".")[2])


def values(kind: str) -> list[Any]:
    return [
        pytest.param(motor, name, text, id=f"{motor['name']}: {name}")
        for motor in MOTORS
        for name, text in motor.get(kind, {}).items()
    ]


@pytest.mark.parametrize(("motor", "name", "text"), values("calculated"))
def test_calculated_not_published(motor: dict[str, Any], name: str, text: str) -> None:
    assert quantities(motor)[name] == pytest.approx(float(text), abs=half_unit(text))


@pytest.mark.parametrize(("motor", "name", "text"), values("printed"))
def test_printed(motor: dict[str, Any], name: str, text: str) -> None:
    assert quantities(motor)[name] == pytest.approx(float(text), rel=0.005)


@pytest.mark.parametrize(("motor", "name", "text"), values("trap"))
def test_bases_are_no_operating_point(motor: dict[str, Any], name: str, text: str) -> None:
    assert quantities(motor)[name] != pytest.approx(float(text), rel=0.1)


@pytest.mark.parametrize("motor", MOTORS, ids=lambda motor: motor["name"])
def test_two_wattmeters_measure_a_motor(motor: dict[str, Any]) -> None:
    total = solve(motor).total
    assert total is not None
    assert total.is_right


def test_negative_sequence_voltage_alone() -> None:
    # CALC: Z2 = 0.8031 + j1.5630 ohm at slip 1.978; at the full 460 V 151.1375 A, 55032.55 W
    supply = {"wires": 3, "sequence_voltages": {"positive": "0 V", "negative": f"{PHASE_VOLTS} V"}}
    result = solve(BY_HP, supply)
    branch = result.first.loads[0].branches[0]
    Z = branch.voltage / branch.current
    assert (Z.real, Z.imag) == pytest.approx((0.8031, 1.5630), abs=5e-5)
    assert abs(branch.current) == pytest.approx(151.1375, abs=5e-5)
    assert result.first.true.real == pytest.approx(55032.55, abs=0.005)
    assert result.first.true.real / abs(result.first.true) == pytest.approx(0.457, abs=5e-4)


def test_one_percent_of_unbalance_gives_eight_percent_in_the_currents() -> None:
    # CALC: Z1/Z2 = 8.0001 at this slip
    parts = {"positive": f"{PHASE_VOLTS} V", "negative": f"{PHASE_VOLTS / 100} V @ 77 deg"}
    components = solve(BY_HP, {"wires": 3, "sequence_voltages": parts}).first.components["current"]
    assert abs(components[1]) / abs(components[0]) == pytest.approx(0.080001, abs=5e-7)
    assert abs(components[2]) < 1e-9 * abs(components[0])

"""Draw the phasors: what each wattmeter feels, its angle, and its reading from the drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.words import angle_between
from simulator.phasors import angle_deg
from simulator.reports.practice.circuit import any_circuit
from simulator.reports.practice.problem import Problem, asks_for
from simulator.reports.practice.slips import all_slips
from simulator.reports.practice.working import circuit_steps, meter_steps

if TYPE_CHECKING:
    from random import Random

    from simulator.metering.readings import Reading
    from simulator.reports.practice.circuit import Circuit
    from simulator.reports.practice.problem import Level

Numbers = dict[str, float]


def draw_phasors(shape: Random, random: Random, method: str, level: Level) -> Problem:
    """Draw a problem in which phasors are drawn.

    Parameters
    ----------
    shape, random : Random
        Where the kind of circuit and its numbers come from.
    method : str
        A method of the catalogue.
    level : int
        1 to 3.

    Returns
    -------
    Problem
        The problem.
    """
    circuit = any_circuit(shape, random, method, level)
    readings = {n: r for n, r in circuit.result.readings.items() if r.voltage and r.current}
    size = float(circuit.result.first.plane.apparent.arithmetic)
    asked: dict[str, tuple[str, str, float]] = {}
    right: Numbers = {}
    for name, reading in readings.items():
        asked[f"∠ {name}"] = (f"Through what angle are V and I of {name} apart?", "°", 90.0)
        right[f"∠ {name}"] = abs(angle_between(reading))
        asked[name] = (f"What does {name} read?", "W", size)
        right[name] = reading.watts
    told = (
        "Draw to scale the phase voltages, the line currents, and for each wattmeter the voltage "
    )
    told += "and the current that it feels. Mark the angle between these two."
    steps = circuit_steps(circuit.result, circuit.installation.given)
    steps += [_angle_step(reading) for reading in readings.values()]
    steps += meter_steps(circuit.result)
    return Problem(
        "draw-phasors",
        method,
        level,
        (*circuit.all_told, told),
        asks_for(asked, right, _slips(circuit, readings)),
        tuple(steps),
        circuit.result,
    )


def _angle_step(reading: Reading) -> str:
    meter = reading.meter
    v, i = (float(angle_deg(x)) for x in (reading.voltage, reading.current))
    between = angle_between(reading)
    return (
        f"{meter.name}: V {meter.voltage[0]}-{meter.voltage[1]} at {_degrees(v)}, "
        f"I {meter.current_text} at {_degrees(i)}: {_degrees(abs(between))} apart"
    )


def _degrees(angle: float) -> str:
    return f"{round(angle, 1) + 0.0:g}°".replace("-", "−")


def _slips(circuit: Circuit, readings: dict[str, Reading]) -> dict[str, Numbers]:
    """Take over the slips of predicting, and add those of drawing."""
    slips = {
        name: {symbol: value for symbol, value in numbers.items() if symbol in readings}
        for name, numbers in all_slips(circuit).items()
    }
    slips = {name: numbers for name, numbers in slips.items() if numbers}
    turned = "voltage drawn from the other end, turned by 180°"
    slips[turned] = {}
    for name, reading in readings.items():
        angle = abs(angle_between(reading))
        slips[turned] |= {f"∠ {name}": 180 - angle, name: -reading.watts}
    phi, load_angle = circuit.installation.phi, "φ taken for the angle between V and I"
    if phi is not None and load_angle in slips:
        slips[load_angle] |= {f"∠ {name}": abs(phi) for name in readings}
    slips["other sequence, or lag taken for lead"] |= _other_sequence(circuit, readings)
    return slips


def _other_sequence(circuit: Circuit, readings: dict[str, Reading]) -> Numbers:
    """Give the angles in the other sequence."""
    supply = circuit.tables["supply"]
    order = supply["sequence"].split("-")
    other = circuit.with_other(supply=supply | {"sequence": "-".join(order[::-1])})
    return {f"∠ {name}": abs(angle_between(other.readings[name])) for name in readings}

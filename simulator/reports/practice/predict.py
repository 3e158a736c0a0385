"""Predict: from supply, load and wattmeters to every reading and the total."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.findings.reason import amount
from simulator.reports.practice.circuit import any_circuit
from simulator.reports.practice.problem import Problem, asks_for
from simulator.reports.practice.slips import (
    FACTOR,
    NEUTRAL,
    REACTIVE,
    TOTAL,
    TRUE,
    all_slips,
    formula_misleads,
    numbers_of,
)
from simulator.reports.practice.working import (
    circuit_steps,
    formula_text,
    meter_steps,
    neutral_step,
    reactive_steps,
    total_step,
)

if TYPE_CHECKING:
    from random import Random

    from simulator.reports.practice.problem import Level


def predict(shape: Random, random: Random, method: str, level: Level) -> Problem:
    """Draw a problem in which readings are predicted.

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
    result = circuit.result
    total = result.total
    assert total is not None  # noqa: S101  (every method of the catalogue forms one)
    formula = formula_text(total.formula)
    station = result.first
    size = float(station.plane.apparent.arithmetic)
    asked = {name: (f"What does {name} read?", "W", size) for name in result.readings}
    words = f"What {total.quantity} is indicated, {formula}?"
    asked[TOTAL] = (words, total.unit, size)
    steps = [*circuit_steps(result, circuit.installation.given), *meter_steps(result)]
    steps.append(total_step(result))
    if not total.is_right:
        words = f"What {total.quantity} do the loads take in truth?"
        asked[TRUE] = (words, total.unit, size)
        steps.append(f"In truth {amount(total.true, total.unit)}. {total.reason}")
    if station.neutral and circuit.installation.phi is None:
        amperes = max(abs(i) for i in station.line_currents.tolist())
        asked[NEUTRAL] = ("What current does the neutral carry?", "A", amperes)
        steps.append(neutral_step(station))
    if formula_misleads(circuit):
        asked[REACTIVE] = ("What reactive power do the loads take, positive for lag?", "var", size)
        asked[FACTOR] = ("What is their power factor, P/√(P² + Q²)?", "", 1.0)
        steps += reactive_steps(result)
    dead = {name for name, r in result.readings.items() if r.voltage == 0}
    slips = {
        name: {symbol: value for symbol, value in numbers.items() if symbol not in dead}
        for name, numbers in all_slips(circuit).items()
    }
    asks = asks_for(asked, numbers_of(result), slips)
    return Problem("predict", method, level, circuit.all_told, asks, tuple(steps), result)

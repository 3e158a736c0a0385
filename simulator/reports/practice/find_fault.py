"""Find the fault: of several wirings, those that explain the readings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.words import quantity
from simulator.findings.faults.find import find_faults
from simulator.findings.faults.wiring import RIGHT_WIRING
from simulator.metering.catalogue import METHODS
from simulator.reports.practice.circuit import circuit
from simulator.reports.practice.installations import balanced, unbalanced
from simulator.reports.practice.problem import Ask, Choice, Problem, asks_for
from simulator.reports.practice.working import circuit_steps, formula_text, meter_steps, watts_text
from simulator.scenario.reader import scenario_from

if TYPE_CHECKING:
    from collections.abc import Sequence
    from random import Random

    from simulator.findings.faults.hypotheses import Faults, Hypothesis
    from simulator.reports.practice.circuit import Circuit
    from simulator.reports.practice.problem import Level

LETTERS = "ABCDEF"
OPTIONS = 5
PLAIN = ("reversed", "exchanged")
LEFT_OUT = ("sequence", "range")
"""Words of faults that are left out: they are no slip at the terminals."""
# Readings of two wirings must differ by this part of the volt-amperes to be told apart on paper.
APART = 0.03
LOOKS_WRONG = 0.5
"""How often a reading that is below zero with the right wiring is asked about."""
LISTED = 4
"""How many wirings that read the same are named."""
NOTHING_WRONG = "nothing: everything is wired as it should be"


def find_fault(shape: Random, random: Random, method: str, level: Level) -> Problem | None:
    """Draw a problem in which a fault is found from readings.

    Parameters
    ----------
    shape, random : Random
        Where the kind of circuit and its numbers come from.
    method : str
        A method of the catalogue.
    level : int
        1: one circuit reversed, or two leads exchanged; 2: any one fault; 3: two at one time where
        there are several wattmeters, on four wires with an unbalanced load.

    Returns
    -------
    Problem or None
        The problem; None where no fault shows in these numbers. From level 2 on a reading below
        zero is sometimes right.
    """
    wires = METHODS[method].wires[0]
    draw = unbalanced if level == 3 and wires == 4 else balanced
    installation = draw(shape, random, wires, min(level, 2))
    whole = circuit(shape, random, installation, method, level, equal=True)
    faults = find_faults(scenario_from(whole.tables), tolerance=APART)
    possible = _possible(faults, level)
    if not possible:
        return None
    below_zero = any(r.direction == "downscale" for r in whole.result.readings.values())
    looks_wrong = level > 1 and below_zero and shape.random() < LOOKS_WRONG
    fault = faults.right if looks_wrong else random.choice(possible)
    options = _options(random, faults, fault)
    readings = fault.result.readings
    told = "; ".join(f"{name} = {watts_text(r)}" for name, r in readings.items())
    return Problem(
        "find-fault",
        method,
        level,
        (*whole.all_told, f"Read once everything is connected: {told}."),
        (_which(fault, options), *_total(faults, fault)),
        tuple(_steps(whole, faults, fault, options)),
        whole.result,
        {name: r.watts for name, r in readings.items()},
    )


def _possible(faults: Faults, level: Level) -> list[Hypothesis]:
    """Choose the faults that suit a level and do not read as the right wiring does."""
    slips = 2 if level == 3 and len(faults.limits) > 1 else 1
    found = [
        h
        for h in faults.hypotheses
        if h.wiring.slips == slips
        and _differ(faults, h, faults.right)
        and not any(word in h.description for word in LEFT_OUT)
    ]
    return [h for h in found if level > 1 or any(word in h.description for word in PLAIN)]


def _differ(faults: Faults, one: Hypothesis, other: Hypothesis) -> bool:
    """Tell whether two wirings can be told apart on paper."""
    return any(
        abs(one.result[name].watts - other.result[name].watts) > limit
        for name, limit in faults.limits.items()
    )


def _options(random: Random, faults: Faults, fault: Hypothesis) -> list[Hypothesis]:
    """Put the fault among others: the right wiring, one of its own class, and strangers."""
    usable = [h for h in faults.hypotheses if not any(word in h.description for word in LEFT_OUT)]
    usable = [h for h in usable if h.wiring.slips <= max(1, fault.wiring.slips)]
    options = [faults.right] if fault is faults.right else [faults.right, fault]
    twins = [h for h in usable if h.group == fault.group and h is not fault]
    options += random.sample(twins, min(len(twins), 1))
    strangers = [h for h in usable if _differ(faults, h, fault) and h.group != faults.right.group]
    random.shuffle(strangers)
    seen = set()
    for h in sorted(strangers, key=lambda h: -h.wiring.slips):
        if h.group not in seen and len(options) < OPTIONS:
            options.append(h)
            seen.add(h.group)
    random.shuffle(options)
    return options


def _which(fault: Hypothesis, options: Sequence[Hypothesis]) -> Choice:
    lettered = dict(zip(LETTERS, options, strict=False))
    remarks = {letter: f"would read {_read(h)}" for letter, h in lettered.items()}
    return Choice(
        "What is wrong? Write the letters of all that explain the readings.",
        {letter: said(h) for letter, h in lettered.items()},
        frozenset(letter for letter, h in lettered.items() if h.group == fault.group),
        remarks,
    )


def said(hypothesis: Hypothesis) -> str:
    """Describe a wiring as a problem does.

    Parameters
    ----------
    hypothesis : Hypothesis
        The wiring.

    Returns
    -------
    str
        Its description.
    """
    words = hypothesis.description.removesuffix(f", {RIGHT_WIRING}")
    return NOTHING_WRONG if words == RIGHT_WIRING else words.replace("; ", ", and ")


def _read(hypothesis: Hypothesis) -> str:
    return ", ".join(watts_text(r) for r in hypothesis.result.readings.values())


def _total(faults: Faults, fault: Hypothesis) -> tuple[Ask, ...]:
    total = faults.right.result.total
    assert total is not None  # noqa: S101  (every method of the catalogue forms one)
    readings = {name: r.watts for name, r in fault.result.readings.items()}
    weights = faults.right.result.measurement.total.coefficients  # type: ignore[union-attr]
    without_signs = sum(abs(weights[name] * watts) for name, watts in readings.items())
    slips = {}
    if fault is not faults.right:
        slips["total of the readings as told"] = {"total": fault.total or 0.0}
    if min(readings.values()) < 0 and len(readings) > 1 and "-" not in total.formula:
        slips["signs left out"] = {"total": without_signs}
    words = f"What total, {formula_text(total.formula)}, is indicated once the wiring is right?"
    size = float(faults.right.result.first.plane.apparent.arithmetic)
    return asks_for({"total": (words, total.unit, size)}, {"total": total.indicated}, slips)


def _steps(
    whole: Circuit, faults: Faults, fault: Hypothesis, options: Sequence[Hypothesis]
) -> list[str]:
    result, total = whole.result, whole.result.total
    assert total is not None  # noqa: S101
    steps = circuit_steps(result, whole.installation.given)
    steps += ["With the right wiring:", *meter_steps(result)]
    for letter, h in zip(LETTERS, options, strict=False):
        fits = "explains the readings" if h.group == fault.group else "does not"
        steps.append(f"{letter}, {said(h)}: {_read(h)}; {fits}")
    same = [h for h in faults.groups[fault.group] if h.wiring.slips <= max(1, fault.wiring.slips)]
    if len(same) > 1:
        named = "; ".join(said(h) for h in same[:LISTED])
        others = f"; and {len(same) - LISTED} more" if len(same) > LISTED else ""
        steps.append(f"Watts alone cannot tell apart: {named}{others}.")
    right = quantity(total.indicated, "var" if total.reactive else "W")
    steps.append(f"Total once the wiring is right: {right}")
    return steps

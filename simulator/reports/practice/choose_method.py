"""Choose the method: of several, those that are right for all installations of a kind."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from simulator.findings.explanation import Explanation, explain
from simulator.findings.reason import LOAD_WORDS, SUPPLY_WORDS
from simulator.installation.conductors import Conductors
from simulator.metering.catalogue import METHODS, expand
from simulator.reports.practice.problem import Choice, Problem, asks_for
from simulator.reports.practice.working import formula_text
from simulator.scenario.reader import scenario_from

if TYPE_CHECKING:
    from random import Random

    from simulator.findings.exactness import Load, Row, Supply
    from simulator.reports.practice.problem import Level

LETTERS = "ABCDEF"
OPTIONS = 5
UNEQUAL = ("20 ohm", "25 ohm @ 30 deg", "40 ohm @ 20 deg")
"""A load that is not balanced, for the picture."""


@dataclass(frozen=True)
class Case:
    """What is known before the method is chosen.

    Attributes
    ----------
    wires : int
        3 or 4.
    supply, load : str
        The class that the installation belongs to.
    words : str
        The same in words.
    reactive : bool
        Whether a reactive power is wanted.
    unequal : bool
        Whether the voltage circuits at hand are unequal.
    """

    wires: int
    supply: Supply
    load: Load
    words: str
    reactive: bool = False
    unequal: bool = False


_DIFFERENT = "The voltage circuits of the wattmeters at hand differ: 20 kΩ, 10 kΩ and 20 kΩ."
CASES: dict[int, tuple[Case, ...]] = {
    1: (
        Case(3, "any", "any", "Three wires. Nothing is known of voltages and load."),
        Case(3, "symmetrical", "balanced", "Three wires, symmetrical voltages, a balanced motor."),
        Case(4, "any", "any", "Four wires, many single-phase loads, any voltages."),
        Case(4, "any", "any", "Four wires, a block of flats. Nothing else is known."),
        Case(3, "any", "any", "Three wires, a workshop with welders, an oven and motors."),
        Case(4, "symmetrical", "balanced", "Four wires, symmetrical voltages, an oven with three "
             "equal heaters."),
    ),
    2: (
        Case(4, "any", "no neutral current", "Four wires, but only three-wire loads: no current in "
             "the neutral. The load is not balanced, the voltages are not quite symmetrical."),
        Case(4, "zero-sum", "any", "Four wires, many single-phase loads. The three voltages to the "
             "neutral differ, but sum to zero."),
        Case(4, "symmetrical", "any", "Four wires, many single-phase loads, symmetrical voltages."),
        Case(3, "any", "balanced", "Three wires, a balanced motor on unsymmetrical voltages."),
        Case(4, "symmetrical", "balanced", "Four wires, symmetrical voltages, a balanced load. "
             f"{_DIFFERENT}", unequal=True),
    ),
    3: (
        Case(3, "symmetrical", "balanced", "Three wires, symmetrical voltages, a balanced motor; "
             "its reactive power is wanted.", reactive=True),
        Case(4, "symmetrical", "any", "Four wires, many single-phase loads, symmetrical voltages; "
             "the reactive power is wanted.", reactive=True),
        Case(3, "symmetrical", "any", "Three wires, symmetrical voltages, a load that is not "
             "balanced; its reactive power is wanted.", reactive=True),
        Case(3, "any", "any", f"Three wires, a load that is not balanced. {_DIFFERENT}",
             unequal=True),
        Case(4, "zero-sum", "any", "Four wires, many single-phase loads, voltages that sum to "
             f"zero. {_DIFFERENT}", unequal=True),
    ),
}  # fmt: skip
"""The cases of each level."""


def choose_method(shape: Random, random: Random, method: str, level: Level) -> Problem:
    """Draw a problem in which a method is chosen.

    Parameters
    ----------
    shape, random : Random
        Where the case and the methods to choose among come from.
    method : str
        The method that is among them in any case.
    level : int
        1 to 3.

    Returns
    -------
    Problem
        The problem.
    """
    how = METHODS[method]
    usable = [c for cases in CASES.values() for c in cases if _fits(method, c)]
    at_level = [c for c in CASES[level] if c in usable]
    case = shape.choice(at_level or usable)
    explained = {name: _explained(name, case) for name in METHODS if _fits(name, case)}
    others = [name for name in explained if name != method]
    right = [name for name, e in explained.items() if _row(e, case).exact]
    chosen = {method, random.choice(right)} if right else {method}
    while len(chosen) < min(OPTIONS, len(explained)):
        chosen.add(random.choice(others))
    names = [name for name in METHODS if name in chosen]
    lettered = dict(zip(LETTERS, names, strict=False))
    quantity = "reactive power" if case.reactive else "active power"
    choice = Choice(
        f"Which of these give the right {quantity} for every installation of this kind?",
        {
            letter: f"{name}: {formula_text(METHODS[name].total)}"
            for letter, name in lettered.items()
        },
        frozenset(letter for letter, name in lettered.items() if name in right),
        {letter: _remark(explained[name], case) for letter, name in lettered.items()},
    )
    fewest = min(METHODS[name].n_wattmeters for name in right)
    counts = {3: "one for each line", case.wires: "one for each wire", 1: "one is enough"}
    counts |= {2: "two, as on three wires"} if case.wires == 4 else {}
    slips = {name: {"readings": float(n)} for n, name in counts.items() if n != fewest}
    words = "What is the smallest number of readings, at once or in turn, that is enough?"
    asks = asks_for({"readings": (words, "", 1.0)}, {"readings": float(fewest)}, slips)
    steps = [f"{letter}, {name}: {choice.remarks[letter]}" for letter, name in lettered.items()]
    steps.append(_fewest_words(case, fewest, right))
    shown = min(chosen & set(right) or chosen, key=lambda name: METHODS[name].n_wattmeters)
    result = explained[shown].result
    return Problem(
        "choose-method", how.name, level, (case.words,), (choice, *asks), tuple(steps), result
    )


def _fits(method: str, case: Case) -> bool:
    """Tell whether a method can be tried in a case, rightly or wrongly."""
    how = METHODS[method]
    return how.reactive == case.reactive and (case.wires == 4 or case.wires in how.wires)


@cache
def _explained(method: str, case: Case) -> Explanation:
    """Explain a method in a case, on a load that belongs to it."""
    how = METHODS[method]
    conductors = Conductors(neutral="N" if case.wires == 4 else None)
    ohms = [20, 10, 20] if case.unequal else [20, 20, 20]
    count = how.n_wattmeters if how.needs_voltage_circuit else 0
    names = [f"r{value}" for value in ohms[:count]]
    resistors = [f"{value} kohm" for value in ohms[1:]] if count == 1 else []
    ohms_of_load = ("20 ohm @ 30 deg",) * 3 if case.load == "balanced" else UNEQUAL
    branches = dict(zip(conductors.lines, ohms_of_load, strict=True))
    point = "neutral" if case.wires == 4 and case.load != "no neutral current" else "isolated"
    load = {"name": "load", "connection": "star", "star_point": point, **branches}
    tables: dict[str, Any] = {
        "title": f"Practice: {method}",
        "supply": {"wires": case.wires, "voltage": "400 V"},
        "load": [load],
        **expand(how, conductors, {}, names, resistors),
    }
    if names:
        tables["instrument"] = {n: {"voltage_circuit": f"{n[1:]} kohm"} for n in names}
    return explain(scenario_from(tables))


def _row(explanation: Explanation, case: Case) -> Row:
    return next(r for r in explanation.exactness if (r.supply, r.load) == (case.supply, case.load))


def _remark(explanation: Explanation, case: Case) -> str:
    """Say why a method is right here, or where it would be."""
    if _row(explanation, case).exact:
        return "right"
    exact = [row for row in explanation.exactness if row.exact]
    if not exact:
        return "wrong, and never sure to be right"
    widest = exact[0]
    sure = f"{LOAD_WORDS[widest.load]} on {SUPPLY_WORDS[widest.supply]}"
    return f"wrong: sure for {sure}, but not for all of these"


def _fewest_words(case: Case, fewest: int, right: list[str]) -> str:
    names = " or ".join(name for name in right if METHODS[name].n_wattmeters == fewest)
    rule = ""
    if (case.supply, case.load, case.reactive) == ("any", "any", False):
        rule = f": one fewer than the {case.wires} wires"
    return f"{fewest} reading{'s are' if fewest > 1 else ' is'} enough{rule} ({names})"

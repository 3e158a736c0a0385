"""The problems of a sheet: the same ones for the same seed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from itertools import chain
from random import Random
from typing import TYPE_CHECKING, get_args

from simulator.errors import ScenarioError
from simulator.metering.catalogue import METHODS
from simulator.reports.practice.apart import SAMPLE, kept_apart
from simulator.reports.practice.choose_method import choose_method
from simulator.reports.practice.draw_phasors import draw_phasors
from simulator.reports.practice.find_fault import find_fault
from simulator.reports.practice.infer_pair import PAIRS, infer_pair
from simulator.reports.practice.infer_sum import infer_sum
from simulator.reports.practice.predict import predict
from simulator.reports.practice.problem import Kind, Level
from simulator.scenario.words import near

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.reports.practice.problem import Problem

KINDS: tuple[Kind, ...] = get_args(Kind)
LEVELS: tuple[Level, ...] = get_args(Level)
MOST = 60
"""The most problems on a sheet."""
# Each draw predicts every wiring, and only one of its numbers has slips.
FAULT_SAMPLE = 4
AGAIN = ("", *(f", again {n}" for n in range(1, 9)))
"""What is added to a problem's number when its words stand on the sheet already."""


@dataclass(frozen=True)
class Sheet:
    """What a practice sheet is made from.

    Attributes
    ----------
    seed : int
        The same seed gives the same problems.
    problems : int
        How many; the first ones are the same however many there are.
    level : int
        1 to 3.
    kinds : tuple of str
        What has to be done, in turn.
    methods : tuple of str
        Methods of the catalogue that the problems are about.

    Raises
    ------
    ScenarioError
        If there is no such kind, method or level, or the number is out of bounds.
    """

    seed: int = 1
    problems: int = 6
    level: Level = 1
    kinds: tuple[Kind, ...] = KINDS
    methods: tuple[str, ...] = tuple(METHODS)

    def __post_init__(self) -> None:
        if not 1 <= self.problems <= MOST:
            raise ScenarioError(f"expected 1 to {MOST}, got {self.problems}", "problems")
        if self.level not in LEVELS:
            raise ScenarioError(f"expected 1, 2 or 3, got {self.level}", "level")
        for what, given, known in (
            ("kinds", self.kinds, KINDS),
            ("methods", self.methods, tuple(METHODS)),
        ):
            if not given:
                raise ScenarioError(f"expected at least one of {', '.join(known)}", what)
            for name in given:
                if name not in known:
                    raise ScenarioError(f"there is no '{name}'; {near(name, known)}", what)


def problems_of(sheet: Sheet) -> list[Problem]:
    """Draw the problems of a sheet.

    Parameters
    ----------
    sheet : Sheet
        What it is made from.

    Returns
    -------
    list of Problem
        The problems in their order. Kinds and methods take turns, so that every kind meets every
        method before one comes twice. No two are told in the same words while there are others.
    """
    methods = list(sheet.methods)
    Random(f"{sheet.seed}, methods").shuffle(methods)  # noqa: S311  (no secret)
    kinds, n = sheet.kinds, len(methods)
    before_repeating = math.lcm(len(kinds), n)
    problems: list[Problem] = []
    for k in range(sheet.problems):
        kind, method = kinds[k % len(kinds)], methods[(k + k // before_repeating) % n]
        told = {problem.told for problem in problems}
        drawn = (_problem(sheet, f"{k}{again}", kind, method) for again in AGAIN)
        first = next(drawn)
        others = (problem for problem in chain([first], drawn) if problem.told not in told)
        problems.append(next(others, first))
    return problems


def _problem(sheet: Sheet, k: str, kind: Kind, method: str) -> Problem:
    draw = partial(_drawing(kind, method), method=method, level=sheet.level)
    sample = FAULT_SAMPLE if kind == "find-fault" else SAMPLE
    return kept_apart(draw, f"{sheet.seed}, {k}, {kind}, {method}, {sheet.level}", sample)


def _drawing(kind: Kind, method: str) -> Callable[..., Problem | None]:
    if kind == "infer":
        return infer_pair if method in PAIRS else infer_sum
    return {
        "predict": predict,
        "find-fault": find_fault,
        "choose-method": choose_method,
        "draw-phasors": draw_phasors,
    }[kind]

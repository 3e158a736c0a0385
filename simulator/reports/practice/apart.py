"""Numbers that keep slips apart.

Where two slips, or a slip and the right answer, meet by chance on one number, other numbers are
chosen. Some always meet: √3 applied to a total and √3 together with 3 are the same number whatever
the load. Such pairs are known by meeting exactly in every draw of the same shape in which both
occur; they stay, and the key asks for the working.
"""

from __future__ import annotations

from itertools import chain, combinations, islice
from random import Random
from typing import TYPE_CHECKING

from simulator.reports.practice.problem import Choice

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.reports.practice.problem import Ask, Problem

Pair = tuple[str, frozenset[str]]
"""Symbol of a part, and the names of two slips; the empty name is the right answer."""

SAMPLE = 8
OFTEN = 3
"""Draws in which a pair has to occur for that."""
TRIES = 60
SHAPES = 20
EXACTLY = 1e-6
RIGHT = ""


def kept_apart(
    draw: Callable[[Random, Random], Problem | None], seed: str, sample: int = SAMPLE
) -> Problem:
    """Draw problems until no two numbers meet by chance.

    Parameters
    ----------
    draw : callable
        Gives a problem; what kind of circuit it is comes from the first source of chance, its
        numbers from the second. None where the numbers make no problem.
    seed : str
        Seed of both.
    sample : int, optional
        Draws from which the pairs that always meet are learnt.

    Returns
    -------
    Problem
        The first one in which a number tells which slip was made, but for pairs that always meet.

    Raises
    ------
    RuntimeError
        If there is none among many: the problem has too few numbers to choose from.
    """
    for shape in range(SHAPES):
        numbers = Random(f"{seed}, shape {shape}, numbers")  # noqa: S311  (no secret)
        drawn = (draw(Random(f"{seed}, shape {shape}"), numbers) for _ in range(TRIES))  # noqa: S311
        problems = (problem for problem in drawn if problem)
        first = list(islice(problems, sample))
        always = _always(first)
        for problem in chain(first, problems):
            if _meeting(problem, exactly=False) <= always:
                return problem
    raise RuntimeError(f"no numbers keep the slips apart: {seed}")


def _always(problems: list[Problem]) -> set[Pair]:
    """Find the pairs that meet in every problem in which both occur."""
    meeting = [_meeting(problem, exactly=True) for problem in problems]
    occurring = [_pairs(problem) for problem in problems]
    return {
        pair
        for pair in set().union(*meeting)
        if OFTEN <= sum(pair in here for here in occurring) == sum(pair in met for met in meeting)
    }


def _values(ask: Ask) -> list[tuple[str, float]]:
    return [(RIGHT, ask.value), *((slip.name, slip.value) for slip in ask.slips)]


def _pairs(problem: Problem) -> set[Pair]:
    return {
        (ask.symbol, frozenset((name, other)))
        for ask in problem.asks
        if not isinstance(ask, Choice)
        for (name, _), (other, _) in combinations(_values(ask), 2)
    }


def _meeting(problem: Problem, *, exactly: bool) -> set[Pair]:
    """Find the pairs of values that a marker could not tell apart."""
    return {
        (ask.symbol, frozenset((name, other)))
        for ask in problem.asks
        if not isinstance(ask, Choice)
        for (name, a), (other, b) in combinations(_values(ask), 2)
        if (abs(a - b) <= EXACTLY * ask.scale if exactly else ask.same(a, b))
    }

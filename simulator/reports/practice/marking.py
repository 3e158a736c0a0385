"""Mark given answers: right, which slip, or not recognised."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import dataclass, replace
from string import ascii_lowercase
from typing import TYPE_CHECKING, Any, Literal

from simulator.errors import QuantityError, ScenarioError
from simulator.files import csv_lines
from simulator.quantities import parse_angle, parse_percent, parse_real
from simulator.reports.practice.problem import Ask, Choice
from simulator.reports.practice.sheet import label

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.quantities import Unit
    from simulator.reports.practice.problem import Problem

HEADER = ("problem", "answer", "unit")
Verdict = Literal["right", "slip", "not recognised", "no answer"]
UNITS: tuple[Unit, ...] = ("W", "VA", "var", "V", "A", "ohm")
# What an answer may be off by beside the usual slips.
HABITS = {
    "the sign is wrong": -1.0,
    "a thousand times too large": 1e3,
    "a thousand times too small": 1e-3,
}


@dataclass(frozen=True)
class Answer:
    """One line of an answer file.

    Attributes
    ----------
    line : int
        Its number.
    problem : str
        Label of the part, for example "3b".
    answer, unit : str
        What was answered, as written; the unit may be empty.
    """

    line: int
    problem: str
    answer: str
    unit: str = ""


@dataclass(frozen=True)
class Mark:
    """One part, marked.

    Attributes
    ----------
    problem : str
        Label of the part.
    given : str
        What was answered; empty without an answer.
    right : str
        The right answer.
    verdict : str
        "right", "slip", "not recognised" or "no answer".
    slips : tuple of str
        The slips that lead to this answer; several where they give the same number.
    """

    problem: str
    given: str
    right: str
    verdict: Verdict
    slips: tuple[str, ...] = ()


def parse_answers(data: bytes) -> tuple[Answer, ...]:
    """Read an answer file.

    Parameters
    ----------
    data : bytes
        CSV in UTF-8 with the header ``problem,answer`` or ``problem,answer,unit``.

    Returns
    -------
    tuple of Answer
        Its lines without header and empty ones.

    Raises
    ------
    ScenarioError
        If it is no such file; it names the line.
    """
    hint = '(a decimal point, no comma; several letters as "A B")'
    return tuple(_answer(line, *cells) for line, cells in csv_lines(data, HEADER, 2, hint))


def _answer(line: int, problem: str, answer: str, unit: str) -> Answer:
    if not problem:
        raise ScenarioError("the problem is missing", f"line {line}")
    return Answer(line, problem.lower(), answer, unit)


def mark(problems: Sequence[Problem], answers: Sequence[Answer]) -> tuple[Mark, ...]:
    """Mark answers against the problems that they belong to.

    Parameters
    ----------
    problems : sequence of Problem
        The problems of the sheet.
    answers : sequence of Answer
        What was answered.

    Returns
    -------
    tuple of Mark
        A mark for each part, in the order of the sheet.

    Raises
    ------
    ScenarioError
        If an answer belongs to no part, is given twice, or is no such quantity; it names the line.
    """
    parts = {
        label(k, problem, n): ask
        for k, problem in enumerate(problems, 1)
        for n, ask in enumerate(problem.asks)
    }
    given: dict[str, Answer] = {}
    for answer in answers:
        place = f"line {answer.line}, {answer.problem}"
        if answer.problem not in parts:
            known = ", ".join(parts)
            raise ScenarioError(f"there is no problem '{answer.problem}', only {known}", place)
        if answer.problem in given:
            raise ScenarioError("this answer is given twice", place)
        given[answer.problem] = answer
    marks = [_mark(name, ask, given.get(name)) for name, ask in parts.items()]
    return tuple(_narrowed(m, marks) for m in marks)


def _narrowed(one: Mark, marks: Sequence[Mark]) -> Mark:
    """Choose between slips that give the same number by what another part of the problem shows."""
    number = one.problem.rstrip(ascii_lowercase)
    others = [m.slips for m in marks if m.problem.rstrip(ascii_lowercase) == number]
    shown = {slips[0] for slips in others if len(slips) == 1} & set(one.slips)
    return replace(one, slips=tuple(shown)) if len(shown) == 1 and len(one.slips) > 1 else one


def _mark(name: str, ask: Ask | Choice, answer: Answer | None) -> Mark:
    right = ", ".join(sorted(ask.right)) if isinstance(ask, Choice) else ask.written(ask.value)
    if answer is None or not answer.answer:
        return Mark(name, "", right, "no answer")
    place = f"line {answer.line}, {name}"
    shown = f"{answer.answer} {answer.unit}".strip()
    if isinstance(ask, Choice):
        # a letter after a comma that is not in quotation marks stands where the unit does
        verdict, slips = _mark_choice(ask, shown, place)
    else:
        verdict, slips = _mark_number(ask, *_number(ask, answer, place))
    return Mark(name, shown, right, verdict, slips)


def _mark_choice(ask: Choice, text: str, place: str) -> tuple[Verdict, tuple[str, ...]]:
    letters = all(len(option) == 1 for option in ask.options)
    words = re.findall(r"[^\W\d_]" if letters else r"[^\W\d_]+", text)
    known = {option.casefold(): option for option in ask.options}
    chosen = set()
    for word in words:
        if word.casefold() not in known:
            expected = ", ".join(ask.options)
            raise ScenarioError(f"expected one or more of {expected}, got '{text}'", place)
        chosen.add(known[word.casefold()])
    if not chosen:
        raise ScenarioError(
            f"expected one or more of {', '.join(ask.options)}, got '{text}'", place
        )
    if chosen == ask.right:
        return "right", ()
    wrong = [_about(ask, option) for option in ask.options if option in chosen - ask.right]
    missing = [f"{option} is missing" for option in ask.options if option in ask.right - chosen]
    return "slip", ("; ".join([*wrong, *(missing if letters else [])]),)


def _about(ask: Choice, option: str) -> str:
    meaning = ask.options[option]
    said = f"{option} ({meaning})" if meaning else option
    return f"{said}: {ask.remarks[option]}" if option in ask.remarks else f"{said} is wrong"


def _number(ask: Ask, answer: Answer, place: str) -> tuple[float, str]:
    """Read a number in the unit that is asked for; without a unit it is in that one.

    A quantity in another unit is an answer too, and a slip: it comes with that unit.
    """
    text = f"{answer.answer} {answer.unit}".strip().replace("−", "-")
    bare = re.fullmatch(r"[-+]?[\d.]+(e[-+]?\d+)?", text, re.IGNORECASE)
    try:
        if ask.unit == "":
            return (parse_real(f"{text} V", "V") if bare else parse_percent(text)), ""
        if ask.unit == "°":
            return parse_angle(f"{text} deg" if bare else text), ""
        return parse_real(f"{text} {ask.unit}" if bare else text, ask.unit), ""
    except QuantityError as error:
        for unit in UNITS:
            with suppress(QuantityError):
                return parse_real(text, unit), unit
        if ask.unit:
            raise ScenarioError(error.message, place) from error
        hint = " (a decimal point, no comma)" if "," in text else ""
        message = f"expected a number without a unit, got '{text}'{hint}"
        raise ScenarioError(message, place) from error


def _mark_number(ask: Ask, value: float, unit: str) -> tuple[Verdict, tuple[str, ...]]:
    verdict, slips = _mark_value(ask, value)
    if not unit:
        return verdict, slips
    wrong = f"it should have {f'the unit {ask.unit}' if ask.unit else 'no unit'}, not {unit}"
    named = tuple(f"{slip}; {wrong}" for slip in slips) or (wrong,)
    return ("slip" if verdict == "right" else verdict), named


def _mark_value(ask: Ask, value: float) -> tuple[Verdict, tuple[str, ...]]:
    if abs(value - ask.value) <= ask.allowed(ask.value):
        return "right", ()
    slips = [s.name for s in ask.slips if abs(value - s.value) <= ask.allowed(s.value)]
    if not slips:
        slips = [
            name
            for name, factor in HABITS.items()
            if abs(value / factor - ask.value) <= ask.allowed(ask.value)
        ]
    return ("slip", tuple(slips)) if slips else ("not recognised", ())


def marks_object(seed: int, marks: Sequence[Mark]) -> dict[str, Any]:
    """Turn marks into the object that ``blondel practice --mark --json`` prints.

    Parameters
    ----------
    seed : int
        Seed of the sheet.
    marks : sequence of Mark
        The marks.

    Returns
    -------
    dict
        Only plain Python values.
    """
    return {
        "seed": seed,
        "right": sum(m.verdict == "right" for m in marks),
        "of": len(marks),
        "marks": [
            {
                "problem": m.problem,
                "answer": m.given or None,
                "right_answer": m.right,
                "verdict": m.verdict,
                "slips": list(m.slips),
            }
            for m in marks
        ],
    }


def marks_text(marks: Sequence[Mark]) -> str:
    """Write marks for a person.

    Parameters
    ----------
    marks : sequence of Mark
        The marks.

    Returns
    -------
    str
        A table, and how many answers are right.
    """
    from tabulate import tabulate  # noqa: PLC0415

    rows = []
    for m in marks:
        found = " or ".join(m.slips) + ("; ask for the working" if len(m.slips) > 1 else "")
        rows.append((m.problem, m.given or "–", m.right, m.verdict, found))
    headings = ("problem", "answer", "right answer", "verdict", "slip")
    table = tabulate(rows, headings, tablefmt="simple", disable_numparse=True)
    right = sum(m.verdict == "right" for m in marks)
    return f"{table}\n\n{right} of {len(marks)} right.\n"

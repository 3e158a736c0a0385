"""Files of answers for `practice --mark`: refused with their line, or marked as by hand."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import pytest

from simulator.commands.common import one_line
from simulator.errors import SimulatorError
from simulator.reports.practice.generate import Sheet, problems_of
from simulator.reports.practice.marking import mark, marks_object, marks_text, parse_answers
from simulator.reports.practice.problem import Ask, Choice
from simulator.reports.practice.sheet import label
from tests.fuzz import literals
from tests.fuzz.rows import table_of, written
from tests.fuzz.seeds import assert_clear, at_once, fuzz

if TYPE_CHECKING:
    from random import Random

    from simulator.reports.practice.problem import Problem

HEADER = ("problem", "answer", "unit")
UNITS = ("W", "var", "VA", "V", "A", "ohm")  # an answer in another one of these is a slip


@cache
def sheet_of(number: int) -> list[Problem]:
    return problems_of(Sheet(seed=number, problems=5, level=(1, 2, 3)[number % 3]))


@cache
def parts_of(number: int) -> dict[str, Ask | Choice]:
    return {
        label(k, problem, n): ask
        for k, problem in enumerate(sheet_of(number), 1)
        for n, ask in enumerate(problem.asks)
    }


def answer(ask: Ask | Choice, random: Random) -> tuple[str, str]:
    """Answer rightly, with a slip, or wrongly."""
    if isinstance(ask, Choice):
        chosen = random.sample(list(ask.options), random.randint(1, min(3, len(ask.options))))
        chosen = sorted(ask.right) if random.random() < 0.5 else chosen
        return random.choice((" ", "  ", " and ", ";", "")).join(chosen), ""
    value = random.choice((ask.value, ask.value, *(slip.value for slip in ask.slips)))
    value *= random.choice((1, 1, 1, 1.005, 1.03, -1, 1000))
    prefix, scale = random.choice((("", 1), ("", 1), ("k", 1e3), ("m", 1e-3)))
    if ask.unit in ("", "°"):
        prefix, scale = "", 1
    unit = random.choice((ask.unit, ask.unit, ask.unit, random.choice(UNITS)))
    text = f"{value / scale:.{random.choice((3, 4, 7))}g}"
    choice = random.random()
    if choice < 0.3:
        return text, prefix + unit
    return (f"{text} {prefix}{unit}", "") if choice < 0.7 else (f"{value:.6g}", "")


def make(random: Random) -> tuple[int, bytes]:
    """Answer some parts of a sheet."""
    number = random.randrange(1, 3)
    width, rows = random.choice((2, 3)), []
    for name, ask in parts_of(number).items():
        if random.random() < 0.7:
            rows.append((random.choice((name, name.upper())), *answer(ask, random))[:width])
    if rows and random.random() < 0.05:
        rows.append(random.choice(rows))
    random.shuffle(rows)
    return number, written([HEADER[:width], *rows], random)


def read(number: int, data: bytes) -> dict[str, str] | None:
    """Mark as by hand: verdicts by part; None if there is something wrong."""
    table, parts = table_of(data, HEADER, 2), parts_of(number)
    if table is None:
        return None
    found = dict.fromkeys(parts, "no answer")
    seen = set()
    for given, text, unit in table:
        name = given.lower()
        if name not in parts or name in seen:
            return None
        seen.add(name)
        if text:
            verdict = judged(parts[name], f"{text} {unit}".strip())
            if verdict is None:
                return None
            found[name] = verdict
    return found


def judged(ask: Ask | Choice, text: str) -> str | None:
    if isinstance(ask, Choice):
        return chosen(ask, text)
    if len(text) > 190:
        return None
    text = literals.spelt(text)
    bare = literals.is_number(text)
    if ask.unit == "":
        value = literals.real(f"{text} V", "V") if bare else literals.percent(text)
    elif ask.unit == "°":
        value = literals.angle(f"{text} deg" if bare else text)
    else:
        value = literals.real(f"{text} {ask.unit}" if bare else text, ask.unit)
    wrong_unit = value is None
    if value is None:
        found = [v for unit in UNITS if (v := literals.real(text, unit)) is not None]
        if not found:
            return None
        value = found[0]

    def is_near(right: float, factor: float = 1) -> bool:
        # 1 % of the value, and at least 0.2 % of the scale
        return abs(float(value) / factor - right) <= max(0.01 * abs(right), 0.002 * ask.scale)

    if is_near(ask.value):
        return "slip" if wrong_unit else "right"
    habits = any(is_near(ask.value, factor) for factor in (-1, 1e3, 1e-3))
    return "slip" if habits or any(is_near(s.value) for s in ask.slips) else "not recognised"


def chosen(ask: Choice, text: str) -> str | None:
    """Judge a choice: letters one by one, or whole words."""
    letters = all(len(option) == 1 for option in ask.options)
    plain = "".join(c if c.isalnum() and not c.isdecimal() else " " for c in text)
    words = [c for c in plain if c != " "] if letters else plain.split()
    known = {option.casefold(): option for option in ask.options}
    if not words or any(word.casefold() not in known for word in words):
        return None
    return "right" if {known[word.casefold()] for word in words} == ask.right else "slip"


def check(given: tuple[int, bytes]) -> str:
    number, data = given
    expected = read(number, data)
    try:
        with at_once():
            marks = mark(sheet_of(number), parse_answers(data))
            told = marks_object(number, marks)
            text = marks_text(marks)
    except SimulatorError as error:
        assert_clear(ValueError(one_line(str(error))))  # as the command prints it
        assert expected is None, f"refused: {error}"  # noqa: PT017
        return "refused"
    assert expected is not None, "read, though it is no such file"
    assert {m["problem"]: m["verdict"] for m in told["marks"]} == expected
    assert told["right"] == list(expected.values()).count("right")
    assert text.isprintable() or "\n" in text
    return "marked"


def test_texts() -> None:
    found = fuzz("answers", range(80), make, check)
    assert found["marked"] > 20
    assert found["refused"] > 20


@pytest.mark.heavy
@pytest.mark.parametrize("part", range(5))
def test_many_texts(part: int) -> None:
    fuzz("answers", range(part * 1_000, (part + 1) * 1_000), make, check)


# What once failed: the file stands here, whatever becomes of the seeds.
ONCE_FAILED = [
    (1, b"problem,answer\n" + b"1" * 5000 + b",1\n"),  # a message of 5000 characters
]


@pytest.mark.parametrize("given", ONCE_FAILED)
def test_once_failed(given: tuple[int, bytes]) -> None:
    check(given)

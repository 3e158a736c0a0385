"""Mutants of valid scenarios: each is refused in one line, or solved with the laws obeyed."""

from __future__ import annotations

import json
import re
import time
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

import pytest

import simulator
from simulator.errors import SimulatorError
from simulator.metering.catalogue import METHODS
from simulator.network.elements import Source
from simulator.reports.catalogue import starter_text
from tests.scenario.test_labels import FOUR_WIRE_FILE, THREE_WIRE_FILE
from tests.scenario.texts import FOUR_WIRES, MOTOR, THREE_WIRES

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.findings.result import Result

SHIPPED = sorted(Path(__file__).parents[2].glob("scenarios/*.toml"))
SEEDS = [
    THREE_WIRES + MOTOR,
    FOUR_WIRES,
    FOUR_WIRE_FILE,
    THREE_WIRE_FILE,
    *(starter_text(name) for name in METHODS),
    *(path.read_text(encoding="utf-8") for path in SHIPPED),
]
LITERALS = [
    '""', '"0 ohm"', '"open"', '"1e30 ohm"', '"1e-30 ohm"', '"-5 ohm"', '"1e-30j ohm"', '"1j ohm"',
    '"-1j ohm"', '"5 V"', '"1e30 V"', '"0 V"', '"3 V @ 1e9 deg"', '"nan ohm"', '"50 ohm, 0 lag"',
    '"1e30 Hz"', '"1e-30 Hz"', '"20 kohm, 1e30 H"', '"0 %"', '"-100 %"', '"1e30 %"', '"1 deg"',
    '"1e30/1e-30 A"', '"400/100 V"', '"0.5 lead"', "0", "-1", "3", "4", "1e308", "nan", "-inf",
    "true", "[]", "{}", "[[1]]", "1979-05-27", '["L1", "L2"]', '["L1", "L1"]', '["-L1", "N"]',
    '["P", "N"]', '"L1"', '"N"', '"PE"', '"P"', '"neutral"', '"isolated"', '"electronic"', '"load"',
    '{ resistance = "0 ohm", inductance = "0 H", parallel = true }', '{ capacitance = "1e-30 F" }',
    '{ power = "0 W", power_factor = "1" }', '{ power = "1e30 W", current = "1 A" }',
    '{ inductance = "10.132118364233778 H", capacitance = "1 uF", parallel = true }',
    '{ L1 = "1 ohm", L2 = "1 ohm", L3 = "1 ohm" }', '"W1 - W1"', '"1e99*W1"', '"sqrt(3)*W2"',
    '"\\u001b[31m"', '"\\u202e"', '"ÄÖ"',
]  # fmt: skip
LINES = [
    'star_point = "P"', "active = true", 'lead_impedance = "1 ohm"', 'neutral_lead = "0 ohm"',
    'neutral_lead = "open"', 'line_impedance = "0.1 ohm"', 'neutral_impedance = "open"',
    'sequence = "L3-L2-L1"', 'earthed = "L1"', 'reversed = ["current"]', "station = 2",
    'voltage_tap = "load"', 'side = "supply"', 'labels = ["L3", "N", "L1", "L2"]',
    '[[load]]\nconnection = "delta"\neach = "0 ohm"',
    '[[load]]\nconnection = "star"\neach = "open"',
    '[[impedance]]\nbetween = ["P", "L1"]\nvalue = "0 ohm"',
    '[[impedance]]\nbetween = ["L1", "L2"]\nvalue = "0 ohm"',
    '[[impedance]]\nbetween = ["L1", "PE"]\nvalue = "1j ohm"\nside = "supply"',
    '[[wattmeter]]\nname = "W9"\ncurrent = ["L1", "L2", "L3"]\nvoltage = ["L1", "L1"]',
    '[[ammeter]]\nname = "A"\nin = "L2"', '[[voltmeter]]\nname = "V"\nbetween = ["P", "N"]',
    '[method]\nname = "two wattmeters"', '[total]\npower = "W1"', "[supply]", "[x.y]", "=", "\x00",
]  # fmt: skip
CHARACTERS = "0123456789.+-*/jeE@,\"'[]{}= \t\nLNPWAVkmuGopenhm_#\\Ωµ°∠−é\u200b\ufeff\x1b\x7f🔥"
VALUE = re.compile(r"(?<==)[^=\n]+$", re.MULTILINE)


def change_lines(text: str, random: Random) -> str:
    lines = text.split("\n")
    i, j = random.randrange(len(lines)), random.randrange(len(lines))
    choice = random.randrange(4)
    if choice == 0:
        del lines[i]
    elif choice == 1:
        lines.insert(j, lines[i])
    elif choice == 2:
        lines[i], lines[j] = lines[j], lines[i]
    else:
        lines.insert(i, random.choice(LINES))
    return "\n".join(lines)


def change_characters(text: str, random: Random) -> str:
    i = random.randrange(len(text) + 1)
    cut, new = random.choice([(1, ""), (0, "?"), (1, "?"), (random.randrange(9), "")])
    return text[:i] + new.replace("?", random.choice(CHARACTERS)) + text[i + cut :]


def change_value(text: str, random: Random) -> str:
    values = list(VALUE.finditer(text))
    if not values:
        return text
    where = random.choice(values)
    new = random.choice([*LITERALS, *(v.group() for v in values)])
    return f"{text[: where.start()]} {new}{text[where.end() :]}"


CHANGES: list[Callable[[str, Random], str]] = [
    change_lines, change_characters, change_value, change_value,
]  # fmt: skip


def mutant(random: Random) -> str:
    text = random.choice(SEEDS)
    for _ in range(random.choice([1, 1, 1, 2, 2, 3, 5])):
        text = random.choice(CHANGES)(text, random)
    return text


def outcome(text: str) -> Result | SimulatorError:
    try:
        return simulator.solve(simulator.parse_scenario(text))
    except SimulatorError as error:
        return error


def assert_lawful(result: Result) -> None:
    for station in result.stations:
        solution = station.solution
        assert solution.residual <= 1e-9
        # commands.md: true power and losses together are the power of the sources
        sources = sum(
            -solution.powers[e.name].real
            for e in station.wired.netlist.elements
            if isinstance(e, Source)
        )
        size = sum(abs(p) for p in solution.powers.values())
        taken = station.true.real + sum(station.losses.values())
        assert abs(sources - taken) <= 1e-9 * size
    json.dumps(simulator.result_object(result), allow_nan=False)
    assert "\x1b" not in simulator.result_text(result)


def fuzz(seed: int, count: int) -> float:
    """Try mutants and give the part that could be solved."""
    random, solved = Random(seed), 0  # noqa: S311
    for k in range(count):
        text = mutant(random)
        start = time.process_time()
        try:
            found = outcome(text)
            assert time.process_time() - start < 1, "took more than a second"
            if isinstance(found, SimulatorError):
                assert str(found).isprintable(), "not one printable line"
            else:
                solved += 1
                assert_lawful(found)
        except Exception as error:
            raise AssertionError(f"seed {seed}, mutant {k}: {error!r}\n{text}") from error
    return solved / count


def test_mutants() -> None:
    # neither nearly all refused nor nearly all unchanged, or the mutants would tell nothing
    assert 0.1 < fuzz(1, 300) < 0.6


@pytest.mark.heavy
@pytest.mark.parametrize("seed", range(100, 120))
def test_many_mutants(seed: int) -> None:
    fuzz(seed, 5_000)


@pytest.mark.parametrize("text", SEEDS)
def test_seeds_are_valid(text: str) -> None:
    found = outcome(text)
    assert not isinstance(found, SimulatorError), found
    assert_lawful(found)

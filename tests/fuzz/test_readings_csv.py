"""Files of readings for `compare`: refused with their line, or set beside the right predictions."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import pytest

import simulator
from simulator.commands.common import one_line
from simulator.errors import SimulatorError
from simulator.findings.comparison import compare
from simulator.findings.readings_csv import parse_readings
from simulator.reports.catalogue import starter_text
from simulator.reports.comparison import comparison_object, comparison_text
from tests.explore.files import OWN_METERS
from tests.fuzz import literals
from tests.fuzz.rows import table_of, written
from tests.fuzz.seeds import assert_clear, at_once, fuzz
from tests.fuzz.tables import shown_by
from tests.fuzz.test_scenarios import of_second_reader
from tests.scenario.texts import THREE_WIRES

if TYPE_CHECKING:
    from random import Random

    from simulator.findings.result import Result

EXTRA = '[[voltmeter]]\nname = "V"\nbetween = ["L1", "L2"]\n[[ammeter]]\nname = "A"\nin = "L2"\n'
FILES = (
    THREE_WIRES + EXTRA,
    starter_text("one wattmeter moved in turn"),
    starter_text("two wattmeters for reactive power"),
    OWN_METERS,
)
HEADER = ("name", "value", "unit", "station")


@dataclass(frozen=True)
class Meter:
    """What the second reader says of one meter."""

    unit: str
    value: float
    allowed: float  # of `value`
    tolerance: float
    station: int | None = None


@cache
def result_of(number: int) -> Result:
    return simulator.solve(simulator.parse_scenario(FILES[number]))


@cache
def meters_of(number: int) -> dict[str, Meter]:
    """Work out every meter's reading, and 2 % of its volt-amperes, or of itself."""
    document = tomllib.loads(FILES[number])
    shown = shown_by(document)
    numbers = of_second_reader(shown, document)
    found = {}
    moved = "moved in turn" in FILES[number]
    for k, (name, r) in enumerate(shown.wattmeters.items(), 1):
        carried = float(r.ratio * r.volts * r.amperes)
        value, allowed = (float(x) for x in numbers[name])
        found[name] = Meter("W", value, allowed, 0.02 * carried, k if moved else None)
    for unit, meters in (("V", shown.voltmeters), ("A", shown.ammeters)):
        for name, value in meters.items():
            found[name] = Meter(unit, float(value), 1e-9 * float(value), 0.02 * float(value))
    return found


def make(random: Random) -> tuple[int, bytes]:
    """Note readings down, most of them near what they should be."""
    number = random.randrange(len(FILES))
    width = random.choice((3, 3, 3, 4))
    rows = [HEADER[:width]]
    for name, meter in meters_of(number).items():
        if random.random() < 0.1:
            continue
        near = random.choice((1, 1, 1, 1, 1.004, 0.99, 1.05 if random.random() < 0.1 else 1))
        prefix, scale = random.choice((("", 1), ("", 1), ("k", 1e3), ("m", 1e-3)))
        value = f"{meter.value * near / scale:.{random.choice((4, 6, 9))}g}"
        station = random.choice(("", "", str(meter.station or ""), "2"))
        rows.append((name, value, prefix + meter.unit, station)[:width])
    if random.random() < 0.1:
        rows.append(("total", "6 kW", "W", "")[:width])
    if random.random() < 0.03:
        rows.append(random.choice(rows))
    if random.random() < 0.03:
        rows.append(("W9", "1", "W", "")[:width])
    return number, written(rows, random)


def read(number: int, data: bytes) -> dict[str, float] | None:
    """Read measured values by meter; None if there is something wrong."""
    table = table_of(data, HEADER, 3)
    if not table:
        return None
    meters, found = meters_of(number), {}
    for name, value, unit, station in table:
        meter = meters.get(name)
        if station and not (set(station) <= set("0123456789") and len(station) <= 3):
            return None
        if not (name and value and unit) or name in found or (name != "total" and meter is None):
            return None
        if meter and station and int(station) != meter.station:
            return None
        own = meter.unit if meter else "var" if "reactive" in FILES[number] else "W"
        text = f"{value} {unit}"
        quantity = literals.real(literals.spelt(text), own) if len(text) <= 200 else None
        if quantity is None:
            return None
        found[name] = float(quantity)
    return found


def check(given: tuple[int, bytes]) -> str:
    number, data = given
    expected = read(number, data)
    try:
        with at_once():
            comparison = compare(result_of(number), parse_readings(data))
            told = comparison_object(comparison)
            text = comparison_text(comparison)
    except SimulatorError as error:
        assert_clear(ValueError(one_line(str(error))))  # as the command prints it
        assert expected is None, f"refused: {error}"  # noqa: PT017
        return "refused"
    assert expected is not None, "read, though it is no such file"
    assert "\x1b" not in text
    meters = meters_of(number)
    assert {row["name"]: row["measured"] for row in told["meters"]} == expected
    assert set(told["missing"]) == meters.keys() - expected.keys()
    for row in told["meters"]:
        if row["name"] == "total":
            continue
        meter, off = meters[row["name"]], abs(row["measured"] - meters[row["name"]].value)
        assert row["unit"] == meter.unit
        assert abs(row["predicted"] - meter.value) <= meter.allowed
        assert row["tolerance"] == pytest.approx(meter.tolerance, rel=1e-6)
        if abs(off - meter.tolerance) > 1e-6 * meter.tolerance:
            assert row["within"] == (off < meter.tolerance), row
    return "within" if told["within"] else "out of tolerance"


def test_texts() -> None:
    found = fuzz("readings", range(100), make, check)
    assert found["within"] > 15
    assert found["out of tolerance"] > 0
    assert found["refused"] > 30


@pytest.mark.heavy
@pytest.mark.parametrize("part", range(5))
def test_many_texts(part: int) -> None:
    fuzz("readings", range(part * 1_000, (part + 1) * 1_000), make, check)


# What once failed: the file stands here, whatever becomes of the seeds.
ONCE_FAILED = [
    (0, b"name,value,unit\n" + b"W" * 5000 + b",1,W\n"),  # a message of 5000 characters
]


@pytest.mark.parametrize("given", ONCE_FAILED)
def test_once_failed(given: tuple[int, bytes]) -> None:
    check(given)

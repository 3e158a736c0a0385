"""Readings that were noted down, as a CSV file: ``name,value,unit`` and perhaps ``station``."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.errors import ScenarioError
from simulator.files import csv_lines

HEADER = ("name", "value", "unit", "station")


@dataclass(frozen=True)
class Entry:
    """One line of the file.

    Attributes
    ----------
    line : int
        Its number.
    name : str
        Name of the meter.
    value, unit : str
        What it shows, as written.
    station : int or None
        Number of the station; None where the line names none.
    """

    line: int
    name: str
    value: str
    unit: str
    station: int | None

    @property
    def place(self) -> str:
        """Where it stands, for messages."""
        return f"line {self.line}, {self.name}"


def parse_readings(data: bytes) -> tuple[Entry, ...]:
    """Read the file's lines.

    Parameters
    ----------
    data : bytes
        Its content, UTF-8.

    Returns
    -------
    tuple of Entry
        Its lines without header and empty ones.

    Raises
    ------
    ScenarioError
        If it is no such file; it names the line.
    """
    entries = tuple(
        _entry(line, *cells)
        for line, cells in csv_lines(data, HEADER, 3, "(a decimal point, no comma)")
    )
    if not entries:
        raise ScenarioError("expected readings below the header, got nothing")
    return entries


def _entry(line: int, name: str, value: str, unit: str, station: str) -> Entry:
    for what, given in (("name", name), ("value", value), ("unit", unit)):
        if not given:
            raise ScenarioError(f"the {what} is missing", f"line {line}")
    return Entry(line, name, value, unit, _station(station, line))


def _station(text: str, line: int) -> int | None:
    if not text:
        return None
    if not (text.isascii() and text.isdecimal() and len(text) <= 3):
        raise ScenarioError(f"expected the number of a station, got '{text}'", f"line {line}")
    return int(text)

"""Readings that were noted down, as a CSV file: ``name,value,unit`` and perhaps ``station``."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

from simulator.errors import ScenarioError

HEADER = ("name", "value", "unit", "station")
LARGEST_FILE = 100_000


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
    if len(data) > LARGEST_FILE:
        raise ScenarioError(f"expected readings of at most {LARGEST_FILE // 1000} kB")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ScenarioError("expected a text file in UTF-8") from error
    rows = csv.reader(io.StringIO(text, newline=""), strict=True)
    width, entries = 0, []
    try:
        for row in rows:
            cells = [cell.strip() for cell in row]
            if not any(cells):
                continue
            if width:
                entries.append(_entry(cells, width, rows.line_num))
            else:
                width = _width(cells, rows.line_num)
    except csv.Error as error:
        raise ScenarioError(f"expected CSV: {error}", f"line {rows.line_num}") from error
    if not entries:
        wish = "readings below the header" if width else f"the header {','.join(HEADER[:3])}"
        raise ScenarioError(f"expected {wish}, got nothing")
    return tuple(entries)


def _width(cells: list[str], line: int) -> int:
    width = len(cells)
    if width not in (3, 4) or tuple(cell.lower() for cell in cells) != HEADER[:width]:
        raise ScenarioError(
            f"expected the header {','.join(HEADER[:3])} or {','.join(HEADER)}, "
            f"got '{','.join(cells)}'",
            f"line {line}",
        )
    return width


def _entry(cells: list[str], width: int, line: int) -> Entry:
    if len(cells) != width:
        raise ScenarioError(
            f"expected {','.join(HEADER[:width])}, got {len(cells)} values: '{','.join(cells)}' "
            "(a decimal point, no comma)",
            f"line {line}",
        )
    name, value, unit, *more = cells
    for what, given in (("name", name), ("value", value), ("unit", unit)):
        if not given:
            raise ScenarioError(f"the {what} is missing", f"line {line}")
    return Entry(line, name, value, unit, _station("".join(more), line))


def _station(text: str, line: int) -> int | None:
    if not text:
        return None
    if not (text.isascii() and text.isdecimal() and len(text) <= 3):
        raise ScenarioError(f"expected the number of a station, got '{text}'", f"line {line}")
    return int(text)

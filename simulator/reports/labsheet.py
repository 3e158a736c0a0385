"""A lab sheet from a scenario: what to connect, blanks for what is measured, and a key."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.figures.connections.listing import connection_text
from simulator.figures.words import circumstances, shortened
from simulator.findings.notes import BEHIND_TRANSFORMERS
from simulator.findings.reason import RIGHT, amount
from simulator.reports.document import (
    Blanks,
    Document,
    Heading,
    Space,
    Table,
    Text,
    Together,
    fitted,
)
from simulator.reports.labsheet_wiring import connections, diagram, ranges
from simulator.reports.text import columns

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from simulator.findings.result import Result
    from simulator.reports.document import Block

CAUTION = "Caution: "
DANGER = "DANGER"
HOW = (
    "Difference = measured − predicted. % of predicted = 100·difference/predicted. "
    "% of true P = 100·(measured total − P)/P, where P is what the loads take in truth."
)
BOTH = (
    "The two percentages answer two questions: is the circuit connected and read as intended, and "
    "does the method give the truth?"
)


@dataclass(frozen=True)
class Row:
    """A quantity that is predicted and measured.

    Attributes
    ----------
    name : str
        What it is.
    unit : str
        Its unit.
    predicted : float
        Its predicted value.
    true : float or None
        The true value that a total should give; None for anything else.
    meter : tuple of (str, int or None) or None
        Name and station of the meter that shows it; None where none does.
    """

    name: str
    unit: str
    predicted: float
    true: float | None = None
    meter: tuple[str, int | None] | None = None


def lab_sheet(
    result: Result,
    *,
    key: bool = False,
    measured: Mapping[tuple[str, int | None], float] | None = None,
) -> Document:
    """Lay out a lab sheet.

    Parameters
    ----------
    result : Result
        The scenario, solved.
    key : bool, optional
        Whether predicted values are filled in; without it nothing on the sheet tells them.
    measured : mapping of (str, int or None) to float, optional
        Measured values by meter and station, filled in with their differences.

    Returns
    -------
    Document
        Cautions, diagram, connections, and tables of voltages, currents, readings and total.
    """
    measured = measured or {}
    title = result.measurement.title
    subtitle = f"Lab sheet{', KEY' if key else ''}: {circumstances(result)}"
    picture = fitted(diagram(result, key=key), "Connection diagram; the list says the same")
    width, height = picture.figure.get_size_inches()
    apart = picture.landscape or height > width  # on a page of its own
    blocks: list[Block] = [
        Blanks(("Name", "Group", "Date", "Instruments")),
        *_cautions(result, key=key),
        *ranges(result),
        *(() if apart else (picture,)),
        *connections(result),
        *((picture,) if apart else ()),
        Together(
            (
                Heading("Voltages and currents"),
                Text(_where(result)),
                _table(list(_check_rows(result)), measured, key=key),
            )
        ),
        Together((*_watts(result, measured, key=key), Text(HOW), *_verdict(result, key=key))),
        *(() if key else (Together((Heading("Remarks"), Space(5))),)),
    ]
    return Document(
        title, subtitle, blocks, f"{shortened(title, 60)}: lab sheet{', KEY' if key else ''}"
    )


def _cautions(result: Result, *, key: bool) -> list[Block]:
    lines = connection_text(result).splitlines()
    found = [line.removeprefix(CAUTION) for line in lines if line.startswith(CAUTION)]
    found += [note for note in result.notes if note.startswith(DANGER)]
    said = (*found, BEHIND_TRANSFORMERS)
    notes = [note for note in result.notes if key and note not in said]
    return [
        *(Text(line, caution=True) for line in found),
        *(Text(note, lead="Note:") for note in notes),
    ]


def _where(result: Result) -> str:
    """Say where voltages and currents are taken."""
    station = result.first.number
    moved = "" if station is None else f", with the connections of station {station}"
    return f"At the load side of the wattmeters{moved}."


def _check_rows(result: Result) -> Iterator[Row]:
    """Give what is checked before the watts: voltages, currents, voltmeters, ammeters."""
    station = result.first
    lines, neutral = station.arrangement.conductors.lines, station.neutral
    V = dict(zip(lines, station.line_potentials.tolist(), strict=True))
    for start, end in zip(lines, (*lines[1:], lines[0]), strict=True):
        yield Row(f"voltage {start} to {end}", "V", abs(V[start] - V[end]))
    if neutral:
        yield from (Row(f"voltage {line} to {neutral}", "V", abs(V[line])) for line in lines)
    for line, current in zip(lines, station.line_currents.tolist(), strict=True):
        yield Row(f"current in {line}", "A", abs(current))
    if neutral:
        yield Row(f"current in {neutral}", "A", abs(station.neutral_current))
    for each in result.stations:
        at = "" if each.number is None else f", station {each.number}"
        for name, volts in each.voltmeters.items():
            yield Row(f"voltmeter {name}{at}", "V", volts, meter=(name, each.number))
        for name, amperes in each.ammeters.items():
            yield Row(f"ammeter {name}{at}", "A", amperes, meter=(name, each.number))


def _reading_rows(result: Result) -> list[Row]:
    rows = []
    for name, r in result.readings.items():
        station, zero = r.meter.station, r.direction == "zero"
        felt = f"{name}: I {r.meter.current_text}, V {r.meter.voltage[0]} to {r.meter.voltage[1]}"
        if station is not None:
            felt += f", station {station}"
        if r.meter.ratio != 1:
            rows.append(Row(f"{name} at the instrument", "W", 0.0 if zero else r.at_instrument))
            felt += f" (× {r.meter.ratio:g})"
        rows.append(Row(felt, "W", 0.0 if zero else r.watts, meter=(name, station)))
    return rows


TOTAL = ("total", None)
"""Under which the total's measured value stands."""


def _total_rows(result: Result) -> list[Row]:
    total = result.total
    if total is None:
        return []
    symbol, least = "Q" if total.reactive else "P", RIGHT * total.apparent
    shown, true = (x if abs(x) > least else 0.0 for x in (total.indicated, total.true))
    return [
        Row(f"total {total.formula}", total.unit, shown, true, TOTAL),
        Row(f"true {symbol} of the loads", total.unit, true),
    ]


def _watts(
    result: Result, measured: Mapping[tuple[str, int | None], float], *, key: bool
) -> list[Block]:
    rows = [*_reading_rows(result), *_total_rows(result)]
    return [Heading("Wattmeters"), _table(rows, measured, key=key)] if rows else []


def _table(
    rows: Sequence[Row], measured: Mapping[tuple[str, int | None], float], *, key: bool
) -> Table:
    """Set predicted beside measured; what is not known stays blank."""
    of_true = any(row.true is not None for row in rows)
    seen = [measured.get(row.meter, math.nan) if row.meter else math.nan for row in rows]
    apart = [value - row.predicted for value, row in zip(seen, rows, strict=True)]
    if not key:  # a difference tells the prediction
        apart = [math.nan] * len(rows)
    predicted = [row.predicted if key else math.nan for row in rows]
    texts = _written([row.unit for row in rows], predicted, seen, apart)
    cells = []
    for row, value, line in zip(rows, seen, zip(*texts, strict=True), strict=True):
        known = value if key else math.nan
        cell = [row.name, row.unit, *line, percent_of(known, row.predicted)]
        if of_true:
            cell.append("–" if row.true is None else percent_of(known, row.true))
        cells.append(tuple(cell))
    headings = ["", "unit", "predicted", "measured", "difference", "% of predicted"]
    headings += ["% of true P" if rows[-1].unit == "W" else "% of true Q"] if of_true else []
    return Table(tuple(headings), tuple(cells), "ll" + "r" * (len(headings) - 2))


def _written(units: Sequence[str], *parts: Sequence[float]) -> list[list[str]]:
    """Write columns of a table: the same decimals for one unit, blanks for what is not known."""
    texts = [[""] * len(units) for _ in parts]
    for unit in dict.fromkeys(units):
        places = [
            (p, k)
            for p, part in enumerate(parts)
            for k, value in enumerate(part)
            if units[k] == unit and math.isfinite(value)
        ]
        written = columns(parts[p][k] for p, k in places)[0] if places else []
        for (p, k), text in zip(places, written, strict=True):
            texts[p][k] = text.replace("-", "−")
    return texts


def percent_of(measured: float, reference: float) -> str:
    """Write by how many percent a measured value is off a reference.

    Parameters
    ----------
    measured : float
        What was measured; NaN for a blank.
    reference : float
        What it is compared with.

    Returns
    -------
    str
        For example "−0.43"; empty for a blank, a dash where the reference is 0.
    """
    if math.isnan(measured):
        return ""
    if reference == 0:
        return "–"
    return f"{100 * (measured - reference) / reference:+.2f}".replace("-", "−")


def _verdict(result: Result, *, key: bool) -> list[Block]:
    total = result.total
    if total is None:
        return []
    blocks: list[Block] = [Text(BOTH)]
    if key:
        off = percent_of(total.indicated, total.true)
        predicted = (
            f"{amount(total.indicated, total.unit)} against {amount(total.true, total.unit)}"
        )
        blocks.append(Text(f"{predicted}, {off} %. {total.reason}", lead="Predicted total:"))
    return blocks

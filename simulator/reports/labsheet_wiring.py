"""What is to be connected for a lab sheet: the diagram, the list, and the ranges to use."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from matplotlib.text import Text as FigureText

from simulator.figures.connections.diagram import draw_connections
from simulator.figures.connections.listing import connection_list
from simulator.figures.style import Style
from simulator.figures.words import quantity
from simulator.findings.instrument_notes import OVER
from simulator.metering.ranges import range_use
from simulator.reports.document import Heading, Table, Text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.figure import Figure

    from simulator.figures.connections.listing import Connection
    from simulator.findings.result import Result
    from simulator.reports.document import Block

STAR_END = "star-point end"
NEUTRAL = "the neutral"
"""Words of the list of connections."""


def connections(result: Result) -> list[Block]:
    """List the connections in working order, each with a place to tick.

    A supply has terminals; that its sources meet in a star point is no connection to be made.

    Parameters
    ----------
    result : Result
        The scenario, solved.

    Returns
    -------
    list of Block
        A heading, and a table for each station.
    """
    blocks: list[Block] = [Heading("Connections, in working order")]
    for station, group in groupby(connection_list(result), lambda c: c.station):
        made = [c for c in group if not c.from_terminal.endswith(STAR_END)]
        rows = [_connection(k, c) for k, c in enumerate(made, 1)]
        caption = "" if station is None else f"Station {station}"
        blocks.append(Table(("", "terminal", "goes to", "made"), tuple(rows), "rlll", caption))
    return blocks


def _connection(k: int, connection: Connection) -> tuple[str, ...]:
    note = f" ({connection.note})" if connection.note not in ("", NEUTRAL) else ""
    return str(k), _terminal(connection), f"{connection.to_terminal}{note}", ""


def _terminal(connection: Connection) -> str:
    source, _, end = connection.from_terminal.rpartition(", ")
    if end == "line end":
        return source.replace("source", "supply", 1)
    if connection.note == NEUTRAL:
        return f"supply {connection.to_terminal}"
    return connection.from_terminal


def diagram(result: Result, *, key: bool) -> Figure:
    """Draw the connections without their heading, which is the sheet's.

    Parameters
    ----------
    result : Result
        The scenario, solved.
    key : bool
        Whether what is to be measured is written in it.

    Returns
    -------
    Figure
        The diagram.
    """
    figure = draw_connections(result, Style())
    hidden = figure.texts[:2]
    if not key:
        hidden += _values(figure, result)
    for text in hidden:
        text.set_visible(False)
    return figure


def _values(figure: Figure, result: Result) -> list[FigureText]:
    """Find in a diagram what is to be measured."""
    values = {"0 W"}
    for station in result.stations:
        for reading in station.readings:
            values.add(quantity(reading.watts, "W"))
            values.add(f"(shows {quantity(reading.at_instrument, 'W')})")
        values |= {quantity(volts, "V") for volts in station.voltmeters.values()}
        values |= {quantity(amperes, "A") for amperes in station.ammeters.values()}
    return [
        text
        for text in figure.findobj(FigureText)
        if text.get_text() in values or text.get_text().startswith("Total ")
    ]


def ranges(result: Result) -> list[Block]:
    """Say on which ranges the wattmeters are used, and which of them are too small.

    Parameters
    ----------
    result : Result
        The scenario, solved.

    Returns
    -------
    list of Block
        A sentence, and a caution, which does not tell by how much; nothing where no range is known.
    """
    used = {}
    for meter in result.measurement.wattmeters:
        instrument = meter.instrument
        both = ((instrument.current_range, "A"), (instrument.voltage_range, "V"))
        chosen = [f"{value:g} {unit}" for value, unit in both if value is not None]
        if chosen:
            used[meter.name] = ", ".join(chosen)
    if 1 < len(used) == len(result.measurement.wattmeters) and len(set(used.values())) == 1:
        used = {"every wattmeter": next(iter(used.values()))}
    text = "; ".join(f"{name}: {chosen}" for name, chosen in used.items())
    told: list[Block] = [Text(f"{text}.", lead="Ranges.")] if used else []
    over = list(dict.fromkeys(_too_small(result)))
    if over:
        said = f"Do not switch on like this. Too small: {', '.join(over)}. Choose larger ranges."
        told.append(Text(said, caution=True))
    return told


def _too_small(result: Result) -> Iterator[str]:
    for station in result.stations:
        for reading in station.readings:
            use = range_use(reading, station.wired, station.solution)
            for circuit, part in (("current", use.current), ("voltage", use.voltage)):
                if part is not None and part > OVER:
                    yield f"{circuit} range of {reading.name}"

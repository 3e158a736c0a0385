"""From a solved station to its drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.connections.between import Ammeters, Between
from simulator.figures.connections.buses import name_bus, spans_of
from simulator.figures.connections.captions import (
    Caption,
    impedance_kind,
    impedance_text,
    named,
    reading_caption,
)
from simulator.figures.connections.final_load import FinalLoad
from simulator.figures.connections.hanging_load import HangingLoad, HangingMotor
from simulator.figures.connections.line_wattmeter import LineWattmeter
from simulator.figures.connections.plan import Plan, Slots
from simulator.figures.connections.remote_wattmeter import RemoteWattmeter
from simulator.figures.connections.supply import SupplyPiece
from simulator.figures.words import quantity
from simulator.installation.conductors import EARTH
from simulator.installation.loads import Connection
from simulator.metering.meters import Side

if TYPE_CHECKING:
    from simulator.figures.connections.page import Page
    from simulator.figures.connections.plan import Piece
    from simulator.figures.connections.wattmeter import MeterPiece
    from simulator.findings.station import Station
    from simulator.installation.loads import Load

_SHAPES = (Connection.STAR, Connection.DELTA, Connection.MOTOR)


def lay_out(station: Station) -> Page:
    """Lay out the connection diagram of one station.

    Parameters
    ----------
    station : Station
        The solved network, and which part of it is what.

    Returns
    -------
    Page
        The drawing.
    """
    plan, pieces = _reserve(station, frozenset())
    spans = spans_of(plan, [bus for p in pieces if isinstance(p, HangingLoad) for bus in p.buses])
    plan.levels.settle(spans)
    for piece in pieces:
        piece.draw(plan)
    plan.draw_rows()
    for bus in spans:
        if " " not in bus:
            name_bus(plan, bus)
    return plan.page


def _reserve(station: Station, slots: Slots) -> tuple[Plan, list[Piece]]:
    """Reserve all columns, again where wires need room in columns of other meters."""
    plan = Plan(station, slots)
    wattmeters = _wattmeters(plan)
    hanging = {side: _voltmeters(plan, side) + _impedances(plan, side) for side in Side}
    pieces: list[Piece] = [SupplyPiece(plan), *hanging[Side.SUPPLY], *wattmeters]
    pieces += [*_ammeters(plan), *hanging[Side.LOAD], *_loads(plan.arrangement.loads)]
    for piece in pieces:
        piece.reserve(plan)
    for wattmeter in wattmeters:
        wattmeter.connect(plan)
    if plan.used_slots <= slots:
        return plan, pieces
    return _reserve(station, slots | plan.used_slots)


def _wattmeters(plan: Plan) -> list[MeterPiece]:
    found: list[MeterPiece] = []
    for reading in plan.station.readings:
        meter = reading.meter
        ends = plan.wired.wired[meter.name].ends or ()
        shows = any(plan.row(n) not in (*plan.conductors, EARTH) for n in ends)
        caption = reading_caption(reading, shows_circuit=shows)
        is_remote = meter.current_transformer or meter.voltage_transformer
        found.append((RemoteWattmeter if is_remote else LineWattmeter)(meter, caption, plan))
    return found


def _voltmeters(plan: Plan, side: Side) -> list[Between]:
    found = []
    for meter in plan.arrangement.voltmeters:
        ends = plan.wired.wired[meter.name].ends
        assert ends is not None  # noqa: S101  (every voltmeter has a voltage circuit)
        if meter.side is side:
            caption = named(meter.name, quantity(plan.station.voltmeters[meter.name], "V"))
            found.append(Between("voltmeter", f"voltage circuit of {meter.name}", ends, caption))
    return found


def _impedances(plan: Plan, side: Side) -> list[Between]:
    return [
        Between(
            impedance_kind(part.impedance),
            part.element_name,
            plan.nodes_of(part.element_name),
            named(part.name, impedance_text(part.impedance)),
        )
        for part in plan.arrangement.impedances
        if part.side is side
    ]


def _ammeters(plan: Plan) -> list[Ammeters]:
    columns: list[dict[tuple[str, str], Caption]] = []
    for meter in plan.arrangement.ammeters:
        n = sum(meter.conductor == c for column in columns for _, c in column)
        if n == len(columns):
            columns.append({})
        reading = quantity(plan.station.ammeters[meter.name], "A")
        columns[n][meter.name, meter.conductor] = named(meter.name, reading)
    return [Ammeters(column) for column in columns]


def _loads(loads: tuple[Load, ...]) -> list[Piece]:
    """Put the last load that has a shape of its own at the end of the lines."""
    final = next((load for load in reversed(loads) if load.connection in _SHAPES), None)
    found: list[Piece] = [
        HangingMotor(load) if load.motor else HangingLoad(load)
        for load in loads
        if load is not final
    ]
    return [*found, FinalLoad(final)] if final else found

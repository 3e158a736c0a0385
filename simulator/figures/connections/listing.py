"""Every connection in words, terminal by terminal: enough to wire from, and to read aloud."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.figures.connections.captions import impedance_text, ratio_text
from simulator.figures.connections.nodes import NodeNames
from simulator.installation.conductors import EARTH, SUPPLY_STAR_POINT
from simulator.installation.transformers import Secondary
from simulator.network.netlist import terminals

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.findings.result import Result
    from simulator.findings.station import Station
    from simulator.installation.loads import Load
    from simulator.installation.transformers import InstrumentTransformer
    from simulator.metering.instruments import Instrument
    from simulator.metering.meters import Ammeter, Wattmeter
    from simulator.network.elements import Element

# Cautions of shared reference pages, section 9: EN 50110-1 and transformers' terminals, from
# memory; current transformers: http://eblogbd.com/basic-connections-of-current-transformer-to-a-circuit/
_ALWAYS = (
    "Work dead: isolate, lock off, prove dead. Connect the supply last and the voltage circuits "
    "after the current circuits. Only competent persons; local rules apply; this list is no permit."
)
_CURRENT_TRANSFORMER = (
    "Never open the secondary of a current transformer under load: short S1 to S2 first, and take "
    "the short off last. Earth one point of it."
)
_VOLTAGE_TRANSFORMER = (
    "Never short the secondary of a voltage transformer; fuse it. It can feed back into a circuit "
    "that seems dead."
)


NOWHERE = "not connected"
"""Where a terminal goes that is left open."""


@dataclass(frozen=True)
class Connection:
    """One connection.

    Attributes
    ----------
    from_terminal : str
        A terminal.
    to_terminal : str
        What it is connected to: a place on a conductor, a node, or another terminal.
    note : str
        What else there is to know; may be empty.
    station : int or None
        The station for which it is made; None where nothing is moved.
    """

    from_terminal: str
    to_terminal: str
    note: str = ""
    station: int | None = None


def connection_list(result: Result) -> list[Connection]:
    """List every connection in working order: loads first, voltage circuits late, supply last.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    list of Connection
        The connections of all stations, one station after the other.
    """
    return [
        Connection(*connection, station=station.number)
        for station in result.stations
        for connection in _StationList(station).all()
    ]


def connection_text(result: Result) -> str:
    """Write every connection, for wiring and for readers who cannot see the drawing.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    str
        Cautions and numbered connections, one on a line.

    Examples
    --------
    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [
    ...         {"connection": "line-to-neutral", "L1": "20 ohm", "L2": "40 ohm", "L3": "40 ohm"}
    ...     ],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> print(simulator.connection_text(simulator.solve(scenario)))
    Heaters: connections in working order
    ...
      7. W current circuit, marked end: L1 on the supply side of W (towards the supply)
      8. W current circuit, other end: L1 on the load side of W (towards the load)
    ...
    """
    measurement = result.measurement
    lines = [f"{measurement.title}: connections in working order", "", *_cautions(result)]
    connections = connection_list(result)
    for station in result.stations:
        own = [c for c in connections if c.station == station.number]
        lines += ["", *([] if station.number is None else [f"Station {station.number}"])]
        for k, c in enumerate(own, 1):
            note = f" ({c.note})" if c.note else ""
            lines.append(f"{k:>3}. {c.from_terminal}: {c.to_terminal}{note}")
    return "\n".join(lines) + "\n"


def _cautions(result: Result) -> list[str]:
    meters = result.measurement.wattmeters
    lines = [f"Caution: {_ALWAYS}"]
    if any(m.current_transformer for m in meters):
        lines.append(f"Caution: {_CURRENT_TRANSFORMER}")
    if any(m.voltage_transformer for m in meters):
        lines.append(f"Caution: {_VOLTAGE_TRANSFORMER}")
    return lines


def _circuit_text(instrument: Instrument) -> str:
    """Write the impedance of a voltage circuit; nothing for an ideal one."""
    return "" if instrument.senses_only else impedance_text(instrument.voltage_circuit)


_Row = tuple[str, str, str]


class _StationList:
    def __init__(self, station: Station) -> None:
        self.wired, self.arrangement = station.wired, station.arrangement
        self.elements: dict[str, Element] = {e.name: e for e in self.wired.netlist.elements}
        self.nodes = NodeNames(self.wired)

    def all(self) -> Iterator[_Row]:
        for load in self.arrangement.loads:
            yield from self.load(load)
        for part in self.arrangement.impedances:
            ends = self.ends(part.element_name)
            value = impedance_text(part.impedance)
            yield from self.pair(part.name, ends, value)
        for wattmeter in self.arrangement.wattmeters:
            yield from self.current_circuits(wattmeter)
        for ammeter in self.arrangement.ammeters:
            yield from self.ammeter(ammeter)
        for wattmeter in self.arrangement.wattmeters:
            yield from self.voltage_circuit(wattmeter)
        for voltmeter in self.arrangement.voltmeters:
            place = self.wired.wired[voltmeter.name]
            assert place.ends is not None  # noqa: S101  (every voltmeter has a voltage circuit)
            yield from self.pair(voltmeter.name, place.ends, _circuit_text(voltmeter.instrument))
        yield from self.supply()

    def ends(self, element: str) -> tuple[str, str]:
        first, second, *_ = terminals(self.elements[element])
        return first, second

    def pair(self, name: str, ends: tuple[str, str], note: str = "") -> Iterator[_Row]:
        yield f"{name}, first end", self.nodes.phrase(ends[0]), note
        yield f"{name}, second end", self.nodes.phrase(ends[1]), ""

    def load(self, load: Load) -> Iterator[_Row]:
        for branch in load.branches:
            ends = load.terminal(branch.start), load.terminal(branch.end)
            name = f"{load.name}, branch {branch.name}"
            yield from self.pair(name, ends, impedance_text(branch.impedance))
        if load.motor:
            for line in self.arrangement.conductors.lines:
                node = self.nodes.phrase(load.terminal(line))
                yield f"{load.name}, terminal {line}", node, "motor"
        for conductor, z in load.leads.items():
            element = self.elements.get(load.lead_name(conductor))
            if element is not None:
                name = f"{load.name}, lead in {conductor}"
                ends = conductor, load.terminal(conductor)
                yield from self.pair(name, ends, impedance_text(z))

    def ammeter(self, meter: Ammeter) -> Iterator[_Row]:
        before, after = self.ends(self.wired.wired[meter.name].current_circuits[0])
        yield f"{meter.name}, end towards the supply", self.nodes.phrase(before), "in series"
        yield f"{meter.name}, end towards the load", self.nodes.phrase(after), "in series"

    def current_circuits(self, meter: Wattmeter) -> Iterator[_Row]:
        elements = self.wired.wired[meter.name].current_circuits
        for winding, element in zip(meter.windings, elements, strict=True):
            where = f" in {winding.conductor}" if len(elements) > 1 else ""
            name = f"{meter.name} current circuit{where}"
            forward = (winding.sign > 0) != meter.current_reversed
            order = ("marked", "other") if forward else ("other", "marked")
            if meter.current_transformer:
                yield from self.current_transformer(meter, element, name, order)
                continue
            ways = ("towards the supply", "towards the load")
            reversed_ = "; reversed" if meter.current_reversed else ""
            rows = [
                (f"{name}, {which} end", self.nodes.phrase(node), way + reversed_)
                for which, node, way in zip(order, self.ends(element), ways, strict=True)
            ]
            yield from rows if forward else rows[::-1]

    def current_transformer(
        self, meter: Wattmeter, element: str, name: str, order: tuple[str, str]
    ) -> Iterator[_Row]:
        assert meter.current_transformer is not None  # noqa: S101  (asked for only then)
        conductor = element.rpartition(" in ")[2]
        ct = f"current transformer {meter.current_transformer.name} of {meter.name} in {conductor}"
        primary = self.ends(element.replace("current circuit", "current transformer", 1))
        yield f"{ct}, S2", "earth", "one point of the secondary"
        inner = element.replace("current circuit", "current transformer", 1)
        series, tail = self.secondary(meter.current_transformer, ct, inner, ("S1", "S2"))
        yield from series
        for which, pin in zip(order, (tail, f"{ct}, S2"), strict=True):
            yield f"{name}, {which} end", pin, "reversed" if meter.current_reversed else ""
        ratio = ratio_text(meter.current_transformer, "A")
        yield f"{ct}, P1", self.nodes.phrase(primary[0]), f"towards the supply; {ratio}"
        yield f"{ct}, P2", self.nodes.phrase(primary[1]), "towards the load"

    def secondary(
        self, transformer: InstrumentTransformer, name: str, element: str, pins: tuple[str, str]
    ) -> tuple[list[_Row], str]:
        """List what lies between a secondary and its meter; give where the meter begins too."""
        first, second = (f"{name}, {pin}" for pin in pins)
        if transformer.secondary is Secondary.OPEN:
            return [(first, NOWHERE, "secondary open")], NOWHERE
        if transformer.secondary is Secondary.SHORTED:
            return [(first, second, "secondary shorted")], NOWHERE
        rows: list[_Row] = []
        tail = first
        parallel = pins == ("a", "b")
        parts = [("leads", transformer.leads), ("burden", transformer.burden or 0j)]
        for what, Z in parts[::-1] if parallel else parts:
            part = f"{what} of {name}"
            if f"{what} of {element}" not in self.elements:
                continue
            rows.append((f"{part}, first end", tail, impedance_text(Z)))
            if what == "burden" and parallel:
                rows.append((f"{part}, second end", second, "in parallel with the meter"))
            else:
                tail = f"{part}, second end"
        return rows, tail

    def voltage_circuit(self, meter: Wattmeter) -> Iterator[_Row]:
        ends = self.wired.wired[meter.name].ends
        assert ends is not None  # noqa: S101  (every wattmeter has a voltage circuit)
        name = f"{meter.name} voltage circuit"
        order = ("other", "marked") if meter.voltage_reversed else ("marked", "other")
        notes = [_circuit_text(meter.instrument), "reversed" if meter.voltage_reversed else ""]
        targets = [self.nodes.phrase(node) for node in ends]
        primary: list[_Row] = []
        if meter.voltage_transformer:
            vt = f"voltage transformer {meter.voltage_transformer.name} of {meter.name}"
            ratio = ratio_text(meter.voltage_transformer, "V")
            yield f"{vt}, b", "earth", "one point of the secondary"
            inner = f"voltage transformer of {meter.name}"
            series, tail = self.secondary(meter.voltage_transformer, vt, inner, ("a", "b"))
            yield from series
            primary = [(f"{vt}, A", targets[0], ratio), (f"{vt}, B", targets[1], "")]
            targets = [tail, f"{vt}, b"]
        rows = [
            (f"{name}, {which} end", target, "; ".join(filter(None, notes)))
            for which, target in zip(order, targets, strict=True)
        ]
        yield from rows[::-1] if meter.voltage_reversed else rows
        yield from primary

    def supply(self) -> Iterator[_Row]:
        supply, conductors = self.arrangement.supply, self.arrangement.conductors
        for line, z in zip(conductors.lines, supply.line_impedances, strict=True):
            if z != 0:
                ends = self.ends(f"line {line}")
                yield from self.pair(f"impedance of {line}", ends, impedance_text(z))
        if conductors.neutral:
            name, z = conductors.neutral, supply.neutral_impedance
            ends = self.ends(f"neutral {name}")
            if z == 0:
                star = self.nodes.phrase(SUPPLY_STAR_POINT)
                yield star, self.nodes.phrase(ends[1]), "the neutral"
            else:
                yield from self.pair(f"impedance of {name}", ends, impedance_text(z))
        if supply.earthed:
            target = self.ends("earthing of the supply")[1]
            yield EARTH, self.nodes.phrase(target), "earthed at the supply"
        for line in conductors.lines:
            line_end, star = self.ends(f"source {line}")
            yield f"source {line}, star-point end", self.nodes.phrase(star), ""
            yield f"source {line}, line end", self.nodes.phrase(line_end), ""

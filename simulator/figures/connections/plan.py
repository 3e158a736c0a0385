"""Where everything stands: columns from left to right, horizontals from top to bottom.

Every conductor is a horizontal, and so is every other node, below them. Pieces of the drawing
reserve columns, one after the other; a column belongs to one piece alone, so that its verticals
meet nothing but horizontals. A wire that cannot reach its node in its own column runs along a
lane between two horizontals to where it can. When all heights are known every piece is drawn.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from simulator.figures.connections.levels import Lane, Levels
from simulator.figures.connections.page import Ink, Page
from simulator.metering.meters import Side, Wattmeter
from simulator.network.netlist import terminals

if TYPE_CHECKING:
    from simulator.findings.station import Station
    from simulator.metering.meters import Ammeter

SLOT = 0.4
"""Room at the edge of a column for a wire of another meter that joins a conductor there [cm]."""
Slots = frozenset[tuple[str, Side]]
"""Meters at whose columns other meters' wires join a conductor, and on which side."""


class Piece(Protocol):
    """A part of the drawing."""

    def reserve(self, plan: Plan) -> None:
        """Take columns, and say what it is connected to and how much room it needs.

        Parameters
        ----------
        plan : Plan
            The layout.
        """

    def draw(self, plan: Plan) -> None:
        """Draw it.

        Parameters
        ----------
        plan : Plan
            The layout, all heights known.
        """


@dataclass
class Circuit:
    """A break in a conductor where a meter's current circuit or its transformer lies.

    Attributes
    ----------
    meter : str
        Name of the meter.
    element : str
        The network element that bridges the break.
    before, after : str
        Nodes on its supply side and on its load side.
    left, right : float
        Its terminals.
    slots : tuple of float
        Where wires of other meters may join the conductor before and after it.
    """

    meter: str
    element: str
    before: str
    after: str
    left: float = math.nan
    right: float = math.nan
    slots: tuple[float, float] = (math.nan, math.nan)


@dataclass(frozen=True)
class Route:
    """How the end of a voltage circuit gets from its column to its node.

    Attributes
    ----------
    x : float
        Its column.
    row : str
        The horizontal it ends at.
    lane : Lane or None
        The lane it takes on the way.
    """

    x: float
    row: str
    lane: Lane | None


class Plan:
    """The layout of one station's drawing.

    Parameters
    ----------
    station : Station
        What is drawn.
    slots : set of (str, Side), optional
        Columns that need room at an edge.
    """

    def __init__(self, station: Station, slots: Slots = frozenset()) -> None:
        self.station, self.slots = station, slots
        self.arrangement, self.wired = station.arrangement, station.wired
        self.elements = {e.name: e for e in self.wired.netlist.elements}
        self.conductors = self.arrangement.conductors.all
        self.lines = self.arrangement.conductors.lines
        self.page, self.levels = Page(), Levels(self.conductors)
        self.x = 0.0
        self.used_slots: set[tuple[str, Side]] = set()
        self.starts: dict[str, float] = {}
        self.ends: dict[str, float] = {}
        self.touches: dict[str, list[float]] = {}
        self.lanes: dict[tuple[int, str], Lane] = {}
        self.circuits = self._circuits()
        self.places = {
            node: (conductor, k)
            for conductor, circuits in self.circuits.items()
            for k, node in enumerate(_chain(conductor, circuits))
        }
        self.shared = self._shared_nodes()

    def _circuits(self) -> dict[str, list[Circuit]]:
        found: dict[str, list[Circuit]] = {k: [] for k in self.conductors}
        meters: list[Wattmeter | Ammeter] = [*self.arrangement.wattmeters]
        for meter in [*meters, *self.arrangement.ammeters]:
            conductors, transformer = _where(meter)
            elements = self.wired.wired[meter.name].current_circuits
            for conductor, element in zip(conductors, elements, strict=True):
                name = element
                if transformer:
                    name = element.replace("current circuit", "current transformer", 1)
                found[conductor].append(Circuit(meter.name, name, *self.nodes_of(name)))
        return found

    def _shared_nodes(self) -> set[str]:
        """Nodes at which something other than one load's own branches is connected."""
        found = {node for place in self.wired.wired.values() for node in place.ends or ()}
        found |= {node for part in self.arrangement.impedances for node in part.between}
        stars = [load.star_point for load in self.arrangement.loads if load.star_point]
        return found | {star for star in stars if stars.count(star) > 1}

    def nodes_of(self, element: str) -> tuple[str, str]:
        """Give the first two nodes of an element: of a transformer, those of its primary.

        Parameters
        ----------
        element : str
            Name of the element.

        Returns
        -------
        tuple of str
            Its nodes.
        """
        first, second, *_ = terminals(self.elements[element])
        return first, second

    def circuit(self, meter: str, conductor: str) -> Circuit:
        """Find where a meter breaks a conductor.

        Parameters
        ----------
        meter, conductor : str
            Their names.

        Returns
        -------
        Circuit
            The break.
        """
        return next(c for c in self.circuits[conductor] if c.meter == meter)

    def column(self, left: float, right: float) -> float:
        """Reserve a column.

        Parameters
        ----------
        left, right : float
            Room on either side of its middle.

        Returns
        -------
        float
            Its middle.
        """
        middle = self.x + left
        self.x = middle + right
        return middle

    def row(self, node: str) -> str:
        """Find the horizontal a node lies on.

        Parameters
        ----------
        node : str
            A node.

        Returns
        -------
        str
            A conductor, or the node itself.
        """
        return self.places[node][0] if node in self.places else node

    def touch(self, row: str, x: float, *, is_load: bool = False) -> None:
        """Note that something joins a row.

        Parameters
        ----------
        row : str
            The row.
        x : float
            Where.
        is_load : bool, optional
            Whether it is a load, so that a conductor ends at the last of them.
        """
        self.touches.setdefault(row, []).append(x)
        if is_load and row in self.conductors:
            self.ends[row] = max(x, self.ends.get(row, x))

    def route(self, x: float, node: str, *, from_below: bool, tap: Side) -> Route:
        """Find the way from a column to a node.

        Parameters
        ----------
        x : float
            The column.
        node : str
            The node.
        from_below : bool
            Whether the wire comes from below the node's row.
        tap : Side
            On which side of the current circuits the node lies.

        Returns
        -------
        Route
            The way.
        """
        row = self.row(node)
        if row not in self.conductors or self._reaches(x, node):
            self.touch(row, x)
            return Route(x, row, None)
        circuits, k = self.circuits[row], self.places[node][1]
        on_left = k < len(circuits) and (k == 0 or tap is Side.SUPPLY)
        circuit = circuits[k] if on_left else circuits[k - 1]
        slot = circuit.slots[0] if on_left else circuit.slots[1]
        self.used_slots.add((circuit.meter, Side.SUPPLY if on_left else Side.LOAD))
        gap = self.levels.of[row] - (0 if from_below else 1)
        if (gap, node) not in self.lanes:
            self.lanes[gap, node] = Lane(gap, row, slot, [slot])
            self.levels.lanes.append(self.lanes[gap, node])
        self.lanes[gap, node].joints.append(x)
        self.touch(row, slot)
        return Route(x, row, self.lanes[gap, node])

    def _reaches(self, x: float, node: str) -> bool:
        """Whether a conductor is at a column that very node."""
        conductor, k = self.places[node]
        circuits = self.circuits[conductor]
        after = k == 0 or circuits[k - 1].right < x
        return after and (k == len(circuits) or x < circuits[k].left)

    def follow(self, route: Route, start: float) -> None:
        """Draw the wire of a route.

        Parameters
        ----------
        route : Route
            The way.
        start : float
            Height at which it begins in its column.
        """
        lane, levels = route.lane, self.levels
        end = levels.y(route.row) if lane is None else levels.y_of_lane(lane)
        self.page.wire((route.x, start), (route.x, end))

    def draw_rows(self) -> None:
        """Draw the conductors, the other nodes and the lanes."""
        page, last = self.page, max(self.ends.values(), default=self.x) + 0.6
        for k, conductor in enumerate(self.conductors):
            y, x = self.levels.y(conductor), self.starts[conductor]
            for circuit in self.circuits[conductor]:
                page.wire((x, y), (circuit.left, y), ink=Ink(heavy=True, conductor=k))
                x = circuit.right
            end = max([self.ends.get(conductor, last), *self.touches.get(conductor, ())])
            page.wire((x, y), (end, y), ink=Ink(heavy=True, conductor=k))
            if conductor not in self.ends:
                box = end, y - 0.1, end + 0.2, y + 0.1
                page.symbol("terminal", {f"end of {conductor}": ((end, y),)}, box)
        for row, xs in self.touches.items():
            if row not in self.conductors:
                y = self.levels.y(row)
                page.wire((min(xs), y), (max(xs), y))
        for lane in self.lanes.values():
            y = self.levels.y_of_lane(lane)
            page.wire((min(lane.joints), y), (max(lane.joints), y))
            page.wire((lane.slot, y), (lane.slot, self.levels.y(lane.row)))


def _where(meter: Wattmeter | Ammeter) -> tuple[list[str], bool]:
    """Conductors of a meter's windings, and whether a transformer feeds them."""
    if isinstance(meter, Wattmeter):
        return [w.conductor for w in meter.windings], meter.current_transformer is not None
    return [meter.conductor], False


def _chain(conductor: str, circuits: list[Circuit]) -> list[str]:
    if not circuits:
        return [conductor]
    return [circuits[0].before, *(c.after for c in circuits)]

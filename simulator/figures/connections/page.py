"""What a connection diagram consists of, before anything is rendered; all lengths in cm.

Everything that is drawn is recorded here and drawn from here: a test rebuilds the network from
these wires, dots and terminals and compares it with the one that was solved.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

from simulator.figures.connections.texts import extent
from simulator.figures.style import TEXT

if TYPE_CHECKING:
    from collections.abc import Iterable

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, bottom, right and top."""
Side = Literal["left", "center", "right"]
Level = Literal["top", "center", "bottom"]

# Length of each symbol of two terminals, and its width across.
LENGTHS = {"source": 1.0, "voltmeter": 1.0, "ammeter": 1.0, "impedance": 1.2, "open": 1.2}
LENGTHS["winding"] = 1.0
_WIDTHS = {"source": 1.0, "voltmeter": 1.0, "ammeter": 1.0, "impedance": 0.48, "open": 0.4}
_WIDTHS["winding"] = 0.44
_ROUND = ("wattmeter", "motor")


@dataclass(frozen=True)
class Ink:
    """How a wire is drawn.

    Attributes
    ----------
    heavy : bool
        Whether it carries the current of the loads.
    conductor : int or None
        Which conductor it is, 0 to 3 for three lines and the neutral.
    """

    heavy: bool = False
    conductor: int | None = None


LIGHT, HEAVY = Ink(), Ink(heavy=True)


@dataclass(frozen=True)
class Wire:
    """A drawn wire.

    Attributes
    ----------
    points : tuple of tuple of float
        Its corners.
    ink : Ink
        How it is drawn.
    """

    points: tuple[Point, ...]
    ink: Ink


@dataclass(frozen=True)
class Part:
    """An element of the network as it is drawn.

    Attributes
    ----------
    element : str
        Name of the element.
    terminals : tuple of tuple of float
        Where wires meet it, in the order of the element's nodes.
    """

    element: str
    terminals: tuple[Point, ...]


@dataclass(frozen=True)
class Symbol:
    """A drawn symbol.

    Attributes
    ----------
    kind : str
        What is drawn.
    parts : tuple of Part
        The elements it stands for.
    outline : tuple of tuple of float
        Polygon that no wire may enter.
    """

    kind: str
    parts: tuple[Part, ...]
    outline: tuple[Point, ...]

    @property
    def terminals(self) -> tuple[Point, ...]:
        """All its terminals."""
        return tuple(point for part in self.parts for point in part.terminals)


@dataclass(frozen=True)
class Mark:
    """The sign at a marked terminal.

    Attributes
    ----------
    element : str
        The element whose terminal it marks.
    at : tuple of float
        Where it is drawn.
    """

    element: str
    at: Point


@dataclass(frozen=True)
class Label:
    """A drawn text.

    Attributes
    ----------
    text : str
        The text.
    at : tuple of float
        Its anchor.
    side : str
        Which side of the text is at the anchor.
    level : str
        Which edge of the text is at the anchor.
    size : float
        Font size [pt].
    bold : bool
        Whether it is bold.
    """

    text: str
    at: Point
    side: Side = "left"
    level: Level = "center"
    size: float = TEXT
    bold: bool = False

    @property
    def box(self) -> Box:
        """Room the text takes."""
        width, height = extent(self.text, self.size, bold=self.bold)
        x = self.at[0] - {"left": 0.0, "center": width / 2, "right": width}[self.side]
        y = self.at[1] - {"bottom": 0.0, "center": height / 2, "top": height}[self.level]
        return x, y, x + width, y + height


@dataclass
class Page:
    """One drawing.

    Attributes
    ----------
    wires, symbols, marks, labels, links : list
        What is drawn; links are the dashed lines between windings of one meter.
    """

    wires: list[Wire] = field(default_factory=list)
    symbols: list[Symbol] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    links: list[tuple[Point, ...]] = field(default_factory=list)

    def wire(self, *points: Point, ink: Ink = LIGHT) -> None:
        """Draw a wire; no wire where all points are one.

        Parameters
        ----------
        *points : tuple of float
            Its corners.
        ink : Ink, optional
            How it is drawn.
        """
        corners = tuple(dict.fromkeys(_rounded(p) for p in points))
        if len(corners) > 1:
            self.wires.append(Wire(corners, ink))

    def two_terminal(self, kind: str, element: str, start: Point, end: Point) -> None:
        """Draw a symbol between two terminals.

        Parameters
        ----------
        kind : str
            What is drawn.
        element : str
            The element it stands for.
        start, end : tuple of float
            Its terminals, in the order of the element's nodes.
        """
        start, end = _rounded(start), _rounded(end)
        length = math.dist(start, end)
        half = _WIDTHS[kind] / 2 / length
        across = (start[1] - end[1]) * half, (end[0] - start[0]) * half
        outline = tuple(
            (p[0] + s * across[0], p[1] + s * across[1])
            for p, s in ((start, 1), (end, 1), (end, -1), (start, -1))
        )
        self.symbols.append(Symbol(kind, (Part(element, (start, end)),), outline))

    def in_line(
        self,
        kind: str,
        element: str,
        ends: tuple[Point, Point],
        at: float = 0.5,
        ink: tuple[Ink, Ink] = (LIGHT, LIGHT),
    ) -> None:
        """Draw a symbol in a straight wire.

        Parameters
        ----------
        kind : str
            What is drawn.
        element : str
            The element it stands for.
        ends : tuple of points
            Ends of the wire, in the order of the element's nodes.
        at : float, optional
            Where on the wire its middle is, 0 to 1.
        ink : tuple of Ink, optional
            How the wire is drawn before and after it.
        """
        (ax, ay), (bx, by) = ends
        half = LENGTHS[kind] / 2 / math.dist(*ends)
        start, stop = (
            (ax + part * (bx - ax), ay + part * (by - ay)) for part in (at - half, at + half)
        )
        self.wire(ends[0], start, ink=ink[0])
        self.two_terminal(kind, element, start, stop)
        self.wire(stop, ends[1], ink=ink[1])

    def symbol(self, kind: str, parts: dict[str, tuple[Point, ...]], box: Box) -> None:
        """Draw a symbol of several elements, or of one terminal.

        Parameters
        ----------
        kind : str
            What is drawn.
        parts : dict of str to tuple of points
            Terminals of each element it stands for.
        box : tuple of float
            Room it takes.
        """
        left, bottom, right, top = box
        outline: tuple[Point, ...] = (left, bottom), (right, bottom), (right, top), (left, top)
        if kind in _ROUND:
            x, y, radius = (left + right) / 2, (bottom + top) / 2, (right - left) / 2
            turns = [math.tau * k / 24 for k in range(24)]
            outline = tuple((x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns)
        found = tuple(Part(e, tuple(_rounded(p) for p in t)) for e, t in parts.items())
        self.symbols.append(Symbol(kind, found, outline))

    @property
    def dots(self) -> list[Point]:
        """Where three or more wires or terminals meet, and so are joined by a dot."""
        ends = Counter(p for w in self.wires for p in (w.points[0], w.points[-1]))
        ends.update(p for s in self.symbols for p in s.terminals)
        return [
            point
            for point, n in ends.items()
            if n + 2 * sum(_passes(w, point) for w in self.wires) > 2
        ]

    @property
    def box(self) -> Box:
        """Room that everything drawn takes."""
        points = [p for w in self.wires for p in w.points]
        points += [p for s in self.symbols for p in s.outline]
        points += [p for label in self.labels for p in (label.box[:2], label.box[2:])]
        xs, ys = zip(*points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)

    def moved(self, dx: float, dy: float) -> Page:
        """Give the same drawing elsewhere.

        Parameters
        ----------
        dx, dy : float
            How far.

        Returns
        -------
        Page
            The moved drawing.
        """

        def move(points: Iterable[Point]) -> tuple[Point, ...]:
            return tuple(_rounded((x + dx, y + dy)) for x, y in points)

        def move_symbol(symbol: Symbol) -> Symbol:
            parts = tuple(Part(p.element, move(p.terminals)) for p in symbol.parts)
            return Symbol(symbol.kind, parts, move(symbol.outline))

        return Page(
            [replace(wire, points=move(wire.points)) for wire in self.wires],
            [move_symbol(symbol) for symbol in self.symbols],
            [replace(mark, at=move([mark.at])[0]) for mark in self.marks],
            [replace(label, at=move([label.at])[0]) for label in self.labels],
            [move(link) for link in self.links],
        )


# One place has one pair of numbers, so that what meets is found by comparing them.
def _rounded(point: Point) -> Point:
    return round(point[0], 4), round(point[1], 4)


def _passes(wire: Wire, point: Point) -> bool:
    """Whether a wire runs through a point that is none of its ends."""
    if point in (wire.points[0], wire.points[-1]):
        return False
    return any(
        math.isclose(math.dist(a, point) + math.dist(point, b), math.dist(a, b), abs_tol=1e-6)
        for a, b in itertools.pairwise(wire.points)
    )

"""A piece of the complex plane on a sheet: arrows, arcs, points, scale bars, and their labels."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.patches import Polygon
from matplotlib.transforms import Bbox

from simulator.figures.pane import Pane
from simulator.figures.placing import Label, place_labels
from simulator.figures.style import GUIDE, INK, PAPER, SMALL, Look
from simulator.figures.words import quantity
from simulator.phasors import polar

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from matplotlib.figure import Figure

    from simulator.figures.placing import Point, Segment
    from simulator.figures.sheet import Box
    from simulator.quantities import Unit

FOOT = 0.34
"""Height of the strip for scale bars [in]."""


def xy(z: complex) -> Point:
    """Take a point of the complex plane apart.

    Parameters
    ----------
    z : complex
        The point.

    Returns
    -------
    tuple of float
        Real and imaginary part.
    """
    return z.real, z.imag


@dataclass(frozen=True)
class Pen:
    """What kind of arrow.

    Attributes
    ----------
    hollow : bool
        Whether its head is hollow, as for voltages, or solid, as for currents.
    width : float
        Width of its shaft [pt].
    """

    hollow: bool
    width: float


VOLTAGE, CURRENT, OTHER_VOLTAGE, OTHER_CURRENT = (
    Pen(hollow=True, width=1.6),
    Pen(hollow=False, width=2.4),
    Pen(hollow=True, width=1.0),
    Pen(hollow=False, width=1.0),
)


def away(at: complex, from_: complex = 0j) -> float | None:
    """Give the direction in which a label does not hide what its point hangs on.

    Parameters
    ----------
    at : complex
        The label's point.
    from_ : complex, optional
        The other end.

    Returns
    -------
    float or None
        Direction [deg]; None where the two are the same.
    """
    return None if at == from_ else math.degrees(cmath.phase(at - from_))


class Plane:
    """A piece of the complex plane, angle 0 along +x, the same scale both ways.

    Parameters
    ----------
    name : str
        Its name, before the names of what is drawn in it.
    figure : Figure
        The sheet.
    box : Box
        Where on the sheet.
    content : iterable of complex
        Points it must show.
    room : tuple of float, optional
        Room for labels beside and above the content [in].
    """

    def __init__(
        self,
        name: str,
        figure: Figure,
        box: Box,
        content: Iterable[complex],
        room: tuple[float, float] = (0.8, 0.36),
    ) -> None:
        self.name, self.figure, self.box = name, figure, box
        corners = np.array([xy(z) for z in content])
        low, high = corners.min(axis=0), corners.max(axis=0)
        height = box.height - FOOT
        free = max(box.width - 2 * room[0], 0.8), max(height - 2 * room[1], 0.8)
        self.inch = max((high - low) / free)  # data units per inch
        (x, y), half = (low + high) / 2, self.inch / 2
        self.corner = x - half * box.width, y - half * (height + 2 * FOOT)
        self.pane = Pane(figure, box, self.corner, self.inch)
        self.segments: list[Segment] = []
        self.tips: list[Point] = []
        self.labels: list[Label] = []
        self._bars = 0

    def gid(self, part: str) -> str:
        """Name an artist, so that whoever reads the figure or its SVG finds it.

        Parameters
        ----------
        part : str
            What it is.

        Returns
        -------
        str
            A name without blanks, the plane's own before it.
        """
        return "-".join(f"{self.name} {part}".split())

    def line(
        self,
        points: Sequence[complex],
        *,
        colour: str = GUIDE,
        dash: Look | None = None,
        width: float = 0.8,
    ) -> None:
        """Draw a line that labels keep clear of.

        Parameters
        ----------
        points : sequence of complex
            Its points.
        colour : str, optional
            Its colour.
        dash : Look, optional
            The look whose dash it has.
        width : float, optional
            Its width [pt].
        """
        x, y = zip(*map(xy, points), strict=True)
        style = dash.dash if dash else "solid"
        self.pane.plot(x, y, color=colour, linestyle=style, linewidth=width, zorder=1)
        self.segments += [(xy(a), xy(b)) for a, b in pairwise(points)]

    def arrow(
        self,
        tip: complex,
        look: Look,
        gid: str,
        pen: Pen,
        tail: complex = 0j,
    ) -> None:
        """Draw an arrow: its shaft a line, its head a triangle whose first corner is the tip.

        Parameters
        ----------
        tip : complex
            Where it ends.
        look : Look
            How it looks.
        gid : str
            Its name; the shaft is ``gid``, the head ``gid + "-head"``.
        pen : Pen
            What kind of arrow.
        tail : complex, optional
            Where it starts.
        """
        length = abs(tip - tail)
        if length == 0:
            return
        along = (tip - tail) / length
        size = min((0.07 + 0.022 * pen.width) * self.inch, 0.6 * length)
        neck = tip - size * along
        half = 0.36 * size * along * 1j
        shaft = self.pane.plot(
            *zip(xy(tail), xy(neck), strict=True),
            color=look.colour,
            linestyle=look.dash,
            linewidth=pen.width,
            zorder=3,
            gid=self.gid(gid),
        )
        head = Polygon(
            [xy(tip), xy(neck + half), xy(neck - half)],
            closed=True,
            facecolor=PAPER if pen.hollow else look.colour,
            edgecolor=look.colour,
            linewidth=min(pen.width, 1.4),
            joinstyle="miter",
            zorder=4,
            gid=self.gid(f"{gid}-head"),
        )
        if look.cased:
            shaft.set_path_effects(look.casing(pen.width))
            head.set_edgecolor(INK)
        self.pane.add_patch(head)
        self.segments.append((xy(tail), xy(tip)))
        self.tips.append(xy(tip))

    def arc(self, start: float, turn: float, radius: float, *, colour: str = INK) -> complex:
        """Draw an arc around the origin.

        Parameters
        ----------
        start : float
            Where it starts [deg].
        turn : float
            How far it turns, anticlockwise if positive [deg].
        radius : float
            Its radius.
        colour : str, optional
            Its colour.

        Returns
        -------
        complex
            Its middle.
        """
        n = 2 + int(abs(turn) / 4)
        self.line(
            [polar(radius, float(a)) for a in np.linspace(start, start + turn, n)],
            colour=colour,
            width=0.9,
        )
        return polar(radius, start + turn / 2)

    def turning(self, radius: float, text: str) -> None:
        """Draw which way phasors turn, near the upper right corner.

        Parameters
        ----------
        radius : float
            Radius of the arc.
        text : str
            What is written beside it.
        """
        start, turn = 28.0, 30.0
        self.arc(start, turn, radius, colour=INK)
        self.arrow(
            polar(radius, start + turn + 4),
            Look(INK),
            "turning-end",
            Pen(hollow=False, width=1.0),
            tail=polar(radius, start + turn - 3),
        )
        middle = polar(radius, start + turn / 2)
        self.labels.insert(0, Label(text, xy(middle), 45, SMALL, gid=self.gid("sequence")))

    def point(self, z: complex, look: Look, gid: str, *, hollow: bool = False) -> None:
        """Mark a point.

        Parameters
        ----------
        z : complex
            The point.
        look : Look
            Its marker and colour.
        gid : str
            Its name.
        hollow : bool, optional
            Whether the marker is hollow.
        """
        self.pane.plot(
            [z.real],
            [z.imag],
            marker=look.marker,
            color=look.colour,
            linestyle="none",
            markersize=7,
            markerfacecolor=PAPER if hollow else look.colour,
            markeredgecolor=INK if look.cased else look.colour,
            zorder=5,
            gid=self.gid(gid),
        )
        self.tips.append(xy(z))

    def scale_bar(self, scale: float, largest: float, unit: Unit, look: Look) -> None:
        """State a scale by a bar of a round length in the strip below, the next one to its right.

        Parameters
        ----------
        scale : float
            Data units of the plane per unit of the quantity.
        largest : float
            Largest magnitude drawn to this scale [unit].
        unit : Unit
            Its unit.
        look : Look
            Look of the bar.
        """
        if largest == 0:
            return
        value = _round_below(0.5 * largest)
        x0, y0 = self.corner
        left = x0 + (0.05 + self._bars * self.box.width / 2) * self.inch
        y = y0 + 0.1 * self.inch
        tick = 0.04 * self.inch
        right = left + value * scale
        gid = f"scale-{unit}"
        self.pane.plot(
            [left, right], [y, y], color=INK, linewidth=0.9, linestyle=look.dash, gid=self.gid(gid)
        )
        for x in (left, right):
            self.pane.plot([x, x], [y - tick, y + tick], color=INK, linewidth=0.9)
        self.pane.text(
            right + 0.07 * self.inch,
            y,
            quantity(value, unit),
            size=SMALL,
            verticalalignment="center",
            gid=self.gid(f"{gid}-text"),
        )
        self._bars += 1

    def finish(self) -> None:
        """Place the labels."""
        box = self.pane.bbox
        foot = FOOT * self.figure.dpi if self._bars else 0.0
        room = Bbox.from_extents(box.x0, box.y0 + foot, box.x1, box.y1)
        place_labels(self.pane, self.labels, segments=self.segments, points=self.tips, within=room)


def _round_below(value: float) -> float:
    """Give the largest 1, 2 or 5 times a power of ten that is no larger."""
    power = 10.0 ** math.floor(math.log10(value) + 1e-9)
    # 1e-9 of a logarithm is 2.3e-9 of the value, so 1 must still fit with more room than that.
    return power * max(k for k in (1, 2, 5) if k * power <= value * (1 + 1e-8))

"""Labels placed by computation: none on another, none outside, as few lines crossed as possible."""

from __future__ import annotations

from dataclasses import dataclass
from operator import itemgetter
from typing import TYPE_CHECKING, cast

import numpy as np

from simulator.figures.geometry import crossings, hits
from simulator.figures.measuring import text_box, text_size
from simulator.figures.style import GUIDE, INK, PAPER, TEXT

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text
    from matplotlib.transforms import BboxBase

    from simulator.figures.pane import Pane
    from simulator.phasors import FloatArray

Point = tuple[float, float]
Segment = tuple[Point, Point]

GAP = 2.0
"""Clear space around a label [pt]."""
LEADER = 20.0
"""Distance beyond which a thin line leads from a label to its anchor [pt]."""

FORBIDDEN = 1e6
"""Cost of a position that is out of the question."""

# Rings around a point [pt], the near ones first: those beyond are tried only where they could win.
_RINGS = [np.array([6.0, 8, 11, 16, 23]), np.array([32.0, 43, 56, 72, 92, 116, 144, 176, 212, 252])]
_TURNS = np.arange(0, 360, 15.0)  # deg
NEAREST = 0.74
"""A label on a ring is no nearer to its point than this part of the ring's radius."""


@dataclass(frozen=True)
class Label:
    """A text that belongs to a point.

    Attributes
    ----------
    text : str
        The text; may have several lines.
    at : tuple of float
        The point, in data coordinates.
    towards : float or None
        Direction in which the label would best lie [deg]; None if it does not matter.
    size : float
        Font size [pt].
    colour : str
        Colour of the text.
    weight : str
        Font weight.
    gid : str or None
        Name of the artist, for whoever reads the figure.
    """

    text: str
    at: Point
    towards: float | None = None
    size: float = TEXT
    colour: str = INK
    weight: str = "normal"
    gid: str | None = None


def place_labels(
    axes: Axes | Pane,
    labels: Iterable[Label],
    *,
    segments: Sequence[Segment] = (),
    points: Sequence[Point] = (),
    within: BboxBase | None = None,
) -> list[Text]:
    """Put labels next to their points, the first ones first.

    Texts that the axes already have stay clear too.

    Parameters
    ----------
    axes : Axes or Pane
        Where; its limits and position are final.
    labels : iterable of Label
        The labels, the most important first.
    segments : sequence of pairs of points, optional
        Drawn lines, in data coordinates; a label crosses one only where there is no other place.
    points : sequence of points, optional
        Arrow heads and markers, in data coordinates; the same, more strictly.
    within : Bbox, optional
        Where labels may lie [px]; the axes' own rectangle if not given.

    Returns
    -------
    list of Text
        The placed texts.
    """
    surroundings = _Surroundings.of(axes, segments, points, within)
    return [surroundings.add(label) for label in labels]


@dataclass
class _Surroundings:
    """What a label must keep clear of; all lengths in px."""

    axes: Axes | Pane
    px: float  # per pt
    room: FloatArray  # its corners
    taken: FloatArray  # corners of each box
    segments: FloatArray
    tips: FloatArray

    @classmethod
    def of(
        cls,
        axes: Axes | Pane,
        segments: Sequence[Segment],
        points: Sequence[Point],
        within: BboxBase | None,
    ) -> _Surroundings:
        figure = cast("Figure", axes.figure)
        px = figure.dpi / 72
        texts = [text for text in axes.texts if text.get_visible() and text.get_text()]
        boxes = [text_box(figure, text).padded(GAP * px).extents for text in texts]
        to_px = axes.transData.transform
        lines = to_px(np.array(segments, float).reshape(-1, 2)).reshape(-1, 2, 2)
        tips = to_px(np.array(points, float).reshape(-1, 1, 2).repeat(2, axis=1).reshape(-1, 2))
        room = np.array((within or axes.bbox).extents).reshape(2, 2)
        taken = np.array(boxes, float).reshape(-1, 2, 2)
        return cls(axes, px, room, taken, lines, tips.reshape(-1, 2, 2))

    def add(self, label: Label) -> Text:
        half = np.array(text_size(label.text, label.size, label.weight)) * self.px / 2
        anchor = np.asarray(self.axes.transData.transform(label.at))
        centre = self.best_centre(label, anchor, half)
        box = np.array([centre - half, centre + half])
        self.taken = np.concatenate([self.taken, (box + np.array([[-GAP], [GAP]]) * self.px)[None]])
        self.lead(anchor, box)
        x, y = self.axes.transData.inverted().transform(centre)
        return self.axes.text(
            *(x, y, label.text),
            horizontalalignment="center",
            verticalalignment="center",
            gid=label.gid,
            size=label.size,
            color=label.colour,
            weight=label.weight,
            zorder=6,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
        )

    def best_centre(self, label: Label, anchor: FloatArray, half: FloatArray) -> FloatArray:
        """Try rings around the point, and the whole room where they have no free place."""
        found = [(anchor, np.inf)]
        for ring in _RINGS:
            if found[-1][1] <= NEAREST * ring[0]:  # no position costs less than its distance
                break
            distance, turn = (a.ravel() for a in np.meshgrid(ring, _TURNS))
            angle = np.radians(turn + (label.towards or 0.0))
            direction = np.stack([np.cos(angle), np.sin(angle)], axis=1)
            near = direction * distance[:, None] * self.px + half * np.clip(1.5 * direction, -1, 1)
            found.append(self.cheapest(label, anchor, anchor + near, half))
        if min(cost for _, cost in found) >= FORBIDDEN:
            x, y = np.linspace(self.room[0] + half, self.room[1] - half, 24).T
            anywhere = np.stack([a.ravel() for a in np.meshgrid(x, y)], axis=1)
            found.append(self.cheapest(label, anchor, anywhere, half))
        return min(found, key=itemgetter(1))[0]

    def cheapest(
        self, label: Label, anchor: FloatArray, centres: FloatArray, half: FloatArray
    ) -> tuple[FloatArray, float]:
        """Take the cheapest of some positions."""
        costs = self.forbidden(centres - half, centres + half)
        free = np.flatnonzero(costs < FORBIDDEN)
        if len(free):  # lines count only where a label may lie at all
            costs[free] += self.costs(label, anchor, centres[free], half)
        k = int(np.argmin(np.round(costs, 6)))  # of equal ones the first, on every machine
        return centres[k], float(costs[k])

    def forbidden(self, low: FloatArray, high: FloatArray) -> FloatArray:
        """Weigh what is never worth it: sharing room with another label, leaving the room."""
        beyond = np.clip(self.room[0] - low, 0, None) + np.clip(high - self.room[1], 0, None)
        x, y = beyond.T
        cost = FORBIDDEN * (np.maximum(x, y) > 1e-6) + 1e3 * (x + y)
        if len(self.taken):
            overlap = np.minimum(high[:, None], self.taken[:, 1])
            overlap -= np.maximum(low[:, None], self.taken[:, 0])
            shared = np.where((overlap > 0).all(axis=2), overlap.prod(axis=2), 0.0)
            cost += (FORBIDDEN * (shared > 0) + shared).sum(axis=1)
        return np.asarray(cost)

    def costs(
        self, label: Label, anchor: FloatArray, centres: FloatArray, half: FloatArray
    ) -> FloatArray:
        """Weigh free positions: distance, direction, what is hidden and what a leader crosses."""
        low, high = centres - half, centres + half
        leaders = np.stack([np.broadcast_to(anchor, low.shape), np.clip(anchor, low, high)], axis=1)
        distance = np.hypot(*(leaders[:, 1] - leaders[:, 0]).T) / self.px
        cost = distance + 120 * hits(low, high, self.tips, 7 * self.px).sum(axis=1)
        cost += 45 * hits(low, high, self.segments, self.px).sum(axis=1)
        if label.towards is not None:
            x, y = (centres - anchor).T
            turn = np.degrees(np.arctan2(y, x)) - label.towards
            cost += 0.22 * np.abs((turn + 180) % 360 - 180)
        far = np.flatnonzero(distance > LEADER)
        if len(far):
            cost[far] += 15 * crossings(leaders[far], self.segments)
            cost[far] += 60 * hits(self.taken[:, 0], self.taken[:, 1], leaders[far], 0).sum(axis=0)
        return np.asarray(cost)

    def lead(self, anchor: FloatArray, box: FloatArray) -> None:
        """Draw a thin line to a label that lies far from its point."""
        ends = np.array([anchor, np.clip(anchor, *box)])
        if np.hypot(*(ends[1] - ends[0])) > LEADER * self.px:
            self.segments = np.concatenate([self.segments, ends[None]])
            x, y = self.axes.transData.inverted().transform(ends).T
            self.axes.plot(x, y, color=GUIDE, linewidth=0.6, zorder=1)

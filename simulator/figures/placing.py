"""Labels placed by computation: none on another, none outside, as few lines crossed as possible."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, cast

import numpy as np
from matplotlib.axis import Axis
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from simulator.figures.geometry import crossings, hits
from simulator.figures.style import GUIDE, INK, PAPER, TEXT

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from matplotlib.axes import Axes

    from simulator.phasors import FloatArray

Point = tuple[float, float]
Segment = tuple[Point, Point]

GAP = 2.0
"""Clear space around a label [pt]."""
LEADER = 20.0
"""Distance beyond which a thin line leads from a label to its anchor [pt]."""

FORBIDDEN = 1e6
"""Cost of a position that is out of the question."""

_DISTANCES = np.array([6.0, 8, 11, 16, 23, 32, 43, 56, 72, 92, 116, 144, 176, 212, 252])  # pt
_TURNS = np.arange(0, 360, 15.0)  # deg


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


def text_box(figure: Figure, text: Text) -> Bbox:
    """Measure a text as it is rendered.

    Parameters
    ----------
    figure : Figure
        The figure it is in.
    text : Text
        The text.

    Returns
    -------
    Bbox
        Its box [px].
    """
    renderer = _canvas(figure).get_renderer()  # type: ignore[no-untyped-call]
    return text.get_window_extent(renderer)


@lru_cache(maxsize=4096)
def text_size(text: str, size: float = TEXT, weight: str = "normal") -> tuple[float, float]:
    """Measure a text before it is in a figure.

    Parameters
    ----------
    text : str
        The text; may have several lines.
    size : float, optional
        Font size [pt].
    weight : str, optional
        Font weight.

    Returns
    -------
    tuple of float
        Width and height [pt].
    """
    artist = Text(0, 0, text, size=size, weight=weight)
    artist.set_figure(_ruler())
    box = text_box(_ruler(), artist)
    return box.width, box.height


@cache
def _ruler() -> Figure:
    return Figure(figsize=(1, 1), dpi=72)


def wrap(text: str, width: float, size: float = TEXT, weight: str = "normal") -> str:
    """Break a text into lines no wider than a width.

    Parameters
    ----------
    text : str
        The text.
    width : float
        Width [pt].
    size : float, optional
        Font size [pt].
    weight : str, optional
        Font weight.

    Returns
    -------
    str
        The text with line breaks; a word too long for a line is broken as well.
    """
    lines = [""]
    for word in text.split():
        rest = word
        trial = f"{lines[-1]} {rest}".lstrip()
        if text_size(trial, size, weight)[0] <= width:
            lines[-1] = trial
            continue
        if lines[-1]:
            lines.append("")
        while text_size(rest, size, weight)[0] > width and len(rest) > 1:
            n = len(rest) - 1
            while n > 1 and text_size(rest[:n], size, weight)[0] > width:
                n -= 1
            lines[-1], rest = rest[:n], rest[n:]
            lines.append("")
        lines[-1] = rest
    return "\n".join(lines)


def place_labels(
    axes: Axes,
    labels: Iterable[Label],
    *,
    segments: Sequence[Segment] = (),
    points: Sequence[Point] = (),
    within: Bbox | None = None,
) -> list[Text]:
    """Put labels next to their points, the first ones first.

    Texts that the axes already have stay clear too.

    Parameters
    ----------
    axes : Axes
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
    axes.apply_aspect()
    surroundings = _Surroundings.of(axes, segments, points, within)
    return [surroundings.add(label) for label in labels]


@dataclass
class _Surroundings:
    """What a label must keep clear of; all lengths in px."""

    axes: Axes
    room: Bbox
    taken: list[Bbox]
    segments: FloatArray
    tips: FloatArray

    @classmethod
    def of(
        cls, axes: Axes, segments: Sequence[Segment], points: Sequence[Point], within: Bbox | None
    ) -> _Surroundings:
        figure = _figure(axes)
        taken = [text_box(figure, t) for t in axes.texts if t.get_visible() and t.get_text()]
        to_px = axes.transData.transform
        lines = to_px(np.array(segments, float).reshape(-1, 2)).reshape(-1, 2, 2)
        tips = to_px(np.array(points, float).reshape(-1, 1, 2).repeat(2, axis=1).reshape(-1, 2))
        room = Bbox.from_extents(*(within or axes.bbox).extents)
        gap = GAP * figure.dpi / 72
        return cls(axes, room, [b.padded(gap) for b in taken], lines, tips.reshape(-1, 2, 2))

    def add(self, label: Label) -> Text:
        figure, axes = _figure(self.axes), self.axes
        text = axes.text(
            *label.at,
            label.text,
            horizontalalignment="center",
            verticalalignment="center",
            gid=label.gid,
            size=label.size,
            color=label.colour,
            weight=label.weight,
            zorder=6,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
        )
        size = np.asarray(text_box(figure, text).size)
        anchor = np.asarray(axes.transData.transform(label.at))
        centre = self.best_centre(label, anchor, size / 2, figure.dpi / 72)
        text.set_position(tuple(axes.transData.inverted().transform(centre)))
        box = Bbox([centre - size / 2, centre + size / 2])
        self.taken.append(box.padded(GAP * figure.dpi / 72))
        self.lead(anchor, box)
        return text

    def best_centre(
        self, label: Label, anchor: FloatArray, half: FloatArray, px: float
    ) -> FloatArray:
        """Try rings around the point, and the whole room where they have no free place."""
        distance, turn = (a.ravel() for a in np.meshgrid(_DISTANCES, _TURNS))
        angle = np.radians(turn + (label.towards or 0.0))
        direction = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        near = anchor + direction * distance[:, None] * px + half * np.clip(1.5 * direction, -1, 1)
        costs = self.costs(label, anchor, near, half, px)
        if costs.min() >= FORBIDDEN:
            x, y = np.linspace(self.room.min + half, self.room.max - half, 24).T
            anywhere = np.stack([a.ravel() for a in np.meshgrid(x, y)], axis=1)
            near = np.concatenate([near, anywhere])
            costs = self.costs(label, anchor, near, half, px)
        return np.asarray(near[np.argmin(costs)])

    def costs(
        self, label: Label, anchor: FloatArray, centres: FloatArray, half: FloatArray, px: float
    ) -> FloatArray:
        """Weigh positions; sharing room with another label is never worth it."""
        low, high = centres - half, centres + half
        leaders = np.stack([np.broadcast_to(anchor, low.shape), np.clip(anchor, low, high)], axis=1)
        distance = np.hypot(*(leaders[:, 1] - leaders[:, 0]).T) / px
        far = distance > LEADER
        cost = distance + 120 * hits(low, high, self.tips, 5 * px).sum(axis=1)
        cost += 45 * hits(low, high, self.segments, px).sum(axis=1)
        cost += 15 * crossings(leaders, self.segments) * far
        if label.towards is not None:
            x, y = (centres - anchor).T
            turn = np.degrees(np.arctan2(y, x)) - label.towards
            cost += 0.22 * np.abs((turn + 180) % 360 - 180)
        if self.taken:
            least, most = np.array([b.extents for b in self.taken]).reshape(-1, 2, 2).swapaxes(0, 1)
            overlap = np.minimum(high[:, None], most) - np.maximum(low[:, None], least)
            overlap = overlap.clip(0)
            cost += FORBIDDEN * (overlap.min(axis=2) > 0).sum(axis=1)
            cost += overlap.prod(axis=2).sum(axis=1)
            cost += 60 * far * hits(least, most, leaders, 0).sum(axis=0)
        beyond = np.clip(self.room.min - low, 0, None) + np.clip(high - self.room.max, 0, None)
        cost += FORBIDDEN * (beyond.max(axis=1) > 1e-6) + 1e3 * beyond.sum(axis=1)
        return np.asarray(cost)

    def lead(self, anchor: FloatArray, box: Bbox) -> None:
        """Draw a thin line to a label that lies far from its point."""
        ends = np.array([anchor, np.clip(anchor, box.min, box.max)])
        if np.hypot(*(ends[1] - ends[0])) > LEADER * _figure(self.axes).dpi / 72:
            self.segments = np.concatenate([self.segments, ends[None]])
            x, y = self.axes.transData.inverted().transform(ends).T
            self.axes.plot(x, y, color=GUIDE, linewidth=0.6, zorder=1)


def _figure(axes: Axes) -> Figure:
    return cast("Figure", axes.get_figure(root=True))


@dataclass(frozen=True)
class Clashes:
    """What is wrong with the texts of a figure.

    Attributes
    ----------
    overlapping : tuple of pairs of str
        Texts that share room.
    leaving : tuple of str
        Texts that stick out of the figure.
    """

    overlapping: tuple[tuple[str, str], ...]
    leaving: tuple[str, ...]

    def __bool__(self) -> bool:
        """Whether anything is wrong."""
        return bool(self.overlapping or self.leaving)


def overlaps(figure: Figure, tolerance: float = 0.5) -> Clashes:
    """Find texts that overlap each other or leave the figure, from their rendered boxes.

    Parameters
    ----------
    figure : Figure
        The figure.
    tolerance : float, optional
        Overlap that no eye sees [px].

    Returns
    -------
    Clashes
        Pairs of overlapping texts, and texts that leave the figure.
    """
    figure.get_tightbbox()  # brings numbers and names of axes into their places
    hidden = _not_drawn(figure)
    texts = [
        (t.get_text(), text_box(figure, t))
        for t in cast("list[Text]", figure.findobj(Text))
        if t.get_text().strip() and t.get_visible() and t not in hidden
    ]
    boxes = [(text, box) for text, box in texts if box.width > 0 and box.height > 0]
    pairs = [
        (a, b)
        for k, (a, first) in enumerate(boxes)
        for b, second in boxes[k + 1 :]
        if min(first.x1, second.x1) - max(first.x0, second.x0) > tolerance
        and min(first.y1, second.y1) - max(first.y0, second.y0) > tolerance
    ]
    width, height = figure.bbox.size
    leaving = [
        text
        for text, box in boxes
        if min(box.x0, box.y0) < -tolerance
        or box.x1 > width + tolerance
        or box.y1 > height + tolerance
    ]
    return Clashes(tuple(pairs), tuple(leaving))


def _not_drawn(figure: Figure) -> set[Text]:
    """Texts of axes switched off, and tick labels that are kept but lie beyond the limits."""
    hidden: set[Text] = set()
    for axis in cast("list[Axis]", figure.findobj(Axis)):
        if not (axis.axes.axison and axis.get_visible()):
            hidden |= set(cast("list[Text]", axis.findobj(Text)))
            continue
        low, high = sorted(axis.get_view_interval())
        slack = 1e-9 * (high - low)
        for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks()):
            if not low - slack <= tick.get_loc() <= high + slack:
                hidden |= {tick.label1, tick.label2}
    return hidden


def _canvas(figure: Figure) -> FigureCanvasAgg:
    if not isinstance(figure.canvas, FigureCanvasAgg):
        FigureCanvasAgg(figure)
    return cast("FigureCanvasAgg", figure.canvas)

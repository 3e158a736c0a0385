"""Ordinary panels: a quantity against another, each curve with its name beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.ticker import FuncFormatter, NullFormatter

from simulator.figures.measuring import wrap
from simulator.figures.placing import Label, place_labels
from simulator.figures.sheet import Box, add_axes, frame, head_panel
from simulator.figures.style import DIM, GUIDE, INK, TEXT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.transforms import BboxBase

    from simulator.figures.placing import Point, Segment
    from simulator.figures.style import Look
    from simulator.phasors import FloatArray

LEFT, BELOW = 0.72, 0.55
"""Room for the axes' numbers and names [in]."""

_PREFIXES = {0: "", 1: "k", 2: "M", 3: "G"}


@dataclass(frozen=True)
class Curve:
    """A curve on a panel.

    Attributes
    ----------
    name : str
        Its name.
    x, y : ndarray of float, shape (n,)
        Its points; a NaN leaves a gap.
    look : Look
        How it looks.
    width : float
        Width of its line [pt].
    note : str
        What is worth saying of it, behind its name.
    """

    name: str
    x: FloatArray
    y: FloatArray
    look: Look
    width: float
    note: str = ""


@dataclass(frozen=True)
class Panel:
    """One idea: curves against one quantity.

    Attributes
    ----------
    name : str
        Its name, before the names of what is drawn on it.
    heading, line : str
        What it shows, and under which circumstances.
    x_name, y_name : str
        Names of the axes, with units.
    curves : list of Curve
        The curves.
    points : list of tuple of float
        Points of the scenario itself, marked with rings; one with a NaN is left out.
    ticks : dict of float to str
        Numbers on the x axis; empty for the usual ones.
    logarithmic : bool
        Whether the x axis is.
    """

    name: str
    heading: str
    line: str
    x_name: str
    y_name: str
    curves: list[Curve]
    points: list[Point] = field(default_factory=list)
    ticks: dict[float, str] = field(default_factory=dict)
    logarithmic: bool = False


def add_plot(figure: Figure, box: Box, x_name: str, y_name: str) -> Axes:
    """Put axes with names on a sheet.

    Parameters
    ----------
    figure : Figure
        The sheet.
    box : Box
        Where, numbers and names included.
    x_name, y_name : str
        What they show, with the unit.

    Returns
    -------
    Axes
        The axes.
    """
    inner = Box(box.left + LEFT, box.bottom + BELOW, box.width - LEFT - 0.1, box.height - BELOW)
    axes = add_axes(figure, inner)
    axes.set_xlabel(x_name)
    axes.set_ylabel(y_name)
    axes.axhline(0, color=GUIDE, linewidth=0.8, zorder=0.5)
    return axes


def prefix(largest: float) -> tuple[float, str]:
    """Choose the unit's prefix for an axis.

    Parameters
    ----------
    largest : float
        Largest magnitude on it.

    Returns
    -------
    scale : float
        What values are divided by.
    prefix : str
        "", "k", "M" or "G".
    """
    step = min(max(math.floor(math.log10(largest) / 3), 0), 3) if largest > 0 else 0
    return 1000.0**step, _PREFIXES[step]


def limits(values: Sequence[FloatArray], margin: float = 0.12) -> tuple[float, float]:
    """Choose limits that show all values and zero, with room around.

    Parameters
    ----------
    values : sequence of ndarray of float
        The values; NaN are passed over.
    margin : float, optional
        Room above and below as a part of their spread.

    Returns
    -------
    tuple of float
        Lower and upper limit.
    """
    every = np.concatenate([np.ravel(v) for v in values] + [np.zeros(1)])
    every = every[np.isfinite(every)]
    low, high = float(every.min()), float(every.max())
    spread = high - low
    if spread < 1e-9:
        return -1.0, 1.0
    return low - margin * spread, high + margin * spread


def draw_panel(figure: Figure, box: Box, panel: Panel) -> None:
    """Draw curves on a panel, each with its name beside it.

    Parameters
    ----------
    figure : Figure
        The sheet.
    box : Box
        Where on it.
    panel : Panel
        What to draw.
    """
    frame(figure, box)
    box = head_panel(figure, box, panel.heading, panel.line)
    box = Box(box.left, box.bottom, box.width, box.height - 0.1)
    axes = add_plot(figure, box, panel.x_name, panel.y_name)
    if panel.logarithmic:
        axes.set_xscale("log")
        axes.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:g}"))
        axes.xaxis.set_minor_formatter(NullFormatter())
    if panel.ticks:
        axes.set_xticks(list(panel.ticks), list(panel.ticks.values()))
    xs = [curve.x for curve in panel.curves]
    axes.set_xlim(min(x.min() for x in xs), max(x.max() for x in xs))
    points = [(x, y) for x, y in panel.points if math.isfinite(x) and math.isfinite(y)]
    axes.set_ylim(*limits([*(c.y for c in panel.curves), np.array([y for _, y in points])]))
    for curve in panel.curves:
        axes.plot(
            *(curve.x, curve.y),
            color=curve.look.colour,
            linestyle=curve.look.dash,
            linewidth=curve.width,
            gid=f"{panel.name}-curve-{curve.name}",
            zorder=2 if curve.look.colour == DIM else 3,
        )
    for k, (x, y) in enumerate(points):
        axes.plot(
            *(x, y),
            marker="o",
            markersize=8,
            markerfacecolor="none",
            markeredgecolor=INK,
            markeredgewidth=1.4,
            clip_on=False,
            zorder=5,
            gid=f"{panel.name}-own-{k}",
        )
    _label_curves(axes, panel.curves, points)


def _label_curves(axes: Axes, curves: Sequence[Curve], points: Sequence[Point]) -> None:
    """Write each curve's name where the curve is farthest from the others."""
    segments: list[Segment] = []
    pixels = []
    for curve in curves:
        kept = np.isfinite(curve.y)
        x, y = curve.x[kept], curve.y[kept]
        pixels.append(axes.transData.transform(np.stack([x, y], axis=1)))
        segments += pairwise(zip(x.tolist(), y.tolist(), strict=True))
    inches = axes.bbox.width / axes.figure.dpi
    labels, done = [], set()
    for k, (curve, line) in enumerate(zip(curves, pixels, strict=True)):
        if k in done or len(line) == 0:
            continue
        same = [j for j, other in enumerate(pixels) if _coincide(line, other)]
        done |= set(same)
        others = [other for j, other in enumerate(pixels) if j not in same and len(other)]
        at = axes.transData.inverted().transform(_clearest(line, others, axes.bbox))
        name = wrap(", ".join(curves[j].name for j in same) + curve.note, 36 * inches, TEXT, "bold")
        colour = INK if curve.look.colour == DIM else curve.look.colour
        labels.append(Label(name, (float(at[0]), float(at[1])), 90, colour=colour, weight="bold"))
    place_labels(axes, labels, segments=segments, points=points)


def _clearest(line: FloatArray, others: Sequence[FloatArray], box: BboxBase) -> FloatArray:
    """Find the point of a curve that is clear of the others, not too near the panel's edge."""
    clear = np.full(len(line), np.inf)
    for other in others:
        gap = np.hypot(*np.moveaxis(line[:, None] - other[None], 2, 0)).min(axis=1)
        clear = np.minimum(clear, gap)
    from_edge = np.minimum(line[:, 0] - box.x0, box.x1 - line[:, 0])
    return np.asarray(line[np.argmax(np.minimum(clear, from_edge))])


def _coincide(first: FloatArray, second: FloatArray) -> bool:
    return first.shape == second.shape and bool(np.abs(first - second).max(initial=0) < 0.5)

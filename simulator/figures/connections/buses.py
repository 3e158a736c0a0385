"""Nodes that are no conductors: horizontals below them, named where there is room."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from simulator.figures.connections.page import Label, Point
from simulator.figures.connections.texts import NAME
from simulator.figures.style import SMALL
from simulator.installation.conductors import EARTH

if TYPE_CHECKING:
    from simulator.figures.connections.page import Box, Level, Page, Side
    from simulator.figures.connections.plan import Plan


def spans_of(plan: Plan, private: list[str]) -> dict[str, tuple[float, float]]:
    """Find from where to where each of these nodes runs.

    Parameters
    ----------
    plan : Plan
        The layout, all columns known.
    private : list of str
        Nodes that belong to one load.

    Returns
    -------
    dict of str to tuple of float
        Left and right end, earth first and private nodes last.
    """
    rows = [row for row in plan.touches if row not in plan.conductors]
    rows.sort(key=lambda row: (row != EARTH, private.index(row) + 1 if row in private else 0))
    return {row: (min(plan.touches[row]), max(plan.touches[row])) for row in rows}


def name_bus(plan: Plan, bus: str) -> None:
    """Write the name of a node, and what it is, where nothing else is drawn.

    Parameters
    ----------
    plan : Plan
        The layout, everything else drawn.
    bus : str
        The node.
    """
    left, right, y = min(plan.touches[bus]), max(plan.touches[bus]), plan.levels.y(bus)
    places: list[tuple[Point, Side, Level]] = [
        ((left - 0.2, y), "right", "center"),
        ((left, y - 0.2), "left", "top"),
        ((right + 0.2, y), "left", "center"),
        ((right, y - 0.2), "right", "top"),
    ]
    what = _what_it_is(plan, bus)
    found = [_labels(bus, what, *place) for place in places]
    free = (labels for labels in found if not any(is_taken(plan.page, x.box) for x in labels))
    plan.page.labels.extend(next(free, found[0]))


def _labels(bus: str, what: str, at: Point, side: Side, level: Level) -> list[Label]:
    """Write the name, and below it what it is."""
    name = Label(bus, at, side, level, NAME, bold=True)
    if not what:
        return [name]
    height = name.box[3] - name.box[1]
    x, y = at
    top = y if level == "top" else y + height
    return [
        Label(bus, (x, top), side, "top", NAME, bold=True),
        Label(what, (x, top - height), side, "top", SMALL),
    ]


def _what_it_is(plan: Plan, bus: str) -> str:
    """Say it in the trade's words; nothing where there is no word for it."""
    if bus == EARTH:
        return ""
    if any(load.star_point == bus for load in plan.arrangement.loads):
        return "star point"
    ends = [place.ends for place in plan.wired.wired.values() if place.ends]
    ends += [plan.nodes_of(part.element_name) for part in plan.arrangement.impedances]
    others = {plan.row(a if b == bus else b) for a, b in ends if bus in (a, b)}
    return "pseudo-neutral" if others == set(plan.lines) else ""


def is_taken(page: Page, box: Box) -> bool:
    """Tell whether anything is drawn in a rectangle.

    Parameters
    ----------
    page : Page
        The drawing.
    box : tuple of float
        The rectangle.

    Returns
    -------
    bool
        Whether it is.
    """
    boxes = [label.box for label in page.labels]
    boxes += [_around(symbol.outline) for symbol in page.symbols]
    boxes += [_around(pair) for wire in page.wires for pair in itertools.pairwise(wire.points)]
    left, bottom, right, top = box
    return any(
        a < right + 0.05 and left < c + 0.05 and b < top + 0.05 and bottom < d + 0.05
        for a, b, c, d in boxes
    )


def _around(points: tuple[Point, ...]) -> Box:
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)

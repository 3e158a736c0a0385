"""Symbols and wires, drawn with schemdraw; after IEC 60617, from memory."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from schemdraw.elements import Dot, Element
from schemdraw.segments import Segment, SegmentArc, SegmentCircle

from simulator.figures.style import INK, PAPER

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.figures.connections.diagram import MarkStyle
    from simulator.figures.connections.page import Mark, Point, Symbol, Wire
    from simulator.figures.style import Look

WIRES, DOTS = 2, 4
"""Layers of wires and of dots; symbols lie between them."""
_HEAVY, _MIDDLE, _LIGHT = 1.7, 1.3, 1.0  # line widths [pt]
_DOT = 0.085
_LETTERS = {"wattmeter": "W", "voltmeter": "V", "ammeter": "A", "motor": "M\n3~"}


def wire_element(wire: Wire, look: Look) -> Element:
    """Draw a wire.

    Parameters
    ----------
    wire : Wire
        The wire.
    look : Look
        Its look, of which only the colour counts.

    Returns
    -------
    Element
        The element.
    """
    width = _HEAVY if wire.ink.heavy else _LIGHT
    return _drawn(Segment(wire.points, color=look.colour, lw=width, zorder=WIRES))


def dot_element(at: Point) -> Element:
    """Draw the dot where wires are joined.

    Parameters
    ----------
    at : tuple of float
        Where.

    Returns
    -------
    Element
        The element.
    """
    return Dot(radius=_DOT).at(at).color(INK).fill(INK).zorder(DOTS)


def link_element(points: tuple[Point, ...]) -> Element:
    """Draw the dashed line between windings of one meter.

    Parameters
    ----------
    points : tuple of points
        Its corners.

    Returns
    -------
    Element
        The element.
    """
    return _drawn(Segment(points, color=INK, lw=_LIGHT, ls="--", zorder=1))


def mark_element(mark: Mark, style: MarkStyle) -> Element:
    """Draw the sign at a marked terminal.

    Parameters
    ----------
    mark : Mark
        The mark.
    style : str
        "star", "dot" or "plus-minus".

    Returns
    -------
    Element
        The element.
    """
    x, y = mark.at
    r = 0.13
    if style == "dot":
        return _drawn(SegmentCircle(mark.at, r / 2, color=INK, fill=INK, zorder=3))
    if style == "plus-minus":
        low, high = y - 0.14, y + 0.05
        flat = [_line((x - r, level), (x + r, level)) for level in (high, low)]
        return _drawn(*flat, _line((x, high - r), (x, high + r)))
    rays = [(r * math.cos(a), r * math.sin(a)) for a in (math.pi * k / 6 for k in (1, 3, 5))]
    return _drawn(*(_line((x - dx, y - dy), (x + dx, y + dy)) for dx, dy in rays))


def symbol_element(symbol: Symbol) -> Element:
    """Draw a symbol.

    Parameters
    ----------
    symbol : Symbol
        The symbol.

    Returns
    -------
    Element
        The element.
    """
    return _SHAPES[symbol.kind](symbol)


def letters(symbol: Symbol) -> str:
    """Give the letters inside a symbol.

    Parameters
    ----------
    symbol : Symbol
        The symbol.

    Returns
    -------
    str
        The letters; empty for most symbols.
    """
    return _LETTERS.get(symbol.kind, "")


def middle(symbol: Symbol) -> Point:
    """Give the middle of a symbol's room.

    Parameters
    ----------
    symbol : Symbol
        The symbol.

    Returns
    -------
    tuple of float
        Its middle.
    """
    xs, ys = zip(*symbol.outline, strict=True)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def _drawn(*segments: Segment | SegmentCircle | SegmentArc) -> Element:
    """Take segments that are in the coordinates of the page already."""
    element = Element().at((0, 0)).theta(0)
    element.segments.extend(segments)
    return element


def _line(*points: Point, lw: float = _MIDDLE) -> Segment:
    return Segment(points, color=INK, lw=lw, zorder=3)


def _ring(centre: Point, radius: float) -> SegmentCircle:
    return SegmentCircle(centre, radius, color=INK, fill=PAPER, lw=_MIDDLE, zorder=3)


def _coil(left: Point, right: float, n: int, up: int, lw: float = _MIDDLE) -> list[SegmentArc]:
    """Draw a coil from left to right, its humps above or below."""
    d = (right - left[0]) / n
    turn = (0, 180) if up > 0 else (180, 360)
    centres = [(left[0] + (k + 0.5) * d, left[1]) for k in range(n)]
    return [SegmentArc(c, d, d, *turn, color=INK, lw=lw, zorder=3) for c in centres]


def _circle(symbol: Symbol) -> Element:
    xs, _ = zip(*symbol.outline, strict=True)
    return _drawn(_ring(middle(symbol), (max(xs) - min(xs)) / 2))


def _source(symbol: Symbol) -> Element:
    x, y = middle(symbol)
    turns = [k / 24 for k in range(-12, 13)]
    wave = [(x + 0.56 * t, y - 0.17 * math.sin(math.tau * t)) for t in turns]
    return _drawn(_ring((x, y), math.dist(*symbol.terminals) / 2), _line(*wave))


def _impedance(symbol: Symbol) -> Element:
    return _drawn(_line(*symbol.outline, symbol.outline[0]))


def _open(symbol: Symbol) -> Element:
    (ax, ay), (bx, by) = symbol.terminals
    left, right = ((ax + p * (bx - ax), ay + p * (by - ay)) for p in (0.32, 0.68))
    leads = _line((ax, ay), left), _line(right, (bx, by))
    return _drawn(*leads, _ring(left, 0.09), _ring(right, 0.09))


def _winding(symbol: Symbol) -> Element:
    left, right = sorted(symbol.terminals)
    return _drawn(*_coil(left, right[0], 3, 1, _HEAVY))


def _current_transformer(symbol: Symbol) -> Element:
    p1, p2, s1, s2 = symbol.terminals
    coil = s1[1] + 0.12
    ends = [_line(pin, (pin[0], coil)) for pin in (s1, s2)]
    return _drawn(_line(p1, p2, lw=2 * _HEAVY), *ends, *_coil((s1[0], coil), s2[0], 2, 1))


def _voltage_transformer(symbol: Symbol) -> Element:
    *primary, a, b = symbol.terminals
    head, foot = a[1] - 0.2, primary[0][1] + 0.2
    left, right = sorted((a[0], b[0]))
    core = (head + foot) / 2
    ends = [_line(pin, (pin[0], foot)) for pin in primary]
    ends += [_line(pin, (pin[0], head)) for pin in (a, b)]
    sheets = [_line((left, core + d), (right, core + d)) for d in (0.05, -0.05)]
    coils = *_coil((left, head), right, 3, -1), *_coil((left, foot), right, 3, 1)
    return _drawn(*ends, *sheets, *coils)


def _earth(symbol: Symbol) -> Element:
    ((x, y),) = symbol.terminals
    bars = ((0.0, 0.27), (0.12, 0.18), (0.24, 0.08))
    return _drawn(*(_line((x - half, y - d), (x + half, y - d)) for d, half in bars))


def _terminal(symbol: Symbol) -> Element:
    ((x, y),) = symbol.terminals
    return _drawn(_ring((x + 0.1, y), 0.1))


_SHAPES: dict[str, Callable[[Symbol], Element]] = {
    "wattmeter": _circle,
    "voltmeter": _circle,
    "ammeter": _circle,
    "motor": _circle,
    "source": _source,
    "impedance": _impedance,
    "open": _open,
    "winding": _winding,
    "current transformer": _current_transformer,
    "voltage transformer": _voltage_transformer,
    "earth": _earth,
    "terminal": _terminal,
}

"""The connection diagram as a figure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, cast

from simulator.figures.connections.layout import lay_out
from simulator.figures.connections.page import Label, Page, Wire
from simulator.figures.connections.texts import NAME
from simulator.figures.measuring import wrap
from simulator.figures.sheet import Box, add_axes, new_sheet, text_height, write
from simulator.figures.style import A4, HEADING, INK, PLAIN, TEXT, Look, Style, settings
from simulator.figures.words import circumstances, printable, quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from simulator.findings.result import Result
    from simulator.quantities import Unit

MarkStyle = Literal["star", "dot", "plus-minus"]
"""How marked terminals are marked."""
LARGEST, SMALLEST = 1.35, 0.7
"""Scales between which a drawing is fitted to a sheet of A4; a larger one gets a larger sheet."""
_CM = 1 / 2.54  # [in]
_EDGE = 0.3  # white space around all drawings [cm]
_BETWEEN = 1.2  # white space between the drawings of two stations [cm]
_SIGNS = {"star": "*", "dot": "Dot beside a terminal", "plus-minus": "±"}


def connection_pages(result: Result) -> list[Page]:
    """Lay out what is drawn, one drawing for each station.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    list of Page
        The drawings, one below the other as they stand on the sheet.
    """
    pages: list[Page] = []
    top = 0.0
    for station in result.stations:
        page = lay_out(station)
        left, _, _, high = page.box
        if station.number is not None:
            moved = [m.name for m in station.arrangement.wattmeters if m.station is not None]
            text = f"Station {station.number}: {', '.join(moved)}"
            at = left, high + 0.4
            page.labels.append(Label(text, at, "left", "bottom", HEADING, bold=True))
        left, bottom, _, high = page.box
        pages.append(page.moved(-left, top - high))
        top -= high - bottom + _BETWEEN
    return pages


def draw_connections(result: Result, style: Style = PLAIN, *, mark: MarkStyle = "star") -> Figure:
    """Draw the connection diagram of a result.

    Parameters
    ----------
    result : Result
        The result.
    style : Style, optional
        The look.
    mark : str, optional
        How marked terminals are marked: "star", "dot" or "plus-minus".

    Returns
    -------
    Figure
        The diagram; one drawing for each station of a meter that is moved.
    """
    with settings():
        pages = connection_pages(result)
        left, bottom, right, top = zip(*(page.box for page in pages), strict=True)
        low, high = (min(left), min(bottom)), (max(right), max(top))
        size = high[0] - low[0] + 2 * _EDGE, high[1] - low[1] + 2 * _EDGE
        figure, body, scale = _sheet(result, size, mark)
        axes = add_axes(figure, body)
        half = body.width / _CM / scale / 2, body.height / _CM / scale / 2
        x, y = (low[0] + high[0]) / 2, (low[1] + high[1]) / 2
        axes.set_xlim(x - half[0], x + half[0])
        axes.set_ylim(y - half[1], y + half[1])
        axes.set_axis_off()
        for page in pages:
            _draw_lines(axes, page, style, mark)
            _write_texts(axes, page, scale)
        for line in axes.lines:
            line.set_linewidth(line.get_linewidth() * scale)
        for patch in axes.patches:
            patch.set_linewidth(patch.get_linewidth() * scale)
    return figure


def _sheet(result: Result, size: tuple[float, float], mark: MarkStyle) -> tuple[Figure, Box, float]:
    """Choose the sheet on which the drawing comes out largest, and enlarge it if need be."""
    tried = [(*_blank(result, sheet, mark), sheet) for sheet in (A4, A4[::-1])]
    scales = [min(b.width / size[0], b.height / size[1]) / _CM for _, b, _ in tried]
    best = 0 if scales[0] >= min(scales[1], LARGEST) else 1
    figure, body, (width, height) = tried[best]
    if scales[best] >= SMALLEST:
        return figure, body, min(scales[best], LARGEST)
    grown = (
        max(width, width - body.width + SMALLEST * size[0] * _CM),
        max(height, height - body.height + SMALLEST * size[1] * _CM),
    )
    return *_blank(result, grown, mark), SMALLEST


def _blank(result: Result, sheet: tuple[float, float], mark: MarkStyle) -> tuple[Figure, Box]:
    """Take a sheet with its heading, the total and what the signs mean."""
    subtitle = f"Connection diagram: {circumstances(result)}"
    figure, body = new_sheet(result.measurement.title, subtitle, sheet)
    line = "Wires that cross without a dot are not connected."
    if result.measurement.wattmeters:
        line = f"{_SIGNS[mark]}: marked terminal. {line}"
    lines = [(line, "normal")]
    if total := result.total:
        unit = cast("Unit", total.unit)
        values = [quantity(watts, unit) for watts in (total.indicated, total.true)]
        line = f"Total {total.formula} = {values[0]}, true {total.quantity} {values[1]}"
        lines.append((line, "bold"))
    bottom = body.bottom
    for line, weight in lines:
        text = wrap(printable(line), 72 * body.width, TEXT, weight)
        bottom += text_height(text, TEXT)
        write(figure, text, (body.left, bottom), size=TEXT, weight=weight)
    return figure, Box(body.left, bottom, body.width, body.top - bottom)


def _draw_lines(axes: Axes, page: Page, style: Style, mark: MarkStyle) -> None:
    from schemdraw import Drawing  # noqa: PLC0415

    from simulator.figures.connections import symbols  # noqa: PLC0415

    looks = [_look(wire, style) for wire in page.wires]
    drawing = Drawing(canvas=axes, show=False)
    drawing.add_elements(
        *(symbols.wire_element(*pair) for pair in zip(page.wires, looks, strict=True)),
        *(symbols.symbol_element(symbol) for symbol in page.symbols),
        *(symbols.dot_element(dot) for dot in page.dots),
        *(symbols.link_element(link) for link in page.links),
        *(symbols.mark_element(sign, mark) for sign in page.marks),
    )
    before = len(axes.lines)
    drawing.draw(show=False, canvas=axes)
    for line, look in zip(axes.lines[before:], looks, strict=False):  # the wires come first
        line.set_path_effects(look.casing(line.get_linewidth()))


def _look(wire: Wire, style: Style) -> Look:
    k = wire.ink.conductor
    return Look(INK) if k is None else style.conductor(k)


def _write_texts(axes: Axes, page: Page, scale: float) -> None:
    from simulator.figures.connections.symbols import letters, middle  # noqa: PLC0415

    inside = [
        Label(letters(symbol), middle(symbol), "center", "center", NAME + 2)
        for symbol in page.symbols
        if letters(symbol)
    ]
    for label in (*page.labels, *inside):
        axes.text(
            *label.at,
            label.text,
            horizontalalignment=label.side,
            verticalalignment=label.level,
            size=label.size * scale,
            weight="bold" if label.bold else "normal",
            color=INK,
            zorder=6,
        )

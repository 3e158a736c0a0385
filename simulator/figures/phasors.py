"""The phasor diagram: all phasors, the star points, and what each wattmeter feels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.meter_panel import draw_meter
from simulator.figures.placing import Label
from simulator.figures.plane import CURRENT, VOLTAGE, Plane, away, xy
from simulator.figures.sheet import SPACE, Box, foot_panel, frame, head_panel, new_sheet
from simulator.figures.star_points import draw_star_points
from simulator.figures.style import A4, GUIDE, PLAIN, SMALL, Style, settings
from simulator.figures.words import circumstances, phasor, sequence

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from simulator.findings.result import Result
    from simulator.quantities import Unit

LONGEST_CURRENT = 0.72
"""Length of the longest current, where the longest voltage is 1."""


def draw_phasors(result: Result, style: Style = PLAIN) -> Figure:
    """Draw the phasor diagram of a result.

    Parameters
    ----------
    result : Result
        The result.
    style : Style, optional
        The look.

    Returns
    -------
    Figure
        Voltages and currents, the star points, and a panel for each wattmeter.
    """
    with settings():
        return _draw(result, style)


def _draw(result: Result, style: Style) -> Figure:
    n = len(result.readings)
    rows = -(-n // 2) if n > 4 else 2
    height = A4[1] + (rows - 2) * 3.3
    title = f"Phasor diagram: {circumstances(result)}"
    figure, body = new_sheet(result.measurement.title, title, (A4[0], height))
    left, right = body.split(0.42 if n > 2 else 0.5)
    if n in (0, 1, 3):
        cells = right.grid(2, 2) if n == 3 else right.grid(n + 1, 1)
        panels, star_points = cells[:n], cells[n]
    else:
        panels = right.grid(rows, 1 if n == 2 else 2)[:n]
        left, star_points = left.stack(0.53)
        if rows > 2:
            left = Box(left.left, left.top - 4, left.width, 4)
            star_points = Box(left.left, left.bottom - SPACE - 3, left.width, 3)
    _draw_all(figure, left, result, style)
    for box, reading in zip(panels, result.readings.values(), strict=True):
        draw_meter(figure, box, result, reading, style)
    draw_star_points(figure, star_points, result, style)
    return figure


def _draw_all(figure: Figure, box: Box, result: Result, style: Style) -> None:
    """Draw the voltages and currents of the lines at the meters."""
    station = result.first
    lines = station.arrangement.conductors.lines
    to = station.neutral or "the mean of the three lines"
    sum_ = f", I {station.neutral} their sum" if station.neutral else ""
    number = "" if station.number is None else f", station {station.number}"
    frame(figure, box)
    box = head_panel(
        figure,
        box,
        "Voltages and currents" + number,
        f"At the load side of the meters; voltages (hollow heads) to {to}, "
        f"currents (solid heads) from supply to load{sum_}",
    )
    voltages = dict(zip(lines, station.line_potentials.tolist(), strict=True))
    currents = dict(zip(lines, station.line_currents.tolist(), strict=True))
    if station.neutral:
        currents[station.neutral] = station.neutral_current
    largest_v = max(abs(v) for v in voltages.values())
    largest_i = max(abs(i) for i in currents.values())
    zero = [f"I {name}" for name, i in currents.items() if i == 0]
    zero += [f"V {name}" for name, v in voltages.items() if v == 0]
    if zero:
        box = foot_panel(figure, box, [f"Zero: {', '.join(zero)}"])
    plane = Plane("main", figure, box, [-1 - 1j, 1 + 1j], room=(0.9, 0.3))
    _turning(plane, result)
    pairs: tuple[tuple[dict[str, complex], Unit, float, float], ...] = (
        (voltages, "V", 1.0, largest_v),
        (currents, "A", LONGEST_CURRENT, largest_i),
    )
    for phasors, unit, longest, largest in pairs:
        scale = longest / largest if largest else 0.0
        symbol, pen = ("V", VOLTAGE) if unit == "V" else ("I", CURRENT)
        for k, (name, value) in enumerate(phasors.items()):
            plane.arrow(value * scale, style.conductor(k), f"{symbol} {name}", pen)
        for names, value in _together(phasors):
            text = "\n".join([*(f"{symbol} {name}" for name in names), phasor(value, unit)])
            plane.labels.append(Label(text, xy(value * scale), away(value), size=SMALL))
        plane.scale_bar(scale, largest, unit, style.conductor(0))
    plane.finish()


def _together(phasors: dict[str, complex]) -> list[tuple[list[str], complex]]:
    """Group phasors that coincide, and leave out those that are zero."""
    groups: list[tuple[list[str], complex]] = []
    largest = max(abs(v) for v in phasors.values())
    for name, value in phasors.items():
        if value == 0:
            continue
        for names, other in groups:
            if abs(value - other) <= 1e-6 * largest:
                names.append(name)
                break
        else:
            groups.append(([name], value))
    return groups


def _turning(plane: Plane, result: Result) -> None:
    """Draw the axis of angle 0 and which way the phasors turn."""
    plane.line([0j, 1.2 + 0j], width=0.6)
    plane.pane.text(1.22, 0, "0°", size=SMALL, color=GUIDE, verticalalignment="center")
    plane.turning(1.3, f"sequence {sequence(result)}")

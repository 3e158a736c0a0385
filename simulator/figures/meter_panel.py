"""What one wattmeter feels: its voltage, its current, the angle, and the projection it reads."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matplotlib.patches import Polygon

from simulator.figures.measuring import text_size
from simulator.figures.placing import Label
from simulator.figures.plane import (
    CURRENT,
    OTHER_CURRENT,
    OTHER_VOLTAGE,
    VOLTAGE,
    Plane,
    away,
    xy,
)
from simulator.figures.sheet import foot_panel, frame, head_panel, side_panel
from simulator.figures.style import DIM, INK, SMALL, TEXT, Look
from simulator.figures.words import angle_between, degrees, phasor, quantity, shortened
from simulator.phasors import angle_deg

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from simulator.figures.sheet import Box
    from simulator.figures.style import Style
    from simulator.findings.result import Result
    from simulator.findings.station import Station
    from simulator.metering.readings import Reading

LONGEST_CURRENT = 0.78
"""Length of the longest current, where the longest voltage is 1."""
WIDE = 4.0
"""A panel wider than this has the numbers beside the drawing, not below it [in]."""
LONGEST_LABEL = 110.0
"""Beyond this width a phasor is labelled V or I alone; the lines below say which [pt]."""
SAME = 1e-6
"""Arrows whose tips are closer than this are one."""


def draw_meter(figure: Figure, box: Box, result: Result, reading: Reading, style: Style) -> None:
    """Draw the panel of one wattmeter.

    Parameters
    ----------
    figure : Figure
        The sheet.
    box : Box
        Where on it.
    result : Result
        The result.
    reading : Reading
        The wattmeter's reading.
    style : Style
        The look.
    """
    meter = reading.meter
    station = next(s for s in result.stations if any(r is reading for r in s.readings))
    at = "" if meter.station is None else f" (station {meter.station})"
    frame(figure, box)
    box = head_panel(figure, box, f"{meter.name}{at}: {reading_words(reading)}")
    if box.width > WIDE:
        box, side = box.split(0.58)
        side_panel(figure, side, _in_numbers(reading))
    else:
        lines = [f"{what}: {how_much}" for what, how_much in _in_numbers(reading)]
        box = foot_panel(figure, box, lines)
    volts, amperes = _others(station, reading)
    largest_v = max(abs(v) for v in (*volts.values(), reading.voltage))
    largest_i = max(abs(i) for i in (*amperes.values(), reading.current))
    to_v, to_i = (1 / x if x else 0.0 for x in (largest_v, largest_i))
    to_i *= LONGEST_CURRENT
    V, I = reading.voltage * to_v, reading.current * to_i
    others = {f"V {n}": v * to_v for n, v in volts.items()}
    others |= {f"I {n}": i * to_i for n, i in amperes.items()}
    plane = Plane(meter.name, figure, box, [0j, V, I, *others.values()], room=(0.62, 0.32))
    own = {"V": V, "I": I}
    others = {name: z for name, z in others.items() if z and abs(z - own[name[0]]) > SAME}
    for name, z in others.items():
        pen = OTHER_VOLTAGE if name[0] == "V" else OTHER_CURRENT
        plane.arrow(z, Look(DIM), f"other {name}", pen)
    if V and I:
        _draw_projection(plane, reading, V, I, style)
    texts = f"V {meter.voltage[0]}-{meter.voltage[1]}", f"I {meter.current_text}"
    looks, pens = (style.voltage, style.current), (VOLTAGE, CURRENT)
    for name, z, look, pen in zip(texts, (V, I), looks, pens, strict=True):
        if z:
            plane.arrow(z, look, name[0], pen)
            short = text_size(name, TEXT, "bold")[0] > LONGEST_LABEL
            text = name[0] if short else name
            plane.labels.append(Label(text, xy(z), away(z), colour=look.colour, weight="bold"))
    plane.labels += [
        Label(name, xy(z), away(z), SMALL - 1, "#6f6f6f") for name, z in others.items()
    ]
    plane.scale_bar(to_v, largest_v, "V", style.voltage)
    plane.scale_bar(to_i, largest_i, "A", style.current)
    plane.finish()


def reading_words(reading: Reading) -> str:
    """Write a reading with the way its pointer goes.

    Parameters
    ----------
    reading : Reading
        The reading.

    Returns
    -------
    str
        For example "−868.6 W, downscale".
    """
    if reading.direction == "zero":
        return "0 W, zero"
    return f"{quantity(reading.watts, 'W')}, {reading.direction}"


def _in_numbers(reading: Reading) -> list[tuple[str, str]]:
    """Say in numbers what the panel shows: what, and how much."""
    meter = reading.meter
    V, I = reading.voltage, reading.current
    start, end = map(shortened, meter.voltage)
    turned_v = ", reversed" if meter.voltage_reversed else ""
    turned_i = ", reversed" if meter.current_reversed else ""
    found = [
        (
            f"V, {start} to {end}{turned_v}",
            phasor(V, "V"),
        ),
        (f"I, {meter.current_text}{turned_i}", phasor(I, "A")),
    ]
    if not (V and I):
        return [*found, (f"no {'current' if V else 'voltage'}", "reads nothing")]
    along = 0.0 if reading.direction == "zero" else (V * I.conjugate()).real / abs(V)
    angle, volts, amperes = angle_between(reading), quantity(abs(V), "V"), quantity(abs(I), "A")
    part = quantity(along, "A")
    found += [
        ("I along V", f"{amperes} × cos {degrees(abs(angle), 2)} = {part}"),
        ("V times that", f"{volts} × {part} = {quantity(abs(V) * along, 'W')}"),
    ]
    if abs(meter.instrument.voltage_factor - 1) > 1e-12:
        found.append(("with the instrument's error", quantity(reading.at_instrument, "W")))
    if meter.ratio != 1:
        watts = quantity(reading.watts, "W")
        found.append((f"times {meter.ratio:.6g} for the transformers", watts))
    return found


def _others(station: Station, reading: Reading) -> tuple[dict[str, complex], dict[str, complex]]:
    """Give the lines' phasors as they would be behind the meter's transformers."""
    meter = reading.meter
    vt = meter.voltage_transformer.ratio if meter.voltage_transformer else 1.0
    ct = meter.current_transformer.ratio if meter.current_transformer else 1.0
    lines = station.arrangement.conductors.lines
    return (
        {n: v / vt for n, v in zip(lines, station.line_potentials.tolist(), strict=True)},
        {n: i / ct for n, i in zip(lines, station.line_currents.tolist(), strict=True)},
    )


def _draw_projection(plane: Plane, reading: Reading, V: complex, I: complex, style: Style) -> None:
    """Draw the angle, and the current's projection on the voltage as a band beside it."""
    along = V / abs(V)
    aligned = I * along.conjugate()
    foot = along * aligned.real
    angle = angle_between(reading)
    middle = plane.arc(float(angle_deg(I)), angle, min(0.3, 0.6 * abs(V), 0.6 * abs(I)))
    if abs(angle) > 0.05:
        plane.labels.append(Label(degrees(abs(angle)), xy(middle), away(middle)))
    plane.line([I, foot], colour=INK, width=0.8, dash=Look(INK, (0, (3.0, 2.0))))
    if reading.direction == "zero":
        return
    upscale = reading.direction == "upscale"
    if not upscale:
        plane.line([0j, foot * (1 + 0.1 / abs(foot))], width=0.6)
    aside = along * (-0.09j if aligned.imag > 0 else 0.09j)  # where the current is not
    band = Polygon(
        [xy(0j), xy(foot), xy(foot + aside), xy(aside)],
        closed=True,
        facecolor=style.positive if upscale else style.negative,
        edgecolor=INK,
        linewidth=0.7,
        hatch=None if upscale else "////",
        zorder=2,
        gid=plane.gid("projection"),
    )
    plane.pane.add_patch(band)
    plane.segments.append((xy(aside / 2), xy(foot + aside / 2)))

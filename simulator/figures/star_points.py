"""The star points in the plane of potentials: supply neutral, load star points, pseudo-neutrals."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.measuring import wrap
from simulator.figures.placing import Label
from simulator.figures.plane import VOLTAGE, Plane, away, xy
from simulator.figures.sheet import foot_panel, frame, head_panel
from simulator.figures.style import GUIDE, INK, SMALL, Look
from simulator.figures.words import quantity, shortened
from simulator.installation.conductors import EARTH

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from simulator.figures.sheet import Box
    from simulator.figures.style import Style
    from simulator.findings.result import Result
    from simulator.findings.station import Station

SAME = 1e-6
"""Points closer than this part of the largest potential are one."""
LONGEST = 3
"""Line breaks in a text that may still stand beside its point."""
MARKERS, SYMBOLS = "oD^sv", "○◇△□▽"


def draw_star_points(figure: Figure, box: Box, result: Result, style: Style) -> None:
    """Draw the triangle of line potentials with every star point in it.

    Parameters
    ----------
    figure : Figure
        The sheet.
    box : Box
        Where on it.
    result : Result
        The result; its first station is drawn.
    style : Style
        The look.
    """
    station = result.first
    frame(figure, box)
    number = "" if station.number is None else f", station {station.number}"
    line = "Potentials; an arrow is a displacement"
    box = head_panel(figure, box, f"Star points{number}", line)
    lines = station.arrangement.conductors.lines
    points = star_points(station)
    corners = [station.solution.potentials[name] for name in lines]
    scale = 1 / max(abs(z) for z in (*corners, *points.values()))
    corners = [z * scale for z in corners]
    groups = _grouped({name: z * scale for name, z in points.items()})
    texts = [_texts(names, z / scale) for names, z in groups]
    labels = ["\n".join(wrap(line, 0.46 * 72 * box.width, SMALL) for line in t) for t in texts]
    # What is too long to stand beside its point stands below, behind the point's symbol.
    long = [k for k, label in enumerate(labels) if label.count("\n") > LONGEST]
    notes = [f"{SYMBOLS[k % 5]} {', '.join(texts[k])}" for k in long]
    box = foot_panel(figure, box, notes) if notes else box
    plane = Plane("points", figure, box, [*corners, *(z for _, z in groups)], room=(0.9, 0.46))
    plane.line([*corners, corners[0]], colour=GUIDE, width=1.0)
    middle = sum(corners) / 3
    for k, (name, z) in enumerate(zip(lines, corners, strict=True)):
        plane.point(z, style.conductor(k), name)
        plane.labels.append(Label(name, xy(z), away(z, middle), weight="bold"))
    for k, (names, z) in enumerate(groups):
        look = Look(style.accent if k else INK, marker=MARKERS[k % 5])
        plane.arrow(z, look, f"displacement {names[0]}", VOLTAGE)
        plane.point(z, look, names[0], hollow=True)
        if k not in long:
            plane.labels.append(Label(labels[k], xy(z), away(z), size=SMALL))
    plane.scale_bar(scale, 1 / scale, "V", Look(INK))
    plane.finish()


def _texts(names: list[str], displacement: complex) -> list[str]:
    """Give the names of a point, and how far it is displaced."""
    found = [shortened(name, 34) for name in names]
    if displacement:
        found.append(f"displaced {quantity(abs(displacement), 'V')}")
    return found


def star_points(station: Station) -> dict[str, complex]:
    """Give the potential of every star point, by what it is.

    Parameters
    ----------
    station : Station
        A solved network.

    Returns
    -------
    dict of str to complex
        Potentials to the supply's star point, rms [V]; that point first.
    """
    found = {"supply star point": 0j}
    solution = station.solution
    if station.neutral:
        found[f"{station.neutral} at the loads"] = solution.rounded_voltage(
            solution.potentials[station.neutral]
        )
    nodes = dict(station.nodes)
    for load in station.loads:
        if load.star_point is not None:
            found[f"star point of {load.name}"] = load.star_point
    for wired in station.arrangement.loads:
        nodes.pop(wired.star_point or "", None)
    ends = {end for meter in station.arrangement.wattmeters for end in meter.voltage} - {EARTH}
    return found | {f"pseudo-neutral {n}" if n in ends else n: z for n, z in nodes.items()}


def _grouped(points: dict[str, complex]) -> list[tuple[list[str], complex]]:
    groups: list[tuple[list[str], complex]] = []
    for name, z in points.items():
        for names, other in groups:
            if abs(z - other) <= SAME:
                names.append(name)
                break
        else:
            groups.append(([name], z))
    return groups

"""The star points in the plane of potentials: supply neutral, load star points, pseudo-neutrals."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.placing import Label, wrap
from simulator.figures.plane import VOLTAGE, Plane, away, xy
from simulator.figures.sheet import frame, head_panel
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
    box = head_panel(
        figure,
        box,
        "Star points",
        "Potentials to the supply's star point; an arrow is a displacement",
    )
    conductors = station.arrangement.conductors
    corners = {name: station.solution.potentials[name] for name in conductors.lines}
    points = star_points(station)
    everything = [*corners.values(), *points.values()]
    largest = max(abs(z) for z in everything)
    scale = 1 / largest
    plane = Plane("points", figure, box, [z * scale for z in everything], room=(0.9, 0.46))
    middle = sum(corners.values()) / 3 * scale
    plane.line(
        [*(z * scale for z in corners.values()), corners[conductors.lines[0]] * scale],
        colour=GUIDE,
        width=1.0,
    )
    for k, (name, z) in enumerate(corners.items()):
        plane.point(z * scale, style.conductor(k), name)
        plane.labels.append(Label(name, xy(z * scale), away(z * scale, middle), weight="bold"))
    for k, (names, z) in enumerate(_grouped(points, largest)):
        look = Look(style.accent if k else INK, marker="oD^sv"[k % 5])
        if z:
            plane.arrow(z * scale, look, f"displacement {names[0]}", VOLTAGE)
        plane.point(z * scale, look, names[0], hollow=True)
        shift = [f"displaced {quantity(abs(z), 'V')}"] if z else []
        text = "\n".join(wrap(line, 0.42 * 72 * box.width, SMALL) for line in (*names, *shift))
        plane.labels.append(Label(text, xy(z * scale), away(z), size=SMALL))
    plane.scale_bar(scale, largest, "V", Look(INK))
    plane.finish()


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
            found[f"star point of {shortened(load.name)}"] = load.star_point
    for wired in station.arrangement.loads:
        nodes.pop(wired.star_point or "", None)
    ends = {end for meter in station.arrangement.wattmeters for end in meter.voltage} - {EARTH}
    return found | {
        f"pseudo-neutral {shortened(n)}" if n in ends else shortened(n): z for n, z in nodes.items()
    }


def _grouped(points: dict[str, complex], largest: float) -> list[tuple[list[str], complex]]:
    groups: list[tuple[list[str], complex]] = []
    for name, z in points.items():
        for names, other in groups:
            if abs(z - other) <= SAME * largest:
                names.append(name)
                break
        else:
            groups.append(([name], z))
    return groups

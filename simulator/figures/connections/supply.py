"""The supply at the left: sources in star, what lies between them and the meters, earthing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.connections.captions import heading, impedance_kind, impedance_text
from simulator.figures.connections.page import HEAVY, LENGTHS, Ink, Label
from simulator.figures.connections.texts import NAME, extent
from simulator.figures.style import SMALL
from simulator.figures.words import phasor, quantity
from simulator.installation.conductors import EARTH

if TYPE_CHECKING:
    from simulator.figures.connections.plan import Plan

_SOURCE = 1.2  # middle of the sources, from their star point
_RADIUS = LENGTHS["source"] / 2
_HALF = LENGTHS["impedance"] / 2


class SupplyPiece:
    """The supply.

    Parameters
    ----------
    plan : Plan
        The layout.
    """

    def __init__(self, plan: Plan) -> None:
        supply, conductors = plan.arrangement.supply, plan.arrangement.conductors
        self.supply, self.neutral = supply, conductors.neutral
        impedances = dict(zip(conductors.lines, supply.line_impedances, strict=True))
        if self.neutral:
            impedances[self.neutral] = supply.neutral_impedance
        self.impedances = {k: z for k, z in impedances.items() if z != 0}
        self.values = {k: impedance_text(z) for k, z in self.impedances.items()}
        emfs = [phasor(emf, "V").replace(" ∠", "\n∠") for emf in supply.emfs]
        self.emfs = dict(zip(conductors.lines, emfs, strict=True))
        what = f"{supply.frequency:g} Hz"
        if supply.nominal_voltage is not None:
            what = f"{quantity(supply.nominal_voltage, 'V')}, {what}"
        self.heading = heading("supply", what)

    def reserve(self, plan: Plan) -> None:
        """Take columns from the star point to the names of the conductors.

        Parameters
        ----------
        plan : Plan
            The layout.
        """
        start = plan.x
        self.bar = plan.column(0.4, 0)
        self.source = plan.column(_SOURCE, _RADIUS + 0.45)
        self.link = self.bar
        if self.supply.earthed in plan.lines:
            self.link = plan.column(0.1, 0.45)
        if self.values:
            half = max(_HALF, *(extent(t)[0] / 2 for t in self.values.values()))
            self.rectangle = plan.column(half + 0.1, half + 0.2)
        self.name = plan.column(0.1, 0)
        plan.column(0, max(extent(k, NAME, bold=True)[0] for k in plan.conductors) + 0.5)
        for line, emf in self.emfs.items():
            above = _RADIUS + 0.15 + extent(emf, SMALL)[1]
            plan.levels.needs(line, (start, plan.x), above=above, below=_RADIUS + 0.1)
        for conductor in plan.conductors:
            plan.levels.needs(conductor, (start, plan.x), above=0.8)
        if self.supply.earthed:
            plan.touch(EARTH, self.link)

    def draw(self, plan: Plan) -> None:
        """Draw it.

        Parameters
        ----------
        plan : Plan
            The layout, all heights known.
        """
        page, y_of = plan.page, plan.levels.y
        for line, emf in self.emfs.items():
            y = y_of(line)
            left, right = self.source - _RADIUS, self.source + _RADIUS
            page.wire((self.bar, y), (left, y), ink=HEAVY)
            page.two_terminal("source", f"source {line}", (right, y), (left, y))
            at = self.source, y + _RADIUS + 0.1
            page.labels.append(Label(emf, at, "center", "bottom", SMALL))
            self._draw_impedance(plan, line, right)
        foot = y_of(self.neutral or plan.lines[2])
        page.wire((self.bar, y_of(plan.lines[0])), (self.bar, foot), ink=HEAVY)
        if self.neutral:
            self._draw_impedance(plan, self.neutral, self.bar)
        for conductor in plan.conductors:
            at = self.name, y_of(conductor) + 0.12
            page.labels.append(Label(conductor, at, "left", "bottom", NAME, bold=True))
        self.heading.write(page, self.bar - 0.1, plan.levels.top + 0.3 + self.heading.height)
        if self.supply.earthed:
            self._draw_earth(plan, self.supply.earthed)

    def _draw_impedance(self, plan: Plan, conductor: str, start: float) -> None:
        """Draw what lies between a source and the meters, and note where the line begins."""
        plan.starts[conductor] = start
        if conductor not in self.impedances:
            return
        page, y = plan.page, plan.levels.y(conductor)
        left, right = self.rectangle - _HALF, self.rectangle + _HALF
        ink = Ink(heavy=True, conductor=plan.conductors.index(conductor))
        page.wire((start, y), (left, y), ink=ink)
        what = "neutral" if conductor == self.neutral else "line"
        kind = impedance_kind(self.impedances[conductor])
        page.two_terminal(kind, f"{what} {conductor}", (left, y), (right, y))
        at = self.rectangle, y + 0.35
        page.labels.append(Label(self.values[conductor], at, "center", "bottom"))
        plan.starts[conductor] = right

    def _draw_earth(self, plan: Plan, earthed: str) -> None:
        page, x, y = plan.page, self.link, plan.levels.y(EARTH)
        page.wire((x, plan.levels.y(earthed)), (x, y))
        page.wire((x, y), (x, y - 0.45))
        page.symbol("earth", {EARTH: ((x, y - 0.45),)}, (x - 0.3, y - 0.85, x + 0.3, y - 0.45))

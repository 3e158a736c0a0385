"""Loads that are not at the end of the lines: between the horizontals, or below them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.figures.connections.between import Between
from simulator.figures.connections.captions import (
    impedance_kind,
    impedance_text,
    load_heading,
    plain,
)
from simulator.figures.connections.page import HEAVY, LENGTHS, Label, Point
from simulator.figures.connections.texts import extent

if TYPE_CHECKING:
    from simulator.figures.connections.plan import Plan
    from simulator.installation.loads import Load

MOTOR = 0.9
"""Radius of a motor [cm]."""
_LENGTH = LENGTHS["impedance"]


class HangingLoad:
    """A load whose branches hang between the horizontals.

    Parameters
    ----------
    load : Load
        The load.
    """

    def __init__(self, load: Load) -> None:
        self.load = load
        self.parts: list[Between] = []

    def reserve(self, plan: Plan) -> None:
        """Take a column for each branch, and for each lead that is not in line with one.

        Parameters
        ----------
        plan : Plan
            The layout.
        """
        load, start = self.load, plan.x
        star = load.star_point and load.terminal(load.star_point)
        in_series = star is not None and star not in plan.conductors
        used = dict.fromkeys(end for b in load.branches for end in (b.start, b.end))
        leads = [conductor for conductor in used if load.terminal(conductor) != conductor]
        for conductor in leads:
            if not in_series or conductor == load.star_point:
                self._hang_lead(plan, conductor)
        for branch in load.branches:
            ends = load.terminal(branch.start), load.terminal(branch.end)
            name, z = load.element_name(branch.name), branch.impedance
            caption = plain(impedance_text(z))
            part = Between(impedance_kind(z), name, ends, caption, is_load=True)
            part.reserve(plan)
            self.parts.append(part)
            if in_series and branch.start in leads:
                self._hang_lead(plan, branch.start, part.x)
        self.heading = load_heading(load, plan.x - start - 0.5)
        plan.x = max(plan.x, start + self.heading.width + 0.5)
        self.middle = (start + plan.x) / 2

    def _hang_lead(self, plan: Plan, conductor: str, x: float = math.nan) -> None:
        z = self.load.leads[conductor]
        name = self.load.lead_name(conductor)
        ends = conductor, self.load.terminal(conductor)
        caption = plain(f"lead\n{impedance_text(z)}")
        part = Between(impedance_kind(z), name, ends, caption, is_load=True, x=x)
        part.reserve(plan)
        self.parts.append(part)

    @property
    def buses(self) -> list[str]:
        """Nodes of its own, those of its leads first."""
        leads, star = self.load.leads, self.load.star_point
        nodes = [self.load.terminal(conductor) for conductor in leads]
        if star is not None:
            nodes.append(self.load.terminal(star))
        return [n for n in dict.fromkeys(nodes) if any(n in part.ends for part in self.parts)]

    def draw(self, plan: Plan) -> None:
        """Draw its branches and leads.

        Parameters
        ----------
        plan : Plan
            The layout, all heights known.
        """
        for part in self.parts:
            part.draw(plan)
        top = plan.levels.top + 0.3 + self.heading.height
        self.heading.write(plan.page, self.middle, top, side="center")


class HangingMotor:
    """A motor below the lines.

    Parameters
    ----------
    load : Load
        The motor.
    """

    def __init__(self, load: Load) -> None:
        self.load, self.heading = load, load_heading(load)
        self.text = slip_text(load)

    def reserve(self, plan: Plan) -> None:
        """Take a column.

        Parameters
        ----------
        plan : Plan
            The layout.
        """
        leads = {k: self.load.leads.get(k, 0j) for k in plan.lines}
        self.leads = {k: z for k, z in leads.items() if z != 0}
        widths = [extent(f"lead\n{impedance_text(z)}")[0] for z in self.leads.values()]
        self.pitch = max([MOTOR + 0.5, *(w + 0.95 for w in widths)])
        right = self.pitch + max([0.3, *(w + 0.7 for w in widths)])
        half = max(self.heading.width, extent(self.text)[0]) / 2 + 0.2
        self.x = plan.column(max(self.pitch + 0.3, half), max(right, half))
        for k, line in enumerate(plan.lines):
            plan.touch(line, self.x + (k - 1) * self.pitch, is_load=True)

    def draw(self, plan: Plan) -> None:
        """Draw it, its leads above it.

        Parameters
        ----------
        plan : Plan
            The layout, all heights known.
        """
        page, x = plan.page, self.x
        top = plan.levels.bottom - (2.2 if self.leads else 0.6)
        centre = top - MOTOR
        pins = (x - MOTOR, centre), (x, top), (x + MOTOR, centre)
        for k, (line, pin) in enumerate(zip(plan.lines, pins, strict=True)):
            start = x + (k - 1) * self.pitch, plan.levels.y(line)
            if line in self.leads:
                start = self._draw_lead(plan, line, start)
            page.wire(start, (start[0], pin[1]), pin, ink=HEAVY)
        box = x - MOTOR, centre - MOTOR, x + MOTOR, top
        page.symbol("motor", {self.load.element_name(""): pins}, box)
        page.labels.append(Label(self.text, (x, centre - MOTOR - 0.15), "center", "top"))
        top = plan.levels.top + 0.3 + self.heading.height
        self.heading.write(page, x, top, side="center")

    def _draw_lead(self, plan: Plan, line: str, start: Point) -> Point:
        """Draw a lead below all horizontals; give its lower end."""
        page, z, x = plan.page, self.leads[line], start[0]
        head = plan.levels.bottom - 0.6
        page.wire(start, (x, head), ink=HEAVY)
        name = self.load.lead_name(line)
        page.two_terminal(impedance_kind(z), name, (x, head), (x, head - _LENGTH))
        text = f"lead\n{impedance_text(z)}"
        page.labels.append(Label(text, (x + 0.4, head - _LENGTH / 2)))
        return x, head - _LENGTH


def slip_text(load: Load) -> str:
    """Write a motor's slip.

    Parameters
    ----------
    load : Load
        A motor.

    Returns
    -------
    str
        For example "slip 0.022".
    """
    assert load.motor is not None  # noqa: S101  (a motor is one)
    return f"slip {load.motor.slip:.4g}"

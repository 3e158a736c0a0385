"""The load at the right end of the lines, drawn in its own shape: star, delta or motor."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.figures.connections.captions import impedance_kind, impedance_text, load_heading
from simulator.figures.connections.hanging_load import MOTOR, slip_text
from simulator.figures.connections.page import HEAVY, LENGTHS, Ink, Label, Point
from simulator.figures.connections.texts import extent
from simulator.installation.loads import Connection

if TYPE_CHECKING:
    from simulator.figures.connections.page import Level, Side
    from simulator.figures.connections.plan import Plan
    from simulator.installation.loads import Load

    Place = tuple[Point, Side, Level]

_HEIGHTS = {Connection.STAR: 2.1, Connection.DELTA: 1.95, Connection.MOTOR: MOTOR}
_SIN60 = math.sqrt(0.75)
_HALF = LENGTHS["impedance"] / 2
_OFF = 0.42  # from a slanting branch to its value


class FinalLoad:
    """A load into which the lines run; the second one straight, the others from above and below.

    Parameters
    ----------
    load : Load
        The load.
    """

    def __init__(self, load: Load) -> None:
        self.load = load
        self.height = _HEIGHTS[load.connection]  # half of it, from the second line up and down
        self.arm = self.height / _SIN60
        self.texts = [impedance_text(branch.impedance) for branch in load.branches]
        self.widths = [extent(text)[0] for text in self.texts]

    def reserve(self, plan: Plan) -> None:
        """Take its room, leads first.

        Parameters
        ----------
        plan : Plan
            The layout.
        """
        load, self.left = self.load, plan.x
        leads = {line: load.leads.get(line, 0j) for line in plan.lines}
        self.leads = {line: z for line, z in leads.items() if z != 0}
        if self.leads:
            widths = [extent(impedance_text(z))[0] for z in self.leads.values()]
            half = max(_HALF, *(w / 2 for w in widths))
            self.lead = plan.column(half + 0.3, half + 0.3)
        {
            Connection.STAR: self._reserve_star,
            Connection.DELTA: self._reserve_delta,
            Connection.MOTOR: self._reserve_motor,
        }[load.connection](plan)
        self.heading = load_heading(load, plan.x - self.left)
        plan.x = max(plan.x, self.left + self.heading.width + 0.4)
        for k, line in enumerate(plan.lines):
            end = self.lead - _HALF if line in self.leads else self.corners[k]
            plan.touch(line, end, is_load=True)
            above = 1.4 if line in self.leads else 0.8
            plan.levels.needs(line, (self.left, plan.x), above=above)
            if k > 0:
                plan.levels.needs_gap(line, self.height + 0.3)

    def _reserve_star(self, plan: Plan) -> None:
        first, second, third = self.widths
        x = plan.column(max(self.arm, second + 0.35) + 0.3, 0)
        self.corners = x + self.arm / 2, x - self.arm, x + self.arm / 2
        plan.column(0, max(self.arm / 2, self.arm / 4 + _OFF + max(first, third)) + 0.4)
        self.star, self.way_back = x, plan.x
        star = self.load.star_point
        assert star is not None  # noqa: S101  (a star has one)
        self.is_connected = star in plan.conductors or star in plan.shared
        self.star_lead = self.load.leads[star] if self.load.terminal(star) != star else None
        if self.is_connected:
            plan.touch(star, self.way_back, is_load=True)
        if self.star_lead is not None:
            plan.column(0, extent(f"lead\n{impedance_text(self.star_lead)}")[0] + 0.6)
            plan.levels.needs_gap(star, 2.1)

    def _reserve_delta(self, plan: Plan) -> None:
        first, second, third = self.widths
        width = 2 * self.height * _SIN60
        left = plan.column(max(0.5, max(first, second) - width / 2 + 0.45), 0)
        right = plan.column(width, _OFF + third + 0.3)
        self.corners = right, left, right

    def _reserve_motor(self, plan: Plan) -> None:
        x = plan.column(0.6 + MOTOR, MOTOR + 0.4 + extent(slip_text(self.load))[0])
        self.corners = x, x - MOTOR, x

    def draw(self, plan: Plan) -> None:
        """Draw it.

        Parameters
        ----------
        plan : Plan
            The layout, all heights known.
        """
        page, middle = plan.page, plan.levels.y(plan.lines[1])
        ends: list[Point] = []
        for k, (line, x) in enumerate(zip(plan.lines, self.corners, strict=True)):
            y, ink = plan.levels.y(line), Ink(heavy=True, conductor=k)
            ends.append((x, middle + (1 - k) * self.height))
            if line in self.leads:
                self._draw_lead(plan, line)
                page.wire((self.lead + _HALF, y), (x, y), ink=ink)
            page.wire((x, y), ends[-1], ink=ink)
        {
            Connection.STAR: self._draw_star,
            Connection.DELTA: self._draw_delta,
            Connection.MOTOR: self._draw_motor,
        }[self.load.connection](plan, ends)
        self.heading.write(page, self.left + 0.3, plan.levels.top + 0.3 + self.heading.height)

    def _draw_lead(self, plan: Plan, line: str) -> None:
        x, y, z = self.lead, plan.levels.y(line), self.leads[line]
        name = self.load.lead_name(line)
        plan.page.two_terminal(impedance_kind(z), name, (x - _HALF, y), (x + _HALF, y))
        text = f"lead\n{impedance_text(z)}"
        plan.page.labels.append(Label(text, (x, y + 0.35), "center", "bottom"))

    def _draw_branch(
        self, plan: Plan, k: int, ends: tuple[Point, Point], place: Place, ink: Ink = HEAVY
    ) -> None:
        branch = self.load.branches[k]
        kind, name = impedance_kind(branch.impedance), self.load.element_name(branch.name)
        plan.page.in_line(kind, name, ends, ink=(ink, HEAVY))
        plan.page.labels.append(Label(self.texts[k], *place))

    def _draw_star(self, plan: Plan, ends: list[Point]) -> None:
        x, y = self.star, ends[1][1]
        beside = x + self.arm / 4 + _OFF * _SIN60
        right = min(x - self.arm / 2 + self.widths[1] / 2, x - 0.4)
        places: list[Place] = [
            ((beside, y + self.height / 2 - _OFF / 2), "left", "top"),
            ((right, y + 0.35), "right", "bottom"),
            ((beside, y - self.height / 2 + _OFF / 2), "left", "bottom"),
        ]
        for k, place in enumerate(places):
            ink = Ink(heavy=True, conductor=k)
            self._draw_branch(plan, k, (ends[k], (x, y)), place, ink)
        if self.is_connected:
            self._draw_way_back(plan, y)

    def _draw_way_back(self, plan: Plan, y: float) -> None:
        """Draw the wire from the star point to its node, with its lead if it has one."""
        page, star, x, z = plan.page, str(self.load.star_point), self.way_back, self.star_lead
        is_conductor = star in plan.conductors
        ink = Ink(heavy=True, conductor=plan.levels.of[star] if is_conductor else None)
        end = plan.levels.y(star)
        if z is None:
            page.wire((self.star, y), (x, y), (x, end), ink=ink)
            return
        page.wire((self.star, y), (x, y), ink=HEAVY)
        middle = (end + plan.levels.above(star)) / 2
        name, at = self.load.lead_name(star), (middle - end) / (y - end)
        page.in_line(impedance_kind(z), name, ((x, end), (x, y)), at, (ink, HEAVY))
        page.labels.append(Label(f"lead\n{impedance_text(z)}", (x + 0.4, middle)))

    def _draw_delta(self, plan: Plan, ends: list[Point]) -> None:
        (right, y), left = (ends[0][0], ends[1][1]), ends[1][0]
        beside = (left + right - _OFF) / 2
        places: list[Place] = [
            ((beside, y + self.height / 2 + _OFF * _SIN60), "right", "bottom"),
            ((beside, y - self.height / 2 - _OFF * _SIN60), "right", "top"),
            ((right + _OFF, y), "left", "center"),
        ]
        for k, place in enumerate(places):
            self._draw_branch(plan, k, (ends[k], ends[(k + 1) % 3]), place)

    def _draw_motor(self, plan: Plan, ends: list[Point]) -> None:
        x, y = ends[0][0], ends[1][1]
        box = x - MOTOR, y - MOTOR, x + MOTOR, y + MOTOR
        plan.page.symbol("motor", {self.load.element_name(""): tuple(ends)}, box)
        plan.page.labels.append(Label(slip_text(self.load), (x + MOTOR + 0.2, y)))

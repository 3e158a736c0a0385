"""A wattmeter in the line: its current circuit from left to right, its voltage circuit upright."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.figures.connections.page import LENGTHS, Mark
from simulator.figures.connections.wattmeter import RADIUS, DrawnWattmeter
from simulator.metering.meters import Side

if TYPE_CHECKING:
    from simulator.figures.connections.captions import Caption
    from simulator.figures.connections.plan import Plan, Route
    from simulator.metering.meters import Wattmeter

_LOOP = 0.98  # how far a voltage wire leaves its instrument before it turns
_TAP = 1.05  # from the middle of the instrument to its own tap
_WINDING = 1.35  # from the middle of the instrument to its further windings
_HALF = LENGTHS["winding"] / 2


class LineWattmeter(DrawnWattmeter):
    """A wattmeter whose circle stands in the line.

    An end of the voltage circuit on the meter's own conductor is a *tap* beside it, one on
    another is reached *straight* up or down; where both ends lie on the same side, one wire runs
    *around* the instrument.

    Parameters
    ----------
    meter : Wattmeter
        The meter.
    caption : Caption
        What stands beside it.
    plan : Plan
        The layout.
    """

    def __init__(self, meter: Wattmeter, caption: Caption, plan: Plan) -> None:
        super().__init__(meter, caption, plan)
        self.routes: dict[int, Route] = {}
        self.turn = -1 if meter.tap is Side.SUPPLY else 1  # where wires turn: left or right
        rows = [plan.row(node) for node in self.ends]
        self.ways = ["tap" if row == self.main else "straight" for row in rows]
        self.at_top = self._choose_top([self._is_below(plan, row) for row in rows])
        self.winding = _WINDING + (0.7 if self.turn > 0 and "around" in self.ways else 0)
        self.linked = {self._is_below(plan, w.conductor) for w in meter.windings[1:]}
        self.offset = self._caption_offset()

    def _is_below(self, plan: Plan, row: str) -> bool:
        return row not in plan.conductors or plan.levels.of[row] > plan.levels.of[self.main]

    def _choose_top(self, below: list[bool]) -> int:
        """Say which end is at the upper terminal, so that few wires turn."""
        straight = [end for end in (0, 1) if self.ways[end] == "straight"]
        if len(straight) == 2 and below[0] == below[1]:
            self.ways[0] = "around"
            return 0 if below[0] else 1
        if len(straight) == 2:
            return below.index(False)
        if len(straight) == 1:
            end = straight[0]
            return 1 - end if below[end] else end
        return 0

    @property
    def caption_is_below(self) -> bool:
        """Whether the caption stands below the line, beside the wire that does not turn."""
        return self.ways[1 - self.at_top] == "straight" or self.ways[self.at_top] != "straight"

    def _caption_offset(self) -> float:
        """How far right of the middle the caption stands, clear of what runs down or up there."""
        if self.caption_is_below in self.linked:
            return self.winding + 0.25
        both_turn = "straight" not in self.ways
        if self.turn > 0 and (both_turn or "around" in self.ways):
            return _TAP + 0.25
        return 0.6 if both_turn else 0.28

    def reserve(self, plan: Plan) -> None:
        """Take a column.

        Parameters
        ----------
        plan : Plan
            The layout.
        """
        right = max(_TAP + 0.35, self.offset + self.caption.width + 0.3)
        if len(self.circuits) > 1:
            right = max(right, self.winding + 1.1)
        self.reserve_column(plan, _TAP + 0.35, right)
        for k, circuit in enumerate(self.circuits):
            middle, half = (self.x, RADIUS) if k == 0 else (self.x + self.winding, _HALF)
            circuit.left, circuit.right = middle - half, middle + half

    def connect(self, plan: Plan) -> None:
        """Find the ways of its voltage circuit.

        Parameters
        ----------
        plan : Plan
            The layout, all columns known.
        """
        room = {True: 0.0, False: 0.0}  # above and below
        for end, (node, way) in enumerate(zip(self.ends, self.ways, strict=True)):
            top = end == self.at_top
            room[top] = (RADIUS if way == "straight" else _LOOP) + 0.28
            if way != "tap":
                x = self.x if way == "straight" else self.x + self.turn * _TAP
                from_below = top == (way == "straight")
                self.routes[end] = plan.route(x, node, from_below=from_below, tap=self.meter.tap)
        beside = RADIUS + 0.35 + self.caption.height
        room[not self.caption_is_below] = max(beside, room[not self.caption_is_below])
        plan.levels.needs(self.main, self.span, above=room[True], below=room[False])
        for winding in self.meter.windings[1:]:
            plan.levels.needs(winding.conductor, self.span, above=0.6, below=0.5)

    def draw(self, plan: Plan) -> None:
        """Draw it.

        Parameters
        ----------
        plan : Plan
            The layout, all heights known.
        """
        page, x, y = plan.page, self.x, plan.levels.y(self.main)
        upright = ((x, y + RADIUS), (x, y - RADIUS))
        page.symbol(
            "wattmeter",
            {
                self.current_elements[0]: ((x - RADIUS, y), (x + RADIUS, y)),
                self.voltage_element: upright if self.at_top == 0 else upright[::-1],
            },
            (x - RADIUS, y - RADIUS, x + RADIUS, y + RADIUS),
        )
        for end in (0, 1):
            self._draw_end(plan, end, 1 if end == self.at_top else -1)
        side = -1 if self.faces_supply(0) else 1
        page.marks.append(Mark(self.current_elements[0], (x + side * (RADIUS + 0.25), y + 0.25)))
        top = y - RADIUS - 0.2 if self.caption_is_below else y + RADIUS + 0.2 + self.caption.height
        self.caption.write(page, x + self.offset, top)
        self._draw_windings(plan)

    def _draw_end(self, plan: Plan, end: int, up: int) -> None:
        page, x, y, way = plan.page, self.x, plan.levels.y(self.main), self.ways[end]
        start, turn, aside = (x, y + up * RADIUS), y + up * _LOOP, x + self.turn * _TAP
        if way == "straight":
            plan.follow(self.routes[end], start[1])
        else:
            page.wire(start, (x, turn), (aside, turn))
            if way == "tap":
                page.wire((aside, turn), (aside, y))
            else:
                plan.follow(self.routes[end], turn)
        if end == self.marked_end:
            on_right = way != "straight" and self.turn < 0
            at = x + (0.25 if on_right else -0.25), y + up * (RADIUS + 0.2)
            page.marks.append(Mark(self.voltage_element, at))

    def _draw_windings(self, plan: Plan) -> None:
        """Draw further windings, linked to the instrument by a dashed line."""
        page, x, y = plan.page, self.x + self.winding, plan.levels.y(self.main)
        heights = [plan.levels.y(w.conductor) for w in self.meter.windings[1:]]
        for k, height in enumerate(heights, 1):
            element = self.current_elements[k]
            page.two_terminal("winding", element, (x - _HALF, height), (x + _HALF, height))
            side = -1 if self.faces_supply(k) else 1
            page.marks.append(Mark(element, (x + side * 0.72, height + 0.25)))
        for up in (1, -1):
            beyond = [height for height in heights if up * (height - y) > 0]
            if beyond:
                bend, far = y + up * RADIUS * math.sqrt(0.5), max(beyond, key=lambda h: abs(h - y))
                start = self.x + RADIUS * math.sqrt(0.5), bend
                page.links.append((start, (x, bend), (x, far - up * 0.1)))

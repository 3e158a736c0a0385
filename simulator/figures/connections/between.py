"""What hangs between two horizontals, and ammeters, which lie in one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.figures.connections.page import HEAVY, LENGTHS, LIGHT
from simulator.figures.connections.plan import SLOT
from simulator.metering.meters import Side

if TYPE_CHECKING:
    from simulator.figures.connections.captions import Caption
    from simulator.figures.connections.plan import Plan

_BESIDE = 0.65  # from a symbol's middle to its caption
_LEAST = 2.1  # height in which a symbol hangs
_LOOP = 1.9  # height of a symbol with both ends on the same horizontal
_RADIUS = LENGTHS["ammeter"] / 2


@dataclass
class Between:
    """A symbol of two terminals, hanging from one horizontal to another.

    Attributes
    ----------
    kind : str
        What is drawn.
    element : str
        The element it stands for.
    ends : tuple of str
        Its nodes.
    caption : Caption
        What stands to its right.
    is_load : bool
        Whether it belongs to a load.
    x : float
        Its column; reserved if not given.
    """

    kind: str
    element: str
    ends: tuple[str, str]
    caption: Caption
    is_load: bool = False
    x: float = math.nan

    def reserve(self, plan: Plan) -> None:
        """Take a column.

        Parameters
        ----------
        plan : Plan
            The layout.
        """
        reach = _BESIDE + self.caption.width + 0.3
        if math.isnan(self.x):
            self.x = plan.column(_BESIDE, reach)
        plan.x = max(plan.x, self.x + reach)
        rows = [plan.row(node) for node in self.ends]
        for row in rows:
            plan.touch(row, self.x, is_load=self.is_load)
            plan.levels.needs_gap(row, max(_LEAST, self.caption.height + 0.5))
        if rows[0] == rows[1]:
            span = self.x - 0.6, self.x + reach
            plan.levels.needs(rows[0], span, below=max(_LOOP, self.caption.height) + 0.3)

    def draw(self, plan: Plan) -> None:
        """Draw it above the lower of its two horizontals.

        Parameters
        ----------
        plan : Plan
            The layout, all heights known.
        """
        page, x, levels = plan.page, self.x, plan.levels
        rows = [plan.row(node) for node in self.ends]
        start, end = levels.y(rows[0]), levels.y(rows[1])
        if start == end:
            end -= _LOOP
            middle = start - _LOOP / 2
            page.wire((x, end), (x - 0.6, end), (x - 0.6, start))
        else:
            lower = rows[0] if start < end else rows[1]
            middle = (levels.y(lower) + levels.above(lower)) / 2
        at = (middle - start) / (end - start)
        ink = HEAVY if self.is_load else LIGHT
        page.in_line(self.kind, self.element, ((x, start), (x, end)), at, (ink, ink))
        self.caption.write(page, x + _BESIDE, middle + self.caption.height / 2)


@dataclass
class Ammeters:
    """Ammeters one below the other, at most one in each conductor.

    Attributes
    ----------
    captions : dict of (str, str) to Caption
        By meter and conductor.
    """

    captions: dict[tuple[str, str], Caption]

    def reserve(self, plan: Plan) -> None:
        """Take a column.

        Parameters
        ----------
        plan : Plan
            The layout.
        """
        half = max(0.85, *(caption.width / 2 + 0.2 for caption in self.captions.values()))
        left, right = (
            half + SLOT * any((meter, side) in plan.slots for meter, _ in self.captions)
            for side in (Side.SUPPLY, Side.LOAD)
        )
        start = plan.x
        self.x = plan.column(left, right)
        for (meter, conductor), caption in self.captions.items():
            circuit = plan.circuit(meter, conductor)
            circuit.left, circuit.right = self.x - _RADIUS, self.x + _RADIUS
            circuit.slots = start + 0.3, plan.x - 0.3
            above = _RADIUS + 0.3 + caption.height
            plan.levels.needs(conductor, (start, plan.x), above=above, below=_RADIUS + 0.2)

    def draw(self, plan: Plan) -> None:
        """Draw them.

        Parameters
        ----------
        plan : Plan
            The layout, all heights known.
        """
        for (meter, conductor), caption in self.captions.items():
            y = plan.levels.y(conductor)
            circuit = plan.circuit(meter, conductor)
            ends = (circuit.left, y), (circuit.right, y)
            plan.page.two_terminal("ammeter", circuit.element, *ends)
            caption.write(plan.page, self.x, y + _RADIUS + 0.15 + caption.height, "center")

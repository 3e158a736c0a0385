"""A wattmeter below the lines, fed through current or voltage transformers."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.figures.connections.captions import transformer_caption
from simulator.figures.connections.page import Ink, Label, Mark, Point
from simulator.figures.connections.texts import PIN
from simulator.figures.connections.wattmeter import RADIUS, DrawnWattmeter
from simulator.metering.meters import Side

if TYPE_CHECKING:
    from simulator.figures.connections.captions import Caption
    from simulator.figures.connections.page import Side as TextSide
    from simulator.figures.connections.plan import Plan, Route
    from simulator.metering.meters import Wattmeter

_PIN = 0.4  # from the middle to terminals that stand side by side
_CORE = 0.6  # from the middle to the ends of a transformer
_LEFT = 1.25  # from the middle to the voltage wire on the left
_BESIDE = 1.0  # from the middle to captions
_PITCH = 2.3  # distance of the windings of one meter


class RemoteWattmeter(DrawnWattmeter):
    """A wattmeter below the lines, its voltage wires to its left and its right.

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
        ct, vt = meter.current_transformer, meter.voltage_transformer
        self.ct = transformer_caption(ct) if ct else None
        self.vt = transformer_caption(vt) if vt else None
        self.routes: list[Route] = []
        self.left_end = self._choose_left([plan.row(node) == self.main for node in self.ends])
        self.extra = _PITCH * (len(self.circuits) - 1)

    def _choose_left(self, own: list[bool]) -> int:
        """Say which end is on the left: one on the meter's own conductor on the side of its tap."""
        if not any(own):
            return 0
        end = own.index(True)
        return end if self.meter.tap is Side.SUPPLY else 1 - end

    def reserve(self, plan: Plan) -> None:
        """Take a column.

        Parameters
        ----------
        plan : Plan
            The layout.
        """
        beside = max(self.caption.width, self.vt.width if self.vt else 0)
        above = self.ct.width + 0.1 if self.ct else 0
        self.right = self.extra + max(_BESIDE + beside + 0.3, above)
        self.reserve_column(plan, _LEFT + 0.35, self.right + 0.35)
        half = _CORE if self.ct else _PIN
        for k, circuit in enumerate(self.circuits):
            middle = self.x + _PITCH * k
            circuit.left, circuit.right = middle - half, middle + half

    def connect(self, plan: Plan) -> None:
        """Find the ways of its voltage circuit.

        Parameters
        ----------
        plan : Plan
            The layout, all columns known.
        """
        tap = self.meter.tap
        for x, end in ((self.x - _LEFT, self.left_end), (self.x + self.right, 1 - self.left_end)):
            self.routes.append(plan.route(x, self.ends[end], from_below=True, tap=tap))
        above, below = (self.ct.height + 0.35, 1.2) if self.ct else (0.3, 0.4)
        for winding in self.meter.windings:
            plan.levels.needs(winding.conductor, self.span, above=above, below=below)

    def draw(self, plan: Plan) -> None:
        """Draw it.

        Parameters
        ----------
        plan : Plan
            The layout, all heights known.
        """
        page, x = plan.page, self.x
        top = plan.levels.bottom - 0.5
        y = top - 1.15
        pin = math.sqrt(RADIUS**2 - _PIN**2)
        for k in range(len(self.circuits)):
            self._draw_current_circuit(plan, k, top, y + (pin if k == 0 else 0))
        xs = (x - _PIN, x + _PIN) if self.left_end == 0 else (x + _PIN, x - _PIN)
        page.symbol(
            "wattmeter",
            {
                self.current_elements[0]: ((x - _PIN, y + pin), (x + _PIN, y + pin)),
                self.voltage_element: ((xs[0], y - pin), (xs[1], y - pin)),
            },
            (x - RADIUS, y - RADIUS, x + RADIUS, y + RADIUS),
        )
        at = _outside(xs[self.marked_end], x), y - RADIUS - 0.12
        page.marks.append(Mark(self.voltage_element, at))
        self.caption.write(page, x + self.extra + _BESIDE, y + 0.6)
        start, foot = y - pin, min(y - 0.95, y + 0.4 - self.caption.height)
        if self.vt:
            start = self._draw_voltage_transformer(plan, xs, start, foot, self.vt)
            foot = start - 0.5
        for route, pin_x in zip(self.routes, sorted(xs), strict=True):
            page.wire((pin_x, start), (pin_x, foot), (route.x, foot))
            plan.follow(route, foot)

    def _draw_current_circuit(self, plan: Plan, k: int, top: float, end: float) -> None:
        page, x, element = plan.page, self.x + _PITCH * k, self.current_elements[k]
        y = plan.levels.y(self.meter.windings[k].conductor)
        left, right = x - _PIN, x + _PIN
        if self.ct:
            start = self._draw_current_transformer(plan, k, top, self.ct)
            page.wire((left, start), (left, end))
            page.wire((right, start), (right, top))
            page.wire((right, top), (right, end))
        else:
            conductor = plan.levels.of[self.meter.windings[k].conductor]
            for side in (left, right):
                page.wire((side, y), (side, end), ink=Ink(heavy=True, conductor=conductor))
        marked = left if self.faces_supply(k) else right
        page.marks.append(Mark(element, (_outside(marked, x), end + (0.3 if k == 0 else 0.2))))
        if k > 0:
            page.two_terminal("winding", element, (left, end), (right, end))
            before = x - _PITCH + (RADIUS if k == 1 else _PIN)
            page.links.append(((before, end), (left, end)))

    def _draw_current_transformer(self, plan: Plan, k: int, top: float, caption: Caption) -> float:
        """Draw it in its conductor, one point of its secondary earthed; give its lower end."""
        page, circuit, x = plan.page, self.circuits[k], self.x + _PITCH * k
        y = plan.levels.y(self.meter.windings[k].conductor)
        foot = y - 0.5
        primary = (circuit.left, y), (circuit.right, y)
        pins = *primary, (x - _PIN, foot), (x + _PIN, foot)
        box = x - _CORE, foot, x + _CORE, y + 0.12
        page.symbol("current transformer", {circuit.element: pins}, box)
        caption.write(page, x - 0.3, y + 0.2 + caption.height)
        page.labels.append(Label("P1", (x - 0.66, y + 0.36), "right", "center", PIN))
        page.labels.append(Label("S1", (x - _PIN - 0.1, foot - 0.2), "right", "center", PIN))
        self._draw_earth(plan, f"earth of {circuit.element}", (x + _PIN, top), 1)
        return foot

    def _draw_voltage_transformer(
        self, plan: Plan, xs: tuple[float, float], start: float, top: float, caption: Caption
    ) -> float:
        """Draw it below the instrument, one point of its secondary earthed; give its lower end."""
        page, x = plan.page, self.x
        name = f"voltage transformer of {self.meter.name}"
        earth, head, foot = top - 0.1, top - 0.85, top - 2.05
        pins = (xs[0], foot), (xs[1], foot), (xs[0], head), (xs[1], head)
        page.symbol("voltage transformer", {name: pins}, (x - _CORE, foot, x + _CORE, head))
        self._draw_earth(plan, f"earth of {name}", (xs[1], earth), 1 if xs[1] > x else -1)
        page.wire((xs[0], start), (xs[0], head))
        page.wire((xs[1], start), (xs[1], earth))
        page.wire((xs[1], earth), (xs[1], head))
        outwards = -1 if xs[0] < x else 1
        side: TextSide = "right" if xs[0] < x else "left"
        for text, y in (("A", foot - 0.2), ("a", head + 0.2)):
            page.labels.append(Label(text, (xs[0] + 0.1 * outwards, y), side, "center", PIN))
        caption.write(page, x + _BESIDE, (head + foot) / 2 + caption.height / 2)
        return foot

    def _draw_earth(self, plan: Plan, element: str, at: Point, outwards: int) -> None:
        end = at[0] + 0.55 * outwards, at[1] - 0.15
        plan.page.wire(at, (end[0], at[1]), end)
        box = end[0] - 0.25, end[1] - 0.35, end[0] + 0.25, end[1]
        plan.page.symbol("earth", {element: (end,)}, box)


def _outside(pin: float, middle: float) -> float:
    """Where a mark stands: on the outer side of its terminal."""
    return pin + (-0.24 if pin < middle else 0.24)

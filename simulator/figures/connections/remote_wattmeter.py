"""A wattmeter below the lines, fed through current or voltage transformers."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.figures.connections.captions import impedance_text, transformer_caption
from simulator.figures.connections.page import Ink, Label, Mark, Point
from simulator.figures.connections.secondary import stack_of
from simulator.figures.connections.texts import PIN, extent
from simulator.figures.connections.wattmeter import RADIUS, DrawnWattmeter
from simulator.installation.transformers import Secondary
from simulator.metering.meters import Side

if TYPE_CHECKING:
    from simulator.figures.connections.captions import Caption
    from simulator.figures.connections.page import Side as TextSide
    from simulator.figures.connections.plan import Plan, Route
    from simulator.installation.transformers import InstrumentTransformer
    from simulator.metering.meters import Wattmeter

_PIN = 0.4  # from the middle to terminals that stand side by side
_CORE = 0.6  # from the middle to the ends of a transformer
_LEFT = 1.25  # from the middle to the voltage wire on the left
_BESIDE = 1.0  # from the middle to captions
_PITCH = 2.3  # distance of the windings of one meter
_RUNG = 0.6  # height of what lies across a secondary


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
        self.ct = transformer_caption(ct, "A") if ct else None
        self.vt = transformer_caption(vt, "V") if vt else None
        self.vt_element = f"voltage transformer of {meter.name}"
        self.in_current = [stack_of(plan, c.element, ct, "leads", "burden") for c in self.circuits]
        self.in_voltage = stack_of(plan, self.vt_element, vt, "leads")
        self.routes: list[Route] = []
        self.left_end = self._choose_left([plan.row(node) == self.main for node in self.ends])
        self.pitch = max(_PITCH, 2 * _PIN + 0.4 + self.in_current[0].reach)
        self.extra = self.pitch * (len(self.circuits) - 1)

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
        texts = [self.caption.width, self.vt.width if self.vt else 0, self.in_voltage.reach]
        if self.meter.voltage_transformer and self.meter.voltage_transformer.burden is not None:
            texts.append(extent(_burden_text(self.meter.voltage_transformer))[0])
        above = self.ct.width + 0.1 if self.ct else 0
        self.right = self.extra + max(_BESIDE + max(texts) + 0.3, above)
        reach = max(self.in_current[0].reach, self.in_voltage.reach)
        self.left = max(_LEFT, _PIN + reach + 0.25)
        self.reserve_column(plan, self.left + 0.35, self.right + 0.35)
        half = _CORE if self.ct else _PIN
        for k, circuit in enumerate(self.circuits):
            middle = self.x + self.pitch * k
            circuit.left, circuit.right = middle - half, middle + half

    def connect(self, plan: Plan) -> None:
        """Find the ways of its voltage circuit.

        Parameters
        ----------
        plan : Plan
            The layout, all columns known.
        """
        tap, ends = self.meter.tap, (self.left_end, 1 - self.left_end)
        for x, end in zip((self.x - self.left, self.x + self.right), ends, strict=True):
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
        y = top - 1.15 - self.in_current[0].height
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
            start = self._draw_voltage_transformer(plan, xs, start, foot)
            foot = start - 0.5
        for route, pin_x in zip(self.routes, sorted(xs), strict=True):
            page.wire((pin_x, start), (pin_x, foot), (route.x, foot))
            plan.follow(route, foot)

    def _draw_current_circuit(self, plan: Plan, k: int, top: float, end: float) -> None:
        page, x, element = plan.page, self.x + self.pitch * k, self.current_elements[k]
        y = plan.levels.y(self.meter.windings[k].conductor)
        left, right = x - _PIN, x + _PIN
        if self.ct:
            self._draw_current_transformer(plan, k, top, end)
        else:
            conductor = plan.levels.of[self.meter.windings[k].conductor]
            for side in (left, right):
                page.wire((side, y), (side, end), ink=Ink(heavy=True, conductor=conductor))
        marked = left if self.faces_supply(k) else right
        page.marks.append(Mark(element, (_outside(marked, x), end + (0.3 if k == 0 else 0.2))))
        if k > 0:
            page.two_terminal("winding", element, (left, end), (right, end))
            before = x - self.pitch + (RADIUS if k == 1 else _PIN)
            page.links.append(((before, end), (left, end)))

    def _draw_current_transformer(self, plan: Plan, k: int, top: float, end: float) -> None:
        """Draw it in its conductor, and its secondary with one point earthed."""
        page, circuit, x = plan.page, self.circuits[k], self.x + self.pitch * k
        transformer, caption = self.meter.current_transformer, self.ct
        assert transformer is not None  # noqa: S101  (drawn only where there is one)
        assert caption is not None  # noqa: S101
        y = plan.levels.y(self.meter.windings[k].conductor)
        left, right, foot = x - _PIN, x + _PIN, y - 0.5
        pins = (circuit.left, y), (circuit.right, y), (left, foot), (right, foot)
        box = x - _CORE, foot, x + _CORE, y + 0.12
        page.symbol("current transformer", {circuit.element: pins}, box)
        caption.write(page, x - 0.3, y + 0.2 + caption.height)
        page.labels.append(Label("P1", (x - 0.66, y + 0.36), "right", "center", PIN))
        page.labels.append(Label("S1", (left - 0.1, foot - 0.2), "right", "center", PIN))
        self._draw_earth(plan, f"earth of {circuit.element}", (right, top), 1)
        page.wire((right, foot), (right, top))
        rung = top - 0.35 if transformer.secondary is Secondary.SHORTED else top
        page.wire((right, top), (right, rung))
        page.wire((right, rung), (right, end))
        page.wire((left, foot), (left, rung))
        if transformer.secondary is Secondary.SHORTED:
            page.wire((left, rung), (right, rung))
        self.in_current[k].draw(page, (left, rung), end, -1)

    def _draw_voltage_transformer(
        self, plan: Plan, xs: tuple[float, float], start: float, top: float
    ) -> float:
        """Draw it below the instrument, one point of its secondary earthed; give its lower end."""
        page, x, transformer = plan.page, self.x, self.meter.voltage_transformer
        assert transformer is not None  # noqa: S101  (drawn only where there is one)
        assert self.vt is not None  # noqa: S101
        burden = f"burden of {self.vt_element}"
        shorted = transformer.secondary is Secondary.SHORTED
        rung = top - self.in_voltage.height - 0.1
        earth = rung - (_RUNG if burden in plan.elements or shorted else 0)
        head, foot = earth - 0.75, earth - 1.95
        pins = (xs[0], foot), (xs[1], foot), (xs[0], head), (xs[1], head)
        page.symbol(
            "voltage transformer", {self.vt_element: pins}, (x - _CORE, foot, x + _CORE, head)
        )
        outwards = 1 if xs[0] > x else -1
        self._draw_earth(plan, f"earth of {self.vt_element}", (xs[1], earth), -outwards)
        for a, b in ((start, rung), (rung, earth), (earth, head)):
            page.wire((xs[1], a), (xs[1], b))
        page.wire((xs[0], head), (xs[0], rung))
        self.in_voltage.draw(page, (xs[0], rung), start, outwards)
        if shorted:
            page.wire((xs[0], rung), (xs[1], rung))
        elif burden in plan.elements:
            near, far = xs[0] - 0.12 * outwards, xs[1] + 0.12 * outwards
            page.wire((xs[0], rung), (near, rung))
            page.two_terminal("impedance", burden, (near, rung), (far, rung))
            page.wire((far, rung), (xs[1], rung))
            page.labels.append(Label(_burden_text(transformer), (x + _BESIDE, rung)))
        side: TextSide = "right" if outwards < 0 else "left"
        for text, y in (("A", foot - 0.2), ("a", head + 0.2)):
            page.labels.append(Label(text, (xs[0] + 0.1 * outwards, y), side, "center", PIN))
        self.vt.write(page, x + _BESIDE, (head + foot) / 2 + self.vt.height / 2)
        return foot

    def _draw_earth(self, plan: Plan, element: str, at: Point, outwards: int) -> None:
        end = at[0] + 0.55 * outwards, at[1] - 0.15
        plan.page.wire(at, (end[0], at[1]), end)
        box = end[0] - 0.25, end[1] - 0.35, end[0] + 0.25, end[1]
        plan.page.symbol("earth", {element: (end,)}, box)


def _outside(pin: float, middle: float) -> float:
    """Where a mark stands: on the outer side of its terminal."""
    return pin + (-0.24 if pin < middle else 0.24)


def _burden_text(transformer: InstrumentTransformer) -> str:
    return f"burden {impedance_text(transformer.burden or 0j)}"

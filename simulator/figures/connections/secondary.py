"""What lies between a transformer's secondary and its meter: leads, burden, or nothing at all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.figures.connections.captions import impedance_kind, impedance_text
from simulator.figures.connections.page import LENGTHS, Label, Point
from simulator.figures.connections.texts import extent
from simulator.installation.transformers import Secondary

if TYPE_CHECKING:
    from simulator.figures.connections.page import Page, Side
    from simulator.figures.connections.plan import Plan
    from simulator.installation.transformers import InstrumentTransformer

STEP = LENGTHS["impedance"] + 0.4
"""Height of one symbol in a secondary [cm]."""


@dataclass(frozen=True)
class Stack:
    """Symbols one below the other in one wire of a secondary.

    Attributes
    ----------
    symbols : tuple of (str, str, str)
        Kind, element and text of each, the nearest to the transformer first.
    """

    symbols: tuple[tuple[str, str, str], ...]

    @property
    def height(self) -> float:
        """Its height [cm]."""
        return STEP * len(self.symbols)

    @property
    def reach(self) -> float:
        """How far its texts reach from the wire [cm]."""
        return max((0.4 + extent(text)[0] for _, _, text in self.symbols), default=0.0)

    def draw(self, page: Page, start: Point, end: float, outwards: int) -> None:
        """Draw it and its wire.

        Parameters
        ----------
        page : Page
            Where.
        start : tuple of float
            Where the wire begins.
        end : float
            Height at which it ends, above or below its start; at least the stack's height away.
        outwards : int
            Side of the texts: −1 for left, 1 for right.
        """
        x, y = start
        down = 1 if end > y else -1
        for kind, element, text in self.symbols:
            head, foot = y + down * (STEP - LENGTHS[kind]), y + down * STEP
            page.wire((x, y), (x, head))
            page.two_terminal(kind, element, (x, head), (x, foot))
            side: Side = "right" if outwards < 0 else "left"
            page.labels.append(Label(text, (x + 0.4 * outwards, (head + foot) / 2), side))
            y = foot
        page.wire((x, y), (x, end))


def stack_of(
    plan: Plan, element: str, transformer: InstrumentTransformer | None, *parts: str
) -> Stack:
    """Find what is in series with a meter's circuit.

    Parameters
    ----------
    plan : Plan
        The layout.
    element : str
        Name of the transformer as an element.
    transformer : InstrumentTransformer or None
        The transformer, if there is one.
    *parts : str
        What may be in series with the meter, the nearest to the transformer first.

    Returns
    -------
    Stack
        It; a gap where the meter is not connected.
    """
    if transformer is None:
        return Stack(())
    if transformer.secondary is not Secondary.CONNECTED:
        return Stack((("open", f"gap at {element}", str(transformer.secondary)),))
    values = {"leads": transformer.leads, "burden": transformer.burden or 0j}
    names = {part: f"{part} of {element}" for part in parts}
    return Stack(
        tuple(
            (impedance_kind(values[part]), name, f"{part}\n{impedance_text(values[part])}")
            for part, name in names.items()
            if name in plan.elements
        )
    )

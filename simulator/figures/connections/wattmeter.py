"""What every drawing of a wattmeter has in common."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Protocol

from simulator.figures.connections.plan import SLOT, Circuit, Piece, Plan
from simulator.metering.meters import Side

if TYPE_CHECKING:
    from simulator.figures.connections.captions import Caption
    from simulator.metering.meters import Wattmeter

RADIUS = 0.55
"""Radius of an instrument [cm]."""


class MeterPiece(Piece, Protocol):
    """A wattmeter, whose voltage circuit finds its ways when all columns are known."""

    def connect(self, plan: Plan) -> None:
        """Find the ways of its voltage circuit.

        Parameters
        ----------
        plan : Plan
            The layout, all columns known.
        """


class DrawnWattmeter:
    """A wattmeter in the drawing.

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
        place = plan.wired.wired[meter.name]
        assert place.ends is not None  # noqa: S101  (every wattmeter has a voltage circuit)
        self.meter, self.caption, self.ends = meter, caption, place.ends
        self.main = meter.windings[0].conductor
        self.current_elements = place.current_circuits
        self.voltage_element = f"voltage circuit of {meter.name}"
        self.circuits: list[Circuit] = [
            plan.circuit(meter.name, w.conductor) for w in meter.windings
        ]
        self.x = math.nan
        self.span = math.nan, math.nan

    def reserve_column(self, plan: Plan, left: float, right: float) -> None:
        """Take a column, with room at its edges for other meters' wires that come down there.

        Parameters
        ----------
        plan : Plan
            The layout.
        left, right : float
            Room that the meter itself needs on either side of its middle.
        """
        at_left, at_right = (
            SLOT * ((self.meter.name, side) in plan.slots) for side in (Side.SUPPLY, Side.LOAD)
        )
        start = plan.x
        self.x = plan.column(left + at_left, right + at_right)
        self.span = start, plan.x
        for circuit in self.circuits:
            circuit.slots = start + 0.3, plan.x - 0.3

    def faces_supply(self, k: int) -> bool:
        """Tell whether the marked end of a winding is the one towards the supply.

        Parameters
        ----------
        k : int
            Number of the winding.

        Returns
        -------
        bool
            Whether it is.
        """
        return (self.meter.windings[k].sign > 0) != self.meter.current_reversed

    @property
    def marked_end(self) -> int:
        """Which end of the voltage circuit is at its marked terminal."""
        return int(self.meter.voltage_reversed)

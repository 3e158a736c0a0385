"""Loads: star, delta, between lines, line to neutral, motor."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from simulator.network.elements import AdmittanceBlock, Impedance

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.installation.conductors import Conductors
    from simulator.installation.motor import Motor
    from simulator.network.elements import Element


class Connection(StrEnum):
    """How a load's branches lie between the conductors."""

    STAR = "star"
    DELTA = "delta"
    LINE_TO_LINE = "line-to-line"
    LINE_TO_NEUTRAL = "line-to-neutral"
    MOTOR = "motor"


@dataclass(frozen=True)
class Branch:
    """One branch of a load, an impedance from one of its terminals to another.

    Attributes
    ----------
    name : str
        As the scenario calls it: "L1" or "L1-L2".
    start, end : str
        Conductors (or the load's star point) between which it lies.
    impedance : complex
        Impedance [ohm]; infinite for an open branch.
    """

    name: str
    start: str
    end: str
    impedance: complex


@dataclass(frozen=True)
class Load:
    """A load as it stands in the installation.

    Attributes
    ----------
    name : str
        Its name.
    connection : Connection
        How its branches lie.
    branches : tuple of Branch
        Its branches; empty for a motor.
    star_point : str or None
        Node of its star point before any neutral lead; None for loads without one.
    leads : dict of str to complex
        Impedance between each conductor's load-side node and the load [ohm].
    motor : Motor or None
        The machine, if it is one.
    """

    name: str
    connection: Connection
    branches: tuple[Branch, ...]
    star_point: str | None
    leads: dict[str, complex]
    motor: Motor | None = None

    def element_name(self, branch: str) -> str:
        """Name the network element of a branch.

        Parameters
        ----------
        branch : str
            Name of the branch; empty for a motor.

        Returns
        -------
        str
            Name of the element.
        """
        return f"load {self.name} {branch}" if branch else f"motor {self.name}"

    def lead_name(self, conductor: str) -> str:
        """Name the network element of a lead.

        Parameters
        ----------
        conductor : str
            The conductor it comes from.

        Returns
        -------
        str
            Name of the element.
        """
        return f"lead {conductor} of {self.name}"

    def terminal(self, conductor: str) -> str:
        """Name the load's own terminal on a conductor, behind its lead.

        Parameters
        ----------
        conductor : str
            A conductor, or a node of the load's own.

        Returns
        -------
        str
            The node.
        """
        if self.leads.get(conductor, 0) == 0:
            return conductor
        return f"terminal {conductor} of {self.name}"

    def elements(self, conductors: Conductors, sequence: int) -> Iterator[tuple[str, Element]]:
        """Build the load's part of the network.

        Parameters
        ----------
        conductors : Conductors
            Names of the conductors, which are their load-side nodes.
        sequence : int
            The supply's sequence, +1 or −1.

        Yields
        ------
        role : str
            "load" or "lead".
        element : Element
            The element.
        """
        used = (
            conductors.lines if self.motor else {c for b in self.branches for c in (b.start, b.end)}
        )
        for conductor, z in self.leads.items():
            if z != 0 and conductor in used:
                nodes = (conductor, self.terminal(conductor))
                yield "lead", Impedance(self.lead_name(conductor), nodes, z)
        for branch in self.branches:
            nodes = (self.terminal(branch.start), self.terminal(branch.end))
            yield "load", Impedance(self.element_name(branch.name), nodes, branch.impedance)
        if self.motor:
            terminals = tuple(self.terminal(line) for line in conductors.lines)
            yield (
                "load",
                AdmittanceBlock(self.element_name(""), terminals, self.motor.admittance(sequence)),
            )

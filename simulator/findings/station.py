"""One solved network: what its loads take, what crosses to them, and what is lost on the way."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from simulator.findings.powers import PlanePowers, plane_powers
from simulator.metering.arrangement import Arrangement, WiredArrangement, wire
from simulator.metering.meters import Side
from simulator.metering.readings import Reading, read_wattmeter
from simulator.network.netlist import terminals
from simulator.network.nodal import Solution, solve
from simulator.phasors import ComplexArray, symmetrical_components

if TYPE_CHECKING:
    from simulator.installation.loads import Load

# Which losses each role of an element belongs to.
LOSSES = {
    "meters": ("current circuit", "voltage circuit"),
    "leads": ("line", "lead"),
    "transformers": ("transformer",),
    "impedances": ("impedance", "earth"),
}


@dataclass(frozen=True)
class BranchResult:
    """Phasors and power of one branch of a load.

    Attributes
    ----------
    name : str
        Name of the branch.
    voltage : complex
        Voltage across it, rms [V].
    current : complex
        Current in it, rms [A].
    power : complex
        Complex power it absorbs [VA].
    """

    name: str
    voltage: complex
    current: complex
    power: complex


@dataclass(frozen=True)
class LoadResult:
    """What one load takes.

    Attributes
    ----------
    name : str
        Name of the load.
    power : complex
        Complex power it absorbs [VA].
    branches : tuple of BranchResult
        Its branches.
    star_point : complex or None
        Potential of its star point against the supply's [V]; None if it has none.
    """

    name: str
    power: complex
    branches: tuple[BranchResult, ...]
    star_point: complex | None


@dataclass(frozen=True)
class Station:
    """A solved arrangement: the meters that are in circuit together.

    Attributes
    ----------
    number : int or None
        Number of the station; None where nothing is moved.
    wired : WiredArrangement
        The network, and which part of it is what.
    solution : Solution
        Its phasors.
    """

    number: int | None
    wired: WiredArrangement
    solution: Solution

    @property
    def arrangement(self) -> Arrangement:
        """Supply, loads and meters."""
        return self.wired.arrangement

    @cached_property
    def readings(self) -> tuple[Reading, ...]:
        """Readings of the wattmeters, in file order."""
        return tuple(
            read_wattmeter(meter, self.wired, self.solution)
            for meter in self.arrangement.wattmeters
        )

    @cached_property
    def voltmeters(self) -> dict[str, float]:
        """Voltmeter readings, rms [V]."""
        found = {}
        for meter in self.arrangement.voltmeters:
            ends = self.wired.wired[meter.name].ends
            assert ends is not None  # noqa: S101  (every voltmeter has a voltage circuit)
            found[meter.name] = abs(self.solution.rounded_voltage(self.solution.voltage(*ends)))
        return found

    @cached_property
    def ammeters(self) -> dict[str, float]:
        """Ammeter readings, rms [A]."""
        found = {}
        for meter in self.arrangement.ammeters:
            (circuit,) = self.wired.wired[meter.name].current_circuits
            current = self.solution.current(circuit)
            found[meter.name] = abs(self.solution.rounded_current(current))
        return found

    @cached_property
    def loads(self) -> tuple[LoadResult, ...]:
        """What each load takes."""
        return tuple(self._load(load) for load in self.arrangement.loads)

    def _load(self, load: Load) -> LoadResult:
        star = load.star_point and self.solution.potentials[load.terminal(load.star_point)]
        branches = []
        for branch in load.branches:
            name = load.element_name(branch.name)
            ends = load.terminal(branch.start), load.terminal(branch.end)
            branches.append(
                BranchResult(
                    branch.name,
                    self.solution.rounded_voltage(self.solution.voltage(*ends)),
                    self.solution.rounded_current(self.solution.current(name)),
                    self.solution.powers[name],
                )
            )
        if load.motor:
            lines = self.arrangement.conductors.lines
            potentials = [self.solution.potentials[load.terminal(line)] for line in lines]
            star = sum(potentials) / 3  # no zero-sequence current, so no zero-sequence voltage
            currents = self.solution.currents[load.element_name("")].tolist()
            for line, v, i in zip(lines, potentials, currents, strict=True):
                branches.append(BranchResult(line, v - star, i, (v - star) * i.conjugate()))
        power = sum((b.power for b in branches), 0j)
        star = None if star is None else self.solution.rounded_voltage(complex(star))
        return LoadResult(load.name, power, tuple(branches), star)

    @cached_property
    def _beyond(self) -> set[str]:
        """Elements beyond the meters: loads, their leads, and impedances that hang on them.

        Impedances are followed from the conductors' load side and the loads' star points, but
        not from a node where voltage circuits end: what meets there belongs to the meters.
        """
        arrangement = self.arrangement
        beyond = {name for name, role in self.wired.roles.items() if role in ("load", "lead")}
        reached = {*arrangement.conductors.all, *(load.star_point for load in arrangement.loads)}
        circuits = [(m.instrument, m.voltage) for m in arrangement.wattmeters]
        circuits += [(m.instrument, m.between) for m in arrangement.voltmeters]
        metering = {
            node for instrument, ends in circuits if not instrument.senses_only for node in ends
        } - reached
        left = [
            z
            for z in arrangement.impedances
            if not metering & set(z.between)
            and (z.side is Side.LOAD or not set(z.between) & set(arrangement.conductors.all))
        ]
        while found := [z for z in left if reached & set(z.between)]:
            for z in found:
                beyond.add(z.element_name)
                reached |= set(z.between)
                left.remove(z)
        return beyond

    @cached_property
    def line_currents(self) -> ComplexArray:
        """Currents of the three lines on the load side of the meters, rms [A]."""
        total = dict.fromkeys(self.arrangement.conductors.lines, 0j)
        for element in self.wired.netlist.elements:
            if element.name in self._beyond:
                currents = self.solution.currents[element.name].tolist()
                for node, current in zip(terminals(element), currents, strict=True):
                    if node in total:
                        total[node] += current
        return np.array([self.solution.rounded_current(i) for i in total.values()])

    @cached_property
    def line_potentials(self) -> ComplexArray:
        """Load-side potentials of the lines [V], to the neutral or (three wires) their mean."""
        conductors = self.arrangement.conductors
        V = np.array([self.solution.potentials[line] for line in conductors.lines])
        if conductors.neutral is None:
            return np.asarray(V - V.mean())
        return np.asarray(V - self.solution.potentials[conductors.neutral])

    @property
    def neutral(self) -> str | None:
        """Name of the neutral; None on three wires."""
        return self.arrangement.conductors.neutral

    @property
    def neutral_current(self) -> complex:
        """I1 + I2 + I3 on the load side of the meters, rms [A]."""
        return self.solution.rounded_current(complex(self.line_currents.sum()))

    @cached_property
    def plane(self) -> PlanePowers:
        """Powers at the load-side terminals of the meters, by each definition."""
        wires = self.arrangement.conductors.wires
        return plane_powers(self.line_potentials, self.line_currents, wires)

    @cached_property
    def components(self) -> dict[str, tuple[complex, complex, complex]]:
        """Positive, negative and zero components of the line potentials and currents."""
        sequence = self.arrangement.supply.sequence
        pairs = {"voltage": self.line_potentials, "current": self.line_currents}
        return {
            what: tuple(complex(x) for x in symmetrical_components(X, sequence))  # type: ignore[misc]
            for what, X in pairs.items()
        }

    @property
    def true(self) -> complex:
        """Complex power absorbed by the loads [VA]."""
        return sum((load.power for load in self.loads), 0j)

    @property
    def crossing(self) -> complex:
        """Complex power that crosses to what lies beyond the meters [VA]."""
        return sum((self.solution.powers[name] for name in sorted(self._beyond)), 0j)

    @cached_property
    def losses(self) -> dict[str, float]:
        """Active power lost in meters, leads, transformers and separate impedances [W]."""
        return {
            what: sum(
                self.solution.powers[name].real
                for name, role in self.wired.roles.items()
                if role in roles
            )
            for what, roles in LOSSES.items()
        }

    @cached_property
    def nodes(self) -> dict[str, complex]:
        """Potentials of named nodes that are no conductors, to the supply's star point [V]."""
        return {
            node: self.solution.rounded_voltage(v)
            for node, v in self.solution.potentials.items()
            if " " not in node and node not in self.arrangement.conductors.all
        }


def solve_station(number: int | None, arrangement: Arrangement) -> Station:
    """Solve one arrangement.

    Parameters
    ----------
    number : int or None
        Number of the station.
    arrangement : Arrangement
        Supply, loads and meters in circuit together.

    Returns
    -------
    Station
        The solved arrangement.

    Raises
    ------
    NetworkError
        If the network has no unique solution.
    """
    wired = wire(arrangement)
    return Station(number, wired, solve(wired.netlist))

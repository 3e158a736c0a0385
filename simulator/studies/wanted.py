"""What is asked of a network: which phasors, and which products of them make a meter's reading."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from simulator.network.many import Current, Term, Voltage
from simulator.studies.entries import factors_of, fields_of
from simulator.studies.motors import phase_of

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from simulator.installation.loads import Load
    from simulator.metering.arrangement import WiredArrangement
    from simulator.metering.meters import Wattmeter
    from simulator.network.many.system import Wanted

Terms = list[Term]


@dataclass(frozen=True)
class Reading:
    """Which products a wattmeter's reading is made of.

    Attributes
    ----------
    meter : str
        Name of the wattmeter.
    rows : tuple of int
        The reading's row; or, where its factors vary, the rows of Re(V·conj(I)), Im(V·conj(I))
        and |V|².
    """

    meter: str
    rows: tuple[int, ...]


@dataclass
class Questions:
    """Phasors and products asked of one network.

    Attributes
    ----------
    wired : WiredArrangement
        The network.
    entries : mapping of str to complex
        Its numbers in the usual case.
    varying : collection of str
        Which of them vary.
    wanted : dict of (Voltage or Current) to int
        The phasors, each with its place.
    terms : list of list of Term
        The terms of each product.
    """

    wired: WiredArrangement
    entries: Mapping[str, complex]
    varying: Collection[str]
    wanted: dict[Wanted, int] = field(default_factory=dict)
    terms: list[Terms] = field(default_factory=list)

    def phasor(self, what: Wanted) -> int:
        """Ask for a phasor.

        Parameters
        ----------
        what : Voltage or Current
            Which.

        Returns
        -------
        int
            Its place.
        """
        return self.wanted.setdefault(what, len(self.wanted))

    def product(self, terms: Terms) -> int:
        """Ask for a sum of products.

        Parameters
        ----------
        terms : list of Term
            Its terms.

        Returns
        -------
        int
            Its row.
        """
        self.terms.append(terms)
        return len(self.terms) - 1

    def reading(self, meter: Wattmeter) -> Reading:
        """Ask for a wattmeter's reading.

        Parameters
        ----------
        meter : Wattmeter
            The wattmeter.

        Returns
        -------
        Reading
            Which products it is made of.
        """
        place = self.wired.wired[meter.name]
        ends = place.felt or place.ends
        assert ends is not None  # noqa: S101  (every wattmeter has a voltage circuit)
        V = self.phasor(Voltage(*ends))
        I = [
            (self.phasor(Current(element)), winding.sign)
            for winding, element in zip(meter.windings, place.current_circuits, strict=True)
        ]
        factors = factors_of(meter.name)
        if any(name in self.varying for name in factors):
            rows = (
                self.product([Term(V, i, sign) for i, sign in I]),
                self.product([Term(V, i, -1j * sign) for i, sign in I]),
                self.product([Term(V, V)]),
            )
            return Reading(meter.name, rows)
        factor, own = (self.entries[name] for name in factors)
        terms = [Term(V, i, _simple(factor * sign)) for i, sign in I]
        if own:
            terms.append(Term(V, V, own.real))
        return Reading(meter.name, (self.product(terms),))

    def power(self, loads: Collection[Load], weight: complex) -> int:
        """Ask for what all loads take.

        Parameters
        ----------
        loads : collection of Load
            The loads.
        weight : complex
            1 for active power, −j for reactive power.

        Returns
        -------
        int
            Its row.
        """
        terms: Terms = []
        for load in loads:
            for branch in load.branches:
                ends = load.terminal(branch.start), load.terminal(branch.end)
                V = self.phasor(Voltage(*ends))
                I = self.phasor(Current(load.element_name(branch.name)))
                terms.append(Term(V, I, weight))
            if load.motor:
                lines = [load.terminal(line) for line in self.wired.arrangement.conductors.lines]
                for k in (0, 1):  # of three currents that add up to nothing two are enough
                    V = self.phasor(Voltage(lines[k], lines[2]))
                    terms.append(Term(V, self.motor_current(load, k), weight))
        return self.product(terms)

    def motor_current(self, load: Load, line: int) -> int:
        """Ask for a line current of a motor.

        Parameters
        ----------
        load : Load
            The motor.
        line : int
            Which line, 0 to 2.

        Returns
        -------
        int
            Its place.
        """
        element = load.element_name("")
        if any(name in self.varying for name in fields_of(element)):
            return self.phasor(Current(phase_of(element, line)))
        return self.phasor(Current(element, line))

    def squared(self, what: Wanted) -> int:
        """Ask for the square of a phasor's magnitude.

        Parameters
        ----------
        what : Voltage or Current
            Which phasor.

        Returns
        -------
        int
            Its row.
        """
        place = self.phasor(what)
        return self.product([Term(place, place)])


def _simple(weight: complex) -> complex:
    """Give a real weight as a real number."""
    return weight if weight.imag else weight.real

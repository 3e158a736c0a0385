"""Phasors of one network in many cases, in which some of its elements deviate."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import NetworkError
from simulator.network.elements import AdmittanceBlock, Impedance, Source
from simulator.network.laws import equilibrate, laws_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from simulator.network.netlist import Netlist
    from simulator.phasors import ComplexArray

# The current into an element's first terminal by its name, a voltage by its two nodes.
Wanted = str | tuple[str, str]


class DeviatingNetwork:
    """A network of which some elements deviate, ready to be solved for many cases.

    Parameters
    ----------
    netlist : Netlist
        The network; it has a unique solution.
    names : sequence of str
        Elements that deviate.
    wanted : sequence of str or tuple of str
        Elements whose currents, pairs of nodes whose voltages are wanted.

    Notes
    -----
    A case's matrix is A + L·D·R, where A is the network's and the diagonal D holds what deviates.
    With y = R·x follows (1 + R·A⁻¹·L·D)·y = R·A⁻¹·b and x = A⁻¹·(b − L·D·y): exact, and each case
    is only as large as the number of elements that deviate (Woodbury; derived).
    """

    def __init__(self, netlist: Netlist, names: Sequence[str], wanted: Sequence[Wanted]) -> None:
        laws = laws_of(netlist)
        place = {node: k for k, node in enumerate(laws.nodes)}
        branch = {b.name: k for k, b in enumerate(laws.branches, start=len(place))}
        unit = np.eye(len(laws.matrix), dtype=np.complex128)

        def node(name: str) -> ComplexArray:
            own: ComplexArray = unit[place[name]] if name in place else 0 * unit[0]  # the reference
            return own

        known, left, right = [laws.right_side], [], []
        self.sources: list[str] = []
        self.changes: list[tuple[str, Callable[[ComplexArray], ComplexArray]]] = []
        elements = {element.name: element for element in netlist.elements}
        for name in names:
            element = elements[name]
            if isinstance(element, Source):
                known.append(element.emf * unit[branch[name]])
                self.sources.append(name)
            elif isinstance(element, AdmittanceBlock):
                nodes = np.array([node(terminal) for terminal in element.terminals])
                left += list(nodes)
                right += list(element.admittance @ nodes)
                self.changes += [(name, lambda factor: 1 / factor - 1)] * len(nodes)
            elif isinstance(element, Impedance):
                left.append(unit[branch[name]])
                right.append(-element.impedance * unit[branch[name]])
                self.changes.append((name, lambda factor: factor - 1))
            else:
                raise TypeError(f"'{name}' has no impedance that could deviate")
        rows, columns = equilibrate(laws.matrix)
        scaled = laws.matrix * rows[:, None] * columns
        answers = columns[:, None] * np.linalg.solve(
            scaled, rows[:, None] * np.array(known + left).T
        )
        picked = np.array(
            [unit[branch[w]] if isinstance(w, str) else node(w[0]) - node(w[1]) for w in wanted]
        )
        sensed = np.array(right).reshape(len(right), len(unit))
        n = len(known)
        self.known, self.response = picked @ answers[:, :n], picked @ answers[:, n:]
        self.sensed, self.fed_back = sensed @ answers[:, :n], sensed @ answers[:, n:]

    def phasors(self, factors: Mapping[str, ComplexArray]) -> ComplexArray:
        """Solve for many cases.

        Parameters
        ----------
        factors : mapping of str to ndarray of complex, shape (n,)
            By element, what its impedance or a source's emf is multiplied by; a block of several
            terminals keeps its shape, and its admittance is divided.

        Returns
        -------
        ndarray of complex, shape (n_wanted, n)
            The phasors, rms [A] or [V].

        Raises
        ------
        NetworkError
            If a case has no solution.
        """
        ones = np.ones(len(next(iter(factors.values()))), np.complex128)
        weights = np.array([ones, *(factors[name] - 1 for name in self.sources)])
        x: ComplexArray = self.known @ weights
        if self.changes:
            D = np.array([change(factors[name]) for name, change in self.changes])
            matrices = np.eye(len(D)) + self.fed_back[None] * D.T[:, None, :]
            try:
                y = np.linalg.solve(matrices, (self.sensed @ weights).T[..., None])[..., 0].T
            except np.linalg.LinAlgError as error:
                raise NetworkError(
                    "within the tolerances that were given there is a case without a solution"
                ) from error
            x = x - self.response @ (D * y)
        return x

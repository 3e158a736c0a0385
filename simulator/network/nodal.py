"""Complex nodal analysis of one network.

Unknowns are the potentials of all nodes but the reference and the current of every
two-terminal element and transformer. Keeping each impedance as ``V_a − V_b − Z·I = 0`` makes a
0 ohm current circuit nothing special; equilibration by powers of two puts it on the same
scale as a 1 GΩ voltage circuit beside it, so neither costs digits.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import NetworkError
from simulator.network.elements import AdmittanceBlock, IdealTransformer, Impedance, Source
from simulator.network.residual import NEGLIGIBLE, largest_residual
from simulator.network.topology import check_topology

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    from simulator.network.netlist import Netlist

    Complex = npt.NDArray[np.complex128]

# A solution is refused, not returned, beyond these.
LARGEST_RESIDUAL = 1e-9
LARGEST_CONDITION = 1e10


@dataclass(frozen=True)
class Solution:
    """The phasors of a solved network, all rms.

    Attributes
    ----------
    potentials : mapping of str to complex
        Potential of every node against the reference [V].
    currents : mapping of str to ndarray of complex
        Current into each terminal of each element [A], in the order of its terminals (of a
        transformer: both of the primary, both of the secondary).
    powers : mapping of str to complex
        Complex power that each element absorbs [VA].
    condition : float
        1-norm condition number of the equilibrated system.
    residual : float
        Largest relative violation of a node's current sum, of a branch law, or of the power
        balance.
    """

    potentials: Mapping[str, complex]
    currents: Mapping[str, Complex]
    powers: Mapping[str, complex]
    condition: float
    residual: float

    def voltage(self, start: str, end: str) -> complex:
        """Give the voltage from one node to another.

        Parameters
        ----------
        start, end : str
            The nodes.

        Returns
        -------
        complex
            Potential of `start` minus potential of `end` [V].
        """
        return self.potentials[start] - self.potentials[end]

    def current(self, name: str) -> complex:
        """Give the current into an element's first terminal.

        Parameters
        ----------
        name : str
            The element.

        Returns
        -------
        complex
            The current [A].
        """
        return complex(self.currents[name][0])

    def rounded_voltage(self, voltage: complex) -> complex:
        """Take a voltage that is only rounding for none.

        Parameters
        ----------
        voltage : complex
            A voltage found from this solution [V].

        Returns
        -------
        complex
            The voltage, or 0 if it is below 1e-12 of the largest potential [V].
        """
        largest = max(abs(v) for v in self.potentials.values())
        return voltage if abs(voltage) > NEGLIGIBLE * largest else 0j

    def rounded_current(self, current: complex) -> complex:
        """Take a current that is only rounding for none.

        Parameters
        ----------
        current : complex
            A current found from this solution [A].

        Returns
        -------
        complex
            The current, or 0 if it is below 1e-12 of the largest current [A].
        """
        largest = max(float(np.abs(i).max()) for i in self.currents.values())
        return current if abs(current) > NEGLIGIBLE * largest else 0j


@np.errstate(all="ignore")  # what overflows ends as a residual that is no number, and is refused
def solve(netlist: Netlist) -> Solution:
    """Solve a network.

    Parameters
    ----------
    netlist : Netlist
        The network.

    Returns
    -------
    Solution
        Potentials, currents and powers, with residual and condition.

    Raises
    ------
    NetworkError
        If the network has no unique solution, or none that can be trusted.
    """
    check_topology(netlist)
    system = _assemble(netlist)
    x, condition = _solve_equilibrated(system)
    potentials = dict(zip(system.nodes, x.tolist(), strict=False)) | {netlist.reference: 0j}
    currents = _currents(netlist, system, x, potentials)
    powers = {e.name: _power(e, potentials, currents[e.name]) for e in netlist.elements}
    residual = largest_residual(netlist, potentials, currents, powers)
    if not residual <= LARGEST_RESIDUAL:
        raise NetworkError(
            f"the solution does not satisfy the circuit's laws (residual {residual:.1e}); "
            "the element values are too large or differ too widely to be solved together"
        )
    return Solution(potentials, currents, powers, condition, residual)


@dataclass(frozen=True)
class _System:
    matrix: Complex
    right_side: Complex
    nodes: tuple[str, ...]
    branches: tuple[Source | Impedance | IdealTransformer, ...]


def _assemble(netlist: Netlist) -> _System:
    """Stamp node rows first, then one law for each branch current."""
    nodes = tuple(node for node in netlist.nodes if node != netlist.reference)
    row = {node: k for k, node in enumerate(nodes)}
    branches = tuple(e for e in netlist.elements if not isinstance(e, AdmittanceBlock))
    size = len(nodes) + len(branches)
    matrix = np.zeros((size, size), dtype=np.complex128)
    right_side = np.zeros(size, dtype=np.complex128)

    def stamp(pair: tuple[str, str], k: int, in_node: float, in_law: float) -> None:
        for node, sign in zip(pair, (1, -1), strict=True):
            if node in row:
                matrix[row[node], k] += sign * in_node
                matrix[k, row[node]] += sign * in_law

    for k, branch in enumerate(branches, start=len(nodes)):
        if isinstance(branch, IdealTransformer):
            stamp(branch.primary, k, 1, 1)
            stamp(branch.secondary, k, -branch.turns_ratio, -branch.turns_ratio)
        elif isinstance(branch, Impedance) and branch.is_open:
            matrix[k, k] = 1
        else:
            stamp(branch.terminals, k, 1, 1)
            matrix[k, k] -= branch.impedance
            right_side[k] = branch.emf if isinstance(branch, Source) else 0
    for block in netlist.elements:
        if isinstance(block, AdmittanceBlock):
            kept = [k for k, node in enumerate(block.terminals) if node in row]
            rows = [row[block.terminals[k]] for k in kept]
            np.add.at(matrix, np.ix_(rows, rows), block.admittance[np.ix_(kept, kept)])
    return _System(matrix, right_side, nodes, branches)


def _scale(matrix: Complex) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Find powers of two for rows and columns that bring the largest entries near 1."""
    rows, columns = np.ones(len(matrix)), np.ones(len(matrix))
    size = np.abs(matrix)
    for _ in range(6):
        rows *= (step := _towards_one(size.max(axis=1)))
        size *= step[:, None]
        columns *= (step := _towards_one(size.max(axis=0)))
        size *= step
    return rows, columns


def _towards_one(largest: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Square roots of the reciprocals, as powers of two so that scaling rounds nothing."""
    return np.exp2(-np.round(np.log2(np.where(largest > 0, largest, 1)) / 2))


def _solve_equilibrated(system: _System) -> tuple[Complex, float]:
    rows, columns = _scale(system.matrix)
    scaled = system.matrix * rows[:, None] * columns
    try:
        inverse = np.linalg.inv(scaled)
    except np.linalg.LinAlgError:
        inverse = np.full_like(scaled, np.inf)
    condition = float(np.linalg.norm(scaled, 1) * np.linalg.norm(inverse, 1))
    if not condition <= LARGEST_CONDITION:
        raise NetworkError(_undetermined(scaled, system))
    right_side = rows * system.right_side
    x = np.linalg.solve(scaled, right_side)
    x += inverse @ (right_side - scaled @ x)  # so that each law holds to digits of its own
    return columns * x, condition


def _undetermined(scaled: Complex, system: _System) -> str:
    """Name the unknowns that can change without the equations noticing."""
    if not np.all(np.isfinite(scaled)):
        return "the element values are too large or too small to be solved together"
    direction = np.abs(np.linalg.svd(scaled)[2][-1])
    free = np.flatnonzero(direction > 0.3 * direction.max())
    n = len(system.nodes)
    names = [
        f"the potential of '{system.nodes[k]}'"
        if k < n
        else f"the current in '{system.branches[k - n].name}'"
        for k in free
    ]
    return (
        f"the circuit does not determine {' and '.join(names[:6])}: "
        "a resonance without losses, a transformer with nothing connected or in a loop without "
        "impedance, or element values too far apart"
    )


def _currents(
    netlist: Netlist, system: _System, x: Complex, potentials: Mapping[str, complex]
) -> dict[str, Complex]:
    branch_current = dict(
        zip((b.name for b in system.branches), x[len(system.nodes) :], strict=True)
    )
    currents: dict[str, Complex] = {}
    for e in netlist.elements:
        if isinstance(e, AdmittanceBlock):
            currents[e.name] = e.admittance @ np.array([potentials[node] for node in e.terminals])
        elif isinstance(e, IdealTransformer):
            n = e.turns_ratio
            currents[e.name] = branch_current[e.name] * np.array([1, -1, -n, n])
        else:
            currents[e.name] = branch_current[e.name] * np.array([1, -1])
    return currents


def _power(element: object, potentials: Mapping[str, complex], current: Complex) -> complex:
    """Absorbed power; from Z·|I|² where there is a Z, for a small drop has few digits."""
    if isinstance(element, AdmittanceBlock):
        voltages = np.array([potentials[node] for node in element.terminals])
        return complex(np.sum(voltages * current.conj()))
    if isinstance(element, Source):
        return complex(element.emf * current[0].conj() + element.impedance * abs(current[0]) ** 2)
    if isinstance(element, Impedance) and not element.is_open:
        return complex(element.impedance * abs(current[0]) ** 2)
    return 0j

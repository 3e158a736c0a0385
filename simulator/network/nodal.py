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
from simulator.network.laws import equilibrate, laws_of
from simulator.network.residual import NEGLIGIBLE, largest_residual
from simulator.network.topology import check_topology

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    from simulator.network.laws import Laws
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
    laws = laws_of(netlist)
    x, condition = _solve_equilibrated(laws)
    potentials = dict(zip(laws.nodes, x.tolist(), strict=False)) | {netlist.reference: 0j}
    currents = _currents(netlist, laws, x, potentials)
    powers = {e.name: _power(e, potentials, currents[e.name]) for e in netlist.elements}
    residual = largest_residual(netlist, potentials, currents, powers)
    if not residual <= LARGEST_RESIDUAL:
        raise NetworkError(
            f"the solution does not satisfy the circuit's laws (residual {residual:.1e}); "
            "the element values are too large or differ too widely to be solved together"
        )
    return Solution(potentials, currents, powers, condition, residual)


def _solve_equilibrated(laws: Laws) -> tuple[Complex, float]:
    rows, columns = equilibrate(laws.matrix)
    scaled = laws.matrix * rows[:, None] * columns
    try:
        inverse = np.linalg.inv(scaled)
    except np.linalg.LinAlgError:
        inverse = np.full_like(scaled, np.inf)
    condition = float(np.linalg.norm(scaled, 1) * np.linalg.norm(inverse, 1))
    if not condition <= LARGEST_CONDITION:
        raise NetworkError(_undetermined(scaled, laws))
    right_side = rows * laws.right_side
    x = np.linalg.solve(scaled, right_side)
    x += inverse @ (right_side - scaled @ x)  # so that each law holds to digits of its own
    return columns * x, condition


def _undetermined(scaled: Complex, laws: Laws) -> str:
    """Name the unknowns that can change without the equations noticing."""
    if not np.all(np.isfinite(scaled)):
        return "the element values are too large or too small to be solved together"
    direction = np.abs(np.linalg.svd(scaled)[2][-1])
    free = np.flatnonzero(direction > 0.3 * direction.max())
    n = len(laws.nodes)
    names = [
        f"the potential of '{laws.nodes[k]}'"
        if k < n
        else f"the current in '{laws.branches[k - n].name}'"
        for k in free
    ]
    return (
        f"the circuit does not determine {' and '.join(names[:6])}: "
        "a resonance without losses, a transformer with nothing connected or in a loop without "
        "impedance, or element values too far apart"
    )


def _currents(
    netlist: Netlist, laws: Laws, x: Complex, potentials: Mapping[str, complex]
) -> dict[str, Complex]:
    branch_current = dict(zip((b.name for b in laws.branches), x[len(laws.nodes) :], strict=True))
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

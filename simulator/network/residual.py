"""How far a solution is from the circuit's laws, whatever way it was found.

Each mismatch is judged by the largest of the terms it is the sum of, so that a large current
elsewhere does not hide it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.network.elements import AdmittanceBlock, IdealTransformer, Impedance, Source
from simulator.network.netlist import terminals

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    from simulator.network.netlist import Netlist

    Complex = npt.NDArray[np.complex128]

# A phasor below this part of the largest of its kind is rounding.
NEGLIGIBLE = 1e-12
# So is a current or a power below this, in A or VA: where nothing flows there is no largest.
NOTHING = 1e-18


def largest_residual(
    netlist: Netlist,
    potentials: Mapping[str, complex],
    currents: Mapping[str, Complex],
    powers: Mapping[str, complex],
) -> float:
    """Measure how far a solution is from Kirchhoff's laws, branch laws and the power balance.

    Parameters
    ----------
    netlist : Netlist
        The network.
    potentials : mapping of str to complex
        Potential of every node [V].
    currents : mapping of str to ndarray of complex
        Current into each terminal of each element [A].
    powers : mapping of str to complex
        Complex power that each element absorbs [VA].

    Returns
    -------
    float
        The largest relative mismatch; NaN if the solution holds something that is no number.
    """
    mismatches = (
        _law_residual(netlist, potentials, currents),
        _node_residual(netlist, potentials, currents),
        _balance_residual(netlist, potentials, currents, powers),
    )
    return float(np.max(mismatches))  # unlike max(), it does not lose a NaN


def _law_residual(
    netlist: Netlist, potentials: Mapping[str, complex], currents: Mapping[str, Complex]
) -> float:
    """Largest mismatch of a law; voltages below 1e-12 of the network's largest count as none."""
    laws = []
    for e in netlist.elements:
        if isinstance(e, IdealTransformer):
            (a, b), (c, d) = e.primary, e.secondary
            n = e.turns_ratio
            laws.append([potentials[a], -potentials[b], -n * potentials[c], n * potentials[d]])
        elif isinstance(e, Impedance) and e.is_open:
            laws.append([complex(currents[e.name][0])])
        elif isinstance(e, Source | Impedance):
            a, b = e.terminals
            emf = e.emf if isinstance(e, Source) else 0j
            drop = e.impedance * complex(currents[e.name][0])
            laws.append([potentials[a], -potentials[b], -drop, -emf])
    largest = [max(abs(term) for term in law) for law in laws]
    floor = NEGLIGIBLE * max(largest, default=0.0)
    mismatch = [
        abs(sum(law)) / max(size, floor) for law, size in zip(laws, largest, strict=True) if size
    ]
    return float(np.max(mismatch, initial=0.0))


def _node_residual(
    netlist: Netlist, potentials: Mapping[str, complex], currents: Mapping[str, Complex]
) -> float:
    """Largest current sum; currents below 1e-12 of the network's largest count as none."""
    total = dict.fromkeys(netlist.nodes, 0j)
    size = dict.fromkeys(netlist.nodes, 0.0)
    for e in netlist.elements:
        sizes = np.abs(currents[e.name])
        if isinstance(e, AdmittanceBlock):  # small currents of it are sums of larger ones
            sizes = np.abs(e.admittance) @ np.abs([potentials[node] for node in e.terminals])
        for k, node in enumerate(terminals(e)):
            total[node] += complex(currents[e.name][k])
            size[node] += float(sizes[k])
    size[netlist.reference] = sum(size.values())  # the rounding of all other sums meets there
    floor = max(NEGLIGIBLE * max(size.values()), NOTHING)
    return float(np.max([abs(total[n]) / max(size[n], floor) for n in total]))


def _balance_residual(
    netlist: Netlist,
    potentials: Mapping[str, complex],
    currents: Mapping[str, Complex],
    powers: Mapping[str, complex],
) -> float:
    """Sum of all powers over the sum of what they are made of, some of which may cancel."""
    size = sum(abs(power) for power in powers.values())
    for e in netlist.elements:
        if isinstance(e, Source):
            size += abs(e.emf * complex(currents[e.name][0]))
        elif isinstance(e, AdmittanceBlock):
            V = np.abs([potentials[node] for node in e.terminals])
            size += float(V @ np.abs(e.admittance) @ V)
    return abs(sum(powers.values())) / max(size, NOTHING)

"""A network's laws as linear equations, and their scaling."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.network.elements import AdmittanceBlock, IdealTransformer, Impedance, Source

if TYPE_CHECKING:
    import numpy.typing as npt

    from simulator.network.netlist import Netlist

    Complex = npt.NDArray[np.complex128]
    Float = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Laws:
    """Linear equations ``matrix·x = right_side`` of a network.

    Attributes
    ----------
    matrix : ndarray of complex, shape (n, n)
        A row for each node's current law, then one for the law of each branch.
    right_side : ndarray of complex, shape (n,)
        Emfs [V].
    nodes : tuple of str
        Nodes whose potentials are the first unknowns.
    branches : tuple of Source, Impedance or IdealTransformer
        Elements whose currents are the others.
    """

    matrix: Complex
    right_side: Complex
    nodes: tuple[str, ...]
    branches: tuple[Source | Impedance | IdealTransformer, ...]


def laws_of(netlist: Netlist) -> Laws:
    """Write down the laws of a network.

    Parameters
    ----------
    netlist : Netlist
        The network.

    Returns
    -------
    Laws
        Its laws.
    """
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
    return Laws(matrix, right_side, nodes, branches)


def equilibrate(matrices: Complex) -> tuple[Float, Float]:
    """Find powers of two for rows and columns that bring the largest entries near 1.

    Parameters
    ----------
    matrices : ndarray of complex, shape (..., n, n)
        The matrices.

    Returns
    -------
    rows : ndarray of float, shape (..., n)
        Factors of the rows.
    columns : ndarray of float, shape (..., n)
        Factors of the columns.
    """
    size = np.abs(matrices)
    rows, columns = np.ones(size.shape[:-1]), np.ones(size.shape[:-1])
    for _ in range(6):
        rows *= (step := _towards_one(size.max(axis=-1, initial=0)))
        size *= step[..., None]
        columns *= (step := _towards_one(size.max(axis=-2, initial=0)))
        size *= step[..., None, :]
    return rows, columns


def _towards_one(largest: Float) -> Float:
    """Square roots of the reciprocals, as powers of two so that scaling rounds nothing."""
    return np.exp2(-np.round(np.log2(np.where(largest > 0, largest, 1)) / 2))

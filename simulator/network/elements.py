"""The elements a network is made of.

Every current is counted from an element's first terminal through the element to its second
(load reference), so that ``S = V·conj(I)`` is the complex power the element absorbs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt


@dataclass(frozen=True)
class Source:
    """A source emf behind its internal impedance: ``V = emf + Z·I``.

    Attributes
    ----------
    name : str
        What messages call it.
    terminals : tuple of str
        Plus node, minus node.
    emf : complex
        Open-circuit voltage, rms [V].
    impedance : complex
        Internal series impedance [ohm]; 0 for an ideal source.
    """

    name: str
    terminals: tuple[str, str]
    emf: complex
    impedance: complex = 0j


@dataclass(frozen=True)
class Impedance:
    """An impedance between two nodes: 0 is a link, infinity an open.

    Attributes
    ----------
    name : str
        What messages call it.
    terminals : tuple of str
        First node, second node.
    impedance : complex
        Impedance [ohm].
    """

    name: str
    terminals: tuple[str, str]
    impedance: complex

    @property
    def is_open(self) -> bool:
        """Whether no current can flow.

        Returns
        -------
        bool
            True for an infinite impedance.
        """
        return bool(np.isinf(self.impedance))


@dataclass(frozen=True)
class IdealTransformer:
    """Two ideally coupled windings: ``V1 = n·V2`` and ``I2 = −n·I1``.

    Attributes
    ----------
    name : str
        What messages call it.
    primary, secondary : tuple of str
        Marked terminal and the other one, of each winding.
    turns_ratio : float
        n, primary turns to secondary turns.
    """

    name: str
    primary: tuple[str, str]
    secondary: tuple[str, str]
    turns_ratio: float


@dataclass(frozen=True)
class AdmittanceBlock:
    """A passive block of several terminals: the currents into it are ``Y·V``.

    Attributes
    ----------
    name : str
        What messages call it.
    terminals : tuple of str
        The nodes, in the order of the rows of `admittance`.
    admittance : ndarray of complex, shape (n_terminals, n_terminals)
        Nodal admittance matrix of the block [S].
    """

    name: str
    terminals: tuple[str, ...]
    admittance: npt.NDArray[np.complex128]


TwoTerminal = Source | Impedance
Element = Source | Impedance | IdealTransformer | AdmittanceBlock

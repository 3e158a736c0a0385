"""The induction motor by its equivalent circuit, for both rotating fields."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.phasors import A

if TYPE_CHECKING:
    import numpy.typing as npt


@dataclass(frozen=True)
class Motor:
    """Per-phase star equivalent, rotor referred to the stator, isolated star point.

    Attributes
    ----------
    R1, X1 : float
        Stator resistance and leakage reactance [ohm].
    R2, X2 : float
        Rotor resistance and leakage reactance, referred to the stator [ohm].
    Xm : float
        Magnetising reactance [ohm].
    Rc : float
        Iron-loss resistance across Xm [ohm]; infinite for none.
    slip : float
        Slip against the positive-sequence field.
    """

    R1: float
    X1: float
    R2: float
    X2: float
    Xm: float
    Rc: float
    slip: float

    def sequence_impedances(self) -> tuple[complex, complex]:
        """Compute what each rotating field meets.

        Returns
        -------
        positive : complex
            Per-phase impedance at slip s [ohm].
        negative : complex
            Per-phase impedance at slip 2 − s [ohm].

        Notes
        -----
        The circuit of every machines textbook; numeric cases in
        ``tests/against_published``.
        """
        return self._impedance(self.slip), self._impedance(2 - self.slip)

    def _impedance(self, slip: float) -> complex:
        across = 1 / (1j * self.Xm) + (0 if np.isinf(self.Rc) else 1 / self.Rc)
        rotor = slip / (self.R2 + 1j * self.X2 * slip)
        return self.R1 + 1j * self.X1 + 1 / (across + rotor)

    def admittance(self, sequence: int) -> npt.NDArray[np.complex128]:
        """Build the nodal admittance matrix of the three terminals.

        Parameters
        ----------
        sequence : int
            +1 if the supply's positive sequence runs in label order, −1 if not.

        Returns
        -------
        ndarray of complex, shape (3, 3)
            Admittance matrix [S]; it draws no zero-sequence current.
        """
        positive, negative = self.sequence_impedances()
        rotation = np.array([1, A**2, A] if sequence > 0 else [1, A, A**2])
        forward = np.outer(rotation, rotation.conj()) / 3
        block = forward / positive + forward.conj() / negative
        return np.asarray(block, dtype=np.complex128)

"""Motors whose impedances vary: their share of a network that is the same in every case.

A motor meets the two rotating fields with different impedances, so no three impedances are equal
to it. In its place stand three equal impedances Z0 in star, each with an emf in series that makes
up the difference, ``E± = (Z± − Z0)·I±``. Every phasor is linear in these emfs, so three solutions
without them and with either field's settle all cases (derived: superposition).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.network.elements import Source
from simulator.network.netlist import Netlist
from simulator.phasors import from_components, symmetrical_components

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from simulator.network.many import Phasors, Program

    Complex = npt.NDArray[np.complex128]

PROBE = 100.0
"""Emf of the solutions with one field's emfs [V]."""


@dataclass(frozen=True)
class VariedMotor:
    """A motor whose impedances vary.

    Attributes
    ----------
    element : str
        Name of its element.
    sequence : int
        +1 if the supply's positive sequence runs in label order, −1 if not.
    currents : tuple of int
        Places of its line currents in what is wanted.
    usual : complex
        The impedance Z0 that stands for it [ohm].
    """

    element: str
    sequence: int
    currents: tuple[int, int, int]
    usual: complex

    @property
    def sources(self) -> tuple[str, ...]:
        """Names of the three emfs."""
        return tuple(phase_of(self.element, k) for k in range(3))


def phase_of(element: str, line: int) -> str:
    """Name what stands in a motor's place in one line.

    Parameters
    ----------
    element : str
        Name of the motor's element.
    line : int
        Which line, 0 to 2.

    Returns
    -------
    str
        The name of the element.
    """
    return f"{element} in phase {line + 1}"


def without_motors(netlist: Netlist, usual: dict[str, complex]) -> Netlist:
    """Put impedances with emfs in the place of motors.

    Parameters
    ----------
    netlist : Netlist
        The network.
    usual : dict of str to complex
        By name of the motor's element, the impedance that stands for it [ohm].

    Returns
    -------
    Netlist
        The other network.
    """
    elements = []
    for e in netlist.elements:
        if e.name not in usual:
            elements.append(e)
            continue
        star = f"star point of {e.name}"
        elements += [
            Source(phase_of(e.name, k), (node, star), 0j, usual[e.name])
            for k, node in enumerate(e.terminals)  # type: ignore[union-attr]
        ]
    return Netlist(tuple(elements), netlist.reference)


def solve_with_motors(
    program: Program, values: Complex, motors: Sequence[VariedMotor], impedances: Complex
) -> Phasors:
    """Solve cases of a network with motors that vary.

    Parameters
    ----------
    program : Program
        The network with emfs in the motors' place, which are the last of its values.
    values : ndarray of complex, shape (n_values, n)
        Its other values [ohm], [V].
    motors : sequence of VariedMotor, shape (m,)
        The motors.
    impedances : ndarray of complex, shape (2m, n)
        Their impedances for the positive and the negative field [ohm].

    Returns
    -------
    Phasors
        What is wanted, with the motors in circuit.
    """
    n, m = values.shape[1], len(motors)
    fields = 2 * m
    stacked = np.zeros((len(values) + 3 * m, 1 + fields, n), dtype=np.complex128)
    stacked[: len(values)] = values[:, None]
    for k, motor in enumerate(motors):
        rows = slice(len(values) + 3 * k, len(values) + 3 * k + 3)
        for field in (0, 1):
            positive, negative = (1, 0) if field == 0 else (0, 1)
            emfs = from_components(positive, negative, 0, motor.sequence)
            stacked[rows, 1 + 2 * k + field] = PROBE * emfs[:, None]
    solved = program.run(stacked.reshape(len(stacked), -1))
    x = solved.values.reshape(-1, 1 + fields, n)
    x[:, 1:] = (x[:, 1:] - x[:, :1]) / PROBE
    currents = np.empty((fields, 1 + fields, n), dtype=np.complex128)
    for k, motor in enumerate(motors):
        lines = np.moveaxis(x[list(motor.currents)], 0, -1)
        currents[2 * k : 2 * k + 2] = symmetrical_components(lines, motor.sequence)[:2]
    usual = np.repeat([motor.usual for motor in motors], 2)[:, None]
    emfs = _emfs(currents, impedances - usual)
    x[:, 0] += np.einsum("wfn,fn->wn", x[:, 1:], emfs)
    failed = {case % n: message for case, message in solved.failed.items()}
    phasors = np.ascontiguousarray(x[:, 0])
    for case in np.flatnonzero(~np.isfinite(phasors).all(axis=0)).tolist():
        failed.setdefault(case, "the motor and the circuit around it have no unique solution")
    return type(solved)(phasors, failed)


def _emfs(currents: Complex, difference: Complex) -> Complex:
    """Solve ``E = ΔZ·(I0 + G·E)`` in every case."""
    without, response = currents[:, 0], currents[:, 1:]
    matrices = np.eye(len(difference)) - np.moveaxis(difference[:, None] * response, -1, 0)
    right = np.moveaxis(difference * without, -1, 0)[..., None]
    every = (1, 2)
    sound = np.asarray(np.isfinite(matrices).all(axis=every) & np.isfinite(right).all(axis=every))
    determinants = np.linalg.det(np.where(sound[:, None, None], matrices, 0))
    (good,) = np.nonzero(sound & (np.abs(determinants) > 1e-12))
    emfs = np.full(right.shape, np.nan, dtype=np.complex128)
    emfs[good] = np.linalg.solve(matrices[good], right[good])
    return np.moveaxis(emfs[..., 0], 0, -1)

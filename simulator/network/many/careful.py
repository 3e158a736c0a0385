"""Single cases and stacks of them by LAPACK, however extreme their values are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import NetworkError
from simulator.network.laws import equilibrate
from simulator.network.nodal import solve

if TYPE_CHECKING:
    import numpy.typing as npt

    from simulator.network.many.system import System

    Complex = npt.NDArray[np.complex128]
    Bool = npt.NDArray[np.bool_]

CHUNK = 128
# Beyond this, as the probe sees it, a case is solved by itself: that tells what is wrong with it.
LARGEST_CONDITION = 1e7
GOLDEN = (5**0.5 - 1) / 2


def solve_carefully(system: System, values: Complex) -> tuple[Complex, dict[int, str]]:
    """Solve cases however extreme their values are.

    Parameters
    ----------
    system : System
        The system.
    values : ndarray of complex, shape (n_varying, n_cases)
        Impedances [ohm], then emfs [V]; infinite for an open.

    Returns
    -------
    unknowns : ndarray of complex, shape (n, n_cases)
        Potentials and branch currents; NaN where there is no unique solution.
    failed : dict of int to str
        What is wrong with the cases that have none.
    """
    n, cases = len(system.matrix), values.shape[1]
    unknowns = np.empty((n, cases), dtype=np.complex128)
    failed: dict[int, str] = {}
    probe = spread(n)
    with np.errstate(all="ignore"):
        for start in range(0, cases, CHUNK):
            part = slice(start, start + CHUNK)
            matrices, right_sides = matrices_of(system, values[:, part])
            rows, columns = equilibrate(matrices)
            matrices *= rows[..., None] * columns[:, None]
            sides = np.stack([right_sides * rows, np.broadcast_to(probe, rows.shape)], axis=-1)
            solved = solve_stack(matrices, sides)
            # once more for the rest, so that each law holds to digits of its own
            solved += solve_stack(matrices, sides - matrices @ solved)
            unknowns[:, part] = (columns * solved[..., 0]).T
            doubtful = doubtful_cases(unknowns[:, part], solved[..., 1] @ probe)
            for k in (start + np.flatnonzero(doubtful)).tolist():
                unknowns[:, k], failed[k] = _solve_alone(system, values[:, k])
    return unknowns, {k: message for k, message in failed.items() if message}


def _solve_alone(system: System, values: Complex) -> tuple[Complex, str]:
    n = len(system.impedances)
    bad = np.isnan(values) | (np.isinf(values) & (np.arange(len(values)) >= n))
    if bad.any():
        k = int(bad.argmax())
        message = f"expected a number for '{system.names[k]}', got {values[k]:g}"
        return np.full(len(system.matrix), np.nan), message
    try:
        solution = solve(system.with_values(values))
    except NetworkError as error:
        return np.full(len(system.matrix), np.nan), str(error)
    potentials = [solution.potentials[node] for node in system.nodes]
    return np.array(potentials + [solution.current(name) for name in system.branches.values()]), ""


def doubtful_cases(phasors: Complex, probed: Complex) -> Bool:
    """Tell solutions that are none, or that are of nearly singular equations.

    Parameters
    ----------
    phasors : ndarray of complex, shape (m, n_cases)
        The solutions.
    probed : ndarray of complex, shape (n_cases,)
        A combination of the scaled solutions for another right side; with numbers of magnitude
        1 on either side it is about as large as the condition.

    Returns
    -------
    ndarray of bool, shape (n_cases,)
        True for these.
    """
    good: Bool = np.abs(probed) <= LARGEST_CONDITION
    return ~(good & np.isfinite(phasors).all(axis=0))


def spread(n: int) -> Complex:
    """Spread numbers over the unit circle, so that no simple combination of them vanishes.

    Parameters
    ----------
    n : int
        How many.

    Returns
    -------
    ndarray of complex, shape (n,)
        The numbers.
    """
    return np.asarray(np.exp(2j * np.pi * GOLDEN * np.arange(1, n + 1) ** 2))


def solve_stack(matrices: Complex, right_sides: Complex) -> Complex:
    """Solve a stack of equations, singular ones among them to infinity.

    Parameters
    ----------
    matrices : ndarray of complex, shape (n_cases, n, n)
        The matrices.
    right_sides : ndarray of complex, shape (n_cases, n, m)
        The right sides.

    Returns
    -------
    ndarray of complex, shape (n_cases, n, m)
        The solutions.
    """
    try:
        return np.asarray(np.linalg.solve(matrices, right_sides), dtype=np.complex128)
    except np.linalg.LinAlgError:  # it does not say which, and gives none of the others
        singular = np.linalg.slogdet(matrices).sign == 0
        sound = np.where(singular[:, None, None], np.eye(matrices.shape[-1]), matrices)
        solved = np.linalg.solve(sound, right_sides).astype(np.complex128)
        solved[singular] = np.inf
        return solved


@np.errstate(divide="ignore", invalid="ignore")
def matrices_of(system: System, values: Complex) -> tuple[Complex, Complex]:
    """Build the matrices and right sides of cases, every branch with its law.

    Parameters
    ----------
    system : System
        The system.
    values : ndarray of complex, shape (n_varying, n_cases)
        Impedances [ohm], then emfs [V].

    Returns
    -------
    matrices : ndarray of complex, shape (n_cases, n, n)
        The matrices.
    right_sides : ndarray of complex, shape (n_cases, n)
        The right sides.

    Notes
    -----
    The law of an impedance above 1 ohm is divided by it, so that an open one has a law too.
    """
    k, cases = len(system.impedances), values.shape[1]
    matrices = np.repeat(system.matrix[None], cases, axis=0)
    right_sides = np.repeat(system.right_side[None], cases, axis=0)
    right_sides[:, system.emfs] = values[k:].T
    for i, Z in zip(system.impedances, values[:k], strict=True):
        factor = np.where(np.abs(Z) > 1, 1 / Z, 1)
        matrices[:, i] *= factor[:, None]
        matrices[:, i, i] = -np.where(np.abs(Z) > 1, 1, Z)
        right_sides[:, i] *= factor
    return matrices, right_sides

"""A system's equations for the elimination: as they stand, or reduced to the varying branches."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.network.many.elimination import KNOWN, Equations, NoOrderError

if TYPE_CHECKING:
    import numpy.typing as npt

    from simulator.network.many.elimination import Row
    from simulator.network.many.expressions import Expressions
    from simulator.network.many.system import System

    Complex = npt.NDArray[np.complex128]
    Float = npt.NDArray[np.float64]

# The current of a varying branch is eliminated only for a pivot this much larger.
RELUCTANCE = 0.1
ROUNDING = 16 * np.finfo(float).eps
SMALLEST_PIVOT = 1e-12


def sparse_equations(x: Expressions, system: System, inputs: list[int], rows: Float) -> Equations:
    """Write a system's equations as they stand.

    Parameters
    ----------
    x : Expressions
        Where to record.
    system : System
        The system.
    inputs : list of int
        References to its varying values.
    rows : ndarray of float, shape (n, n_samples)
        Factors that equilibrate the rows in each sample case.

    Returns
    -------
    Equations
        The equations.
    """
    table: list[Row] = [{} for _ in system.matrix]
    for i, j in np.argwhere(system.matrix).tolist():
        table[i][j] = x.constant(system.matrix[i, j])
    for i in np.flatnonzero(system.right_side).tolist():
        table[i][KNOWN] = x.constant(system.right_side[i])
    n = len(system.impedances)
    for i, ref in zip(system.impedances, inputs[:n], strict=True):
        table[i][i] = -ref
    for i, ref in zip(system.emfs, inputs[n:], strict=True):
        table[i][KNOWN] = ref
    wanted = [{j: x.constant(c[j]) for j in np.flatnonzero(c).tolist()} for c in system.wanted]
    return Equations(table, rows, wanted)


def port_equations(
    x: Expressions, system: System, inputs: list[int], rows: Float, columns: Float
) -> list[Equations]:
    """Reduce a system to as many equations as impedances vary.

    Parameters
    ----------
    x : Expressions
        Where to record.
    system : System
        The system.
    inputs : list of int
        References to its varying values.
    rows, columns : ndarray of float, shape (n, n_samples)
        Factors that equilibrate the system in each sample case.

    Returns
    -------
    list of Equations
        The laws of the varying branches, seen from their terminals; the rest of the network
        acts on them as one block with constant coefficients. None where the rest of the network
        has no solution, whatever the values.
    """
    k = len(system.impedances)
    rest = [i for i in range(len(system.matrix)) if i not in system.impedances]
    known = np.zeros((len(system.matrix), 1 + len(system.emfs)), dtype=np.complex128)
    known[:, 0] = system.right_side
    known[list(system.emfs), range(1, known.shape[1])] = 1
    row, column = rows[rest, 0], columns[:, 0]
    try:
        solution, left = _solve_first(
            system.matrix[rest] * row[:, None] * column,
            known[rest] * row[:, None],
            system.impedances,
        )
    except NoOrderError:
        return []
    # unknowns = solution @ (1, emfs, unknowns left)
    solution *= column[:, None]
    solution[:, known.shape[1] :] /= column[left]
    terms = [x.constant(1), *inputs[k:]]

    def summed(factors: Complex) -> int:
        ref = 0
        for factor, term in zip(factors.tolist(), terms, strict=True):
            ref = x.add(ref, x.multiply(x.constant(factor), term))
        return ref

    def combination(coefficients: Complex) -> Row:
        total = coefficients @ solution
        total[np.abs(total) <= ROUNDING * (np.abs(coefficients) @ np.abs(solution))] = 0
        constants = [x.constant(c) for c in total[len(terms) :].tolist()]
        return dict(zip(left, constants, strict=True)) | {KNOWN: summed(total[: len(terms)])}

    table = []
    for i, Z in zip(system.impedances, inputs[:k], strict=True):
        law, current = combination(system.matrix[i]), combination(np.eye(len(solution))[i])
        row_i = {j: x.add(law[j], -x.multiply(Z, current[j])) for j in law}
        row_i[KNOWN] = x.add(summed(known[i]), -row_i[KNOWN])
        table.append(_without_zeros(row_i))
    wanted = [_without_zeros(combination(c)) for c in system.wanted]
    return [Equations(table, rows[list(system.impedances)], wanted)]


def _without_zeros(row: Row) -> Row:
    return {j: ref for j, ref in row.items() if ref}


def _solve_first(
    matrix: Complex, known: Complex, reluctant: tuple[int, ...]
) -> tuple[Complex, list[int]]:
    """Solve equilibrated rows for as many unknowns, by complete pivoting.

    All unknowns are the first array times what is known and the unknowns in the list.
    """
    n = matrix.shape[1]
    table = np.hstack([matrix, known])
    weight = np.ones(n)
    weight[list(reluctant)] = RELUCTANCE
    row_of: dict[int, int] = {}
    for _ in matrix:
        size = np.abs(table[:, :n]) * weight
        size[list(row_of.values())] = 0
        i, j = divmod(int(size.argmax()), n)
        if size[i, j] < SMALLEST_PIVOT:
            raise NoOrderError
        table[i] /= table[i, j]
        factors = table[:, j].copy()
        factors[i] = 0
        change = np.outer(factors, table[i])
        table -= change
        table[np.abs(table) <= ROUNDING * np.abs(change)] = 0
        row_of[j] = i
    left = [j for j in range(n) if j not in row_of]
    solution = np.zeros((n, known.shape[1] + len(left)), dtype=np.complex128)
    for j, i in row_of.items():
        solution[j] = np.concatenate([table[i, n:], -table[i, left]])
    solution[left, range(known.shape[1], solution.shape[1])] = 1
    return solution, left

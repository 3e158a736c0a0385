"""From a system to a tape: the cheapest elimination that is right in the samples."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.network.laws import equilibrate
from simulator.network.many.careful import solve_carefully
from simulator.network.many.elimination import NoOrderError, eliminate
from simulator.network.many.equations import port_equations, sparse_equations
from simulator.network.many.expressions import Expressions
from simulator.network.many.recorder import Guard, record

if TYPE_CHECKING:
    import numpy.typing as npt

    from simulator.network.many.elimination import Equations, Pivot
    from simulator.network.many.system import System
    from simulator.network.many.tape import Tape

    Complex = npt.NDArray[np.complex128]
    Float = npt.NDArray[np.float64]

# A value, or the reciprocal of a pivot, may exceed those of the samples by this factor; beyond,
# LAPACK solves the case. Of 349 056 cases made to break programs (`test_many_random.tally`),
# the elimination alone spoiled 11 280, and all of them were beyond; with 64, too.
MARGIN = 16
# Of its column's largest entry, a pivot may be so small; the second is for circuits in which
# the program found with the first is not accurate.
THRESHOLDS = (0.1, 0.5)
# A program must not differ by more than this from LAPACK in the samples, or by a sixteenth of
# what their condition costs.
ACCURACY = 1e-14
# Samples worse conditioned than this do not count: their digits are lost by any method.
WORST_CONDITION = 1e6
# Reducing a network to the varying branches pays only for few of them.
MOST_PORTS = 6


def compile_tape(system: System, samples: Complex) -> Tape | None:
    """Compile a system.

    Parameters
    ----------
    system : System
        The system.
    samples : ndarray of complex, shape (n_varying, n_samples)
        Usual values, impedances [ohm] before emfs [V].

    Returns
    -------
    Tape or None
        The program; None if no order of elimination is accurate in the samples.
    """
    samples = samples[:, np.isfinite(samples).all(axis=0)]
    matrices = np.repeat(system.matrix[None], samples.shape[1], axis=0)
    matrices[:, system.impedances, system.impedances] = -samples[: len(system.impedances)].T
    rows, columns = equilibrate(matrices)
    with np.errstate(all="ignore"):
        condition = np.linalg.cond(matrices * rows[..., None] * columns[:, None], 1)
    good = condition <= WORST_CONDITION
    if not good.any():
        return None
    samples, rows, columns = samples[:, good], rows[good].T, columns[good].T
    unknowns, _ = solve_carefully(system, samples)
    truth = system.wanted @ unknowns
    allowed = np.maximum(ACCURACY, np.finfo(float).eps * condition[good] / 16)
    x = Expressions()
    inputs = [x.input(k, values) for k, values in enumerate(samples)]
    ways = [sparse_equations(x, system, inputs, rows)]
    if len(system.impedances) <= MOST_PORTS:
        ways += port_equations(x, system, inputs, rows, columns)
    found = [
        solved
        for equations in ways
        if (solved := _solve(x, equations, truth, allowed * system.scales(unknowns)))
    ]
    if not found:
        return None
    outputs, pivots = min(found, key=lambda solved: x.cost(solved[0]))
    needed = x.needed(outputs)
    unused = tuple(
        k for k in range(len(system.impedances)) if inputs[k] not in needed and samples[k].all()
    )
    limits = _limits(system, samples, rows, columns)
    return record(x, limits, outputs, _guards(x, outputs, pivots), unused)


def _solve(
    x: Expressions, equations: Equations, truth: Complex, allowed: Float
) -> tuple[list[int], list[Pivot]] | None:
    """Eliminate with the lowest threshold that is accurate in the samples."""
    for threshold in THRESHOLDS:
        try:
            outputs, pivots = eliminate(x, equations, threshold)
        except NoOrderError:
            return None
        result = [np.broadcast_to(x.in_samples(ref), truth[0].shape) for ref in outputs]
        if np.all(np.abs(np.array(result) - truth) <= allowed):
            return outputs, pivots
    return None


def _limits(system: System, samples: Complex, rows: Float, columns: Float) -> Float:
    """Largest usual magnitude of each value; of an emf any number is usual."""
    largest = np.full(len(samples), np.finfo(float).max)
    for k, i in enumerate(system.impedances):
        base = 1 / (rows[i] * columns[i]).min()  # beside it, anything smaller is nothing
        largest[k] = max(MARGIN * np.abs(samples[k]).max(), base)
    return largest


def _guards(x: Expressions, outputs: list[int], pivots: list[Pivot]) -> list[Guard]:
    """Bound the reciprocals of all pivots by what they are in samples where they are large."""
    needed = set(x.needed(outputs))
    limits: dict[int, float] = {}
    for pivot in pivots:
        inverse = abs(x.reciprocal(pivot.ref))
        if not x.is_constant(inverse) and inverse in needed:
            limit = MARGIN * float(np.abs(x.samples[inverse][pivot.good]).max())
            limits[inverse] = min(limit, limits.get(inverse, limit))
    return [Guard(inverse, limit) for inverse, limit in limits.items()]

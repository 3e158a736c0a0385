"""Few cases, and the audit of many: equations as a person would write them, for LAPACK."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.network.elements import IdealTransformer
from simulator.network.laws import equilibrate
from simulator.network.many.careful import doubtful_cases, matrices_of, solve_stack, spread

if TYPE_CHECKING:
    import numpy.typing as npt

    from simulator.network.many.system import System

    Complex = npt.NDArray[np.complex128]
    Bool = npt.NDArray[np.bool_]
    Float = npt.NDArray[np.float64]
    Index = npt.NDArray[np.intp]

# Cases in one stack: more leave the cache, fewer do not pay the calls.
CHUNK = 512
# A branch whose scaled impedance is at least this may be put in as an admittance.
LARGE = 2.0**-8
# What stands in the matrix may exceed what usually does by this factor, beyond which it costs
# digits of its neighbours; and an admittance be so much less, beyond which its current loses them.
MARGIN, OPEN_MARGIN = 16, 1024


@dataclass(frozen=True)
class Stack:
    """Equations of many cases, as few as a person would write.

    Potentials that ideal sources fix are no unknowns, nor are the currents of these sources and
    of large impedances. Rows and columns are scaled by what equilibrates a usual case. What is
    linear in the sources multiplies ``(1, emfs)``.

    Attributes
    ----------
    matrix : ndarray of complex, shape (n·n,)
        What is constant.
    inverted : ndarray of bool, shape (n_impedances, 1)
        Which of the impedances enter as their reciprocals.
    least, most : ndarray of float, shape (n_impedances, 1)
        How small and how large they, or their reciprocals, may be.
    places : ndarray of int, shape (n_places,)
        Places in the matrix where impedances enter.
    entries : ndarray of complex, shape (n_places, 1)
        What is constant there.
    factors : ndarray of complex, shape (n_places, n_impedances)
        With what factors they enter.
    unused : tuple of int
        Impedances that enter nowhere.
    sides : ndarray of complex, shape (n, 1 + n_emfs)
        The right side, as far as it is constant or emfs.
    pairs : tuple of ndarray of int, shape (n_pairs,)
        Impedances, and known potentials with which they enter the right side as products.
    pair_factors : ndarray of complex, shape (n, n_pairs)
        With what factors they do.
    known : ndarray of complex, shape (n_known, 1 + n_emfs)
        The potentials that are known.
    wanted, wanted_known : ndarray of complex, shape (n_wanted, n) and (n_wanted, n_known)
        What is wanted, as combinations of the unknowns and of the known potentials.
    probe : ndarray of complex, shape (n,)
        Another right side, and what makes of its solution one number: where that is large, the
        equations are nearly singular.
    """

    matrix: Complex
    inverted: Bool
    least: Float
    most: Float
    places: Index
    entries: Complex
    factors: Complex
    unused: tuple[int, ...]
    sides: Complex
    pairs: tuple[Index, Index]
    pair_factors: Complex
    known: Complex
    wanted: Complex
    wanted_known: Complex
    probe: Complex

    def solve(self, values: Complex) -> tuple[Complex, Bool]:
        """Solve cases.

        Parameters
        ----------
        values : ndarray of complex, shape (n_varying, n_cases)
            Impedances [ohm], then emfs [V].

        Returns
        -------
        phasors : ndarray of complex, shape (n_wanted, n_cases)
            What is wanted.
        doubtful : ndarray of bool, shape (n_cases,)
            Where the equations are singular, nearly so, or values too far from the usual.
        """
        cases = values.shape[1]
        phasors = np.empty((len(self.wanted), cases), dtype=np.complex128)
        doubtful = np.empty(cases, dtype=bool)
        with np.errstate(all="ignore"):
            for start in range(0, cases, CHUNK):
                part = slice(start, start + CHUNK)
                phasors[:, part], doubtful[part] = self._solve(values[:, part])
        return phasors, doubtful

    def _solve(self, values: Complex) -> tuple[Complex, Bool]:
        k, n, cases = len(self.inverted), len(self.probe), values.shape[1]
        terms = np.where(self.inverted, 1 / values[:k], values[:k])
        sources = np.empty((1 + len(values) - k, cases), dtype=np.complex128)
        sources[0], sources[1:] = 1, values[k:]
        known = self.known @ sources
        matrices = np.repeat(self.matrix[None], cases, axis=0)
        matrices[:, self.places] = (self.entries + self.factors @ terms).T
        right = np.empty((cases, n, 2), dtype=np.complex128)
        numbers, potentials = self.pairs
        products = terms[numbers] * known[potentials]
        right[..., 0] = (self.sides @ sources + self.pair_factors @ products).T
        right[..., 1] = self.probe
        solved = solve_stack(matrices.reshape(cases, n, n), right)
        phasors = self.wanted @ solved[..., 0].T
        phasors += self.wanted_known @ known
        doubtful = doubtful_cases(phasors, solved[..., 1] @ self.probe)
        sizes = np.abs(terms)
        doubtful |= ((sizes > self.most) | (sizes < self.least)).any(axis=0)
        for number in self.unused:
            doubtful |= values[number] == 0
        return phasors, doubtful


@np.errstate(divide="ignore")
def stack_of(system: System, samples: Complex) -> Stack:
    """Lay out a system's equations for LAPACK.

    Parameters
    ----------
    system : System
        The system.
    samples : ndarray of complex, shape (n_varying, n_samples)
        Usual values.

    Returns
    -------
    Stack
        The equations.
    """
    large = _large(system, samples)
    fixed, fixing, known = _known(system)
    gone = {*fixed, *fixing, *large}
    keep = [k for k in range(len(system.matrix)) if k not in gone]
    matrix = system.matrix.copy()
    for i in set(large) - set(system.impedances):
        matrix -= np.outer(system.matrix[:, i], system.matrix[i]) / system.matrix[i, i]
    inverted = np.isin(system.impedances, large)
    added = np.zeros((len(inverted), *matrix.shape))
    for out, i, inverse in zip(added, system.impedances, inverted, strict=True):
        if inverse:  # what a branch adds to nodes, and what its law asks of them, is ±1
            out[:] = np.outer(system.matrix[:, i], system.matrix[i]).real
        else:
            out[i, i] = -1
    terms = samples[: len(inverted), 0].copy()
    terms[inverted] = 1 / terms[inverted]
    usual = (matrix + np.tensordot(terms, added, axes=1))[np.ix_(keep, keep)]
    rows, columns = equilibrate(usual)
    scale = rows[:, None] * columns
    size = np.abs(samples[: len(inverted)])
    least = np.where(inverted, 1 / size.max(axis=1), 0) / OPEN_MARGIN
    most = MARGIN * np.where(inverted, 1 / size.min(axis=1), size.max(axis=1))
    for k in np.flatnonzero(~inverted).tolist():
        here = keep.index(system.impedances[k])
        most[k] = max(most[k], 1 / scale[here, here])  # beside it, anything less is nothing
    factors = (added[:, keep][:, :, keep] * scale).reshape(len(added), scale.size).T
    places = np.flatnonzero(factors.any(axis=1))
    pair_factors = -added[:, keep][:, :, fixed] * rows[:, None]
    numbers, potentials = np.nonzero(pair_factors.any(axis=1))
    used = np.asarray(factors.any(axis=0))
    used[numbers] = True
    constant = (matrix[np.ix_(keep, keep)] * scale).reshape(-1)
    return Stack(
        constant,
        inverted[:, None],
        least[:, None],
        most[:, None],
        places,
        constant[places, None],
        factors[places].astype(np.complex128),
        tuple(np.flatnonzero(~used).tolist()),
        (_sides(system)[keep] - matrix[np.ix_(keep, fixed)] @ known) * rows[:, None],
        (numbers, potentials),
        pair_factors[numbers, :, potentials].T.astype(np.complex128),
        known,
        system.wanted[:, keep] * columns,
        system.wanted[:, fixed],
        spread(len(keep)),
    )


def _large(system: System, samples: Complex) -> list[int]:
    """List the branches without emf whose impedance is large, and whose current is not wanted."""
    matrices, _ = matrices_of(system, samples)
    rows, columns = equilibrate(matrices)
    scaled = (np.abs(np.einsum("bii->bi", matrices)) * rows * columns).min(axis=0)
    other = np.any(system.wanted, axis=0) | np.any(_sides(system), axis=1)
    return [i for i in system.branches if scaled[i] >= LARGE and not other[i]]


def _known(system: System) -> tuple[list[int], list[int], Complex]:
    """Find potentials that do not depend on impedances, and the branches that fix them.

    These are branches without impedance whose current is not wanted; what is known is linear
    in ``(1, emfs)``.
    """
    transformers = {e.name for e in system.netlist.elements if isinstance(e, IdealTransformer)}
    rigid = [
        i
        for i, name in system.branches.items()
        if not system.matrix[i, i]
        and i not in system.impedances
        and name not in transformers
        and not system.wanted[:, i].any()
    ]
    sides = _sides(system)
    potentials: dict[int, Complex] = {}
    fixing: list[int] = []
    found = True
    while found:
        found = False
        for i in rigid:
            nodes = np.flatnonzero(system.matrix[i]).tolist()
            unknown = [k for k in nodes if k not in potentials]
            if len(unknown) == 1:
                rest = [system.matrix[i, k] * potentials[k] for k in nodes if k in potentials]
                potentials[unknown[0]] = (sides[i] - sum(rest)) / system.matrix[i, unknown[0]]
                fixing.append(i)
                found = True
    known = np.array(list(potentials.values())).reshape(-1, sides.shape[1])
    return list(potentials), fixing, known


def _sides(system: System) -> Complex:
    """Write the right side as linear in ``(1, emfs)``."""
    sides = np.zeros((len(system.matrix), 1 + len(system.emfs)), dtype=np.complex128)
    sides[:, 0] = system.right_side
    sides[system.emfs, range(1, sides.shape[1])] = 1
    return sides

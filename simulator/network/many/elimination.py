"""Gaussian elimination, recorded once for all cases of a topology.

The order of pivots is Markowitz's with the work that varies as its measure: what is constant is
folded while recording, and costs nothing later (H. M. Markowitz, "The elimination form of the
inverse and its application to linear programming", Management Science 3, 1957; cited from
memory). A pivot must not be much smaller than any other entry of its column, in every sample
case, each scaled by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.network.many.expressions import CONSTANT, COST, UNIT, VARYING

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    from simulator.network.many.expressions import Expressions

    Row = dict[int, int]
    Bool = npt.NDArray[np.bool_]
    Float = npt.NDArray[np.float64]

# The column of the right side.
KNOWN = -1
# Of how many unknowns without further equations the value is needed.
NEEDED = 0.2
# What an entry that was zero before is reckoned to cost later, in multiplications.
FILL = 0.6


class NoOrderError(Exception):
    """No order of pivots is good in the sample cases."""


@dataclass(frozen=True)
class Equations:
    """Sparse equations whose coefficients are expressions.

    Attributes
    ----------
    rows : list of dict
        For each equation, reference to the coefficient of each unknown; under KNOWN that of
        the right side.
    scales : ndarray of float, shape (n_rows, n_samples)
        Factors that equilibrate the rows in each sample case.
    wanted : list of dict
        What is wanted as combinations of unknowns; under KNOWN a term of its own.
    """

    rows: list[Row]
    scales: Float
    wanted: list[Row]


class Pivot(NamedTuple):
    """A pivot of the elimination.

    Attributes
    ----------
    row, column : int
        Where it stood.
    ref : int
        Reference to its value.
    good : ndarray of bool, shape (n_samples,)
        In which sample cases it was large enough.
    """

    row: int
    column: int
    ref: int
    good: Bool


def eliminate(
    x: Expressions, equations: Equations, threshold: float
) -> tuple[list[int], list[Pivot]]:
    """Record the solution of equations.

    Parameters
    ----------
    x : Expressions
        Where to record; holds the coefficients.
    equations : Equations
        The equations; left as they are.
    threshold : float
        What part of the largest entry of its column a pivot must be.

    Returns
    -------
    wanted : list of int
        References to what is wanted.
    pivots : list of Pivot
        The pivots in their order.

    Raises
    ------
    NoOrderError
        If at some step every pivot is too small in all sample cases.
    """
    work = _Elimination(x, [dict(row) for row in equations.rows], equations.scales, threshold)
    pivots = work.run()
    rows = {pivot.column: work.rows[pivot.row] for pivot in pivots}
    solved = _Solved(x, rows, {column: k for k, column in enumerate(rows)})
    ways = [solved.combine(equations.wanted, fold=fold) for fold in (True, False)]
    return min(ways, key=x.cost), pivots


@dataclass
class _Elimination:
    x: Expressions
    rows: list[Row]
    scales: Float
    threshold: float
    columns: dict[int, set[int]] = field(default_factory=dict)
    costs: dict[tuple[int, int], tuple[float, int]] = field(default_factory=dict)
    sizes: dict[int, Float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for i, row in enumerate(self.rows):
            for j in row.keys() - {KNOWN}:
                self.columns.setdefault(j, set()).add(i)
        self.price(self.columns)

    def run(self) -> list[Pivot]:
        pivots = []
        for _ in self.rows:
            pivots.append(self.choose())
            self.eliminate(pivots[-1])
        return pivots

    def price(self, columns: Iterable[int]) -> None:
        """Find the costs of all pivots in some columns, and the fill they may cause."""
        for j in columns:
            for i in self.columns[j]:
                fill = (len(self.rows[i]) - 1) * (len(self.columns[j]) - 1)
                self.costs[i, j] = self.cost(i, j), fill

    def cost(self, i: int, j: int) -> float:
        """Estimate the work of a pivot, in multiplications per case."""
        grades, row = self.x.grades, self.rows[i]
        pivot = grades[abs(row[j])]
        total = COST["reciprocal"] if pivot == VARYING else 0.0
        others = [self.rows[r] for r in self.columns[j] if r != i]
        if not others:
            return NEEDED * total
        down = [grades[abs(other[j])] for other in others]
        varying = {k for k, ref in row.items() if grades[abs(ref)] == VARYING and k != j}
        every = row.keys() - {j}
        total += min(self.scalings(i, j))
        for other, grade in zip(others, down, strict=True):
            changed = varying
            if max(grade, pivot) == VARYING:
                changed = every
                total += sum(grades[abs(row[k])] != UNIT for k in every)
            elif max(grade, pivot) == CONSTANT:
                total += len(varying)
            shared = len(changed & other.keys())
            total += shared * COST["add"] + (len(changed) - shared) * FILL
        return total

    def scalings(self, i: int, j: int) -> tuple[int, int]:
        """Count the multiplications to divide a pivot's column, or its row, by it."""
        grades = self.x.grades
        pivot = grades[abs(self.rows[i][j])]
        if pivot == UNIT:
            return 0, 0
        free = UNIT if pivot == VARYING else CONSTANT
        down = sum(grades[abs(self.rows[r][j])] > free for r in self.columns[j])
        along = sum(grades[abs(ref)] > free for ref in self.rows[i].values())
        itself = pivot > free
        return down - itself, along - itself

    def choose(self) -> Pivot:
        """Take the cheapest pivot that is large enough, or else the one that is so most often."""
        best = None
        for i, j in sorted(self.costs, key=self.costs.__getitem__):
            good = self.large_enough(i, j)
            if best is None or good.sum() > best.good.sum():
                best = Pivot(i, j, self.rows[i][j], good)
                if good.all():
                    break
        if best is None or not best.good.any():
            raise NoOrderError
        return best

    def large_enough(self, i: int, j: int) -> Bool:
        """Tell in which samples a pivot is as large as the others of its column require."""
        size = self.size(i, j)
        good = size > 0
        for r in self.columns[j] - {i}:
            good &= size >= self.threshold * self.size(r, j)
        return good

    def size(self, i: int, j: int) -> Float:
        index = abs(self.rows[i][j])
        if index not in self.sizes:
            self.sizes[index] = np.abs(self.x.samples[index])
        return np.asarray(self.sizes[index] * self.scales[i])

    def eliminate(self, pivot: Pivot) -> None:
        x, (i, j, ref, _) = self.x, pivot
        inverse, unit = x.reciprocal(ref), x.constant(1)
        by_column, by_row = self.scalings(i, j)
        if by_row <= by_column:
            self.rows[i] = {
                k: x.multiply(u, inverse) if k != j else unit for k, u in self.rows[i].items()
            }
            inverse = unit
        touched = set(self.rows[i])
        for r in self.columns[j] - {i}:
            row = self.rows[r]
            factor = x.multiply(row.pop(j), inverse)
            touched |= row.keys()
            for k, u in self.rows[i].items():
                if k != j:
                    self.put(r, k, x.add(row.get(k, 0), -x.multiply(factor, u)))
        for k in self.rows[i].keys() - {KNOWN}:
            self.columns[k].discard(i)
            self.costs.pop((i, k), None)
        for r in self.columns.pop(j):
            self.costs.pop((r, j), None)
        self.price(touched - {KNOWN, j})

    def put(self, r: int, k: int, ref: int) -> None:
        """Write an entry of a row."""
        row = self.rows[r]
        if ref:
            row[k] = ref
            if k != KNOWN:
                self.columns[k].add(r)
        elif row.pop(k, 0) and k != KNOWN:
            self.columns[k].discard(r)
            self.costs.pop((r, k), None)


@dataclass(frozen=True)
class _Solved:
    """Eliminated rows by the unknown they are solved for, in the order of the pivots."""

    x: Expressions
    rows: dict[int, Row]
    place: dict[int, int]

    def combine(self, wanted: list[Row], *, fold: bool) -> list[int]:
        """Substitute back; with `fold`, constant rows are put into what is wanted first."""
        if fold:
            wanted = [self.folded(combination) for combination in wanted]
        needed = {k for combination in wanted for k in combination}
        for j, row in self.rows.items():
            if j in needed:
                needed |= row.keys()
        values: dict[int, int] = {}
        for j in sorted(needed - {KNOWN}, key=self.place.__getitem__, reverse=True):
            row = self.rows[j]
            terms = {k: -u for k, u in row.items() if k not in (KNOWN, j)}
            total = self.total(terms | {KNOWN: row.get(KNOWN, 0)}, values)
            values[j] = self.x.multiply(total, self.x.reciprocal(row[j]))
        return [self.total(combination, values) for combination in wanted]

    def total(self, combination: Row, values: dict[int, int]) -> int:
        """Add up a combination of solved unknowns."""
        total = combination.get(KNOWN, 0)
        for k in sorted(combination.keys() - {KNOWN}, key=self.place.__getitem__):
            total = self.x.add(total, self.x.multiply(combination[k], values[k]))
        return total

    def folded(self, combination: Row) -> Row:
        """Replace unknowns by later ones as long as that only changes constants."""
        x, left = self.x, dict(combination)
        for j, row in self.rows.items():
            if j in left and self.is_constant(j):
                factor = x.multiply(left.pop(j), x.reciprocal(row[j]))
                for k in row.keys() - {j}:
                    term = x.multiply(factor, row[k])
                    left[k] = x.add(left.get(k, 0), term if k == KNOWN else -term)
        return {k: ref for k, ref in left.items() if ref}

    def is_constant(self, j: int) -> bool:
        """Tell whether an unknown is a constant combination, or a constant times what is known."""
        row = self.rows[j]
        constant = all(self.x.is_constant(u) for k, u in row.items() if k != KNOWN)
        return constant and (self.x.is_constant(row.get(KNOWN, 0)) or len(row) == 2)

r"""For which supplies and loads is a total right? Decided by finite linear algebra, not sampling.

At the metering plane a total is `T = Re(pᵀ·M·I*)`, with the potentials `p` stacked from the three
line potentials V (to N; three wires: to any reference) and the free potentials u, and with
`M = Σ c·a·bᴴ` summed over the wattmeters (each senses `v = aᵀp` and `i = bᵀI`, weighs c).
The truth is `Re(Vᵀ·I*)` or, for a reactive total, `Im(Vᵀ·I*) = Re(−j·Vᵀ·I*)`. Subtracting it from
the line rows of M leaves D, the rows of u are R, and the error is `E = Re(Vᵀ·D·I* + uᵀ·R·I*)`.

Every class is written with two matrices: the rows of L span its voltages (`V = Lᵀx`, x complex:
identity, Π, or `sᵀ`) and the columns of W its currents (identity, or Π where no neutral current
can flow), `Π = 1 − ones/3`. On three wires L of "any" is Π too: the potentials are then referred
to their mean, which changes nothing, because every column of M·Π sums to zero there (`Sensed`
refuses anything else).

*Any load, no neutral current.* V, u and `I = W·x` are independent and complex, so E vanishes on
the class if and only if `L·D·W = 0` and `R·W = 0`. Passive loads alone force the same: to N,
`I_k = y_k·V_k` with free y_k; isolated, `V_k − u = z_k·I_k` with free z_k and u.

*Balanced load.* `I = (y₁Π + y₀(1−Π))·V`, so `E = Re(y₁*·xᵀ(L·D·Π·Lᴴ)x* + y₀*·xᵀ(L·D·(1−Π)·Lᴴ)x*)`
with y₁ and y₀ independent (a star to N has y₀ = y₁, an isolated star or a delta y₀ = 0, and they
mix). A form that vanishes for all complex x and y is zero: both matrices must vanish. With real
y only their Hermitian parts must. On zero-sum voltages (so on three wires always) the second
matrix vanishes by itself.

*Free potentials.* A voltage circuit may end on the star point of a load. Nothing but the class
fixes that potential u: for unbalanced loads it is free, as the branches decide where it lies. A
balanced star is three equal branches, so u is the mean of V if the star is isolated, N if it is
tied to N, and in between, `u = κ·ones·V/3`, if it is tied to N through an impedance. All of those
are balanced loads, so κ counts as free (E is affine in κ: asking κ = 0 and κ = 1 is the same).
It adds `κ·ones·R_k/3` to D, a matrix that has to pass the same test as D for every free
potential k. On zero-sum voltages it always does, since u = 0 there.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

from simulator.findings.surd import Surd, surd

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray

Quantity = Literal["active", "reactive"]
Supply = Literal["any", "zero-sum", "symmetrical"]
Load = Literal["any", "no neutral current", "balanced", "balanced resistive"]
SUPPLIES: tuple[Supply, ...] = get_args(Supply)
LOADS: tuple[Load, ...] = get_args(Load)

TOLERANCE = 1e-9
"""An error per volt-ampere below this counts as none.

A total is linear in M, so a coefficient of D is an error per volt-ampere. Rounding leaves about
1e-16 in the Millman weights of resistive stars and some 1e-12 where reactive branches nearly
cancel; 1e-9 is far above both, far below anything a wattmeter shows, and also the residual above
which a solved network is refused. With exact entries no tolerance is used.
"""

_HALF = Fraction(1, 2)
_J = Surd(imag=Fraction(1))
_A = Surd(-_HALF, imag_root3=_HALF)
_ROTATION = np.array([Surd(Fraction(1)), _A.conjugate(), _A], dtype=object)
_ONE = np.array([[surd(int(k == m)) for m in range(3)] for k in range(3)], dtype=object)
_MEAN = np.full((3, 3), Surd(Fraction(1, 3)), dtype=object)
_PI = _ONE - _MEAN


@dataclass(frozen=True, eq=False)
class Sensed:
    """What an arrangement of wattmeters senses and how it forms its total.

    Attributes
    ----------
    wires : int
        3 or 4.
    quantity : {'active', 'reactive'}
        What the total is meant to be.
    M : ndarray, shape (3 + k, 3)
        `Σ c·a·bᴴ` [1]; rows: lines 1 to 3, then k free potentials. Complex, or of dtype object
        (int, Fraction, Surd) for exact arithmetic.
    size : float
        Size of the contributions M was summed from [1], to which rounding is relative. At least
        the largest entry of M, and at least 1, the size of the truth.

    Raises
    ------
    ValueError
        For a wrong number of wires, quantity or shape, for an entry that is not finite, or if on
        three wires the total depends on the reference of the potentials.
    """

    wires: int
    quantity: Quantity
    M: NDArray[Any]
    size: float = 0.0

    def __post_init__(self) -> None:
        if self.wires not in (3, 4):
            raise ValueError(f"wires is {self.wires!r}, expected 3 or 4")
        if self.quantity not in get_args(Quantity):
            raise ValueError(f"quantity is {self.quantity!r}, expected 'active' or 'reactive'")
        M = np.array(self.M)
        if M.ndim != 2 or M.shape[0] < 3 or M.shape[1] != 3:
            raise ValueError(f"M has shape {M.shape}, expected (3 + free potentials, 3)")
        if M.dtype == object:
            M = np.array([[surd(x) for x in row] for row in M], dtype=object)
        else:
            M = M.astype(complex)
        size = float(np.abs(M.astype(complex)).max())
        if not np.isfinite(size):
            raise ValueError("M has an entry that is not finite")
        M.setflags(write=False)
        object.__setattr__(self, "M", M)
        object.__setattr__(self, "size", max(1.0, self.size, size))
        column_sums = M.sum(axis=0) @ _PI.astype(M.dtype)
        if self.wires == 3 and not _vanishes(column_sums, TOLERANCE * self.size):
            raise ValueError(
                "on three wires every voltage circuit must lie between lines and star points, "
                "but this total changes with the reference of the potentials"
            )

    @property
    def departure(self) -> NDArray[Any]:
        """M less the truth.

        Returns
        -------
        ndarray, shape (3 + k, 3)
            D in the rows of the lines, R in those of the free potentials.
        """
        truth = _ONE * (1 if self.quantity == "active" else -_J)
        departure = self.M.copy()
        departure[:3] -= truth.astype(self.M.dtype)
        return departure


def sense(
    wires: int, quantity: Quantity, meters: Iterable[tuple[Any, ArrayLike, ArrayLike]]
) -> Sensed:
    """Build what is sensed from the wattmeters.

    Parameters
    ----------
    wires : int
        3 or 4.
    quantity : {'active', 'reactive'}
        What the total is meant to be.
    meters : iterable of (c, a, b)
        Weight c in the total [1]; a, shape (3 + k,), with `v = aᵀp` for the voltage sensed, p the
        line potentials and then the k free ones; b, shape (3,), with `i = bᵀI` for the current
        sensed. All of int, Fraction and Surd, with a Fraction or Surd in each meter, computes
        exactly.

    Returns
    -------
    Sensed
        The sum, with the size of its contributions.

    Raises
    ------
    ValueError
        For no meters, vectors of unequal lengths, and what `Sensed` refuses.
    TypeError
        For a float among exact numbers.
    """
    parts = [c * np.outer(np.asarray(a), np.conj(np.asarray(b))) for c, a, b in meters]
    if not parts:
        raise ValueError("a total needs at least one wattmeter")
    if len({part.shape for part in parts}) > 1:
        raise ValueError("every wattmeter must name the same potentials and currents")
    size = sum(float(np.abs(part.astype(complex)).max()) for part in parts)
    return Sensed(wires, quantity, np.sum(np.array(parts), axis=0), size)


@dataclass(frozen=True)
class Row:
    """One class of conditions and whether the total is right on all of it.

    Attributes
    ----------
    supply : {'any', 'zero-sum', 'symmetrical'}
        Voltages at the metering plane.
    load : {'any', 'no neutral current', 'balanced', 'balanced resistive'}
        Loads.
    exact : bool
        Right for every member, in the phase sequence asked for.
    either_sequence : bool
        Right in both phase sequences; the first two supplies know no sequence.
    """

    supply: Supply
    load: Load
    exact: bool
    either_sequence: bool


def exactness_table(
    sensed: Sensed, sequence: int = 1, tolerance: float = TOLERANCE
) -> tuple[Row, ...]:
    """Tell for every class of supplies and loads whether the total is right on all of it.

    The conditions are derived in the module's docstring. With exact entries they are decided
    exactly and the tolerance is not used.

    Parameters
    ----------
    sensed : Sensed
        The arrangement.
    sequence : {1, -1}, optional
        Phase sequence of the symmetrical supply; 1 is L1-L2-L3.
    tolerance : float, optional
        Error per volt-ampere, relative to the size of the contributions, that counts as none [1].

    Returns
    -------
    tuple of Row
        Twelve rows, loads varying fastest.

    Raises
    ------
    ValueError
        For a sequence other than 1 and −1.

    Examples
    --------
    Two wattmeters with common line L2 on four wires: right unless there is a neutral current.

    >>> two = sense(4, "active", [(1, [1, -1, 0], [1, 0, 0]), (1, [0, -1, 1], [0, 0, 1])])
    >>> [(row.supply, row.load) for row in exactness_table(two) if row.exact]
    [('any', 'no neutral current'),
     ('zero-sum', 'no neutral current'), ('zero-sum', 'balanced'),
     ('zero-sum', 'balanced resistive'),
     ('symmetrical', 'no neutral current'), ('symmetrical', 'balanced'),
     ('symmetrical', 'balanced resistive')]
    """
    rows = []
    for supply, load in product(SUPPLIES, LOADS):
        exact = is_exact(sensed, supply, load, sequence, tolerance=tolerance)
        either = exact and (
            supply != "symmetrical"
            or is_exact(sensed, supply, load, -sequence, tolerance=tolerance)
        )
        rows.append(Row(supply, load, exact, either))
    return tuple(rows)


def is_exact(
    sensed: Sensed,
    supply: Supply,
    load: Load,
    sequence: int = 1,
    *,
    tolerance: float = TOLERANCE,
) -> bool:
    """Tell whether the total is right on all of one class: one cell of `exactness_table`.

    Parameters
    ----------
    sensed : Sensed
        The arrangement.
    supply : {'any', 'zero-sum', 'symmetrical'}
        Supply class.
    load : {'any', 'no neutral current', 'balanced', 'balanced resistive'}
        Load class.
    sequence : {1, -1}, optional
        Phase sequence of the symmetrical supply; 1 is L1-L2-L3.
    tolerance : float, optional
        As in `exactness_table`.

    Returns
    -------
    bool
        True if no member of the class has an error.
    """
    limit = tolerance * sensed.size
    return all(_vanishes(A, limit) for A in _conditions(sensed, supply, load, sequence))


def class_matrices(
    wires: int, supply: Supply, load: Load, sequence: int
) -> tuple[NDArray[Any], NDArray[Any]]:
    """Give the matrices L and W that span the voltages and currents of a class.

    Parameters
    ----------
    wires : int
        3 or 4. On three wires potentials are referred to their mean.
    supply : {'any', 'zero-sum', 'symmetrical'}
        Supply class.
    load : {'any', 'no neutral current', 'balanced', 'balanced resistive'}
        Load class; a balanced one has the currents of "any".
    sequence : {1, -1}
        Phase sequence of the symmetrical supply; 1 is L1-L2-L3.

    Returns
    -------
    L : ndarray of Surd, shape (n, 3)
        Rows that span the voltages, `V = Lᵀx`.
    W : ndarray of Surd, shape (3, 3)
        Columns that span the currents, `I = W·x`.

    Raises
    ------
    ValueError
        For a sequence other than 1 and −1.
    """
    if sequence not in (1, -1):
        raise ValueError(f"sequence is {sequence!r}, expected 1 (L1-L2-L3) or -1 (L3-L2-L1)")
    W = _PI if wires == 3 or load == "no neutral current" else _ONE
    if supply == "symmetrical":
        return np.atleast_2d(_ROTATION if sequence == 1 else np.conj(_ROTATION)), W
    return _PI if supply == "zero-sum" or wires == 3 else _ONE, W


# Matrices that vanish if and only if the total is right on the class.
def _conditions(sensed: Sensed, supply: Supply, load: Load, sequence: int) -> list[NDArray[Any]]:
    field = sensed.M.dtype
    L, W = (X.astype(field) for X in class_matrices(sensed.wires, supply, load, sequence))
    D, R = sensed.departure[:3], sensed.departure[3:]
    if load in ("any", "no neutral current"):
        return [L @ D @ W, R @ W]
    pi, mean = _PI.astype(field), _MEAN.astype(field)
    star_points = [mean[:, :1] * row for row in R]
    forms = [L @ X @ Q @ np.conj(L.T) for X in (D, *star_points) for Q in (pi, mean)]
    if load == "balanced resistive":
        return [A + np.conj(A.T) for A in forms]
    return forms


def _vanishes(A: NDArray[Any], limit: float) -> bool:
    if A.dtype == object:
        return not any(A.flat)
    return bool(np.all(np.abs(A) <= limit))

r"""How wrong can a total get? The worst currents, and a small passive load that shows it.

Uses D, R and the classes of `simulator.findings.exactness`: error `E = Re(Vᵀ·D·I* + uᵀ·R·I*)`.

The counterexamples come from a fixed list of tidy supplies and loads. E is real and linear in the
entries of D and R, and the members of the list span every class (their functionals `p·Iᴴ` have the
rank of the whole class; the tests check that, for every class). So an M whose error is zero on the
whole list is exact on the class: where a class fails, some tidy member shows it, always.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.findings.exactness import TOLERANCE, class_matrices, is_exact

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from simulator.findings.exactness import Load, Sensed, Supply

VISIBLE = 0.01
"""Error over apparent power above which the simplest counterexample is preferred to the worst."""

_STAR_VOLTAGE = 400 / math.sqrt(3)
_UNBALANCE = [69 * np.exp(2j * np.pi / 3 * k) for k in range(3)]
_OHMS = (10, 40)
_TURNS = np.exp(1j * np.pi / 3 * np.arange(-1, 2))


def worst_case(sensed: Sensed, potentials: ArrayLike) -> tuple[float, NDArray[np.complex128]]:
    """Find the currents for which the total is most wrong at the given voltages.

    `E = Re(gᵀ·I*)` with `g = W·(Dᵀ·V + Rᵀ·u)` is at most `‖g‖·‖I‖` (Cauchy and Schwarz), which
    `I ∝ g` reaches. Those currents need not be those of a passive load.

    Parameters
    ----------
    sensed : Sensed
        The arrangement.
    potentials : array_like of complex, shape (3 + k,)
        Line potentials and free potentials, to N or, on three wires, to any reference [V].

    Returns
    -------
    error_per_va : float
        Largest `|T − P| / (‖V‖·‖I‖)` [1], on three wires with V referred to its mean; 0 in a dead
        circuit.
    I : ndarray of complex, shape (3,)
        Line currents that reach it, `‖I‖` = 1 A; zero where nothing is wrong.

    Raises
    ------
    ValueError
        For a wrong number of potentials.
    """
    p = np.array(potentials, dtype=complex)
    departure = sensed.departure.astype(complex)
    if p.shape != departure.shape[:1]:
        raise ValueError(f"potentials have shape {p.shape}, expected {departure.shape[:1]}")
    if sensed.wires == 3:
        p -= p[:3].mean()
    g = _currents(sensed) @ departure.T @ p
    size = float(np.linalg.norm(g))
    if size == 0:
        return 0.0, np.zeros(3, dtype=complex)
    volts = float(np.linalg.norm(p[:3]))
    return size / volts if volts else math.inf, g / size


def worst_over(sensed: Sensed, supply: Supply, sequence: int = 1) -> float:
    """Find how wrong the total can get per volt-ampere on a whole supply class.

    Parameters
    ----------
    sensed : Sensed
        The arrangement.
    supply : {'any', 'zero-sum', 'symmetrical'}
        The class.
    sequence : {1, -1}, optional
        Phase sequence of the symmetrical supply.

    Returns
    -------
    float
        Largest `|T − P| / (‖V‖·‖I‖)` over all V of the class and all currents [1]: the largest
        singular value of `W·Dᵀ` on the class. Infinite if a free potential counts, since nothing
        bounds it.
    """
    departure, W = sensed.departure.astype(complex), _currents(sensed)
    if np.any(np.abs(departure[3:] @ W) > TOLERANCE * sensed.size):
        return math.inf
    L = class_matrices(sensed.wires, supply, "any", sequence)[0].astype(complex)
    # Rows of norm 1 or a projector: either way the columns keep the norm of V on the class.
    isometry = L.T / math.sqrt(3) if supply == "symmetrical" else L.T
    return float(np.linalg.norm(W @ departure[:3].T @ isometry, ord=2))


class Star(NamedTuple):
    """A star-connected load.

    Attributes
    ----------
    Z : tuple of complex
        Impedances from L1, L2 and L3 to the star point [Ω].
    isolated : bool
        Whether the star point is connected to nothing else; if not, it is on N.
    """

    Z: tuple[complex, complex, complex]
    isolated: bool


@dataclass(frozen=True)
class Counterexample:
    """A supply and a passive load for which the total is wrong.

    Attributes
    ----------
    V : tuple of complex
        Line potentials to N; on three wires to their mean [V].
    stars : tuple of Star
        The load. The star point of star k carries free potential k.
    indicated : float
        What the total shows [W or var].
    true : float
        What it should show [W or var].
    apparent : float
        Sum of the lines' `|V|·|I|` [VA].
    """

    V: tuple[complex, complex, complex]
    stars: tuple[Star, ...]
    indicated: float
    true: float
    apparent: float


def counterexample(
    sensed: Sensed, supply: Supply = "any", load: Load = "any", sequence: int = 1
) -> Counterexample | None:
    """Find a small passive load of a class, and a supply, for which the total is wrong.

    The simplest that is visibly wrong: symmetrical supply first, then few distinct impedances,
    then resistances only; the most wrong of equally simple ones. If none is visibly wrong, the most
    wrong of all.

    Parameters
    ----------
    sensed : Sensed
        The arrangement.
    supply : {'any', 'zero-sum', 'symmetrical'}, optional
        Supply class.
    load : {'any', 'no neutral current', 'balanced', 'balanced resistive'}, optional
        Load class.
    sequence : {1, -1}, optional
        Phase sequence of the symmetrical supply, and of the greater part of any other.

    Returns
    -------
    Counterexample or None
        None if and only if the total is exact on the class.
    """
    if is_exact(sensed, supply, load, sequence):
        return None
    tidy = _tidy(sensed.wires, len(sensed.M) - 3, supply, load, sequence)
    shown = np.einsum("...i,ij,...j", tidy.p, sensed.M.astype(complex), tidy.I.conj()).real
    power = np.sum(tidy.p[..., :3] * tidy.I.conj(), axis=-1)
    true = power.real if sensed.quantity == "active" else power.imag
    apparent = np.sum(np.abs(tidy.p[..., :3] * tidy.I), axis=-1)
    relative = np.abs(shown - true) / apparent
    largest = relative.max()
    good = relative >= min(VISIBLE, (1 - 1e-6) * largest)
    good &= tidy.rank == tidy.rank[good].min()
    # Rounded, so that the first of equals is taken on every machine.
    best = np.argmax(np.where(good, np.round(relative / largest, 6), -1))
    a, v, z = np.unravel_index(best, relative.shape)
    primary, isolated = tidy.arrangements[a]
    stars = (
        Star(_triple(tidy.Z[z] if star == primary else tidy.other), own)
        for star, own in enumerate(isolated)
    )
    at = (a, v, z)
    return Counterexample(
        _triple(tidy.V[v]), tuple(stars), float(shown[at]), float(true[at]), float(apparent[at])
    )


class _Tidy(NamedTuple):
    V: NDArray[np.complex128]  # (v, 3)
    Z: NDArray[np.complex128]  # (z, 3)
    other: NDArray[np.complex128]  # (3,)
    arrangements: list[tuple[int, tuple[bool, ...]]]  # star with Z, which stars are isolated
    p: NDArray[np.complex128]  # (arrangements, v, z, 3 + free)
    I: NDArray[np.complex128]  # (arrangements, v, z, 3)
    rank: NDArray[np.int64]  # (arrangements, v, z), small for simple


# Every tidy member of a class. One star at a time has impedances from the list, the others are
# always the same; where star points are sensed there may be one more star, whose own is not.
def _tidy(wires: int, free: int, supply: Supply, load: Load, sequence: int) -> _Tidy:
    V, sources = _supplies(wires, supply, sequence)
    Z, other = _impedances(load)
    kinds = (True,) if wires == 3 or load == "no neutral current" else (False, True)
    arrangements = dict.fromkeys(
        (primary, tuple(own if star == primary else rest for star in range(count)))
        for count in (max(free, 1), free + 1)
        for primary in range(count)
        for own, rest in product(kinds, kinds)
    )
    p, I = [], []
    for primary, isolated in arrangements:
        solved = [
            _star(V[:, None], Z if star == primary else other, isolated=own)
            for star, own in enumerate(isolated)
        ]
        I.append(sum(current for _, current in solved) + np.zeros((len(V), len(Z), 3)))
        p.append(np.empty((len(V), len(Z), 3 + free), dtype=complex))
        p[-1][..., :3] = V[:, None]
        for star in range(free):
            p[-1][..., 3 + star] = solved[star][0][..., 0]
    distinct = np.array([len(set(row)) for row in Z.tolist()])
    reactive = np.any(Z.imag != 0, axis=1)
    counts = np.array([len(isolated) for _, isolated in arrangements])
    rank = 10 * (10 * (10 * sources[:, None] + distinct) + reactive) + counts[:, None, None]
    return _Tidy(V, Z, other, list(arrangements), np.array(p), np.array(I), rank)


# Voltages of a class, and how many sources each needs: symmetrical 400 V, or 230 V with 69 V of
# the other sequence and 69 V of the zero sequence.
def _supplies(
    wires: int, supply: Supply, sequence: int
) -> tuple[NDArray[np.complex128], NDArray[np.int64]]:
    s = class_matrices(wires, "symmetrical", "any", sequence)[0][0].astype(complex)
    negative = [0] if supply == "symmetrical" else [0, *_UNBALANCE]
    zero = [0, *_UNBALANCE] if supply == "any" and wires == 4 else [0]
    V = [
        (230 if n or z else _STAR_VOLTAGE) * s + n * s.conj() + z
        for n, z in product(negative, zero)
    ]
    sources = [1 + bool(n) + bool(z) for n, z in product(negative, zero)]
    return np.array(V), np.array(sources)


# Impedances of the varied star, and of the others.
def _impedances(load: Load) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    balanced = np.full(3, 20 + 0j)
    if load == "balanced resistive":
        return balanced[None], balanced
    if load == "balanced":
        return np.outer(_TURNS, balanced), balanced
    values = np.outer(_OHMS, _TURNS).flat
    return np.array(list(product(values, repeat=3))), np.array([10, 20, 20 + 0j])


# Star-point potential and line currents.
def _star(
    V: NDArray[np.complex128], Z: NDArray[np.complex128], *, isolated: bool
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    u = np.sum(V / Z, axis=-1, keepdims=True) / np.sum(1 / Z, axis=-1, keepdims=True)
    u = u if isolated else 0 * u
    return u, (V - u) / Z


def _triple(x: NDArray[np.complex128]) -> tuple[complex, complex, complex]:
    return complex(x[0]), complex(x[1]), complex(x[2])


def _currents(sensed: Sensed) -> NDArray[np.complex128]:
    return class_matrices(sensed.wires, "any", "any", 1)[1].astype(complex)

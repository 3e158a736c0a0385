"""Cases drawn at random: the same numbers however they are cut into chunks and whoever draws them.

Every block of cases has a stream of its own, ``SeedSequence(seed, spawn_key=(block,))``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import QuantityError, ScenarioError
from simulator.scenario.words import shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import numpy.typing as npt

    from simulator.studies.distributions import Distribution
    from simulator.studies.paths import Quantity

    Array = npt.NDArray[Any]
    Float = npt.NDArray[np.float64]

BLOCK = 16384
"""Cases that share a stream of random numbers."""
SAMPLE = 64
"""Cases that a study is judged by beforehand."""


@dataclass(frozen=True)
class Draws:
    """Cases drawn at random.

    Attributes
    ----------
    distributions : tuple of Distribution
        How the quantities are distributed.
    count : int
        Number of cases.
    seed : int
        What the random numbers follow from.
    correlations : tuple of tuple of float
        Correlations of the sizes of every two quantities; empty for none.
    """

    distributions: tuple[Distribution, ...]
    count: int
    seed: int
    correlations: tuple[tuple[float, ...], ...] = ()

    @property
    def quantities(self) -> tuple[Quantity, ...]:
        """What is drawn."""
        return tuple(each.quantity for each in self.distributions)

    def columns(self, start: int, count: int) -> list[Array]:
        """Draw a run of cases.

        Parameters
        ----------
        start : int
            The first case, a multiple of `BLOCK`.
        count : int
            How many.

        Returns
        -------
        list of ndarray of shape (count,)
            Values of each quantity, in the unit shown.
        """
        firsts = range(start, start + count, BLOCK)
        blocks = [self._block(k // BLOCK, min(BLOCK, start + count - k)) for k in firsts]
        if len(blocks) == 1:
            return blocks[0]
        return [np.concatenate(parts) for parts in zip(*blocks, strict=True)]

    def sample(self) -> list[Array]:
        """Give some of the cases, at most `SAMPLE`, as columns."""
        return [values[:SAMPLE] for values in self.columns(0, min(BLOCK, self.count))]

    def _block(self, block: int, count: int) -> list[Array]:
        stream = np.random.SeedSequence(self.seed, spawn_key=(block,))
        random = np.random.Generator(np.random.SFC64(stream))
        if self.correlations:
            sizes = self._correlated(random, count)
        else:
            sizes = [_draw(random, each.shape, count) for each in self.distributions]
        turns = [
            _draw(random, each.shape, count) if each.angle else None for each in self.distributions
        ]
        return [
            each.values(size, turn)
            for each, size, turn in zip(self.distributions, sizes, turns, strict=True)
        ]

    def _correlated(self, random: np.random.Generator, count: int) -> list[Float]:
        from scipy.special import ndtr  # noqa: PLC0415

        normal = self._mixing @ random.standard_normal((len(self.distributions), count))
        return [
            z if each.shape == "normal" else 2 * ndtr(z) - 1
            for each, z in zip(self.distributions, normal, strict=True)
        ]

    @cached_property
    def _mixing(self) -> Float:
        return mixing_matrix([each.shape for each in self.distributions], self.correlations)


def _draw(random: np.random.Generator, shape: str, count: int) -> Float:
    return random.standard_normal(count) if shape == "normal" else random.uniform(-1, 1, count)


def mixing_matrix(shapes: Iterable[str], correlations: Iterable[Iterable[float]]) -> Float:
    """Find how normal numbers are mixed to give quantities their correlations.

    Parameters
    ----------
    shapes : iterable of str, shape (n,)
        "normal" or "uniform".
    correlations : iterable of iterable of float, shape (n, n)
        Correlation coefficients of the quantities.

    Returns
    -------
    ndarray of float, shape (n, n)
        The matrix; its rows have length 1.

    Raises
    ------
    ScenarioError
        If no quantities can be correlated so.

    Notes
    -----
    A uniform quantity is made from a normal one by its distribution function. Two of those have
    the correlation (6/π)·asin(r/2) if the normal ones have r, one of those and a normal one
    r·√(3/π) (derived: integrals over the bivariate normal density); here it is solved for r.
    """
    wanted = np.array([list(row) for row in correlations])
    uniform = np.array([shape == "uniform" for shape in shapes])
    both, one = uniform[:, None] & uniform, uniform[:, None] ^ uniform
    r = np.where(both, 2 * np.sin(math.pi * wanted / 6), wanted)
    r = np.where(one, wanted * math.sqrt(math.pi / 3), r)
    np.fill_diagonal(r, 1)
    values, vectors = np.linalg.eigh(r)
    if values.min() < -1e-9:
        raise ScenarioError(
            "no quantities can be correlated like this: the coefficients contradict each other, or "
            "are too near 1 for a normal and a uniform one (at most 0.977)",
            "correlation",
        )
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0)))


def correlation_matrix(
    given: Mapping[tuple[str, str], float], paths: list[str]
) -> tuple[tuple[float, ...], ...]:
    """Write pairs of correlated quantities as a matrix.

    Parameters
    ----------
    given : mapping of (str, str) to float
        Correlation coefficients of pairs of quantities.
    paths : list of str, shape (n,)
        The quantities that are drawn.

    Returns
    -------
    tuple of tuple of float, shape (n, n)
        The matrix; empty if there are no pairs.

    Raises
    ------
    ScenarioError
        If a pair is none, or a coefficient is not between −1 and 1.
    """
    if not given:
        return ()
    matrix = np.eye(len(paths))
    for pair, coefficient in given.items():
        for path in pair:
            if path not in paths:
                raise ScenarioError(
                    f"{shown(path)} is not drawn; drawn are {', '.join(paths)}", "correlation"
                )
        first, second = (paths.index(path) for path in pair)
        if first == second or not -1 <= coefficient <= 1:
            raise ScenarioError(
                f"expected two different quantities and a coefficient from -1 to 1, got "
                f"'{pair[0]}', '{pair[1]}' and {coefficient:g}",
                "correlation",
            )
        matrix[first, second] = matrix[second, first] = coefficient
    return tuple(tuple(row) for row in matrix.tolist())


def parse_correlation(text: str, paths: list[str]) -> tuple[tuple[str, str], float]:
    """Read a correlation such as ``ovens: L1 and ovens: L2 = 0.8``.

    Parameters
    ----------
    text : str
        Two quantities and their correlation coefficient.
    paths : list of str
        The quantities that are drawn.

    Returns
    -------
    pair : tuple of str
        The two quantities.
    coefficient : float
        Their correlation coefficient.

    Raises
    ------
    QuantityError
        If the text is none.
    """
    quantities, _, number = text.rpartition("=")
    try:
        coefficient = float(number)
    except ValueError:
        coefficient = math.nan
    words = " ".join(quantities.split())
    pairs = [(one, other) for one in paths for other in paths if words == f"{one} and {other}"]
    if not pairs or not math.isfinite(coefficient):
        raise QuantityError(
            "expected two quantities that are drawn and a coefficient, for example "
            f"'ovens: L1 and ovens: L2 = 0.8', got {shown(text)}; drawn are {', '.join(paths)}"
        )
    return pairs[0], coefficient

"""Propagation of distributions by JCGM 101:2008: adaptive, seeded, with two coverage intervals.

Clause numbers are from the 2006 draft's contents (seen) and from memory of the standard (high).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import ScenarioError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from simulator.findings.uncertainty.inputs import Input
    from simulator.phasors import FloatArray

Interval = tuple[float, float]
# Trials in a block, unless the probability calls for more (7.9.4 b).
BLOCK = 10_000
# What is below this part of a quantity is nothing but rounding.
ROUNDING = 1e-12


@dataclass(frozen=True)
class Settings:
    """How to simulate.

    Attributes
    ----------
    probability : float
        Coverage probability of the intervals.
    digits : int
        Significant digits of the standard uncertainties that must be stable, 1 or 2.
    seed : int
        Seed of the random numbers.
    draws : int or None
        A fixed number of trials; None to stop when stable.
    largest : int
        Most trials before giving up on stability.
    """

    probability: float = 0.95
    digits: int = 2
    seed: int = 1
    draws: int | None = None
    largest: int = 1_000_000

    def __post_init__(self) -> None:
        if not 0 < self.probability < 1:
            raise ScenarioError(
                f"expected a coverage probability between 0 and 1, got {self.probability:g}"
            )
        if self.digits not in (1, 2):
            raise ScenarioError(f"expected 1 or 2 significant digits, got {self.digits}")
        if self.draws is not None and self.draws < self.fewest:
            raise ScenarioError(
                f"expected at least {self.fewest} draws for a coverage probability of "
                f"{self.probability:g}, got {self.draws}"
            )

    @property
    def fewest(self) -> int:
        """The smallest number of trials J ≥ 100/(1 − p) (JCGM 101, 7.9.4 b)."""
        return math.ceil(100 / (1 - self.probability) - 1e-6)

    @property
    def block(self) -> int:
        """Trials in a block."""
        return max(self.fewest, BLOCK)


@dataclass(frozen=True, eq=False)
class Simulation:
    """Values of one quantity in all trials.

    Attributes
    ----------
    values : ndarray of float, shape (n,)
        The values, ascending.
    probability : float
        Coverage probability.
    stable : bool
        Whether its four results are stable in the digits asked for.
    """

    values: FloatArray
    probability: float
    stable: bool

    @cached_property
    def mean(self) -> float:
        """Estimate of the quantity."""
        return float(self.values.mean())

    @cached_property
    def standard_uncertainty(self) -> float:
        """Standard deviation of the values."""
        return float(_standard_deviation(self.values))

    @cached_property
    def symmetric(self) -> Interval:
        """Probabilistically symmetric coverage interval (7.7.2)."""
        return symmetric_interval(self.values, self.probability)

    @cached_property
    def shortest(self) -> Interval:
        """Shortest coverage interval (5.3.4, 7.7.4)."""
        return shortest_interval(self.values, self.probability)

    @property
    def one_sided(self) -> bool:
        """Whether one end of the symmetric interval is twice as far from the median."""
        low, high = self.symmetric
        median = float(np.median(self.values))
        near, far = sorted((median - low, high - median))
        return far > 2 * near


def covered(n: int, probability: float) -> int:
    """Give the number of ranks that a coverage interval spans.

    Parameters
    ----------
    n : int
        Number of values.
    probability : float
        Coverage probability p.

    Returns
    -------
    int
        Number q: p·n if that is whole, else the whole part of p·n + ½ (JCGM 101, 7.7.1).
    """
    return math.floor(probability * n + 0.5)


def symmetric_interval(values: FloatArray, probability: float) -> Interval:
    """Cut off as many values on either side.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
        Values, ascending.
    probability : float
        Coverage probability.

    Returns
    -------
    tuple of float
        The interval (JCGM 101, 7.7.2).
    """
    n = len(values)
    span = covered(n, probability)
    first = (n - span + 1) // 2  # the rank r, counted from 1
    return float(values[first - 1]), float(values[first - 1 + span])


def shortest_interval(values: FloatArray, probability: float) -> Interval:
    """Find the shortest interval of that many values.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
        Values, ascending.
    probability : float
        Coverage probability.

    Returns
    -------
    tuple of float
        The interval (JCGM 101, 7.7.4).
    """
    span = covered(len(values), probability)
    first = int(np.argmin(values[span:] - values[:-span]))
    return float(values[first]), float(values[first + span])


def numerical_tolerance(uncertainty: float, digits: int) -> float:
    """Give half of the last digit of a standard uncertainty.

    Parameters
    ----------
    uncertainty : float
        Standard uncertainty.
    digits : int
        Significant digits.

    Returns
    -------
    float
        Tolerance δ = ½·10^l where u ≈ c·10^l and c is whole with so many digits (7.9.2).
    """
    if uncertainty == 0:
        return 0.0
    _, exponent = f"{uncertainty:.{digits - 1}e}".split("e")
    return 0.5 * 10.0 ** (int(exponent) - digits + 1)


def simulate(
    model: Callable[[FloatArray], FloatArray], inputs: Sequence[Input], settings: Settings
) -> tuple[Simulation, ...]:
    """Propagate the distributions of the inputs through a model.

    Parameters
    ----------
    model : callable
        From inputs of shape (n_inputs, n) to outputs of shape (n_outputs, n).
    inputs : sequence of Input
        The inputs.
    settings : Settings
        How to simulate.

    Returns
    -------
    tuple of Simulation
        One for each output.

    Notes
    -----
    The adaptive procedure of JCGM 101, 7.9.4: blocks of max(J, 10⁴) trials; of each block the
    mean, the standard deviation and the ends of the symmetric interval; stop when twice the
    standard deviation of the average of each is at most δ for every output. The results are
    those of all trials together.
    """
    random = np.random.Generator(np.random.SFC64(settings.seed))
    trials = _Trials(settings)
    size = settings.block
    if settings.draws is not None:
        left = settings.draws
        while left:
            trials.add(model(_draw(random, inputs, min(left, size))))
            left -= min(left, size)
    else:
        while not trials.stable().all() and (trials.count + size <= settings.largest):
            trials.add(model(_draw(random, inputs, size)))
    values = np.sort(np.concatenate(trials.blocks, axis=1), axis=1)
    return tuple(
        Simulation(row, settings.probability, bool(stable))
        for row, stable in zip(values, trials.stable(), strict=True)
    )


def _draw(random: np.random.Generator, inputs: Sequence[Input], n: int) -> FloatArray:
    z = np.empty((len(inputs), n))
    for row, each in zip(z, inputs, strict=True):
        row[:] = random.uniform(-1, 1, n) if each.bounded else random.standard_normal(n)
    return z


def _standard_deviation(values: FloatArray) -> FloatArray:
    """Give the standard deviations along the last axis: exactly 0 where all values are equal."""
    return np.asarray((values - values[..., :1]).std(axis=-1, ddof=1))


@dataclass
class _Trials:
    """Blocks of trials, and whether their results have become stable."""

    settings: Settings
    blocks: list[FloatArray] = field(default_factory=list)
    results: list[FloatArray] = field(default_factory=list)
    count: int = 0

    def add(self, values: FloatArray) -> None:
        """Keep a block, and its mean, standard deviation and interval."""
        self.blocks.append(values)
        self.count += values.shape[1]
        ordered = np.sort(values, axis=1)
        ends = [symmetric_interval(row, self.settings.probability) for row in ordered]
        moments = values.mean(axis=1), _standard_deviation(values)
        self.results.append(np.column_stack([*moments, ends]))

    def stable(self) -> npt.NDArray[np.bool_]:
        """Tell which outputs have four results that are stable."""
        h = len(self.results)
        results = np.array(self.results)
        if h < 2:
            return np.zeros(len(results[0]) if h else 1, np.bool_)
        spread = results.std(axis=0, ddof=1) / math.sqrt(h)
        mean, deviation = results[..., 0], results[..., 1]
        # of all trials together, the blocks being of one size up to a last, shorter one
        uncertainties = np.sqrt((deviation**2).mean(axis=0) + mean.var(axis=0))
        digits = self.settings.digits
        tolerances = np.array([numerical_tolerance(float(u), digits) for u in uncertainties])
        tolerances = np.maximum(tolerances, ROUNDING * np.abs(mean).max(axis=0))
        return np.asarray((2 * spread <= tolerances[:, None]).all(axis=1))

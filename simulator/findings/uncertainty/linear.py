"""The law of propagation of uncertainty (JCGM 100) beside the simulation, and the error budget."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from simulator.findings.uncertainty.monte_carlo import numerical_tolerance

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from simulator.findings.uncertainty.inputs import Input
    from simulator.findings.uncertainty.monte_carlo import Interval, Simulation
    from simulator.phasors import FloatArray

# Step of the central differences, in parts of a limit or of a standard uncertainty.
STEP = 1e-3
# A contribution below this part of the variance is the rounding of a difference.
ROUNDING = 1e-12


@dataclass(frozen=True)
class Contribution:
    """What one input contributes to the uncertainty of a quantity, by the linear law.

    Attributes
    ----------
    source : Input
        The input.
    sensitivity : float
        Change of the quantity for z = 1: for the whole limit, or a standard uncertainty.
    share : float
        Its part of the variance, 0 to 1.
    """

    source: Input
    sensitivity: float
    share: float

    @property
    def standard_uncertainty(self) -> float:
        """Its standard uncertainty contribution."""
        return abs(self.sensitivity) * self.source.standard_uncertainty

    @property
    def limit(self) -> float | None:
        """The most it can change the quantity; None without a limit."""
        return abs(self.sensitivity) if self.source.bounded else None


@dataclass(frozen=True)
class Budget:
    """The error budget of a quantity, the largest contribution first.

    Attributes
    ----------
    contributions : tuple of Contribution
        One for each input that has an effect.
    """

    contributions: tuple[Contribution, ...]

    @property
    def standard_uncertainty(self) -> float:
        """Combined standard uncertainty: root of the sum of squares."""
        return math.hypot(*(c.standard_uncertainty for c in self.contributions))

    @property
    def limits_rss(self) -> float | None:
        """Root of the sum of squares of the limits; None if an input has none."""
        limits = self._limits
        return None if limits is None else math.hypot(*limits)

    @property
    def limits_sum(self) -> float | None:
        """Sum of the limits, the worst case of the linear law; None if an input has none."""
        limits = self._limits
        return None if limits is None else math.fsum(limits)

    @property
    def _limits(self) -> list[float] | None:
        limits = [c.limit for c in self.contributions]
        known = [limit for limit in limits if limit is not None]
        return known if len(known) == len(limits) else None


@dataclass(frozen=True)
class Validation:
    """Whether the linear law gives the interval that the simulation gives (JCGM 101, clause 8).

    Attributes
    ----------
    interval : tuple of float
        Interval y ± k·u of the linear law, with k of the normal distribution.
    differences : tuple of float
        Distances of its ends from those of the simulation.
    tolerance : float
        δ, half of the first digit of the standard uncertainty.
    """

    interval: Interval
    differences: tuple[float, float]
    tolerance: float

    @property
    def valid(self) -> bool:
        """Whether both ends agree within the tolerance."""
        return max(self.differences) <= self.tolerance


def sensitivities(model: Callable[[FloatArray], FloatArray], n_inputs: int) -> FloatArray:
    """Find the sensitivities of a model by central differences.

    Parameters
    ----------
    model : callable
        From inputs of shape (n_inputs, n) to outputs of shape (n_outputs, n).
    n_inputs : int
        Number of inputs.

    Returns
    -------
    ndarray of float, shape (n_outputs, n_inputs)
        Change of each output for z = 1.
    """
    steps = STEP * np.eye(n_inputs)
    values = model(np.concatenate([steps, -steps], axis=1))
    change: FloatArray = (values[:, :n_inputs] - values[:, n_inputs:]) / (2 * STEP)
    noise = 8 * np.finfo(float).eps * np.abs(values).max(axis=1, keepdims=True) / STEP
    return np.where(np.abs(change) > noise, change, 0.0)


def budget(inputs: Sequence[Input], sensitivity: FloatArray) -> Budget:
    """Rank what contributes to the uncertainty of a quantity.

    Parameters
    ----------
    inputs : sequence of Input
        The inputs, independent of each other.
    sensitivity : ndarray of float, shape (n_inputs,)
        Change of the quantity for z = 1 of each.

    Returns
    -------
    Budget
        The contributions (JCGM 100:2008, 5.1.2, eq. 10; MEM, high).
    """
    u = sensitivity * np.array([each.standard_uncertainty for each in inputs])
    variance = float(u @ u)
    found = [
        Contribution(each, float(c), float(part**2 / variance))
        for each, c, part in zip(inputs, sensitivity, u, strict=True)
        if part**2 > ROUNDING * variance
    ]
    return Budget(tuple(sorted(found, key=lambda c: -c.share)))


def validate(value: float, uncertainty: float, simulation: Simulation) -> Validation:
    """Check the linear law against the simulation.

    Parameters
    ----------
    value : float
        The quantity without deviations.
    uncertainty : float
        Its combined standard uncertainty by the linear law.
    simulation : Simulation
        The simulation.

    Returns
    -------
    Validation
        The comparison (JCGM 101, 8.1; MEM, high). The tolerance is that of one digit, coarse
        enough for a simulation that is stable in two.
    """
    k = NormalDist().inv_cdf((1 + simulation.probability) / 2)
    low, high = value - k * uncertainty, value + k * uncertainty
    ends = simulation.symmetric
    differences = abs(low - ends[0]), abs(high - ends[1])
    tolerance = numerical_tolerance(simulation.standard_uncertainty, digits=1)
    return Validation((low, high), differences, tolerance)

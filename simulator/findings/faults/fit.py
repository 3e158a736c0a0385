"""Whether some load within a span gives the readings that were seen.

Readings are linear in the active and reactive power of a load that keeps its shape, as long as the
voltages stay. So the readings are linearised in the factor on the load, the best factor is found,
and the network is solved again there, until both agree.

The best factor makes the largest deviation as small as possible, in parts of each reading's limit.
Least squares would not do: it may leave one deviation above its limit where another load keeps all
of them below, and would then reject a wiring that fits.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.findings.faults.loads import Region, with_load
from simulator.findings.result import solve

if TYPE_CHECKING:
    from simulator.findings.result import Result
    from simulator.phasors import FloatArray
    from simulator.scenario.build import Measurement

# Deviations up to their limit fit; the rest is rounding.
FITS = 1 + 1e-9
ROUNDS = 5
STEP = 1e-3
# Model and network agree on a deviation, in parts of its limit.
AGREE = 1e-6
# A model this far off is not refined: what it leaves out is smaller.
HOPELESS = 3.0
GRID = 61
ZOOMS = 5


@dataclass(frozen=True)
class Fit:
    """The load that fits readings best.

    Attributes
    ----------
    misfit : float
        Largest deviation in parts of its limit; readings fit up to 1.
    result : Result
        The solved measurement with that load.
    """

    misfit: float
    result: Result

    @property
    def fits(self) -> bool:
        """Whether all readings lie within their limits."""
        return self.misfit <= FITS


def fit(
    measurement: Measurement, result: Result, seen: FloatArray, limits: FloatArray, region: Region
) -> Fit:
    """Find the load of a region that fits readings best.

    Parameters
    ----------
    measurement : Measurement
        What is measured.
    result : Result
        The same, solved.
    seen : ndarray of float, shape (n_wattmeters,)
        The readings, in the order of the wattmeters [W].
    limits : ndarray of float, shape (n_wattmeters,)
        Largest deviation that each may have [W].
    region : Region
        The loads that are possible.

    Returns
    -------
    Fit
        The load, and how well it fits.

    Raises
    ------
    NetworkError
        If a network has no unique solution.
    """
    factor = region.middle
    if factor != 1:
        result = solve(with_load(measurement, factor))
    found = Fit(_misfit(result, seen, limits), result)
    for _ in range(0 if region.is_point else ROUNDS):
        base, along, across = _linearised(measurement, factor, found.result)
        nearby = _relative(region, factor)
        expected, step = _best((base - seen) / limits, along / limits, across / limits, nearby)
        factor *= step
        result = solve(with_load(measurement, factor))
        found = Fit(_misfit(result, seen, limits), result)
        if abs(found.misfit - expected) <= AGREE or expected > HOPELESS:
            break
    return found


def watts(result: Result) -> FloatArray:
    """Give the readings as an array.

    Parameters
    ----------
    result : Result
        A solved measurement.

    Returns
    -------
    ndarray of float, shape (n_wattmeters,)
        Readings in file order [W].
    """
    return np.array([reading.watts for reading in result.readings.values()])


def _misfit(result: Result, seen: FloatArray, limits: FloatArray) -> float:
    return float(np.max(np.abs(watts(result) - seen) / limits))


def _linearised(
    measurement: Measurement, factor: complex, result: Result
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Write readings as base + along·Re z + across·Im z, for z times this factor near z = 1."""
    here = watts(result)
    along, across = (
        (watts(solve(with_load(measurement, factor * (1 + step)))) - here) / STEP
        for step in (STEP, 1j * STEP)
    )
    return here - along, along, across


def _relative(region: Region, factor: complex) -> Region:
    size, angle = abs(factor), math.atan2(factor.imag, factor.real)
    (low, high), (first, last) = region.sizes, region.angles
    # An angle is known up to whole turns only; the middle of the region tells which.
    angle += 2 * math.pi * round(((first + last) / 2 - angle) / (2 * math.pi))
    return Region((low / size, high / size), (first - angle, last - angle))


def _best(
    base: FloatArray, along: FloatArray, across: FloatArray, region: Region
) -> tuple[float, complex]:
    """Minimise the largest deviation of the linear model over a region; return it and the factor.

    For each angle of a grid the best size is exact; the grid is then drawn close around the best.
    """
    first, last = region.angles
    best = (math.inf, 1 + 0j)
    for _ in range(ZOOMS if last > first else 1):
        angles = np.linspace(first, last, GRID if last > first else 1)
        slopes = np.outer(np.cos(angles), along) + np.outer(np.sin(angles), across)
        sizes, deviations = _best_size(base, slopes, region.sizes)
        k = int(np.argmin(deviations))
        best = min(best, (float(deviations[k]), _polar(sizes[k], angles[k])), key=lambda b: b[0])
        first, last = angles[max(k - 1, 0)], angles[min(k + 1, len(angles) - 1)]
    return best


def _polar(size: float, angle: float) -> complex:
    return complex(size * math.cos(angle), size * math.sin(angle))


def _best_size(
    base: FloatArray, slopes: FloatArray, sizes: tuple[float, float]
) -> tuple[FloatArray, FloatArray]:
    """Find for each row of slopes the size s that makes max |base + s·slope| smallest.

    That is the lowest point of the upper envelope of straight lines: at an end of the range, or
    where two of them cross.
    """
    starts = np.concatenate([base, -base])
    rises = np.concatenate([slopes, -slopes], axis=1)
    one, other = np.array(list(itertools.combinations(range(len(starts)), 2))).T
    with np.errstate(all="ignore"):  # parallel lines cross nowhere
        crossings = (starts[other] - starts[one]) / (rises[:, one] - rises[:, other])
    ends = np.broadcast_to(sizes, (len(slopes), 2))
    tried = np.concatenate(
        [np.nan_to_num(crossings, posinf=sizes[1], neginf=sizes[0]), ends], axis=1
    )
    tried = np.clip(tried, *sizes)
    deviations = (starts + tried[..., None] * rises[:, None, :]).max(axis=2)
    k = deviations.argmin(axis=1)
    rows = np.arange(len(slopes))
    return tried[rows, k], deviations[rows, k]

"""Statistics of very many cases without keeping them.

Mean and variance are added up block by block in the order of the cases, so that they have the same
bits whoever computed the blocks. For quantiles the cases are counted in bins, each 1/1024 of its
distance from the mean of the first block wide; counts can be added in any order.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.studies.draws import BLOCK

if TYPE_CHECKING:
    import numpy.typing as npt

    Float = npt.NDArray[np.float64]
    Counts = npt.NDArray[np.int64]

COVERAGE = 0.95
FRACTION_BITS = 10
SMALLEST, LARGEST = -20, 12
"""Powers of two, in standard deviations, between which distances are told apart."""
_FIRST = (1023 + SMALLEST) << FRACTION_BITS
_SIDE = (LARGEST - SMALLEST) << FRACTION_BITS
BINS = 2 * _SIDE


@dataclass(frozen=True)
class Statistics:
    """What is known of one output over all cases.

    Attributes
    ----------
    count : int
        Number of cases in which it is defined.
    mean : float
        Mean.
    deviation : float
        Standard deviation.
    low, high : float
        Ends of the interval that holds 95 % of the cases, as many below as above.
    least, most : float
        Smallest and largest value.
    """

    count: int
    mean: float
    deviation: float
    low: float
    high: float
    least: float
    most: float


def statistics_of(values: Float) -> Statistics:
    """Compute statistics of values that are all there.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
        The values; NaN are passed over.

    Returns
    -------
    Statistics
        The statistics, NaN where there is nothing to tell.
    """
    kept = values[np.isfinite(values)]
    if not len(kept):
        return Statistics(0, *[math.nan] * 6)
    low, high = np.quantile(kept, [(1 - COVERAGE) / 2, (1 + COVERAGE) / 2]).tolist()
    deviation = float(kept.std(ddof=1)) if len(kept) > 1 else math.nan
    return Statistics(
        len(kept), float(kept.mean()), deviation, low, high, float(kept.min()), float(kept.max())
    )


@dataclass(frozen=True, eq=False)
class Pilot:
    """Where the values lie, from the first block.

    Attributes
    ----------
    centre : ndarray of float, shape (n_outputs,)
        Their means.
    scale : ndarray of float, shape (n_outputs,)
        Their standard deviations, or 1 where they do not vary.
    """

    centre: Float
    scale: Float


def pilot_of(outputs: Float) -> Pilot:
    """Find where values lie.

    Parameters
    ----------
    outputs : ndarray of float, shape (n_outputs, n)
        The first block; NaN are passed over.

    Returns
    -------
    Pilot
        Centre and scale.
    """
    found = [statistics_of(row) for row in outputs]
    centre = np.array([s.mean if s.count else 0.0 for s in found])
    scale = np.array([s.deviation if s.deviation > 0 else 1.0 for s in found])
    return Pilot(centre, scale)


@dataclass(frozen=True, eq=False)
class Summary:
    """What a chunk adds to the statistics.

    Attributes
    ----------
    moments : ndarray of float, shape (n_blocks, 5, n_outputs)
        For each block number of values, mean, sum of squared deviations, smallest, largest.
    places : ndarray of int, shape (n_filled,)
        Which bins of all outputs are not empty, those of the first output first.
    counts : ndarray of int, shape (n_filled,)
        Numbers of values in those.
    """

    moments: Float
    places: Counts
    counts: Counts


def summarise(outputs: Float, pilot: Pilot) -> Summary:
    """Summarise a chunk.

    Parameters
    ----------
    outputs : ndarray of float, shape (n_outputs, n)
        Its values; NaN are passed over.
    pilot : Pilot
        Where the values lie.

    Returns
    -------
    Summary
        Its share.
    """
    blocks = [
        _moments(np.ascontiguousarray(outputs[:, start : start + BLOCK]))
        for start in range(0, outputs.shape[1], BLOCK)
    ]
    counts = np.array(
        [
            _count(row[np.isfinite(row)], centre, scale)
            for row, centre, scale in zip(outputs, pilot.centre, pilot.scale, strict=True)
        ]
    )
    places = np.flatnonzero(counts)
    return Summary(np.array(blocks), places, counts.ravel()[places])


def _moments(block: Float) -> Float:
    if np.isfinite(block).all():
        mean = block.mean(axis=1)
        squares = np.square(block - mean[:, None]).sum(axis=1)
        count = np.full(len(block), float(block.shape[1]))
        return np.array([count, mean, squares, block.min(axis=1), block.max(axis=1)])
    each = [_moments(row[np.isfinite(row)][None])[:, 0] for row in block if np.isfinite(row).any()]
    found = np.full((len(block), 5), [0.0, 0.0, 0.0, math.inf, -math.inf])
    found[np.isfinite(block).any(axis=1)] = np.array(each).reshape(-1, 5)
    return found.T


def _count(values: Float, centre: float, scale: float) -> Counts:
    """Count values by the sign of their distance from the centre and its leading bits."""
    places = np.empty(len(values), dtype=np.intp)
    for start in range(0, len(values), BLOCK):  # one after the other, to stay in the cache
        part = slice(start, start + BLOCK)
        bits = ((values[part] - centre) * (1 / scale)).view(np.int64)
        sign = bits >> 63  # 0 or −1
        bits &= np.iinfo(np.int64).max
        bits >>= 52 - FRACTION_BITS
        bits -= _FIRST
        np.maximum(bits, 0, out=bits)
        np.minimum(bits, _SIDE - 1, out=bits)
        bits ^= sign  # itself, or −1 − itself
        np.add(bits, _SIDE, out=places[part])
    return np.bincount(places, minlength=BINS)


class Accumulator:
    """Statistics of all chunks so far.

    Parameters
    ----------
    pilot : Pilot
        Where the values lie.
    """

    def __init__(self, pilot: Pilot) -> None:
        n = len(pilot.centre)
        self.pilot = pilot
        self.moments = np.array([np.zeros(n)] * 3 + [np.full(n, math.inf), np.full(n, -math.inf)])
        self.counts: Counts = np.zeros((n, BINS), dtype=np.int64)

    def add(self, summary: Summary) -> None:
        """Add the next chunk.

        Parameters
        ----------
        summary : Summary
            Its share.

        Notes
        -----
        Means and sums of squares are merged pairwise (Chan, Golub & LeVeque, "Updating formulae
        and a pairwise algorithm for computing sample variances", 1979; from memory).
        """
        for count, mean, squares, least, most in summary.moments:
            n, total = self.moments[0], self.moments[0] + count
            part = np.divide(count, total, out=np.zeros_like(total), where=total > 0)
            shift = mean - self.moments[1]
            self.moments[2] += squares + shift**2 * n * part
            self.moments[1] += shift * part
            self.moments[0] = total
            np.minimum(self.moments[3], least, out=self.moments[3])
            np.maximum(self.moments[4], most, out=self.moments[4])
        self.counts.reshape(-1)[summary.places] += summary.counts

    def result(self) -> list[Statistics]:
        """Give the statistics of each output."""
        return [self._of(k) for k in range(len(self.counts))]

    def _of(self, k: int) -> Statistics:
        count, mean, squares, least, most = self.moments[:, k].tolist()
        if not count:
            return Statistics(0, *[math.nan] * 6)
        deviation = math.sqrt(squares / (count - 1)) if count > 1 else math.nan
        ends = [self._quantile(k, p) for p in ((1 - COVERAGE) / 2, (1 + COVERAGE) / 2)]
        low, high = (min(max(end, least), most) for end in ends)
        return Statistics(int(count), mean, deviation, low, high, least, most)

    def _quantile(self, k: int, p: float) -> float:
        """Find the bin in which a quantile lies, and its place in there in proportion."""
        below = np.cumsum(self.counts[k])
        rank = p * (below[-1] - 1) + 0.5
        place = int(np.searchsorted(below, rank))
        inside = (rank - (below[place] - self.counts[k, place])) / self.counts[k, place]
        lower, upper = _edge(place), _edge(place + 1)
        return float(
            self.pilot.centre[k] + self.pilot.scale[k] * (lower + inside * (upper - lower))
        )


def _edge(place: int) -> float:
    """Give the lower end of a bin, in standard deviations from the centre."""
    if place == _SIDE:
        return 0.0
    bits = np.array(abs(place - _SIDE) + _FIRST, dtype=np.int64) << (52 - FRACTION_BITS)
    return math.copysign(float(bits.view(np.float64)), place - _SIDE)

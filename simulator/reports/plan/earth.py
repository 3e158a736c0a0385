"""The highest voltage to earth, by which measurement categories go."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from simulator.installation.conductors import EARTH

if TYPE_CHECKING:
    from simulator.findings.result import Result

# Impulse withstand voltage of the categories II, III, IV by voltage to earth [kV, V]
# (https://clouglobal.com/the-categories-for-electrical-measurements/, SEEN).
CATEGORIES = {300: (2.5, 4, 6), 600: (4, 6, 8), 1000: (6, 8, 12)}
ROUNDED = 1.0005


def to_earth(result: Result) -> tuple[float, str]:
    """Give the highest voltage of a line to earth, by which categories go.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    volts : float
        The voltage, rms [V].
    why : str
        For which earthing.
    """
    supply, conductors = result.measurement.supply, result.measurement.conductors
    potentials = result.first.solution.potentials
    if supply.earthed:
        volts = max(abs(potentials[line] - potentials[EARTH]) for line in conductors.lines)
        return volts, f"{supply.earthed} is earthed"
    if conductors.neutral:
        volts = max(abs(emf) for emf in supply.emfs)
        return volts, f"if the supply's star point, {conductors.neutral}, is earthed"
    volts = max(abs(a - b) for a, b in combinations(supply.emfs, 2))
    return volts, "earthing not stated: any line may be at earth"


def is_high(result: Result) -> bool:
    """Tell whether nothing may be measured but behind transformers.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    bool
        Whether a line may be at a voltage to earth above every category.
    """
    return to_earth(result)[0] > max(CATEGORIES) * ROUNDED

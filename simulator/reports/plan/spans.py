"""Over which power factors is planned, and with which factors on the loads they are reached."""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING

from simulator.errors import ScenarioError
from simulator.figures.words import power_factor
from simulator.findings.faults.loads import load_of, with_load
from simulator.findings.result import solve

if TYPE_CHECKING:
    from simulator.findings.result import Result

    Interval = tuple[float, float]

USUAL_WIDTH = 0.03
"""How far the power factor may lie from the scenario's, unless it is said."""
# Angles closer than this are one, and below it a load has no sense of lag or lead [deg].
UNITY = 0.05
ROUNDS = 60
FARTHEST = 1e6
CLOSE = 1e-10


def around(power: complex, width: float) -> Interval:
    """Give the angles that lie around a load's own.

    Parameters
    ----------
    power : complex
        What the loads take together [VA].
    width : float
        How far the power factor may lie from theirs, to both sides; it ends at 1.

    Returns
    -------
    tuple of float
        Smallest and largest angle, positive for lag [deg].

    Raises
    ------
    ScenarioError
        If the power factor is 1, or nothing of it is left.
    """
    angle, value = angle_of(power), power.real / abs(power) if power else 0.0
    if value - width <= 0:
        raise ScenarioError(
            f"{width:g} below the load's own power factor of {value:.3g} leaves nothing"
        )
    if abs(angle) < UNITY:
        raise ScenarioError(
            "the load's power factor is 1 and may turn either way; --power-factor names both ends"
        )
    near, far = (math.degrees(math.acos(min(value + s * width, 1.0))) for s in (1, -1))
    return (near, far) if angle > 0 else (-far, -near)


def factors_of(result: Result, angles: Interval) -> list[complex]:
    """Find the factors on the loads' admittances for a span.

    Parameters
    ----------
    result : Result
        The scenario, solved.
    angles : tuple of float
        Smallest and largest angle of the loads' power together [deg].

    Returns
    -------
    list of complex
        From most lagging to most leading; 1 for the loads as they are, and where the span goes
        from lag to lead also power factor 1, at which the current is smallest.

    Raises
    ------
    ScenarioError
        If the span does not hold the loads' own power factor, or cannot be reached.
    """
    power = load_of(result)
    own = angle_of(power)
    low, high = angles
    if not low - UNITY <= own <= high + UNITY:
        raise ScenarioError(
            f"the load's own {power_factor(own)} does not lie within {power_factor(high)} to "
            f"{power_factor(low)}",
            "--power-factor",
        )
    ends = {low, high} | ({0.0} if low < -UNITY and high > UNITY else set())
    factors = {own: 1 + 0j}
    for angle in ends:
        if abs(angle - own) > UNITY:
            tangent = math.tan(math.radians(angle))
            if power.real <= 0 or abs(angle) >= 90 - UNITY:
                raise ScenarioError(
                    "over a span the load keeps its active power, so that and the power factors "
                    "must be above 0",
                    "--power-factor",
                )
            factors[angle] = factor_for(result, complex(power.real, power.real * tangent))
    return [factors[angle] for angle in sorted(factors, reverse=True)]


def factor_for(result: Result, power: complex) -> complex:
    """Find the factor with which the loads take a power, behind whatever impedances.

    Parameters
    ----------
    result : Result
        The scenario, solved.
    power : complex
        What the loads are to take together [VA].

    Returns
    -------
    complex
        Factor on the admittance of every load.

    Raises
    ------
    ScenarioError
        If they cannot take it.
    """
    factor = 1 + 0j
    for _ in range(ROUNDS):
        if not 1 / FARTHEST < abs(factor) < FARTHEST:
            break
        found = load_of(solve(with_load(result.measurement, factor)))
        if abs(found - power) <= CLOSE * abs(power):
            return factor
        factor *= (power / found).conjugate() if found else 1
    raise ScenarioError(
        f"the loads cannot take {abs(power):.4g} VA with {power_factor(angle_of(power))} behind "
        "the impedances of the supply: choose a narrower span"
    )


def angle_of(power: complex) -> float:
    """Give the angle of a complex power.

    Parameters
    ----------
    power : complex
        The power [VA].

    Returns
    -------
    float
        Its angle, positive for lag [deg]; 0 for no power.
    """
    return math.degrees(cmath.phase(power)) if power else 0.0

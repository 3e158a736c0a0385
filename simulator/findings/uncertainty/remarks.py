"""What a person must know to read the uncertainties: where the usual law misleads."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.findings.balanced import ROUND_OFF
from simulator.findings.uncertainty.model import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.findings.uncertainty.evaluation import Uncertainty

# Below this power factor tan φ multiplies every uncertainty of the angle by more than 1.7.
LOW = 0.5
# Standard uncertainties of the two ways that differ by more than this part do not agree.
DIFFERENT = 0.1


def remarks(uncertainty: Uncertainty) -> tuple[str, ...]:
    """Say where the numbers need care.

    Parameters
    ----------
    uncertainty : Uncertainty
        The evaluated uncertainties.

    Returns
    -------
    tuple of str
        Whole sentences; none if there is nothing to say.
    """
    found = list(_of_power_factor(uncertainty))
    if not uncertainty.stable:
        found.append(
            f"Not stable in {uncertainty.settings.digits} digits after {uncertainty.draws} draws: "
            "take the last digit with care."
        )
    return tuple(found)


def _of_power_factor(uncertainty: Uncertainty) -> Iterator[str]:
    factor, angle = (uncertainty.of(k) for k in (Quantity.POWER_FACTOR, Quantity.ANGLE))
    if factor is None or angle is None:
        return
    low, high = angle.simulation.symmetric
    if low < 0 < high:
        yield (f"Lag cannot be told from lead: φ lies from {_degrees(low)} to {_degrees(high)}.")
    u, linear = factor.simulation.standard_uncertainty, factor.budget.standard_uncertainty
    if not factor.validation.valid and abs(u - linear) > DIFFERENT * u:
        low, high = factor.interval
        yield (
            f"The linear law fails for the power factor: it gives u = {linear:.2g} and the "
            f"simulation {u:.2g}, for near power factor 1 the cosine is flat and its distribution "
            f"one-sided. Take the interval from {low:.6g} to {high:.6g}, or report φ = "
            f"{_degrees(angle.value)} with u = {angle.simulation.standard_uncertainty:.2g}°."
        )
    if 0 < abs(factor.value) < LOW * (1 - ROUND_OFF):
        relative = 100 * factor.simulation.standard_uncertainty / abs(factor.value)
        tangent = math.tan(math.radians(abs(angle.value)))
        turn = angle.simulation.standard_uncertainty
        yield (
            f"At a low power factor its relative uncertainty grows as tan φ: {relative:.2g} % here "
            f"is tan φ = {tangent:.3g} times the {turn:.2g}° of φ. The total, a small sum of large "
            "readings, suffers alike."
        )


def _degrees(angle: float) -> str:
    return f"{angle:z.2f}°".replace("-", "−")

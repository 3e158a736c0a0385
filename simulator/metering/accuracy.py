"""Limits of error by accuracy class: wattmeters, current and voltage transformers, leads.

A class is a promise of the maker, a limit and no expected value. The tables stand in
``simulator/data`` with source and confidence in each row. Standards limit errors at a few points
only; what is assumed between and beyond them is said in `TransformerLimits.assumption`.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal

import numpy as np

from simulator.errors import ScenarioError

Kind = Literal["current", "voltage"]

# Minutes of arc in a correction factor of 1: 1/(tan(arccos 0.6)·1′) = 2578, rounded by IEEE C57.13
# (MEM, high).
MINUTES_PER_FACTOR = 2600
# Copper at 20 °C [ohm·mm²/m]; warm or with contacts more, so callers may give another.
COPPER = 0.0175
ROUNDING = 1 + 1e-9


@dataclass(frozen=True)
class TransformerLimits:
    """Where a transformer of an accuracy class may lie, at one current or voltage.

    The ratio error ε lies within ±`ratio_error`, and the phase displacement within
    ±`phase_displacement` of `skew`·ε: a rectangle by IEC 61869, where `skew` is 0, and the
    parallelogram by IEEE C57.13. So, for example, two independent draws describe it.

    Attributes
    ----------
    ratio_error : float
        Largest ratio error, a fraction.
    phase_displacement : float or None
        Largest phase displacement around ``skew·ε`` [deg]; None where the class has no limit.
    skew : float
        Phase displacement that goes with a ratio error [deg per unit of ratio error].
    covered : bool
        Whether the standard promises anything at this current or voltage.
    assumption : str
        What was assumed because the standard does not say it; empty at a point of its table.
    source, confidence : str
        Where the limits come from, and how sure that is.
    """

    ratio_error: float
    phase_displacement: float | None
    skew: float
    covered: bool
    assumption: str
    source: str
    confidence: str


def fiducial_value(
    voltage_range: float, current_range: float, rated_power_factor: float = 1.0
) -> float:
    """Give the upper limit of a wattmeter's measuring range, to which its class refers.

    Parameters
    ----------
    voltage_range : float
        Rated voltage [V].
    current_range : float
        Rated current [A].
    rated_power_factor : float
        Power factor at which rated voltage and current give full scale.

    Returns
    -------
    float
        Fiducial value [W]: V·I·cosφ (IEC 60051-1; MEM, high).
    """
    return voltage_range * current_range * rated_power_factor


def wattmeter_limit(accuracy_class: float, fiducial: float) -> float:
    """Give a wattmeter's limit of intrinsic error, the same along its whole scale.

    Parameters
    ----------
    accuracy_class : float
        Class index c.
    fiducial : float
        Fiducial value R [W].

    Returns
    -------
    float
        Largest error a = c·R/100, either way [W] (IEC 60051-1, BS 89-1:1990 clause 4).
    """
    return accuracy_class * fiducial / 100


def current_transformer_limits(accuracy_class: str, percent_of_rated: float) -> TransformerLimits:
    """Give the limits of a measuring current transformer.

    Between the points of its table a straight line over the current is taken: it lies above one
    over the logarithm of the current, so it is the cautious of the two usual choices. Below the
    lowest point the error current of that point is kept, so the limits grow inversely with the
    current, up to 100 % and 90°. Above the highest point its limits are kept.

    Parameters
    ----------
    accuracy_class : str
        0.1, 0.2, 0.5, 1, 0.2S, 0.5S, 3 or 5 (IEC 61869-2); 0.15, 0.15S, 0.3, 0.6 or 1.2
        (IEEE C57.13).
    percent_of_rated : float
        Primary current in percent of the rated one.

    Returns
    -------
    TransformerLimits
        The limits, and what was assumed.

    Raises
    ------
    ScenarioError
        If there is no such class.
    """
    return _limits("current", accuracy_class, percent_of_rated)


def voltage_transformer_limits(accuracy_class: str, percent_of_rated: float) -> TransformerLimits:
    """Give the limits of a measuring voltage transformer.

    The standards' limits hold from 80 to 120 % (IEC) or from 90 to 110 % (IEEE) of the rated
    voltage; beyond, below as `current_transformer_limits` says, above they are kept.

    Parameters
    ----------
    accuracy_class : str
        0.1, 0.2, 0.5, 1 or 3 (IEC 61869-3); 0.15, 0.3, 0.6 or 1.2 (IEEE C57.13).
    percent_of_rated : float
        Primary voltage in percent of the rated one.

    Returns
    -------
    TransformerLimits
        The limits, and what was assumed.

    Raises
    ------
    ScenarioError
        If there is no such class.
    """
    return _limits("voltage", accuracy_class, percent_of_rated)


def transformer_classes(kind: Kind) -> tuple[str, ...]:
    """List the accuracy classes of current or voltage transformers.

    Parameters
    ----------
    kind : {'current', 'voltage'}
        Which transformers.

    Returns
    -------
    tuple of str
        Names of the classes.
    """
    return tuple(_classes(kind))


def burden_range(kind: Kind, accuracy_class: str) -> tuple[float, float] | None:
    """Give the burdens for which a class holds.

    Parameters
    ----------
    kind : {'current', 'voltage'}
        Which transformers.
    accuracy_class : str
        Name of the class.

    Returns
    -------
    tuple of float or None
        Smallest and largest burden [percent of the rated burden]; None if the class is defined at
        standard burdens (IEEE C57.13).

    Raises
    ------
    ScenarioError
        If there is no such class.
    """
    found = _row(kind, accuracy_class).get("burden_percent_of_rated")
    return None if found is None else (found[0], found[1])


def lead_resistance(loop_length: float, area: float, resistivity: float = COPPER) -> float:
    """Give the resistance of the leads from a transformer to its meter.

    Parameters
    ----------
    loop_length : float
        Length there and back [m].
    area : float
        Cross-section [mm²].
    resistivity : float
        Resistivity at the temperature of the leads [ohm·mm²/m].

    Returns
    -------
    float
        Resistance ρ·l/A [ohm]; times the square of the current it is the leads' burden [VA].
    """
    return resistivity * loop_length / area


@cache
def _classes(kind: Kind) -> dict[str, dict[str, Any]]:
    file = resources.files("simulator") / "data" / f"{kind}_transformer_classes.toml"
    rows = tomllib.loads(file.read_text(encoding="utf-8"))["class"]
    return {row["name"]: row for row in rows}


def _row(kind: Kind, accuracy_class: str) -> dict[str, Any]:
    known = _classes(kind)
    if accuracy_class not in known:
        raise ScenarioError(
            f"expected an accuracy class of a {kind} transformer ({', '.join(known)}), "
            f"got '{accuracy_class}'"
        )
    return known[accuracy_class]


def _limits(kind: Kind, accuracy_class: str, percent: float) -> TransformerLimits:
    row = _row(kind, accuracy_class)
    points = row["percent_of_rated"]
    factor, assumption = _beyond(points, percent, accuracy_class, between=kind == "current")
    covered = points[0] <= percent * ROUNDING and percent <= points[-1] * ROUNDING

    def at(key: str) -> float:
        return float(np.interp(percent, points, row[key])) * factor

    ieee = "correction_factor_percent" in row
    ratio = at("correction_factor_percent" if ieee else "ratio_error_percent") / 100
    phase: float | None = None
    skew = 0.0
    if ieee:
        # RCF = 1 − ε within 1 ± c and TCF = RCF ∓ β/2600 within 1 ± c, upper sign for current
        # transformers: β within ±2600·c around ∓2600·ε minutes (signs CALC)
        degrees = MINUTES_PER_FACTOR / 60
        phase, skew = degrees * ratio, -degrees if kind == "current" else degrees
    elif "phase_displacement_minutes" in row:
        phase = at("phase_displacement_minutes") / 60
    return TransformerLimits(
        ratio_error=min(ratio, 1.0),
        phase_displacement=None if phase is None else min(phase, 90.0),
        skew=skew,
        covered=covered,
        assumption=assumption,
        source=row["source"],
        confidence=row["confidence"],
    )


def _beyond(points: list[float], percent: float, name: str, *, between: bool) -> tuple[float, str]:
    """Give the factor on the nearest limit, and say what is assumed at this percentage."""
    if not percent >= 0:
        raise ScenarioError(f"expected a percentage of at least 0, got {percent:g}")
    lowest, highest = points[0], points[-1]
    if any(math.isclose(percent, point) for point in points):
        return 1.0, ""
    if percent < lowest:
        factor = lowest / percent if percent else math.inf
        return factor, (
            f"Class {name} has no limit below {lowest} % of the rated value; the error at "
            f"{lowest} % is kept in absolute size, so the limits grow inversely with the value"
        )
    if percent > highest:
        return 1.0, (
            f"Class {name} has no limit above {highest} % of the rated value; those at "
            f"{highest} % are kept"
        )
    text = f"Class {name} has limits at {', '.join(map(str, points))} % of the rated value; a "
    return 1.0, f"{text}straight line is taken between" if between else ""

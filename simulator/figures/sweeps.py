"""One quantity varied, everything else as in the scenario: the numbers behind the curves."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import ScenarioError
from simulator.findings.result import Result, solve
from simulator.installation.loads import Branch, Connection, Load
from simulator.phasors import polar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from simulator.metering.arrangement import Arrangement
    from simulator.phasors import FloatArray
    from simulator.scenario.build import Measurement

BALANCED = "balanced load"
ANGLES = np.arange(-90.0, 90.1, 3.0)
"""Angles of the load, positive for lag [deg]."""
UNBALANCE = np.linspace(-50.0, 50.0, 17)
"""Change of one line's admittance [%]."""
MISMATCH = np.linspace(-50.0, 50.0, 17)
"""Change of one voltage circuit [%]."""
NEUTRAL = np.logspace(-2, 2, 33)
"""Neutral impedance as a multiple of the load's impedance per phase."""


@dataclass(frozen=True)
class PowerFactorSweep:
    """Readings against the angle of a balanced load.

    Attributes
    ----------
    angles : ndarray of float, shape (n,)
        Angle of the load, positive for lag [deg].
    readings : dict of str to ndarray of float, shape (n,)
        Reading of each wattmeter [W].
    total : ndarray of float, shape (n,), or None
        Indicated total [W or var]; None if the scenario forms none.
    true : ndarray of float, shape (n,), or None
        What it should be [W or var].
    apparent : float
        Apparent power of the load [VA].
    """

    angles: FloatArray
    readings: dict[str, FloatArray]
    total: FloatArray | None
    true: FloatArray | None
    apparent: float


@dataclass(frozen=True)
class ErrorSweep:
    """Error of the total against a quantity.

    Attributes
    ----------
    x : ndarray of float, shape (n,)
        The quantity [% or ohm].
    errors : dict of str to ndarray of float, shape (n,)
        Error in percent of what the total should be, by curve; NaN where that is zero.
    """

    x: FloatArray
    errors: dict[str, FloatArray]


def angle_of_load(result: Result) -> float:
    """Give the angle of the scenario's own load, that of the power that crosses to it.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    float
        Angle, positive for lag [deg]; NaN where no power crosses.
    """
    power = result.first.crossing
    scale = float(result.first.plane.apparent.arithmetic)
    if abs(power) <= 1e-9 * scale or scale == 0:
        return math.nan
    return math.degrees(math.atan2(power.imag, power.real))


def apparent_power(result: Result) -> float:
    """Give the scenario's apparent power.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    float
        Arithmetic apparent power at the meters [VA].

    Raises
    ------
    ScenarioError
        If the load takes none.
    """
    apparent = float(result.first.plane.apparent.arithmetic)
    if apparent == 0:
        raise ScenarioError("there is no curve of a load that takes no power", "figure")
    return apparent


def balanced_impedance(result: Result) -> float:
    """Give the impedance per phase of a balanced star that takes the scenario's apparent power.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    float
        Magnitude of the impedance [ohm], for the voltages at the meters.

    Raises
    ------
    ScenarioError
        If the load takes no apparent power.
    """
    return float((np.abs(result.first.line_potentials) ** 2).sum()) / apparent_power(result)


def against_power_factor(result: Result, angles: FloatArray = ANGLES) -> PowerFactorSweep:
    """Read the scenario's meters on a balanced load of every power factor.

    Parameters
    ----------
    result : Result
        The result of the scenario.
    angles : ndarray of float, shape (n,), optional
        Angles of the load, positive for lag [deg].

    Returns
    -------
    PowerFactorSweep
        The readings.

    Raises
    ------
    ScenarioError
        If there is no wattmeter, or the load takes no apparent power.
    """
    if not result.readings:
        raise ScenarioError("there are no readings without a wattmeter", "figure")
    size = balanced_impedance(result)
    solved = [
        solve(with_balanced_load(result, [polar(size, float(angle))] * 3)) for angle in angles
    ]
    readings = {
        name: np.array([r.readings[name].watts for r in solved]) for name in result.readings
    }
    formed = [r.total for r in solved if r.total]
    totals = np.array([(t.indicated, t.true) for t in formed]) if formed else None
    return PowerFactorSweep(
        angles=angles,
        readings=readings,
        total=None if totals is None else totals[:, 0],
        true=None if totals is None else totals[:, 1],
        apparent=apparent_power(result),
    )


def reading_ratio(first: FloatArray, second: FloatArray) -> FloatArray:
    """Divide the smaller of two readings by the larger, sizes compared, signs kept.

    Parameters
    ----------
    first, second : ndarray of float, shape (n,)
        The readings [W].

    Returns
    -------
    ndarray of float, shape (n,)
        The ratio, −1 to 1; NaN where both are zero.
    """
    swap = np.abs(first) > np.abs(second)
    small, large = np.where(swap, second, first), np.where(swap, first, second)
    return np.asarray(np.divide(small, large, out=np.full_like(small, np.nan), where=large != 0))


def against_unbalance(result: Result, changes: FloatArray = UNBALANCE) -> ErrorSweep:
    """Change the admittance of one line of a balanced load, each line in turn.

    Parameters
    ----------
    result : Result
        The result of the scenario; the balanced load has its apparent power and its angle.
    changes : ndarray of float, shape (n,), optional
        Changes [%].

    Returns
    -------
    ErrorSweep
        One curve for each line.

    Raises
    ------
    ScenarioError
        If the scenario forms no total, or its load takes no power.
    """
    total_needed(result)
    size, angle = balanced_impedance(result), angle_of_load(result)
    Z = polar(size, 0.0 if math.isnan(angle) else angle)
    errors = {}
    for k, line in enumerate(result.measurement.conductors.lines):
        branches = [
            [Z / (1 + change / 100) if j == k else Z for j in range(3)]
            for change in changes.tolist()
        ]
        errors[line] = errors_of(with_balanced_load(result, b) for b in branches)
    return ErrorSweep(changes, errors)


def against_neutral_impedance(result: Result, multiples: FloatArray = NEUTRAL) -> ErrorSweep:
    """Change the impedance of the neutral between supply and meters.

    Parameters
    ----------
    result : Result
        The result of the scenario, whose own load it keeps.
    multiples : ndarray of float, shape (n,), optional
        Resistance of the neutral as a multiple of the load's impedance per phase.

    Returns
    -------
    ErrorSweep
        One curve, against the resistance [ohm].

    Raises
    ------
    ScenarioError
        If there is no neutral, no total, or no load.
    """
    total_needed(result)
    measurement = result.measurement
    if measurement.conductors.neutral is None:
        raise ScenarioError("a neutral impedance needs a neutral, but there are 3 wires", "figure")
    ohms = multiples * balanced_impedance(result)

    def with_neutral(R: float) -> Measurement:
        supply = replace(measurement.supply, neutral_impedance=complex(R))
        return rebuilt(measurement, lambda a: replace(a, supply=supply))

    return ErrorSweep(ohms, {"total": errors_of(with_neutral(R) for R in ohms.tolist())})


def with_balanced_load(result: Result, branches: list[complex]) -> Measurement:
    """Replace all loads by one star.

    Parameters
    ----------
    result : Result
        The result of the scenario. Its star point is the neutral where a load of the scenario
        is connected to that, and isolated elsewhere.
    branches : list of complex, shape (3,)
        Impedance of each branch [ohm].

    Returns
    -------
    Measurement
        The same measurement of the other load.
    """
    arrangement = result.first.arrangement
    neutral = arrangement.conductors.neutral
    ends = {end for load in arrangement.loads for b in load.branches for end in (b.start, b.end)}
    own = {load.star_point for load in arrangement.loads} & _nodes_of_meters(arrangement)
    own.discard(neutral)
    if len(own) > 1:
        raise ScenarioError(
            f"meters are connected to {' and '.join(sorted(map(str, own)))}, star points of "
            "several loads, so one balanced load cannot stand for them",
            "figure",
        )
    star = own.pop() if own else None
    if star is None:
        star = neutral if neutral in ends and neutral else f"star point of {BALANCED}"
    load = Load(
        BALANCED,
        Connection.STAR,
        tuple(
            Branch(line, line, star, Z)
            for line, Z in zip(arrangement.conductors.lines, branches, strict=True)
        ),
        star,
        {},
    )
    return rebuilt(result.measurement, lambda a: replace(a, loads=(load,)))


def _nodes_of_meters(arrangement: Arrangement) -> set[str | None]:
    pairs = [meter.voltage for meter in arrangement.wattmeters]
    pairs += [meter.between for meter in arrangement.voltmeters]
    pairs += [z.between for z in arrangement.impedances]
    return {node for pair in pairs for node in pair}


def rebuilt(measurement: Measurement, change: Callable[[Arrangement], Arrangement]) -> Measurement:
    """Change every station of a measurement.

    Parameters
    ----------
    measurement : Measurement
        The measurement.
    change : Callable
        What is done to each arrangement.

    Returns
    -------
    Measurement
        The changed one.
    """
    stations = {number: change(a) for number, a in measurement.stations.items()}
    meters = {meter.name: meter for a in stations.values() for meter in a.wattmeters}
    first = next(iter(stations.values()))
    return replace(
        measurement,
        conductors=first.conductors,
        supply=first.supply,
        stations=stations,
        wattmeters=tuple(meters[meter.name] for meter in measurement.wattmeters),
    )


def total_needed(result: Result) -> None:
    """Refuse a scenario that forms no total.

    Parameters
    ----------
    result : Result
        Its result.

    Raises
    ------
    ScenarioError
        If there is no total.
    """
    if result.measurement.total is None:
        raise ScenarioError("there is no error of a total that is not formed", "figure")


def errors_of(measurements: Iterable[Measurement]) -> FloatArray:
    """Solve measurements and give the errors of their totals.

    Parameters
    ----------
    measurements : iterable of Measurement
        The measurements; each forms a total.

    Returns
    -------
    ndarray of float, shape (n,)
        Errors in percent of what the total should be; NaN where that is zero.
    """
    return np.array([error_percent(solve(measurement)) for measurement in measurements])


def error_percent(result: Result) -> float:
    """Give the error of a total.

    Parameters
    ----------
    result : Result
        A result.

    Returns
    -------
    float
        Error in percent of what the total should be; NaN where that is zero or there is no total.
    """
    return result.total.error_percent if result.total else math.nan

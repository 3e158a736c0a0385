"""Which wirings explain readings, as classes that the readings cannot tell apart."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import NetworkError, ScenarioError
from simulator.findings.faults.fit import fit, watts
from simulator.findings.faults.hypotheses import Faults, Hypothesis
from simulator.findings.faults.loads import region_of, with_load
from simulator.findings.faults.parts import LARGE_BURDEN, needs_burdens
from simulator.findings.faults.wirings import wirings
from simulator.findings.reason import RIGHT
from simulator.findings.result import solve
from simulator.quantities import format_quantity
from simulator.scenario.build import Measurement, build

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.findings.faults.loads import LoadSpan, Region
    from simulator.findings.faults.wiring import Wiring
    from simulator.findings.result import Result
    from simulator.phasors import FloatArray
    from simulator.scenario.models import Scenario

# Two wirings read the same where they differ by less than this part of the limits.
SAME = 0.1


def find_faults(
    scenario: Scenario | Measurement,
    measured: Mapping[str, float] | None = None,
    *,
    tolerance: float = 0.02,
    limits: Mapping[str, float] | None = None,
    span: LoadSpan | None = None,
) -> Faults:
    """Predict what every plausible wiring reads, and say which ones explain given readings.

    Parameters
    ----------
    scenario : Scenario or Measurement
        The arrangement as it should be.
    measured : mapping of str to float, optional
        A reading for every wattmeter [W].
    tolerance : float
        Limit of each reading, in parts of the volt-amperes that the meter carries when rightly
        wired: errors of ratio, angle and range follow these, and hardly the watts.
    limits : mapping of str to float, optional
        A limit for each reading instead [W], for example from its uncertainty.
    span : LoadSpan, optional
        Bounds between which the load is fitted; not given, it is as the scenario says.

    Returns
    -------
    Faults
        All wirings by class.

    Raises
    ------
    ScenarioError
        If the scenario's tables contradict each other, or the readings are not those of its
        wattmeters.
    NetworkError
        If the rightly wired network has no unique solution.
    """
    measurement = scenario if isinstance(scenario, Measurement) else build(scenario)
    names = [meter.name for meter in measurement.wattmeters]
    if not names:
        raise ScenarioError("there is no wattmeter that could be wired wrongly", "wattmeter")
    for given in (measured, limits):
        if given is not None:
            _check_names(given, names)
    right = solve(measurement)
    region = region_of(span, right)
    if limits is None:
        allowed = tolerance * volt_amperes(right) * region.sizes[1]
    else:
        allowed = np.array([limits[name] for name in names])
    seen = None if measured is None else np.array([measured[name] for name in names])
    hypotheses, notes = [], list(right.measurement.notes)
    classes: list[FloatArray] = []
    for wiring in wirings(measurement):
        try:
            hypothesis = _hypothesis(wiring, classes, region, seen, allowed)
        except NetworkError as error:
            notes.append(f"no prediction for '{wiring.description}': {error}")
        else:
            hypotheses.append(hypothesis)
    if needs_burdens(measurement):
        notes.append(
            "where a voltage lead is open, voltage circuits that only sense are taken as equal "
            f"burdens of {format_quantity(LARGE_BURDEN, 'ohm')}"
        )
    return Faults(
        _by_class(hypotheses),
        dict(zip(names, allowed.tolist(), strict=True)),
        tolerance if limits is None else None,
        span,
        None if measured is None else dict(measured),
        tuple(notes),
    )


def _check_names(given: Mapping[str, float], names: list[str]) -> None:
    unknown = [name for name in given if name not in names]
    if unknown:
        raise ScenarioError(f"there is no wattmeter '{unknown[0]}', only {', '.join(names)}")
    missing = [name for name in names if name not in given]
    if missing:
        raise ScenarioError(f"expected a reading of every wattmeter, {missing[0]} is missing")


def volt_amperes(right: Result) -> FloatArray:
    """Give the volt-amperes that each wattmeter carries.

    Parameters
    ----------
    right : Result
        The rightly wired scenario, solved.

    Returns
    -------
    ndarray of float, shape (n_wattmeters,)
        U·I of both circuits, referred to the primary, in file order [VA]; of a meter that carries
        none (a circuit without voltage or current) the largest of the others.

    Raises
    ------
    ScenarioError
        If none carries any.
    """
    sizes = [abs(r.meter.ratio * r.voltage * r.current) for r in right.readings.values()]
    largest = max(sizes, default=0.0)
    if sizes and not largest:
        raise ScenarioError("no wattmeter carries both a voltage and a current")
    return np.array([size if size > RIGHT * largest else largest for size in sizes])


def _hypothesis(
    wiring: Wiring,
    classes: list[FloatArray],
    region: Region,
    seen: FloatArray | None,
    limits: FloatArray,
) -> Hypothesis:
    """Predict one wiring, and put it into the first class that reads the same at every load."""
    result = solve(wiring.measurement)
    rows = [watts(result)]
    if not region.is_point:
        rows += [watts(solve(with_load(wiring.measurement, c))) for c in region.corners]
    group = class_of(np.array(rows) / limits, classes)
    found = None if seen is None else fit(wiring.measurement, seen, limits, region)
    return Hypothesis(wiring, result, group, found)


def class_of(readings: FloatArray, classes: list[FloatArray]) -> int:
    """Put readings into the first class of the same ones, or open a new class.

    Parameters
    ----------
    readings : ndarray of float, any shape
        Readings in parts of their limits.
    classes : list of ndarray of float, the same shape
        The first member of each class; a new class is added.

    Returns
    -------
    int
        Number of the class, from 1.
    """
    for number, first in enumerate(classes, 1):
        if np.abs(readings - first).max() <= SAME:
            return number
    classes.append(readings)
    return len(classes)


def _by_class(hypotheses: list[Hypothesis]) -> tuple[Hypothesis, ...]:
    """Let whole classes fit."""
    fitting = {h.group for h in hypotheses if h.fit and h.fit.fits}
    return tuple(
        h if h.fit is None else replace(h, consistent=h.group in fitting) for h in hypotheses
    )

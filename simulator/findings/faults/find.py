"""Which wirings explain readings, as classes that the readings cannot tell apart."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist
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
from simulator.formatting import format_quantity
from simulator.scenario.build import Measurement, build

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from simulator.findings.faults.fit import Fit
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
        A limit for each reading instead [W]; `joint_limits` gives them from uncertainties.
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

    Examples
    --------
    Two equal readings of opposite sign, where both should be equal and positive:

    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 3, "voltage": "400 V"},
    ...     "load": [{"connection": "star", "each": "20 ohm"}],
    ...     "method": {"name": "two wattmeters"},
    ... })
    >>> faults = simulator.find_faults(scenario, {"W1": 4000, "W2": -4000})
    >>> [wiring.description for wiring in faults.fitting][:2]
    ['current circuit of W2 reversed', 'voltage leads L2 and L3 exchanged']
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
    hypotheses, notes = [], list(measurement.notes)
    classes: list[FloatArray] = []
    for wiring in wirings(measurement):
        try:
            hypotheses.append(_hypothesis(wiring, classes, region, allowed))
        except NetworkError as error:
            notes.append(f"no prediction for '{wiring.description}': {error}")
    if needs_burdens(measurement):
        notes.append(
            "where a voltage lead is open, voltage circuits that only sense are taken as equal "
            f"burdens of {format_quantity(LARGE_BURDEN, 'ohm')}"
        )
    found = Faults(
        tuple(hypotheses),
        dict(zip(names, allowed.tolist(), strict=True)),
        tolerance if limits is None else None,
        region,
        None,
        tuple(notes),
    )
    return found if measured is None else explain_readings(found, measured)


def explain_readings(faults: Faults, measured: Mapping[str, float]) -> Faults:
    """Say which wirings explain readings; a class explains them as soon as one member does.

    Parameters
    ----------
    faults : Faults
        The wirings.
    measured : mapping of str to float
        A reading for every wattmeter [W].

    Returns
    -------
    Faults
        The same wirings with their fit.

    Raises
    ------
    ScenarioError
        If the readings are not those of the wattmeters.
    NetworkError
        If a network has no unique solution with a load that is tried.
    """
    _check_names(measured, list(faults.limits))
    fits = _fits(faults, measured)
    fitting = {h.group for h, found in zip(faults.hypotheses, fits, strict=True) if found.fits}
    hypotheses = tuple(
        replace(h, fit=found, consistent=h.group in fitting)
        for h, found in zip(faults.hypotheses, fits, strict=True)
    )
    notes = faults.notes if fitting else (*faults.notes, *_without_ratios(faults, measured))
    return replace(faults, hypotheses=hypotheses, measured=dict(measured), notes=notes)


def _fits(faults: Faults, measured: Mapping[str, float]) -> list[Fit]:
    seen = np.array([measured[name] for name in faults.limits])
    limits = np.array(list(faults.limits.values()))
    return [
        fit(h.wiring.measurement, h.result, seen, limits, faults.region) for h in faults.hypotheses
    ]


def _without_ratios(faults: Faults, measured: Mapping[str, float]) -> Iterator[str]:
    """Recognise readings as the instruments show them, behind their transformers."""
    meters = faults.right.result.measurement.wattmeters
    ratios = {meter.name: meter.ratio for meter in meters}
    if set(ratios.values()) == {1}:
        return
    fits = _fits(faults, {name: ratio * measured[name] for name, ratio in ratios.items()})
    found = [h for h, one in zip(faults.hypotheses, fits, strict=True) if one.fits]
    if found:
        times = ", ".join(f"{name} × {ratio:g}" for name, ratio in ratios.items() if ratio != 1)
        yield (
            "these seem to be the readings of the instruments; referred to the primary of their "
            f"transformers, {times}, they fit '{found[0].description}': give them so"
        )


def joint_limits(uncertainties: Mapping[str, float], coverage: float = 0.95) -> dict[str, float]:
    """Turn standard uncertainties into limits that all readings keep at one time.

    Parameters
    ----------
    uncertainties : mapping of str to float
        Standard uncertainty of each reading [W].
    coverage : float
        Probability with which no reading is beyond its limit.

    Returns
    -------
    dict of str to float
        Limits k·u [W] with the normal quantile k at (1 + coverage^(1/n))/2: for n normal errors,
        whatever their correlation, the probability is at least `coverage` (Šidák's inequality,
        J. Am. Stat. Assoc. 62 (1967) 626; from memory).
    """
    each = coverage ** (1 / len(uncertainties))
    k = NormalDist().inv_cdf((1 + each) / 2)
    return {name: k * u for name, u in uncertainties.items()}


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
        raise ScenarioError("with this load no wattmeter carries both a voltage and a current")
    return np.array([size if size > RIGHT * largest else largest for size in sizes])


def _hypothesis(
    wiring: Wiring, classes: list[FloatArray], region: Region, limits: FloatArray
) -> Hypothesis:
    """Predict one wiring, and put it into the first class that reads the same at every load."""
    result = solve(wiring.measurement)
    rows = [watts(result)]
    if not region.is_point:
        rows += [watts(solve(with_load(wiring.measurement, c))) for c in region.corners]
    return Hypothesis(wiring, result, class_of(np.array(rows) / limits, classes))


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

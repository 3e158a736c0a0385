"""What is planned for: the load as the scenario says, over a span of power factors, and at no load.

Over the span the loads keep the active power they take together; every admittance is multiplied by
the same factor, so the load keeps its shape.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from simulator.errors import ScenarioError
from simulator.figures.words import power_factor
from simulator.findings.faults.find import find_faults
from simulator.findings.faults.loads import load_of, with_load
from simulator.findings.result import solve
from simulator.findings.uncertainty.evaluation import evaluate_uncertainty
from simulator.findings.uncertainty.model import Quantity
from simulator.phasors import polar
from simulator.reports.plan.spans import USUAL_WIDTH, angle_of, around, factor_for, factors_of

if TYPE_CHECKING:
    from simulator.findings.faults.hypotheses import Faults
    from simulator.findings.result import Result
    from simulator.findings.uncertainty.evaluation import Uncertainty
    from simulator.installation.loads import Load
    from simulator.quantities import PowerFactor
    from simulator.reports.plan.spans import Interval
    from simulator.scenario.build import Measurement
    from simulator.scenario.models import Scenario


@dataclass(frozen=True)
class Case:
    """One load that is planned for.

    Attributes
    ----------
    words : str
        Which it is: "power factor 0.79 lag".
    result : Result
        What is read with it.
    uncertainty : Uncertainty or None
        Uncertainty of that; None where nothing in the scenario is uncertain.
    factor : complex
        What the admittances of the scenario's loads are multiplied by.
    """

    words: str
    result: Result
    uncertainty: Uncertainty | None
    factor: complex = 1 + 0j


@dataclass(frozen=True)
class Plan:
    """All that a plan is written from.

    Attributes
    ----------
    scenario : Scenario
        What is measured.
    span : tuple of Case
        The load as the scenario says and at the ends of the span, from most lagging to most
        leading; a single one where there is no span.
    expected : Case
        The load as the scenario says, one of the span.
    idle : Case or None
        The load without its work; None where it is not known.
    faults : Faults
        What wrong wirings read.
    notes : tuple of str
        What was assumed.
    """

    scenario: Scenario
    span: tuple[Case, ...]
    expected: Case
    idle: Case | None
    faults: Faults
    notes: tuple[str, ...]

    @property
    def result(self) -> Result:
        """What is read with the load as the scenario says."""
        return self.expected.result

    def interval(self, name: str, case: Case) -> Interval:
        """Give the interval in which a reading lies with one load, referred to the primary.

        Parameters
        ----------
        name : str
            The wattmeter.
        case : Case
            The load.

        Returns
        -------
        tuple of float
            Its 95 % interval, or where nothing is uncertain the limit by which wirings are judged
            [W].
        """
        if case.uncertainty is not None:
            return case.uncertainty[name].interval
        watts, limit = case.result[name].watts, self.faults.limits[name]
        return watts - limit, watts + limit

    def total_interval(self, case: Case) -> Interval:
        """Give the interval in which the total lies with one load.

        Parameters
        ----------
        case : Case
            The load.

        Returns
        -------
        tuple of float
            Like `interval` [W or var].
        """
        total = case.result.total
        found = case.uncertainty and case.uncertainty.of(Quantity.TOTAL)
        if found:
            return found.interval
        assert total is not None  # noqa: S101  (asked for only where there is one)
        formula = case.result.measurement.total
        assert formula is not None  # noqa: S101
        limit = sum(abs(c) * self.faults.limits[n] for n, c in formula.coefficients.items())
        return total.indicated - limit, total.indicated + limit

    def accepted(self, name: str) -> Interval:
        """Give the interval in which a reading is as planned, over the whole span.

        Parameters
        ----------
        name : str
            The wattmeter.

        Returns
        -------
        tuple of float
            From the lowest to the highest end of the intervals of all its loads [W].
        """
        lows, highs = zip(*(self.interval(name, case) for case in self.span), strict=True)
        return min(lows), max(highs)


def plan_of(
    scenario: Scenario,
    *,
    angles: Interval | None = None,
    width: float | None = None,
    idle: tuple[float, PowerFactor] | None = None,
) -> Plan:
    """Work out what a plan is written from.

    Parameters
    ----------
    scenario : Scenario
        What is measured.
    angles : tuple of float, optional
        Smallest and largest angle of the loads' power together, positive for lag [deg].
    width : float, optional
        Instead of `angles`, how far the power factor may lie from the scenario's, to both sides.
    idle : tuple of (float, PowerFactor), optional
        No load, as a part of the loads' volt-amperes and its power factor. Not given, motors with
        an equivalent circuit run at synchronous speed.

    Returns
    -------
    Plan
        The loads, solved, with their uncertainties, and the wrong wirings.

    Raises
    ------
    ScenarioError
        If the scenario has no wattmeter, or the span does not fit its load.
    NetworkError
        If a network has no unique solution.
    """
    result = solve(scenario)
    if not result.readings:
        raise ScenarioError("there is no wattmeter to plan a measurement with", "wattmeter")
    notes: list[str] = []
    factors = factors_of(result, angles) if angles else _around(result, width, notes)
    span = tuple(_case(scenario, result, factor, notes) for factor in factors)
    return Plan(
        scenario,
        span,
        span[factors.index(1)],
        _idle(scenario, result, idle, notes),
        find_faults(result.measurement),
        tuple(dict.fromkeys(notes)),
    )


def _around(result: Result, width: float | None, notes: list[str]) -> list[complex]:
    """Find the factors around a load's own; only a width that was asked for can be refused."""
    try:
        return factors_of(result, around(load_of(result), USUAL_WIDTH if width is None else width))
    except ScenarioError as error:
        if width is not None:
            raise ScenarioError(error.message, "--span") from error
        notes.append(f"Planned for one power factor: {error.message}.")
        return [1 + 0j]


def _case(scenario: Scenario, result: Result, factor: complex, notes: list[str]) -> Case:
    found = result if factor == 1 else solve(with_load(result.measurement, factor))
    power = load_of(found)
    words = power_factor(angle_of(power)) if power else "load as stated"
    return Case(words, found, _uncertainty(scenario, found, notes), factor)


def _uncertainty(scenario: Scenario, result: Result, notes: list[str]) -> Uncertainty | None:
    try:
        return evaluate_uncertainty(scenario, result=result)
    except ScenarioError as error:  # without tolerances given it only says that there are none
        notes.append(f"{error.message[0].upper()}{error.message[1:]}.")
        return None


def _idle(
    scenario: Scenario,
    result: Result,
    given: tuple[float, PowerFactor] | None,
    notes: list[str],
) -> Case | None:
    """Let the load do no work."""
    if given:
        share, factor = given
        power = polar(share * abs(load_of(result)), factor.angle_deg)
        found = solve(with_load(result.measurement, factor_for(result, power)))
        sense = f" {factor.sense}" if factor.sense else ""
        words = f"{100 * share:g} % of the volt-amperes, power factor {factor.value:g}{sense}"
    elif any(load.motor for load in result.first.arrangement.loads):
        found = solve(_at_synchronous_speed(result.measurement))
        words = "motor at synchronous speed, its friction and windage not counted"
    else:
        return None
    return Case(words, found, _uncertainty(scenario, found, notes))


def _at_synchronous_speed(measurement: Measurement) -> Measurement:
    stations = {
        number: replace(a, loads=tuple(_without_slip(load) for load in a.loads))
        for number, a in measurement.stations.items()
    }
    return replace(measurement, stations=stations)


def _without_slip(load: Load) -> Load:
    return load if load.motor is None else replace(load, motor=replace(load.motor, slip=0.0))

"""Uncertainty of what a scenario's meters read, and of what follows from their readings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import ScenarioError
from simulator.findings.balanced import two_wattmeters
from simulator.findings.inference_from_scenario import (
    NEARLY,
    objection_to_balance,
    wattmeters_in_order,
)
from simulator.findings.result import solve
from simulator.findings.uncertainty.linear import budget, sensitivities, validate
from simulator.findings.uncertainty.model import Model, Quantity
from simulator.findings.uncertainty.monte_carlo import Settings, simulate
from simulator.findings.uncertainty.remarks import remarks
from simulator.findings.uncertainty.sources import sources_of
from simulator.findings.uncertainty.worst_case import extremes
from simulator.scenario.build import expand_method

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from simulator.findings.result import Result
    from simulator.findings.uncertainty.inputs import Input, Tolerance
    from simulator.findings.uncertainty.linear import Budget, Validation
    from simulator.findings.uncertainty.model import Output
    from simulator.findings.uncertainty.monte_carlo import Interval, Simulation
    from simulator.scenario.models import Scenario


@dataclass(frozen=True)
class OutputUncertainty:
    """Uncertainty of one quantity.

    Attributes
    ----------
    output : Output
        Which quantity.
    value : float
        Its value in the scenario, without deviations.
    simulation : Simulation
        Mean, standard uncertainty and intervals by JCGM 101.
    budget : Budget
        Contributions by the linear law of JCGM 100.
    validation : Validation
        Whether the linear law agrees with the simulation.
    worst_case : tuple of float or None
        Smallest and largest value within all limits; None if an input has none.
    """

    output: Output
    value: float
    simulation: Simulation
    budget: Budget
    validation: Validation
    worst_case: Interval | None

    @property
    def name(self) -> str:
        """Name of the quantity."""
        return self.output.name

    @property
    def interval(self) -> Interval:
        """Coverage interval: the symmetric one, or the shortest of a clearly one-sided quantity."""
        return self.simulation.shortest if self.simulation.one_sided else self.simulation.symmetric


@dataclass(frozen=True)
class Uncertainty:
    """Uncertainties of a scenario's readings, total, reactive power and power factor.

    Attributes
    ----------
    quantities : tuple of OutputUncertainty
        Readings first.
    inputs : tuple of Input
        What is uncertain.
    notes : tuple of str
        What was assumed or could not be counted.
    settings : Settings
        How it was simulated.
    """

    quantities: tuple[OutputUncertainty, ...]
    inputs: tuple[Input, ...]
    notes: tuple[str, ...]
    settings: Settings

    @property
    def readings(self) -> dict[str, OutputUncertainty]:
        """Uncertainties of the readings by name."""
        return {q.name: q for q in self.quantities if q.output.kind is Quantity.READING}

    def __getitem__(self, name: str) -> OutputUncertainty:
        """Give the uncertainty of a reading by its name."""
        return self.readings[name]

    def of(self, kind: Quantity | str) -> OutputUncertainty | None:
        """Give the uncertainty of a quantity that there is once.

        Parameters
        ----------
        kind : Quantity or str
            Which quantity; not a reading. A text will do, such as "total" or "power factor".

        Returns
        -------
        OutputUncertainty or None
            Its uncertainty; None if the scenario does not form it.
        """
        return next((q for q in self.quantities if q.output.kind == kind), None)

    @property
    def draws(self) -> int:
        """Number of trials."""
        return len(self.quantities[0].simulation.values)

    @property
    def stable(self) -> bool:
        """Whether all results are stable in the digits asked for."""
        return all(q.simulation.stable for q in self.quantities)

    @cached_property
    def remarks(self) -> tuple[str, ...]:
        """What a person must know to read the numbers."""
        return remarks(self)


def evaluate_uncertainty(
    scenario: Scenario,
    tolerances: Mapping[str, Tolerance] | None = None,
    *,
    shared: Collection[str] = (),
    settings: Settings | None = None,
    result: Result | None = None,
) -> Uncertainty:
    """Evaluate the uncertainty of a scenario's readings and of what follows from them.

    Parameters
    ----------
    scenario : Scenario
        The scenario; accuracy classes of its instruments and transformers count.
    tolerances : mapping of str to Tolerance, optional
        Of other quantities, by the words of the file ("ovens: L2", "supply: voltage",
        "instrument portable: voltage_circuit", "current_transformer ct1: ratio_error") or by the
        name of an element of the network.
    shared : collection of str, optional
        Instruments and transformers of which there is one unit for all readings that use it.
    settings : Settings, optional
        How to simulate.
    result : Result, optional
        The solved scenario, if it is at hand.

    Returns
    -------
    Uncertainty
        Of each reading; of the total and its error, if there is one; of reactive power, angle and
        power factor, where two wattmeters form them and the load is balanced.

    Raises
    ------
    ScenarioError
        If there is no wattmeter, nothing is uncertain, or a tolerance is about nothing there.
    NetworkError
        If a network has no unique solution.

    Examples
    --------
    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Fan",
    ...     "supply": {"wires": 3, "voltage": "400 V"},
    ...     "load": [{"connection": "star", "each": "50 ohm, 0.5 lag"}],
    ...     "instrument": {
    ...         "board": {
    ...             "current_range": "5 A", "voltage_range": "480 V", "accuracy_class": 0.5
    ...         }
    ...     },
    ...     "method": {"name": "two wattmeters", "instrument": "board"},
    ... })
    >>> total = simulator.evaluate_uncertainty(scenario).of("total")
    >>> f"{total.value:.0f} W, standard uncertainty {total.budget.standard_uncertainty:.1f} W"
    '1600 W, standard uncertainty 9.8 W'
    """
    result = result or solve(scenario)
    settings = settings or Settings()
    instruments = [table.instrument for table in expand_method(scenario).wattmeter]
    sources = sources_of(result, instruments, tolerances or {}, shared)
    if not instruments:
        raise ScenarioError("there is no wattmeter whose reading could be uncertain")
    if not sources.inputs:
        nothing = (
            "nothing is uncertain here: give the instrument of a wattmeter an accuracy_class with "
            "its ranges, a transformer an accuracy_class, or another quantity a tolerance"
        )
        raise ScenarioError(" ".join([nothing, *sources.notes]))
    model = Model(result, sources, _balanced_pair(result))
    inputs = sources.inputs
    nominal = model.evaluate(np.zeros((len(inputs), 1)))[:, 0].tolist()
    simulations = simulate(model.evaluate, inputs, settings)
    sensitivity = sensitivities(model.evaluate, len(inputs))
    worst = _worst_cases(model, inputs, sensitivity)
    quantities = []
    for k, output in enumerate(model.outputs):
        contributions = budget(inputs, sensitivity[k])
        validation = validate(nominal[k], contributions.standard_uncertainty, simulations[k])
        quantities.append(
            OutputUncertainty(
                output, nominal[k], simulations[k], contributions, validation, worst[k]
            )
        )
    return Uncertainty(tuple(quantities), inputs, sources.notes, settings)


def _worst_cases(
    model: Model, inputs: tuple[Input, ...], sensitivity: np.ndarray
) -> list[Interval | None]:
    if not all(each.bounded for each in inputs):
        return [None] * len(sensitivity)
    return list(zip(*(x.tolist() for x in extremes(model.evaluate, sensitivity)), strict=True))


def _balanced_pair(result: Result) -> tuple[str, str] | None:
    """Name the two readings from which Q and power factor follow; None where they do not."""
    total = result.total
    if total is not None and total.reactive:
        return None
    try:
        names, common = wattmeters_in_order(result)
    except ScenarioError:
        return None
    station = result.first
    if common is None or len(names) != 2 or objection_to_balance(station):
        return None
    before, after = (result.readings[name].watts for name in names)
    load = two_wattmeters(before, after, result.measurement.supply.sequence)
    off = abs(complex(load.active, load.reactive) - station.crossing)
    if not load.apparent or off > NEARLY * abs(station.crossing):
        return None
    return names[0], names[1]

"""Why a total is right or wrong: exactness, proof, error terms, worst case and counterexample."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import ScenarioError
from simulator.findings.conditions import Conditions, conditions_of
from simulator.findings.error_terms import Term, error_terms
from simulator.findings.exactness import Row, Sensed, exactness_table
from simulator.findings.proof import proof_lines
from simulator.findings.result import Result, solve
from simulator.findings.sensing import sense_total
from simulator.findings.worst_case import counterexample, worst_case
from simulator.formatting import format_impedance, format_phasor
from simulator.phasors import polar, symmetrical_components
from simulator.scenario.build import build
from simulator.scenario.labels import labels_of
from simulator.scenario.reader import scenario_from
from simulator.scenario.writer import to_toml

if TYPE_CHECKING:
    from simulator.findings.worst_case import Counterexample
    from simulator.phasors import ComplexArray
    from simulator.scenario.models import Scenario


Tables = dict[str, Any]


@dataclass(frozen=True)
class CounterexampleScenario:
    """A small load for which the total is visibly wrong, as a scenario.

    Attributes
    ----------
    toml : str
        The scenario file.
    indicated : float
        What its total shows [W or var].
    true : float
        What its loads take [W or var].
    """

    toml: str
    indicated: float
    true: float


@dataclass(frozen=True)
class Explanation:
    """Why the total of a scenario is right or wrong.

    Attributes
    ----------
    scenario : Scenario
        The scenario.
    result : Result
        Its result.
    """

    scenario: Scenario
    result: Result

    @cached_property
    def terms(self) -> tuple[Term, ...]:
        """Terms of the error, the method's first; they add up to it."""
        total = self.result.total
        assert total is not None  # noqa: S101  (explain() refuses a scenario without one)
        return error_terms(self.result.measurement, self.result.stations, total.indicated)

    @cached_property
    def conditions(self) -> Conditions:
        """Classes that this scenario's voltages and load fall in."""
        return conditions_of(self.result.first)

    @cached_property
    def _sensed(self) -> tuple[Sensed, tuple[str, ...]]:
        measurement = self.result.measurement
        assert measurement.total is not None  # noqa: S101
        return sense_total(measurement, measurement.total)

    @property
    def sensed(self) -> Sensed:
        """What the arrangement senses."""
        return self._sensed[0]

    @cached_property
    def exactness(self) -> tuple[Row, ...]:
        """For which classes of supply and load the total is right."""
        return exactness_table(self.sensed, self.result.measurement.supply.sequence)

    @property
    def proved_exactly(self) -> bool:
        """Whether the table was decided in exact arithmetic, without a tolerance."""
        return self.sensed.M.dtype == object

    @property
    def always_exact(self) -> bool:
        """Whether the total is right for any load on any supply."""
        return self.exactness[0].exact

    @cached_property
    def proof(self) -> tuple[str, ...]:
        """The proof, line by line."""
        return proof_lines(self.result.measurement, self.exactness, self.always_exact)

    @cached_property
    def worst(self) -> tuple[float, ComplexArray]:
        """Largest error per volt-ampere at these voltages [1], and currents [A] that reach it."""
        station, free = self.result.first, self._sensed[1]
        origin = self._origin()
        others = [station.solution.potentials[node] - origin for node in free]
        return worst_case(self.sensed, [*station.line_potentials.tolist(), *others])

    def _origin(self) -> complex:
        """Potential that the line potentials of a station are referred to."""
        station = self.result.first
        first = station.arrangement.conductors.lines[0]
        return complex(station.solution.potentials[first] - station.line_potentials[0])

    @cached_property
    def counterexample(self) -> CounterexampleScenario | None:
        """A small load for which the total is wrong; None where it never is."""
        found = counterexample(self.sensed, sequence=self.result.measurement.supply.sequence)
        if found is None:
            return None
        document = _document(self.scenario, found, self._sensed[1])
        total = solve(scenario_from(document)).total
        assert total is not None  # noqa: S101
        return CounterexampleScenario(to_toml(document), total.indicated, total.true)


def explain(scenario: Scenario) -> Explanation:
    """Say for which whole classes of supply and load a total is right, and what makes it wrong.

    Parameters
    ----------
    scenario : Scenario
        A scenario that forms a total.

    Returns
    -------
    Explanation
        Exactness table, proof, error terms, worst case and counterexample.

    Raises
    ------
    ScenarioError
        If the scenario forms no total.
    NetworkError
        If its network has no unique solution.

    Examples
    --------
    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [
    ...         {"connection": "line-to-neutral", "L1": "20 ohm", "L2": "40 ohm", "L3": "40 ohm"}
    ...     ],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> explanation = simulator.explain(scenario)
    >>> [(row.supply, row.load) for row in explanation.exactness if row.exact]
    [('symmetrical', 'balanced'), ('symmetrical', 'balanced resistive')]
    >>> print(explanation.proof[0])
    W = Re((V_L1 − V_N)·I_L1*)
    """
    result = solve(scenario)
    if result.measurement.total is None:
        raise ScenarioError("there is no total to explain: add [total] or [method]", "total")
    return Explanation(scenario, result)


def _document(scenario: Scenario, found: Counterexample, free: tuple[str, ...]) -> Tables:
    """Write a counterexample as the scenario's own meters on another supply and load."""
    given = scenario.document
    labels = labels_of(given)
    document: Tables = {"title": f"Counterexample to: {given['title']}"[:200]}
    if "labels" in given:
        document["labels"] = given["labels"]
    document["supply"] = _supply(scenario, found, labels)
    document["load"] = [
        {
            "name": f"load {k}",
            "connection": "star",
            **{
                label: format_impedance(_tidy(z), digits=None)
                for label, z in zip(labels, star.Z, strict=False)
            },
            "star_point": (free[k - 1] if k <= len(free) else "isolated")
            if star.isolated
            else "neutral",
        }
        for k, star in enumerate(found.stars, 1)
    ]
    kept = ("impedance", "instrument", "wattmeter", "current_transformer", "voltage_transformer")
    return document | {key: given[key] for key in (*kept, "total", "method") if key in given}


def _supply(scenario: Scenario, found: Counterexample, labels: tuple[str, ...]) -> Tables:
    given = scenario.document["supply"]
    sequence = build(scenario).supply.sequence
    positive, negative, zero = (
        _tidy(complex(x)) for x in symmetrical_components(found.V, sequence)
    )
    supply: Tables = {"wires": scenario.supply.wires}
    if negative == zero == 0:
        supply["voltage"] = f"{abs(positive) * 3**0.5:.9g} V"
    else:
        parts = {"positive": positive, "negative": negative, "zero": zero}
        supply["sequence_voltages"] = {
            name: format_phasor(v, "V", digits=None) for name, v in parts.items() if v
        }
    supply |= {key: given[key] for key in ("frequency", "earthed") if key in given}
    if sequence < 0:
        supply["sequence"] = "-".join(reversed(labels[:3]))
    return supply


def _tidy(value: complex) -> complex:
    """Round to what one would write: the last digits are only rounding."""
    size, angle = abs(value), float(np.degrees(np.angle(value)))
    return polar(round(size, 9), round(angle, 9)) if size > 1e-9 else 0j

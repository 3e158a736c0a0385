"""The result of a measurement: readings, total and truth."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from simulator.findings.notes import notes_on
from simulator.findings.reason import RIGHT, reason_for
from simulator.findings.station import Station, solve_station
from simulator.scenario.build import Measurement, build

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.metering.readings import Reading
    from simulator.scenario.models import Scenario


@dataclass(frozen=True)
class TotalResult:
    """What the readings indicate together, and what is true.

    Attributes
    ----------
    formula : str
        How the total is formed.
    reactive : bool
        Whether it is a reactive power [var], not an active one [W].
    indicated : float
        What the formula gives.
    true : float
        Power absorbed by the loads.
    crossing : float
        Power that crosses to what lies beyond the meters.
    apparent : float
        Sum of V·I over the lines, the scale on which errors are judged [VA].
    tell : Callable
        Works out the reason; sweeps over many cases never ask for it.
    """

    formula: str
    reactive: bool
    indicated: float
    true: float
    crossing: float
    apparent: float
    tell: Callable[[], str] = field(repr=False, compare=False)

    @cached_property
    def reason(self) -> str:
        """Why the total is right or wrong, in one sentence."""
        return self.tell()

    @property
    def error(self) -> float:
        """Indicated minus true."""
        return self.indicated - self.true

    @property
    def method_error(self) -> float:
        """Indicated minus crossing: what belongs to the method and the meters."""
        return self.indicated - self.crossing

    @property
    def error_percent(self) -> float:
        """Error in percent of the true power; NaN where that is zero."""
        if abs(self.true) <= RIGHT * self.apparent:
            return math.nan
        return 100 * self.error / self.true

    @property
    def is_right(self) -> bool:
        """Whether the error is nothing but rounding."""
        return abs(self.error) <= RIGHT * self.apparent

    @property
    def quantity(self) -> str:
        """Active power or reactive power."""
        return "reactive power" if self.reactive else "active power"

    @property
    def unit(self) -> str:
        """W or var."""
        return "var" if self.reactive else "W"


@dataclass(frozen=True)
class Result:
    """Everything a scenario leads to.

    Attributes
    ----------
    measurement : Measurement
        What was measured.
    stations : tuple of Station
        The solved networks, one for each station.
    """

    measurement: Measurement
    stations: tuple[Station, ...]

    @cached_property
    def readings(self) -> dict[str, Reading]:
        """Readings by name, in file order; a meter without a station is read at the first."""
        found: dict[str, Reading] = {}
        for station in self.stations:
            for reading in station.readings:
                found.setdefault(reading.name, reading)
        return {meter.name: found[meter.name] for meter in self.measurement.wattmeters}

    def station_of(self, name: str) -> Station:
        """Find the station at which a wattmeter is read.

        Parameters
        ----------
        name : str
            The wattmeter.

        Returns
        -------
        Station
            The first one at which it is in circuit.
        """
        return next(s for s in self.stations if any(r.name == name for r in s.readings))

    @property
    def first(self) -> Station:
        """The first station, the only one where nothing is moved."""
        return self.stations[0]

    @property
    def residual(self) -> float:
        """Largest relative violation of the circuit's laws."""
        return max(station.solution.residual for station in self.stations)

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """What a person should notice beside the numbers."""
        return notes_on(self)

    @cached_property
    def total(self) -> TotalResult | None:
        """The total; None if the scenario forms none."""
        total = self.measurement.total
        if total is None:
            return None
        n = len(self.stations)
        true = sum((s.true for s in self.stations), 0j) / n
        crossing = sum((s.crossing for s in self.stations), 0j) / n
        indicated = math.fsum(
            c * self.readings[name].watts for name, c in total.coefficients.items()
        )
        return TotalResult(
            formula=total.formula,
            reactive=total.reactive,
            indicated=indicated,
            true=true.imag if total.reactive else true.real,
            crossing=crossing.imag if total.reactive else crossing.real,
            apparent=float(self.first.plane.apparent.arithmetic),
            tell=lambda: reason_for(self.measurement, self.stations, indicated),
        )

    def __getitem__(self, name: str) -> Reading:
        """Give the reading of a wattmeter by its name."""
        return self.readings[name]


def solve(scenario: Scenario | Measurement) -> Result:
    """Predict what every meter of a scenario will read.

    Parameters
    ----------
    scenario : Scenario or Measurement
        What is measured and how.

    Returns
    -------
    Result
        Readings, total and truth.

    Raises
    ------
    ScenarioError
        If the scenario's tables contradict each other.
    NetworkError
        If a network has no unique solution.

    Examples
    --------
    Three times one phase, on a load that is not balanced:

    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [
    ...         {"connection": "line-to-neutral", "L1": "20 ohm", "L2": "40 ohm", "L3": "40 ohm"}
    ...     ],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> result = simulator.solve(scenario)
    >>> round(result["W"].watts), round(result.total.indicated), round(result.total.true)
    (2667, 8000, 5333)
    """
    measurement = scenario if isinstance(scenario, Measurement) else build(scenario)
    stations = tuple(
        solve_station(number, arrangement) for number, arrangement in measurement.stations.items()
    )
    return Result(measurement, stations)

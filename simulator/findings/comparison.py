"""Measured readings beside predicted ones, and whether a wiring fault explains what is off."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import QuantityError, ScenarioError
from simulator.findings.faults.find import find_faults, volt_amperes
from simulator.quantities import parse_real

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from simulator.findings.faults.hypotheses import Faults
    from simulator.findings.faults.loads import LoadSpan
    from simulator.findings.readings_csv import Entry
    from simulator.findings.result import Result
    from simulator.findings.station import Station
    from simulator.quantities import Unit

ROUNDING = 1e-9
TOTAL = "total"


@dataclass(frozen=True)
class Compared:
    """One reading beside its prediction.

    Attributes
    ----------
    name : str
        Name of the meter.
    station : int or None
        Station at which it was read; None where nothing is moved.
    unit : str
        Unit of the numbers: W, V, A or var.
    measured, predicted : float
        What was read, and what it should be.
    tolerance : float
        How far one may be off the other.
    """

    name: str
    station: int | None
    unit: Unit
    measured: float
    predicted: float
    tolerance: float

    @property
    def difference(self) -> float:
        """Measured minus predicted."""
        return self.measured - self.predicted

    @property
    def within(self) -> bool:
        """Whether the difference is within the tolerance."""
        return abs(self.difference) <= self.tolerance * (1 + ROUNDING)


@dataclass(frozen=True)
class Comparison:
    """All readings of a scenario beside their predictions.

    Attributes
    ----------
    result : Result
        The predictions.
    readings : tuple of Compared
        The meters that were read, in the order of the file.
    total : Compared or None
        The total of the readings; None where one is missing or there is no formula.
    missing : tuple of str
        Meters that were not read.
    faults : Faults or None
        Which wirings explain the readings; None where all are within their tolerance, or a
        wattmeter was not read.
    """

    result: Result
    readings: tuple[Compared, ...]
    total: Compared | None
    missing: tuple[str, ...]
    faults: Faults | None

    @property
    def out(self) -> tuple[Compared, ...]:
        """The readings that are out of tolerance."""
        return tuple(reading for reading in self.readings if not reading.within)

    @property
    def within(self) -> bool:
        """Whether everything that was read is within its tolerance."""
        return not self.out and (self.total is None or self.total.within)


def compare(
    result: Result,
    entries: Iterable[Entry],
    *,
    tolerance: float = 0.02,
    limits: Mapping[str, float] | None = None,
    span: LoadSpan | None = None,
) -> Comparison:
    """Set readings beside predictions.

    Parameters
    ----------
    result : Result
        The scenario, solved.
    entries : iterable of Entry
        The readings; one called "total" is a total that was formed by hand.
    tolerance : float
        Of a wattmeter in parts of the volt-amperes that it carries, as in `find_faults`; of
        voltmeters and ammeters in parts of the predicted value (of the line's, where that is 0).
        The total's is the sum of its readings'.
    limits : mapping of str to float, optional
        Of each wattmeter instead, for example from its uncertainty [W].
    span : LoadSpan, optional
        Bounds between which the load is fitted when a wiring is to explain the readings.

    Returns
    -------
    Comparison
        The readings, the total, and what explains them.

    Raises
    ------
    ScenarioError
        If a reading is of no meter of the scenario, is given twice, or is no such quantity; it
        names the line.
    """
    usual = (tolerance * volt_amperes(result)).tolist()
    allowed = dict(limits or zip(result.readings, usual, strict=True))
    known = _Meters(result, tolerance, allowed)
    seen: dict[tuple[str, int | None], Compared] = {}
    for entry in entries:
        compared = known.compared(entry)
        key = (compared.name, compared.station)
        if key in seen:
            raise ScenarioError("this reading is given twice", entry.place)
        seen[key] = compared
    watts: dict[str, float] = {}
    for row in seen.values():
        if row.name in result.readings:
            watts.setdefault(row.name, row.measured)
    read = {name for name, _ in seen}
    missing = tuple(name for name in known.names if name not in read)
    readings = tuple(seen.values())
    off = any(not row.within for row in readings if row.name in allowed)
    faults = None
    if off and watts.keys() == allowed.keys():
        faults = find_faults(
            result.measurement, watts, tolerance=tolerance, limits=limits, span=span
        )
    return Comparison(result, readings, known.total_of(watts), missing, faults)


@dataclass(frozen=True)
class _Meters:
    """What each meter of a scenario should show."""

    result: Result
    tolerance: float
    limits: dict[str, float]

    @property
    def names(self) -> tuple[str, ...]:
        """Wattmeters, voltmeters, ammeters."""
        first = self.result.first
        return (*self.result.readings, *first.voltmeters, *first.ammeters)

    def compared(self, entry: Entry) -> Compared:
        """Set one line of the file beside its prediction."""
        if entry.name == TOTAL and TOTAL not in self.names:
            return self._total(entry)
        if entry.name not in self.names:
            known = ", ".join(self.names)
            raise ScenarioError(f"there is no meter '{entry.name}', only {known}", entry.place)
        station = self._station(entry)
        unit, predicted, tolerance = self._expected(entry.name, station)
        measured = _quantity(entry, unit)
        return Compared(entry.name, station.number, unit, measured, predicted, tolerance)

    def _total(self, entry: Entry) -> Compared:
        total = self.result.total
        if total is None:
            raise ScenarioError("the scenario forms no total", entry.place)
        unit: Unit = "var" if total.reactive else "W"
        limit = self._total_limit(total_coefficients(self.result))
        return Compared(TOTAL, None, unit, _quantity(entry, unit), total.indicated, limit)

    def total_of(self, watts: dict[str, float]) -> Compared | None:
        """Form the total of readings; None where one is missing."""
        total, weights = self.result.total, total_coefficients(self.result)
        if total is None or not weights.keys() <= watts.keys():
            return None
        measured = math.fsum(c * watts[name] for name, c in weights.items())
        unit: Unit = "var" if total.reactive else "W"
        limit = self._total_limit(weights)
        return Compared(total.formula, None, unit, measured, total.indicated, limit)

    def _total_limit(self, weights: dict[str, float]) -> float:
        return math.fsum(abs(c) * self.limits[name] for name, c in weights.items())

    def _station(self, entry: Entry) -> Station:
        """Find the station of a reading: the one named, the meter's own, or the first."""
        stations = {station.number: station for station in self.result.stations}
        reading = self.result.readings.get(entry.name)
        own = None if reading is None else reading.meter.station
        if entry.station is None:
            return self.result.first if own is None else stations[own]
        if entry.station not in stations:
            names = ", ".join(str(number) for number in stations if number is not None)
            known = f"only {names}" if names else "nothing is moved in this scenario"
            raise ScenarioError(f"there is no station {entry.station}, {known}", entry.place)
        if own is not None and own != entry.station:
            raise ScenarioError(f"it is read at station {own}, got {entry.station}", entry.place)
        return stations[entry.station]

    def _expected(self, name: str, station: Station) -> tuple[Unit, float, float]:
        """Give unit, prediction and tolerance of a meter."""
        for reading in station.readings:
            if reading.name == name:
                return "W", reading.watts, self.limits[name]
        if name in station.voltmeters:
            value, usual = station.voltmeters[name], np.abs(station.line_potentials).max()
            return "V", value, self.tolerance * (value or float(usual))
        value, usual = station.ammeters[name], np.abs(station.line_currents).max()
        return "A", value, self.tolerance * (value or float(usual))


def total_coefficients(result: Result) -> dict[str, float]:
    """Give the weights of the readings in a total.

    Parameters
    ----------
    result : Result
        A solved scenario.

    Returns
    -------
    dict of str to float
        Weights by name; empty without a total.
    """
    total = result.measurement.total
    return {} if total is None else total.coefficients


def _quantity(entry: Entry, unit: Unit) -> float:
    try:
        return parse_real(f"{entry.value} {entry.unit}", unit)
    except QuantityError as error:
        raise ScenarioError(error.message, entry.place) from error

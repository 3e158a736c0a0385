"""Readings taken one after the other while the load drifts: effect, order, bracketing, correction.

The load drifts linearly: at the k-th reading, counted from 0, every load has the admittance 1 + d·k
times that at the first. Each reading is solved through the network at its own time, and the total
compared with the mean of the totals that readings all at once would have given at those times: what
a method does wrong without any drift is not counted here.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import permutations
from typing import TYPE_CHECKING

from simulator.errors import ScenarioError
from simulator.findings.reason import amount
from simulator.findings.station import solve_station

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from simulator.findings.result import Result
    from simulator.findings.station import Station
    from simulator.installation.loads import Load

    Place = tuple[str, ...]

# So many places make 120 orders; of more the order is taken as it stands.
MOST_PLACES = 5
# Effects that differ by less than this part of the true power are equal.
EQUAL = 1e-9


@dataclass(frozen=True)
class Round:
    """Readings taken in turn.

    Attributes
    ----------
    order : tuple of tuple of str
        Wattmeters read at each time; a reading taken twice counts by its mean.
    indicated : float
        Total of the readings [W or var].
    at_once : float
        Mean of the totals of readings taken all at once, at the same times [W or var].
    true : float
        Mean of the true power at the same times [W or var].
    """

    order: tuple[Place, ...]
    indicated: float
    at_once: float
    true: float

    @property
    def effect(self) -> float:
        """What the drift does to the total [W or var]."""
        return self.indicated - self.at_once

    @property
    def effect_percent(self) -> float:
        """What the drift does to the total, in percent of the mean true power; NaN without any."""
        return 100 * self.effect / self.true if self.true else math.nan

    @property
    def text(self) -> str:
        """The order in words."""
        return ", ".join(" and ".join(place) for place in self.order)


@dataclass(frozen=True)
class DriftStudy:
    """What a drifting load does to a total of readings taken in turn.

    Attributes
    ----------
    drift : float
        Growth of the load from one reading to the next, in parts of the load at the first.
    unit : str
        Unit of the total.
    as_listed : Round
        Each reading once, in the order of the file.
    best : Round
        Each reading once, in the order that the drift disturbs least.
    there_and_back : Round
        In the best order, and back to the first reading.
    """

    drift: float
    unit: str
    as_listed: Round
    best: Round
    there_and_back: Round


def study_drift(result: Result, drift: float = 0.05) -> DriftStudy | None:
    """Find what a drifting load does to a total of readings taken in turn.

    Parameters
    ----------
    result : Result
        The solved scenario; its loads are those at the first reading. Its stations are read in
        turn, or its wattmeters if it has no stations.
    drift : float, optional
        Growth of the load from one reading to the next, in parts of the load at the first.

    Returns
    -------
    DriftStudy or None
        The study; None where fewer than two readings make a total.

    Raises
    ------
    ScenarioError
        If nothing would be left of the load.
    NetworkError
        If a network has no unique solution.
    """
    total = result.measurement.total
    places = _places(result)
    if total is None or len(places) < 2:
        return None
    last = 2 * len(places) - 2
    if not 1 + drift * last > 0:
        raise ScenarioError(
            f"expected a drift that leaves something of the load after {last} readings, "
            f"got {100 * drift:g} % from one to the next"
        )
    table = _Table(result, drift)
    listed = table.round(places)
    best = listed
    if len(places) <= MOST_PLACES:
        for order in permutations(places):
            tried = table.round(order)
            if abs(tried.effect) < abs(best.effect) - EQUAL * abs(tried.true):
                best = tried
    back = table.round((*best.order, *reversed(best.order[:-1])))
    return DriftStudy(drift, result.total.unit if result.total else "W", listed, best, back)


def _places(result: Result) -> tuple[Place, ...]:
    """Group the wattmeters that are read together and count in the total."""
    measurement = result.measurement
    counted = measurement.total.coefficients if measurement.total else {}
    meters = [meter for meter in measurement.wattmeters if counted.get(meter.name)]
    first = result.first.number
    if first is None:
        return tuple((meter.name,) for meter in meters)
    groups: dict[int, list[str]] = defaultdict(list)
    for meter in meters:  # one without a station is read at the first
        groups[first if meter.station is None else meter.station].append(meter.name)
    return tuple(tuple(groups[number]) for number in sorted(groups))


class _Table:
    """Readings and true power at each time, solved when they are asked for."""

    def __init__(self, result: Result, drift: float) -> None:
        self.result, self.drift = result, drift
        self.solved: dict[tuple[int | None, int], Station] = {}
        self.station_of = {
            reading.name: station.number
            for station in reversed(result.stations)
            for reading in station.readings
        }

    def station(self, number: int | None, time: int) -> Station:
        if (number, time) not in self.solved:
            arrangement = self.result.measurement.stations[number]
            loads = tuple(_grown(load, 1 + self.drift * time) for load in arrangement.loads)
            self.solved[number, time] = solve_station(number, replace(arrangement, loads=loads))
        return self.solved[number, time]

    def watts(self, name: str, time: int) -> float:
        readings = self.station(self.station_of[name], time).readings
        return next(reading.watts for reading in readings if reading.name == name)

    def round(self, order: Iterable[Place]) -> Round:
        order = tuple(order)
        total = self.result.measurement.total
        assert total is not None  # noqa: S101  (a study needs one)
        times: dict[str, list[int]] = defaultdict(list)
        for time, place in enumerate(order):
            for name in place:
                times[name].append(time)
        n = len(order)
        indicated = at_once = 0.0
        for name, own in times.items():
            c = total.coefficients[name]
            indicated += c * _mean(self.watts(name, time) for time in own)
            at_once += c * _mean(self.watts(name, time) for time in range(n))
        first = self.result.first.number
        true = sum(self.station(first, time).true for time in range(n)) / n
        return Round(order, indicated, at_once, true.imag if total.reactive else true.real)


def _mean(values: Iterable[float]) -> float:
    known = list(values)
    return math.fsum(known) / len(known)


def _grown(load: Load, factor: float) -> Load:
    """Multiply every admittance of a load."""
    branches = tuple(
        branch
        if math.isinf(branch.impedance.real)
        else replace(branch, impedance=branch.impedance / factor)
        for branch in load.branches
    )
    motor = load.motor
    if motor:
        keys = ("R1", "X1", "R2", "X2", "Xm", "Rc")
        motor = replace(motor, **{key: getattr(motor, key) / factor for key in keys})
    return replace(load, branches=branches, motor=motor)


def refer_to_middle(taken: Sequence[tuple[str, float]]) -> tuple[dict[str, float], float]:
    """Refer readings taken in turn, at equal intervals, to the middle of the time.

    Parameters
    ----------
    taken : sequence of (str, float)
        Wattmeter and reading [W], in the order in which they were taken; the first is repeated
        last.

    Returns
    -------
    readings : dict of str to float
        By wattmeter, as it would have read in the middle [W].
    drift : float
        Growth from one reading to the next, in parts of the load in the middle.

    Raises
    ------
    ScenarioError
        If the first is not repeated last, or is too small to show a drift.

    Notes
    -----
    If every reading at time t is W·(1 + d·(t − t_m)), then the first and the last give W and d,
    and each of the others its own W (derived).
    """
    names = [name for name, _ in taken]
    if len(taken) < 3 or names[0] != names[-1]:
        raise ScenarioError(
            f"expected the first reading to be repeated last, got {', '.join(names) or 'none'}"
        )
    first, last = taken[0][1], taken[-1][1]
    middle = (len(taken) - 1) / 2
    mean = (first + last) / 2
    if abs(last - first) >= abs(first + last):
        raise ScenarioError(
            f"{names[0]} read {amount(first, 'W')} and then {amount(last, 'W')}: too little, or "
            "too different, to show a drift; repeat a larger reading"
        )
    drift = (last - first) / (mean * (len(taken) - 1))
    found: dict[str, list[float]] = defaultdict(list)
    for time, (name, watts) in enumerate(taken):
        found[name].append(watts / (1 + drift * (time - middle)))
    return {name: _mean(values) for name, values in found.items()}, drift


def drift_advice(study: DriftStudy) -> tuple[str, ...]:
    """Say what a drift does, and in which order to read.

    Parameters
    ----------
    study : DriftStudy
        The study.

    Returns
    -------
    tuple of str
        Whole sentences.
    """
    listed, best, back = study.as_listed, study.best, study.there_and_back
    found = [
        f"The readings are taken one after the other. If the load drifts by "
        f"{100 * study.drift:+.3g} % from one to the next, reading {listed.text} makes the total "
        f"{_size(listed, study.unit)}.".replace("-", "−")
    ]
    if best is not listed:
        found.append(f"In the order {best.text} it is {_size(best, study.unit)}.")
    else:
        two = len(listed.order) == 2
        found.append("The other order only turns the sign." if two else "No order is better.")
    found.append(
        f"Read {back.text}, in equal intervals, and take the mean of what is read twice: a linear "
        f"drift cancels, and the total is {_size(back, study.unit)}."
    )
    if len(listed.order) > 2:
        found.append(
            "At the least repeat the first reading last: the two tell the drift, and the others "
            "can be referred to the middle of the time."
        )
    return tuple(found)


def _size(taken: Round, unit: str) -> str:
    percent = taken.effect_percent
    if math.isnan(percent):
        size = amount(abs(taken.effect), unit)
        if size == amount(0.0, unit):
            return f"{size} wrong"
        return f"{size} too {'high' if taken.effect > 0 else 'low'}"
    if abs(percent) < 5e-4:
        return "0.000 % wrong"
    return f"{abs(percent):.3g} % too {'high' if percent > 0 else 'low'}"

"""The error of a total, split into terms that add up to it.

Each wattmeter is compared with one that only senses: its voltage between the load-side
potentials, its current that of the line beyond the meters. What such wattmeters would indicate,
less what crosses to the loads, belongs to the *method*. What the real ones indicate beyond that
belongs to the *meters*. What crosses and does not reach the loads belongs to the *leads*.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.findings.station import Station
    from simulator.metering.meters import Wattmeter
    from simulator.scenario.build import Measurement, Total


@dataclass(frozen=True)
class Term:
    """One term of the error of a total.

    Attributes
    ----------
    expression : str
        The term as a formula, or in words where it is none.
    value : float
        Its value [W or var].
    cause : str
        What makes it, to follow "because".
    """

    expression: str
    value: float
    cause: str


def error_terms(
    measurement: Measurement, stations: Sequence[Station], indicated: float
) -> tuple[Term, Term, Term]:
    """Split the error of a total.

    Parameters
    ----------
    measurement : Measurement
        What is measured; it forms a total.
    stations : sequence of Station
        The solved networks.
    indicated : float
        What the formula gives [W or var].

    Returns
    -------
    tuple of Term
        What belongs to the method, to the meters, and to the leads. Their sum is indicated
        minus true.
    """
    total = measurement.total
    assert total is not None  # noqa: S101  (the caller has one)
    crossing, true = _mean(stations, total, "crossing"), _mean(stations, total, "true")
    sensed = sum(
        total.coefficients.get(meter.name, 0.0) * _sensed(meter, station)
        for station, meter in _placed(stations)
    )
    return (
        _method_term(measurement, total, stations, sensed - crossing),
        Term("the meters' own circuits", indicated - sensed, _meters_cause(measurement)),
        Term(
            "leads and impedances beyond the meters",
            crossing - true,
            "leads and impedances beyond the meters take it",
        ),
    )


def _mean(stations: Sequence[Station], total: Total, what: str) -> float:
    values = [complex(getattr(station, what)) for station in stations]
    return float(np.mean([s.imag if total.reactive else s.real for s in values]))


def _placed(stations: Sequence[Station]) -> list[tuple[Station, Wattmeter]]:
    """Pair every wattmeter with the (first) station where it is read."""
    seen: dict[str, tuple[Station, Wattmeter]] = {}
    for station in stations:
        for meter in station.arrangement.wattmeters:
            seen.setdefault(meter.name, (station, meter))
    return list(seen.values())


def _sensed(meter: Wattmeter, station: Station) -> float:
    """Read a wattmeter that only senses, at the plane of the loads."""
    conductors = station.arrangement.conductors
    currents = dict(zip(conductors.lines, station.line_currents.tolist(), strict=True))
    if conductors.neutral:
        currents[conductors.neutral] = -station.neutral_current
    current = sum(w.sign * currents[w.conductor] for w in meter.windings)
    start, end = meter.voltage
    voltage = station.solution.voltage(start, end)
    sign = -1 if meter.current_reversed != meter.voltage_reversed else 1
    return sign * float((voltage * np.conj(current)).real)


def _meters_cause(measurement: Measurement) -> str:
    meters = measurement.wattmeters
    causes = ["the current and voltage circuits of the meters take power of their own"]
    if any(abs(m.instrument.voltage_factor - 1) > 1e-15 for m in meters):
        causes.append("the voltage circuits turn the angle")
    both = [t for m in meters for t in (m.current_transformer, m.voltage_transformer)]
    if any(t is not None and t.error_factor != 1 for t in both):
        causes.append("the transformers have errors")
    return " and ".join(causes)


def _method_term(
    measurement: Measurement, total: Total, stations: Sequence[Station], value: float
) -> Term:
    """Name the term that belongs to the method."""
    wrong_way = [m.name for m in measurement.wattmeters if m.current_reversed != m.voltage_reversed]
    if wrong_way:
        cause = f"one circuit of {' and '.join(wrong_way)} is connected the other way round"
        return Term("reversed circuit", value, cause)
    if total.reactive:
        return _reactive_term(measurement, value)
    common = _common_point(measurement, total)
    if common is not None:
        return _displacement_term(measurement, stations, common, value)
    meters = [m for m in measurement.wattmeters if total.coefficients.get(m.name)]
    if len(meters) == 1:
        factor = total.coefficients[meters[0].name]
        return Term(
            f"×{factor:g} on an unbalanced load",
            value,
            f"one reading times {factor:g} is the total only where all lines carry the same "
            "power, on symmetrical voltages with a balanced load and a star point in the middle",
        )
    return _partial_term(meters, value)


def _partial_term(meters: list[Wattmeter], value: float) -> Term:
    """Name what is left out where the meters have neither one reading nor one common point."""
    if len({m.current_text for m in meters}) == 1:
        cause = (
            f"the current of {meters[0].current_text} alone is sensed, which gives the total only "
            "on symmetrical voltages with a balanced load"
        )
        return Term("one line's current for all", value, cause)
    if any(len(m.windings) > 1 for m in meters):
        return Term(
            "−Re((V1N + V2N + V3N)·I*)",
            value,
            "difference currents give the total only where the three voltages to the neutral "
            "sum to zero",
        )
    return Term(
        "the connections",
        value,
        "these voltages and currents, as connected, do not form the power of the load",
    )


def _reactive_term(measurement: Measurement, value: float) -> Term:
    if measurement.supply.sequence < 0:
        names = measurement.conductors.lines
        return Term(
            "the other sequence",
            value,
            f"the sequence is {'-'.join(reversed(names))}, and with it a reactive total of this "
            "connection has the opposite sign",
        )
    one = "" if len(measurement.wattmeters) == 3 else " with a balanced load"
    return Term(
        "reactive power from real readings",
        value,
        f"the formula gives the reactive power only on symmetrical voltages{one}",
    )


def _common_point(measurement: Measurement, total: Total) -> str | None:
    """Find the point to which every other line has a wattmeter, if there is one."""
    lines = set(measurement.conductors.lines)
    meters = [m for m in measurement.wattmeters if total.coefficients.get(m.name)]
    ends = {m.voltage[1] for m in meters}
    plain = all(
        len(m.windings) == 1
        and m.windings[0].sign == 1
        and m.windings[0].conductor == m.voltage[0]
        and total.coefficients[m.name] == 1
        for m in meters
    )
    if not plain or len(ends) != 1:
        return None
    (point,) = ends
    metered = [m.windings[0].conductor for m in meters]
    complete = lines - {point} <= set(metered) <= lines
    return point if complete and len(set(metered)) == len(metered) else None


def _displacement_term(
    measurement: Measurement, stations: Sequence[Station], point: str, value: float
) -> Term:
    """Name ``Re((V_N − V_P)·I_N*)``: a neutral current, and a common point elsewhere."""
    neutral = measurement.conductors.neutral
    if neutral is None:
        return Term(
            "none: Σ I = 0",
            value,
            "on three wires the currents sum to zero, so it does not matter to which common point "
            "the voltages are taken",
        )
    if point == neutral:
        return Term(
            "none: every line to the neutral",
            value,
            "every line is measured with its own voltage to the neutral",
        )
    station = stations[0]
    current = abs(station.neutral_current)
    shift = abs(station.solution.rounded_voltage(station.solution.voltage(neutral, point)))
    what = f"the common line {point}" if point in measurement.conductors.lines else f"'{point}'"
    cause = (
        f"a neutral current of {current:.4g} A flows while the voltages are taken to {what}, "
        f"{shift:.4g} V away from the neutral"
    )
    expression = f"Re((V_{neutral} − V_{point})·I_{neutral}*)"
    return Term(expression, value, cause)

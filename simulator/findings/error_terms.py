"""The error of a total, split into terms that add up to it.

A wattmeter is taken from ideal to real in steps, and each step is a term: first it only senses, at
the load-side potentials and the line currents beyond the meters (what that total misses of the
crossing power belongs to the *method*); then its voltage circuit turns the angle; then it stands
where it really stands and draws what it draws; then transformers and electronic channels add
their errors. Last comes what crosses and does not reach the loads.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.findings.conditions import conditions_of
from simulator.findings.expression import reduced, write_form
from simulator.findings.sensing import (
    Form,
    angle_factor,
    direction_sign,
    indicated_form,
    true_form,
    weigh_currents,
)
from simulator.installation.transformers import Secondary
from simulator.metering.meters import Side

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
    name : str
        What kind of error it is.
    expression : str
        The term as a formula, or in words where it is none.
    value : float
        Its value [W or var].
    cause : str
        What makes it, a sentence without its full stop.
    """

    name: str
    expression: str
    value: float
    cause: str


def error_terms(
    measurement: Measurement, stations: Sequence[Station], indicated: float
) -> tuple[Term, ...]:
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
        The method's term first. Their sum is indicated minus true.

    Raises
    ------
    ValueError
        If the measurement forms no total.
    """
    total = measurement.total
    if total is None:
        raise ValueError("a scenario without [total] or [method] forms no total")
    true, crossing = _mean(stations, total, "true"), _mean(stations, total, "crossing")
    sensed = turned = placed = 0.0
    for station, meter in read_at(stations):
        weight = total.coefficients.get(meter.name, 0.0)
        steps = _steps(meter, station)
        sensed += weight * steps[0]
        turned += weight * steps[1]
        placed += weight * steps[2]
    return (
        _method_term(measurement, total, stations, sensed - crossing),
        Term(
            "angle of the voltage circuits",
            "Σ c·Re((Z_v0/Z_v − 1)·V·I*)",
            turned - sensed,
            "the inductance of the voltage circuits turns the angle that the meters feel",
        ),
        Term(
            "the meters' own consumption",
            "current and voltage circuits",
            placed - turned,
            _consumption_cause(measurement),
        ),
        Term(
            "transformers and channels",
            "ratio error, phase displacement, gain",
            indicated - placed,
            _channels_cause(measurement, total),
        ),
        Term(
            "leads beyond the meters",
            "Σ |I|²·Z of what lies between the meters and the loads",
            crossing - true,
            "leads and impedances between the meters and the loads take their part",
        ),
    )


def _channels_cause(measurement: Measurement, total: Total) -> str:
    """Say which transformers or channels are at fault, one that is not connected first."""
    for meter in (m for m in measurement.wattmeters if total.coefficients.get(m.name)):
        for transformer in (meter.current_transformer, meter.voltage_transformer):
            if transformer and transformer.secondary is not Secondary.CONNECTED:
                return (
                    f"the secondary of '{transformer.name}' of {meter.name} is "
                    f"{transformer.secondary}"
                )
    return "instrument transformers or electronic channels have errors of their own"


def _consumption_cause(measurement: Measurement) -> str:
    """Say which of their own circuits the meters measure along, by the side of their taps."""
    sides = {m.tap for m in measurement.wattmeters}
    if sides == {Side.SUPPLY}:
        return (
            "the voltages are taken on the supply side of the current circuits, so what the "
            "current circuits take is measured along"
        )
    if sides == {Side.LOAD}:
        return (
            "the voltages are taken on the load side of the current circuits, so what the "
            "voltage circuits take is measured along"
        )
    return "what some of the meters' own circuits take is measured along"


def read_at(stations: Sequence[Station]) -> list[tuple[Station, Wattmeter]]:
    """Pair every wattmeter with the (first) station where it is read.

    Parameters
    ----------
    stations : sequence of Station
        The solved networks.

    Returns
    -------
    list of (Station, Wattmeter)
        One pair for each wattmeter.
    """
    seen: dict[str, tuple[Station, Wattmeter]] = {}
    for station in stations:
        for meter in station.arrangement.wattmeters:
            seen.setdefault(meter.name, (station, meter))
    return list(seen.values())


def _mean(stations: Sequence[Station], total: Total, what: str) -> float:
    values = [complex(getattr(station, what)) for station in stations]
    return float(np.mean([s.imag if total.reactive else s.real for s in values]))


def _steps(meter: Wattmeter, station: Station) -> tuple[float, float, float]:
    """Read a wattmeter that only senses; one with its angle; one where it really stands."""
    lines = station.arrangement.conductors.lines
    current = complex(weigh_currents(meter, lines) @ station.line_currents)
    voltage = station.solution.voltage(*meter.voltage) * direction_sign(meter)
    factor = angle_factor(meter)
    place = station.wired.wired[meter.name]
    assert place.ends is not None  # noqa: S101  (every wattmeter has a voltage circuit)
    real_voltage = station.solution.voltage(*place.ends) * direction_sign(meter)
    through = place.current_circuits
    if meter.current_transformer:  # whose errors are a term of their own
        through = tuple(
            f"current transformer of {meter.name} in {w.conductor}" for w in meter.windings
        )
    real_current = sum(
        w.sign * station.solution.current(element)
        for w, element in zip(meter.windings, through, strict=True)
    )
    if meter.instrument.compensated:
        real_current -= real_voltage / meter.instrument.voltage_circuit
    return (
        float((voltage * current.conjugate()).real),
        float((factor * voltage * current.conjugate()).real),
        float((factor * real_voltage * np.conj(real_current)).real),
    )


def _method_term(
    measurement: Measurement, total: Total, stations: Sequence[Station], value: float
) -> Term:
    """Name the term that belongs to the method and the connections."""
    expression = method_expression(measurement, total)
    returning = abs(stations[0].neutral_current)
    if measurement.conductors.wires == 3 and returning:
        cause = (
            f"{returning:.4g} A return by another way than the lines, so that the line currents "
            "do not sum to zero as on three wires they should"
        )
        return Term("current beside the lines", "what ΣI meets", value, cause)
    wrong_way = [m.name for m in measurement.wattmeters if direction_sign(m) < 0]
    if wrong_way:
        cause = f"one circuit of {' and '.join(wrong_way)} is connected the other way round"
        return Term("reversed circuit", expression, value, cause)
    if total.reactive:
        return _reactive_term(measurement, expression, value)
    common = _common_point(measurement, total)
    if common is not None:
        return _displacement_term(measurement, stations, common, expression, value)
    return _partial_term(measurement, total, stations[0], expression, value)


def method_expression(measurement: Measurement, total: Total) -> str:
    """Write what a total with ideal meters misses of the crossing power.

    Parameters
    ----------
    measurement : Measurement
        What is measured.
    total : Total
        How the total is formed.

    Returns
    -------
    str
        For example ``Re((V_N − V_P)·I_N*)``; "0" if it misses nothing.
    """
    neutral, wires = measurement.conductors.neutral, measurement.conductors.wires
    shown = indicated_form(measurement, total)
    if total.reactive:
        power = write_form(true_form(shown.nodes, neutral), neutral)
        return f"{write_form(shown, neutral)} − {power.replace('Re(', 'Im(')}"
    true = true_form(shown.nodes, neutral)
    return write_form(reduced(Form(shown.nodes, shown.K - true.K), wires), neutral)


def _partial_term(
    measurement: Measurement, total: Total, station: Station, expression: str, value: float
) -> Term:
    """Name what is left out where the meters have no common point."""
    meters = [m for m in measurement.wattmeters if total.coefficients.get(m.name)]
    if len(meters) == 1 and meters[0].current_text == meters[0].voltage[0]:
        factor, end = total.coefficients[meters[0].name], meters[0].voltage[1]
        conditions = conditions_of(station)
        if conditions.balanced and conditions.supply == "symmetrical" and end in station.nodes:
            lines = [station.solution.potentials[line] for line in measurement.conductors.lines]
            cause = (
                f"the branches that meet at '{end}' are unequal, so it lies "
                f"{abs(station.nodes[end] - np.mean(lines)):.4g} V from the middle of the lines, "
                f"and one reading times {factor:g} is wrong on a balanced load too"
            )
            return Term("displaced pseudo-neutral", expression, value, cause)
        cause = (
            f"×{factor:g} on an unbalanced load is not the total, because the lines do not carry "
            "the same power"
        )
        return Term(f"×{factor:g} on an unbalanced load", expression, value, cause)
    if len(meters) > 1 and len({m.current_text for m in meters}) == 1:
        cause = (
            f"only the current of {meters[0].current_text} is sensed, which gives the total only "
            "on symmetrical voltages with a balanced load"
        )
        return Term("one line's current for all", expression, value, cause)
    if any(len(m.windings) > 1 for m in meters):
        cause = (
            "difference currents give the total only where the three voltages to the neutral sum "
            "to zero"
        )
        return Term("voltages that do not sum to zero", expression, value, cause)
    cause = "these voltages and currents, as connected, do not form the power of the load"
    return Term("the connections", expression, value, cause)


def _reactive_term(measurement: Measurement, expression: str, value: float) -> Term:
    if measurement.supply.sequence < 0:
        sequence = "-".join(reversed(measurement.conductors.lines))
        cause = (
            f"the sequence is {sequence}, and with it a reactive total of this connection has the "
            "opposite sign"
        )
        return Term("the other sequence", expression, value, cause)
    load = "" if len(measurement.wattmeters) == 3 else " with a balanced load"
    cause = f"the formula gives the reactive power only on symmetrical voltages{load}"
    return Term("reactive power from active readings", expression, value, cause)


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
    measurement: Measurement,
    stations: Sequence[Station],
    point: str,
    expression: str,
    value: float,
) -> Term:
    """Name a neutral current that meets a common point away from the neutral."""
    neutral = measurement.conductors.neutral
    if neutral is None:
        cause = (
            "on three wires the currents sum to zero, so it does not matter to which common point "
            "the voltages are taken"
        )
        return Term("the method", expression, value, cause)
    if point == neutral:
        cause = "every line is measured with its own voltage to the neutral"
        return Term("the method", expression, value, cause)
    station = stations[0]
    current = abs(station.neutral_current)
    shift = abs(station.solution.rounded_voltage(station.solution.voltage(neutral, point)))
    is_line = point in measurement.conductors.lines
    what = f"the common line {point}" if is_line else f"'{point}'"
    cause = (
        f"a neutral current of {current:.4g} A flows while the voltages are taken to {what}, "
        f"{shift:.4g} V away from the neutral"
    )
    name = "neutral current with a common line" if is_line else "displaced pseudo-neutral"
    return Term(name, expression, value, cause)

"""Usual slips in predicting readings, each as the numbers that it leads to."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.metering.catalogue import METHODS
from simulator.reports.practice.installations import LINES, ROOT3

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.findings.result import Result
    from simulator.reports.practice.circuit import Circuit

Numbers = dict[str, float]
TOTAL, TRUE, NEUTRAL, REACTIVE, FACTOR = "total", "true", "I N", "Q", "cos φ"
"""Symbols of what is asked beside the readings."""


def all_slips(circuit: Circuit) -> dict[str, Numbers]:
    """Work out what every usual slip leads to in a circuit.

    Parameters
    ----------
    circuit : Circuit
        The circuit.

    Returns
    -------
    dict of str to dict of str to float
        For each slip that can be made here the numbers it changes, by symbol.
    """
    found = {name: slip(circuit) for name, slip in SLIPS.items()}
    return {name: numbers for name, numbers in found.items() if numbers}


def numbers_of(result: Result) -> Numbers:
    """Give everything that may be asked about a circuit.

    Parameters
    ----------
    result : Result
        The circuit, solved.

    Returns
    -------
    dict of str to float
        Readings, total, true power, the neutral's current, and the loads' reactive power and
        power factor P/√(P² + Q²), by symbol.
    """
    total = result.total
    assert total is not None  # noqa: S101  (every method of the catalogue forms one)
    watts = {name: reading.watts for name, reading in result.readings.items()}
    neutral = {NEUTRAL: abs(result.first.neutral_current)} if result.first.neutral else {}
    S = result.first.true
    loads = {REACTIVE: S.imag, FACTOR: S.real / abs(S)}
    return {**watts, TOTAL: total.indicated, TRUE: total.true, **neutral, **loads}


def _with_total(circuit: Circuit, watts: Numbers) -> Numbers:
    total = circuit.result.measurement.total
    assert total is not None  # noqa: S101
    return watts | {TOTAL: math.fsum(c * watts[k] for k, c in total.coefficients.items())}


def _scaled(circuit: Circuit, factor: float) -> Numbers:
    watts = {name: factor * r.watts for name, r in circuit.result.readings.items()}
    return _with_total(circuit, watts)


def _times_cosine(circuit: Circuit, cosine: float) -> Numbers:
    """Give every meter the same angle."""
    readings = circuit.result.readings.values()
    return _with_total(circuit, {r.name: abs(r.voltage * r.current) * cosine for r in readings})


def _between_lines(circuit: Circuit) -> bool:
    return all(set(w["voltage"]) <= set(LINES) for w in circuit.meters["wattmeter"])


def _sequence(circuit: Circuit) -> Numbers:
    supply = circuit.tables["supply"]
    order = supply["sequence"].split("-")
    return numbers_of(circuit.with_other(supply=supply | {"sequence": "-".join(order[::-1])}))


def _star_for_delta(circuit: Circuit) -> Numbers:
    (load,) = circuit.tables["load"]
    if circuit.installation.phi is None or circuit.installation.given not in ("star", "delta"):
        return {}
    other = {"star": "delta", "delta": "star"}[load["connection"]]
    return numbers_of(circuit.with_other(load=[load | {"connection": other}]))


def _phase_for_line(circuit: Circuit) -> Numbers:
    return _scaled(circuit, 1 / ROOT3) if _between_lines(circuit) else {}


def _line_twice(circuit: Circuit) -> Numbers:
    told = _between_lines(circuit) and not circuit.result.first.neutral
    return _scaled(circuit, ROOT3) if told else {}


def _line_for_phase(circuit: Circuit) -> Numbers:
    return {} if _between_lines(circuit) else _scaled(circuit, ROOT3)


def _branch_for_line(circuit: Circuit) -> Numbers:
    told = circuit.installation.given == "delta" and circuit.installation.phi is not None
    return _scaled(circuit, 1 / ROOT3) if told else {}


def _load_angle(circuit: Circuit) -> Numbers:
    phi = circuit.installation.phi
    if phi is None or not _between_lines(circuit):
        return {}
    return _times_cosine(circuit, math.cos(math.radians(phi)))


def _sine(circuit: Circuit) -> Numbers:
    phi = circuit.installation.phi
    if not phi or _between_lines(circuit):
        return {}
    return _times_cosine(circuit, math.sin(math.radians(phi)))


def _no_cosine(circuit: Circuit) -> Numbers:
    return _times_cosine(circuit, 1.0)


def _phase_power(circuit: Circuit) -> Numbers:
    """Take each reading for the power of the branch in its line."""
    (load,) = circuit.result.first.loads
    powers = {branch.name: branch.power.real for branch in load.branches}
    readings = circuit.result.readings.values()
    reactive = METHODS[circuit.method].reactive
    lines = {r.name: r.meter.current_text for r in readings}
    to_neutral = any("N" in r.meter.voltage for r in readings)
    if (
        reactive
        or to_neutral
        or circuit.installation.phi is not None
        or not set(lines.values()) <= set(powers)
    ):
        return {}
    return _with_total(circuit, {name: powers[line] for name, line in lines.items()})


def _star_point_at_neutral(circuit: Circuit) -> Numbers:
    """Take the voltage circuits' star point for the supply's neutral."""
    station = circuit.result.first
    if not any(abs(v) > 1e-6 * abs(station.line_potentials[0]) for v in station.nodes.values()):
        return {}
    volts = dict(zip(LINES, station.line_potentials.tolist(), strict=True))
    watts = {
        r.name: (volts[r.meter.voltage[0]] * r.current.conjugate()).real
        for r in circuit.result.readings.values()
    }
    return _with_total(circuit, watts)


def _with_current(circuit: Circuit, sign: int) -> Numbers:
    """Form another current than the difference: the own line's alone, or the sum."""
    readings = circuit.result.readings.values()
    if any(len(r.meter.windings) < 2 for r in readings):
        return {}
    amperes = dict(zip(LINES, circuit.result.first.line_currents.tolist(), strict=True))
    watts = {}
    for r in readings:
        own, other = (amperes[winding.conductor] for winding in r.meter.windings)
        watts[r.name] = (r.voltage * (own + sign * other).conjugate()).real
    return _with_total(circuit, watts)


def _minus_lost(circuit: Circuit) -> Numbers:
    readings = circuit.result.readings.values()
    if all(r.direction != "downscale" for r in readings):
        return {}
    return {TOTAL: _with_total(circuit, {r.name: abs(r.watts) for r in readings})[TOTAL]}


def _factor(only: Callable[[str], bool], factor: float) -> Callable[[Circuit], Numbers]:
    """Make a slip in the factor of a total, for the formulas for which it is one."""

    def slip(circuit: Circuit) -> Numbers:
        total = circuit.result.total
        assert total is not None  # noqa: S101
        return {TOTAL: factor * total.indicated} if only(total.formula) else {}

    return slip


def _sum_for_difference(circuit: Circuit) -> Numbers:
    if circuit.method != "two wattmeters for reactive power":
        return {}
    return {TOTAL: ROOT3 * sum(r.watts for r in circuit.result.readings.values())}


def _three_line_volts(circuit: Circuit) -> Numbers:
    total, phi = circuit.result.total, circuit.installation.phi
    if total is None or total.reactive or phi is None:
        return {}
    return {TOTAL: ROOT3 * total.true}


def _indicated_is_true(circuit: Circuit) -> Numbers:
    total = circuit.result.total
    return {} if total is None or total.is_right else {TRUE: total.indicated}


def formula_misleads(circuit: Circuit) -> bool:
    """Tell whether tan φ = √3·(W2 − W1)/(W1 + W2) could be applied, and is wrong.

    Parameters
    ----------
    circuit : Circuit
        The circuit.

    Returns
    -------
    bool
        True for two wattmeters on three wires with a load that is not balanced.
    """
    three = circuit.result.first.neutral is None
    return three and circuit.method == "two wattmeters" and circuit.installation.phi is None


def _balanced_formula(circuit: Circuit) -> Numbers:
    if not formula_misleads(circuit):
        return {}
    W1, W2 = (r.watts for r in circuit.result.readings.values())
    P, Q = W1 + W2, circuit.result.measurement.supply.sequence * ROOT3 * (W2 - W1)
    return {REACTIVE: Q, FACTOR: P / math.hypot(P, Q)}


def _mean_current(circuit: Circuit) -> Numbers:
    if not formula_misleads(circuit):
        return {}
    station = circuit.result.first
    S = abs(station.line_potentials[0]) * sum(abs(i) for i in station.line_currents.tolist())
    return {FACTOR: float(station.true.real / S)}


def _arithmetic_neutral(circuit: Circuit) -> Numbers:
    station = circuit.result.first
    return {NEUTRAL: sum(abs(i) for i in station.line_currents.tolist())} if station.neutral else {}


def _is_sum(formula: str) -> bool:
    return "sqrt" not in formula and "*" not in formula


SLIPS: dict[str, Callable[[Circuit], Numbers]] = {
    "other sequence, or lag taken for lead": _sequence,
    "star taken for delta or the reverse": _star_for_delta,
    "phase voltage in place of the line voltage": _phase_for_line,
    "line voltage in place of the phase voltage": _line_for_phase,
    "√3 applied to the line voltage once more": _line_twice,
    "branch current taken for the line current": _branch_for_line,
    "φ taken for the angle between V and I": _load_angle,
    "sine in place of cosine": _sine,
    "cosine left out": _no_cosine,
    "reading taken for the power of that branch": _phase_power,
    "star point P taken for the supply's neutral": _star_point_at_neutral,
    "current of the own line alone": lambda c: _with_current(c, 0),
    "sum of the currents in place of their difference": lambda c: _with_current(c, 1),
    "minus sign lost": _minus_lost,
    "√3 applied to a sum of readings": _factor(_is_sum, ROOT3),
    "√3 and 3 both: 3·V·I·cos φ with line voltage": _three_line_volts,
    "one reading taken for the whole": _factor(lambda f: f == "3*W", 1 / 3),
    "√3 in place of 3": _factor(lambda f: f == "3*W", 1 / ROOT3),
    "√3 left out": _factor(lambda f: f.startswith("sqrt(3)*"), 1 / ROOT3),
    "3 in place of √3": _factor(lambda f: f.startswith("sqrt(3)*"), ROOT3),
    "not divided by √3": _factor(lambda f: f.endswith("/sqrt(3)"), ROOT3),
    "divided by 3 in place of √3": _factor(lambda f: f.endswith("/sqrt(3)"), 1 / ROOT3),
    "sum of the readings in place of their difference": _sum_for_difference,
    "indicated total taken for the true one": _indicated_is_true,
    "currents added without their angles": _arithmetic_neutral,
    "√3·(W2 − W1) and its tan φ, which are for balanced loads": _balanced_formula,
    "S = √3·V·I with the mean current": _mean_current,
}
"""The slips by name."""

"""What one would conclude from a scenario's readings, with what is true beside it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import ScenarioError
from simulator.findings.conditions import conditions_of
from simulator.findings.error_terms import error_terms
from simulator.findings.inference import Given, Inference, infer
from simulator.findings.reason import RIGHT, amount
from simulator.findings.result import solve
from simulator.scenario.build import Total

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.findings.result import Result
    from simulator.findings.station import Station
    from simulator.metering.meters import Wattmeter
    from simulator.scenario.models import Scenario

# Real current circuits unbalance what they feed by less than this part: no reason to refuse.
NEARLY = 0.01


def infer_scenario(
    scenario: Scenario,
    readings: Mapping[str, float] | None = None,
    *,
    voltage: float | None = None,
    current: float | None = None,
    tolerance: float = 0.02,
) -> Inference:
    """Draw conclusions from a scenario's readings as if nothing else were known but balance.

    Parameters
    ----------
    scenario : Scenario
        One wattmeter to a neutral, two to a common line, or three to a common point.
    readings : mapping of str to float, optional
        Readings that replace predicted ones, by name [W].
    voltage, current : float, optional
        Line-to-line voltage, rms [V], and line current, rms [A]; those of the scenario if no
        reading is replaced.
    tolerance : float, optional
        Relative difference up to which two values count as equal.

    Returns
    -------
    Inference
        Conclusions and refusals, with the solved station.

    Raises
    ------
    ScenarioError
        If the wattmeters are connected in no such way, or a name is not theirs.
    NetworkError
        If the network has no unique solution.

    Examples
    --------
    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Pump",
    ...     "supply": {"wires": 3, "voltage": "400 V"},
    ...     "load": [{"connection": "star", "each": "20 ohm, 0.5 lag"}],
    ...     "method": {"name": "two wattmeters"},
    ... })
    >>> found = simulator.infer_scenario(scenario)
    >>> f"{found.active:.0f} W, power factor {found.load.power_factor:.2f} {found.load.sense}"
    '4000 W, power factor 0.50 lag'
    """
    result = solve(scenario)
    station = result.first
    names, common = wattmeters_in_order(result)
    replaced = dict(readings or {})
    for name in replaced:
        if name not in names:
            raise ScenarioError(f"no such reading counts, expected {' or '.join(names)}", name)
    objection = objection_to_balance(station)
    if not replaced and objection is None:
        V = station.line_potentials
        voltage = voltage or float(np.abs(V - np.roll(V, -1)).mean()) or None
        current = current or float(np.abs(station.line_currents).mean()) or None
    lines = result.measurement.conductors.lines
    inference = infer(
        Given(
            {name: replaced.get(name, result.readings[name].watts) for name in names},
            lines,
            common or lines[1],
            result.measurement.supply.sequence,
            voltage,
            current,
            tolerance=tolerance,
            objection=objection,
        )
    )
    return _with_truth(inference, result)


def wattmeters_in_order(result: Result) -> tuple[list[str], str | None]:
    """Put the wattmeters in the order of `Given`, and name the common line of two.

    Parameters
    ----------
    result : Result
        The solved scenario.

    Returns
    -------
    names : list of str
        The wattmeters whose readings count.
    common : str or None
        The line on which the voltage circuits of two of them end.

    Raises
    ------
    ScenarioError
        If they are connected in no way from which conclusions follow.
    """
    lines = result.measurement.conductors.lines
    # Where three have their common point on a line, the one in that line always reads zero.
    meters = [m for m in result.measurement.wattmeters if len(set(m.voltage)) == 2]
    placed = {_line(m): m for m in meters}
    ends = {end for line, m in placed.items() for end in m.voltage if end != line}
    end = ends.pop() if len(ends) == 1 else None
    known = len(placed) == len(meters) and set(placed) <= set(lines)
    if known and len(meters) in (1, 3) and end is not None and end not in lines:
        return [m.name for m in meters], None
    if known and len(meters) == 2 and end in lines:
        k = lines.index(end)
        return [placed[lines[k - 1]].name, placed[lines[(k + 1) % 3]].name], end
    wired = "; ".join(f"{m.name} in {m.current_text}, {' to '.join(m.voltage)}" for m in meters)
    raise ScenarioError(
        "conclusions need one wattmeter to a neutral, two to a common line or three to a common "
        f"point, got {wired or 'none'}",
        "wattmeter",
    )


def _line(meter: Wattmeter) -> str:
    """Name the one line that a wattmeter is in and its voltage circuit ends on, or nothing."""
    named = {winding.conductor for winding in meter.windings}
    return named.pop() if len(named) == 1 and named <= set(meter.voltage) else f"none {meter.name}"


def objection_to_balance(station: Station) -> str | None:
    """Say why the readings mean no angle of a balanced load.

    Parameters
    ----------
    station : Station
        The solved station.

    Returns
    -------
    str or None
        The start of a sentence; None if load and voltages are balanced.
    """
    V, I = (np.abs(station.components[what]) for what in ("voltage", "current"))
    if not conditions_of(station).balanced and max(I[1:]) > NEARLY * I[0]:
        return "The load is unbalanced"
    if V[1] > NEARLY * V[0]:
        return "The voltages are unsymmetrical"
    return None


def _with_truth(inference: Inference, result: Result) -> Inference:
    """Add what is true, and withdraw a total that the method does not give here."""
    weight = 3.0 if len(inference.readings) == 1 else 1.0
    weights = {
        name: weight if counted == inference.given.readings[name] else -weight
        for name, counted in inference.readings.items()
    }
    formula = "".join(f" {'-' if w < 0 else '+'} {abs(w):g}*{name}" for name, w in weights.items())
    total = Total(formula.strip(" +"), weights, reactive=False)
    measurement = replace(result.measurement, total=total)
    method = error_terms(measurement, result.stations, inference.indicated)[0]
    allowed = RIGHT if inference.given.objection else NEARLY
    if abs(method.value) <= allowed * float(result.first.plane.apparent.arithmetic):
        return replace(inference, station=result.first)
    objection = inference.given.objection
    start = f"{objection}, and the" if objection else "The"
    off = f"{amount(abs(method.value), 'W')} too {'high' if method.value > 0 else 'low'}"
    refused = f"{start} total is {off}, so nothing follows: {method.cause}."
    return replace(
        inference,
        station=result.first,
        active=None,
        load=None,
        claim=inference.load or inference.claim,
        refused=refused,
    )

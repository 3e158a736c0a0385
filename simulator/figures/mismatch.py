"""Unequal voltage circuits that meet in a star of their own, on three wires and on four."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from simulator.errors import ScenarioError
from simulator.figures.sweeps import MISMATCH, ErrorSweep, errors_of, rebuilt, total_needed
from simulator.installation.conductors import EARTH

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.findings.result import Result
    from simulator.installation.loads import Load
    from simulator.metering.arrangement import Arrangement
    from simulator.metering.meters import Wattmeter
    from simulator.phasors import FloatArray

STAR = "star point without a neutral"
NEUTRAL = "N of four wires"


def pseudo_neutral(result: Result) -> str:
    """Find the point where voltage circuits make a star of their own.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    str
        The node.

    Raises
    ------
    ScenarioError
        If there is none, or its voltage circuits are ideal.
    """
    arrangement = result.first.arrangement
    taken = {EARTH, *arrangement.conductors.all, *(load.star_point for load in arrangement.loads)}
    own = result.first.nodes.keys() - taken
    for meter in result.measurement.wattmeters:
        for node in meter.voltage:
            if node in own and not meter.instrument.senses_only:
                return node
    raise ScenarioError(
        "unequal voltage circuits matter where they make a star point of their own, and here "
        "they do not",
        "figure",
    )


def against_mismatch(result: Result, changes: FloatArray = MISMATCH) -> ErrorSweep:
    """Change one of the voltage circuits that meet in a star, on three wires and on four.

    All of them, and external resistors at that point, are first made equal to the first
    wattmeter's. On three wires what is connected to the neutral meets in a point of its own; on
    four wires the star points of loads are connected to the neutral.

    Parameters
    ----------
    result : Result
        The result of the scenario, whose own load it keeps.
    changes : ndarray of float, shape (n,), optional
        Changes of the first wattmeter's voltage circuit [%].

    Returns
    -------
    ErrorSweep
        The curves "3 wires" and "4 wires".

    Raises
    ------
    ScenarioError
        If no voltage circuits make a star point, no total is formed, or a meter needs the neutral.
    """
    total_needed(result)
    node = pseudo_neutral(result)
    errors = {}
    for name, convert in (("3 wires", _on_three_wires), ("4 wires", _on_four_wires)):
        measurements = (
            rebuilt(result.measurement, partial(_converted, convert, node, factor))
            for factor in (1 + changes / 100).tolist()
        )
        errors[name] = errors_of(measurements)
    return ErrorSweep(changes, errors)


def _converted(
    convert: Callable[[Arrangement], Arrangement],
    node: str,
    factor: float,
    arrangement: Arrangement,
) -> Arrangement:
    return _unequal(convert(arrangement), node, factor)


def _unequal(arrangement: Arrangement, node: str, factor: float) -> Arrangement:
    """Make all branches of a star of voltage circuits equal but the first one."""
    at_node = [m for m in arrangement.wattmeters if node in m.voltage]
    equal = at_node[0].instrument
    first = replace(equal, voltage_circuit=equal.voltage_circuit * factor)

    def changed(meter: Wattmeter) -> Wattmeter:
        if node not in meter.voltage:
            return meter
        return replace(meter, instrument=first if meter is at_node[0] else equal)

    impedances = tuple(
        replace(z, impedance=equal.voltage_circuit) if node in z.between else z
        for z in arrangement.impedances
    )
    wattmeters = tuple(changed(m) for m in arrangement.wattmeters)
    return replace(arrangement, wattmeters=wattmeters, impedances=impedances)


def _on_three_wires(arrangement: Arrangement) -> Arrangement:
    neutral = arrangement.conductors.neutral
    if neutral is None:
        return arrangement
    for meter in arrangement.wattmeters:
        if neutral in (*meter.voltage, *(w.conductor for w in meter.windings)):
            raise ScenarioError(f"on three wires there is no {neutral} for {meter.name}", "figure")
    supply = arrangement.supply
    return replace(
        arrangement,
        conductors=replace(arrangement.conductors, neutral=None),
        supply=replace(supply, earthed=None) if supply.earthed == neutral else supply,
        loads=tuple(_moved(load, neutral, STAR) for load in arrangement.loads),
    )


def _on_four_wires(arrangement: Arrangement) -> Arrangement:
    if arrangement.conductors.neutral is not None:
        return arrangement
    loads = tuple(
        _moved(load, load.star_point, NEUTRAL) if load.star_point else load
        for load in arrangement.loads
    )
    return replace(
        arrangement, conductors=replace(arrangement.conductors, neutral=NEUTRAL), loads=loads
    )


def _moved(load: Load, node: str, to: str) -> Load:
    """Connect what a load has at a node to another one."""
    branches = tuple(
        replace(b, start=to if b.start == node else b.start, end=to if b.end == node else b.end)
        for b in load.branches
    )
    star = to if load.star_point == node else load.star_point
    leads = {conductor: z for conductor, z in load.leads.items() if conductor != node}
    return replace(load, branches=branches, star_point=star, leads=leads)

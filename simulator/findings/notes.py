"""What a person should notice beside the numbers of a result."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.findings.instrument_notes import instrument_notes
from simulator.installation.loads import Connection
from simulator.phasors import angle_deg, wrap_deg

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.findings.result import Result
    from simulator.findings.station import Station
    from simulator.metering.readings import Reading

# IEC 60038:2009 and EN 50160, from memory: supply voltages within ±10 % of nominal.
BAND = 0.10
BEHIND_TRANSFORMERS = "U and I are what the circuits of the meters feel, behind their transformers"
"""Belongs to a table that calls them so."""


def notes_on(result: Result) -> tuple[str, ...]:
    """List what a person should notice beside the numbers.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    tuple of str
        What endangers a person first; then what was assumed, why a reading is below zero, what
        is out of band at a load, and what is overloaded or outside its class.
    """
    notes = list(result.measurement.notes)
    notes += [_below_zero(r) for r in result.readings.values() if r.direction == "downscale"]
    notes += out_of_band(result.first)
    notes += instrument_notes(result.stations)
    if any(r.meter.ratio != 1 for r in result.readings.values()):
        notes.append(BEHIND_TRANSFORMERS)
    return tuple(sorted(notes, key=lambda note: not note.startswith("DANGER")))


def _below_zero(reading: Reading) -> str:
    meter = reading.meter
    if meter.current_reversed != meter.voltage_reversed:
        which = "current" if meter.current_reversed else "voltage"
        return (
            f"{reading.name} reads below zero: its {which} circuit is connected the other way round"
        )
    angle = abs(wrap_deg(angle_deg(reading.voltage) - angle_deg(reading.current)))
    apart = f"its voltage and current are {angle:.1f}° apart"
    return f"{reading.name} reads below zero: {apart}, more than 90°"


def out_of_band(station: Station) -> Iterator[str]:
    """Find the branches of loads that get more or less than their nominal voltage allows.

    Parameters
    ----------
    station : Station
        The solved station.

    Yields
    ------
    str
        The branch, its voltage and its nominal one: for people.
    """
    nominal = station.arrangement.supply.nominal_voltage
    if nominal is None:
        return
    for load, found in zip(station.arrangement.loads, station.loads, strict=True):
        to_star = load.connection in (Connection.STAR, Connection.LINE_TO_NEUTRAL)
        rated = nominal / math.sqrt(3) if to_star else nominal
        if load.motor or (to_star and station.neutral is None):
            continue
        for branch in found.branches:
            share = abs(branch.voltage) / rated
            if abs(share - 1) > BAND and branch.current:
                yield (
                    f"load '{load.name}', {branch.name}: {abs(branch.voltage):.1f} V is "
                    f"{100 * share:.0f} % of its nominal {rated:.0f} V"
                )

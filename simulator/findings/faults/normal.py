"""What looks wrong and is right: no fault need be assumed for it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from simulator.findings.conditions import conditions_of
from simulator.findings.reason import amount
from simulator.phasors import angle_deg, wrap_deg

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.findings.result import Result
    from simulator.metering.readings import Reading

# Readings of meters that differ by less than this look alike.
ALIKE = 0.02
# A meter whose own power factor is below this is often taken for wrongly wired.
LOW = 0.55
NEAR_UNITY = 0.98


def looks_wrong(result: Result) -> tuple[str, ...]:
    """List what people take for a wiring fault though the wiring is right.

    Parameters
    ----------
    result : Result
        The rightly wired scenario, solved.

    Returns
    -------
    tuple of str
        One sentence each.
    """
    return tuple(
        sentence for find in (_meters, _unequal, _high_leg, _load) for sentence in find(result)
    )


def _meters(result: Result) -> Iterator[str]:
    largest_v = max((abs(r.voltage) for r in result.readings.values()), default=0.0)
    factor = _power_factor(result)
    for name, r in result.readings.items():
        volt_amperes = abs(r.voltage * r.current)
        own = math.nan if not volt_amperes else r.at_instrument / volt_amperes
        if abs(r.voltage) <= 1e-9 * largest_v:
            yield f"{name} has no voltage and reads 0 W: both its ends are at one potential"
        elif not volt_amperes:
            yield f"{name} reads 0 W: no current flows in {r.meter.current_text}"
        elif r.direction == "zero":
            yield f"{name} reads 0 W: its voltage and current are {_apart(r)}"
        elif r.direction == "downscale":
            yield f"{name} reads {amount(r.watts, 'W')}: its voltage and current are {_apart(r)}"
        elif own < LOW or (factor > NEAR_UNITY > own):
            load = "" if math.isnan(factor) else f", the load's is {factor:.2f}"
            yield (
                f"{name}'s own power factor is {own:.2f}, its voltage and current {_apart(r)}: "
                f"that is the arrangement{load}"
            )


def _apart(reading: Reading) -> str:
    angle = float(wrap_deg(angle_deg(reading.voltage) - angle_deg(reading.current)))
    return f"{abs(angle):.1f}° apart"


def _power_factor(result: Result) -> float:
    power = result.first.true
    return power.real / abs(power) if power else math.nan


def _unequal(result: Result) -> Iterator[str]:
    readings = [r.watts for r in result.readings.values()]
    if len(readings) < 2 or not conditions_of(result.first).balanced:
        return
    if max(readings) - min(readings) > ALIKE * max(abs(r) for r in readings):
        yield "the readings are unequal though the load is balanced"


def _high_leg(result: Result) -> Iterator[str]:
    station = result.first
    volts = np.abs(station.line_potentials)
    if station.neutral and volts.max() > 1.2 * np.median(volts):
        line = station.arrangement.conductors.lines[int(volts.argmax())]
        yield f"{line} has {volts.max():.0f} V to {station.neutral}: a high leg, if it is meant"


def _load(result: Result) -> Iterator[str]:
    power = result.first.true
    if power.real < 0:
        yield "the total is negative: power flows back into the supply"
    if power.imag < -ALIKE * abs(power):
        yield "the current leads: the load is capacitive"

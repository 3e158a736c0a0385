"""How far a meter's ranges are used: each circuit on its own, and the pointer.

Either circuit can be overloaded with the pointer well on its scale (low power factor, or a low
voltage with a high current), so current and voltage are judged apart from the reading.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from simulator.metering.arrangement import WiredArrangement
    from simulator.metering.readings import Reading
    from simulator.network.nodal import Solution


@dataclass(frozen=True)
class RangeUse:
    """What a wattmeter's circuits carry and its pointer shows, in parts of the ranges.

    Attributes
    ----------
    current : float or None
        Largest current in a winding of its current circuit, of the current range.
    voltage : float or None
        Voltage at its voltage circuit, of the voltage range.
    pointer : float or None
        Size of the reading at the instrument, of full scale.
    """

    current: float | None
    voltage: float | None
    pointer: float | None


def range_use(reading: Reading, wired: WiredArrangement, solution: Solution) -> RangeUse:
    """Judge each circuit of a wattmeter against its range.

    Parameters
    ----------
    reading : Reading
        Its reading.
    wired : WiredArrangement
        The network it is in.
    solution : Solution
        Its phasors.

    Returns
    -------
    RangeUse
        The parts; None where a range is not known.
    """
    instrument = reading.meter.instrument
    windings = wired.wired[reading.name].current_circuits
    largest = max(abs(solution.current(element)) for element in windings)
    return RangeUse(
        current=_part(largest, instrument.current_range),
        voltage=_part(abs(reading.voltage), instrument.voltage_range),
        pointer=_part(abs(reading.at_instrument), instrument.fiducial),
    )


def _part(value: float, of: float | None) -> float | None:
    return None if of is None else value / of


def smallest_range(ranges: Iterable[float], value: float) -> float | None:
    """Choose the smallest range that carries a value.

    Parameters
    ----------
    ranges : iterable of float
        The ranges there are.
    value : float
        What it has to carry, in the same unit.

    Returns
    -------
    float or None
        The range; None if none carries it.
    """
    return min((r for r in ranges if r >= value), default=None)

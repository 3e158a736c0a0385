"""Which physical instrument and transformers stand behind each reading.

Readings through the same unit share its error. Each wattmeter has an instrument of its own; a
wattmeter that is moved from station to station is one instrument, and takes its transformers along.
A transformer serves all wattmeters in the same conductor, or across the same two nodes, that name
it. What else is one unit has to be said.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from simulator.metering.meters import Wattmeter


@dataclass(frozen=True)
class Units:
    """The units behind one reading, by names that are the same where the unit is.

    Attributes
    ----------
    instrument : str
        Its instrument.
    current_transformers : tuple of str
        For each winding its current transformer; empty without.
    voltage_transformer : str
        Its voltage transformer; empty without.
    """

    instrument: str
    current_transformers: tuple[str, ...] = ()
    voltage_transformer: str = ""


def units_of(
    meters: Sequence[Wattmeter], instruments: Sequence[str | None], shared: Collection[str] = ()
) -> dict[str, Units]:
    """Find the units behind the readings of some wattmeters.

    Parameters
    ----------
    meters : sequence of Wattmeter
        The wattmeters.
    instruments : sequence of str or None
        Name of the instrument of each.
    shared : collection of str, optional
        Instruments and transformers of which there is only one.

    Returns
    -------
    dict of str to Units
        By wattmeter.
    """
    seen: Counter[tuple[int | None, str | None]] = Counter()
    found = {}
    for meter, name in zip(meters, instruments, strict=True):
        seen[meter.station, name] += 1
        moved = ""
        if meter.station is not None:
            place = seen[meter.station, name]
            moved = f"the moved {name or 'wattmeter'}" + (f" {place}" if place > 1 else "")
        own = name if name in shared else None
        found[meter.name] = Units(
            own or moved or meter.name,
            _current_transformers(meter, moved, shared),
            _voltage_transformer(meter, moved, shared),
        )
    return found


def _current_transformers(meter: Wattmeter, moved: str, shared: Collection[str]) -> tuple[str, ...]:
    if meter.current_transformer is None:
        return ()
    name = meter.current_transformer.name
    if name in shared:
        return (name,) * len(meter.windings)
    if moved:
        more = ("", *(f", winding {k}" for k in range(2, len(meter.windings) + 1)))
        return tuple(f"{name} of {moved}{which}" for which in more)
    return tuple(f"{name} in {winding.conductor}" for winding in meter.windings)


def _voltage_transformer(meter: Wattmeter, moved: str, shared: Collection[str]) -> str:
    if meter.voltage_transformer is None:
        return ""
    name = meter.voltage_transformer.name
    if name in shared:
        return name
    return f"{name} of {moved}" if moved else f"{name} at {'-'.join(sorted(meter.voltage))}"

"""Circuits the wrong way round, leads exchanged or rolled, currents from the wrong line."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from simulator.findings.faults.leads import (
    current_words,
    is_closed,
    orders,
    slips,
    voltage_words,
)
from simulator.findings.faults.wiring import (
    RIGHT_WIRING,
    Wiring,
    circuit_noun,
    rewired,
    with_meter,
)
from simulator.installation.conductors import EARTH

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.findings.faults.leads import Moved
    from simulator.metering.meters import Wattmeter
    from simulator.scenario.build import Measurement

# More wattmeters than FEW have fewer kinds of slips together, more than SEVERAL one circuit
# reversed or all.
FEW = 2
SEVERAL = 3


def misconnections(measurement: Measurement) -> Iterator[Wiring]:
    """Connect the leads in every plausible way.

    Parameters
    ----------
    measurement : Measurement
        What is measured, rightly wired.

    Yields
    ------
    Wiring
        The right wiring and the wrong ones: current circuits in each other's and in other
        conductors with every polarity; voltage leads on each other's places; voltage circuits
        reversed. Up to two wattmeters have both kinds exchanged in every combination (two on three
        wires: 6 orders of voltage leads × 2 of currents × 4 polarities = 48); more have them
        exchanged alike, which only renames them.
    """
    few = len(measurement.wattmeters) <= FEW
    for current, voltage in itertools.product(*lead_orders(measurement)):
        together = is_closed(current) and is_closed(voltage) and (few or current == voltage)
        if current and voltage and not together:
            continue
        for turned in polarities(measurement):
            if few or not (turned and voltage):
                yield _wired(measurement, current, voltage, turned)
    yield from _reversed_voltages(measurement)
    yield from _reversed_in_several(measurement)
    yield from _one_in_wrong_line(measurement)


def lead_orders(measurement: Measurement) -> tuple[list[Moved], list[Moved]]:
    """List in which orders current circuits and voltage leads may be connected.

    Parameters
    ----------
    measurement : Measurement
        What is measured.

    Returns
    -------
    currents : list of dict of str to str
        For each conductor whose current circuit is elsewhere, in which conductor that is.
    voltages : list of dict of str to str
        For each conductor whose voltage lead is elsewhere, on which one that is.
    """
    conductors = measurement.conductors
    within = {w.conductor for meter in measurement.wattmeters for w in meter.windings}
    ends = {node for meter in measurement.wattmeters for node in meter.voltage}
    places = [c for c in conductors.all if c in conductors.lines or c in within]
    nodes = [*conductors.all, *((EARTH,) if EARTH in ends else ())]
    currents = orders([c for c in places if c in within], places)
    return list(currents), list(orders([n for n in nodes if n in ends], nodes))


def polarities(measurement: Measurement) -> list[tuple[str, ...]]:
    """List which wattmeters may have a reversed circuit together.

    Parameters
    ----------
    measurement : Measurement
        What is measured.

    Returns
    -------
    list of tuple of str
        Names: none, one, several, all; of more than three wattmeters none, one or all.
    """
    names = [meter.name for meter in measurement.wattmeters]
    sizes = range(len(names) + 1) if len(names) <= SEVERAL else (0, 1, len(names))
    return [chosen for n in sizes for chosen in itertools.combinations(names, n)]


def _wired(
    measurement: Measurement, current: Moved, voltage: Moved, turned: tuple[str, ...]
) -> Wiring:
    change = partial(_rewire, current=current, voltage=voltage, turned=turned)
    noun = circuit_noun(measurement.wattmeters, "current")
    names = {conductor: _meter_in(measurement, conductor) for conductor in current}
    words = (
        voltage_words(voltage),
        current_words(current, names, noun),
        _reversed_words(measurement, turned, noun),
    )
    count = slips(current) + slips(voltage) + _reversals(measurement, turned)
    said = "; ".join(part for part in words if part)
    return Wiring(said or RIGHT_WIRING, count, rewired(measurement, change))


def _rewire(meter: Wattmeter, current: Moved, voltage: Moved, turned: tuple[str, ...]) -> Wattmeter:
    windings = (replace(w, conductor=current.get(w.conductor, w.conductor)) for w in meter.windings)
    start, end = (voltage.get(node, node) for node in meter.voltage)
    flipped = meter.current_reversed != (meter.name in turned)
    return replace(meter, windings=tuple(windings), voltage=(start, end), current_reversed=flipped)


def _meter_in(measurement: Measurement, conductor: str) -> str:
    """Name the wattmeter whose current circuit a conductor carries, or the conductor itself."""
    found = [
        meter.name
        for meter in measurement.wattmeters
        if conductor in {w.conductor for w in meter.windings}
    ]
    single = all(len(meter.windings) == 1 for meter in measurement.wattmeters)
    return found[0] if len(found) == 1 and single else conductor


def _reversed_words(measurement: Measurement, turned: tuple[str, ...], noun: str) -> str:
    if len(turned) == len(measurement.wattmeters) > 1:
        return f"every {noun} reversed"
    plural = "s" if len(turned) > 1 else ""
    return f"{noun}{plural} of {' and '.join(turned)} reversed" if turned else ""


def _reversals(measurement: Measurement, turned: tuple[str, ...]) -> int:
    """Count the slips: all at once is one, the direction of power mistaken."""
    return 1 if len(turned) == len(measurement.wattmeters) else len(turned)


def _reversed_voltages(measurement: Measurement) -> Iterator[Wiring]:
    noun = circuit_noun(measurement.wattmeters, "voltage")
    for turned in polarities(measurement)[1:]:
        said = _reversed_words(measurement, turned, noun)
        wiring = rewired(measurement, partial(_voltage_turned, turned=turned))
        yield Wiring(said, _reversals(measurement, turned), wiring)


def _voltage_turned(meter: Wattmeter, turned: tuple[str, ...]) -> Wattmeter:
    return replace(meter, voltage_reversed=meter.voltage_reversed != (meter.name in turned))


def _reversed_in_several(measurement: Measurement) -> Iterator[Wiring]:
    """Reverse one conductor's current where meters sense sums or differences."""
    if all(len(meter.windings) == 1 for meter in measurement.wattmeters):
        return
    for conductor in measurement.conductors.all:
        wiring = rewired(measurement, partial(_current_turned, conductor=conductor))
        yield Wiring(f"current of {conductor} reversed", 1, wiring)


def _current_turned(meter: Wattmeter, conductor: str) -> Wattmeter:
    windings = (replace(w, sign=-w.sign) if w.conductor == conductor else w for w in meter.windings)
    return replace(meter, windings=tuple(windings))


def _one_in_wrong_line(measurement: Measurement) -> Iterator[Wiring]:
    """Put one wattmeter's current circuit where another's is too, or in the neutral."""
    noun = circuit_noun(measurement.wattmeters, "current")
    for meter in measurement.wattmeters:
        if len(meter.windings) > 1:
            continue
        own = meter.windings[0].conductor
        for conductor in measurement.conductors.all:
            winding = replace(meter.windings[0], conductor=conductor)
            said = f"{noun} of {meter.name} in {conductor} instead of {own}"
            moved = partial(replace, windings=(winding,))
            yield Wiring(said, 1, with_meter(measurement, meter.name, moved))

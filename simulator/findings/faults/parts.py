"""Parts that fail or are set wrong: fuses, transformers' secondaries, ratios, phase sequence."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from simulator.findings.faults.wiring import Wiring, circuit_noun, rewired, with_meter
from simulator.installation.conductors import EARTH
from simulator.installation.transformers import InstrumentTransformer, Secondary

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from simulator.metering.meters import Wattmeter
    from simulator.scenario.build import Measurement

# Stands for a voltage circuit that only senses where an open lead needs one that conducts [ohm].
LARGE_BURDEN = 1e9
DANGER = (
    "Danger: an open secondary of a current transformer in service has a hazardous voltage; switch "
    "the line off before anything there is touched"
)


def failed_parts(measurement: Measurement) -> Iterator[Wiring]:
    """Let one part fail, or be set wrong.

    Parameters
    ----------
    measurement : Measurement
        What is measured, rightly wired.

    Yields
    ------
    Wiring
        A fuse blown in each voltage lead (a floating neutral lead is one of them); each current
        circuit bridged, its transformer's secondary shorted or open; each voltage transformer's
        secondary open; half and double the ratio; the other phase sequence.
    """
    yield from _blown_fuses(measurement)
    for meter in measurement.wattmeters:
        yield from _dead_circuits(measurement, meter)
    for meter in measurement.wattmeters:
        yield from _wrong_ratios(measurement, meter)
    yield _other_sequence(measurement)


def needs_burdens(measurement: Measurement) -> bool:
    """Tell whether blown fuses are predicted with voltage circuits that are assumed.

    Parameters
    ----------
    measurement : Measurement
        What is measured.

    Returns
    -------
    bool
        Whether a voltage circuit only senses.
    """
    return any(meter.instrument.senses_only for meter in measurement.wattmeters)


def _blown_fuses(measurement: Measurement) -> Iterator[Wiring]:
    ends = [node for meter in measurement.wattmeters for node in meter.voltage]
    for node in (*measurement.conductors.all, EARTH):
        if node not in ends:
            continue
        common = 1 < ends.count(node) == len(measurement.wattmeters)
        lead = f"{'common ' if common else ''}voltage lead of {node}"
        floats = f"{lead} off, so that the common point floats"
        said = floats if node == measurement.conductors.neutral else f"fuse blown in the {lead}"
        yield Wiring(said, 1, rewired(measurement, partial(_behind_fuse, node=node)))


def _behind_fuse(meter: Wattmeter, node: str) -> Wattmeter:
    start, end = (f"{n} behind the fuse" if n == node else n for n in meter.voltage)
    return replace(with_burden(meter), voltage=(start, end))


def with_burden(meter: Wattmeter) -> Wattmeter:
    """Give a wattmeter whose voltage circuit only senses one that conducts a little.

    Parameters
    ----------
    meter : Wattmeter
        Any wattmeter.

    Returns
    -------
    Wattmeter
        The same with a voltage circuit that is a part of the network.
    """
    if not meter.instrument.senses_only:
        return meter
    ratio = meter.voltage_transformer.ratio if meter.voltage_transformer else 1.0
    burden = complex(LARGE_BURDEN / ratio**2)
    return replace(meter, instrument=replace(meter.instrument, voltage_circuit=burden))


def _dead_circuits(measurement: Measurement, meter: Wattmeter) -> Iterator[Wiring]:
    current, voltage = meter.current_transformer, meter.voltage_transformer

    def dead(said: str, change: Callable[[Wattmeter], Wattmeter], caution: str = "") -> Wiring:
        return Wiring(said, 1, with_meter(measurement, meter.name, change), caution)

    if current is None:
        yield dead(f"current circuit of {meter.name} bridged", partial(_times, factor=0.0))
    else:
        of = f"secondary of the current transformer of {meter.name}"
        shorted = replace(current, secondary=Secondary.SHORTED)
        # Nothing limits the voltage of an open one without a magnetising branch; its meter gets no
        # current either way.
        opened = replace(current, secondary=Secondary.OPEN) if current.magnetises else shorted
        yield dead(f"{of} shorted", partial(replace, current_transformer=shorted))
        yield dead(f"{of} open", partial(replace, current_transformer=opened), DANGER)
    if voltage is not None:
        blown = replace(voltage, secondary=Secondary.OPEN)
        said = f"secondary of the voltage transformer of {meter.name} open"
        yield dead(said, partial(replace, voltage_transformer=blown))


def _times(meter: Wattmeter, factor: float) -> Wattmeter:
    """Let the current circuit get a multiple of its current."""
    transformer = meter.current_transformer or InstrumentTransformer("none", 1.0)
    error = factor * (1 + transformer.ratio_error) - 1
    return replace(meter, current_transformer=replace(transformer, ratio_error=error))


def _wrong_ratios(measurement: Measurement, meter: Wattmeter) -> Iterator[Wiring]:
    fed = circuit_noun([meter], "current").endswith("transformer")
    what = "ratio of the current transformer" if fed else "current range"
    for factor, word in ((0.5, "half"), (2.0, "double")):
        wiring = with_meter(measurement, meter.name, partial(_times, factor=factor))
        yield Wiring(f"wrong {what} of {meter.name}, {word} is counted", 1, wiring)


def _other_sequence(measurement: Measurement) -> Wiring:
    supply = measurement.supply
    first, second, third = supply.emfs
    other = replace(supply, emfs=(first, third, second), sequence=-supply.sequence)
    stations = {n: replace(a, supply=other) for n, a in measurement.stations.items()}
    name = "-".join(measurement.conductors.lines[:: other.sequence])
    swapped = replace(measurement, supply=other, stations=stations)
    return Wiring(f"phase sequence {name}, wired as in the scenario", 1, swapped)

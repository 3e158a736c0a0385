"""What a person should notice about ranges and transformers, beside the numbers of a result."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.formatting import format_quantity
from simulator.installation.transformers import Secondary
from simulator.metering.accuracy import burden_range
from simulator.metering.ranges import range_use, smallest_range
from simulator.metering.transformer_use import TransformerUse, transformers_in_use

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from simulator.findings.station import Station
    from simulator.metering.readings import Reading
    from simulator.quantities import Unit

OVER = 1.0005  # of a range; less would print as 100.0 %
# A textbook calls readings below a tenth of the range unreliable (SEEN).
LOWEST = 0.1
# Continuous rated voltage factor of a voltage transformer, IEC 61869-3 (MEM).
VOLTAGE_FACTOR = 120.0


def instrument_notes(stations: Sequence[Station]) -> list[str]:
    """List what is overloaded, hardly used, open, shorted or outside its class.

    Parameters
    ----------
    stations : sequence of Station
        The solved networks; a meter without a station is judged at the first.

    Returns
    -------
    list of str
        One sentence each; what endangers a person begins with DANGER.
    """
    notes: list[str] = []
    seen: set[str] = set()
    for station in stations:
        for reading in station.readings:
            if reading.name not in seen:
                seen.add(reading.name)
                notes += _of_ranges(reading, station)
                for use in transformers_in_use(reading.meter, station.wired, station.solution):
                    notes += _of_transformer(use, station)
    return notes + list(_of_other_meters(stations[0]))


def _percent(part: float) -> str:
    """Write a part of a whole in percent; what is over 100 % never looks like 100 %."""
    value = 100 * part
    if 100 < value < 101:
        return f"{value:.1f} %"
    return f"{value:.0f} %" if value >= 10 else f"{value:.2g} %"


def _of_ranges(reading: Reading, station: Station) -> Iterator[str]:
    instrument = reading.meter.instrument
    use = range_use(reading, station.wired, station.solution)
    on_scale = ""
    if use.pointer is not None and use.pointer <= 1:
        only = "only " if use.pointer < 0.9 else ""
        turned = ", one circuit reversed," if reading.direction == "downscale" else ""
        on_scale = f", while its pointer{turned} shows {only}{_percent(use.pointer)} of full scale"
    circuits: tuple[tuple[str, Unit, float | None, float | None, tuple[float, ...]], ...] = (
        ("current", "A", use.current, instrument.current_range, instrument.current_ranges),
        ("voltage", "V", use.voltage, instrument.voltage_range, instrument.voltage_ranges),
    )
    for circuit, unit, part, chosen, ranges in circuits:
        if part is not None and chosen is not None and part > OVER:
            better = smallest_range(ranges, part * chosen)
            instead = f"; its {format_quantity(better, unit)} range carries it" if better else ""
            yield (
                f"{reading.name}: {circuit} circuit at {_percent(part)} of its "
                f"{format_quantity(chosen, unit)} range{on_scale}{instead}"
            )
    if use.pointer is None or instrument.fiducial is None or not _connected(reading):
        return
    full = f"{_percent(use.pointer)} of {format_quantity(instrument.fiducial, 'W')}"
    if use.pointer > OVER:
        yield f"{reading.name}: pointer beyond full scale, {full}"
    elif use.pointer < LOWEST:
        limit = instrument.class_limit
        allows = f"; its class allows ±{format_quantity(limit, 'W')} there" if limit else ""
        yield (
            f"{reading.name}: pointer in the lowest tenth of its scale ({full}), where a reading "
            f"is unreliable{allows}"
        )


def _connected(reading: Reading) -> bool:
    both = (reading.meter.current_transformer, reading.meter.voltage_transformer)
    return all(t is None or t.secondary is Secondary.CONNECTED for t in both)


def _of_transformer(use: TransformerUse, station: Station) -> Iterator[str]:
    place = f" in {use.conductor}" if use.conductor else ""
    what = f"{use.kind} transformer '{use.transformer.name}' of {use.meter}{place}"
    if use.transformer.secondary is not Secondary.CONNECTED:
        yield _not_connected(use, what, station)
    percent, limits = use.percent_of_rated, use.limits
    most = 100 * OVER if use.kind == "current" else VOLTAGE_FACTOR
    uncovered = limits is not None and not limits.covered
    if percent is not None and percent and (percent > most or uncovered):
        rated = format_quantity(use.transformer.rated_primary or 0, _unit(use))
        none = f"; class {use.transformer.accuracy_class} promises nothing there"
        yield f"{what} at {_percent(percent / 100)} of its rated {rated}{none if uncovered else ''}"
    yield from _of_burden(use, what)


def _unit(use: TransformerUse) -> Unit:
    return "A" if use.kind == "current" else "V"


def _not_connected(use: TransformerUse, what: str, station: Station) -> str:
    secondary = use.transformer.secondary
    coupling = f"{use.kind} transformer of {use.meter}"
    coupling += f" in {use.conductor}" if use.conductor else ""
    if use.kind == "current" and secondary is Secondary.OPEN:
        magnetising = station.solution.current(f"magnetising branch of {coupling}")
        volts = abs(magnetising * use.transformer.magnetising)
        return (
            f"DANGER: the secondary of {what} is open: {format_quantity(volts, 'V', 3)} across it "
            "in this linear model, and a real core saturates and gives peaks that endanger life "
            "and insulation. Never open a secondary in service: short it first, at its terminals "
            "S1–S2"
        )
    if use.kind == "voltage" and secondary is Secondary.SHORTED:
        amperes = abs(station.solution.current(f"short of {coupling}"))
        return (
            f"DANGER: the secondary of {what} is shorted: {format_quantity(amperes, 'A', 3)} flow "
            "in it. Never short the secondary of a voltage transformer, and fuse it"
        )
    return f"the secondary of {what} is {secondary}, so no {use.kind} reaches the meter"


def _of_burden(use: TransformerUse, what: str) -> Iterator[str]:
    percent, name = use.burden_percent, use.transformer.accuracy_class
    if percent is None or use.burden is None or use.transformer.secondary is Secondary.OPEN:
        return
    span = burden_range(use.kind, name) if name else None
    lowest, highest = span or (0.0, 100.0)
    if not lowest / OVER <= percent <= highest * OVER:
        rated = format_quantity(use.transformer.rated_burden or 0, "VA")
        holds = f"; class {name} holds from {lowest} to {highest} %" if span else ""
        yield (
            f"{what}: its burden, {format_quantity(use.burden, 'VA', 3)}, is "
            f"{_percent(percent / 100)} of its rated {rated}{holds}"
        )


def _of_other_meters(station: Station) -> Iterator[str]:
    arrangement = station.arrangement
    pairs: list[tuple[str, Unit, float, float | None]] = [
        (m.name, "V", station.voltmeters[m.name], m.instrument.voltage_range)
        for m in arrangement.voltmeters
    ]
    pairs += [
        (m.name, "A", station.ammeters[m.name], m.instrument.current_range)
        for m in arrangement.ammeters
    ]
    for name, unit, value, chosen in pairs:
        if chosen is not None and value > chosen * OVER:
            yield f"{name}: {_percent(value / chosen)} of its {format_quantity(chosen, unit)} range"

"""Results as text: tables with a unit in every heading, plain enough for any terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tabulate import tabulate

from simulator.metering.transformer_use import transformers_in_use
from simulator.phasors import angle_deg, wrap_deg

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from simulator.findings.result import Result, TotalResult
    from simulator.findings.station import Station
    from simulator.metering.transformer_use import TransformerUse

DIGITS = 5


def result_text(result: Result) -> str:
    """Write a result for a person.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    str
        Tables of readings, total, loads and losses.

    Examples
    --------
    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [
    ...         {"connection": "line-to-neutral", "L1": "20 ohm", "L2": "40 ohm", "L3": "40 ohm"}
    ...     ],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> print(simulator.result_text(simulator.solve(scenario)))
    Heaters
    ...
    indicated total  3*W            8000.0 W
    true active power of the loads  5333.3 W
    ...
    """
    measurement = result.measurement
    sequence = "-".join(measurement.conductors.lines[:: measurement.supply.sequence])
    head = (
        f"{measurement.conductors.wires} wires, {measurement.supply.frequency:g} Hz, "
        f"sequence {sequence}"
    )
    if measurement.method:
        head += f"; method: {measurement.method}"
    dangers = [note for note in result.notes if note.startswith("DANGER")]
    parts = [
        f"{measurement.title}\n{head}\n",
        *(f"{danger}\n" for danger in dangers),
        _readings(result),
        _transformers(result),
    ]
    parts.append(_other_meters(result.first))
    if result.total:
        parts.append(_total(result.total))
    parts += [_station(station) for station in _different(result.stations)]
    parts += [f"Note: {note}" for note in result.notes if note not in dangers]
    if not result.first.wired.wired:
        parts.append("Note: no meter is connected; [method] or [[wattmeter]] brings one")
    return "\n".join(part for part in parts if part).rstrip() + "\n"


def _different(stations: Sequence[Station]) -> Sequence[Station]:
    """Leave out the other stations where the loads take the same at all of them."""
    first = stations[0]
    same = all(
        abs(b.power - a.power) <= 1e-9 * abs(a.power)
        for station in stations
        for one, other in zip(first.loads, station.loads, strict=True)
        for a, b in zip(one.branches, other.branches, strict=True)
    )
    return stations[:1] if same else stations


def columns(*values: Iterable[float]) -> list[list[str]]:
    """Write columns of numbers, each with the decimals its largest number calls for.

    Parameters
    ----------
    *values : iterable of float
        The columns.

    Returns
    -------
    list of list of str
        The columns as texts; an undefined number is a dash.
    """
    return [_column(list(column)) for column in values]


def _column(values: Sequence[float]) -> list[str]:
    largest = max((abs(v) for v in values if math.isfinite(v)), default=0.0)
    magnitude = math.floor(math.log10(largest)) if largest else 0
    decimals = min(max(DIGITS - 1 - magnitude, 1), 9)
    return [f"{v:z.{decimals}f}" if math.isfinite(v) else "–" for v in values]


def _angles(values: Iterable[complex]) -> list[str]:
    return [f"{angle_deg(v):z.2f}" if v else "–" for v in values]


def _table(headings: Sequence[str], rows: list[list[str]], left: int = 1) -> str:
    align = ["left"] * left + ["right"] * (len(headings) - left)
    return tabulate(rows, headings, tablefmt="simple", colalign=align, disable_numparse=True) + "\n"


def _readings(result: Result) -> str:
    readings = list(result.readings.values())
    if not readings:
        return ""
    watts, amperes, volts = columns(
        (0.0 if r.direction == "zero" else r.watts for r in readings),
        (abs(r.current) for r in readings),
        (abs(r.voltage) for r in readings),
    )
    headings = ["wattmeter", "pointer", "current", "voltage", "reading W", "I A", "∠I °"]
    headings += ["U V", "∠U °", "U to I °"]
    rows = []
    between = [f"{wrap_deg(angle_deg(r.voltage) - angle_deg(r.current)):z.2f}" for r in readings]
    for k, r in enumerate(readings):
        u = f"{r.meter.voltage[0]} to {r.meter.voltage[1]}"
        (i_angle,), (u_angle,) = _angles([r.current]), _angles([r.voltage])
        row = [r.name, r.direction, r.meter.current_text, u, watts[k], amperes[k], i_angle]
        rows.append([*row, volts[k], u_angle, between[k]])
    if any(r.meter.ratio != 1 for r in readings):
        headings.append("at instrument W")
        for row, text in zip(rows, columns(r.at_instrument for r in readings)[0], strict=True):
            row.append(text)
    if any(r.deflection is not None for r in readings):
        headings.append("deflection div")
        shown = columns(math.nan if r.deflection is None else r.deflection for r in readings)[0]
        for row, text in zip(rows, shown, strict=True):
            row.append(text)
    if any(r.meter.station is not None for r in readings):
        headings.insert(1, "station")
        for row, r in zip(rows, readings, strict=True):
            row.insert(1, str(r.meter.station or "all"))
        return _table(headings, rows, left=5)
    return _table(headings, rows, left=4)


def _transformers(result: Result) -> str:
    """Write what the transformers carry, and the errors up to the meters that they have there."""
    uses: list[TransformerUse] = []
    for name, reading in result.readings.items():
        at = result.station_of(name)
        uses += transformers_in_use(reading.meter, at.wired, at.solution)
    if not uses:
        return ""
    rows = [
        [
            u.transformer.name,
            f"{u.meter} in {u.conductor}" if u.conductor else u.meter,
            f"{abs(u.primary):.5g} {'A' if u.kind == 'current' else 'V'}",
            _known(u.percent_of_rated, 1),
            _known(u.ratio_error, 3, 100),
            _known(u.phase_displacement, 1, 60),
            _known(u.burden, 2),
            _class(u),
        ]
        for u in uses
    ]
    headings = ["transformer", "of", "primary", "of rated %", "ratio error %", "displacement ′"]
    table = _table([*headings, "burden VA", "limits of its class"], rows, left=2)
    limits = [u.limits for u in uses if u.limits and u.limits.covered and u.limits.assumption]
    return table + "".join(f"{text}.\n" for text in dict.fromkeys(x.assumption for x in limits))


def _known(value: float | None, decimals: int, factor: float = 1) -> str:
    return "–" if value is None else f"{factor * value:z.{decimals}f}"


def _class(use: TransformerUse) -> str:
    limits, name = use.limits, use.transformer.accuracy_class
    if limits is None or not limits.covered:
        return "–"
    angle = limits.phase_displacement
    minutes = "" if angle is None else f", ±{60 * angle:.3g}′"
    return f"{name}: ±{100 * limits.ratio_error:.3g} %{minutes}"


def _other_meters(station: Station) -> str:
    if not (station.voltmeters or station.ammeters):
        return ""
    (volts, amperes) = columns(station.voltmeters.values(), station.ammeters.values())
    rows = [[n, f"{v} V"] for n, v in zip(station.voltmeters, volts, strict=True)]
    rows += [[n, f"{a} A"] for n, a in zip(station.ammeters, amperes, strict=True)]
    return _table(["meter", "reading"], rows)


def _total(total: TotalResult) -> str:
    values = [total.indicated, total.true, total.error, total.method_error]
    texts = _column(values)
    percent = total.error_percent
    known = not math.isnan(percent) and not total.is_right
    share = f"   ({percent:+.2f} % of the true value)" if known else ""
    names = [
        f"indicated total  {total.formula}",
        f"true {total.quantity} of the loads",
        "error",
        "of which method and meters",
    ]
    width = max(len(n) for n in names)
    digits = max(len(t) for t in texts)
    lines = [f"{n:<{width}}  {t:>{digits}} {total.unit}" for n, t in zip(names, texts, strict=True)]
    lines[2] += share
    return "\n".join([*lines, total.reason]) + "\n"


def _station(station: Station) -> str:
    parts = [] if station.number is None else [f"Station {station.number}"]
    parts.append(_branches(station))
    points = {f"star point of {load.name}": load.star_point for load in station.loads}
    own = {load.star_point for load in station.arrangement.loads}
    points |= {f"'{name}'": v for name, v in station.nodes.items() if name not in own}
    moved = {name: v for name, v in points.items() if v}
    if moved:
        (volts,) = columns(abs(v) for v in moved.values())
        rows = [[name, u, *_angles([v])] for (name, v), u in zip(moved.items(), volts, strict=True)]
        parts.append(_table(["potential to the supply's neutral", "U V", "∠U °"], rows))
    if station.neutral:
        current = station.neutral_current
        angle = f" ∠{angle_deg(current):z.2f}°" if current else ""
        parts.append(f"Neutral current {abs(current):.4g} A{angle}\n")
    parts.append(_power_factors(station))
    losses = [f"{what} {w:.4g} W" for what, w in station.losses.items() if w]
    if losses:
        parts.append(f"Losses: {', '.join(losses)}")
    return "\n".join(parts)


def _branches(station: Station) -> str:
    rows = [(load.name, b) for load in station.loads for b in load.branches]
    if not rows:
        return "No load\n"
    u, i, p, q = columns(
        (abs(b.voltage) for _, b in rows),
        (abs(b.current) for _, b in rows),
        (b.power.real for _, b in rows),
        (b.power.imag for _, b in rows),
    )
    table = []
    for k, (name, b) in enumerate(rows):
        (u_angle,), (i_angle,) = _angles([b.voltage]), _angles([b.current])
        table.append([name, b.name, u[k], u_angle, i[k], i_angle, p[k], q[k]])
    headings = ["load", "branch", "U V", "∠U °", "I A", "∠I °", "P W", "Q var"]
    return _table(headings, table, left=2)


def _power_factors(station: Station) -> str:
    plane = station.plane
    names = {
        "arithmetic": "arithmetic",
        "vector": "vector",
        "effective": "effective (IEEE 1459)",
        "collective": "collective (DIN 40110-2)",
    }
    (apparent,) = columns(float(getattr(plane.apparent, key)) for key in names)
    rows = []
    for (key, name), text in zip(names.items(), apparent, strict=True):
        pf = float(getattr(plane.power_factor, key))
        rows.append([name, text, f"{pf:.4f}" if math.isfinite(pf) else "–"])
    return _table(["apparent power at the meters", "S VA", "power factor"], rows)

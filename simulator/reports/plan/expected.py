"""What the meters should read, with room for what they do read."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from simulator.figures.words import sequence
from simulator.installation.conductors import EARTH
from simulator.reports.document import Heading, Table, Text, Together
from simulator.reports.plan.earth import is_high
from simulator.reports.uncertainty import size_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from simulator.findings.result import Result
    from simulator.metering.readings import Reading
    from simulator.reports.document import Block
    from simulator.reports.plan.cases import Case, Plan
    from simulator.reports.plan.spans import Interval

Row = tuple[str, ...]
DIGITS = 4
# Two sides of an interval that differ by less are one: it is simulated.
EVEN = 0.05
# What differs by less from a voltage or current of the installation is that one.
SAME = 1e-3


def expected_blocks(plan: Plan) -> list[Block]:
    """Write what should be read: voltages and currents first, then watts.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of Block
        Tables with blank columns.
    """
    return [
        Together((Heading("Expected and measured"), _first_table(plan))),
        Together((_meter_table(plan), Text(_tolerance_words(plan), "Tolerance."))),
        *_idle(plan),
    ]


def numbers(values: Sequence[float], digits: int = DIGITS) -> list[str]:
    """Write numbers of one quantity with the same decimals.

    Parameters
    ----------
    values : sequence of float
        The numbers.
    digits : int, optional
        Significant digits of the largest one, and a decimal more where it just fills them.

    Returns
    -------
    list of str
        The texts; a dash for what is not known.
    """
    largest = max((abs(v) for v in values if math.isfinite(v)), default=0.0)
    magnitude = math.floor(math.log10(largest) + 1e-9) if largest else 0
    least = int(magnitude == DIGITS - 1 and digits == DIGITS)  # a tenth of a watt in thousands
    decimals = min(max(digits - 1 - magnitude, least), 9)
    return [f"{v:z.{decimals}f}".replace("-", "−") if math.isfinite(v) else "–" for v in values]


def from_to(values: Sequence[float], digits: int = DIGITS) -> str:
    """Write the smallest and the largest of some numbers.

    Parameters
    ----------
    values : sequence of float
        The numbers.
    digits : int, optional
        Significant digits of the largest one.

    Returns
    -------
    str
        Both, or one where they are the same.
    """
    low, high = numbers([min(values), max(values)], digits)
    return low if low == high else f"{low} to {high}"


def _headings(plan: Plan) -> list[str]:
    if len(plan.span) == 1:
        return ["expected"]
    short = [case.words.removeprefix("power factor ") for case in plan.span]
    return [
        f"expected, {text}" if case is plan.expected else text
        for text, case in zip(short, plan.span, strict=True)
    ]


def _first_table(plan: Plan) -> Table:
    """Tabulate voltages and currents of the installation."""
    columns = (_volts_and_amperes(case.result) for case in plan.span)
    rows: list[Row] = [("phase sequence", *[sequence(plan.result)] * len(plan.span), "")]
    rows += [
        (same[0][0], *numbers([value for _, value in same]), "")
        for same in zip(*columns, strict=True)
    ]
    return Table(
        ("before the watts", *_headings(plan), "measured"),
        tuple(rows),
        "l" + "r" * (len(plan.span) + 1),
    )


def _volts_and_amperes(result: Result) -> Iterator[tuple[str, float]]:
    """Yield what is measured before the watts; NaN where only the site can tell."""
    station, conductors = result.first, result.measurement.conductors
    potentials = station.solution.potentials
    for k in range(3):
        a, b = conductors.pair(k)
        yield f"{a} to {b}, V", abs(potentials[a] - potentials[b])
    neutral = conductors.neutral
    if neutral:
        for line in conductors.lines:
            yield f"{line} to {neutral}, V", abs(potentials[line] - potentials[neutral])
    yield from _to_earth(result)
    for line, current in zip(conductors.lines, np.abs(station.line_currents), strict=True):
        yield f"current in {line}, A", float(current)
    if neutral:
        yield f"current in {neutral}, A", abs(station.neutral_current)
    for name, volts in station.voltmeters.items():
        yield f"voltmeter {name}, V", volts
    for name, amperes in station.ammeters.items():
        yield f"ammeter {name}, A", amperes


def _to_earth(result: Result) -> Iterator[tuple[str, float]]:
    """Yield voltages to earth; none where they are never measured directly."""
    conductors, potentials = result.measurement.conductors.all, result.first.solution.potentials
    earth = potentials.get(EARTH)
    if is_high(result):
        return
    if earth is None:
        yield f"{', '.join(conductors)} to earth, V", math.nan
        return
    for conductor in conductors:
        yield f"{conductor} to earth, V", abs(potentials[conductor] - earth)


def _meter_table(plan: Plan) -> Table:
    """Tabulate what each wattmeter itself shows and feels, what follows from it, and the total."""
    rows: list[Row] = []
    known = [value for _, value in _volts_and_amperes(plan.result)]
    for name, reading in plan.result.readings.items():
        constant = reading.meter.instrument.watts_per_division
        station = "" if reading.meter.station is None else f" (station {reading.meter.station})"
        watts = f"{name}{station} reading, W"
        rows.append(_row(plan, watts, name, lambda r: r.at_instrument, "watts"))
        if constant:
            label = f"{name} divisions of {constant:g} W"
            rows.append(_row(plan, label, name, lambda r: r.deflection or 0.0, "divisions"))
        if reading.meter.ratio != 1:
            label = f"{name}, {reading.meter.ratio:g} × shown, W"
            rows.append(_row(plan, label, name, lambda r: r.watts, "primary"))
        if not _among(abs(reading.current), known):
            rows.append(_row(plan, f"{name} current, A", name, lambda r: abs(r.current)))
        if not _among(abs(reading.voltage), known):
            rows.append(_row(plan, f"{name} voltage, V", name, lambda r: abs(r.voltage)))
    rows += _total_row(plan)
    return Table(
        ("at the meter", *_headings(plan), "tolerance", "right within", "measured"),
        tuple(rows),
        "l" + "r" * (len(plan.span) + 3),
    )


def _among(value: float, known: Sequence[float]) -> bool:
    """Whether the first table has it already."""
    return any(math.isclose(value, other, rel_tol=SAME) for other in known)


def _row(
    plan: Plan, label: str, name: str, value: Callable[[Reading], float], judged: str = ""
) -> Row:
    """Write a row of the meter table; V and I have no tolerance."""
    values = [value(case.result[name]) for case in plan.span]
    if not judged:
        return (label, *numbers(values), "–", "–", "")
    meter = plan.result[name].meter
    unit = 1.0 if judged == "primary" else meter.ratio
    if judged == "divisions":
        unit *= meter.instrument.watts_per_division or 1.0
    low, high = (end / unit for end in plan.interval(name, plan.expected))
    at = value(plan.result[name])
    return (label, *_judged(values, at, (low, high), [end / unit for end in plan.accepted(name)]))


def _judged(
    values: Sequence[float], at: float, interval: Interval, accepted: Sequence[float]
) -> list[str]:
    """Write values, how far the expected one may be off, where it is right, and a blank."""
    *texts, low, high = numbers([*values, *accepted])
    below, above = numbers([interval[0] - at, interval[1] - at], 2)
    even = math.isclose(at - interval[0], interval[1] - at, rel_tol=EVEN)
    return [*texts, f"±{above}" if even else f"{below} / +{above}", f"{low} to {high}", ""]


def _tolerance_words(plan: Plan) -> str:
    if plan.expected.uncertainty is None:
        share = 100 * (plan.faults.tolerance or 0)
        return (
            f"Nothing in the scenario has an accuracy class or a tolerance, so {share:g} % of the "
            "volt-amperes that each meter carries is assumed instead of a 95 % interval."
        )
    return (
        "A 95 % interval of meters and transformers; 'right within' holds it for the whole span. "
        "If another voltage or load is found, put it into the scenario and plan again."
    )


def limits_words(plan: Plan) -> list[str]:
    """Say within which limits the tolerances are worked out.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of str
        A sentence; nothing where nothing is uncertain.
    """
    u = plan.expected.uncertainty
    if u is None:
        return []
    limits = "; ".join(f"{i.name} {size_text(i)}" for i in u.inputs)
    return [
        (
            f"Tolerances: JCGM 101, {u.draws} draws, within these limits, watts referred to the "
            f"primary: {limits}."
        )
    ]


def _total_row(plan: Plan) -> list[Row]:
    total = plan.result.total
    if total is None:
        return []
    ends = [plan.total_interval(case) for case in plan.span]
    accepted = min(low for low, _ in ends), max(high for _, high in ends)
    values = [_indicated(case) for case in plan.span]
    at = plan.total_interval(plan.expected)
    judged = _judged(values, total.indicated, at, accepted)
    return [(f"{total.formula}, {total.unit}", *judged)]


def _indicated(case: Case) -> float:
    return case.result.total.indicated if case.result.total else math.nan


def _idle(plan: Plan) -> list[Block]:
    """Tabulate no load; which reading is below zero then."""
    case = plan.idle
    if case is None:
        return []
    readings = case.result.readings.values()
    rows: list[Row] = []
    for r in readings:
        ends = [end / r.meter.ratio for end in plan.interval(r.name, case)]
        shown, low, high = numbers([r.at_instrument, *ends])
        (watts,), (amperes,) = numbers([r.watts]), numbers([abs(r.current)])
        rows.append((r.name, watts, shown, f"{low} to {high}", amperes, ""))
    if case.result.total:
        total = case.result.total
        rows.append((total.formula, *numbers([total.indicated]), "–", "–", "–", ""))
    below = [r.name for r in readings if r.direction == "downscale"]
    said = f"{' and '.join(below)} below zero is right then." if below else ""
    headings = ("at no load", "primary W", "meter W", "right within", "current A", "measured")
    table = Table(headings, tuple(rows), "lrrrrr", f"At no load: {case.words}")
    return [Together((table, Text(said)) if said else (table,))]

"""Ranges of the meters and ratios of the transformers, with the reasons: V and I, never watts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.words import quantity
from simulator.metering.accuracy import lead_resistance
from simulator.metering.ranges import range_use, smallest_range
from simulator.metering.transformer_use import transformers_in_use
from simulator.reports.document import Heading, Items, Table, Text, Together
from simulator.reports.plan.expected import from_to

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from simulator.findings.result import Result
    from simulator.metering.instruments import Instrument
    from simulator.metering.transformer_use import TransformerUse
    from simulator.quantities import Unit
    from simulator.reports.document import Block
    from simulator.reports.plan.cases import Plan

    Row = tuple[str, ...]
    Circuit = tuple[str, Unit, Sequence[float], float | None, Sequence[float]]

# Rated primary currents in each decade, IEC 61869-2 (MEM) [A].
PRIMARY = (10, 12.5, 15, 20, 25, 30, 40, 50, 60, 75)
# Leads that people think of: one way [m], cross-section [mm²].
USUAL_LEADS = (15.0, 2.5)
FULL = 1.0005  # of a range; less would print as 100 %
OVERLOADED, EXCEED = "OVERLOADED", "EXCEED"
# A textbook calls readings below a tenth of the range unreliable (SEEN).
LOWEST = 0.1
# Below this the limits of a current transformer's class are twice those at its rated current [%].
FAR_BELOW = 20.0


def ranges_blocks(plan: Plan) -> list[Block]:
    """Write ranges and ratios with their use over the span, and why they are chosen.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of Block
        Two tables and their reasons.
    """
    said = (
        "Chosen from voltage and current over the span, never from watts: at a low power factor "
        "either circuit is overloaded while the pointer is well on its scale."
    )
    rows = [row for name in plan.result.readings for row in _circuits(plan, name)]
    table = Table(("circuit", "range", "carries", "of range %", "why"), tuple(rows), "lrrrl")
    blocks: list[Block] = [Together((Heading("Ranges and transformers"), Text(said), table))]
    used = _transformers(plan)
    return [*blocks, Together(used)] if used else blocks


def overloads(plan: Plan) -> list[str]:
    """Say what carries more than it may somewhere in the span.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of str
        Circuits of the meters, then transformers, with what would carry it.
    """
    rows = [row for name in plan.result.readings for row in _circuits(plan, name)]
    found = [
        f"{circuit} {share} % of its {chosen} range"
        for circuit, chosen, _, share, why in rows
        if why.startswith(OVERLOADED)
    ]
    for block in _transformers(plan):
        if isinstance(block, Items):
            found += [why.removesuffix(".") for why in block.texts if EXCEED in why]
    return found


def _circuits(plan: Plan, name: str) -> Iterator[Row]:
    """Yield both circuits of a meter over the span, and its pointer."""
    instrument = plan.result[name].meter.instrument
    currents, voltages, pointers = zip(
        *(_use(case.result, name) for case in plan.span), strict=True
    )
    circuits: tuple[Circuit, Circuit] = (
        ("current", "A", currents, instrument.current_range, instrument.current_ranges),
        ("voltage", "V", voltages, instrument.voltage_range, instrument.voltage_ranges),
    )
    for circuit, unit, values, chosen, ranges in circuits:
        share = "–" if chosen is None else from_to([100 * v / chosen for v in values], 2)
        which = "–" if chosen is None else quantity(chosen, unit)
        why = _why(unit, max(values), chosen, ranges)
        yield f"{name} {circuit}", which, f"{from_to(values)} {unit}", share, why
    if instrument.fiducial is not None:
        shares = [100 * p for p in pointers]
        full = f"{quantity(instrument.fiducial, 'W')} full scale"
        yield f"{name} pointer", full, "–", from_to(shares, 2), _why_pointer(instrument, shares)


def _use(result: Result, name: str) -> tuple[float, float, float]:
    """Give the largest current and the voltage of a meter's circuits, and its pointer's share."""
    station, reading = result.station_of(name), result[name]
    windings = station.wired.wired[name].current_circuits
    current = max(abs(station.solution.current(element)) for element in windings)
    pointer = range_use(reading, station.wired, station.solution).pointer
    return current, abs(reading.voltage), pointer or 0.0


def _why(unit: Unit, most: float, chosen: float | None, ranges: Sequence[float]) -> str:
    """Say why a range is right, or which one would be."""
    best = smallest_range(ranges, most)
    named = "" if best is None else quantity(best, unit)
    known = ", ".join(f"{r:g}" for r in sorted(ranges))
    if chosen is None:
        return f"no range stated: choose {named or f'one of at least {quantity(most, unit)}'}"
    if most > FULL * chosen:
        return f"{OVERLOADED}, whatever the pointer shows: take {named or 'a larger one'}"
    if best is not None and best < chosen:
        return f"carries it; {named} would too, and read finer, if no more can come"
    if best is not None:
        return f"smallest of {known} {unit} that carries it"
    return "carries it"


def _why_pointer(instrument: Instrument, shares: Sequence[float]) -> str:
    """Say what the pointer's place on the scale means: nothing for the circuits."""
    if max(shares) > 100 * FULL:
        return "beyond full scale: take a larger range of voltage or current"
    if min(shares) < 100 * LOWEST:
        low = (
            ", or an instrument for low power factors" if instrument.rated_power_factor == 1 else ""
        )
        return f"in the lowest tenth, unreliable: a smaller range if V and I allow it{low}"
    return "says nothing about the circuits"


def _transformers(plan: Plan) -> tuple[Block, ...]:
    """Tabulate each transformer over the span, with burden, limits and reasons."""
    expected = list(_uses(plan.result))
    if not expected:
        return ()
    spans = zip(*(_uses(case.result) for case in plan.span), strict=True)
    rows: list[Row] = []
    why: list[str] = []
    for use, uses in zip(expected, spans, strict=True):
        unit: Unit = "A" if use.kind == "current" else "V"
        percent = [u.percent_of_rated for u in uses if u.percent_of_rated is not None]
        place = f"{use.meter} in {use.conductor}" if use.conductor else use.meter
        rows.append(
            (
                f"{use.transformer.name} of {place}",
                _rated(use, unit),
                f"{from_to([abs(u.primary) for u in uses])} {unit}",
                from_to(percent, 2) if percent else "–",
                f"{from_to([abs(u.secondary) for u in uses])} {unit}",
                _burden(use),
                _limits(use),
            )
        )
        why += _reasons(use, unit, percent)
    headings = ("what", "ratio", "carries", "of rated %", "gives", "burden", "class limits")
    return Table(headings, tuple(rows), "lrrrrll"), Items(tuple(dict.fromkeys(why)))


def _uses(result: Result) -> Iterator[TransformerUse]:
    for name, reading in result.readings.items():
        station = result.station_of(name)
        yield from transformers_in_use(reading.meter, station.wired, station.solution)


def _rated(use: TransformerUse, unit: Unit) -> str:
    primary, secondary = use.transformer.rated_primary, use.transformer.rated_secondary
    if primary is None or secondary is None:
        return f"{use.transformer.ratio:g} to 1"
    return f"{primary:g}/{secondary:g} {unit}"


def _burden(use: TransformerUse) -> str:
    rated = use.transformer.rated_burden
    if use.burden is None:
        return "not known"
    return f"{use.burden:.3g} VA" + ("" if rated is None else f" of {rated:g} VA")


def _limits(use: TransformerUse) -> str:
    limits = use.limits
    if limits is None:
        return _errors(use)
    angle = limits.phase_displacement
    minutes = "" if angle is None else f", ±{60 * angle:.3g}′"
    outside = "" if limits.covered else " (promises nothing here)"
    name = use.transformer.accuracy_class
    return f"{name}: ±{100 * limits.ratio_error:.3g} %{minutes}{outside}"


def _errors(use: TransformerUse) -> str:
    """Write the errors it has, stated or by its burden, where no class limits them."""
    if use.ratio_error is None or use.phase_displacement is None:
        return "no class"
    percent, minutes = 100 * use.ratio_error, 60 * use.phase_displacement
    if abs(percent) < 0.005 and abs(minutes) < 0.05:
        return "no class, taken as ideal"
    return f"no class; has {percent:+z.2f} %, {minutes:+z.1f}′".replace("-", "−")


def _reasons(use: TransformerUse, unit: Unit, percent: Sequence[float]) -> Iterator[str]:
    """Say why a ratio is right or not, and what burden the leads make."""
    transformer = use.transformer
    name, rated = transformer.name, transformer.rated_primary
    if rated and percent:
        most = max(percent) * rated / 100
        if use.kind == "current" and most > FULL * rated:
            yield (
                f"{name}: {quantity(most, unit, 3)} {EXCEED} its rated {rated:g} A: take a rated "
                f"primary current of at least {standard_primary(most):g} A, or see its plate for "
                "what it carries for long."
            )
        else:
            yield (
                f"{name}: rated {rated:g} {unit} carry what is expected; readings count × "
                f"{transformer.ratio:g}."
            )
        if use.kind == "current" and min(percent) < FAR_BELOW:
            yield (
                f"{name}: below {FAR_BELOW:g} % of the rated current the limits of a class widen; "
                "a smaller ratio is better, if the current never rises."
            )
    if use.kind == "current" and transformer.rated_secondary:
        yield from _leads(use, transformer.rated_secondary)


def standard_primary(current: float) -> float:
    """Choose a rated primary current.

    Parameters
    ----------
    current : float
        What it has to carry [A].

    Returns
    -------
    float
        The smallest standard one that does [A] (IEC 61869-2; MEM).
    """
    decade = 1.0
    while PRIMARY[-1] * decade < current:
        decade *= 10
    return next(step * decade for step in PRIMARY if step * decade >= current)


def _leads(use: TransformerUse, secondary: float) -> Iterator[str]:
    """Say what the leads of a current transformer add to its burden."""
    transformer = use.transformer
    if transformer.leads:
        Z = abs(transformer.leads)
        said = f"its leads, {Z:.3g} Ω, take {Z * secondary**2:.3g} VA at "
    else:
        length, area = USUAL_LEADS
        R = lead_resistance(2 * length, area)
        said = (
            f"its leads are not stated: {length:g} m one way of {area:g} mm² copper are {R:.2g} Ω "
            f"and take {R * secondary**2:.3g} VA at "
        )
    # 12.5 VA in a published chart (SEEN) where copper at 20 °C gives 10.5
    yield f"{transformer.name}: {said}{secondary:g} A, warm ones up to a fifth more."

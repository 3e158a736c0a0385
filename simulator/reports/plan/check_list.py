"""What to do, in working order, with boxes to tick and blanks to fill in.

The order (identify, earth, close the links, current circuits, voltage leads last, and back) is
common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.words import quantity, sequence
from simulator.reports.document import Heading, Items, Text, Together
from simulator.reports.plan.earth import is_high

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.metering.meters import Wattmeter
    from simulator.quantities import Unit
    from simulator.reports.document import Block
    from simulator.reports.plan.cases import Plan

BLANK = "____________"


def check_blocks(plan: Plan) -> list[Block]:
    """Write the check list.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of Block
        Lists to tick.
    """
    parts = (
        ("Before leaving.", _before(plan)),
        ("On site, dead.", _dead(plan)),
        ("On site, live.", _live(plan)),
        ("Taking it off, dead again.", _off(plan)),
    )
    lists = [Together((Text("", title), Items(tuple(items), "box"))) for title, items in parts]
    first, *others = lists
    heading = Heading("Check list, in working order")
    return [Together((heading, *first.blocks)), *others]


def _fed(plan: Plan) -> list[Wattmeter]:
    return [m for m in plan.result.measurement.wattmeters if m.current_transformer]


def _before(plan: Plan) -> Iterator[str]:
    yield f"Permission and risk assessment {BLANK} licensed person {BLANK}"
    yield f"Meters: numbers {BLANK} calibrated until {BLANK}"
    yield "Leads, clips and probes undamaged, all of category CAT ____ _______ V; spare fuses"
    if _fed(plan):
        yield "Current transformers of the ratio planned, with a link to short their terminals"


def _dead(plan: Plan) -> Iterator[str]:
    measurement = plan.result.measurement
    meters, fed = measurement.wattmeters, _fed(plan)
    yield f"Isolated at {BLANK} locked off by {BLANK}"
    yield f"Proved dead with tester no. {BLANK} the tester proved before and after"
    names = ", ".join(f"{name} ______" for name in measurement.conductors.all)
    yield f"Conductors identified by tracing, not by colour alone: {names}"
    yield f"Which side is the supply: {BLANK}"
    yield f"Plate of the load: {BLANK} V {BLANK} A, power factor {BLANK}"
    yield from _transformers(plan)
    if fed:
        yield "Continuity through each meter's current circuit, measured before it is joined"
    for meter in meters:
        where = "at its transformer" if meter in fed else "in series"
        way = "away from" if meter.current_reversed else "towards"
        yield (
            f"{meter.name}: current circuit of {meter.current_text} {where}, marked end {way} the "
            f"supply; range {_range(meter.instrument.current_range, 'A')}"
        )
    for meter in meters:
        yield (
            f"{meter.name}: voltage leads last, fused, from the meter out, to "
            f"{meter.voltage[0]} (marked) and {meter.voltage[1]}; range "
            f"{_range(meter.instrument.voltage_range, 'V')}"
        )
    yield f"Compared with the list of connections by a second person {BLANK}"
    if fed:
        yield ("Links opened last of all, dead, one after the other; live only at a test block")


def _range(chosen: float | None, unit: Unit) -> str:
    return BLANK if chosen is None else quantity(chosen, unit)


def _transformers(plan: Plan) -> Iterator[str]:
    """Yield what is done at the transformers before any meter is connected."""
    fed = _fed(plan)
    for meter in fed:
        transformer = meter.current_transformer
        ratio = transformer.ratio if transformer else 1.0
        yield (
            f"Current transformer of {meter.name} in {meter.current_text}: P1 towards the supply; "
            f"{ratio:g} to 1, its plate says {BLANK}"
        )
    if fed:
        yield "Current transformers earthed at one point of each secondary (S2)"
        yield "Links S1 to S2 of the current transformers closed first: secondary never open"
    if any(m.voltage_transformer for m in plan.result.measurement.wattmeters):
        yield "Voltage transformers fused, one point of each secondary earthed, never shorted"


def _live(plan: Plan) -> Iterator[str]:
    result = plan.result
    neutral = result.measurement.conductors.neutral
    yield f"Switched on by {BLANK} at {BLANK}"
    if _fed(plan):
        yield "Each meter fed by a transformer shows current at once; if one does not: switch off"
    if is_high(result):
        yield (
            "Voltages and currents behind the transformers only, times their ratios: into the table"
        )
    else:
        yield "Voltages line to line, to the neutral where there is one, to earth: into the table"
        yield "Current of each line: into the table"
    yield f"Phase sequence {sequence(result)}, found {BLANK}"
    if neutral:
        amperes = quantity(abs(result.first.neutral_current), "A")
        yield (
            f"Neutral current in {neutral} with a clamp, expected {amperes}: {BLANK} A; the "
            "neutral itself is never opened"
        )
    yield "Watts with their sign; below zero: one circuit reversed, dead, and a minus written"
    if len(result.stations) > 1:
        yield "Stations in the order planned, the first reading repeated last"
    yield "Compared with the tables before anything is taken off; if off, settled by the tests"
    yield f"Voltages, currents and load once more at the end {BLANK}"


def _off(plan: Plan) -> Iterator[str]:
    fed = _fed(plan)
    if fed:
        yield "Links S1 to S2 of the current transformers closed before anything else"
    yield f"Isolated and locked off, proved dead {BLANK}"
    yield "Voltage leads off first, then current circuits; conductors restored and tightened"
    if fed:
        yield ("Links left closed, or what they fed before connected again: secondary never open")
    yield f"Covers and seals back; handed over to {BLANK} at {BLANK}"

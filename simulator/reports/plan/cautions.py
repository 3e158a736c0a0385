"""What endangers people: always on the plan, whatever is measured."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from simulator.errors import NetworkError
from simulator.figures.words import quantity

# which voltages at loads are out of band, as `read` judges it
from simulator.findings.notes import out_of_band
from simulator.findings.station import solve_station
from simulator.reports.document import Heading, Text
from simulator.reports.plan.earth import CATEGORIES, ROUNDED, is_high, to_earth
from simulator.reports.plan.job import wrong_method
from simulator.reports.plan.ranges import overloads

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.findings.result import Result
    from simulator.reports.document import Block
    from simulator.reports.plan.cases import Plan

# IEC 61010 as quoted (SEEN).
PLACES = (
    ("II", "plugged in"),
    ("III", "at boards, fixed motors"),
    ("IV", "at the service entrance"),
)
# EN 50110-1, NFPA 70E (MEM).
DEAD = (
    "Isolate, lock off, prove dead with a tester proved before and after, screen live parts. Live "
    "work only where justified, permitted and protected against arc flash. One connection at a "
    "time."
)
HIGH = "Above 1000 V: earth and short every line before anything is touched."
LICENSED = (
    "Local codes, the rules of the site and the seals of the utility prevail over this plan. It is "
    "a prediction and no permit."
)
# http://eblogbd.com/basic-connections-of-current-transformer-to-a-circuit/ (SEEN).
CURRENT_TRANSFORMER = (
    "while current flows in the primary: the voltage across it endangers life. Short S1 to S2 at "
    "the transformer's link before a meter's current circuit is connected, changed or taken off. "
    "Earth one point of the secondary."
)
# MEM.
VOLTAGE_TRANSFORMER = (
    "Fuse it. A secondary that is left connected can feed back into a part that seems dead."
)


def caution_blocks(plan: Plan) -> list[Block]:
    """Write what endangers people.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of Block
        Cautions, and the measurement category by voltage and place.
    """
    result = plan.result
    volts, why = to_earth(result)
    category = (
        f"Up to {quantity(volts, 'V')} from a line to earth ({why}): {_categories(volts)}. "
        "The lowest rating governs. Voltage leads fused."
    )
    return [
        Heading("Cautions"),
        *(Text(words, lead, caution=True) for lead, words in _cautions(plan)),
        Text(category, "Measurement category.", caution=True),
    ]


def _cautions(plan: Plan) -> Iterator[tuple[str, str]]:
    result = plan.result
    meters = result.measurement.wattmeters
    for note in result.notes:
        if note.startswith("DANGER: "):
            yield "Danger:", f"{note.removeprefix('DANGER: ')}."
    wrong, over = wrong_method(result), overloads(plan)
    if wrong:
        yield "Choose another method.", wrong
    if over:
        yield "Overloaded as planned:", f"{'; '.join(over)}."
    yield "Dead first.", f"{DEAD} {HIGH}" if is_high(result) else DEAD
    yield "Licensed and competent persons only.", LICENSED
    if any(m.current_transformer for m in meters):
        yield "Current transformers: secondary never open", CURRENT_TRANSFORMER
    if any(m.voltage_transformer for m in meters):
        yield "Voltage transformers: secondary never shorted.", VOLTAGE_TRANSFORMER
    now, lost = list(out_of_band(result.first)), list(_without_neutral(result))
    if now:
        yield "Voltage out of band at a load:", f"{'; '.join(now)}."
    if lost and lost != now:
        neutral = result.measurement.conductors.neutral
        yield (
            f"Never open {neutral} while the load is on:",
            f"without it {'; '.join(lost)}. Its current is measured with a clamp.",
        )


def _without_neutral(result: Result) -> Iterator[str]:
    """Yield what loads get out of band if the neutral is lost; nothing where that is not known."""
    arrangement = result.first.arrangement
    if arrangement.conductors.neutral is None:
        return
    supply = replace(arrangement.supply, neutral_impedance=complex(math.inf))
    try:
        yield from out_of_band(solve_station(None, replace(arrangement, supply=supply)))
    except NetworkError:
        return


def _categories(volts: float) -> str:
    rated = next((limit for limit in CATEGORIES if volts <= limit * ROUNDED), None)
    if rated is None:
        return "not directly, only through voltage transformers"
    return ", ".join(
        f"CAT {name} {rated} V ({kilovolts:g} kV impulse) {place}"
        for (name, place), kilovolts in zip(PLACES, CATEGORIES[rated], strict=True)
    )

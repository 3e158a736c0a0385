"""Scenarios of the plan tests, and what stands on a plan as plain texts."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import simulator
from simulator.reports.document import Heading, Items, Table, Text, Together
from simulator.reports.plan.cases import Plan, plan_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from simulator.reports.document import Block

SCENARIOS = Path(__file__).parents[3] / "scenarios"
# Need 3 of design/needs.md: 15 kW motor, efficiency 0.905, so 15000 W / 0.905 electrical.
MOTOR = f"""
title = "Conveyor motor"
supply = {{ wires = 3, voltage = "400 V" }}
[[load]]
name = "conveyor"
connection = "star"
total = {{ power = "{15000 / 0.905} W", power_factor = "0.82 lag", at = "400 V" }}
[current_transformer.ct]
ratio = "50/5 A"
[instrument.portable]
current_ranges = ["5 A", "10 A"]
voltage_ranges = ["240 V", "480 V"]
current_range = "5 A"
voltage_range = "480 V"
[method]
name = "two wattmeters"
common = "L2"
current_transformer = "ct"
instrument = "portable"
"""
# Base cases U and U3 of design/needs.md.
U = """
title = "Village"
supply = { wires = 4, sequence_voltages = { positive = "230 V" } }
[[load]]
name = "village"
connection = "star"
star_point = "neutral"
L1 = "23 ohm"
L2 = "46 ohm"
L3 = "23 ohm @ 60 deg"
[method]
name = "three wattmeters to neutral"
"""
U3 = (
    U.replace("wires = 4", "wires = 3")
    .replace('"neutral"\n', '"isolated"\n')
    .replace("three wattmeters to neutral", "two wattmeters")
)


@cache
def plan(text: str, **options: object) -> Plan:
    return plan_of(simulator.parse_scenario(text), **options)


@cache
def shipped(name: str, **options: object) -> Plan:
    return plan_of(simulator.read_scenario(SCENARIOS / f"{name}.toml"), **options)


def flat(blocks: Iterable[Block]) -> Iterator[Block]:
    for block in blocks:
        if isinstance(block, Together):
            yield from flat(block.blocks)
        else:
            yield block


def tables(blocks: Iterable[Block]) -> dict[str, Table]:
    """Tables by their first heading, put together where one is continued."""
    found: dict[str, Table] = {}
    for block in flat(blocks):
        if isinstance(block, Table):
            key = block.headings[0]
            before = found[key].rows if key in found else ()
            found[key] = replace(block, rows=(*before, *block.rows))
    return found


def rows(table: Table) -> dict[str, tuple[str, ...]]:
    """Rows of a table by their first cell."""
    found = {row[0]: row[1:] for row in table.rows}
    assert len(found) == len(table.rows)
    return found


def lines(blocks: Iterable[Block]) -> list[str]:
    """Everything but tables and pictures, a line for each point."""
    found: list[str] = []
    for block in flat(blocks):
        match block:
            case Heading(text):
                found.append(text)
            case Text(text, lead):
                found.append(f"{lead} {text}".strip())
            case Items(texts):
                found += texts
    return found


def number(text: str) -> float:
    return float(text.replace("−", "-"))

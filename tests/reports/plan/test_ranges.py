"""Ranges and ratios: chosen from V and I over the span, with reasons; burdens of leads."""

from __future__ import annotations

import math

import pytest

from simulator.reports.plan.ranges import ranges_blocks, standard_primary
from tests.reports.plan.base import MOTOR, lines, plan, rows, shipped, tables


def circuits(text: str, **options: object) -> dict[str, tuple[str, ...]]:
    return rows(tables(ranges_blocks(plan(text, **options)))["circuit"])


def test_percent_of_range_over_the_span() -> None:
    """Need 3: 2.815 to 3.028 A at the meter, so 56 to 61 % of 5 A; 400 V are 83 % of 480 V."""
    found = circuits(MOTOR)
    assert found["W1 current"] == (
        "5 A",
        "2.815 to 3.028 A",
        "56 to 61",
        "smallest of 5, 10 A that carries it",
    )
    assert found["W2 voltage"][:3] == ("480 V", "400.0 V", "83")


def test_need_15_overload_behind_a_low_power_factor() -> None:
    """8 A at 400 V, power factor 0.3: 160 % of 5 A, with 695 W and 2358 W of 2400 W on scale."""
    angle = math.degrees(math.acos(0.3))
    found = shipped("overload-hidden-by-low-power-factor", angles=(angle, angle))
    table = rows(tables(ranges_blocks(found))["circuit"])
    for name, share in (("W1", 695 / 24), ("W2", 2358 / 24)):
        range_, carries, percent, why = table[f"{name} current"]
        assert (range_, carries, percent) == ("5 A", "8.000 A", "160")
        assert why == "OVERLOADED, whatever the pointer shows: take 10 A"
        assert float(table[f"{name} pointer"][2]) == pytest.approx(share, abs=0.51)


@pytest.mark.parametrize(
    ("old", "new", "circuit", "why"),
    [
        ('current_range = "5 A"', 'current_range = "10 A"', "W1 current", "carries it; 5 A would"),
        ('current_range = "5 A"', "", "W1 current", "no range stated: choose 5 A"),
        ('voltage_ranges = ["240 V", "480 V"]', "", "W1 voltage", "carries it"),
        ('["5 A", "10 A"]\n', '["2 A"]\n', "W1 current", "take a larger one"),
    ],
)  # fmt: skip
def test_reasons(old: str, new: str, circuit: str, why: str) -> None:
    text = MOTOR.replace(old, new)
    if "2 A" in new:
        text = text.replace('current_range = "5 A"', 'current_range = "2 A"')
    assert why in circuits(text)[circuit][-1]


def test_the_end_of_the_span_decides() -> None:
    """Need 3: 2.917 A as planned would fit into 3 A, 3.028 A at power factor 0.79 do not."""
    text = MOTOR.replace('5 A", "10 A', '3 A", "10 A').replace('range = "5 A"', 'range = "3 A"')
    assert circuits(text)["W1 current"][-1].endswith("take 10 A")


def test_a_low_pointer_is_said() -> None:
    low = MOTOR.replace('"0.82 lag"', '"0.5 lag"')
    assert circuits(low)["W1 pointer"][-1].startswith("in the lowest tenth, unreliable")


def ct(ratio: str = "50/5 A", more: str = "") -> tuple[tuple[str, ...], list[str]]:
    text = MOTOR.replace('ratio = "50/5 A"', f'ratio = "{ratio}"\n{more}')
    blocks = ranges_blocks(plan(text))
    (first, *_) = tables(blocks)["what"].rows
    return first, [line for line in lines(blocks) if line.startswith("ct: ")]


def test_current_transformer_over_the_span() -> None:
    row, _ = ct(more='accuracy_class = "0.5"')
    # need 3: 28.15 to 30.28 A of 50 A
    assert row[:5] == (
        "ct of W1 in L1",
        "50/5 A",
        "28.15 to 30.28 A",
        "56 to 61",
        "2.815 to 3.028 A",
    )
    # derived: at 58.35 % between (20 %, 0.75 %, 45′) and (100 %, 0.5 %, 30′) of IEC 61869-2 (SEEN)
    part = (29.174 / 50 * 100 - 20) / 80
    assert row[6] == f"0.5: ±{0.75 - 0.25 * part:.3g} %, ±{45 - 15 * part:.3g}′"


def test_no_class_is_said() -> None:
    assert ct()[0][6] == "no class, taken as ideal"
    stated, _ = ct(more='ratio_error = "-0.2 %"\nphase_displacement = "12 min"')
    assert stated[6] == "no class; has −0.20 %, +12.0′"


def test_need_15_leads() -> None:
    """15 m one way of 2.5 mm² copper: 0.21 Ω, 5.25 VA at 5 A, 0.21 VA at 1 A."""
    five = next(line for line in ct()[1] if "leads" in line)
    assert "15 m one way of 2.5 mm² copper are 0.21 Ω and take 5.25 VA at 5 A" in five
    one = next(line for line in ct("50/1 A")[1] if "leads" in line)
    assert "take 0.21 VA at 1 A" in one
    stated = next(line for line in ct(more='leads = "0.42 ohm"')[1] if "leads" in line)
    assert stated.startswith("ct: its leads, 0.42 Ω, take 10.5 VA at 5 A")


def test_burden() -> None:
    """0.42 Ω are 10.5 VA at 5 A (standards.md 1.4, CALC)."""
    more = 'accuracy_class = "0.5"\nrated_burden = "10 VA"\nleads = "0.42 ohm"'
    assert ct(more=more)[0][5] == "10.5 VA of 10 VA"


def test_too_small_and_too_large_ratios() -> None:
    _, said = ct("25/5 A")
    assert any("30.3 A EXCEED its rated 25 A" in line and "at least 40 A" in line for line in said)
    _, said = ct("200/5 A")
    assert any("a smaller ratio is better" in line for line in said)
    assert not any("smaller ratio" in line for line in ct()[1])


# IEC 61869-2: 10 12.5 15 20 25 30 40 50 60 75 A and decimal multiples (MEM, standards.md 1.1).
@pytest.mark.parametrize(
    ("current", "rated"),
    [(30.28, 40), (800, 1000), (75, 75), (75.1, 100), (1.3, 10), (101, 125), (600, 600)],
)
def test_standard_primary(current: float, rated: float) -> None:
    assert standard_primary(current) == pytest.approx(rated)

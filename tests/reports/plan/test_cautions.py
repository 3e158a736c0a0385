"""Cautions that are always there, hazards of this circuit, and the check list (needs 33, 34)."""

from __future__ import annotations

import math
import re

import pytest

from simulator.reports.plan.cautions import caution_blocks
from simulator.reports.plan.check_list import check_blocks
from simulator.reports.plan.earth import CATEGORIES, to_earth
from simulator.reports.plan.expected import expected_blocks
from tests.reports.plan.base import MOTOR, U3, U, lines, plan, rows, shipped, tables
from tests.reports.plan.test_expected import MANY


@pytest.mark.parametrize("name", MANY)
def test_always_there(name: str) -> None:
    found = shipped(name)
    blocks = caution_blocks(found)
    said = " ".join(lines(blocks))
    for words in (
        "Dead first. Isolate, lock off, prove dead",
        "Licensed and competent persons only. Local codes",
        "Measurement category.",
        "a prediction and no permit",
    ):
        assert words in said
    fed = any(m.current_transformer for m in found.result.measurement.wattmeters)
    assert ("secondary never open" in said) == fed
    checks = " ".join(lines(check_blocks(found)))
    assert ("secondary never open" in checks) == fed
    (category,) = (x for x in lines(blocks) if x.startswith("Measurement category."))
    assert category.count("CAT ") == (3 if to_earth(found.result)[0] <= 1000 else 0)


def test_need_33_lines() -> None:
    four, three = (lines(check_blocks(plan(text))) for text in (U, U3))
    assert [x for x in four if "Neutral current in N with a clamp, expected 13.23 A" in x]
    assert not [x for x in three if "eutral current" in x]


def test_need_33_order() -> None:
    found = lines(check_blocks(plan(MOTOR)))

    def at(words: str) -> int:
        return next(k for k, line in enumerate(found) if words in line)

    order = (
        "Proved dead",
        "Conductors identified",
        "earthed at one point",
        "closed first: secondary never open",
        "W1: current circuit",
        "W2: current circuit",
        "W1: voltage leads last",
        "W2: voltage leads last",
        "by a second person",
        "Links opened last",
        "Switched on",
        "Phase sequence",
        "Watts with their sign",
        "Links S1 to S2 of the current transformers closed before anything else",
        "Voltage leads off first",
    )
    places = [at(words) for words in order]
    assert places == sorted(places)
    assert sum("____" in line for line in found) > 10, "blanks to fill in"


def test_check_list_knows_ranges_and_voltage_transformers() -> None:
    found = lines(check_blocks(plan(MOTOR)))
    assert any(line.endswith("range 5 A") for line in found)
    assert any(line.endswith("range 480 V") for line in found)
    assert not any("Voltage transformers" in line for line in found)
    through = lines(check_blocks(shipped("through-voltage-transformers")))
    assert any("Voltage transformers fused" in line for line in through)


def test_an_overload_is_on_the_first_page() -> None:
    """Need 15: 8 A through 5 A; need 3's 30.28 A at its lowest power factor through 30/5 A."""
    angle = math.degrees(math.acos(0.3))
    found = shipped("overload-hidden-by-low-power-factor", angles=(angle, angle))
    said = lines(caution_blocks(found))
    (line,) = (x for x in said if x.startswith("Overloaded as planned:"))
    assert line.endswith("W1 current 160 % of its 5 A range; W2 current 160 % of its 5 A range.")
    small = MOTOR.replace('"50/5 A"', '"30/5 A"')
    (line,) = (x for x in lines(caution_blocks(plan(small))) if x.startswith("Overloaded"))
    assert "ct: 30.3 A EXCEED its rated 30 A: take a rated primary current of at least 40" in line
    assert "W1 current 94 to 101 % of its 5 A range" in line  # 28.15/30 and 30.28/30
    assert not [x for x in lines(caution_blocks(plan(MOTOR))) if x.startswith("Overloaded")]


# Need 34: U3's neutral open, 365.6 V on a 230 V load (159 %), 158.3 V (69 %).
LOST = ("158.3 V is 69 % of its nominal 230 V", "365.6 V is 159 % of its nominal 230 V")


def test_need_34_lost_neutral_is_a_hazard_now() -> None:
    said = lines(caution_blocks(shipped("lost-neutral")))
    (line,) = (x for x in said if x.startswith("Voltage out of band at a load:"))
    assert all(words in line for words in LOST)
    assert not [x for x in said if x.startswith("Never open")]


def test_need_34_before_the_neutral_is_lost() -> None:
    said = lines(caution_blocks(plan(U)))
    (line,) = (x for x in said if x.startswith("Never open N while the load is on:"))
    assert all(words in line for words in LOST)
    assert not [x for x in said if x.startswith("Voltage out of band")]


def test_a_balanced_load_does_not_need_its_neutral() -> None:
    balanced = U.replace('"46 ohm"', '"23 ohm"').replace('"23 ohm @ 60 deg"', '"23 ohm"')
    assert not [x for x in lines(caution_blocks(plan(balanced))) if x.startswith("Never open")]


def test_an_open_secondary_is_said_first() -> None:
    opened = MOTOR.replace('ratio = "50/5 A"', 'ratio = "50/5 A"\nmagnetising = "60j ohm"')
    kept, broken = (f'current_transformer = "{name}"\n' for name in ("ct", "broken"))
    meters = (
        f'[[wattmeter]]\nname = "W1"\ncurrent = "L1"\nvoltage = ["L1", "L2"]\n{broken}'
        f'[[wattmeter]]\nname = "W2"\ncurrent = "L3"\nvoltage = ["L3", "L2"]\n{kept}'
        '[current_transformer.broken]\nratio = "50/5 A"\nmagnetising = "60j ohm"\n'
        'secondary = "open"\n'
    )
    opened = opened[: opened.index("[method]")] + meters
    first = lines(caution_blocks(plan(opened)))[1]
    assert first.startswith("Danger: the secondary of current transformer 'broken' of W1")
    assert "DANGER" not in first


# Categories by voltage to earth: https://clouglobal.com/the-categories-for-electrical-measurements/
# (SEEN, standards.md section 9).
@pytest.mark.reference
@pytest.mark.parametrize(
    ("limit", "impulses"), [(300, (2.5, 4, 6)), (600, (4, 6, 8)), (1000, (6, 8, 12))]
)
def test_impulse_withstand(limit: int, impulses: tuple[float, ...]) -> None:
    assert CATEGORIES[limit] == impulses


@pytest.mark.parametrize(
    ("text", "needed"),
    [
        # 230 V from line to earth with the star point earthed
        (U, ["II 300 V (2.5", "III 300 V (4", "IV 300 V (6"]),
        # three wires of unknown earthing: 400 V if a line is at earth
        (U3, ["II 600 V (4", "III 600 V (6", "IV 600 V (8"]),
    ],
)
def test_category_by_voltage(text: str, needed: list[str]) -> None:
    said = lines(caution_blocks(plan(text)))[-1]
    assert re.findall(r"CAT .*? impulse\)", said) == [f"CAT {text} kV impulse)" for text in needed]


def test_no_category_above_1000_volts() -> None:
    """Derived: 600 V to the star point are 1039 V between lines."""
    high = plan(U3.replace('"230 V"', '"600 V"'))
    said = lines(caution_blocks(high))[-1]
    assert "not directly, only through voltage transformers" in said
    assert "CAT" not in said


def test_to_earth_of_an_earthed_corner() -> None:
    volts, why = to_earth(shipped("corner-earthed-delta").result)
    supply = shipped("corner-earthed-delta").result.measurement.supply
    assert volts == pytest.approx(supply.nominal_voltage, rel=1e-9)
    assert why == f"{supply.earthed} is earthed"


def test_high_voltage_is_never_measured_directly() -> None:
    high = shipped("through-voltage-transformers")
    assert [x for x in lines(check_blocks(high)) if "behind the transformers only" in x]
    assert not [x for x in lines(check_blocks(high)) if x.startswith("Voltages line to line")]
    assert not [x for x in rows(tables(expected_blocks(high))["before the watts"]) if "earth" in x]
    assert [x for x in lines(check_blocks(plan(U3))) if x.startswith("Voltages line to line")]


def test_high_voltage_is_earthed_before_it_is_touched() -> None:
    high = " ".join(lines(caution_blocks(shipped("through-voltage-transformers"))))
    assert "earth and short every line" in high
    assert "secondary never shorted" in high
    assert "earth and short" not in " ".join(lines(caution_blocks(plan(U))))

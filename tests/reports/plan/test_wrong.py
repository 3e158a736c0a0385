"""If instead you see …: the rows are those of `faults`; what watts do not show is said."""

from __future__ import annotations

import math

import pytest

import simulator
from simulator.findings.faults.find import find_faults
from simulator.findings.faults.settle import settle
from simulator.reports.document import Text
from simulator.reports.plan.wrong import hidden_wirings, wrong_blocks
from tests.reports.plan.base import MOTOR, SCENARIOS, U, flat, lines, number, plan, shipped, tables

FEW = ("through-current-transformers", "one-meter-moved-in-turn", "reactive-power-three-meters")


@pytest.mark.parametrize("name", FEW)
def test_rows_are_those_of_faults(name: str) -> None:
    blocks = wrong_blocks(shipped(name))
    table = tables(blocks)["class"]
    faults = find_faults(simulator.read_scenario(SCENARIOS / f"{name}.toml"))
    letters = dict(x.split(": ", 1) for x in lines(blocks) if x[1:3] == ": ")
    names = list(faults.right.result.readings)
    assert table.headings[1 : 1 + len(names)] == tuple(f"{n} W" for n in names)
    seen = {int(row[0]): row[1:] for row in table.rows}
    for group, members in faults.groups.items():
        shown = [h for h in members if h.wiring.slips <= 1]
        if not shown:
            continue
        *readings, share, words, tests = seen[group]
        for cell, reading in zip(readings, shown[0].result.readings.values(), strict=True):
            assert number(cell) == pytest.approx(reading.at_instrument, rel=1e-3, abs=0.51)
        over = faults.over_true(shown[0])
        assert (share == "–") if over is None else number(share) == pytest.approx(over, abs=6e-4)
        assert all(h.description in words for h in shown)
        found = settle(faults, members) if len(members) > 1 else None
        settling = {test.name for test in found.tests} if found else set()
        settling |= {"follow the leads, dead"} if found and found.left else set()
        assert {letters[x].removesuffix(".") for x in tests.split(", ") if x} == settling


def test_need_3_wrong_wirings() -> None:
    """Standards.md section 11 with need 3's load: W1 reversed reads −494.8 W; fuses."""
    rows = {row[4]: row for row in tables(wrong_blocks(plan(MOTOR)))["class"].rows}

    def readings(words: str) -> list[float]:
        row = next(cells for text, cells in rows.items() if words in text)
        return [number(cell) for cell in row[1:3]]

    assert readings("current transformer of W1 reversed") == pytest.approx(
        (-494.8, 1162.7), abs=0.06
    )
    assert readings("fuse blown in the voltage lead of L1") == pytest.approx((0, 1162.7), abs=0.06)
    # V leads of the common line lost: half of the other one each, crosswise
    assert readings("common voltage lead") == pytest.approx((1162.7 / 2, 494.8 / 2), abs=0.06)


RESISTIVE = MOTOR.replace('"0.82 lag"', '"1"')


def test_need_19_a_resistive_load_hides_wrong_wirings() -> None:
    """At power factor 1 six of 48 wirings read right, two are (meters exchanged), four are not."""
    found = plan(RESISTIVE)
    hidden = {h.description: found.faults.over_true(h) for h in hidden_wirings(found)}
    exchanged = [d for d in hidden if "voltage leads L1 and L3 exchanged" in d]
    assert len(exchanged) == 1
    wrong = [d for d in hidden if "exchanged" in d and d not in exchanged]
    # the other four: V leads of two lines exchanged with one transformer reversed, and its mirror
    assert len(wrong) == 4
    assert all(hidden[d] == pytest.approx(1, abs=1e-9) for d in wrong)
    (warning,) = (
        b
        for b in flat(wrong_blocks(found))
        if isinstance(b, Text) and b.caution and "Not seen" in b.lead
    )
    assert warning.text.startswith(f"{len(hidden)} wrong wirings read as expected")
    said = lines(wrong_blocks(found))
    assert any(line.startswith("A resistive load proves little.") for line in said)
    table = tables(wrong_blocks(found))["class"]
    row = next(r for r in table.rows if "reads as expected" in r[4])
    assert all(d in row[4] for d in hidden)


def test_nothing_hidden_at_a_low_power_factor() -> None:
    found = plan(MOTOR)
    assert hidden_wirings(found) == ()
    assert not [x for x in lines(wrong_blocks(found)) if x.startswith("Not seen")]


def test_hidden_somewhere_in_a_wide_span() -> None:
    """Derived: sequence L3-L2-L1 exchanges the readings, which meet where the span holds unity."""
    assert "phase sequence" not in str([h.description for h in hidden_wirings(plan(MOTOR))])
    found = plan(MOTOR, angles=(-40.0, 40.0))
    assert "phase sequence" in str([h.description for h in hidden_wirings(found)])


def test_hidden_only_at_an_end_of_the_span() -> None:
    """Derived: W1 twice 0.299 P is above all W1 of this span, twice 0.115 P at its end is not.

    W1 = P/2·(1 − tan φ/√3) is 0.115 P at power factor 0.6, 0.299 P at 0.82, 0.405 P at 0.95.
    """
    wide = tuple(math.degrees(math.acos(factor)) for factor in (0.95, 0.6))
    hidden = [h.description for h in hidden_wirings(plan(MOTOR, angles=wide))]
    assert "wrong ratio of the current transformer of W1, double is counted" in hidden


def test_danger_and_looks_wrong() -> None:
    said = lines(wrong_blocks(plan(MOTOR)))
    assert any(line.startswith("Danger: an open secondary") for line in said)
    assert any(line.startswith("W1's own power factor is 0.42") for line in said)
    row = next(r for r in tables(wrong_blocks(plan(MOTOR)))["class"].rows if "open (danger" in r[4])
    assert "secondary of the current transformer of W1 open (danger, see below)" in row[4]


def test_too_much_voltage_is_said() -> None:
    """Derived: a lead on another line instead of the neutral gives √3 = 1.73 times the voltage."""
    words = " ".join(row[5] for row in tables(wrong_blocks(plan(U)))["class"].rows)
    assert "gets 1.73 times its voltage" in words

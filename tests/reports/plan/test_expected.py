"""Expected readings: the numbers of need 3, the solved network's, and their tolerances."""

from __future__ import annotations

import math

import pytest

import simulator
from simulator.findings.uncertainty.evaluation import evaluate_uncertainty
from simulator.quantities import PowerFactor
from simulator.reports.plan.expected import expected_blocks, from_to, limits_words, numbers
from tests.reports.plan.base import (
    MOTOR,
    SCENARIOS,
    U3,
    U,
    lines,
    number,
    plan,
    rows,
    shipped,
    tables,
)

NEED_3 = {
    "angles": (math.degrees(math.acos(0.85)), math.degrees(math.acos(0.79))),
    "idle": (0.35, PowerFactor(0.15, "lag")),
}
MANY = (
    "corner-earthed-delta",
    "current-transformer-with-its-burden",
    "difference-currents-unequal-voltages",
    "idle-motor-reads-below-zero",
    "lost-neutral",
    "one-meter-moved-in-turn",
    "overload-hidden-by-low-power-factor",
    "reactive-power-three-meters",
    "reversed-sequence",
    "through-voltage-transformers",
)


@pytest.fixture(scope="module")
def need_3():
    return tables(expected_blocks(plan(MOTOR, **NEED_3)))


# Need 3 (derived there from phasors, not published): low, expected and high power factor, printed
# to whole watts, hundredths of an ampere, and at the meter to a tenth of a watt.
@pytest.mark.parametrize(
    ("table", "row", "values", "digit"),
    [
        ("at the meter", "W1, 10 × shown, W", (4574, 4948, 5322), 1),
        ("at the meter", "W2, 10 × shown, W", (12001, 11627, 11253), 1),
        ("at the meter", "W1 + W2, W", (16575, 16575, 16575), 1),
        ("before the watts", "current in L1, A", (30.28, 29.17, 28.15), 0.01),
        ("before the watts", "current in L2, A", (30.28, 29.17, 28.15), 0.01),
        ("at the meter", "W1 reading, W", (457.4, 494.8, 532.2), 0.1),
        ("at the meter", "W2 reading, W", (1200.1, 1162.7, 1125.3), 0.1),
        ("at the meter", "W1 current, A", (3.028, 2.917, 2.815), 0.001),
    ],
)
def test_need_3(need_3, table, row, values, digit) -> None:
    written = [number(cell) for cell in rows(need_3[table])[row][:3]]
    assert written == pytest.approx(values, abs=0.51 * digit)


def test_what_the_first_table_has_is_not_repeated(need_3) -> None:
    """Behind transformers a circuit feels something of its own: 100 V of 10 kV."""
    assert [x for x in rows(need_3["at the meter"]) if "voltage" in x] == []
    found = shipped("through-voltage-transformers")
    through = rows(tables(expected_blocks(found))["at the meter"])
    assert number(through["W1 voltage, V"][0]) == pytest.approx(100, abs=0.051)
    # derived: 600 kW at 10 kV and power factor cos 30° take 40 A, through 50/5 A 4 A
    k = found.span.index(found.expected)
    assert number(through["W1 current, A"][k]) == pytest.approx(4, abs=0.001)
    direct = rows(tables(expected_blocks(shipped("one-meter-moved-in-turn")))["at the meter"])
    assert [x for x in direct if "voltage" in x or "current" in x] == []


def test_need_3_by_closed_form(need_3) -> None:
    """Derived: W = P/2·(1 ∓ tan φ/√3), the power kept."""
    P = 15000 / 0.905
    for name, sign in (("W1", -1), ("W2", 1)):
        written = rows(need_3["at the meter"])[f"{name}, 10 × shown, W"][:3]
        for cell, factor in zip(written, (0.79, 0.82, 0.85), strict=True):
            tangent = math.sqrt(1 - factor**2) / factor
            assert number(cell) == pytest.approx(P / 2 * (1 + sign * tangent / 3**0.5), abs=0.51)


def test_need_3_headings_and_no_load(need_3) -> None:
    assert need_3["at the meter"].headings[1:4] == (
        "0.79 lag",
        "expected, 0.82 lag",
        "0.85 lag",
    )
    idle = rows(need_3["at no load"])
    assert (number(idle["W1"][0]), number(idle["W2"][0])) == pytest.approx((-1489, 2550), abs=0.51)
    assert number(idle["W1"][1]) == pytest.approx(-148.9, abs=0.051)
    assert idle["W1"][0].startswith("−")
    said = lines(expected_blocks(plan(MOTOR, **NEED_3)))
    assert "W1 below zero is right then." in said


def test_every_column_to_fill_in_is_blank(need_3) -> None:
    for table in need_3.values():
        assert table.headings[-1] == "measured"
        assert {row[-1] for row in table.rows} == {""}


@pytest.mark.parametrize("name", MANY)
def test_every_meter_as_solved(name: str) -> None:
    found = shipped(name)
    solved = simulator.solve(simulator.read_scenario(SCENARIOS / f"{name}.toml"))
    written = tables(expected_blocks(found))
    k = found.span.index(found.expected)
    meters = worked = rows(written["at the meter"])
    for reading in solved.readings.values():
        row = next(
            r
            for label, r in meters.items()
            if label.startswith(f"{reading.name} ") and "reading" in label
        )
        assert number(row[k]) == pytest.approx(reading.at_instrument, rel=1e-3, abs=0.051)
        primary = [r for label, r in worked.items() if label.startswith(f"{reading.name}, ")]
        assert len(primary) == (reading.meter.ratio != 1)
        for cells in primary:
            assert number(cells[k]) == pytest.approx(reading.watts, rel=1e-3, abs=0.51)
    if solved.total:
        total = next(r for label, r in worked.items() if label.startswith(solved.total.formula))
        assert number(total[k]) == pytest.approx(solved.total.indicated, rel=1e-3, abs=0.51)


CLASSES = MOTOR.replace('ratio = "50/5 A"', 'ratio = "50/5 A"\naccuracy_class = "0.5"').replace(
    'current_range = "5 A"\n', 'current_range = "5 A"\ndivisions = 120\naccuracy_class = 0.5\n'
)


def test_tolerance_is_the_95_percent_interval() -> None:
    scenario = simulator.parse_scenario(CLASSES)
    low, high = evaluate_uncertainty(scenario)["W1"].interval
    found = plan(
        CLASSES, width=0.001
    )  # nearly one load, so its interval is nearly all that is right
    row = rows(tables(expected_blocks(found))["at the meter"])["W1 reading, W"]
    tolerance, within = row[3], row[4]
    assert number(tolerance.removeprefix("±")) == pytest.approx((high - low) / 20, rel=0.05)
    ends = [number(end) for end in within.split(" to ")]
    assert ends == pytest.approx((low / 10, high / 10), abs=1.5)
    # 2.5 W of need 8's kind: class 0.5 of 2400 W is 12 W, on 20 W a division
    (said,) = limits_words(found)
    assert "accuracy class 0.5 of W1 ±120 W" in said
    divisions = rows(tables(expected_blocks(found))["at the meter"])["W1 divisions of 20 W"]
    assert number(divisions[1]) == pytest.approx(494.8 / 20, abs=0.01)


def test_right_within_holds_the_whole_span() -> None:
    found = plan(CLASSES)
    low, high = found.accepted("W1")
    assert low < 4574  # need 3's lowest and highest W1
    assert high > 5322
    row = rows(tables(expected_blocks(found))["at the meter"])["W1 reading, W"]
    assert [number(end) for end in row[4].split(" to ")] == pytest.approx(
        (low / 10, high / 10), abs=0.051
    )
    ends = [found.interval("W1", case) for case in found.span]
    assert (low, high) == (min(a for a, _ in ends), max(b for _, b in ends))


def test_without_classes_the_limit_is_said() -> None:
    said = next(x for x in lines(expected_blocks(plan(U))) if x.startswith("Tolerance."))
    assert "2 % of the volt-amperes that each meter carries is assumed" in said
    row = rows(tables(expected_blocks(plan(U)))["at the meter"])["W1 reading, W"]
    assert row[3] == "±46"  # derived: 2 % of 230 V times 10 A


def test_need_33_neutral_current_only_on_four_wires() -> None:
    four = rows(tables(expected_blocks(plan(U)))["before the watts"])
    # need 33 with base case U: I_N = 13.229 A
    assert number(four["current in N, A"][1]) == pytest.approx(13.23, abs=0.0051)
    assert "L1 to N, V" in four
    three = rows(tables(expected_blocks(plan(U3)))["before the watts"])
    assert not [label for label in three if " N" in label]
    assert three["L1, L2, L3 to earth, V"][0] == "–"


def test_voltages_to_earth_where_the_earthing_is_stated() -> None:
    """Corner earthed: the earthed line has none, the others the line voltage."""
    found = rows(tables(expected_blocks(shipped("corner-earthed-delta")))["before the watts"])
    supply = shipped("corner-earthed-delta").result.measurement.supply
    others = [cells[0] for label, cells in found.items() if label.endswith("to earth, V")]
    assert sorted(map(number, others)) == pytest.approx(
        [0, *[supply.nominal_voltage] * 2], rel=1e-3
    )


def test_a_motor_idles_by_its_circuit() -> None:
    """Derived: without slip R1 + jX1 in series with Rc beside jXm, three times that admittance."""
    found = shipped("idle-motor-reads-below-zero")
    across = 1 / (1 / 45j + 1 / 800)
    total = 400**2 / abs(0.6 + 1j + across) ** 2 * (0.6 + across.real)
    assert found.idle.result.total.indicated == pytest.approx(total, rel=1e-9)


def test_numbers() -> None:
    assert numbers([494.76, 1163.2]) == ["494.8", "1163.2"]
    assert numbers([16574.6]) == ["16575"]
    assert numbers([2.91741, -0.00001]) == ["2.917", "0.000"]
    assert numbers([-1.5, math.nan]) == ["−1.500", "–"]
    assert numbers([0.0]) == ["0.000"]
    assert from_to([5.0, 5.0], 2) == "5.0"
    assert from_to([56.3, 60.6, 58.0], 2) == "56 to 61"

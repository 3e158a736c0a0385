"""What the page shows is what a lesson expects, and what the downloaded file gives."""

from __future__ import annotations

import math
from itertools import product
from typing import TYPE_CHECKING
from urllib.parse import urlencode

import pytest

import simulator
from simulator.metering.catalogue import METHODS
from tests.explore.files import MOTOR, OWN_METERS, RESISTIVE, UNBALANCED

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.explore.conftest import Page

# needs.md: shared design page, every number calculated from phasors for that page ("derived").


def query(**parameters: object) -> str:
    return urlencode(parameters)


@pytest.mark.parametrize("phi", [-90, -75, -45, -30, 0, 30, 45, 60, 90])
def test_two_wattmeters_and_power_factor(page: Page, phi: int) -> None:
    # derived: W1 = V·I·cos(30° + φ), W2 = V·I·cos(30° − φ), 400 V and 10 A, common line L2;
    # physics.md section 5. The page says the power factors of 15° steps to three places.
    factor = {0: "1", 15: "0.966", 30: "0.866", 45: "0.707", 60: "0.5", 75: "0.259", 90: "0"}
    pf = factor[abs(phi)] + ("" if phi == 0 else "lag" if phi > 0 else "lead")
    found = page.watts(query(pf=pf))
    for name, angle in (("W1", 30 + phi), ("W2", 30 - phi)):
        assert found[name] == pytest.approx(4000 * math.cos(math.radians(angle)), abs=1e-6)


def test_sequence_exchanges_the_readings(page: Page) -> None:
    # needs.md 11: pf 0.8 lag, L1-L2-L3: 1571.3 and 3971.3 W; the other sequence: exchanged
    assert page.watts() == pytest.approx({"W1": 1571.3, "W2": 3971.3}, abs=0.05)
    other = page.watts(query(sequence="L3-L2-L1"))
    assert other == pytest.approx({"W1": 3971.3, "W2": 1571.3}, abs=0.05)


@pytest.mark.parametrize(
    ("line", "moved", "percent"),
    [
        # needs.md 9: resistors, only A raised by 10 and 50 %; and only V_A lowered by 3 %
        ("L1", {"I1": 10}, 6.45),
        ("L2", {"I1": 10}, -3.23),
        ("L3", {"I1": 10}, -3.23),
        ("L1", {"I1": 50}, 28.57),
        ("L2", {"I1": 50}, -14.29),
        ("L1", {"U1": -3}, -4.02),
    ],
)
def test_one_meter_times_three(
    page_of: Callable[[str], Page], line: str, moved: dict[str, int], percent: float
) -> None:
    found = page_of(RESISTIVE).error_percent(query(line=line, **moved))
    assert found == pytest.approx(percent, abs=0.005)


@pytest.mark.parametrize(
    ("neutral", "percent"),
    # needs.md 10: U, neutral impedance on the load side, common line B, against the loads alone
    [("closed", 50.0), ("1", 51.67), ("5", 49.69), ("20", 30.53), ("100", 8.68), ("open", 0.0)],
)
def test_two_meters_on_four_wires(
    page_of: Callable[[str], Page], neutral: str, percent: float
) -> None:
    page = page_of(UNBALANCED)
    parameters = query(method="two wattmeters", line="L2", Nload=neutral)
    assert page.error_percent(parameters) == pytest.approx(percent, abs=0.005)


@pytest.mark.parametrize(("line", "percent"), [("L1", -62.5), ("L2", 50), ("L3", 12.5)])
def test_common_lines(page_of: Callable[[str], Page], line: str, percent: float) -> None:
    # needs.md 11: U in both sequences, common lines A, B, C
    page = page_of(UNBALANCED)
    found = page.error_percent(query(method="two wattmeters", line=line))
    assert found == pytest.approx(percent, abs=1e-6)
    other = {"L1": 12.5, "L2": -25, "L3": 12.5}[line]
    found = page.error_percent(query(method="two wattmeters", line=line, sequence="L3-L2-L1"))
    assert found == pytest.approx(other, abs=1e-6)


@pytest.mark.parametrize(("coil", "percent"), [("1", 0.207), ("5", 1.008), ("10", 1.953)])
def test_coil_mismatch(page_of: Callable[[str], Page], coil: str, percent: float) -> None:
    # needs.md 16: U on four wires, coil of A too large by 1, 5, 10 %; with no neutral current
    # the sum is right whatever the coils
    method = "three wattmeters to a floating star point"
    page = page_of(UNBALANCED)
    assert page.error_percent(query(method=method, coil1=coil)) == pytest.approx(percent, abs=5e-4)
    open_neutral = page.total(query(method=method, coil1=coil, Nload="open"))
    assert open_neutral["right"] is True
    assert open_neutral["indicated"] == pytest.approx(5265.79, abs=0.005)


def test_which_star_point(page_of: Callable[[str], Page]) -> None:
    # needs.md 28: U, 5 ohm: to the supply's N 4790.8 W, at the loads 4372.9 W
    total = page_of(UNBALANCED).total(query(Nload=5))
    assert (total["indicated"], total["true"]) == pytest.approx((4790.8, 4372.9), abs=0.05)
    # the neutral broken before the meters: their N goes with the load's star point (needs.md 2)
    lost = page_of(UNBALANCED).watts(query(Nsupply="open"))
    assert lost == pytest.approx({"W1": 1089.5, "W2": 2905.3, "W3": 1271.1}, abs=0.05)
    # broken behind them: N stays at the supply's, and no reading is a phase's power (needs.md 28)
    behind = page_of(UNBALANCED).watts(query(Nload="open"))
    assert behind == pytest.approx({"W1": 1271.1, "W2": 1815.8, "W3": 2178.9}, abs=0.05)


def test_artificial_neutral(page: Page) -> None:
    # derived: branches of 20, 20 and 10 kohm put P at (V1 + V2 + 2·V3)/4 = V3/4, for the three
    # potentials sum to zero; on a resistive load V1·(V1 − V3/4)*/V² = 1 + 1/8, so 12.5 % too high
    method = "one wattmeter with artificial neutral"
    parameters = {"method": method, "line": "L1", "pf": "1"}
    assert page.error_percent(query(**parameters)) == pytest.approx(0, abs=1e-6)
    assert page.error_percent(query(coil3=-50, **parameters)) == pytest.approx(12.5, abs=1e-6)


def test_reversed_circuits(page: Page) -> None:
    # derived: reversing one circuit turns the sign of its reading, reversing both does nothing
    right = page.watts()
    for circuits, sign in (("W1.current", -1), ("W1.voltage", -1), ("W1.current,W1.voltage", 1)):
        found = page.watts(query(reversed=circuits))
        assert found == pytest.approx({"W1": sign * right["W1"], "W2": right["W2"]}, abs=1e-6)


def test_angles_are_turned_and_currents_scaled(page_of: Callable[[str], Page]) -> None:
    # derived: U's branches take V²/|Z|·cos(angle); turned by −60° their angles are −60, −60, 0°,
    # and the current of L3 is halved
    found = page_of(UNBALANCED).watts(query(turn=-60, I3=-50))
    assert found == pytest.approx({"W1": 1150, "W2": 575, "W3": 1150}, abs=1e-6)


def test_sequence_and_unequal_voltages(page: Page, page_of: Callable[[str], Page]) -> None:
    # derived: written by hand; the other sequence is L2 and L3 exchanged at the supply
    phase_voltages = {"L1": "230.940107676 V", "L2": "219.393102292 V @ 120 deg"}
    phase_voltages["L3"] = "230.940107676 V @ -120 deg"
    by_hand = {
        "title": "by hand",
        "supply": {"wires": 3, "phase_voltages": phase_voltages},
        "load": [{"connection": "star", "each": "23.0940107676 ohm, 0.8 lag"}],
        "method": {"name": "two wattmeters", "common": "L2"},
    }
    expected = simulator.solve(simulator.scenario_from(by_hand)).readings
    found = page.watts(query(sequence="L3-L2-L1", U2=-5))
    assert found == pytest.approx({k: r.watts for k, r in expected.items()}, rel=1e-9)
    swapped = OWN_METERS.replace(
        'B = "228 V @ -120 deg", C = "240 V @ 120 deg"',
        'B = "240 V @ 120 deg", C = "228 V @ -120 deg"',
    )
    turned = page_of(OWN_METERS).watts(query(sequence="C-B-A"))
    assert turned == pytest.approx(page_of(swapped).watts(), rel=1e-9)


@pytest.mark.parametrize("angle", [90, -90])
def test_a_pure_reactance_is_no_source(page_of: Callable[[str], Page], angle: int) -> None:
    # derived: no branch of an angle of 90° takes any power; turned as far as the page goes
    text = UNBALANCED.replace('L3 = "23 ohm @ 60 deg"', 'L3 = "17.1 ohm @ 31.7 deg"')
    page = page_of(text.replace('"46 ohm"', '"46 ohm @ 31.7 deg"').replace('"23 ohm"', '"9j ohm"'))
    lowest = next(c for c in page.ask("/controls")["controls"] if c["name"] == "turn")["stops"]
    turn = lowest[0][0] if angle < 0 else lowest[-1][0]
    assert page.ask(f"/readings?turn={turn}")["problem"] is None


# The page against the file that it hands out

GRID = [
    *({"pf": pf, "I2": i} for pf, i in product(("0lead", "0.5lead", "1", "0lag"), (-100, 35))),
    *({"wires": 4, "method": m, "line": "L3", "I1": 40, "U2": -7} for m in METHODS),
    *({"method": m, "sequence": "L3-L2-L1", "I3": -60} for m in METHODS if 3 in METHODS[m].wires),
    *({"wires": 4, "I1": 100, "Nsupply": a, "Nload": b} for a, b in (("0.5", "open"), ("open", 2))),
    *({"wires": 4, "method": m, "coil1": 100, "coil2": -50, "I2": 25} for m in METHODS),
    {"reversed": "W2.voltage", "U1": 20, "U2": -20, "U3": 1},
    {"method": "one wattmeter, two positions", "reversed": "W1.current"},
    {"wires": 4, "method": "one wattmeter moved in turn", "reversed": "W3.current,W2.voltage"},
]


@pytest.mark.parametrize("moved", GRID, ids=urlencode)
def test_downloaded_file_gives_the_same(page: Page, moved: dict[str, object]) -> None:
    same_numbers(page, query(**moved))


OWN_GRID = [
    {},
    {"turn": 12, "I1": -100},
    {"sequence": "A-B-C", "U1": 4},
    {"sequence": "C-B-A"},
    {"Nsupply": "open", "Nload": 20},
    {"coil1": 25, "coil2": -10, "coil3": 50},
    {"reversed": "none"},
    {"reversed": "Wa.current,Wc.voltage"},
    {"method": "two wattmeters", "line": "C", "reversed": "W1.voltage"},
    *({"method": m, "coil1": 5} for m in METHODS),
]


@pytest.mark.parametrize("moved", OWN_GRID, ids=urlencode)
def test_file_of_ones_own(page_of: Callable[[str], Page], moved: dict[str, object]) -> None:
    same_numbers(page_of(OWN_METERS), query(**moved))


@pytest.mark.parametrize("text", [UNBALANCED, RESISTIVE, OWN_METERS, MOTOR])
def test_nothing_moved_is_the_file(page_of: Callable[[str], Page], text: str) -> None:
    scenario = simulator.parse_scenario(text)
    own = simulator.solve(scenario)
    page = page_of(text)
    assert page.watts() == {name: reading.watts for name, reading in own.readings.items()}
    assert page.downloaded().document == scenario.document


def same_numbers(page: Page, parameters: str) -> None:
    scenario = page.downloaded(parameters)
    result = simulator.solve(scenario)
    assert result.total
    assert page.watts(parameters) == {k: r.watts for k, r in result.readings.items()}
    assert page.get(f"/why?{parameters}").status_code == 200
    shown = page.total(parameters)
    assert (shown["indicated"], shown["true"]) == (result.total.indicated, result.total.true)
    assert shown["reason"] == result.total.reason

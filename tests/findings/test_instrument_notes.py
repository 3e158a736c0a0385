"""Notes about ranges and transformers, and the reports that show them."""

from __future__ import annotations

import math
import re

import pytest

import simulator
from simulator.findings.error_terms import error_terms

MOTOR = """
title = "t"
[supply]
wires = 3
voltage = "400 V"
[[load]]
connection = "star"
each = { current = "CURRENT", power_factor = "PF lag" }
[instrument.m]
MORE
[method]
name = "two wattmeters"
common = "L2"
instrument = "m"
"""
RANGES = 'current_range = "5 A"\nvoltage_range = "480 V"\n'


def notes(more: str, current: str = "8 A", pf: str = "0.3", rest: str = "") -> list[str]:
    text = MOTOR.replace("CURRENT", current).replace("PF", pf).replace("MORE", more) + rest
    return list(simulator.solve(simulator.parse_scenario(text)).notes)


def through(transformer: str, current: str = "100 A", method: str = "") -> list[str]:
    return notes("", current, "0.8", f"{method}{transformer}\n")


CT = 'current_transformer = "ct"\n[current_transformer.ct]\nratio = "100/5 A"\n'
VT = 'voltage_transformer = "vt"\n[voltage_transformer.vt]\nratio = "400/100 V"\n'


# Ranges -------------------------------------------------------------------------------------


def test_an_overload_that_the_pointer_hides() -> None:
    # needs.md, row 15 (derived there): 160 % of 5 A; −695 W of 2400 W are 29 %, 2358 W are 98 %
    found = notes(RANGES)
    assert (
        "W1: current circuit at 160 % of its 5 A range, while its pointer, one circuit reversed, "
        "shows only 29 % of full scale" in found
    )
    assert (
        "W2: current circuit at 160 % of its 5 A range, while its pointer shows 98 % of full scale"
        in found
    )
    assert not [n for n in found if "voltage circuit" in n or "lowest" in n]


def test_the_range_that_would_do_is_named() -> None:
    ranges = 'current_ranges = ["1 A", "5 A", "10 A", "20 A"]\n' + RANGES
    assert any(n.endswith("; its 10 A range carries it") for n in notes(ranges))
    short = 'current_ranges = ["1 A", "5 A"]\n' + RANGES
    assert not any("carries it" in n for n in notes(short))


def test_an_overloaded_voltage_circuit() -> None:
    found = notes(RANGES.replace("480", "320"), current="4 A")
    # 400 V on 320 V; −347 W of 5 A × 320 V = 1600 W, from −695 W at twice the current
    assert found[1] == (
        "W1: voltage circuit at 125 % of its 320 V range, while its pointer, one circuit reversed, "
        "shows only 22 % of full scale"
    )


def test_a_pointer_beyond_full_scale_with_both_circuits_in_range() -> None:
    # 4 A at pf 0.3: 1179 W, full scale 5 A × 480 V × 0.2 = 480 W: 246 %
    found = notes(RANGES + "rated_power_factor = 0.2", current="4 A")
    assert "W2: pointer beyond full scale, 246 % of 480 W" in found
    assert not [n for n in found if "circuit at" in n]


@pytest.mark.parametrize(("current", "flagged"), [("1.1 A", False), ("0.9 A", True)])
def test_the_lowest_tenth_of_the_scale(current: str, flagged: bool) -> None:
    # vias.org textbook (SEEN): readings in the lowest 10 % of range are unreliable.
    # derived: 1.1 A at pf 0.3 reads −95 and 324 W, 0.9 A −78 and 265 W; a tenth is 240 W
    found = [n for n in notes(RANGES + "accuracy_class = 1", current) if "lowest" in n]
    w1 = next(n for n in found if n.startswith("W1"))
    assert w1.endswith("where a reading is unreliable; its class allows ±24 W there")
    assert len(found) == 1
    wider = [n for n in notes(RANGES.replace("480", "600"), current) if "lowest" in n]
    assert len(wider) == (2 if flagged else 1)  # a tenth of 3000 W is 300 W


def test_on_its_range_is_not_over_it() -> None:
    assert not [n for n in notes(RANGES, "5 A") if "circuit at" in n]
    assert [n for n in notes(RANGES, "5.005 A") if "at 100.1 % of" in n]


def test_ammeters_and_voltmeters_have_ranges_too() -> None:
    meters = (
        '[[ammeter]]\nname = "A1"\nin = "L1"\ninstrument = "small"\n'
        '[[voltmeter]]\nname = "V1"\nbetween = ["L1", "L2"]\ninstrument = "small"\n'
        '[instrument.small]\ncurrent_range = "5 A"\nvoltage_range = "300 V"\n'
    )
    found = notes("", rest=meters)
    assert "A1: 160 % of its 5 A range" in found
    assert "V1: 133 % of its 300 V range" in found


def test_a_meter_moved_in_turn_is_judged_where_it_is_read() -> None:
    text = """
    title = "t"
    [supply]
    wires = 4
    voltage = "400 V"
    [[load]]
    connection = "star"
    star_point = "neutral"
    L1 = "230 ohm"
    L2 = "23 ohm"
    L3 = "230 ohm"
    [instrument.m]
    current_range = "5 A"
    [method]
    name = "one wattmeter moved in turn"
    instrument = "m"
    """
    found = simulator.solve(simulator.parse_scenario(text)).notes
    assert [n for n in found if "circuit at" in n] == [
        "W2: current circuit at 201 % of its 5 A range"
    ]


# Transformers -------------------------------------------------------------------------------


@pytest.mark.reference
def test_eight_hundred_amperes_on_small_and_on_right_transformers() -> None:
    # needs.md, row 15 (derived there): 800 A on 400/5 is 10 A at the meter, on 800/5 5 A
    small = through(CT.replace("100/5", "400/5"), "800 A")
    assert "current transformer 'ct' of W1 in L1 at 200 % of its rated 400 A" in small
    assert not [n for n in through(CT.replace("100/5", "800/5"), "800 A") if "rated" in n]


@pytest.mark.parametrize(
    ("current", "end"),
    [
        ("3 A", "at 3 % of its rated 100 A; class 0.5 promises nothing there"),
        ("110 A", "at 110 % of its rated 100 A"),
        ("130 A", "at 130 % of its rated 100 A; class 0.5 promises nothing there"),
    ],
)
def test_currents_outside_the_class(current: str, end: str) -> None:
    found = through(CT + 'accuracy_class = "0.5"', current)
    assert f"current transformer 'ct' of W1 in L1 {end}" in found


def test_a_current_the_class_covers_is_no_note() -> None:
    assert not [n for n in through(CT + 'accuracy_class = "0.5"', "50 A") if "rated" in n]


def test_a_voltage_transformer_outside_its_class() -> None:
    found = through(VT.replace("400/100", "300/100") + 'accuracy_class = "1"')
    assert (
        "voltage transformer 'vt' of W1 at 133 % of its rated 300 V; class 1 promises nothing there"
        in found
    )
    assert not [n for n in through(VT + 'accuracy_class = "1"') if "rated" in n]


@pytest.mark.parametrize(
    ("leads", "note"),
    [
        # 25·(R + X) at 5 A: derived
        ("0.5 ohm", "its burden, 12.5 VA, is 125 % of its rated 10 VA; class 1 holds from 25 to"),
        ("0.05 ohm", "its burden, 1.25 VA, is 12 % of its rated 10 VA; class 1 holds from 25 to"),
        ("0.3+0.2j ohm", None),
    ],
)
def test_burdens(leads: str, note: str | None) -> None:
    more = f'accuracy_class = "1"\nrated_burden = "10 VA"\nleads = "{leads}"'
    found = [n for n in through(CT + more) if "burden" in n]
    assert len(found) == (2 if note else 0)
    assert all(note in n for n in found if note)
    unclassed = through(CT + more.replace('accuracy_class = "1"\n', ""))
    assert len([n for n in unclassed if "burden" in n]) == (2 if leads == "0.5 ohm" else 0)


def test_an_open_secondary_is_a_danger_and_comes_first() -> None:
    more = 'magnetising = "60j ohm"\nsecondary = "open"'
    found = through(CT + more, "10 A")
    assert [n.startswith("DANGER") for n in found[:3]] == [True, True, False]
    # derived: 0.5 A through 60j ohm; the load's 10 A are hardly changed by 0.15j ohm
    volts = re.search(r"is open: ([\d.]+) V across it", found[0])
    assert volts
    assert float(volts[1]) == pytest.approx(30, rel=0.02)
    assert "Never open a secondary in service: short it first, at its terminals S1–S2" in found[0]
    text = MOTOR.replace("CURRENT", "10 A").replace("PF", "0.8").replace("MORE", "")
    shown = simulator.result_text(simulator.solve(simulator.parse_scenario(text + CT + more)))
    lines = shown.splitlines()
    assert lines[3].startswith("DANGER: the secondary of current transformer 'ct' of W1 in L1")
    assert shown.count("DANGER") == 2


def test_a_shorted_voltage_transformer_is_a_danger() -> None:
    found = through(VT + 'winding = "1 ohm"\nsecondary = "shorted"')
    # derived: 400/4 V over 1 ohm; the supply is ideal
    assert found[0].startswith(
        "DANGER: the secondary of voltage transformer 'vt' of W1 is shorted: 100 A flow in it"
    )


@pytest.mark.parametrize(
    ("transformer", "note"),
    [
        (CT + 'secondary = "shorted"', "of current transformer 'ct' of W1 in L1 is shorted, so no"),
        (VT + 'secondary = "open"', "of voltage transformer 'vt' of W1 is open, so no voltage"),
    ],
)
def test_what_is_harmless_but_reads_zero(transformer: str, note: str) -> None:
    found = through(transformer)
    assert any(note in n for n in found)
    assert not [n for n in found if "DANGER" in n]


def test_the_reason_names_a_secondary_that_is_not_connected() -> None:
    text = MOTOR.replace("CURRENT", "10 A").replace("PF", "0.8").replace("MORE", "")
    result = simulator.solve(simulator.parse_scenario(text + CT + 'secondary = "shorted"'))
    assert result.total is not None
    assert result.total.indicated == 0
    assert "the secondary of 'ct' of W1 is shorted" in result.total.reason


# Reports ------------------------------------------------------------------------------------


def test_deflection_stands_beside_the_reading() -> None:
    text = MOTOR.replace("CURRENT", "4 A").replace("PF", "0.8")
    text = text.replace("MORE", RANGES + "divisions = 120\naccuracy_class = 0.5")
    result = simulator.solve(simulator.parse_scenario(text))
    # derived: 2400 W on 120 divisions are 20 W each; cos(30° + φ) at pf 0.8, 400 V, 4 A
    watts = 1600 * math.cos(math.radians(30) + math.acos(0.8))
    shown = simulator.result_object(result)["readings"][0]
    assert shown["watts_per_division"] == pytest.approx(20)
    assert shown["deflection_divisions"] == pytest.approx(watts / 20, rel=1e-9)
    assert shown["class_limit_w"] == pytest.approx(12)
    percent = {"current": 80, "voltage": 100 * 400 / 480, "pointer": watts / 24}
    assert shown["percent_of_range"] == pytest.approx(percent)
    table = simulator.result_text(result).splitlines()
    assert table[3].split("  ")[-1].strip() == "deflection div"
    assert float(table[5].split()[-1]) == pytest.approx(watts / 20, abs=0.01)


def test_a_meter_without_divisions_has_a_dash() -> None:
    text = MOTOR.replace("CURRENT", "4 A").replace("PF", "0.8")
    text = text.replace("MORE", RANGES + "divisions = 120") + "[instrument.ideal]\n"
    text = text.replace('instrument = "m"', 'instrument = ["m", "ideal"]')
    result = simulator.solve(simulator.parse_scenario(text))
    shown = simulator.result_text(result).splitlines()
    assert shown[6].split()[-1] == "–"
    assert "watts_per_division" not in simulator.result_object(result)["readings"][1]


def test_the_errors_of_a_transformer_are_shown() -> None:
    # standards.md, section 1.3, CALC: −0.400 %, +21.1′ (see tests/metering)
    text = MOTOR.replace("CURRENT", "80 A").replace("PF", "0.8").replace("MORE", "")
    text += CT + 'magnetising = "60j ohm"\nwinding = "0.05 ohm"\nburden = "0.4 ohm, 0.8 lag"\n'
    result = simulator.solve(simulator.parse_scenario(text))
    row = simulator.result_object(result)["readings"][0]["transformers"][0]
    assert row["ratio_error_percent"] == pytest.approx(-0.400, abs=5e-4)
    assert 60 * row["phase_displacement_deg"] == pytest.approx(21.1, abs=0.05)
    line = next(x for x in simulator.result_text(result).splitlines() if x.startswith("ct  "))
    assert line.split()[-5:-1] == ["80.0", "-0.400", "21.1", "10.00"]


def test_an_assumed_limit_says_so() -> None:
    text = MOTOR.replace("CURRENT", "50 A").replace("PF", "0.8").replace("MORE", "")
    text += CT + 'accuracy_class = "0.5"'
    shown = simulator.result_text(simulator.solve(simulator.parse_scenario(text)))
    # derived: 50 % is 3/8 of the way from 20 to 100 %: 0.75 − 0.25·3/8 %, 45 − 15·3/8 minutes
    assert "0.5: ±0.656 %, ±39.4′" in shown
    assert "Class 0.5 has limits at 5, 20, 100, 120 % of the rated value; a straight line" in shown
    at_a_point = text.replace('"50 A"', '"100 A"')
    shown = simulator.result_text(simulator.solve(simulator.parse_scenario(at_a_point)))
    assert "0.5: ±0.5 %, ±30′" in shown
    assert "straight line" not in shown


# Error terms --------------------------------------------------------------------------------


@pytest.mark.reference
@pytest.mark.parametrize(
    ("pf", "on", "percent"),
    [("1", 1, 0.25), ("1", 2, -0.25), ("0.2 lag", 1, 2.39), ("0.2 lag", 2, 1.88)],
)
def test_an_angle_error_of_only_one_meter(pf: str, on: int, percent: float) -> None:
    # needs.md, row 14 (derived there): 30 minutes in one of two meters, printed to 0.01 %; W1 is
    # the low meter
    text = MOTOR.replace("CURRENT", "10 A").replace("PF lag", pf).replace("MORE", "")
    meters = (
        '[[wattmeter]]\nname = "W1"\ncurrent = "L1"\nvoltage = ["L1", "L2"]\n'
        '[[wattmeter]]\nname = "W2"\ncurrent = "L3"\nvoltage = ["L3", "L2"]\n'
    )
    meters = meters.replace(f'"W{on}"\n', f'"W{on}"\ncurrent_transformer = "ct"\n')
    ct = '[current_transformer.ct]\nratio = "100/5 A"\nphase_displacement = "30 min"\n'
    text = text[: text.index("[method]")] + meters + ct + '[total]\npower = "W1 + W2"\n'
    result = simulator.solve(simulator.parse_scenario(text))
    assert result.total is not None
    assert result.total.error_percent == pytest.approx(percent, abs=0.005)


def test_errors_that_follow_from_a_burden_are_errors_of_transformers() -> None:
    # derived: the current divides between 60j and 0.37 + 0.24j ohm, so both readings are of a
    # secondary current times q; the meters sense only and take nothing
    text = MOTOR.replace("CURRENT", "80 A").replace("PF", "0.5").replace("MORE", "")
    text += CT + 'magnetising = "60j ohm"\nwinding = "0.05 ohm"\nburden = "0.4 ohm, 0.8 lag"\n'
    result = simulator.solve(simulator.parse_scenario(text))
    lines = result.first.line_currents
    q = 60j / (60j + 0.37 + 0.24j)
    voltage = [400 * complex(math.cos(a), math.sin(a)) for a in (math.pi / 6, math.pi / 2)]
    ideal, real = (
        sum((v * (k * i).conjugate()).real for v, i in zip(voltage, lines[[0, 2]], strict=True))
        for k in (1, q)
    )
    terms = error_terms(result.measurement, result.stations, result.total.indicated)  # type: ignore[union-attr]
    by_name = {term.name: term.value for term in terms}
    # the burden itself drops 0.03 % of the voltage between the taps and the load
    assert by_name["transformers and channels"] == pytest.approx(real - ideal, rel=1e-3)
    seen = q * (0.37 + 0.24j) / 400
    taken = sum(seen.real * abs(i) ** 2 for i in lines[[0, 2]])
    assert by_name["the meters' own consumption"] == pytest.approx(taken, rel=1e-6)


def test_a_compensated_wattmeter_has_no_consumption_of_its_own() -> None:
    # derived: on the load side the voltage circuits' 400²/10k W each are read along, or cancel
    text = MOTOR.replace("CURRENT", "8 A").replace("PF", "0.5") + 'voltage_tap = "load"\n'
    for more, own in (("", 2 * 400**2 / 10e3), ("compensated = true", 0)):
        plain = text.replace("MORE", f'voltage_circuit = "10 kohm"\n{more}')
        result = simulator.solve(simulator.parse_scenario(plain))
        terms = error_terms(result.measurement, result.stations, result.total.indicated)  # type: ignore[union-attr]
        by_name = {term.name: term.value for term in terms}
        assert by_name["the meters' own consumption"] == pytest.approx(own, abs=1e-9)
        assert by_name["transformers and channels"] == pytest.approx(0, abs=1e-9)

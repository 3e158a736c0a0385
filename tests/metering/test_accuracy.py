"""Limits of error by accuracy class, point by point against the reference tables."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from simulator.errors import ScenarioError
from simulator.metering.accuracy import (
    burden_range,
    current_transformer_limits,
    fiducial_value,
    lead_resistance,
    transformer_classes,
    voltage_transformer_limits,
    wattmeter_limit,
)

# IEC 61869-2:2012, 5.6.201.3, tables 201 to 203: ratio error % / minutes at percent of the rated
# primary current. SEEN at dowei-electric.com/technical/113.html.
CURRENT = {
    "0.1": {5: (0.4, 15), 20: (0.2, 8), 100: (0.1, 5), 120: (0.1, 5)},
    "0.2": {5: (0.75, 30), 20: (0.35, 15), 100: (0.2, 10), 120: (0.2, 10)},
    "0.5": {5: (1.5, 90), 20: (0.75, 45), 100: (0.5, 30), 120: (0.5, 30)},
    "1": {5: (3.0, 180), 20: (1.5, 90), 100: (1.0, 60), 120: (1.0, 60)},
    "0.2S": {1: (0.75, 30), 5: (0.35, 15), 20: (0.2, 10), 100: (0.2, 10), 120: (0.2, 10)},
    "0.5S": {1: (1.5, 90), 5: (0.75, 45), 20: (0.5, 30), 100: (0.5, 30), 120: (0.5, 30)},
    "3": {50: (3.0, None), 120: (3.0, None)},
    "5": {50: (5.0, None), 120: (5.0, None)},
}
# IEC 61869-3:2011, table 301, 80 to 120 % of the rated voltage. SEEN as reproduced.
VOLTAGE = {"0.1": (0.1, 5), "0.2": (0.2, 10), "0.5": (0.5, 20), "1": (1.0, 40), "3": (3.0, None)}
# IEEE C57.13: largest deviation of the correction factor from 1 in %, at the low point and at
# 100 %; and the confidence of each row.
IEEE_CURRENT = {
    "0.15S": (5, 0.15, 0.15, "MEM (high)"),
    "0.15": (5, 0.3, 0.15, "SEEN"),
    "0.3": (10, 0.6, 0.3, "SEEN"),
    "0.6": (10, 1.2, 0.6, "MEM (high)"),
    "1.2": (10, 2.4, 1.2, "MEM (high)"),
}
IEEE_VOLTAGE = ["0.15", "0.3", "0.6", "1.2"]  # 90 to 110 % of the voltage, MEM (high)


@pytest.mark.reference
@pytest.mark.parametrize("name", CURRENT)
def test_points_of_current_transformers(name: str) -> None:
    for percent, (ratio_error, minutes) in CURRENT[name].items():
        found = current_transformer_limits(name, percent)
        assert found.ratio_error == pytest.approx(ratio_error / 100, rel=1e-12)
        expected = None if minutes is None else pytest.approx(minutes / 60, rel=1e-12)
        assert found.phase_displacement == expected
        assert (found.skew, found.assumption, found.confidence) == (0, "", "SEEN")


@pytest.mark.reference
@pytest.mark.parametrize("name", VOLTAGE)
@pytest.mark.parametrize("percent", [80, 97.3, 120])
def test_points_of_voltage_transformers(name: str, percent: float) -> None:
    ratio_error, minutes = VOLTAGE[name]
    found = voltage_transformer_limits(name, percent)
    assert found.ratio_error == pytest.approx(ratio_error / 100, rel=1e-12)
    expected = None if minutes is None else pytest.approx(minutes / 60, rel=1e-12)
    assert found.phase_displacement == expected
    assert (found.skew, found.assumption) == (0, "")


@pytest.mark.reference
@pytest.mark.parametrize("name", IEEE_CURRENT)
def test_correction_factors_of_current_transformers(name: str) -> None:
    low_point, low, rated, confidence = IEEE_CURRENT[name]
    for percent, deviation in ((low_point, low), (100, rated)):
        found = current_transformer_limits(name, percent)
        assert found.ratio_error == pytest.approx(deviation / 100, rel=1e-12)
        assert found.confidence == confidence


@pytest.mark.reference
@pytest.mark.parametrize(
    ("name", "corner"), [("0.15", 7.8), ("0.3", 15.6), ("0.6", 31.2), ("1.2", 62.4)]
)
@pytest.mark.parametrize("limits", [current_transformer_limits, voltage_transformer_limits])
def test_corners_of_the_parallelogram(limits, name: str, corner: float) -> None:  # type: ignore[no-untyped-def]
    # corner angles CALC for RCF = 1 ± class; a current transformer's TCF = RCF − β/2600 (so a
    # ratio that is too large, ε < 0, goes with a leading secondary), a voltage transformer's
    # TCF = RCF + γ/2600; formula MEM (high), signs CALC
    found = limits(name, 100)
    sign = 1 if limits is current_transformer_limits else -1
    assert found.phase_displacement is not None
    for epsilon in (-found.ratio_error, found.ratio_error):
        angles = [60 * (found.skew * epsilon + side * found.phase_displacement) for side in (-1, 1)]
        expected = [0, corner] if epsilon * sign < 0 else [-corner, 0]
        assert angles == pytest.approx(expected, abs=1e-9)
    # derived: along the slanting sides the factor at power factor 0.6 stays at its limit; the
    # divisor 2600 is a rounding of 2578.3, so to 1 %
    c = found.ratio_error
    rcf, minutes = 1 + c, corner * sign
    power_factor_error = math.radians(minutes / 60) * math.tan(math.acos(0.6))
    assert rcf - sign * power_factor_error == pytest.approx(1 - c, abs=0.02 * c)


def test_every_class_is_listed() -> None:
    assert set(transformer_classes("current")) == {*CURRENT, *IEEE_CURRENT}
    assert set(transformer_classes("voltage")) == {*VOLTAGE, *IEEE_VOLTAGE}


def test_between_points_a_straight_line_and_the_word_for_it() -> None:
    # derived: 10 % is a third of the way from 5 to 20 %
    found = current_transformer_limits("0.5", 10)
    third = Fraction(1, 3)
    assert found.ratio_error == pytest.approx(float(150 - third * 75) / 1e4, rel=1e-12)
    assert found.phase_displacement == pytest.approx(float(90 - third * 45) / 60, rel=1e-12)
    assert found.assumption == (
        "Class 0.5 has limits at 5, 20, 100, 120 % of the rated value; a straight line is taken "
        "between"
    )


@pytest.mark.parametrize("percent", [5, 20, 30, 100])
def test_limits_do_not_jump_at_a_point(percent: float) -> None:
    for name in ("0.5", "0.2S", "0.3"):
        near = [current_transformer_limits(name, percent * k).ratio_error for k in (1 - 1e-9, 1)]
        assert near[0] == pytest.approx(near[1], rel=1e-6)


def test_below_the_lowest_point_the_absolute_error_is_kept() -> None:
    # derived: class 0.5 allows 1.5 % of 5 % of the rated current, 0.075 % of the rated current
    for percent in (4, 1, 0.1):
        found = current_transformer_limits("0.5", percent)
        assert found.ratio_error * percent == pytest.approx(0.015 * 5, rel=1e-12)
        assert "no limit below 5 %" in found.assumption
    nothing = current_transformer_limits("0.5", 0)
    assert (nothing.ratio_error, nothing.phase_displacement) == (1, 90)


def test_above_the_highest_point_limits_are_kept_and_this_is_said() -> None:
    found = current_transformer_limits("0.5", 160)
    assert found.ratio_error == pytest.approx(0.005, rel=1e-12)
    assert "no limit above 120 %" in found.assumption
    assert "no limit above 110 %" in voltage_transformer_limits("0.3", 111).assumption


@pytest.mark.reference
@pytest.mark.parametrize(
    ("limits", "name", "lowest", "highest", "source"),
    [  # the outer columns of the tables above
        (current_transformer_limits, "0.5", 5, 120, "IEC 61869-2"),
        (current_transformer_limits, "0.2S", 1, 120, "IEC 61869-2"),
        (current_transformer_limits, "3", 50, 120, "IEC 61869-2"),
        (current_transformer_limits, "0.15", 5, 100, "IEEE C57.13"),
        (voltage_transformer_limits, "1", 80, 120, "IEC 61869-3"),
        (voltage_transformer_limits, "0.6", 90, 110, "IEEE C57.13"),
    ],
)
def test_what_a_standard_promises_anything_about(  # type: ignore[no-untyped-def]
    limits, name: str, lowest: float, highest: float, source: str
) -> None:
    assert limits(name, (lowest + highest) / 2).source.startswith(source)
    # a percentage is a quotient: at an edge it may be off by its rounding
    for percent in (lowest, lowest * (1 - 1e-12), highest, highest * (1 + 1e-12)):
        assert limits(name, percent).covered is True
    for percent in (0, lowest * (1 - 1e-6), highest * (1 + 1e-6)):
        assert limits(name, percent).covered is False


@pytest.mark.reference
def test_burdens_for_which_a_class_holds() -> None:
    # IEC 61869-2, SEEN: 25 to 100 % of the rated burden, classes 3 and 5 from 50 %
    assert burden_range("current", "0.5S") == (25, 100)
    assert burden_range("current", "5") == (50, 100)
    assert burden_range("voltage", "0.2") == (25, 100)
    assert burden_range("current", "0.6") is None


@pytest.mark.parametrize("percent", [-1, math.nan])
def test_an_impossible_percentage_is_refused(percent: float) -> None:
    with pytest.raises(ScenarioError, match="at least 0"):
        current_transformer_limits("1", percent)


def test_an_unknown_class_is_answered_with_the_known_ones() -> None:
    with pytest.raises(ScenarioError, match=r"current transformer \(0\.1, .*got '0\.7'"):
        current_transformer_limits("0.7", 100)
    with pytest.raises(ScenarioError, match="voltage transformer"):
        burden_range("voltage", "0.2S")


@pytest.mark.reference
def test_a_wattmeter_class_refers_to_the_upper_limit_of_its_range() -> None:
    # standards.md, section 8, CALC: class 0.5, 1000 W: 5 W; 300 V × 5 A at rated pf 0.2: 300 W
    assert wattmeter_limit(0.5, 1000) == pytest.approx(5, rel=1e-12)
    assert fiducial_value(300, 5, 0.2) == pytest.approx(300, rel=1e-12)
    assert fiducial_value(480, 5) == pytest.approx(2400, rel=1e-12)  # needs.md, row 15


@pytest.mark.reference
def test_leads() -> None:
    # standards.md, section 1.4, CALC: a loop of 60 m of 2.5 mm²: 0.42 ohm, 10.5 VA at 5 A,
    # 0.42 VA at 1 A; needs.md, row 15: 15 m one way 0.21 ohm, 5.25 VA, 0.21 VA
    for loop, ohms, at_5, at_1 in ((60, 0.42, 10.5, 0.42), (2 * 15, 0.21, 5.25, 0.21)):
        R = lead_resistance(loop, 2.5)
        assert pytest.approx((ohms, at_5, at_1), rel=1e-12) == (R, 25 * R, R)
    # a published chart (SEEN) has 8.3 mohm for each metre of warm 2.5 mm², 12.5 VA for the 60 m
    assert 25 * lead_resistance(60, 2.5, resistivity=8.3e-3 * 2.5) == pytest.approx(12.5, abs=0.1)

"""Results as text: units in every heading, signs where they belong, nothing a terminal trips on."""

from __future__ import annotations

import re

import pytest

import simulator
from tests.reports.test_machine import CASES, DEAD, each_case
from tests.scenario.texts import FOUR, FOUR_WIRES, STAR, THREE, THREE_WIRES, W1, replaced


def text_of(scenario: str) -> str:
    return simulator.result_text(simulator.solve(simulator.parse_scenario(scenario)))


@each_case
def test_plain_lines(text: str) -> None:
    found = text_of(text)
    assert found.endswith("\n")
    assert not found.endswith("\n\n")
    for line in found.splitlines():
        assert line.isprintable()
        assert line == line.rstrip()
    words = set(re.split(r"[\s(),;]+", found))
    assert not words & {"nan", "NaN", "inf", "-inf", "None", "True", "False"}
    assert not re.search(r"[-−]0\.?0*(?![.\d])", found), "a zero with a sign"


UNITS = {"W", "A", "V", "°", "var", "VA", "factor", "%", "′", "div"}


@each_case
def test_every_number_has_a_unit(text: str) -> None:
    found = text_of(text).splitlines()
    rulers = [k for k, line in enumerate(found) if re.fullmatch(r"-+(  -+)*", line)]
    for k in rulers:
        columns = [(m.start(), m.end()) for m in re.finditer(r"-+", found[k])]
        for start, end in columns:
            heading, first = found[k - 1][start:end].strip(), found[k + 1][start:end].strip()
            if re.fullmatch(r"[+-]?\d+\.\d+", first):
                assert heading.split()[-1] in UNITS, heading


@pytest.mark.parametrize("name", CASES)
def test_shows_the_readings(name: str) -> None:
    result = simulator.solve(simulator.parse_scenario(CASES[name]))
    found = simulator.result_text(result)
    assert found.startswith(f"{result.measurement.title}\n")
    for reading in result.readings.values():
        (line,) = [x for x in found.splitlines() if re.match(rf"{reading.name}  ", x)]
        assert reading.direction in line
        shown = [float(x) for x in re.findall(r"[+-]?\d+\.\d+", line)]
        assert any(abs(x - reading.watts) <= 0.051 for x in shown)
    if result.total:
        assert result.total.formula in found
        assert result.total.reason in found


def test_numbers_of_a_total() -> None:
    # derived: 25 ohm, 25+10j ohm and 40 ohm to N at 400/√3 V take 160000/3·Re(1/Z) each:
    # 2133.33, 1839.08 and 1333.33 W, in all 5305.75 W
    found = text_of(FOUR_WIRES)
    assert re.search(r"^true active power of the loads +5305\.7 W$", found, re.MULTILINE)
    assert re.search(r"^indicated total  W1 \+ W2 +\d+\.\d W$", found, re.MULTILINE)
    assert re.search(r"^error +-?\d+\.\d W   \([+-]\d+\.\d\d % of the true value\)$", found, re.M)


def test_what_is_not_there_is_left_out() -> None:
    found = text_of(THREE)
    assert "No load\n" in found
    assert "pointer" not in found
    assert "total" not in found
    found = text_of(THREE + STAR + W1)
    assert "indicated total" not in found
    assert "station" not in found
    assert "Neutral current" not in text_of(THREE_WIRES)
    assert "Neutral current" in text_of(FOUR_WIRES)


def test_an_angle_of_nothing_is_a_dash() -> None:
    assert re.search(r"^ovens +L1 +0\.0+ +– +0\.0+ +– ", text_of(DEAD), re.MULTILINE)


def test_stations_are_told_apart() -> None:
    found = text_of(CASES["stations"])
    assert "Station 2\n" in found
    assert "Station 5\n" in found
    assert re.search(r"^W2 +all ", found, re.MULTILINE)
    assert re.search(r"^W1 +5 ", found, re.MULTILINE)


def test_the_reading_of_the_instrument_is_shown_behind_a_transformer() -> None:
    # derived: the ratio 100/5 makes it a twentieth
    text = replaced(THREE + STAR + W1, 'name = "W1"', 'name = "W1"\ncurrent_transformer = "ct"')
    found = text_of(text + '[current_transformer.ct]\nratio = "100/5 A"\n')
    (line,) = [x for x in found.splitlines() if x.startswith("W1 ")]
    shown = [float(x) for x in re.findall(r"[+-]?\d+\.\d+", line)]
    assert shown[-1] == pytest.approx(shown[0] / 20, abs=0.01)
    assert "at instrument W" in found
    assert "at instrument W" not in text_of(THREE_WIRES)


def test_labels_reach_the_text() -> None:
    own = FOUR + STAR + 'star_point = "neutral"\n' + W1
    own = own.replace("L1", "R").replace("L2", "S").replace("L3", "T")
    found = text_of('labels = ["R", "S", "T", "Mp"]\n' + own)
    assert "sequence R-S-T" in found
    assert not re.search(r"\bL[123]\b", found)


def test_a_reading_of_zero_shows_no_rounding() -> None:
    # derived: the current of a pure reactance is at right angles to its voltage
    text = FOUR + '[[load]]\nconnection = "star"\nstar_point = "neutral"\n'
    text += 'each = "23 ohm @ 90 deg"\n[method]\nname = "three wattmeters to neutral"\n'
    assert re.findall(r"^W\d +zero .* to N +(\S+)", text_of(text), re.MULTILINE) == ["0.0000"] * 3


def test_a_scenario_without_meters_says_how_to_connect_one() -> None:
    note = "\nNote: no meter is connected; [method] or [[wattmeter]] brings one\n"
    assert text_of(THREE + STAR).endswith(note)
    assert note not in text_of(THREE + STAR + W1)

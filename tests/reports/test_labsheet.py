"""Lab sheets: both percentages, a blank sheet that tells nothing, a key that tells all."""

from __future__ import annotations

import argparse
from functools import cache
from pathlib import Path

import pytest
from matplotlib.text import Text as FigureText

import simulator
from simulator.commands import labsheet
from simulator.errors import ScenarioError
from simulator.reports.document import Picture, Table, Text, Together
from simulator.reports.html import html_of
from simulator.reports.labsheet import lab_sheet, percent_of
from simulator.reports.markdown import markdown_of

SCENARIOS = Path(__file__).parents[2] / "scenarios"
NEUTRAL = "two-meters-with-a-neutral"  # base case U of the needs page, common line L2


@cache
def _result(name):
    return simulator.solve(simulator.read_scenario(SCENARIOS / f"{name}.toml"))


@cache
def _sheet(name, *, key=False):
    return lab_sheet(_result(name), key=key)


def _blocks(document):
    for block in document.blocks:
        yield from block.blocks if isinstance(block, Together) else [block]


def _rows(document, n):
    tables = [b for b in _blocks(document) if isinstance(b, Table) and "predicted" in b.headings]
    return {row[0]: row[1:] for row in tables[n].rows}


def _said(document):
    """Everything that a reader sees, figures included."""
    text = markdown_of(document, "s")[0]
    for block in document.blocks:
        if isinstance(block, Picture):
            seen = [t for t in block.figure.findobj(FigureText) if t.get_visible()]
            text += "\n".join(t.get_text() for t in seen)
    return text


@pytest.mark.reference
def test_need_21_both_percentages():
    """derived (needs page): 6870 W is −0.43 % of 6900 W predicted, and +49.3 % of P = 4600 W."""
    key = lab_sheet(_result(NEUTRAL), key=True, measured={("total", None): 6870.0})
    unit, predicted, measured, difference, of_predicted, of_true = _rows(key, 1)["total W1 + W2"]
    assert (unit, predicted, measured, difference) == ("W", "6900.0", "6870.0", "−30.0")
    assert of_predicted == "−0.43"
    assert of_true.startswith("+49.3")
    assert _rows(key, 1)["true P of the loads"][1] == "4600.0"


@pytest.mark.reference
def test_predicted_values_of_base_case_u3():
    """derived (needs page): 158.30, 365.57, 241.80 V; 6.883, 7.947, 10.513 A; 5265.79 W.

    The page's 6.883 A is its rounded 158.30 V over 23 ohm; without that rounding it is 6.8825 A.
    """
    checks = _rows(_sheet("lost-neutral", key=True), 0)
    for line, volts, amperes in (
        ("L1", 158.3, 6.883),
        ("L2", 365.57, 7.947),
        ("L3", 241.8, 10.513),
    ):
        assert float(checks[f"voltage {line} to N"][1]) == pytest.approx(volts, abs=0.006)
        assert float(checks[f"current in {line}"][1]) == pytest.approx(amperes, abs=1.1e-3)
    assert float(checks["current in N"][1]) == 0
    assert float(checks["voltmeter V2"][1]) == pytest.approx(365.57, abs=0.006)
    watts = _rows(_sheet("lost-neutral", key=True), 1)
    assert float(watts["true P of the loads"][1]) == pytest.approx(5265.79, abs=0.05)


ALL = sorted(path.stem for path in SCENARIOS.glob("*.toml"))


@pytest.mark.parametrize("name", [NEUTRAL, "lost-neutral", "through-current-transformers"])
def test_a_blank_sheet_tells_no_prediction(name):
    result = _result(name)
    blank, key = _sheet(name), _sheet(name, key=True)
    for n in (0, 1):
        for row in _rows(blank, n).values():
            assert set(row[1:]) <= {"", "–"}
    told = [r.watts for r in result.readings.values()]
    told += [r.at_instrument for r in result.readings.values()]
    told += [result.total.indicated, result.total.true, *result.first.voltmeters.values()]
    on_blank, on_key = _said(blank), _said(key)
    for value in told:
        kilo = f"{value / 1000:.4g} kW"
        for text in (f"{value:.4g} W", kilo, f"{value:.5g} V"):
            assert text not in on_blank, text
    assert any(f"{v:.4g} W" in on_key or f"{v / 1000:.4g} kW" in on_key for v in told)


def test_measured_values_on_a_blank_sheet_tell_no_difference():
    rows = _rows(lab_sheet(_result(NEUTRAL), measured={("total", None): 6870.0}), 1)
    assert rows["total W1 + W2"] == ("W", "", "6870.0", "", "", "")


def test_the_key_says_why():
    texts = [b.text for b in _blocks(_sheet(NEUTRAL, key=True)) if isinstance(b, Text)]
    (verdict,) = [text for text in texts if text.startswith("6900 W against 4600 W, +50.00 %.")]
    assert "2300 W too high" in verdict


def test_every_connection_is_listed_once_for_each_station():
    result = _result("one-meter-moved-in-turn")
    tables = [
        b
        for b in _blocks(_sheet("one-meter-moved-in-turn"))
        if isinstance(b, Table) and "made" in b.headings
    ]
    assert [t.caption for t in tables] == ["Station 1", "Station 2", "Station 3"]
    numbered = [
        line
        for line in simulator.connection_text(result).splitlines()
        if line[:3].strip().isdigit() and "star-point end" not in line
    ]
    assert sum(len(t.rows) for t in tables) == len(numbered)


def test_the_supply_is_one_with_terminals():
    """A class connects to sockets, not to the ends of sources."""
    (table,) = [
        b for b in _blocks(_sheet(NEUTRAL)) if isinstance(b, Table) and "made" in b.headings
    ]
    assert [row[1:3] for row in table.rows[-4:]] == [
        ("supply N", "N"),
        ("supply L1", "L1 on the supply side of W1"),
        ("supply L2", "L2"),
        ("supply L3", "L3 on the supply side of W2"),
    ]


@pytest.mark.parametrize("key", [False, True])
def test_ranges_are_told(key):
    texts = [
        b.text
        for b in _blocks(_sheet("through-current-transformers", key=key))
        if isinstance(b, Text)
    ]
    assert "every wattmeter: 5 A, 480 V." in texts


@pytest.mark.parametrize("key", [False, True])
def test_a_range_that_is_too_small_is_a_caution_without_numbers(key):
    """The scenario's own numbers: 8 A through current circuits of 5 A, 400 V on ranges of 480 V."""
    sheet = _sheet("overload-hidden-by-low-power-factor", key=key)
    cautions = [b.text for b in _blocks(sheet) if isinstance(b, Text) and b.caution]
    (found,) = [text for text in cautions if "Too small" in text]
    assert "Too small: current range of W1, current range of W2." in found
    assert not any(
        "Too small" in b.text
        for b in _blocks(_sheet("through-current-transformers", key=key))
        if isinstance(b, Text)
    )


def test_a_note_about_another_table_is_left_out():
    texts = [
        b.text
        for b in _blocks(_sheet("through-current-transformers", key=True))
        if isinstance(b, Text)
    ]
    assert not any("behind their transformers" in text for text in texts)


def test_a_scenario_without_wattmeters_has_a_sheet_of_voltages_and_currents():
    """derived: 230 V across 20 ohm drive 11.5 A."""
    scenario = simulator.scenario_from(
        {
            "title": "Heaters",
            "supply": {"wires": 4, "sequence_voltages": {"positive": "230 V"}},
            "load": [
                {"connection": "star", "star_point": "neutral", "each": "20 ohm", "name": "heaters"}
            ],
        }
    )
    key = lab_sheet(simulator.solve(scenario), key=True)
    assert float(_rows(key, 0)["current in L1"][1]) == pytest.approx(11.5, abs=0.001)
    assert "Wattmeters" not in html_of(key)


def test_what_the_instrument_itself_shows():
    """derived: 100/5 A, so 16 kW on the line are 800 W at the instrument."""
    rows = _rows(_sheet("through-current-transformers", key=True), 1)
    assert float(rows["W1 at the instrument"][1]) == pytest.approx(800, abs=0.5)
    assert float(rows["W1: I L1, V L1 to L2 (× 20)"][1]) == pytest.approx(16000, abs=0.5)


def test_cautions_are_on_every_sheet_and_dangers_too():
    cautions = [
        b.text
        for b in _blocks(_sheet("through-current-transformers"))
        if isinstance(b, Text) and b.caution
    ]
    assert any("Work dead" in text for text in cautions)
    assert any("Never open the secondary of a current transformer" in text for text in cautions)


def test_reactive_totals_are_of_true_q():
    key = _sheet("reactive-power-three-meters", key=True)
    (table,) = [b for b in _blocks(key) if isinstance(b, Table) and "% of true Q" in b.headings]
    assert table.rows[-1][:2] == ("true Q of the loads", "var")


@pytest.mark.parametrize(
    ("measured", "reference", "text"),
    [
        (6870.0, 6900.0, "−0.43"),
        (-210.0, -200.0, "+5.00"),
        (float("nan"), 5.0, ""),
        (3.0, 0.0, "–"),
    ],
)
def test_percentages(measured, reference, text):
    assert percent_of(measured, reference) == text


@pytest.mark.heavy
@pytest.mark.parametrize("name", ALL)
def test_every_scenario_has_a_lab_sheet(name):
    for key in (False, True):
        markdown_of(lab_sheet(_result(name), key=key), "s")


def _run(*arguments):
    parser = argparse.ArgumentParser()
    labsheet.add(parser.add_subparsers())
    options = parser.parse_args(["labsheet", *map(str, arguments)])
    return options.run(options)


FILE = SCENARIOS / f"{NEUTRAL}.toml"


def test_command_writes_sheet_and_key(tmp_path):
    out = tmp_path / "sheet.html"
    assert _run(FILE, "--out", out, "--key") == 0
    key = (tmp_path / "sheet-key.html").read_text("utf-8")
    assert "6900.0" in key
    assert "6900.0" not in out.read_text("utf-8")
    with pytest.raises(ScenarioError, match="--overwrite"):
        _run(FILE, "--out", out)
    assert _run(FILE, "--out", tmp_path / "sheet.md") == 0
    assert {path.name for path in tmp_path.glob("*.svg")} == {"sheet-figure-1.svg"}


def test_command_fills_in_what_was_measured(tmp_path):
    """derived: 3430 + 3440 = 6870 W."""
    readings = tmp_path / "r.csv"
    readings.write_text("name,value,unit\nW1,3430,W\nW2,3.44,kW\n")
    assert _run(FILE, "--out", tmp_path / "s.md", "--key", "--measured", readings) == 0
    key = (tmp_path / "s-key.md").read_text("utf-8")
    assert "| total W1 + W2 | W | 6900.0 | 6870.0 | −30.0 | −0.43 | +49.35 |" in key


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((FILE, "--out", "x.pdf"), r"x\.pdf: expected a file that ends in"),
        (("none.toml", "--out", "x.html"), r"none\.toml: cannot read it"),
        ((FILE, "--out", "x.html", "--measured", "none.csv"), r"none\.csv: cannot read it"),
    ],
)
def test_refused(arguments, message):
    with pytest.raises(ScenarioError, match=message):
        _run(*arguments)


def test_a_wrong_reading_is_named(tmp_path):
    readings = tmp_path / "r.csv"
    readings.write_text("name,value,unit\nW9,3430,W\n")
    with pytest.raises(ScenarioError, match=r"r\.csv: line 2, W9: there is no meter 'W9'"):
        _run(FILE, "--out", tmp_path / "s.md", "--measured", readings)

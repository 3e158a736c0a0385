"""``blondel faults`` and ``blondel compare`` from the command line."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

# needs.md base case B at power factor 0.8 lag: 1571.3 and 3971.3 W
SITE = """
title = "Pump of the brine works"
supply = { wires = 3, voltage = "400 V" }
load = [ { connection = "star", each = "18.475+13.856j ohm" } ]
method = { name = "two wattmeters", common = "L2" }
"""
RESISTIVE = SITE.replace("18.475+13.856j", "23.094")


@pytest.fixture
def run(blondel, tmp_path: Path):
    def run_command(command: str, scenario: str, *arguments: str) -> tuple[int, str, str]:
        file = tmp_path / "site.toml"
        file.write_text(scenario, encoding="utf-8")
        return blondel(command, file, *arguments)

    return run_command


@pytest.fixture
def readings(tmp_path: Path):
    def write(text: str) -> str:
        path = tmp_path / "readings.csv"
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


def test_the_contract_of_json(run):
    # commands.md: correct, hypotheses with these keys, settle_by
    status, out, err = run("faults", SITE, "--json")
    assert (status, err) == (0, "")
    found = json.loads(out)
    assert found["correct"] == pytest.approx({"W1": 1571.3, "W2": 3971.3}, abs=0.1)
    first = found["hypotheses"][0]
    assert first["description"] == "wired as in the scenario"
    assert first["readings"] == pytest.approx(found["correct"])
    assert first["total"] == pytest.approx(5542.6, abs=0.1)
    assert first["total_over_true"] == pytest.approx(1)
    assert first["group"] == 1
    assert {h["consistent"] for h in found["hypotheses"]} == {None}
    assert found["measured"] is None
    assert isinstance(found["settle_by"], str)
    by_name = {h["description"]: h for h in found["hypotheses"]}
    reversed_1 = by_name["current circuit of W1 reversed"]
    assert reversed_1["total_over_true"] == pytest.approx(0.433, abs=5e-4)  # needs.md 3.3
    assert reversed_1["group"] == by_name["voltage circuit of W1 reversed"]["group"]


def test_readings_that_a_fault_explains(run):
    status, out, err = run("faults", SITE, "--measured", "W1=-1571,W2=3.971kW", "--json")
    assert (status, err) == (0, "")
    found = json.loads(out)
    fitting = [h["description"] for h in found["hypotheses"] if h["consistent"]]
    assert "current circuit of W1 reversed" in fitting
    assert "wired as in the scenario" not in fitting
    assert found["measured"] == {"W1": -1571, "W2": 3971}
    assert found["tests"][0]["between"] == fitting
    status, text, _ = run("faults", SITE, "--measured", "W1=-1571,W2=3971")
    assert status == 0
    assert "the right wiring does not explain this" in text
    assert "shown by these tests if" in text
    assert "current circuit of W2 reversed\n" not in text.split("To settle it")[0]


def test_nothing_fits(run):
    status, out, err = run("faults", SITE, "--measured", "W1=3000,W2=3000")
    assert (status, err) == (1, "")
    assert "none of" in out
    assert "check the load" in out
    status, out, _ = run("faults", SITE, "--measured", "W1=3000,W2=3000", "--json")
    assert status == 1
    assert not any(h["consistent"] for h in json.loads(out)["hypotheses"])


def test_an_uncertain_load(run):
    # needs.md row 8: 2000 and 4000 W at power factor 0.866 and 10 A
    measured = ("--measured", "W1=2000,W2=4000")
    status, out, _ = run("faults", SITE, *measured)
    assert (status, "none of" in out) == (1, True)
    span = ("--power-factor", "0.95 lag..0.75 lag", "--current", "8 A..12 A", "--json")
    status, out, _ = run("faults", SITE, *measured, *span)
    right = json.loads(out)["hypotheses"][0]
    assert status == 0
    assert right["consistent"]
    assert right["load"]["power_factor"] == pytest.approx(0.866, abs=1e-3)
    assert right["load"]["current_a"] == pytest.approx(10, abs=0.01)
    _, text, _ = run("faults", SITE, *measured, *span[:-1])
    assert "power factor" in text
    assert "the right wiring explains this" in text


def test_what_a_resistive_load_proves(run):
    # needs.md row 19: 1.433 and 0.567 at 0.8 lag
    _, out, _ = run("faults", RESISTIVE)
    section = out.split("A resistive load proves little")[1]
    assert section.count("1.433") >= 2
    assert section.count("0.567") >= 2
    _, out, _ = run("faults", RESISTIVE, "--json")
    later = json.loads(out)["commissioning"]
    assert (later["resistive"], later["later"]) == (True, "0.8 lag")
    assert later["wrong_later"] >= 4


def test_the_table_lists_single_slips_first(run):
    _, few, _ = run("faults", SITE)
    _, many, _ = run("faults", SITE, "--slips", "9")
    assert "more slips are not listed" in few
    assert "more slips are not listed" not in many
    assert len(many.splitlines()) > len(few.splitlines()) + 20


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--measured", "W1=1"), "W2 is missing"),
        (("--measured", "W1=1,W2=2,W3=3"), "no wattmeter 'W3', only W1, W2"),
        (("--measured", "W1"), "--measured: expected NAME=READING"),
        (("--measured", ""), "--measured: expected NAME=READING"),
        (("--measured", "W1=1,W1=2"), "--measured: 'W1' is given twice"),
        (("--measured", "W1=many,W2=2"), "--measured, W1: "),
        (("--measured", "W1=nan,W2=2"), "--measured, W1: "),
        (("--measured", "W1=5V,W2=2"), "--measured, W1: "),
        (("--tolerance", "2"), "--tolerance: "),
        (("--tolerance", "0 %"), "--tolerance: expected more than 0 %"),
        (("--tolerance", "100 %"), "--tolerance: "),
        (("--power-factor", "0.8"), "--power-factor: "),
        (("--power-factor", "0.8 lag..0.9 lag..1"), "--power-factor: expected two values"),
        (("--current", "0 A..5 A"), "--current: "),
        (("--current", "5..6"), "--current: "),
        (("--slips", "few"), "--slips: expected a number"),
    ],
)
def test_wrong_options_of_faults(run, arguments, message):
    for more in ((), ("--json",)):
        status, out, err = run("faults", SITE, *arguments, *more)
        assert (status, out) == (2, "")
        assert message in err
        assert len(err.splitlines()) == 1


def test_compare(run, readings):
    good = readings("name,value,unit\nW1,1560,W\nW2,4.0,kW\n")
    status, out, err = run("compare", SITE, good)
    assert (status, err) == (0, "")
    assert "Everything that was read is within its tolerance" in out
    bad = readings("name,value,unit\nW1,-1571,W\nW2,3971,W\n")
    status, out, err = run("compare", SITE, bad)
    assert (status, err) == (1, "")
    assert "OUT" in out
    assert "current circuit of W1 reversed" in out
    status, out, _ = run("compare", SITE, bad, "--json")
    assert status == 1
    found = json.loads(out)
    assert [m["within"] for m in found["meters"]] == [False, True]
    assert run("compare", SITE, bad, "--tolerance", "90 %")[0] == 0


# SITE's 1571.3 and 3971.3 W behind 50/5 A: a tenth of that at the instruments
FED = (
    SITE.replace('common = "L2"', 'common = "L2", current_transformer = "ct"')
    + '[current_transformer.ct]\nratio = "50/5 A"\n'
)


@pytest.mark.parametrize(
    ("shown", "fits"),
    [
        ((157.1, 397.1), "wired as in the scenario"),
        ((-157.1, 397.1), "current transformer of W1 reversed"),
    ],
)
def test_readings_of_the_instruments_are_recognised(run, readings, shown, fits):
    one, two = shown
    file = readings(f"name,value,unit\nW1,{one},W\nW2,{two},W\n")
    for given in (("faults", "--measured", f"W1={one},W2={two}"), ("compare", file)):
        status, out, _ = run(given[0], FED, *given[1:])
        assert status == 1
        assert f"W1 × 10, W2 × 10, they fit '{fits}'" in out
    notes = json.loads(run("compare", FED, file, "--json")[1])["explanation"]["notes"]
    assert sum("seem to be the readings of the instruments" in note for note in notes) == 1


@pytest.mark.parametrize("scenario", [SITE, FED])
def test_readings_that_fit_nothing_are_not_taken_for_those_of_instruments(run, scenario):
    status, out, _ = run("faults", scenario, "--measured", "W1=3000,W2=3000")
    assert status == 1
    assert "seem to be" not in out
    assert "To settle it: check the load that was assumed" in out


def test_compare_says_what_settles_it_and_what_endangers(run, readings):
    """Derived: a reversed current circuit leaves V_L1-L2 where it is, a reversed voltage not."""
    file = readings("name,value,unit\nW1,-1571,W\nW2,3971,W\n")
    _, out, _ = run("compare", FED, file)
    (row,) = (x for x in out.splitlines() if x.endswith("  current transformer of W1 reversed"))
    (other,) = (x for x in out.splitlines() if x.endswith("  voltage circuit of W1 reversed"))
    assert [round(float(x)) for x in row.split()[:2]] == [0, 60]
    assert [abs(round(float(x))) for x in other.split()[:2]] == [180, 60]
    assert "Danger" not in out
    _, out, _ = run("compare", FED, readings("name,value,unit\nW1,0,W\nW2,3971,W\n"))
    assert "Danger: an open secondary" in out


def test_wrong_readings_are_one_message_with_the_line(run, readings):
    status, out, err = run("compare", SITE, readings("name,value,unit\nW1,1,5,W\n"), "--json")
    assert (status, out) == (2, "")
    assert "readings.csv: line 2: expected name,value,unit, got 4 values" in err
    assert len(err.splitlines()) == 1
    status, _, err = run("compare", SITE, readings("name,value,unit\nW9,1,W\n"))
    assert (status, len(err.splitlines())) == (2, 1)
    assert "readings.csv: line 2, W9: there is no meter 'W9'" in err
    status, _, err = run("compare", SITE, "nowhere.csv")
    assert status == 2
    assert "nowhere.csv: cannot read it" in err

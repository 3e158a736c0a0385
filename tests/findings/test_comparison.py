"""Measured beside predicted readings: the file, the tolerances, what explains them."""

from __future__ import annotations

import math

import pytest

import simulator
from simulator.errors import ScenarioError
from simulator.findings.comparison import compare
from simulator.findings.faults.loads import LoadSpan
from simulator.findings.readings_csv import parse_readings
from simulator.reports.comparison import comparison_object, comparison_text

ROOT3 = math.sqrt(3)
# needs.md base case B: 400 V, 10 A, here at power factor 0.8 lag: 1571.3 and 3971.3 W (row 8)
PHI = math.degrees(math.acos(0.8))
B = {
    "title": "B",
    "supply": {"wires": 3, "voltage": "400 V"},
    "load": [{"connection": "star", "each": f"{40 / ROOT3!r} ohm @ {PHI!r} deg"}],
    "method": {"name": "two wattmeters"},
    "voltmeter": [{"name": "V1", "between": ["L1", "L2"]}],
    "ammeter": [{"name": "A1", "in": "L1"}],
}


def compared(*lines, header="name,value,unit", document=B, **how):
    result = simulator.solve(simulator.scenario_from(document))
    text = "\n".join((header, *lines))
    return compare(result, parse_readings(text.encode()), **how)


def test_everything_within():
    found = compared("W1,1.58,kW", "W2,3960,W", "V1,402,V", "A1,9.9,A")
    assert found.within
    assert found.faults is None
    assert found.missing == ()
    first = found.readings[0]
    assert (first.unit, first.measured) == ("W", pytest.approx(1580))
    assert first.predicted == pytest.approx(1571.3, abs=0.05)
    assert first.difference == pytest.approx(8.7, abs=0.05)
    # 2 % of 400 V·10 A, of 400 V and of 10 A; of the total the sum
    assert [r.tolerance for r in found.readings] == pytest.approx([80, 80, 8, 0.2])
    assert found.total.name == "W1 + W2"
    assert (found.total.measured, found.total.tolerance) == pytest.approx((5540, 160))
    assert found.total.predicted == pytest.approx(5542.6, abs=0.05)


def test_the_edge_of_the_tolerance():
    exact = 4000 * math.cos(math.radians(30 + PHI))
    assert compared(f"W1,{exact + 79.9:.12g},W", "W2,3971,W").within
    out = compared(f"W1,{exact + 80.1:.12g},W", "W2,3971,W")
    assert [row.name for row in out.out] == ["W1"]
    assert compared(f"W1,{exact + 80.1:.12g},W", "W2,3971,W", tolerance=0.03).within


def test_limits_of_each_wattmeter():
    given = {"W1": 5.0, "W2": 50.0}
    found = compared("W1,1580,W", "W2,3990,W", limits=given)
    assert [row.tolerance for row in found.readings] == [5, 50]
    assert [row.name for row in found.out] == ["W1"]
    assert found.total.tolerance == 55
    assert found.faults.limits == given


def test_a_wiring_fault_explains_all_readings():
    # needs.md 3.3: CT A reversed reads -1571, 3971
    found = compared("W1,-1571,W", "W2,3971,W")
    assert not found.within
    described = [h.description for h in found.faults.fitting]
    assert described[:2] == ["current circuit of W1 reversed", "voltage circuit of W1 reversed"]
    words = comparison_text(found)
    assert "Out of tolerance: W1 by −3142.3 W, the total by" in words
    assert "current circuit of W1 reversed" in words


def test_a_reading_that_nothing_explains():
    found = compared("W1,1571,W", "W2,3000,W")
    assert found.faults.fitting == ()
    assert "wirings explains all readings" in comparison_text(found)


def test_another_load_explains_it_where_the_load_is_uncertain():
    # needs.md row 8: 2000 and 4000 W at power factor 0.866
    span = LoadSpan(phi=(25, 40))
    found = compared("W1,2000,W", "W2,4000,W", span=span)
    assert [row.name for row in found.out] == ["W1"]
    assert found.faults.right.consistent


def test_missing_wattmeters_are_named_and_no_fault_is_looked_for():
    found = compared("W2,-3971,W")
    assert found.missing == ("W1", "V1", "A1")
    assert (found.total, found.faults, found.within) == (None, None, False)
    assert "Not read: W1, V1, A1; without every wattmeter" in comparison_text(found)


def test_a_voltmeter_out_of_tolerance_is_no_wiring_fault():
    found = compared("W1,1571,W", "W2,3971,W", "V1,380,V")
    assert [row.name for row in found.out] == ["V1"]
    assert found.faults is None


def test_a_total_formed_by_hand():
    # the second one has 4 kW forgotten in the sum
    found = compared("W1,1571,W", "W2,3971,W", "total,5.5,kW")
    assert found.within
    assert found.readings[-1].predicted == pytest.approx(5542.6, abs=0.05)
    assert not compared("W1,1571,W", "W2,3971,W", "total,1542,W").within


def test_a_reactive_total_is_in_var():
    # needs.md row 25: √3·(W2 − W1) = 4156.9 var
    document = B | {"method": {"name": "two wattmeters for reactive power"}}
    found = compared("W1,1571,W", "W2,3971,W", "total,4157,var", document=document)
    assert found.total.predicted == pytest.approx(4156.9, abs=0.05)
    assert found.total.tolerance == pytest.approx(160 * ROOT3)
    with pytest.raises(ScenarioError, match=r"line 2, total: .*var"):
        compared("total,4157,W", document=document)


MOVED = {
    "title": "moved",
    "supply": {"wires": 4, "voltage": f"{230 * ROOT3!r} V"},
    "load": [
        {
            "connection": "star",
            "star_point": "neutral",
            "L1": "23 ohm",
            "L2": "46 ohm",
            "L3": "23 ohm @ 60 deg",
        }
    ],
    "method": {"name": "one wattmeter moved in turn"},
    "ammeter": [{"name": "AN", "in": "N"}],
}


def test_stations():
    # needs.md U: 2300, 1150, 1150 W; neutral current 13.229 A
    found = compared(
        "W1,2300,W,1",
        "W2,1150,W,",
        "W3,1150,W,3",
        "AN,13.2,A,1",
        "AN,13.2,A,2",
        header="name,value,unit,station",
        document=MOVED,
    )
    assert found.within
    assert [row.station for row in found.readings] == [1, 2, 3, 1, 2]
    assert found.readings[3].predicted == pytest.approx(13.229, abs=5e-4)
    assert found.total.measured == 4600
    for line, message in (
        ("W1,2300,W,2", "line 2, W1: it is read at station 1, got 2"),
        ("AN,13,A,4", "line 2, AN: there is no station 4, only 1, 2, 3"),
    ):
        with pytest.raises(ScenarioError, match=message):
            compared(line, header="name,value,unit,station", document=MOVED)
    with pytest.raises(ScenarioError, match="no station 1, nothing is moved"):
        compared("W1,2300,W,1", header="name,value,unit,station")


def test_a_meter_that_should_show_nothing():
    document = B | {"method": {"name": "three wattmeters to a line", "common": "L2"}}
    found = compared("W1,1571,W", "W2,30,W", "W3,3971,W", document=document)
    assert found.within
    assert found.readings[1].predicted == 0
    single = B | {"load": [{"connection": "line-to-line", "L2-L3": "40 ohm"}]}
    found = compared("A1,0.3,A", document=single)  # 2 % of the 10 A in the other lines
    assert found.readings[0].tolerance == pytest.approx(0.2)
    assert not found.within


def test_machine_readable():
    found = comparison_object(compared("W1,-1571,W", "W2,3971,W", "A1,10,A"))
    assert set(found["meters"][0]) == {
        "name",
        "station",
        "unit",
        "measured",
        "predicted",
        "difference",
        "tolerance",
        "within",
    }
    assert (found["within"], found["missing"]) == (False, ["V1"])
    assert found["explanation"]["hypotheses"][0]["consistent"]
    assert "angle" in found["explanation"]["settle_by"]


# The file --------------------------------------------------------------------------------------


def test_what_spreadsheets_write_is_read():
    text = '\ufeffName, Value ,UNIT\r\n\r\n W1 , 1.6 , kW \r\n"W2","4000",W\r\n,,\r\n'
    one, two = parse_readings(text.encode())
    assert (one.name, one.value, one.unit, one.station, one.line) == ("W1", "1.6", "kW", None, 3)
    assert two.place == "line 4, W2"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "expected the header name,value,unit or name,value,unit,station, got nothing"),
        ("\n\n", "expected the header name,value,unit or name,value,unit,station, got nothing"),
        ("name,value,unit\n", "expected readings below the header, got nothing"),
        ("W1,5,W\n", "line 1: expected the header name,value,unit or .*, got 'W1,5,W'"),
        (
            "name;value;unit\nW1;5;W\n",
            "line 1: .*'name;value;unit' .commas between the values, dec",
        ),
        ("value,name,unit\n", "line 1: expected the header"),
        ("name,value,unit,place\n", "line 1: expected the header"),
        ("name,value,unit\nW1,5\n", "line 2: expected name,value,unit, got 2 values: 'W1,5'"),
        ("name,value,unit\nW1,1,5,W\n", "line 2: .*got 4 values.*decimal point, no comma"),
        ("name,value,unit\n\n,5,W\n", "line 3: the name is missing"),
        ("name,value,unit\nW1,,W\n", "line 2: the value is missing"),
        ("name,value,unit\nW1,5,\n", "line 2: the unit is missing"),
        ("name,value,unit,station\nW1,5,W,two\n", "line 2: expected the number of a station"),
        ("name,value,unit,station\nW1,5,W,-1\n", "line 2: expected the number of a station"),
        ('name,value,unit\nW1,"5,W\n', "line 2: expected CSV"),
        ('name,value,unit\nW1,"5"x,W\n', "line 2: expected CSV"),
    ],
)
def test_malformed_files(text, message):
    with pytest.raises(ScenarioError, match=message):
        parse_readings(text.encode())


def test_files_that_are_no_text_or_too_large():
    with pytest.raises(ScenarioError, match="UTF-8"):
        parse_readings(b"name,value,unit\n\xff\xfe,1,W\n")
    with pytest.raises(ScenarioError, match="at most 100 kB"):
        parse_readings(b"x" * 100_001)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("W3,5,W", "line 2, W3: there is no meter 'W3', only W1, W2, V1, A1"),
        ("W1,5,V", "line 2, W1: .*'5 V'"),
        ("V1,5,kV A", "line 2, V1"),
        ("W1,five,W", "line 2, W1: .*'five W'"),
        ("W1,nan,W", "line 2, W1"),
        ("W1,1e999,W", "line 2, W1"),
        ("W1,1_000,W", "line 2, W1"),
        ("A1,5,mW", "line 2, A1"),
        ("w1,5,W", "there is no meter 'w1'"),
    ],
)
def test_readings_of_no_meter_or_quantity(line, message):
    with pytest.raises(ScenarioError, match=message):
        compared(line)


def test_a_reading_given_twice():
    with pytest.raises(ScenarioError, match="line 3, W1: this reading is given twice"):
        compared("W1,5,W", "W1,6,W")


def test_a_total_where_none_is_formed():
    document = {k: v for k, v in B.items() if k != "method"}
    document["wattmeter"] = [{"name": "W1", "current": "L1", "voltage": ["L1", "L2"]}]
    with pytest.raises(ScenarioError, match="line 2, total: the scenario forms no total"):
        compared("total,5,W", document=document)


def test_a_scenario_without_wattmeters_can_be_compared():
    document = {k: v for k, v in B.items() if k != "method"}
    found = compared("V1,401,V", "A1,10.5,A", document=document)
    assert [row.within for row in found.readings] == [True, False]
    assert found.total is None

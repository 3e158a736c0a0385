"""Inferences as JSON and as text: the contract's keys, and the working a person reads.

Numbers are those of the design page `needs.md`, derived there from phasors (CALC).
"""

from __future__ import annotations

import json
from typing import Any

import pytest

import simulator
from simulator.findings.inference import Given, infer
from simulator.findings.inference_from_scenario import infer_scenario
from simulator.quantities import PowerFactor
from simulator.reports.inference import inference_object, inference_text

# commands.md, `infer`
CONTRACT = {
    "active_w",
    "reactive_var",
    "apparent_va",
    "phi_deg",
    "power_factor",
    "sense",
    "impedance_ohm",
    "assumes",
    "steps",
}
CURVE = Given({"W1": 1571.3, "W2": 3971.3}, voltage=400, current=10)


def of(readings: dict[str, float], **known: Any) -> dict[str, Any]:
    found = inference_object(infer(Given(readings, **known)))
    text = json.dumps(found, allow_nan=False)
    assert json.loads(text) == found
    return found


def resistor(common: str) -> simulator.Scenario:
    return simulator.scenario_from(
        {
            "title": "Heater",
            "supply": {"wires": 3, "voltage": "400 V"},
            "load": [{"connection": "line-to-line", "L1-L2": "40 ohm"}],
            "method": {"name": "two wattmeters", "common": common},
        }
    )


def test_contract() -> None:
    found = inference_object(infer(CURVE))
    assert set(found) >= CONTRACT
    assert found["power_factor"] == pytest.approx(0.8, abs=1e-4)
    assert found["sense"] == "lag"
    assert found["phi_deg"] == pytest.approx(36.87, abs=0.005)
    assert found["apparent_va"] == pytest.approx(6928.2, abs=0.1)
    star, delta = found["impedance_ohm"]["star"], found["impedance_ohm"]["delta"]
    assert (star["re"], star["im"]) == pytest.approx((18.48, 13.86), abs=0.005)
    # derived: the delta that draws the same has three times the impedance
    assert (delta["re"], delta["im"]) == pytest.approx((3 * star["re"], 3 * star["im"]))
    assert [check["holds"] for check in found["checks"]] == [True, True, True]
    assert found["refused"] is found["would_have_claimed"] is found["true"] is None
    assert found["hypotheses"] == []
    assert found["settle_by"] is None


def test_absent_inputs_leave_nulls() -> None:
    found = of({"W1": 2000.0, "W2": 4000.0})
    assert found["impedance_ohm"] is found["line_voltage_v"] is found["line_current_a"] is None
    assert found["checks"] == []
    assert "The impedance needs the line voltage or a line current." in found["notes"]


def test_unknown_sense_leaves_its_parts_null() -> None:
    # base case B: 18.48 ohm and 13.86 ohm of unknown sign
    found = of({"W": 5542.5625 / 3}, voltage=400, current=10)
    assert found["power_factor"] == pytest.approx(0.8, abs=1e-6)
    assert found["phi_deg"] is found["reactive_var"] is found["sense"] is None
    assert found["impedance_ohm"]["star"] == {"re": pytest.approx(18.48, abs=0.005), "im": None}
    text = inference_text(infer(Given({"W": 5542.5625 / 3}, voltage=400, current=10)))
    assert "18.48±13.86j ohm" in text
    assert "±4156.9 var" in text
    assert "φ = ±36.87°: watts to a neutral do not tell lag from lead" in text
    assert "±230.9j ohm" in inference_text(infer(Given({"W": 0.0}, voltage=400, current=1)))


def test_refusal_keeps_the_total() -> None:
    found = of({"W1": 2400.0, "W2": 2400.0}, voltage=400, current=10)
    assert found["active_w"] == 4800
    for key in ("reactive_var", "apparent_va", "phi_deg", "power_factor", "sense", "impedance_ohm"):
        assert found[key] is None
    assert found["refused"].count(".") == 1 + found["refused"].count("2771.3")
    assert found["would_have_claimed"]["power_factor"] == 1
    assert found["steps"][-1] == found["refused"]


def test_claimed_beside_true() -> None:
    # needs.md row 7: the formula claims 0.5, 0.5 and 1.0; vector 1.000, arithmetic 0.866, effective
    # 0.707; no reactive power
    for common, factor in (("L1", 0.5), ("L2", 0.5), ("L3", 1.0)):
        inference = infer_scenario(resistor(common))
        found = inference_object(inference)
        assert found["power_factor"] is None
        assert found["active_w"] == pytest.approx(4000)
        assert found["would_have_claimed"]["power_factor"] == pytest.approx(factor)
        true = found["true"]
        assert true["reactive_var"] == pytest.approx(0, abs=1e-6)
        expected = {"vector": 1.0, "arithmetic": 0.866, "effective": 0.707, "collective": 0.707}
        assert true["power_factor"] == pytest.approx(expected, abs=5e-4)
        text = inference_text(inference)
        assert "would have claimed" in text
        assert "power factor, arithmetic" in text


def test_dead_scenario_has_no_power_factor() -> None:
    bench = simulator.scenario_from(
        {
            "title": "Nothing on",
            "supply": {"wires": 3, "voltage": "400 V"},
            "load": [{"connection": "star", "L1": "open", "L2": "open", "L3": "40 ohm"}],
            "method": {"name": "two wattmeters"},
        }
    )
    found = inference_object(infer_scenario(bench))
    assert set(found["true"]["power_factor"].values()) == {None}
    assert found["active_w"] == 0
    assert found["power_factor"] is None


def test_working_of_two_readings() -> None:
    text = "\n".join(of({"W1": 1571.3, "W2": 3971.3}, voltage=400)["steps"])
    for step in (
        "P = W1 + W2 = 1571.3 W + 3971.3 W = 5542.6 W",
        "L3 follows the common line L2 in the sequence L1-L2-L3; W2 is in it",
        "Q = √3·(W2 − W1) = √3·(3971.3 W − 1571.3 W) = 4156.9 var",
        "tan φ = Q/P = 4156.9 var/5542.6 W = 0.75, φ = 36.87°",
        "power factor = cos φ = 0.8, lag: the larger reading, W2, is in the line that follows",
        "S = √(P² + Q²) = √((5542.6 W)² + (4156.9 var)²) = 6928.2 VA",
        "I = S/(√3·V) = 6928.2 VA/(√3·400 V) = 10 A",
        "|Z| in star = V/(√3·I) = 400 V/(√3·10 A) = 23.09 ohm, at φ: 18.48+13.86j ohm",
        "69.28 ohm, at φ: 55.43+41.57j ohm",
    ):
        assert step in text


@pytest.mark.parametrize(
    ("common", "sequence", "follower", "meter"),
    [
        ("L1", 1, "L2", "W2"),
        ("L2", 1, "L3", "W2"),
        ("L3", 1, "L1", "W2"),
        ("L1", -1, "L3", "W1"),
        ("L2", -1, "L1", "W1"),
        ("L3", -1, "L2", "W1"),
    ],
)
def test_the_rule_names_the_line_that_follows(common, sequence, follower, meter) -> None:
    # scenario.md: W1 before the common line, W2 after it, in label order; derived: in the sequence
    # L3-L2-L1 the line before it in label order is the one that follows
    low, high = {"W2": (1571.3, 3971.3), "W1": (3971.3, 1571.3)}[meter]
    found = of({"W1": low, "W2": high}, common=common, sequence=sequence)
    names = "L1-L2-L3" if sequence == 1 else "L3-L2-L1"
    rule = f"{follower} follows the common line {common} in the sequence {names}; {meter} is in it"
    assert rule in found["steps"]
    assert found["sense"] == "lag"
    assert f"Q, φ and lag or lead: the sequence {names}" in found["assumes"]


def test_doubt() -> None:
    # needs.md row 5
    found = of({"W1": -694.6, "W2": 3064.2})
    assert [h["active_w"] for h in found["hypotheses"]] == pytest.approx([2369.6, 3758.8])
    assert [h["line_current_a"] for h in found["hypotheses"]] == [None, None]
    assert (
        "Voltmeter and ammeter: measure the line voltage and a line current." in found["settle_by"]
    )
    assert "move the voltage lead of W1 from L2 to L3" in found["settle_by"]
    assert "P: the minus of W1 is real, no circuit is reversed" in found["assumes"]
    with_voltage = of({"W1": -694.6, "W2": 3064.2}, voltage=400)
    assert "near 10 A, the minus of W1 is real" in with_voltage["settle_by"]
    assert "near 8.033 A, a circuit of W1 is reversed" in with_voltage["settle_by"]
    # derived: V = S/(√3·I), S = 6928.3 VA; without the minus √(3758.8² + 3·2369.6²) = 5565.4 VA
    with_current = of({"W1": -694.6, "W2": 3064.2}, current=10)
    assert "Voltmeter: near 400 V, the minus of W1 is real" in with_current["settle_by"]
    assert "near 321.3 V, a circuit of W1 is reversed" in with_current["settle_by"]
    settled = of({"W1": -694.6, "W2": 3064.2}, voltage=400, current=8.03)
    assert [h["fits"] for h in settled["hypotheses"]] == [False, True]
    assert settled["settle_by"] is None
    assert settled["active_w"] == pytest.approx(3758.8)
    assert settled["readings"]["W1"] == -694.6
    assert settled["steps"][2].startswith("The line current is 8.03 A: a circuit of W1 is reversed")
    assert "P = W1 + W2 = 694.6 W + 3064.2 W = 3758.8 W" in settled["steps"]
    text = inference_text(infer(Given({"W1": -694.6, "W2": 3064.2}, voltage=400)))
    assert "What the signs may mean\nif " in text
    assert "needs a line current of" in text


def test_a_minus_that_nothing_settles_says_what_else_it_may_mean() -> None:
    # derived: 1040 + 2830 = 3870 W; 1000 + 1000 + 1000 = 3000 W
    two = of({"W1": -1040.0, "W2": 2830.0}, objection="The load is unbalanced")
    reversed_one = (
        "P: the minus of W1 is real, no circuit is reversed (if one of W1 is, P = 3870 W)"
    )
    assert reversed_one in two["assumes"]
    three = of({"W1": 1000.0, "W2": -1000.0, "W3": 1000.0})
    assert any(text.endswith("(if one of W2 is, P = 3000 W)") for text in three["assumes"])


def test_what_no_ammeter_settles() -> None:
    back = of({"W1": -1000.0, "W2": -2000.0}, voltage=400, current=5)
    assert back["settle_by"].startswith("No ammeter settles it. Power that flows back: trace")
    assert [h["fits"] for h in back["hypotheses"]] == [True, True, False]
    assert "a circuit of W2 is reversed" in back["hypotheses"][2]["description"]
    near_zero = of({"W1": -20.0, "W2": 3464.0}, voltage=400, current=10)
    assert near_zero["settle_by"].startswith("No ammeter settles it. Lead test")
    neither = of({"W1": -694.6, "W2": 3064.2}, voltage=400, current=20)
    assert [h["fits"] for h in neither["hypotheses"]] == [False, False]
    assert neither["settle_by"] is None


def test_notes() -> None:
    passes = of({"W1": 2400.0, "W2": 3971.0}, voltage=400, current=10)
    assert passes["notes"][0].startswith("Passing these checks proves no wiring right")
    assert "15 % too high" in passes["notes"][1]
    near_unity = of({"W1": 1000.0, "W2": 1010.0}, voltage=400)
    assert (
        "The readings differ by less than 2 %: lag cannot be told from lead." in near_unity["notes"]
    )
    back = of({"W1": -1000.0, "W2": -2000.0})
    assert any(note.startswith("Power flows back") for note in back["notes"])
    assert back["impedance_ohm"] is None


def test_one_reading() -> None:
    found = of({"W": 1600.0}, voltage=400, power_factor=PowerFactor(1, None))
    assert found["steps"][0] == "P = 3·W = 3·1600 W = 4800 W"
    assert found["impedance_ohm"]["star"] == {"re": pytest.approx(100 / 3), "im": 0}
    assert "P: a balanced load" in found["assumes"]
    assert any("power factor is the one given" in line for line in found["assumes"])
    refused = of({"W": 1600.0}, objection="The load is unbalanced")
    assert refused["active_w"] is None
    assert refused["would_have_claimed"]["active_w"] == 4800
    assert refused["steps"][0] == "indicated = 3·W = 3·1600 W = 4800 W"
    assert refused["assumes"] == []


def test_text_of_refused_and_empty() -> None:
    text = inference_text(infer(Given({"W1": 0.0, "W2": 0.0})))
    assert "All readings are zero" in text
    text = inference_text(infer(Given({"W1": 2400.0, "W2": 2400.0}, voltage=400, current=10)))
    assert "fails" in text
    assert "within 2 %" in text

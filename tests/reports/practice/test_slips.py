"""The numbers that slips lead to, against those of the design pages' table of mistakes on paper.

derived: every number in section 3.1 and need 12 of the needs page comes from phasors there.
"""

from __future__ import annotations

import math
from dataclasses import replace
from random import Random

import pytest

from simulator.findings.inference import Given, infer
from simulator.reports.practice.apart import kept_apart
from simulator.reports.practice.circuit import Circuit
from simulator.reports.practice.infer_pair import infer_pair, pair_asks
from simulator.reports.practice.installations import Installation
from simulator.reports.practice.predict import predict
from simulator.reports.practice.problem import Ask, Choice
from simulator.reports.practice.slips import all_slips, numbers_of
from simulator.scenario.build import expand_method
from simulator.scenario.reader import scenario_from

# The page prints the numbers with four or five figures.
FOUR = 1e-3


def _pair(before, after, level=1):
    """Ask about two readings in L1 and L3 with common line L2 [W]."""
    asks = pair_asks(infer(Given({"W1": before, "W2": after})), level)
    return {ask.symbol: ask for ask in asks if isinstance(ask, Ask)}


def _value(ask, slip):
    (found,) = [s.value for s in ask.slips if slip in s.name]
    return found


@pytest.mark.reference
def test_need_12_its_example():
    """250 and −50 kW: P 200, φ 68.95, power factor 0.3592, Q 519.6, and its four slips."""
    asks = _pair(-50e3, 250e3) | _pair(-50e3, 250e3, level=2)
    assert asks["P"].value == pytest.approx(200e3)
    assert asks["φ"].value == pytest.approx(68.95, abs=0.005)
    assert asks["cos φ"].value == pytest.approx(0.3592, abs=5e-5)
    assert asks["Q"].value == pytest.approx(519.6e3, rel=FOUR)
    assert _value(asks["P"], "minus sign lost") == pytest.approx(300e3)
    assert _value(asks["cos φ"], "minus sign lost") == pytest.approx(0.6547, abs=5e-5)
    assert _value(asks["cos φ"], "√3 left out") == pytest.approx(0.5547, abs=5e-5)
    assert _value(asks["P"], "√3 applied") == pytest.approx(346.4e3, rel=FOUR)
    assert _value(asks["cos φ"], "upside down") == pytest.approx(0.6547, abs=5e-5)


def test_need_12_its_collision_asks_for_the_working():
    asks = _pair(-50e3, 250e3)
    (lost,) = [s for s in asks["cos φ"].slips if s.name == "minus sign lost"]
    (twin,) = asks["cos φ"].twins(lost)
    assert "upside down" in twin
    (in_watts,) = [s for s in asks["P"].slips if s.name == "minus sign lost"]
    assert asks["P"].twins(in_watts) == ()  # P tells the two apart


@pytest.mark.reference
def test_minus_forgotten_on_the_low_reading():
    """5 and −2 kW: P 3 -> 7 kW; power factor 0.240 -> 0.803."""
    asks = _pair(-2e3, 5e3)
    assert asks["cos φ"].value == pytest.approx(0.240, abs=5e-4)
    assert _value(asks["P"], "minus sign lost") == pytest.approx(7e3)
    assert _value(asks["cos φ"], "minus sign lost") == pytest.approx(0.803, abs=5e-4)


BASE_B = {
    "supply": {"wires": 3, "voltage": "400 V", "sequence": "L1-L2-L3"},
    "load": [{"name": "load", "connection": "delta", "each": "69.2820323 ohm @ 36.8698976 deg"}],
}
BASE_U = {
    "supply": {
        "wires": 4,
        "sequence_voltages": {"positive": "230 V"},
        "sequence": "L1-L2-L3",
    },
    "load": [
        {
            "name": "load",
            "connection": "star",
            "star_point": "neutral",
            "L1": "23 ohm",
            "L2": "46 ohm",
            "L3": "23 ohm @ 60 deg",
        }
    ],
}


U3 = {
    "supply": BASE_U["supply"] | {"wires": 3},
    "load": [BASE_U["load"][0] | {"star_point": "isolated"}],
}


def _circuit(tables, method, phi, given="delta"):
    scenario = scenario_from({"title": "t", **tables, "method": {"name": method}})
    plain = expand_method(scenario)
    meters = {
        "wattmeter": [
            {"name": w.name, "current": w.current, "voltage": w.voltage} for w in plain.wattmeter
        ],
        "total": {"power": plain.total.power},
    }
    return Circuit(Installation(tables, (), given, phi), method, meters, ())


@pytest.mark.reference
def test_base_case_b():
    """B, power factor 0.8: 5542.6 -> 9600 by √3, and by √3 and 3 both; W1 and W2 exchanged."""
    circuit = _circuit(BASE_B, "two wattmeters", 36.8698976)
    right, slips = numbers_of(circuit.result), all_slips(circuit)
    assert right["total"] == pytest.approx(5542.6, abs=0.05)
    assert slips["√3 applied to a sum of readings"]["total"] == pytest.approx(9600, rel=1e-6)
    assert slips["√3 and 3 both: 3·V·I·cos φ with line voltage"]["total"] == pytest.approx(9600)
    other = slips["other sequence, or lag taken for lead"]
    assert (other["W1"], other["W2"]) == pytest.approx((3971.3, 1571.3), abs=0.05)
    # 23.09 <-> 69.28 ohm, so three times or a third of everything
    mixed = slips["star taken for delta or the reverse"]
    assert mixed["total"] == pytest.approx(5542.6 / 3, abs=0.05)


@pytest.mark.reference
def test_base_case_u():
    """U: 25 A in place of 13.23; 4600 W seen as 6900 by two wattmeters with common L2."""
    circuit = _circuit(BASE_U, "three wattmeters to neutral", None, "neutral")
    right, slips = numbers_of(circuit.result), all_slips(circuit)
    assert right["I N"] == pytest.approx(13.229, abs=5e-4)
    assert slips["currents added without their angles"]["I N"] == pytest.approx(25.0)
    # three wires' formula with the neutral connected
    meters = {
        "wattmeter": [
            {"name": "W1", "current": "L1", "voltage": ["L1", "L2"]},
            {"name": "W2", "current": "L3", "voltage": ["L3", "L2"]},
        ],
        "total": {"power": "W1 + W2"},
    }
    wrong = Circuit(Installation(BASE_U, (), "neutral", None), "two wattmeters", meters, ())
    assert numbers_of(wrong.result)["true"] == pytest.approx(4600)
    taken = all_slips(wrong)["indicated total taken for the true one"]
    assert taken == pytest.approx({"true": 6900})


@pytest.mark.reference
def test_base_case_u3_reading_taken_for_the_power_of_a_phase():
    """U3, common B: readings 1089.5 and 4176.3, phase powers 1089.5 and 1271.1 (L1 by chance)."""
    circuit = _circuit(U3, "two wattmeters", None, "isolated")
    assert numbers_of(circuit.result)["W2"] == pytest.approx(4176.3, abs=0.05)
    phase = all_slips(circuit)["reading taken for the power of that branch"]
    assert (phase["W1"], phase["W2"]) == pytest.approx((1089.5, 1271.1), abs=0.05)


BALANCED_FORMULA = "√3·(W2 − W1) and its tan φ, which are for balanced loads"


@pytest.mark.reference
def test_base_case_u3_formulas_of_balanced_loads():
    """U3, common B: Q 2201.5 -> 5346.6, power factor 0.923 -> 0.702.

    derived (needs page's currents and P): 230 V·(6.8825 + 7.947 + 10.513) A = 5829 VA, and
    5265.79 W over that is 0.9034.
    """
    circuit = _circuit(U3, "two wattmeters", None, "isolated")
    right, slips = numbers_of(circuit.result), all_slips(circuit)
    assert right["Q"] == pytest.approx(2201.5, abs=0.05)
    assert right["cos φ"] == pytest.approx(0.923, abs=5e-4)
    wrong = slips[BALANCED_FORMULA]
    assert wrong["Q"] == pytest.approx(5346.6, abs=0.05)
    assert wrong["cos φ"] == pytest.approx(0.702, abs=5e-4)
    assert slips["S = √3·V·I with the mean current"]["cos φ"] == pytest.approx(0.9034, abs=1e-4)


@pytest.mark.reference
def test_base_case_r_a_power_factor_of_one_seen_as_a_half():
    """R: one resistor between L1 and L2; by the formula of balanced loads 0.5, Q is 0."""
    tables = {
        "supply": BASE_B["supply"],
        "load": [{"name": "load", "connection": "line-to-line", "L1-L2": "40 ohm"}],
    }
    circuit = _circuit(tables, "two wattmeters", None)
    assert numbers_of(circuit.result)["cos φ"] == pytest.approx(1)
    assert all_slips(circuit)[BALANCED_FORMULA]["cos φ"] == pytest.approx(0.5)


def test_formulas_of_balanced_loads_are_no_slip_on_balanced_loads_or_four_wires():
    balanced = _circuit(BASE_B, "two wattmeters", 36.8698976)
    assert BALANCED_FORMULA not in all_slips(balanced)
    four = _circuit(BASE_U, "three wattmeters to neutral", None, "neutral")
    assert BALANCED_FORMULA not in all_slips(four)


def test_line_voltage_times_root_3_once_more():
    """derived: 400 V taken for 692.8 V, so W1 1571.3 -> 2721.6 W."""
    slips = all_slips(_circuit(BASE_B, "two wattmeters", 36.8698976))
    found = slips["√3 applied to the line voltage once more"]
    assert found["W1"] == pytest.approx(2721.6, abs=0.1)
    assert found["total"] == pytest.approx(9600, abs=0.01)


def test_two_wattmeters_on_four_wires_are_met_at_level_3():
    """The formula of three wires with the neutral connected: what is indicated is not true."""
    seen = set()
    for seed in range(6):
        problem = predict(Random(seed), Random(seed), "two wattmeters", 3)  # noqa: S311
        symbols = {ask.symbol: ask for ask in problem.asks if isinstance(ask, Ask)}
        four = problem.told[0].startswith("Four")
        seen.add(four)
        assert ("true" in symbols) == ("I N" in symbols) == four
        assert ("cos φ" in symbols) == (not four)
        if four:
            slips = [slip.name for slip in symbols["true"].slips]
            assert "indicated total taken for the true one" in slips
    assert seen == {True, False}


@pytest.mark.parametrize(
    "method", ["one wattmeter to neutral", "two wattmeters for reactive power"]
)
@pytest.mark.parametrize("level", [1, 2, 3])
def test_numbers_keep_slips_apart(method, level):
    """By the definition of what a marker allows, 1 % around either number."""
    for seed in "abc":
        problem = kept_apart(lambda a, b: predict(a, b, method, level), seed)
        for ask in problem.asks:
            values = [("right", ask.value), *((s.name, s.value) for s in ask.slips)]
            for k, (name, a) in enumerate(values):
                for other, b in values[k + 1 :]:
                    near = abs(a - b) < 0.02 * min(abs(a), abs(b))
                    # what is near is the same number, not another one by chance
                    assert not near or math.isclose(a, b, rel_tol=1e-5), (name, other, a, b)


def test_a_problem_with_too_few_numbers_is_refused():
    problem = infer_pair(Random(1), Random(1), "two wattmeters", 1)  # noqa: S311
    P = problem.asks[0]

    def draw(_, random):
        # a slip that is always near the right answer, and never exactly
        near = replace(P.slips[0], name="rounding", value=P.value * (1 + 0.001 * random.random()))
        return replace(problem, asks=(replace(P, slips=(near,)),))

    with pytest.raises(RuntimeError, match="no numbers keep the slips apart"):
        kept_apart(draw, "x")


def test_what_always_meets_is_kept():
    """Two slips that lead to the same number whatever it is do not stop a problem."""
    problem = infer_pair(Random(1), Random(1), "two wattmeters", 1)  # noqa: S311
    P = problem.asks[0]

    def draw(_, random):
        value = P.value * (2 + random.random())
        twins = tuple(replace(P.slips[0], name=name, value=value) for name in ("one", "other"))
        return replace(problem, asks=(replace(P, slips=twins),))

    (ask,) = kept_apart(draw, "x").asks
    assert ask.twins(ask.slips[0]) == ("other",)


def test_what_meets_once_is_no_proof_of_always_meeting():
    problem = infer_pair(Random(1), Random(1), "two wattmeters", 1)  # noqa: S311
    P, drawn = problem.asks[0], []

    def draw(_, random):
        drawn.append(random)
        rare = replace(P.slips[0], name="rare", value=P.value)
        slips = (rare,) if len(drawn) == 1 else P.slips[:1]
        return replace(problem, asks=(replace(P, slips=slips),))

    (ask,) = kept_apart(draw, "x").asks
    assert [slip.name for slip in ask.slips] != ["rare"]


def test_sense_is_asked_from_level_2_on():
    asks = pair_asks(infer(Given({"W1": 4e3, "W2": 2e3})), 2)
    (sense,) = [ask for ask in asks if isinstance(ask, Choice)]
    assert sense.right == {"lead"}  # the larger reading is not in the line that follows L2


NEUTRAL = {
    "supply": {"wires": 4, "sequence_voltages": {"positive": "230 V"}, "sequence": "L1-L2-L3"},
    "load": [
        {
            "name": "load",
            "connection": "star",
            "star_point": "neutral",
            "each": "23 ohm @ 36.8698976 deg",
        }
    ],
}
SIZE = 230 * 10  # V·I of a phase; power factor 0.8, so sine 0.6
LINE = 400 * 10  # V·I of a wattmeter between lines


def _meters(total, *places, reactive=False):
    names = ["W"] if len(places) == 1 else [f"W{k}" for k in range(1, len(places) + 1)]
    wattmeters = [
        {"name": n, "current": current, "voltage": voltage}
        for n, (current, voltage) in zip(names, places, strict=True)
    ]
    return {"wattmeter": wattmeters, "total": {"reactive_power" if reactive else "power": total}}


@pytest.mark.parametrize(
    ("slip", "expected"),
    [
        ("line voltage in place of the phase voltage", {"W": math.sqrt(3) * 0.8 * SIZE}),
        ("sine in place of cosine", {"W": 0.6 * SIZE}),
        ("cosine left out", {"W": SIZE, "total": 3 * SIZE}),
        ("one reading taken for the whole", {"total": 0.8 * SIZE}),
        ("√3 in place of 3", {"total": math.sqrt(3) * 0.8 * SIZE}),
    ],
)
def test_slips_with_one_wattmeter_to_neutral(slip, expected):
    """derived: 230 V, 10 A, power factor 0.8, right 1840 W and 5520 W."""
    meters = _meters("3*W", ("L1", ["L1", "N"]))
    installation = Installation(NEUTRAL, (), "current", 36.8698976)
    found = all_slips(Circuit(installation, "one wattmeter to neutral", meters, ()))[slip]
    assert {k: found[k] for k in expected} == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("slip", "expected"),
    [
        # right: 4000·cos 66.87° and 4000·cos 6.87°
        ("phase voltage in place of the line voltage", {"W1": 907.2, "W2": 2292.8}),
        ("branch current taken for the line current", {"W1": 907.2, "W2": 2292.8}),
        ("φ taken for the angle between V and I", {"W1": 0.8 * LINE, "W2": 0.8 * LINE}),
        ("cosine left out", {"W1": LINE, "W2": LINE, "total": 2 * LINE}),
    ],
)
def test_slips_with_two_wattmeters(slip, expected):
    found = all_slips(_circuit(BASE_B, "two wattmeters", 36.8698976))[slip]
    assert {k: found[k] for k in expected} == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(
    ("slip", "expected"),
    [
        # right: (I L1 − I L2) at 0.8 lag and 230 V, √3·10·230·cos 6.87°
        ("current of the own line alone", {"W1": 0.8 * SIZE, "W2": 0.8 * SIZE}),
        # I L1 + I L2 = −I L3, at −96.87°; I L3 + I L2 = −I L1, 23.13° ahead of V L3
        (
            "sum of the currents in place of their difference",
            {
                "W1": SIZE * math.cos(math.radians(96.8698976)),
                "W2": SIZE * math.cos(math.radians(23.1301024)),
            },
        ),
    ],
)
def test_slips_with_difference_currents(slip, expected):
    meters = _meters("W1 + W2", (["L1", "-L2"], ["L1", "N"]), (["L3", "-L2"], ["L3", "N"]))
    installation = Installation(NEUTRAL, (), "current", 36.8698976)
    found = all_slips(Circuit(installation, "two elements, difference currents", meters, ()))[slip]
    assert {k: found[k] for k in expected} == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("method", "total", "places", "expected"),
    [
        # W = V·I·sin φ = 2400, Q = √3·2400
        (
            "one wattmeter for reactive power",
            "sqrt(3)*W",
            [("L1", ["L2", "L3"])],
            {"√3 left out": 2400.0, "3 in place of √3": 7200.0},
        ),
        (
            "two wattmeters for reactive power",
            "sqrt(3)*(W2 - W1)",
            [("L1", ["L1", "L2"]), ("L3", ["L3", "L2"])],
            {"√3 left out": 2400.0, "sum of the readings": math.sqrt(3) * 5542.5626},
        ),
        (
            "three wattmeters for reactive power",
            "(W1 + W2 + W3)/sqrt(3)",
            [("L1", ["L2", "L3"]), ("L2", ["L3", "L1"]), ("L3", ["L1", "L2"])],
            {"not divided by √3": 7200.0, "divided by 3 in place of √3": 2400.0},
        ),
    ],
)
def test_slips_with_reactive_power(method, total, places, expected):
    meters = _meters(total, *places, reactive=True)
    circuit = Circuit(Installation(BASE_B, (), "delta", 36.8698976), method, meters, ())
    slips = all_slips(circuit)
    for name, value in expected.items():
        (found,) = [numbers for key, numbers in slips.items() if key.startswith(name)]
        assert found["total"] == pytest.approx(value, rel=1e-6)


def test_star_point_taken_for_the_neutral():
    """derived: on a balanced load each line carries V·I·cos φ, whatever the star point does."""
    three = {"supply": BASE_B["supply"], "load": BASE_B["load"]}
    meters = _meters("3*W", ("L1", ["L1", "P"])) | {
        "instrument": {"r20": {"voltage_circuit": "20 kohm"}},
        "impedance": [
            {"name": "R1", "between": ["L2", "P"], "value": "20 kohm", "side": "supply"},
            {"name": "R2", "between": ["L3", "P"], "value": "10 kohm", "side": "supply"},
        ],
    }
    meters["wattmeter"][0]["instrument"] = "r20"
    installation = Installation(three, (), "delta", 36.8698976)
    circuit = Circuit(installation, "one wattmeter with artificial neutral", meters, ())
    found = all_slips(circuit)["star point P taken for the supply's neutral"]
    assert found["W"] == pytest.approx(5542.5626 / 3, rel=1e-6)
    assert circuit.result["W"].watts != pytest.approx(found["W"], rel=0.05)

"""Every kind of quantity, against the document with another value in it, solved one by one."""

from __future__ import annotations

import copy
import math
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from simulator.errors import QuantityError, ScenarioError
from simulator.studies.prepared import known_quantities
from simulator.studies.run import vary
from simulator.studies.steps import Steps
from tests.studies.documents import (
    EVERYTHING,
    Document,
    assert_same,
    changed,
    expected,
    rows,
    scenario,
)

if TYPE_CHECKING:
    from collections.abc import Callable

# path, where it stands in the document, values
IN_THE_FILE: list[tuple[str, tuple[str | int, ...], list[str]]] = [
    ("supply: voltage", ("supply", "voltage"), ["380 V", "415 V"]),
    ("supply: frequency", ("supply", "frequency"), ["45 Hz", "60 Hz"]),
    ("supply: line_impedance", ("supply", "line_impedance"), ["0 ohm", "0.3+0.1j ohm"]),
    ("supply: neutral_impedance", ("supply", "neutral_impedance"), ["0 ohm", "2 ohm", "open"]),
    ("ovens: L2", ("load", 0, "L2"), ["10 ohm", "20 ohm, 0.6 lead", "open", "0 ohm"]),
    ("load ovens: L3", ("load", 0, "L3"), ["10 ohm", "-30j ohm"]),
    ("ovens: lead_impedance", ("load", 0, "lead_impedance"), ["0 ohm", "1+1j ohm"]),
    ("ovens: neutral_lead", ("load", 0, "neutral_lead"), ["0 ohm", "3 ohm", "open"]),
    ("lathe: total power", ("load", 1, "total", "power"), ["2 kW", "6 kW"]),
    (
        "lathe: total power_factor",
        ("load", 1, "total", "power_factor"),
        ["0.5 lag", "1", "0.9 lead"],
    ),
    ("lamps: L1 inductance", ("load", 2, "L1", "inductance"), ["0 H", "200 mH"]),
    ("lamps: L1 resistance", ("load", 2, "L1", "resistance"), ["0 ohm", "70 ohm"]),
    ("lamps: L2 capacitance", ("load", 2, "L2", "capacitance"), ["4 uF", "100 uF"]),
    ("lamps: L2 resistance", ("load", 2, "L2", "resistance"), ["20 ohm", "100 ohm"]),
    ("lamps: L3 current", ("load", 2, "L3", "current"), ["1 A", "5 A"]),
    ("lamps: L3 reactive_power", ("load", 2, "L3", "reactive_power"), ["-100 var", "300 var"]),
    ("drive: circuit R2", ("load", 3, "circuit", "R2"), ["0.1 ohm", "1 ohm"]),
    ("drive: circuit Xm", ("load", 3, "circuit", "Xm"), ["10 ohm", "60 ohm"]),
    ("impedance balancing resistor: value", ("impedance", 0, "value"), ["50 ohm", "open"]),
    ("before: value", ("impedance", 1, "value"), ["50+5j ohm", "open"]),
    (
        "instrument portable: voltage_circuit",
        ("instrument", "portable", "voltage_circuit"),
        ["5 kohm", "9 kohm, 1 H", "5+2j kohm", "open"],
    ),
    (
        "instrument portable: current_circuit",
        ("instrument", "portable", "current_circuit"),
        ["0 ohm", "0.5+0.2j ohm"],
    ),
    ("instrument static: gain_error", ("instrument", "static", "gain_error"), ["-2 %", "0 %"]),
    ("instrument static: phase_error", ("instrument", "static", "phase_error"), ["0 deg", "3 deg"]),
    (
        "instrument corrected: voltage_circuit",
        ("instrument", "corrected", "voltage_circuit"),
        ["1 kohm", "3+1j kohm"],
    ),
    (
        "current_transformer stated: ratio_error",
        ("current_transformer", "stated", "ratio_error"),
        ["-3 %", "0 %", "1 %"],
    ),
    (
        "current_transformer stated: phase_displacement",
        ("current_transformer", "stated", "phase_displacement"),
        ["-1 deg", "30 min"],
    ),
    (
        "current_transformer built: burden",
        ("current_transformer", "built", "burden"),
        ["0 ohm", "2+1j ohm"],
    ),
    (
        "current_transformer built: magnetising",
        ("current_transformer", "built", "magnetising"),
        ["5j ohm", "open"],
    ),
    (
        "current_transformer built: winding",
        ("current_transformer", "built", "winding"),
        ["0 ohm", "1 ohm"],
    ),
    (
        "voltage_transformer built: winding",
        ("voltage_transformer", "built", "winding"),
        ["0 ohm", "100 ohm"],
    ),
    (
        "voltage_transformer built: burden",
        ("voltage_transformer", "built", "burden"),
        ["500 ohm", "open"],
    ),
    (
        "voltage_transformer stated: ratio_error",
        ("voltage_transformer", "stated", "ratio_error"),
        ["5 %", "-5 %"],
    ),
]


@pytest.mark.parametrize(("path", "address", "values"), IN_THE_FILE, ids=lambda x: str(x)[:44])
def test_a_quantity_of_the_file(path: str, address: Any, values: list[str]) -> None:
    study = vary(scenario(EVERYTHING), {path: values})
    assert_same(study, [changed(EVERYTHING, *address, value=value) for value in values])


def branch(name: str) -> Callable[[Document, str], Document]:
    """Change one branch of a balanced star, which the file must then list."""

    def change(document: Document, value: str) -> Document:
        document = copy.deepcopy(document)
        each = document["load"][0].pop("each")
        document["load"][0] |= dict.fromkeys(("L1", "L2", "L3"), each) | {name: value}
        return document

    return change


def each(document: Document, value: str) -> Document:
    document = copy.deepcopy(document)
    for line in ("L1", "L2", "L3"):
        document["load"][0].pop(line, None)
    document["load"][0]["each"] = value
    return document


def per_line(document: Document, value: str) -> Document:
    lines = {"L1": "0.05+0.02j ohm", "L2": value, "L3": "0.05+0.02j ohm"}
    return changed(document, "supply", "line_impedance", value=lines)


def phase(document: Document, value: str) -> Document:
    """Write a symmetrical supply by its phase voltages, one of them another."""
    document = copy.deepcopy(document)
    del document["supply"]["voltage"]
    own = 400 / math.sqrt(3)
    document["supply"]["phase_voltages"] = {
        "L1": f"{own!r} V",
        "L2": value,
        "L3": f"{own!r} V @ 120 deg",
    }
    document["load"][1]["total"]["at"] = "400 V"
    document["load"][2]["L3"]["at"] = f"{own!r} V"
    return document


BALANCED = changed(each(EVERYTHING, "30+5j ohm"), "load", 0, "name", value="ovens")


@pytest.mark.parametrize(
    ("document", "path", "values", "change"),
    [
        (BALANCED, "ovens: each", ["20 ohm", "40 ohm @ 60 deg"], each),
        (EVERYTHING, "ovens: each", ["20 ohm", "40 ohm @ 60 deg"], each),
        (BALANCED, "ovens: L2", ["20 ohm", "open"], branch("L2")),
        (EVERYTHING, "supply: line_impedance L2", ["0 ohm", "1 ohm"], per_line),
        (EVERYTHING, "supply: L2", ["200 V @ -120 deg", "222 V @ -100 deg"], phase),
    ],
    ids=["each", "each of listed ones", "one of each", "one line", "one phase"],
)
def test_a_quantity_that_the_file_says_otherwise(document, path, values, change) -> None:
    study = vary(scenario(document), {path: values})
    assert_same(study, [change(document, value) for value in values])


def test_a_phase_voltage_without_an_angle_keeps_its_own() -> None:
    study = vary(scenario(EVERYTHING), {"supply: L2": ["200 V", "240 V"]})
    documents = [phase(EVERYTHING, f"{volts} V @ -120 deg") for volts in (200, 240)]
    assert_same(study, documents)


def test_unbalance_of_a_phase_voltage_is_a_part_of_it() -> None:
    study = vary(scenario(EVERYTHING), {"supply: unbalance L2": ["-5 %", "3 %"]})
    own = 400 / math.sqrt(3)
    documents = [phase(EVERYTHING, f"{own * part!r} V @ -120 deg") for part in (0.95, 1.03)]
    assert_same(study, documents)


def test_power_factor_and_angle_keep_the_magnitudes() -> None:
    # derived: |Z| cos φ + j|Z| sin φ, by hand for the three branches 25, |25+10j| and 40 ohm
    sizes = {"L1": 25.0, "L2": math.hypot(25, 10), "L3": 40.0}

    def turned(phi: float) -> Document:
        document = copy.deepcopy(EVERYTHING)
        document["load"][0] |= {k: f"{size!r} ohm @ {phi!r} deg" for k, size in sizes.items()}
        return document

    angles = [-90.0, -60.0, 0.0, 36.86989764584402, 90.0]
    documents = [turned(phi) for phi in angles]
    factors = ["0 lead", "0.5 lead", "1", "0.8 lag", "0 lag"]
    assert_same(vary(scenario(EVERYTHING), {"ovens: power_factor": factors}), documents)
    texts = [f"{phi!r} deg" for phi in angles]
    assert_same(vary(scenario(EVERYTHING), {"ovens: angle": texts}), documents)


def test_unbalance_raises_the_admittance_of_a_branch() -> None:
    # derived: 1.25 times the admittance is 1/1.25 of the 25 ohm; half of it twice
    study = vary(scenario(EVERYTHING), {"ovens: unbalance L1": ["25 %", "-50 %"]})
    documents = [changed(EVERYTHING, "load", 0, "L1", value=z) for z in ("20 ohm", "50 ohm")]
    assert_same(study, documents)


def test_a_slip_alone_and_with_other_quantities() -> None:
    slips = ["0", "0.01", "0.05", "1", "1.9"]
    study = vary(scenario(EVERYTHING), {"drive: slip": slips})
    documents = [changed(EVERYTHING, "load", 3, "slip", value=float(s)) for s in slips]
    assert_same(study, documents)
    study = vary(
        scenario(EVERYTHING),
        {"drive: slip": ["0.02", "0.6"], "supply: voltage": ["350 V", "420 V"]},
    )
    documents = [
        changed(changed(EVERYTHING, "load", 3, "slip", value=s), "supply", "voltage", value=v)
        for s in (0.02, 0.6)
        for v in ("350 V", "420 V")
    ]
    assert_same(study, documents)


def test_the_other_sequence_turns_the_motor_too() -> None:
    document = changed(EVERYTHING, "supply", "sequence", value="L3-L2-L1")
    study = vary(scenario(document), {"drive: slip": ["0.02", "0.6"]})
    assert_same(study, [changed(document, "load", 3, "slip", value=s) for s in (0.02, 0.6)])


def test_a_rare_value_of_another_angle_is_seen() -> None:
    # an angle is given to a branch's magnitude, which is no power of its impedance
    ohms = [f"{10 + k / 100!r} ohm" for k in range(3000)]
    ohms[2345] = "15j ohm"
    study = vary(scenario(EVERYTHING), {"ovens: L2": ohms, "ovens: angle": ["30 deg"]})
    turned = {"L1": "25 ohm @ 30 deg", "L2": "15 ohm @ 30 deg", "L3": "40 ohm @ 30 deg"}
    document = copy.deepcopy(EVERYTHING)
    document["load"][0] |= turned
    found = rows(study)[:, 2345]
    assert found.tolist() == pytest.approx([*expected(document).values()], rel=1e-9, abs=1e-7)


def test_voltages_that_turn_a_motor_round_are_refused_alone() -> None:
    two = {"supply: L2": ["231 V @ -120 deg", "231 V @ 120 deg"]}
    both = two | {"supply: L3": ["231 V @ 120 deg", "231 V @ -120 deg"]}
    study = vary(scenario(EVERYTHING), both, together=True)
    assert list(study.failed) == [1]
    assert "the other sequence, which turns the motors round" in study.failed[1]
    without = copy.deepcopy(EVERYTHING)
    del without["load"][3]
    assert not vary(scenario(without), both, together=True).failed
    other = changed(EVERYTHING, "supply", "sequence", value="L3-L2-L1")
    assert list(vary(scenario(other), both, together=True).failed) == [0]


def test_a_load_may_be_called_supply() -> None:
    document = changed(EVERYTHING, "load", 0, "name", value="supply")
    study = vary(scenario(document), {"load supply: L2": ["10 ohm"]})
    assert_same(study, [changed(document, "load", 0, "L2", value="10 ohm")])
    study = vary(scenario(document), {"supply: L2": ["200 V @ -120 deg"]})
    assert_same(study, [phase(document, "200 V @ -120 deg")])


SHIPPED = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_scenarios_read_the_same(path: Path) -> None:
    document = tomllib.loads(path.read_text(encoding="utf-8"))
    frequencies = [document["supply"].get("frequency", "50 Hz"), "55 Hz"]
    study = vary(scenario(document), {"supply: frequency": frequencies})
    assert_same(study, [changed(document, "supply", "frequency", value=f) for f in frequencies])


DELTA = {
    "title": "Delta in other words",
    "labels": ["A", "B", "C"],
    "supply": {
        "wires": 3,
        "sequence_voltages": {"positive": "230 V", "negative": "6 V @ 40 deg"},
        "line_impedance": {"A": "0.1 ohm"},
    },
    "load": [{"connection": "delta", "A-B": "40 ohm", "B-C": "50+5j ohm", "A-C": "30 ohm"}],
    "method": {"name": "two wattmeters", "common": "B"},
}


@pytest.mark.parametrize(
    ("path", "address", "values"),
    [
        ("load 1: A-B", ("load", 0, "A-B"), ["20 ohm", "open"]),
        ("load 1: A-C", ("load", 0, "A-C"), ["20 ohm", "35j ohm"]),
        ("load 1: C-A", ("load", 0, "A-C"), ["20 ohm", "35j ohm"]),
        ("supply: negative", ("supply", "sequence_voltages", "negative"), ["0 V", "20 V @ 40 deg"]),
        ("supply: positive", ("supply", "sequence_voltages", "positive"), ["200 V", "250 V"]),
        ("supply: line_impedance A", ("supply", "line_impedance", "A"), ["0 ohm", "2 ohm"]),
    ],
)
def test_a_delta_in_the_words_of_its_file(path: str, address: Any, values: list[str]) -> None:
    study = vary(scenario(DELTA), {path: values})
    assert_same(study, [changed(DELTA, *address, value=value) for value in values])


def test_resistors_equal_to_a_voltage_circuit_follow_it() -> None:
    document = {
        "title": "Artificial neutral",
        "supply": {"wires": 3, "voltage": "400 V"},
        "load": [
            {"name": "fan", "connection": "star", "L1": "20 ohm", "L2": "25 ohm", "L3": "9 ohm"}
        ],
        "instrument": {"x": {"voltage_circuit": "20 kohm, 1 H"}},
        "method": {"name": "one wattmeter with artificial neutral", "instrument": "x"},
    }
    values = ["1 kohm", "5 kohm", "7 kohm, 3 H"]
    study = vary(scenario(document), {"instrument x: voltage_circuit": values})
    address = ("instrument", "x", "voltage_circuit")
    assert_same(study, [changed(document, *address, value=value) for value in values])
    study = vary(scenario(document), {"supply: frequency": ["50 Hz", "400 Hz"]})
    assert_same(
        study, [changed(document, "supply", "frequency", value=f) for f in ("50 Hz", "400 Hz")]
    )


def test_one_meter_moved_in_turn_is_read_where_it_is() -> None:
    document = {
        "title": "Moved",
        "supply": {"wires": 4, "voltage": "400 V"},
        "load": [
            {
                "name": "stalls",
                "connection": "star",
                "star_point": "neutral",
                "L1": "20 ohm",
                "L2": "25 ohm",
                "L3": "9+4j ohm",
            }
        ],
        "instrument": {"x": {"voltage_circuit": "2 kohm", "current_circuit": "1 ohm"}},
        "method": {"name": "one wattmeter moved in turn", "instrument": "x"},
    }
    values = ["5 ohm", "30+20j ohm"]
    study = vary(scenario(document), {"stalls: L3": values})
    assert_same(study, [changed(document, "load", 0, "L3", value=value) for value in values])


def test_without_a_total_there_is_the_power_of_the_loads() -> None:
    document = {k: v for k, v in EVERYTHING.items() if k != "total"}
    study = vary(scenario(document), {"ovens: L1": ["10 ohm", "50 ohm"]})
    assert (study.total, study.error, study.error_percent) == (None, None, None)
    assert_same(study, [changed(document, "load", 0, "L1", value=z) for z in ("10 ohm", "50 ohm")])


def test_a_reactive_total_is_compared_with_reactive_power() -> None:
    document = changed(EVERYTHING, "total", value={"reactive_power": "W1 - W2"})
    study = vary(scenario(document), {"ovens: L1": ["10+3j ohm"]})
    assert study.total_unit == "var"
    assert_same(study, [changed(document, "load", 0, "L1", value="10+3j ohm")])


def test_every_quantity_that_is_listed_can_be_given_its_own_value() -> None:
    written = scenario(EVERYTHING)
    known = known_quantities(written).values()
    own = {q.path: [q.kind.write(q.base)] for q in known if q.base is not None}
    assert len(own) > 70
    wanted = pytest.approx([*expected(EVERYTHING).values()][:-2], rel=1e-4)
    for path, value in own.items():
        (result,) = rows(vary(written, {path: value})).T.tolist()
        assert result[:-2] == wanted, path  # six digits of the values are written


def test_a_quantity_that_another_replaces_is_refused() -> None:
    written = scenario(EVERYTHING)
    for first, second in (
        ("ovens: L1", "ovens: each"),
        ("ovens: unbalance L1", "ovens: L1"),
        ("ovens: angle", "ovens: power_factor"),
        ("lathe: total power", "lathe: each"),
        ("supply: line_impedance L2", "supply: line_impedance"),
        ("supply: unbalance L3", "supply: L3"),
    ):
        known = known_quantities(written)
        own = {p: [known[p].kind.write(known[p].base or 0.8)] for p in (first, second)}
        with pytest.raises(ScenarioError) as caught:
            vary(written, own)
        assert str(caught.value).startswith(f"{first}: it changes nothing beside the others")
    # the other way round both matter; so do magnitude and angle
    both = {"ovens: each": ["20 ohm"], "ovens: L1": ["30 ohm"]}
    document = changed(each(EVERYTHING, "20 ohm"), "load", 0, "name", value="ovens")
    assert_same(vary(written, both), [branch("L1")(document, "30 ohm")])
    # what matters nowhere is no contradiction
    spare = changed(EVERYTHING, "instrument", "spare", value={"voltage_circuit": "1 kohm"})
    unused = {f"instrument spare: {key}_circuit": ["2 ohm"] for key in ("voltage", "current")}
    assert_same(vary(scenario(spare), unused), [EVERYTHING])


def test_a_negative_sequence_that_prevails_is_still_the_negative_one() -> None:
    document = copy.deepcopy(EVERYTHING)
    del document["supply"]["voltage"]
    document["supply"]["sequence_voltages"] = {"positive": "230 V", "negative": "5 V"}
    negative = ["20 V", "300 V"]
    study = vary(scenario(document), {"supply: negative": negative})
    address = ("supply", "sequence_voltages", "negative")
    assert_same(study, [changed(document, *address, value=value) for value in negative])


@pytest.mark.parametrize(
    ("path", "values", "said"),
    [
        ("oven: L2", ["1 ohm"], "no quantity 'oven: L2' to vary; did you mean 'ovens: L2'?"),
        ("nothing at all", ["1 ohm"], "'blondel vary FILE' lists what there is"),
        (
            "ovens: L2",
            ["25 V"],
            "ovens: L2: expected an impedance, for example '33.1 ohm', got '25 V'",
        ),
        (
            "ovens: L2",
            ["-5 ohm"],
            "expected an impedance without negative resistance, got '-5 ohm'",
        ),
        ("ovens: L2", [25], "expected an impedance"),
        ("ovens: L2", [], "ovens: L2: expected at least one value"),
        ("ovens: L2", "10 ohm", "expected a list of values, got the text '10 ohm'"),
        ("supply: voltage", ["0 V"], "expected a voltage above 0 V"),
        ("ovens: power_factor", ["1.2 lag"], "expected a power factor from 0 to 1"),
        ("ovens: angle", ["100 deg"], "expected an angle from -90 to 90 deg, got '100 deg'"),
        ("ovens: unbalance L1", ["-100 %"], "expected a percentage above -100 %, got '-100 %'"),
        ("drive: slip", ["2.5"], "expected a slip from 0 to 2, got '2.5'"),
        (
            "drive: slip",
            ["fast"],
            "drive: slip: expected a number, for example '0.022', got 'fast'",
        ),
        ("instrument portable: gain_error", ["1 %"], "there is no quantity"),
    ],
)
def test_refusals_name_the_quantity(path: str, values: Any, said: str) -> None:
    with pytest.raises((ScenarioError, QuantityError)) as caught:
        vary(scenario(EVERYTHING), {path: values})
    assert said in str(caught.value)


def test_what_cannot_vary_at_once_is_refused() -> None:
    written = scenario(EVERYTHING)
    with pytest.raises(ScenarioError, match="ovens: L1: it is given twice"):
        vary(written, {"ovens: L1": ["1 ohm"], "load ovens: L1": ["2 ohm"]})
    both = {
        "supply: frequency": ["50 Hz"],
        "instrument portable: voltage_circuit": ["1+1j kohm"],
    }
    with pytest.raises(ScenarioError, match="reactance cannot be given while the frequency"):
        vary(written, both)
    with pytest.raises(ScenarioError, match="there is no quantity to vary"):
        vary(written, {})
    with pytest.raises(ScenarioError, match=r"ovens: L1 has 2, ovens: L2 has 1"):
        vary(written, {"ovens: L1": ["1 ohm", "2 ohm"], "ovens: L2": ["2 ohm"]}, together=True)
    long = Steps("1 ohm", "2 ohm", 10_001)
    with pytest.raises(ScenarioError, match=r"each of 3 quantities with each makes 1e\+12 cases"):
        vary(written, {f"ovens: L{k}": long for k in (1, 2, 3)})


def test_steps_reach_both_ends() -> None:
    # derived: 10·10^(k/2) and the middle of 10 and 20+4j
    study = vary(
        scenario(EVERYTHING), {"ovens: L1": Steps("10 ohm", "1 kohm", 5, logarithmic=True)}
    )
    wanted = [10, 31.622776601683793, 100, 316.22776601683796, 1000]
    assert study.axes[0].values.tolist() == pytest.approx(wanted, rel=1e-14)
    assert study.axes[0].values[-1] == 1000
    study = vary(scenario(EVERYTHING), {"ovens: L1": Steps("10 ohm", "20+4j ohm", 3)})
    assert study.axes[0].values.tolist() == [10, 15 + 2j, 20 + 4j]
    study = vary(scenario(EVERYTHING), {"ovens: L1": Steps("0.2 ohm", "0.9 ohm", 3)})
    assert study.axes[0].values[-1] == 0.9  # where 0.2 + (0.9 − 0.2) is not
    study = vary(scenario(EVERYTHING), {"ovens: power_factor": Steps("0.5 lead", "1", 3)})
    assert study.axes[0].texts == ["0.5 lead", "0.75 lead", "1"]


@pytest.mark.parametrize(
    ("path", "steps", "said"),
    [
        ("ovens: L1", Steps("1 ohm", "open", 3), "no steps from '1 ohm' to 'open'"),
        ("ovens: L1", Steps("0 ohm", "1 ohm", 3, logarithmic=True), "no logarithmic steps"),
        ("ovens: L1", Steps("1 ohm", "1j ohm", 3, logarithmic=True), "no logarithmic steps"),
        ("ovens: L1", Steps("1 ohm", "2 ohm", 1), "expected from 2 to 10000000 steps, got 1"),
        ("ovens: power_factor", Steps("0.5 lag", "0.5 lead", 3), "vary the angle instead"),
    ],
)
def test_steps_that_are_none(path: str, steps: Steps, said: str) -> None:
    with pytest.raises(QuantityError) as caught:
        vary(scenario(EVERYTHING), {path: steps})
    assert said in str(caught.value)

"""Every method of the catalogue against the wattmeters of design/scenario.md, written by hand."""

from __future__ import annotations

from typing import Any

import pytest

import simulator
from simulator.installation.conductors import Conductors
from simulator.metering.catalogue import METHODS, expand

THREE = Conductors()
FOUR = Conductors(neutral="N")


def w(name: str, current: str | list[str], start: str, end: str, **more: int) -> dict[str, Any]:
    return {"name": name, "current": current, "voltage": [start, end]} | more


SUM = {"power": "W1 + W2 + W3"}
TO_N = [w("W1", "L1", "L1", "N"), w("W2", "L2", "L2", "N"), w("W3", "L3", "L3", "N")]
IN_TURN = [table | {"station": k} for k, table in enumerate(TO_N, 1)]
TO_P = [w("W1", "L1", "L1", "P"), w("W2", "L2", "L2", "P"), w("W3", "L3", "L3", "P")]
CROSSED = [w("W1", "L1", "L2", "L3"), w("W2", "L2", "L3", "L1"), w("W3", "L3", "L1", "L2")]
DIFFERENCES = [w("W1", ["L1", "-L2"], "L1", "N"), w("W2", ["L3", "-L2"], "L3", "N")]
# "W1 is in the line before the common line, W2 in the one after it, cyclically in label order"
COMMON = {
    "L1": [w("W1", "L3", "L3", "L1"), w("W2", "L2", "L2", "L1")],
    "L2": [w("W1", "L1", "L1", "L2"), w("W2", "L3", "L3", "L2")],
    "L3": [w("W1", "L2", "L2", "L3"), w("W2", "L1", "L1", "L3")],
}
ONE_REACTIVE = {
    "L1": w("W", "L1", "L2", "L3"),
    "L2": w("W", "L2", "L3", "L1"),
    "L3": w("W", "L3", "L1", "L2"),
}
TWO_POSITIONS = {
    "L1": [w("W1", "L1", "L1", "L2", station=1), w("W2", "L1", "L1", "L3", station=2)],
    "L2": [w("W1", "L2", "L2", "L3", station=1), w("W2", "L2", "L2", "L1", station=2)],
    "L3": [w("W1", "L3", "L3", "L1", station=1), w("W2", "L3", "L3", "L2", station=2)],
}
ROOT = "sqrt(3)*(W2 - W1)"

# method, conductors, options, wattmeters, total
TABLE: list[tuple[str, Conductors, dict[str, str], list[dict[str, Any]], dict[str, str]]] = [
    ("one wattmeter to neutral", FOUR, {}, [w("W", "L1", "L1", "N")], {"power": "3*W"}),
    ("one wattmeter with artificial neutral", THREE, {}, [w("W", "L1", "L1", "P")],
     {"power": "3*W"}),
    ("one wattmeter, two positions", THREE, {}, TWO_POSITIONS["L1"], {"power": "W1 + W2"}),
    ("two wattmeters", THREE, {}, COMMON["L2"], {"power": "W1 + W2"}),
    ("three wattmeters to neutral", FOUR, {}, TO_N, SUM),
    ("three wattmeters to a floating star point", THREE, {}, TO_P, SUM),
    ("three wattmeters to a floating star point", FOUR, {}, TO_P, SUM),
    ("three wattmeters to a line", THREE, {},
     [w("W1", "L1", "L1", "L2"), w("W2", "L2", "L2", "L2"), w("W3", "L3", "L3", "L2")], SUM),
    ("three wattmeters to a line", THREE, {"common": "L3"},
     [w("W1", "L1", "L1", "L3"), w("W2", "L2", "L2", "L3"), w("W3", "L3", "L3", "L3")], SUM),
    ("one wattmeter moved in turn", FOUR, {}, IN_TURN, SUM),
    ("one wattmeter for reactive power", THREE, {}, [ONE_REACTIVE["L1"]],
     {"reactive_power": "sqrt(3)*W"}),
    ("two wattmeters for reactive power", THREE, {}, COMMON["L2"], {"reactive_power": ROOT}),
    ("three wattmeters for reactive power", THREE, {}, CROSSED,
     {"reactive_power": "(W1 + W2 + W3)/sqrt(3)"}),
    ("three wattmeters for reactive power", FOUR, {}, CROSSED,
     {"reactive_power": "(W1 + W2 + W3)/sqrt(3)"}),
    ("two elements, difference currents", FOUR, {}, DIFFERENCES, {"power": "W1 + W2"}),
]  # fmt: skip
for line in ("L1", "L2", "L3"):
    TABLE += [
        ("two wattmeters", THREE, {"common": line}, COMMON[line], {"power": "W1 + W2"}),
        ("two wattmeters for reactive power", THREE, {"common": line}, COMMON[line],
         {"reactive_power": ROOT}),
        ("one wattmeter for reactive power", THREE, {"line": line}, [ONE_REACTIVE[line]],
         {"reactive_power": "sqrt(3)*W"}),
        ("one wattmeter, two positions", THREE, {"line": line}, TWO_POSITIONS[line],
         {"power": "W1 + W2"}),
        ("one wattmeter to neutral", FOUR, {"line": line}, [w("W", line, line, "N")],
         {"power": "3*W"}),
        ("one wattmeter with artificial neutral", THREE, {"line": line}, [w("W", line, line, "P")],
         {"power": "3*W"}),
    ]  # fmt: skip


def test_the_table_holds_every_method_on_every_number_of_wires() -> None:
    assert {(name, c.wires) for name, c, *_ in TABLE} == {
        (m.name, wires) for m in METHODS.values() for wires in m.wires
    }


@pytest.mark.parametrize(("name", "conductors", "options", "wattmeters", "total"), TABLE)
def test_expansion(
    name: str,
    conductors: Conductors,
    options: dict[str, str],
    wattmeters: list[dict[str, Any]],
    total: dict[str, str],
) -> None:
    method = METHODS[name]
    assert expand(method, conductors, options) == {"wattmeter": wattmeters, "total": total}
    assert method.n_wattmeters == len(wattmeters)
    assert method.total == next(iter(total.values()))


def test_instruments_transformers_and_taps_are_passed_on_to_each() -> None:
    options = {
        "common": "L1",
        "current_transformer": "ct",
        "voltage_transformer": "vt",
        "voltage_tap": "load",
    }
    extra = {k: v for k, v in options.items() if k != "common"}
    found = expand(METHODS["two wattmeters"], THREE, options, ["first", "second"])
    assert found["wattmeter"] == [
        COMMON["L1"][0] | extra | {"instrument": "first"},
        COMMON["L1"][1] | extra | {"instrument": "second"},
    ]


@pytest.mark.parametrize(
    ("line", "others"), [("L1", ["L2", "L3"]), ("L2", ["L3", "L1"]), ("L3", ["L1", "L2"])]
)
@pytest.mark.parametrize("tap", [None, "load"])
def test_an_artificial_neutral_has_a_resistor_from_each_other_line(
    line: str, others: list[str], tap: str | None
) -> None:
    options = {"line": line} | ({"voltage_tap": tap} if tap else {})
    method = METHODS["one wattmeter with artificial neutral"]
    found = expand(method, THREE, options, ["portable"], ["20 kohm", "21 kohm"])
    side = tap or "supply"
    assert found["impedance"] == [
        {"name": "R1", "between": [others[0], "P"], "value": "20 kohm", "side": side},
        {"name": "R2", "between": [others[1], "P"], "value": "21 kohm", "side": side},
    ]


@pytest.mark.parametrize(("name", "conductors", "options", "wattmeters", "total"), TABLE)
def test_a_method_reads_as_its_wattmeters_written_by_hand(
    name: str,
    conductors: Conductors,
    options: dict[str, str],
    wattmeters: list[dict[str, Any]],
    total: dict[str, str],
) -> None:
    # through the whole program, with an instrument that loads the circuit
    star = {"connection": "star", "L1": "20 ohm", "L2": "30+9j ohm", "L3": "15-4j ohm"}
    common = {
        "title": "both ways",
        "supply": {"wires": conductors.wires, "voltage": "400 V"},
        "load": [star | {"star_point": "isolated"}],
        "instrument": {"real": {"current_circuit": "0.1 ohm", "voltage_circuit": "5 kohm, 1 H"}},
    }
    by_hand: dict[str, Any] = {
        "wattmeter": [table | {"instrument": "real"} for table in wattmeters],
        "total": total,
    }
    if name == "one wattmeter with artificial neutral":
        used = wattmeters[0]["current"]
        # the voltage circuit's own impedance at 50 Hz: 5 kΩ and 2π·50 Hz·1 H = 314.159265…  Ω
        by_hand["impedance"] = [
            {"between": [k, "P"], "value": "5000+314.1592653589793j ohm", "side": "supply"}
            for k in conductors.lines
            if k != used
        ]
    method = {"method": {"name": name, "instrument": "real"} | options}
    found = simulator.solve(simulator.scenario_from(common | method))
    expected = simulator.solve(simulator.scenario_from(common | by_hand))
    assert list(found.readings) == list(expected.readings)
    for reading, other in zip(found.readings.values(), expected.readings.values(), strict=True):
        assert reading.watts == pytest.approx(other.watts, rel=1e-12, abs=1e-9)
    assert found.total is not None
    assert expected.total is not None
    assert found.total.indicated == pytest.approx(expected.total.indicated, rel=1e-12)
    assert found.total.reactive is expected.total.reactive

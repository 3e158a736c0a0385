"""Arrangements to draw: hand-wired ones, and as many as wanted drawn by lot from a seed."""

from __future__ import annotations

import random

import pytest

import simulator

STAR = {"connection": "star", "L1": "25 ohm", "L2": "25+10j ohm", "L3": "40 ohm @ 30 deg"}
INSTRUMENTS = {
    "portable": {"current_circuit": "0.03 ohm", "voltage_circuit": "20 kohm"},
    "coarse": {"current_circuit": "0.1+0.02j ohm", "voltage_circuit": "12 kohm, 12 mH"},
}
TRANSFORMERS = {
    "current_transformer": {
        "ct1": {"ratio": "100/5 A"},
        "ct2": {"ratio": "50/5 A"},
        "heavy": {"ratio": "100/5 A", "magnetising": "60j ohm", "winding": "0.1 ohm"}
        | {"leads": "0.2 ohm", "burden": "0.4+0.3j ohm"},
        "open": {"ratio": "100/5 A", "magnetising": "60j ohm", "secondary": "open"},
        "short": {"ratio": "100/5 A", "winding": "0.1 ohm", "secondary": "shorted"},
    },
    "voltage_transformer": {
        "vt1": {"ratio": "400/100 V"},
        "loaded": {"ratio": "400/100 V", "magnetising": "10j kohm", "winding": "1+1j ohm"}
        | {"leads": "0.5 ohm", "burden": "400 ohm"},
        "open": {"ratio": "400/100 V", "secondary": "open"},
        "short": {"ratio": "400/100 V", "winding": "1+1j ohm", "secondary": "shorted"},
    },
}
MOTOR = {
    "connection": "motor",
    "slip": 0.022,
    "circuit": {
        "R1": "0.641 ohm",
        "X1": "1.106 ohm",
        "R2": "0.332 ohm",
        "X2": "0.464 ohm",
        "Xm": "26.3 ohm",
    },
}


def scenario(wires, meters, loads=None, **tables):
    """A scenario of given wattmeters: (current, from, to) and further keys of each."""
    star = STAR | ({"star_point": "neutral"} if wires == 4 else {})
    supply = {"wires": wires, "voltage": "400 V"} | tables.pop("supply", {})
    wattmeters = [
        {"name": f"W{k}", "current": current, "voltage": list(voltage), **keys}
        for k, (current, voltage, keys) in enumerate(meters, 1)
    ]
    loads = [star] if loads is None else loads
    return {
        "title": "Wired by hand",
        "supply": supply,
        "load": [{"name": f"load {k}", **load} for k, load in enumerate(loads, 1)],
        "instrument": INSTRUMENTS,
        "wattmeter": wattmeters,
        **(TRANSFORMERS | tables),
    }


LONG = "The_quite_long_name_of_a_wattmeter_nr_"
ARRANGEMENTS = {
    "no meter": scenario(3, []),
    "no load": scenario(3, [("L1", ("L1", "L2"), {})], loads=[]),
    "both circuits reversed": scenario(
        3, [("L1", ("L1", "L2"), {"reversed": ["current", "voltage"]})]
    ),
    "voltage reversed, load tap": scenario(
        3,
        [
            ("L3", ("L3", "L1"), {"reversed": ["voltage"], "voltage_tap": "load"}),
            ("L1", ("L1", "L2"), {"reversed": ["current"], "voltage_tap": "load"}),
        ],
    ),
    "two meters in the same line": scenario(
        3,
        [
            ("L1", ("L1", "L2"), {}),
            ("L1", ("L1", "L2"), {"voltage_tap": "load"}),
            ("L2", ("L1", "L3"), {}),
            ("L3", ("L2", "L1"), {"voltage_tap": "load"}),
        ],
    ),
    "every line at its own voltage": scenario(
        4, [(k, (k, k), {"voltage_tap": "load"}) for k in ("L1", "L2", "N")]
    ),
    "current in the neutral": scenario(4, [("N", ("L1", "L3"), {}), ("N", ("N", "L2"), {})]),
    "four meters on four wires": scenario(
        4, [(k, ("L1", "N"), {"voltage_tap": "load"}) for k in ("L1", "L2", "L3", "N")]
    ),
    "difference of three currents": scenario(
        4, [(["-L2", "L1", "-N"], ("L3", "L2"), {"voltage_tap": "load", "reversed": ["current"]})]
    ),
    "differences through transformers": scenario(
        4,
        [
            (["L1", "-L2"], ("L1", "N"), {"current_transformer": "ct1"}),
            (
                ["L3", "-L2"],
                ("L3", "N"),
                {"current_transformer": "ct2", "voltage_transformer": "vt1"},
            ),
        ],
    ),
    "transformers, every way round": scenario(
        3,
        [
            ("L1", ("L2", "L1"), {"voltage_transformer": "vt1", "voltage_tap": "load"}),
            ("L2", ("L1", "L3"), {"current_transformer": "ct1", "reversed": ["voltage"]}),
            (
                "L3",
                ("L3", "L2"),
                {
                    "current_transformer": "ct2",
                    "voltage_transformer": "vt1",
                    "reversed": ["current", "voltage"],
                    "instrument": "portable",
                },
            ),
        ],
    ),
    "transformers as networks": scenario(
        3,
        [
            (["L1", "-L2"], ("L1", "L3"), {"current_transformer": "heavy"}),
            ("L2", ("L3", "L2"), {"voltage_transformer": "loaded", "instrument": "portable"}),
            (
                "L3",
                ("L3", "L2"),
                {"current_transformer": "heavy", "voltage_transformer": "loaded"}
                | {"voltage_tap": "load"},
            ),
        ],
    ),
    "secondaries not connected": scenario(
        3,
        [
            ("L1", ("L1", "L2"), {"current_transformer": "open", "voltage_transformer": "short"}),
            ("L2", ("L2", "L3"), {"current_transformer": "short", "voltage_transformer": "open"}),
            ("L3", ("L1", "L3"), {"voltage_transformer": "open", "instrument": "portable"}),
        ],
    ),
    "pseudo-neutral and earth": scenario(
        4,
        [
            ("L1", ("L1", "P"), {"instrument": "portable"}),
            ("L2", ("L2", "P"), {"instrument": "coarse"}),
            ("L3", ("P", "L3"), {"instrument": "portable"}),
            ("L3", ("PE", "L1"), {"instrument": "portable", "voltage_tap": "load"}),
        ],
        supply={"earthed": "L2", "line_impedance": "0.05+0.02j ohm", "neutral_impedance": "open"},
    ),
    "star point as a node": scenario(
        3,
        [("L1", ("L1", "S"), {}), ("L2", ("S", "L2"), {}), ("L3", ("L3", "L1"), {})],
        loads=[
            STAR | {"star_point": "S", "lead_impedance": "0.1 ohm"},
            STAR | {"star_point": "S"},
        ],
    ),
    "voltmeters and ammeters": scenario(
        4,
        [("L1", ("L1", "N"), {}), ("L2", ("L2", "N"), {"voltage_tap": "load"})],
        voltmeter=[
            {"name": "V12", "between": ["L1", "L2"]},
            {"name": "V13", "between": ["L1", "L3"], "side": "supply"},
            {"name": "VN", "between": ["N", "L2"], "instrument": "portable"},
            {"name": "V0", "between": ["L3", "L3"]},
        ],
        ammeter=[
            {"name": "A1", "in": "L1"},
            {"name": "A2", "in": "L2", "instrument": "coarse"},
            {"name": "AN", "in": "N"},
            {"name": "A1b", "in": "L1"},
        ],
    ),
    "many loads": scenario(
        4,
        [("L1", ("L1", "N"), {}), ("L2", ("L2", "N"), {}), ("L3", ("L3", "N"), {})],
        loads=[
            {
                "connection": "line-to-neutral",
                "L1": "50 ohm",
                "L3": "open",
                "neutral_lead": "1 ohm",
            },
            {"connection": "line-to-line", "L1-L2": "40 ohm", "L3-L1": "0 ohm @ 0 deg"}
            | {"L3-L1": "60 ohm", "lead_impedance": {"L1": "0.2 ohm"}},
            STAR | {"star_point": "isolated", "lead_impedance": "0.1 ohm"},
            {"connection": "delta", "each": "100 ohm", "lead_impedance": "0.1 ohm"},
            MOTOR | {"lead_impedance": "0.1 ohm"},
            MOTOR,
            STAR | {"star_point": "neutral", "neutral_lead": "5 ohm"},
        ],
    ),
    "delta with leads at the end": scenario(
        3,
        [("L1", ("L1", "L3"), {})],
        loads=[{"connection": "delta", "each": "33.33+25.12j ohm", "lead_impedance": "0.1 ohm"}],
    ),
    "impedances between nodes": scenario(
        3,
        [("L1", ("L1", "Q"), {"instrument": "portable"}), ("L2", ("P", "Q"), {})],
        impedance=[
            {"name": "R1", "between": ["L2", "P"], "value": "20 kohm", "side": "supply"},
            {"name": "a rather long name of a resistor", "between": ["P", "Q"], "value": "1 kohm"},
            {"name": "R3", "between": ["Q", "L3"], "value": "20 kohm"},
            {"name": "R4", "between": ["L1", "L2"], "value": "5+3j kohm"},
        ],
    ),
    "stations": scenario(
        3,
        [
            ("L1", ("L1", "L2"), {"station": 1}),
            ("L1", ("L1", "L3"), {"station": 2}),
            ("L3", ("L3", "L2"), {}),
        ],
    ),
    "long names": scenario(
        4,
        [(k, (k, "P"), {"instrument": "portable", "name": LONG + k}) for k in ("R", "S", "T")]
        + [("Neutral", ("T", "R"), {"name": LONG + "N", "voltage_tap": "load"})],
        loads=[
            {"name": "an oven with a name that goes on and on, to sixty characters"}
            | {"connection": "star", "star_point": "neutral", "R": "123.45+67.89j ohm"}
            | {"S": "1.2345-6.789j kohm", "T": "12.345+6.789j mohm"},
        ],
        labels=["R", "S", "T", "Neutral"],
        supply={"line_impedance": "0.12345+0.6789j ohm"},
    ),
    "long labels": scenario(
        4,
        [("Leiter_rot_1", ("Leiter_gelb", "Leiter_blau3"), {})],
        loads=[{"connection": "line-to-neutral", "Leiter_rot_1": "10 ohm"}],
        labels=["Leiter_rot_1", "Leiter_gelb", "Leiter_blau3", "Neutrallei"],
    ),
}
ARRANGEMENTS["long names"]["title"] = "A title of " + "very many words that say little and " * 5
NAMES = sorted(ARRANGEMENTS)


def scenario_number(number):
    """An arrangement drawn by lot; the same for the same number."""
    lot = random.Random(number)  # noqa: S311
    wires = lot.choice([3, 4])
    lines = ["L1", "L2", "L3"]
    conductors = lines + (["N"] if wires == 4 else [])
    nodes = [*conductors, *conductors, "P"]
    earthed = lot.choice([None, None, *conductors])
    nodes += ["PE"] if earthed else []
    meters = []
    for _ in range(lot.randint(1, 4)):
        current = lot.sample(conductors, lot.choice([1, 1, 1, 2]))
        current = [("-" if lot.random() < 0.4 else "") + k for k in current]
        keys = {"voltage_tap": lot.choice(["supply", "load"])}
        keys["reversed"] = [k for k in ("current", "voltage") if lot.random() < 0.3]
        if lot.random() < 0.5:
            keys["instrument"] = lot.choice(["portable", "coarse"])
        if lot.random() < 0.2:
            keys["current_transformer"] = lot.choice(["ct1", "heavy", "short"])
        if lot.random() < 0.15:
            keys["voltage_transformer"] = lot.choice(["vt1", "loaded", "open"])
        voltage = [lot.choice(nodes), lot.choice(nodes)]
        meters.append((current, voltage, keys))
    resistors = [
        {"name": f"R{k}", "between": [k, "P"], "value": "20 kohm"}
        | {"side": lot.choice(["supply", "load"])}
        for k in lot.sample(lines, 2)
    ]
    loads = [_load(lot, wires) for _ in range(lot.choice([1, 1, 1, 2, 3]))]
    supply = {"earthed": earthed} if earthed else {}
    if lot.random() < 0.3:
        supply["line_impedance"] = lot.choice(["0.1 ohm", {"L2": "0.05+0.1j ohm"}])
    if wires == 4 and lot.random() < 0.3:
        supply["neutral_impedance"] = lot.choice(["1 ohm", "0.1+0.2j ohm"])
    others = {
        "voltmeter": [
            {"name": f"V{k}", "between": lot.sample([*nodes[: wires * 2], "P"], 2)}
            | {"side": lot.choice(["supply", "load"])}
            for k in range(lot.choice([0, 0, 1, 2]))
        ],
        "ammeter": [
            {"name": f"A{k}", "in": lot.choice(conductors)} for k in range(lot.choice([0, 0, 1, 3]))
        ],
    }
    return scenario(wires, meters, loads, supply=supply, impedance=resistors, **others)


def _load(lot, wires):
    z = f"{lot.randint(5, 500)}+{lot.randint(0, 90)}j ohm"
    star = {"connection": "star", "each": z}
    if wires == 4:
        star["star_point"] = lot.choice(["neutral", "isolated"])
        if star["star_point"] == "neutral" and lot.random() < 0.3:
            star["neutral_lead"] = "0.5 ohm"
    kinds = [star, star, {"connection": "delta", "each": z}, MOTOR]
    kinds.append({"connection": "line-to-line", "L1-L3": z, "L2-L3": "open"})
    if wires == 4:
        kinds.append({"connection": "line-to-neutral", "L2": z})
    load = dict(lot.choice(kinds))
    if lot.random() < 0.25:
        load["lead_impedance"] = lot.choice(["0.1 ohm", {"L3": "0.2+0.1j ohm"}])
    return load


@pytest.mark.parametrize("number", range(5))
def test_the_lot_is_repeatable(number):
    assert scenario_number(number) == scenario_number(number)
    assert simulator.solve(simulator.scenario_from(scenario_number(number))).readings

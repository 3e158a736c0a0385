"""`blondel read --json`: the contract of commands.md, key by key, on many circuits."""

from __future__ import annotations

import cmath
import json
import math
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import simulator
from simulator.metering.catalogue import METHODS
from simulator.reports.catalogue import starter_text
from tests.scenario.test_labels import FOUR_WIRE_FILE, THREE_WIRE_FILE, own_file
from tests.scenario.texts import (
    FOUR,
    FOUR_WIRES,
    MOTOR,
    STAR,
    THREE,
    THREE_WIRES,
    W1,
    W2,
    load,
    replaced,
)

Object = dict[str, Any]
SQRT3 = math.sqrt(3)
SHIPPED = sorted(Path(__file__).parents[2].glob("scenarios/*.toml"))
DEAD = replaced(FOUR_WIRES, 'voltage = "400 V"', 'sequence_voltages = { positive = "0 V" }')
CASES = {
    "nothing": THREE,
    "nothing on four wires": FOUR,
    "no meter": THREE + STAR,
    "no load": THREE + W1 + W2 + '[total]\npower = "W1 + W2"\n',
    "no total": THREE + STAR + W1,
    "dead supply": DEAD,
    "all open": load('connection = "delta"\neach = "open"'),
    "motor": THREE + MOTOR + W1,
    "reactive total": THREE + STAR + W1 + '[total]\nreactive_power = "sqrt(3)*W1"\n',
    "three wires": THREE_WIRES,
    "four wires": FOUR_WIRES,
    "everything": FOUR_WIRE_FILE,
    "method": THREE_WIRE_FILE,
    "labels": own_file(FOUR_WIRE_FILE, ["N", "L3", "L2", "L1"]),
    "stations": FOUR
    + STAR
    + 'star_point = "P"\n'
    + '[instrument.i]\ncurrent_circuit = "1 ohm"\n'
    + replaced(W1, 'current = "L1"', 'current = "L1"\nstation = 5\ninstrument = "i"')
    + W2
    + replaced(W1, '"W1"\ncurrent = "L1"', '"W3"\ncurrent = "-N"\nstation = 2')
    + '[total]\npower = "W1 + W2"\n',
    **{f"starter: {name}": starter_text(name) for name in METHODS},
    **{path.stem: path.read_text(encoding="utf-8") for path in SHIPPED},
}
each_case = pytest.mark.parametrize("text", [pytest.param(t, id=n) for n, t in CASES.items()])


def no_constant(name: str) -> float:
    raise AssertionError(f"{name} is no JSON")


def read(text: str) -> Object:
    """Give what a reader of the command's output gets."""
    found = simulator.result_object(simulator.solve(simulator.parse_scenario(text)))
    return json.loads(json.dumps(found), parse_constant=no_constant)


# The contract, as a JSON Schema: every key of the example in commands.md, and the keys that were
# added to it since.


def keys(required: Object, added: Object | None = None) -> Object:
    return {
        "type": "object",
        "required": list(required),
        "properties": required | (added or {}),
        "additionalProperties": False,
    }


def rows(item: Object) -> Object:
    return {"type": "array", "items": item}


def nullable(schema: Object) -> Object:
    return {"anyOf": [schema, {"type": "null"}]}


TEXT, NUMBER, FLAT = {"type": "string"}, {"type": "number"}, {"type": "null"}
AT_LEAST_0 = {"type": "number", "minimum": 0}
ANGLE = {"type": "number", "exclusiveMinimum": -180, "maximum": 180}
CURRENT = keys({"rms_a": AT_LEAST_0, "angle_deg": ANGLE})
VOLTAGE = keys({"rms_v": AT_LEAST_0, "angle_deg": ANGLE})
DEFINITIONS = ("arithmetic", "vector", "effective", "collective")
LOAD = keys(
    {
        "active_w": NUMBER,
        "reactive_var": NUMBER,
        "apparent_va": keys(dict.fromkeys(DEFINITIONS, AT_LEAST_0)),
        "power_factor": keys(dict.fromkeys(DEFINITIONS, nullable(NUMBER))),
    }
)
BRANCH = keys(
    {
        "name": TEXT,
        "current": CURRENT,
        "voltage": VOLTAGE,
        "active_w": NUMBER,
        "reactive_var": NUMBER,
    }
)
STATION = {
    "load": LOAD,
    "loads": rows(
        keys(
            {
                "name": TEXT,
                "active_w": NUMBER,
                "reactive_var": NUMBER,
                "branches": rows(BRANCH),
                "star_point": nullable(VOLTAGE),
            }
        )
    ),
    "lines": {**rows(keys({"name": TEXT, "current": CURRENT})), "minItems": 3, "maxItems": 3},
    "nodes": {"type": "object", "additionalProperties": VOLTAGE},
    "losses": keys(
        {f"{what}_w": NUMBER for what in ("meters", "leads", "transformers", "impedances")}
    ),
    "residual": {"type": "number", "minimum": 0, "maximum": 1e-9},
}
SIDED_CURRENT = keys({"line": TEXT, "rms_a": AT_LEAST_0, "angle_deg": ANGLE})
SIDED_VOLTAGE = keys({"from": TEXT, "to": TEXT, "rms_v": AT_LEAST_0, "angle_deg": ANGLE})
PERCENT = nullable(NUMBER)
LIMITS = keys(
    {
        "ratio_error_percent": AT_LEAST_0,
        "phase_displacement_deg": nullable(AT_LEAST_0),
        "phase_displacement_per_ratio_error_deg": NUMBER,
        "assumption": nullable(TEXT),
        "source": TEXT,
        "confidence": TEXT,
    }
)
INSTRUMENT = {  # each only where it is known
    "watts_per_division": {"type": "number", "exclusiveMinimum": 0},
    "deflection_divisions": NUMBER,
    "class_limit_w": {"type": "number", "exclusiveMinimum": 0},
    "percent_of_range": keys(dict.fromkeys(("current", "voltage", "pointer"), PERCENT)),
    "transformers": rows(
        keys(
            {
                "name": TEXT,
                "kind": {"enum": ["current", "voltage"]},
                "conductor": nullable(TEXT),
                "secondary": {"enum": ["connected", "open", "shorted"]},
                "percent_of_rated": nullable(AT_LEAST_0),
                "ratio_error_percent": PERCENT,
                "phase_displacement_deg": nullable(ANGLE),
                "burden_va": nullable(AT_LEAST_0),
                "class_limits": nullable(LIMITS),
            }
        )
    ),
}
THREE_PHASORS = ("positive", "negative", "zero")
CONTRACT = keys(
    {
        "title": TEXT,
        "frequency_hz": {"type": "number", "exclusiveMinimum": 0},
        "wires": {"enum": [3, 4]},
        "readings": rows(
            keys(
                {
                    "name": TEXT,
                    "watts": NUMBER,
                    "at_instrument": NUMBER,
                    "direction": {"enum": ["upscale", "downscale", "zero"]},
                    "current": SIDED_CURRENT,
                    "voltage": SIDED_VOLTAGE,
                    "angle_between_deg": ANGLE,
                },
                {"station": {"type": "integer"}, **INSTRUMENT},
            )
        ),
        "voltmeters": rows(keys({"name": TEXT, "volts": AT_LEAST_0})),
        "ammeters": rows(keys({"name": TEXT, "amperes": AT_LEAST_0})),
        "total": nullable(
            keys(
                {
                    "formula": TEXT,
                    "quantity": {"enum": ["active power", "reactive power"]},
                    "unit": {"enum": ["W", "var"]},
                    "indicated": NUMBER,
                    "true": NUMBER,
                    "crossing": NUMBER,
                    "error": NUMBER,
                    "method_error": NUMBER,
                    "error_percent": nullable(NUMBER),
                    "reason": {"type": "string", "pattern": "^The total is .*\\.$"},
                }
            )
        ),
        "neutral_current": nullable(CURRENT),
        "stations": rows(
            keys(
                {"station": {"type": "integer"}, **STATION},
                {"neutral_current": nullable(CURRENT)},
            )
        ),
        **STATION,
    },
    {
        "method": nullable(TEXT),
        "sequence": TEXT,
        "condition": NUMBER,
        "notes": rows(TEXT),
        "symmetrical_components": keys(
            {
                "voltage": keys(dict.fromkeys(THREE_PHASORS, VOLTAGE)),
                "current": keys(dict.fromkeys(THREE_PHASORS, CURRENT)),
            }
        ),
    },
)


@each_case
def test_keys_and_types(text: str) -> None:
    jsonschema.Draft202012Validator(CONTRACT).validate(read(text))


def test_the_contract_would_notice() -> None:
    """A renamed key, a wrong type, an angle of −180° and a null in the wrong place are seen."""
    validator = jsonschema.Draft202012Validator(CONTRACT)
    for change in (
        lambda o: o.update(extra=1),
        lambda o: o.pop("losses"),
        lambda o: o["readings"][0].pop("direction"),
        lambda o: o["readings"][0]["current"].update(angle_deg=-180.0),
        lambda o: o["total"].update(indicated=None),
        lambda o: o["lines"].pop(),
        lambda o: o["loads"][0]["branches"][0].update(name=1),
    ):
        found = read(THREE_WIRES)
        change(found)
        assert not validator.is_valid(found)


# The example of commands.md: 400 V, three wires, 33.3 ohm in star, two wattmeters with L2 common.
# derived: I = 400/√3/(100/3) = 4·√3 A, P = 3·(100/3)·48 = 4800 W, half of it on each wattmeter.


def test_the_example() -> None:
    text = (
        f'{THREE}[[load]]\nname = "ovens"\nconnection = "star"\neach = "33.333333333333333 ohm"\n'
        '[[voltmeter]]\nname = "V1"\nbetween = ["L1", "P"]\n'
        '[[ammeter]]\nname = "A1"\nin = "L1"\n'
        '[method]\nname = "two wattmeters"\n'
    )
    found = read(replaced(text, '"star"\n', '"star"\nstar_point = "P"\n'))

    def near(value: float) -> object:
        return pytest.approx(value, rel=1e-9, abs=1e-9)

    I = 4 * SQRT3
    phase = {"rms_v": near(400 / SQRT3), "angle_deg": near(0)}
    line = {"rms_a": near(I), "angle_deg": near(0)}
    assert found["readings"][0] == {
        "name": "W1",
        "watts": near(2400),
        "at_instrument": near(2400),
        "direction": "upscale",
        "current": {"line": "L1", **line},
        "voltage": {"from": "L1", "to": "L2", "rms_v": near(400), "angle_deg": near(30)},
        "angle_between_deg": near(30),
    }
    assert found["voltmeters"] == [{"name": "V1", "volts": near(400 / SQRT3)}]
    assert found["ammeters"] == [{"name": "A1", "amperes": near(I)}]
    total = found["total"]
    assert total.pop("reason").startswith("The total is right")
    assert total == {
        "formula": "W1 + W2",
        "quantity": "active power",
        "unit": "W",
        "indicated": near(4800),
        "true": near(4800),
        "crossing": near(4800),
        "error": near(0),
        "method_error": near(0),
        "error_percent": near(0),
    }
    assert found["load"] == {
        "active_w": near(4800),
        "reactive_var": near(0),
        "apparent_va": dict.fromkeys(DEFINITIONS, near(4800)),
        "power_factor": dict.fromkeys(DEFINITIONS, near(1)),
    }
    assert found["loads"][0]["branches"][0] == {
        "name": "L1",
        "current": line,
        "voltage": phase,
        "active_w": near(1600),
        "reactive_var": near(0),
    }
    # rounding is no voltage: zero, and its angle is zero
    assert found["loads"][0]["star_point"] == {"rms_v": 0, "angle_deg": 0}
    assert found["nodes"] == {"P": {"rms_v": 0, "angle_deg": 0}}
    assert found["lines"][0] == {"name": "L1", "current": line}
    assert set(found["losses"].values()) == {0}
    assert (found["title"], found["frequency_hz"], found["wires"]) == ("t", 50, 3)
    assert (found["neutral_current"], found["stations"]) == (None, [])


# What the notes below the example say


def phasor(found: Object) -> complex:
    size = found["rms_a"] if "rms_a" in found else found["rms_v"]
    return cmath.rect(size, math.radians(found["angle_deg"]))


def names(text: str) -> list[str]:
    labels = simulator.parse_scenario(text).labels or ["L1", "L2", "L3", "N"]
    return [*labels, "N"][:4]


@each_case
def test_readings_agree_with_themselves(text: str) -> None:
    for reading in read(text)["readings"]:
        U, I = phasor(reading["voltage"]), phasor(reading["current"])
        between = math.degrees(cmath.phase(U)) - math.degrees(cmath.phase(I))
        turn = (reading["angle_between_deg"] - between) / 360
        assert abs(turn - round(turn)) < 1e-9
        small = abs(reading["at_instrument"]) <= 1e-9 * abs(U) * abs(I)
        sign = "zero" if small else "upscale" if reading["at_instrument"] > 0 else "downscale"
        assert reading["direction"] == sign


@each_case
def test_totals_agree_with_themselves(text: str) -> None:
    found = read(text)
    total = found["total"]
    if total is None:
        assert "[total]" not in text
        assert "[method]" not in text
        return
    assert total["error"] == total["indicated"] - total["true"]
    assert total["method_error"] == total["indicated"] - total["crossing"]
    if total["error_percent"] is not None:
        assert total["error_percent"] == pytest.approx(100 * total["error"] / total["true"])
    assert total["unit"] == {"active power": "W", "reactive power": "var"}[total["quantity"]]
    # the mean over the stations, where there are any
    key = "active_w" if total["unit"] == "W" else "reactive_var"
    parts = found["stations"] or [found]
    mean = math.fsum(part["load"][key] for part in parts) / len(parts)
    assert total["true"] == pytest.approx(mean, rel=1e-9, abs=1e-9)


@each_case
def test_sums(text: str) -> None:
    found = read(text)
    for part in [found, *found["stations"]]:
        for key in ("active_w", "reactive_var"):
            loads = [x[key] for x in part["loads"]]
            assert part["load"][key] == pytest.approx(math.fsum(loads), rel=1e-9, abs=1e-6)
            for x in part["loads"]:
                branches = [b[key] for b in x["branches"]]
                assert x[key] == pytest.approx(math.fsum(branches), rel=1e-9, abs=1e-6)
        lines = sum(phasor(line["current"]) for line in part["lines"])
        if found["wires"] == 3:
            assert part["neutral_current"] is None
            assert abs(lines) < 1e-9 * max(1, *(abs(phasor(x["current"])) for x in part["lines"]))
        else:
            assert phasor(part["neutral_current"]) == pytest.approx(lines, rel=1e-9, abs=1e-9)


@each_case
def test_names(text: str) -> None:
    found = read(text)
    labels = names(text)
    conductors = labels[: found["wires"]]
    assert [line["name"] for line in found["lines"]] == labels[:3]
    assert not set(found["nodes"]) & set(conductors)
    assert all(" " not in node for node in found["nodes"])
    given = simulator.parse_scenario(text)
    stars = [table.connection == "star" for table in given.load]
    motors = [table.connection == "motor" for table in given.load]
    for star, motor, shown in zip(stars, motors, found["loads"], strict=True):
        assert (shown["star_point"] is not None) == (star or motor)
        assert {p for b in shown["branches"] for p in b["name"].split("-")} <= set(labels[:3])


@each_case
def test_stations_and_the_first_of_them(text: str) -> None:
    found = read(text)
    numbers = sorted({r["station"] for r in found["readings"] if "station" in r})
    assert [s["station"] for s in found["stations"]] == numbers
    if numbers:
        first = found["stations"][0]
        assert all(found[key] == first[key] for key in ("load", "loads", "lines", "nodes"))
        assert found["losses"] == first["losses"]
        assert found["residual"] == max(s["residual"] for s in found["stations"])


def test_stations_are_networks_of_their_own() -> None:
    found = read(CASES["stations"])
    assert [s["station"] for s in found["stations"]] == [2, 5]
    # derived: only at station 5 is there 1 ohm in L1, so only there the meters take power
    assert [s["losses"]["meters_w"] > 0 for s in found["stations"]] == [False, True]
    assert [r["name"] for r in found["readings"]] == ["W1", "W2", "W3"]


def test_what_is_undefined_is_null() -> None:
    found = read(DEAD)
    assert found["total"]["error_percent"] is None
    assert set(found["load"]["power_factor"].values()) == {None}
    assert set(found["load"]["apparent_va"].values()) == {0}
    assert found["readings"][0]["current"] == {"line": "L1", "rms_a": 0, "angle_deg": 0}
    assert read(THREE + STAR + W1)["total"] is None


def test_potentials_are_to_the_supply_s_star_point() -> None:
    # derived: with L2 earthed, PE is at the emf of L2, 400/√3 V at −120°, also on three wires
    text = replaced(THREE, "wires = 3", 'wires = 3\nearthed = "L2"') + STAR
    assert read(text)["nodes"] == {
        "PE": {"rms_v": pytest.approx(400 / SQRT3), "angle_deg": pytest.approx(-120)}
    }


def test_difference_of_currents() -> None:
    text = FOUR_WIRES.replace('current = "L1"', 'current = ["L1", "-L2"]')
    found = read(text)
    lines = [phasor(line["current"]) for line in found["lines"]]
    sensed = found["readings"][0]["current"]
    assert sensed["line"] == "L1 − L2"
    assert phasor(sensed) == pytest.approx(lines[0] - lines[1])
    text = FOUR_WIRES.replace('current = "L1"', 'current = ["-L1", "-N"]')
    assert read(text)["readings"][0]["current"]["line"] == "−L1 − N"


@pytest.mark.parametrize("what", ["current", "voltage"])
def test_half_a_turn_is_180_and_not_minus_180(what: str) -> None:
    # derived: the current of a resistive load to neutral in L1 is at 0°, reversed at 180°
    text = (
        f'{FOUR}[[load]]\nconnection = "line-to-neutral"\nL1 = "10 ohm"\n'
        f'[[wattmeter]]\nname = "W"\ncurrent = "L1"\nvoltage = ["L1", "N"]\nreversed = ["{what}"]\n'
    )
    (reading,) = read(text)["readings"]
    assert reading[what]["angle_deg"] == 180
    assert reading["angle_between_deg"] == 180
    assert reading["direction"] == "downscale"


def test_losses_are_told_apart() -> None:
    # derived: 10 A in L1 and L2 through 1 ohm of line, 2 ohm of lead, 3 ohm of meter in L1; 400 V
    # over 40 ohm in all, 28 of them the load. The voltage circuit senses only.
    text = (
        replaced(THREE, "wires = 3", 'wires = 3\nline_impedance = "1 ohm"')
        + '[[load]]\nconnection = "line-to-line"\nL1-L2 = "31 ohm"\nlead_impedance = "2 ohm"\n'
        + replaced(W1, 'name = "W1"', 'name = "W1"\ninstrument = "i"')
        + '[instrument.i]\ncurrent_circuit = "3 ohm"\n'
    )
    found = read(text)
    near = {"meters_w": 300, "leads_w": 600, "transformers_w": 0, "impedances_w": 0}
    assert found["losses"] == {key: pytest.approx(value) for key, value in near.items()}
    assert found["load"]["active_w"] == pytest.approx(3100)

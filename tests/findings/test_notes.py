"""What a person should notice: readings below zero and loads off their nominal voltage, in full."""

from __future__ import annotations

from typing import Any

import pytest

import simulator

TO_NEUTRAL = {"name": "three wattmeters to neutral"}


THREE = {"wires": 3, "voltage": "400 V"}


def notes(load: dict[str, Any], supply: dict[str, Any] = THREE, **tables: Any) -> list[str]:
    document = {"title": "t", "supply": supply, "load": [load]} | tables
    return list(simulator.solve(simulator.scenario_from(document)).notes)


def test_a_low_power_factor_is_told_by_its_angle() -> None:
    # derived: in L1 with the voltage to L2 a balanced load of 70° lag is felt at 70° + 30°
    load = {"connection": "star", "each": "23 ohm @ 70 deg"}
    assert notes(load, method={"name": "two wattmeters"}) == [
        "W1 reads below zero: its voltage and current are 100.0° apart, more than 90°"
    ]
    lead = {"connection": "star", "each": "23 ohm @ -70 deg"}
    assert notes(lead, method={"name": "two wattmeters"}) == [
        "W2 reads below zero: its voltage and current are 100.0° apart, more than 90°"
    ]


@pytest.mark.parametrize("circuit", ["current", "voltage"])
def test_a_reversed_circuit_is_told_by_its_name(circuit: str) -> None:
    load = {"connection": "star", "each": "23 ohm"}
    meter = {"name": "W", "current": "L1", "voltage": ["L1", "L2"], "reversed": [circuit]}
    assert notes(load, wattmeter=[meter]) == [
        f"W reads below zero: its {circuit} circuit is connected the other way round"
    ]


HALF = {"wires": 4, "voltage": "400 V", "line_impedance": "23 ohm"}


def test_branches_far_from_their_nominal_voltage() -> None:
    # derived: 23 ohm in the line before 23 ohm to neutral, or before 69 ohm from line to line,
    # leave half: of 400/√3 = 230.94 V, and of 400 V
    star = {"connection": "star", "each": "23 ohm", "star_point": "neutral", "name": "oven"}
    assert notes(star, HALF, method=TO_NEUTRAL) == [
        f"load 'oven', L{k}: 115.5 V is 50 % of its nominal 231 V" for k in (1, 2, 3)
    ]
    delta = {"connection": "delta", "each": "69 ohm", "name": "oven"}
    assert notes(delta, HALF | {"wires": 3}, method={"name": "two wattmeters"}) == [
        f"load 'oven', {ends}: 200.0 V is 50 % of its nominal 400 V"
        for ends in ("L1-L2", "L2-L3", "L3-L1")
    ]


def test_where_there_is_no_nominal_voltage_none_is_missed() -> None:
    # without a neutral the star point is nobody's promise; so is a supply given by its phases
    star = {"connection": "star", "each": "23 ohm"}
    assert notes(star, HALF | {"wires": 3}, method={"name": "two wattmeters"}) == []
    own = {"wires": 4, "phase_voltages": {"L1": "230 V", "L2": "23 V @ -120 deg", "L3": "23 V"}}
    assert notes(star | {"star_point": "neutral"}, own, method=TO_NEUTRAL) == []


@pytest.mark.parametrize(("ohms", "noted"), [("2.4 ohm", False), ("2.7 ohm", True)])
def test_a_tenth_is_within_the_band(ohms: str, noted: bool) -> None:
    # derived: 23/(23 + 2.4) = 90.6 %, 23/(23 + 2.7) = 89.5 %
    star = {"connection": "star", "each": "23 ohm", "star_point": "neutral"}
    found = notes(star, HALF | {"line_impedance": ohms}, method=TO_NEUTRAL)
    assert len(found) == (3 if noted else 0)


def test_an_open_branch_gets_no_voltage_to_speak_of() -> None:
    star = {"connection": "star", "star_point": "neutral", "L1": "open", "L2": "23 ohm"}
    supply = {"wires": 4, "voltage": "400 V"}
    assert notes(star | {"L3": "23 ohm"}, supply, method=TO_NEUTRAL) == []


def through(ratio: str, burden: str) -> list[str]:
    """A load of 10 A to the neutral, measured through a current transformer."""
    star = {"connection": "star", "each": "23.0940107675850 ohm", "star_point": "neutral"}
    meter = {"name": "W", "current": "L1", "voltage": ["L1", "N"], "current_transformer": "ct"}
    transformer = {"ratio": ratio, "burden": burden, "rated_burden": "10 VA"}
    return notes(
        star,
        {"wires": 4, "voltage": "400 V"},
        wattmeter=[meter],
        current_transformer={"ct": transformer},
    )[:-1]  # the last one is that U and I are behind transformers


def test_a_transformer_just_within_and_just_beyond_what_it_is_rated_for() -> None:
    # derived: 0.4 ohm at 5 A are the 10 VA of its rating; 10 A are 100.5 % of 9.95 A
    assert through("10/5 A", "0.4 ohm") == []
    assert through("10/5 A", "0.402 ohm") == [
        "current transformer 'ct' of W in L1: its burden, 10.1 VA, is 100.5 % of its rated 10 VA"
    ]
    assert through("9.95/5 A", "0.001 ohm") == [
        "current transformer 'ct' of W in L1 at 100.5 % of its rated 9.95 A"
    ]

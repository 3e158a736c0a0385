"""What each settling test shows on the right wiring, phasor by phasor."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

import simulator
from simulator.findings.faults import settle
from simulator.findings.faults.find import find_faults

if TYPE_CHECKING:
    from simulator.findings.faults.find import Faults

# 230 V to neutral, 10 A at 36.87° lag: phase voltages at 0, −120 and 120°, currents 36.87° behind
PHI = math.degrees(math.acos(0.8))
VOLTS = 230 * math.sqrt(3)


def faults(wires: int, method: str) -> Faults:
    load = {"connection": "star", "each": f"23 ohm @ {PHI!r} deg"}
    document = {
        "title": "balanced",
        "supply": {"wires": wires, "voltage": f"{VOLTS!r} V"},
        "load": [load | ({"star_point": "neutral"} if wires == 4 else {})],
        "method": {"name": method},
    }
    return find_faults(simulator.scenario_from(document))


def shown(found: Faults) -> list[tuple[str, str, str, dict[str, float]]]:
    tests = [make(found, [found.right]) for make in settle._TESTS]
    return [(t.name, t.quantity, t.unit, t.shows[0]) for t in tests if t is not None]


def approx(values: dict[str, float]) -> object:
    return pytest.approx(values, rel=1e-6, abs=1e-6)  # beside a burden of 1 Gohm


def test_every_test_on_two_wattmeters() -> None:
    # derived: L1 to L2 is at 30°, L3 to L2 at 90°, L1 to L3 at −30°; I1 at −36.87°, I3 at 83.13°
    high = VOLTS * 10 * math.cos(math.radians(PHI - 30))
    assert shown(faults(3, "two wattmeters")) == [
        ("ammeter in each line", "I", "A", approx({"L1": 10, "L2": 10, "L3": 10})),
        ("voltmeter across each voltage circuit", "U", "V", approx({"W1": VOLTS, "W2": VOLTS})),
        ("ammeter in each current circuit", "I", "A", approx({"W1": 10, "W2": 10})),
        ("phase-sequence indicator on the lines", "rotation", "", {"lines": 1.0}),
        (
            "voltage lead of W1 moved from the common line to the line of W2",
            "with moved lead",
            "W",
            approx({"W1": high}),
        ),
        (
            "marked voltage lead taken off W1 and the other wattmeters watched",
            "with lead off",
            "W",
            approx({"W2": high}),
        ),
        (
            "angle of each voltage circuit against the voltage L1 to L2",
            "∠U",
            "°",
            approx({"W1": 0, "W2": 60}),
        ),
        (
            "angle of each current circuit against the voltage L1 to L2",
            "∠I",
            "°",
            approx({"W1": -PHI - 30, "W2": 90 - PHI}),
        ),
    ]


def test_every_test_on_three_wattmeters() -> None:
    names = ("W1", "W2", "W3")
    found = shown(faults(4, "three wattmeters to neutral"))
    assert [row[1:3] for row in found] == [
        ("I", "A"), ("U", "V"), ("I", "A"), ("rotation", ""), ("with lead off", "W"),
        ("∠U", "°"), ("∠I", "°"),
    ]  # fmt: skip
    assert found[1][3] == approx(dict.fromkeys(names, 230))
    assert found[4][3] == approx({"W2": 1840, "W3": 1840})
    assert found[5][0] == "angle of each voltage circuit against the voltage L1 to N"
    assert found[5][3] == approx({"W1": 0, "W2": -120, "W3": 120})
    assert found[6][3] == approx({"W1": -PHI, "W2": -120 - PHI, "W3": 120 - PHI})


def test_one_wattmeter_leaves_no_other_to_watch() -> None:
    found = shown(faults(4, "one wattmeter to neutral"))
    assert not any("lead" in name for name, *_ in found)


def test_a_dead_circuit_has_no_angle() -> None:
    found = faults(3, "two wattmeters")
    dead = next(h for h in found.hypotheses if not h.result["W1"].current)
    row = settle._TESTS[-1](found, [dead]).shows[0]
    assert math.isnan(row["W1"])
    assert not math.isnan(row["W2"])

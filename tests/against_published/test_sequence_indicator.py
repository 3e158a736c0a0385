"""The sequence star: two equal lamps and a capacitor of the same reactance, without neutral.

1.496 and 0.401 times the phase voltage stand in textbooks (MEM); the longer numbers are CALC.
"""

from __future__ import annotations

import math

import pytest

import simulator

pytestmark = pytest.mark.reference


def brightness(reactor: str, sequence: str = "A-B-C") -> list[float]:
    """Voltages on reactor and lamps, in phase voltages."""
    table = {
        "title": "sequence star",
        "labels": ["A", "B", "C"],
        "supply": {
            "wires": 3,
            "sequence_voltages": {"positive": "230 V"},
            "sequence": sequence,
        },
        "load": [{"connection": "star", "A": reactor, "B": "500 ohm", "C": "500 ohm"}],
    }
    result = simulator.solve(simulator.scenario_from(table))
    return [abs(branch.voltage) / 230 for branch in result.first.loads[0].branches]


def test_lamp_after_the_capacitor_is_bright() -> None:
    found = brightness("0-500j ohm")
    assert found[1:] == pytest.approx([1.496, 0.401], abs=5e-4)  # textbooks, MEM
    assert found == pytest.approx([1.341641, 1.496406, 0.400961], abs=5e-7)
    squares = [1.8, 1.2 + 0.6 * math.sqrt(3), 1.2 - 0.6 * math.sqrt(3)]
    assert [u**2 for u in found] == pytest.approx(squares)


def test_reversed_sequence_swaps_the_lamps() -> None:
    capacitor, B, C = brightness("0-500j ohm", "C-B-A")
    assert (capacitor, B, C) == pytest.approx((1.341641, 0.400961, 1.496406), abs=5e-7)


def test_with_an_inductor_the_first_lamp_is_dim() -> None:
    # SEEN https://nippon.zaidan.info/seikabutsu/1999/00254/contents/210.htm : sequence 1-2-3, first
    # lamp dark, second bright (reactor taken to be on leg 1: its drawing was not readable)
    inductor, B, C = brightness("0+500j ohm")
    assert (inductor, B, C) == pytest.approx((1.341641, 0.400961, 1.496406), abs=5e-7)

"""Proofs as they stand on the board; each remainder worked out by hand from the current law."""

from __future__ import annotations

from typing import Any

import pytest

import simulator
from simulator.findings.explanation import explain

THREE = {
    "supply": {"wires": 3, "voltage": "400 V"},
    "load": [{"connection": "star", "each": "23 ohm"}],
}
FOUR = {
    "supply": {"wires": 4, "voltage": "400 V"},
    "load": [{"connection": "star", "each": "23 ohm", "star_point": "neutral"}],
}
COILS = {
    "m": {"voltage_circuit": "20 kohm"},
    "n": {"voltage_circuit": "10 kohm"},
    "inductive": {"voltage_circuit": "10+10j kohm"},
}
LAW_3 = "Current law on three wires: I_L1 + I_L2 + I_L3 = 0."
LAW_4 = "Current law on four wires: I_L1 + I_L2 + I_L3 = I_N."
P_3 = "V_L1·I_L1* + V_L2·I_L2* + V_L3·I_L3*"
P_4 = "(V_L1 − V_N)·I_L1* + (V_L2 − V_N)·I_L2* + (V_L3 − V_N)·I_L3*"
STAR = "   (weights of the branches that meet there)"
CANCELS = "Inserted, everything cancels: T − P = 0, whatever the load."
NOWHERE = "It vanishes on no class of supplies and loads as a whole."


def to_L2(*lines: str, **reversed_: list[str]) -> dict[str, Any]:
    meters = [
        {"name": f"W{line[1]}", "current": line, "voltage": [line, "L2"]}
        | ({"reversed": reversed_[line]} if line in reversed_ else {})
        for line in lines
    ]
    return {"wattmeter": meters, "total": {"power": " + ".join(m["name"] for m in meters)}}


def floating(*instruments: str) -> dict[str, Any]:
    name = "three wattmeters to a floating star point"
    return {"instrument": COILS, "method": {"name": name, "instrument": list(instruments)}}


TO_P = [f"W{k} = Re((V_L{k} − V_P)·I_L{k}*)" for k in (1, 2, 3)]
TOTAL_P = "T = W1 + W2 + W3 = Re((V_L1 − V_P)·I_L1* + (V_L2 − V_P)·I_L2* + (V_L3 − V_P)·I_L3*)"
TURNED = "1/√3·(V_L2 − V_L3)·I_L1* + 1/√3·(V_L3 − V_L1)·I_L2* + 1/√3·(V_L1 − V_L2)·I_L3*"
PROOFS: dict[str, tuple[dict[str, Any], list[str]]] = {
    "two wattmeters": (
        THREE | {"method": {"name": "two wattmeters"}},
        [
            "W1 = Re((V_L1 − V_L2)·I_L1*)",
            "W2 = Re((V_L3 − V_L2)·I_L3*)",
            "T = W1 + W2 = Re((V_L1 − V_L2)·I_L1* + (V_L3 − V_L2)·I_L3*)",
            f"P = Re({P_3})",
            LAW_3,
            CANCELS,
        ],
    ),
    "to the neutral": (
        FOUR | {"method": {"name": "three wattmeters to neutral"}},
        [
            *(f"W{k} = Re((V_L{k} − V_N)·I_L{k}*)" for k in (1, 2, 3)),
            f"T = W1 + W2 + W3 = Re({P_4})",
            f"P = Re({P_4})",
            LAW_4,
            CANCELS,
        ],
    ),
    "a common line on four wires": (
        FOUR | to_L2("L1", "L3"),
        [
            "W1 = Re((V_L1 − V_L2)·I_L1*)",
            "W3 = Re((V_L3 − V_L2)·I_L3*)",
            "T = W1 + W3 = Re((V_L1 − V_L2)·I_L1* + (V_L3 − V_L2)·I_L3*)",
            f"P = Re({P_4})",
            LAW_4,
            "What remains: T − P = Re((V_N − V_L2)·I_N*)",
            (
                "It vanishes for any load without neutral current on any supply; and for any "
                "balanced load on voltages that sum to zero."
            ),
        ],
    ),
    "a common line and a meter in it": (
        THREE | to_L2("L1", "L2", "L3"),
        [
            "W1 = Re((V_L1 − V_L2)·I_L1*)",
            "W2 = 0: both ends of its voltage circuit are on L2",
            "W3 = Re((V_L3 − V_L2)·I_L3*)",
            "T = W1 + W2 + W3 = Re((V_L1 − V_L2)·I_L1* + (V_L3 − V_L2)·I_L3*)",
            f"P = Re({P_3})",
            LAW_3,
            CANCELS,
        ],
    ),
    "a reversed circuit": (
        THREE | to_L2("L1", "L3", L1=["current"]),
        [
            "W1 = −Re((V_L1 − V_L2)·I_L1*)   (one circuit reversed)",
            "W3 = Re((V_L3 − V_L2)·I_L3*)",
            "T = W1 + W3 = Re((V_L2 − V_L1)·I_L1* + (V_L3 − V_L2)·I_L3*)",
            f"P = Re({P_3})",
            LAW_3,
            "What remains: T − P = Re(2·(V_L2 − V_L1)·I_L1*)",
            NOWHERE,
        ],
    ),
    "a floating star point": (  # admittances 1 : 2 : 1
        FOUR | floating("m", "n", "m"),
        [
            *TO_P,
            f"V_P = 0.25·V_L1 + 0.5·V_L2 + 0.25·V_L3{STAR}",
            TOTAL_P,
            f"P = Re({P_4})",
            LAW_4,
            "What remains: T − P = Re((V_N − V_P)·I_N*)",
            (
                "It vanishes for any load without neutral current on any supply; and for any "
                "balanced load on voltages that sum to zero."
            ),
        ],
    ),
    # admittances 1, 1 − j and 1: 1/(3 − j) = 0.3 + 0.1j, (1 − j)/(3 − j) = 0.4 − 0.2j
    "a floating star point with an inductive circuit": (
        THREE | floating("m", "inductive", "m"),
        [
            *TO_P,
            "V_P = 0.3162∠18.4°·V_L1 + 0.4472∠-26.6°·V_L2 + 0.3162∠18.4°·V_L3" + STAR,
            TOTAL_P,
            f"P = Re({P_3})",
            LAW_3,
            CANCELS,
        ],
    ),
    "an artificial neutral": (
        THREE
        | {
            "instrument": COILS,
            "method": {
                "name": "one wattmeter with artificial neutral",
                "instrument": "m",
                "resistors": ["20 kohm", "20 kohm"],
            },
        },
        [
            "W = Re((V_L1 − V_P)·I_L1*)",
            f"V_P = 0.3333·V_L1 + 0.3333·V_L2 + 0.3333·V_L3{STAR}",
            "T = 3*W = Re(3·(V_L1 − V_P)·I_L1*)",
            f"P = Re({P_3})",
            LAW_3,
            "What remains: T − P = Re(2·(V_L1 − 1.5·V_P)·I_L1* − V_L2·I_L2* − V_L3·I_L3*)",
            "It vanishes for any balanced load on symmetrical voltages.",
        ],
    ),
    # of a balanced resistive load every (V_a − V_b)·V_c* has an opposite among the others
    "reactive power by three": (
        THREE | {"method": {"name": "three wattmeters for reactive power"}},
        [
            "W1 = Re((V_L2 − V_L3)·I_L1*)",
            "W2 = Re((V_L3 − V_L1)·I_L2*)",
            "W3 = Re((V_L1 − V_L2)·I_L3*)",
            f"T = (W1 + W2 + W3)/sqrt(3) = Re({TURNED})",
            f"Q = Im({P_3})",
            LAW_3,
            f"What remains: T − Q = Re({TURNED}) − Im({P_3})",
            (
                "It vanishes for any balanced resistive load on any supply; and for any load on "
                "symmetrical voltages."
            ),
        ],
    ),
    "reactive power by one": (
        THREE | {"method": {"name": "one wattmeter for reactive power"}},
        [
            "W = Re((V_L2 − V_L3)·I_L1*)",
            "T = sqrt(3)*W = Re(√3·(V_L2 − V_L3)·I_L1*)",
            f"Q = Im({P_3})",
            LAW_3,
            f"What remains: T − Q = Re(√3·(V_L2 − V_L3)·I_L1*) − Im({P_3})",
            "It vanishes for any balanced load on symmetrical voltages.",
        ],
    ),
    "difference currents": (
        FOUR | {"method": {"name": "two elements, difference currents"}},
        [
            "W1 = Re((V_L1 − V_N)·(I_L1 − I_L2)*)",
            "W2 = Re((V_L3 − V_N)·(I_L3 − I_L2)*)",
            (
                "T = W1 + W2 = Re((V_L1 − V_N)·I_L1* − (V_L1 + V_L3 − 2·V_N)·I_L2* + "
                "(V_L3 − V_N)·I_L3*)"
            ),
            f"P = Re({P_4})",
            LAW_4,
            "What remains: T − P = −Re((V_L1 + V_L2 + V_L3 − 3·V_N)·I_L2*)",
            "It vanishes for any load on voltages that sum to zero.",
        ],
    ),
    # the current in the neutral counts towards the supply: I_N = −(I_L1 + I_L2 + I_L3) as metered
    "a meter in the neutral": (
        FOUR
        | {
            "wattmeter": [{"name": "W1", "current": "N", "voltage": ["L1", "N"]}],
            "total": {"power": "3*W1"},
        },
        [
            "W1 = Re((V_L1 − V_N)·(−I_L1 − I_L2 − I_L3)*)",
            "T = 3*W1 = Re(3·(V_N − V_L1)·I_N*)",
            f"P = Re({P_4})",
            LAW_4,
            (
                "What remains: T − P = Re(4·(V_N − V_L1)·I_L1* − (3·V_L1 + V_L2 − 4·V_N)·I_L2* − "
                "(3·V_L1 + V_L3 − 4·V_N)·I_L3*)"
            ),
            NOWHERE,
        ],
    ),
}


@pytest.mark.parametrize("name", PROOFS)
def test_every_line_of_a_proof(name: str) -> None:
    tables, lines = PROOFS[name]
    found = explain(simulator.scenario_from({"title": "proof"} | tables)).proof
    assert list(found) == lines

"""Readings against the 40-digit reference: what is shipped, and a grid of circuits."""

from __future__ import annotations

from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import simulator
from tests.reference_solver import read_reference

if TYPE_CHECKING:
    from simulator.findings.result import Result

FILES = {path.stem: path for path in sorted(Path(__file__).parents[2].glob("scenarios/*.toml"))}
UNBALANCED = {"L1": "20 ohm", "L2": "30+40j ohm", "L3": "9-25j ohm"}
UNSYMMETRICAL = {"positive": "230 V", "negative": "9 V @ 70 deg", "zero": "4 V"}
MOTOR = {"R1": "0.6 ohm", "X1": "1 ohm", "R2": "0.5 ohm", "X2": "1.2 ohm", "Xm": "45 ohm"}
THROUGH = {"current_transformer": "ct", "voltage_transformer": "vt"}

# Supply, load, method. Instrument b has an inductive voltage circuit, c is electronic.
ARRANGEMENTS: dict[str, tuple[dict[str, Any], dict[str, Any], dict[str, Any]]] = {
    "floating star on three wires": (
        {"wires": 3, "voltage": "400 V", "line_impedance": "0.2+0.1j ohm"},
        {"connection": "star", **UNBALANCED},
        {"name": "three wattmeters to a floating star point", "instrument": ["a", "b", "a"]},
    ),
    "floating star on four wires": (
        {"wires": 4, "voltage": "400 V", "neutral_impedance": "0.5 ohm"},
        {"connection": "star", "star_point": "neutral", **UNBALANCED},
        {"name": "three wattmeters to a floating star point", "instrument": ["a", "a", "c"]},
    ),
    "voltage circuits behind their current circuits": (
        {"wires": 3, "voltage": "400 V", "sequence": "L3-L2-L1"},
        {"connection": "delta", "L1-L2": "40+9j ohm", "L2-L3": "open", "L3-L1": "25 ohm"},
        {"name": "two wattmeters", "common": "L1", "voltage_tap": "load", "instrument": "a"},
    ),
    "difference currents": (
        {"wires": 4, "sequence_voltages": UNSYMMETRICAL},
        {"connection": "line-to-neutral", **UNBALANCED},
        {"name": "two elements, difference currents", "instrument": "b"},
    ),
    "electronic, through transformers": (
        {"wires": 3, "voltage": "10 kV", "line_impedance": "0.1+0.4j ohm"},
        {"connection": "star", **UNBALANCED},
        {"name": "two wattmeters", "instrument": "c", **THROUGH},
    ),
    "electrodynamic, through transformers": (
        {"wires": 4, "voltage": "10 kV"},
        {"connection": "star", "star_point": "isolated", "each": "200+150j ohm"},
        {"name": "three wattmeters to neutral", "instrument": "b", **THROUGH},
    ),
    "motor and artificial neutral": (
        {"wires": 3, "sequence_voltages": UNSYMMETRICAL},
        {"connection": "motor", "slip": 0.02, "circuit": MOTOR},
        {
            "name": "one wattmeter with artificial neutral",
            "instrument": "b",
            "resistors": ["20 kohm", "9 kohm"],
        },
    ),
}


def check_against_reference(result: Result) -> None:
    for station in result.stations:
        reference = read_reference(station)
        for reading in station.readings:
            watts, voltage, current = reference[reading.name]
            assert abs(reading.watts - watts) <= 1e-12 * voltage * current, reading.name


@pytest.mark.parametrize("name", FILES)
def test_shipped_scenarios(name: str) -> None:
    check_against_reference(simulator.solve(simulator.read_scenario(FILES[name])))


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize(
    ("coil", "circuit"),
    list(product(("0 ohm", "1 uohm", "1 mohm", "1 ohm"), ("1 kohm", "1 Mohm", "1 Gohm"))),
)
def test_small_coils_beside_large_circuits(arrangement: str, coil: str, circuit: str) -> None:
    supply, load, method = ARRANGEMENTS[arrangement]
    plain = {"current_circuit": coil, "voltage_circuit": circuit}
    electronic = {"kind": "electronic", "gain_error": "0.3 %", "phase_error": "7 min"}
    scenario = {
        "title": arrangement,
        "supply": supply,
        "load": [load],
        "instrument": {
            "a": plain,
            "b": plain | {"voltage_circuit": f"{circuit}, 80 mH"},
            "c": plain | electronic,
        },
        "current_transformer": {"ct": {"ratio": "500/5 A", "phase_displacement": "12 min"}},
        "voltage_transformer": {"vt": {"ratio": "10000/100 V", "ratio_error": "0.1 %"}},
        "method": method,
    }
    check_against_reference(simulator.solve(simulator.scenario_from(scenario)))

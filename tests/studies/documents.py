"""Scenarios to vary, and what they read one by one: the document changed and solved anew."""

from __future__ import annotations

import copy
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import simulator

if TYPE_CHECKING:
    from simulator.scenario.models import Scenario
    from simulator.studies.study import Study

Document = dict[str, Any]

# Four wires with everything: loads by impedance, rating and parts, a motor, real instruments,
# transformers with errors and as networks, a separate impedance, other meters.
EVERYTHING: Document = {
    "title": "Everything",
    "supply": {
        "wires": 4,
        "voltage": "400 V",
        "frequency": "50 Hz",
        "line_impedance": "0.05+0.02j ohm",
        "neutral_impedance": "0.2 ohm",
    },
    "load": [
        {
            "name": "ovens",
            "connection": "star",
            "star_point": "neutral",
            "L1": "25 ohm",
            "L2": "25+10j ohm",
            "L3": "40 ohm @ -20 deg",
            "lead_impedance": "0.1 ohm",
            "neutral_lead": "0.3 ohm",
        },
        {
            "name": "lathe",
            "connection": "delta",
            "total": {"power": "4 kW", "power_factor": "0.8 lag"},
        },
        {
            "name": "lamps",
            "connection": "line-to-neutral",
            "L1": {"resistance": "60 ohm", "inductance": "80 mH"},
            "L2": {"resistance": "60 ohm", "capacitance": "40 uF", "parallel": True},
            "L3": {"current": "2 A", "reactive_power": "-200 var"},
        },
        {
            "name": "drive",
            "connection": "motor",
            "slip": 0.03,
            "circuit": {
                "R1": "0.641 ohm",
                "X1": "1.106 ohm",
                "R2": "0.332 ohm",
                "X2": "0.464 ohm",
                "Xm": "26.3 ohm",
                "Rc": "900 ohm",
            },
        },
    ],
    "impedance": [
        {"name": "balancing resistor", "between": ["L2", "N"], "value": "300 ohm"},
        {"name": "before", "between": ["L1", "L3"], "value": "500-40j ohm", "side": "supply"},
    ],
    "instrument": {
        "portable": {"current_circuit": "0.03+0.01j ohm", "voltage_circuit": "20 kohm, 300 mH"},
        "static": {
            "kind": "electronic",
            "voltage_circuit": "1 Mohm",
            "gain_error": "0.2 %",
            "phase_error": "10 min",
        },
        "corrected": {
            "compensated": True,
            "current_circuit": "0.02 ohm",
            "voltage_circuit": "8 kohm",
        },
    },
    "current_transformer": {
        "stated": {"ratio": "50/5 A", "ratio_error": "-0.3 %", "phase_displacement": "15 min"},
        "built": {
            "ratio": "50/5 A",
            "magnetising": "10+40j ohm",
            "winding": "0.1 ohm",
            "leads": "0.2 ohm",
            "burden": "0.3 ohm",
        },
    },
    "voltage_transformer": {
        "stated": {"ratio": "400/100 V", "ratio_error": "0.4 %", "phase_displacement": "-20 min"},
        "built": {
            "ratio": "400/100 V",
            "magnetising": "5+50j kohm",
            "winding": "20+8j ohm",
            "burden": "4 kohm",
        },
    },
    "wattmeter": [
        {"name": "W1", "current": "L1", "voltage": ["L1", "N"], "instrument": "portable"},
        {
            "name": "W2",
            "current": "L2",
            "voltage": ["L2", "N"],
            "instrument": "static",
            "current_transformer": "stated",
            "voltage_transformer": "stated",
            "reversed": ["current", "voltage"],
        },
        {
            "name": "W3",
            "current": "L3",
            "voltage": ["L3", "N"],
            "instrument": "portable",
            "current_transformer": "built",
            "voltage_transformer": "built",
        },
        {
            "name": "W4",
            "current": "L1",
            "voltage": ["L1", "L2"],
            "instrument": "corrected",
            "voltage_tap": "load",
        },
    ],
    "voltmeter": [{"name": "V1", "between": ["L1", "N"], "instrument": "portable"}],
    "ammeter": [{"name": "A1", "in": "N"}],
    "total": {"power": "W1 + W2 + W3"},
}


def changed(document: Document, *address: str | int, value: Any) -> Document:
    """Put a value into a copy of a document."""
    copied = copy.deepcopy(document)
    table: Any = copied
    for key in address[:-1]:
        table = table[key]
    table[address[-1]] = value
    return copied


def scenario(document: Document) -> Scenario:
    return simulator.scenario_from(document)


def expected(document: Document) -> dict[tuple[str, str], float]:
    """Solve one document by the program's other route, one network at a time."""
    result = simulator.solve(scenario(document))
    found = {(name, "W"): reading.watts for name, reading in result.readings.items()}
    found |= {(name, "V"): volts for name, volts in result.first.voltmeters.items()}
    found |= {(name, "A"): amperes for name, amperes in result.first.ammeters.items()}
    total = result.total
    if total is None:
        powers = [station.true.real for station in result.stations]
        return found | {("true power", "W"): sum(powers) / len(powers)}
    return found | {
        ("indicated total", total.unit): total.indicated,
        ("true power", total.unit): total.true,
        ("error of the total", total.unit): total.error,
        ("error of the total", "%"): total.error_percent,
    }


def assert_same(study: Study, documents: list[Document]) -> None:
    """Compare every case of a study with a document of its own, to ten digits of the largest."""
    flat = {key: values.ravel() for key, values in study.outputs.items()}
    assert all(len(values) == len(documents) for values in flat.values())
    assert not study.failed
    for k, document in enumerate(documents):
        wanted = expected(document)
        assert wanted.keys() == flat.keys()
        largest = max(abs(v) for v in wanted.values() if math.isfinite(v))
        for key, value in wanted.items():
            got = flat[key][k]
            assert got == pytest.approx(value, rel=1e-9, abs=1e-11 * largest, nan_ok=True), (key, k)


def rows(study: Study) -> np.ndarray:
    """All results of a study as rows."""
    return np.array([values.ravel() for values in study.outputs.values()])

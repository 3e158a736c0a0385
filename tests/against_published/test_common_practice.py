"""Two facts every electrician's course tells. Common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

import simulator

pytestmark = pytest.mark.reference


@pytest.mark.parametrize(
    "method",
    [
        {"wires": 4, "name": "one wattmeter to neutral"},
        {"wires": 3, "name": "one wattmeter with artificial neutral", "instrument": "portable"},
    ],
    ids=lambda method: method["name"],
)
def test_1600_watts_mean_4800_watts_and_33_ohms(method: dict[str, Any]) -> None:
    # One wattmeter shows 1600 W on a balanced 400 V star: 4.8 kW, about 33 ohm per phase
    point = {"star_point": "neutral"} if method["wires"] == 4 else {}
    table = {
        "title": "common practice",
        "supply": {"wires": method["wires"], "voltage": "400 V"},
        "load": [
            {"connection": "star", "total": {"power": "4.8 kW", "power_factor": "1"}, **point}
        ],
        "instrument": {"portable": {"voltage_circuit": "20 kohm"}},
        "method": {k: v for k, v in method.items() if k != "wires"},
    }
    result = simulator.solve(simulator.scenario_from(table))
    assert result["W"].watts == pytest.approx(1600)
    assert result.total is not None
    assert result.total.indicated == pytest.approx(4800)
    branch = result.first.loads[0].branches[0]
    assert (branch.voltage / branch.current).real == pytest.approx(33, abs=0.5)


def test_2_and_4_kilowatts_mean_6_kilowatts_at_30_degrees() -> None:
    # Two meters reading 2 kW and 4 kW: 6 kW at power factor 0.866, 30°
    table = {
        "title": "common practice",
        "supply": {"wires": 3, "voltage": "400 V"},
        "load": [
            {"connection": "star", "total": {"power": "6 kW", "power_factor": "0.8660254038 lag"}}
        ],
        "method": {"name": "two wattmeters"},
    }
    result = simulator.solve(simulator.scenario_from(table))
    assert result["W1"].watts == pytest.approx(2000)
    assert result["W2"].watts == pytest.approx(4000)
    assert result.total is not None
    assert result.total.indicated == pytest.approx(6000)
    assert result.first.plane.power_factor.vector == pytest.approx(0.866, abs=5e-4)

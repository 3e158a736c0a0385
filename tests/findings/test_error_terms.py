"""Each term of a total's error by a closed form of its own, and their sum."""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import simulator
from simulator.findings.error_terms import error_terms, read_at

if TYPE_CHECKING:
    from simulator.findings.error_terms import Term

A = cmath.rect(1, 2 * math.pi / 3)
V = 230 * np.array([1, A**2, A])
Z = np.array([20 + 5j, 30 - 9j, 10 + 8j])
FOUR = {"wires": 4, "sequence_voltages": {"positive": "230 V"}}
STAR = {
    "connection": "star", "star_point": "neutral", "L1": "20+5j ohm", "L2": "30-9j ohm",
    "L3": "10+8j ohm",
}  # fmt: skip
NAMES = [
    "angle of the voltage circuits",
    "the meters' own consumption",
    "transformers and channels",
    "leads beyond the meters",
]


def split(load: dict[str, Any], **tables: Any) -> tuple[Term, list[float], float]:
    """Return the method's term, the values of the four others, and the whole error."""
    document = {"title": "terms", "supply": FOUR, "load": [load]} | tables
    result = simulator.solve(simulator.scenario_from(document))
    assert result.total is not None
    terms = error_terms(result.measurement, result.stations, result.total.indicated)
    assert [term.name for term in terms[1:]] == NAMES
    total = sum(term.value for term in terms)
    assert total == pytest.approx(result.total.error, rel=1e-10, abs=1e-9)
    return terms[0], [term.value for term in terms[1:]], result.total.error


def to_neutral(**instrument: str) -> dict[str, Any]:
    method = {"name": "three wattmeters to neutral", "instrument": "m"}
    return {"instrument": {"m": instrument}, "method": method}


def test_ideal_meters_on_the_right_method_have_no_error() -> None:
    first, others, error = split(STAR, **to_neutral())
    assert [first.value, *others, error] == pytest.approx([0] * 6, abs=1e-9)
    assert first.expression == "0"


def test_the_methods_term() -> None:
    # a common line on four wires: −Re(V_L2·I_N*)
    meters = [{"name": f"W{k}", "current": f"L{k}", "voltage": [f"L{k}", "L2"]} for k in (1, 3)]
    first, others, error = split(STAR, wattmeter=meters, total={"power": "W1 + W3"})
    expected = -(V[1] * (V / Z).sum().conj()).real
    assert (first.value, error) == pytest.approx((expected, expected), rel=1e-10)
    assert first.expression == "Re((V_N − V_L2)·I_N*)"
    assert others == pytest.approx([0] * 4, abs=1e-9)


def test_the_angle_of_the_voltage_circuits() -> None:
    # Σ Re((Z_v0/Z_v − 1)·V·I*), Z_v = 20 kΩ + j·400 Ω without any load on the lines of 0 ohm
    inductance = 400 / (2 * math.pi * 50)
    first, others, _ = split(STAR, **to_neutral(voltage_circuit=f"20 kohm, {inductance!r} H"))
    factor = 20e3 / (20e3 + 400j) - 1
    expected = float(np.sum((factor * V * (V / Z).conj()).real))
    assert first.value == pytest.approx(0, abs=1e-9)
    assert others == pytest.approx([expected, 0, 0, 0], rel=1e-10, abs=1e-9)


@pytest.mark.parametrize("tap", ["supply", "load"])
def test_the_meters_own_consumption(tap: str) -> None:
    tables = to_neutral(current_circuit="1+2j ohm", voltage_circuit="1 kohm")
    tables["method"]["voltage_tap"] = tap
    first, others, _ = split(STAR, **tables)
    if tap == "supply":
        I = V / (Z + 1 + 2j)
        expected = float(np.sum(np.abs(I) ** 2))
    else:
        both = 1 / (1 / Z + 1 / 1000)
        expected = float(np.sum(np.abs(V * both / (both + 1 + 2j)) ** 2)) / 1000
    assert first.value == pytest.approx(0, abs=1e-9)
    assert others == pytest.approx([0, expected, 0, 0], rel=1e-10, abs=1e-9)


def test_transformers_and_channels() -> None:
    # (1 + ε)·e^{jδ} of the channel, (1 + f)·e^{−jβ} of the current transformer's conjugate
    tables = to_neutral(kind="electronic", gain_error="0.4 %", phase_error="20 min")
    tables["current_transformer"] = {
        "ct": {"ratio": "100/5 A", "ratio_error": "-0.2 %", "phase_displacement": "12 min"}
    }
    tables["method"]["current_transformer"] = "ct"
    first, others, _ = split(STAR, **tables)
    factor = 1.004 * 0.998 * cmath.rect(1, math.radians((20 - 12) / 60)) - 1
    expected = float(np.sum((factor * V * (V / Z).conj()).real))
    assert first.value == pytest.approx(0, abs=1e-9)
    assert others == pytest.approx([0, 0, expected, 0], rel=1e-9, abs=1e-9)


def test_leads_beyond_the_meters() -> None:
    first, others, _ = split(STAR | {"lead_impedance": "0.5+1j ohm"}, **to_neutral())
    expected = float(np.sum(np.abs(V / (Z + 0.5 + 1j)) ** 2)) * 0.5
    assert first.value == pytest.approx(0, abs=1e-9)
    assert others == pytest.approx([0, 0, 0, expected], rel=1e-10, abs=1e-9)


def test_everything_at_once_still_adds_up() -> None:
    tables = to_neutral(current_circuit="0.3 ohm", voltage_circuit="2 kohm, 300 mH")
    tables["method"] = {"name": "two elements, difference currents", "instrument": "m"}
    tables["current_transformer"] = {"ct": {"ratio": "50/5 A", "ratio_error": "1 %"}}
    tables["voltage_transformer"] = {"vt": {"ratio": "400/100 V", "phase_displacement": "1 deg"}}
    tables["method"] |= {"current_transformer": "ct", "voltage_transformer": "vt"}
    first, others, error = split(STAR | {"neutral_lead": "3 ohm"}, **tables)
    assert all(abs(value) > 1e-4 for value in (first.value, *others))
    assert abs(error) > 1


def test_without_a_total_there_is_no_error_to_split() -> None:
    document = {"title": "none", "supply": FOUR, "load": [STAR]}
    result = simulator.solve(simulator.scenario_from(document))
    with pytest.raises(ValueError, match="forms no total"):
        error_terms(result.measurement, result.stations, 0.0)


def test_every_wattmeter_is_read_once_at_its_first_station() -> None:
    meters = [
        {"name": "W0", "current": "N", "voltage": ["L1", "N"]},
        {"name": "W1", "current": "L2", "voltage": ["L2", "N"], "station": 1},
        {"name": "W2", "current": "L3", "voltage": ["L3", "N"], "station": 2},
    ]
    document = {"title": "stations", "supply": FOUR, "load": [STAR], "wattmeter": meters}
    result = simulator.solve(simulator.scenario_from(document))
    found = [(station.number, meter.name) for station, meter in read_at(result.stations)]
    assert found == [(1, "W0"), (1, "W1"), (2, "W2")]

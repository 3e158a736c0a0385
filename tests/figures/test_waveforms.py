from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import simulator
from simulator.errors import ScenarioError
from simulator.figures.waveforms import draw_waveforms, waveforms_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.findings.result import Result


def solved(**tables: Any) -> Result:
    base = {
        "title": "t",
        "supply": {"wires": 3, "voltage": "400 V"},
        # derived: 400 V / (√3 · 10 A) carries 10 A
        "load": [{"connection": "star", "each": "23.0940107675850 ohm, 0.8 lag"}],
        "method": {"name": "two wattmeters", "common": "L2"},
    }
    return simulator.solve(simulator.scenario_from(base | tables))


def test_two_cycles_of_cosines() -> None:
    result = solved(supply={"wires": 3, "voltage": "400 V", "frequency": "60 Hz"})
    waves = waveforms_of(result["W1"], 60.0)
    assert waves.time[0] == 0
    assert waves.time[-1] == pytest.approx(2 / 60, rel=1e-12)
    # derived: V_L1-L2 is 400 V at +30°, I_L1 10 A at −arccos 0.8
    angle = 2 * np.pi * 60 * waves.time
    V = math.sqrt(2) * 400 * np.cos(angle + np.pi / 6)
    I = math.sqrt(2) * 10 * np.cos(angle - math.acos(0.8))
    np.testing.assert_allclose(waves.voltage, V, atol=1e-8)
    np.testing.assert_allclose(waves.current, I, atol=1e-9)


@pytest.mark.parametrize(("name", "expected"), [("W1", 1571.3), ("W2", 3971.3)])
def test_the_mean_is_the_reading(name: str, expected: float) -> None:
    # needs.md 8, derived there: 1571.3 and 3971.3 W at power factor 0.8; five digits are given
    waves = waveforms_of(solved()[name], 50.0)
    assert waves.mean == pytest.approx(expected, abs=0.06)
    # derived: v·i = V·I·(cos θ + cos(2ωt + …)), so it swings V·I to both sides of its mean
    assert waves.product.max() - waves.mean == pytest.approx(4000, rel=1e-3)
    assert waves.mean - waves.product.min() == pytest.approx(4000, rel=1e-3)


def test_an_electrodynamic_instrument_averages_its_circuits_currents() -> None:
    instrument = {"m": {"voltage_circuit": "2 kohm, 2 H"}}
    result = solved(instrument=instrument, method={"name": "two wattmeters", "instrument": "m"})
    waves = waveforms_of(result["W1"], 50.0)
    # derived: i_v follows R·i_v + L·di_v/dt = v; the pointer averages R·i_v·i_c
    omega = 2 * np.pi * 50
    fine = np.linspace(0, 0.02, 4001)[:-1]
    reading = result["W1"]
    V, I = reading.voltage, reading.current
    turned = abs(V) / np.hypot(2000, omega * 2), np.angle(V) - np.arctan2(omega * 2, 2000)
    i_v = np.sqrt(2) * turned[0] * np.cos(omega * fine + turned[1])
    i_c = np.sqrt(2) * abs(I) * np.cos(omega * fine + np.angle(I))
    assert waves.mean == pytest.approx(np.mean(2000 * i_v * i_c), rel=1e-9)
    assert waves.mean != pytest.approx((V * I.conjugate()).real, rel=1e-3)


def test_what_is_drawn() -> None:
    result = solved()
    waves = waveforms_of(result["W2"], 50.0)
    figure = draw_waveforms(result, "W2")
    lines = {line.get_gid(): line for axes in figure.axes for line in axes.lines if line.get_gid()}
    for name, values in (("v", waves.voltage), ("i", waves.current)):
        np.testing.assert_array_equal(lines[name].get_xdata(), 1000 * waves.time)
        np.testing.assert_array_equal(lines[name].get_ydata(), values)
    np.testing.assert_allclose(lines["product"].get_ydata(), waves.product / 1000, rtol=1e-15)
    assert set(lines["mean"].get_ydata()) == {waves.mean / 1000}
    found = {a.get_ylabel() for a in figure.axes} | {a.get_xlabel() for a in figure.axes}
    assert {"voltage v [V]", "current i [A]", "v·i [kW]", "time [ms]"} <= found
    words = [t.get_text() for t in figure.findobj(lambda a: hasattr(a, "get_text"))]
    assert "dashed: mean 3.971 kW, upscale" in words


def test_voltage_and_current_have_zero_at_the_same_height() -> None:
    volts, amperes = draw_waveforms(solved()).axes[:2]
    assert volts.bbox.extents == pytest.approx(amperes.bbox.extents)
    for axes in (volts, amperes):
        low, high = axes.get_ylim()
        assert low == -high


def test_the_first_wattmeter_is_the_default() -> None:
    titles = [t.get_text() for t in draw_waveforms(solved()).texts]
    assert any(t.startswith("Waveforms of W1:") for t in titles)


def test_transformers_are_stated(shipped: Callable[[str], Result]) -> None:
    result = shipped("through-current-transformers")
    found = [t.get_text() for t in draw_waveforms(result).texts]
    assert any("At the instrument; times" in t for t in found)


def test_refusals(shipped: Callable[[str], Result]) -> None:
    with pytest.raises(ScenarioError, match="no wattmeter is called 'W9'; there are W1, W2"):
        draw_waveforms(solved(), "W9")
    with pytest.raises(ScenarioError, match="waveforms need a wattmeter"):
        draw_waveforms(shipped("sequence-star-capacitor-and-lamps"))

"""The measurement model against the whole program run on a scenario that has the deviations.

Whatever an input does to readings and total, the same can be written in a scenario: impedances and
voltages multiplied, errors of transformers and instruments stated as known ones. Then the usual way
through the program is an independent route.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import simulator
from simulator.findings.uncertainty.inputs import Tolerance
from simulator.findings.uncertainty.model import Model
from simulator.findings.uncertainty.sources import Sources, sources_of
from simulator.scenario.build import expand_method
from tests.findings.uncertainty.base import CLASS_HALF, document

if TYPE_CHECKING:
    from simulator.findings.result import Result

SHIPPED = sorted((Path(__file__).parents[3] / "scenarios").glob("*.toml"))
CLOSE = {"rel": 1e-11, "abs": 1e-9}


def model_of(
    tables: dict[str, Any], tolerances: dict[str, Tolerance], shared: tuple[str, ...] = ()
) -> tuple[Model, Result, Sources]:
    scenario = simulator.scenario_from(tables)
    result = simulator.solve(scenario)
    instruments = [w.instrument for w in expand_method(scenario).wattmeter]
    sources = sources_of(result, instruments, tolerances, shared)
    return Model(result, sources), result, sources


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_no_deviation_is_the_scenario(path: Path) -> None:
    """With every load and the supply varied by nothing, and with nothing varied at all."""
    scenario = simulator.read_scenario(path)
    result = simulator.solve(scenario)
    instruments = [w.instrument for w in expand_method(scenario).wattmeter]
    loads = {load.name: Tolerance(0.1, 5.0) for load in result.first.arrangement.loads}
    for tolerances in ({}, {"supply: voltage": Tolerance(0.1), **loads}):
        sources = sources_of(result, instruments, tolerances, ())
        values = Model(result, sources).evaluate(np.zeros((len(sources.inputs), 2)))
        expected = [reading.watts for reading in result.readings.values()]
        if result.total:
            expected += [result.total.indicated, result.total.error]
        scale = float(result.first.plane.apparent.arithmetic)
        for column in values.T:
            assert column == pytest.approx(expected, rel=1e-11, abs=1e-11 * scale)


def z_of(sources: Sources, **values: float) -> np.ndarray:
    """One case: by words of an input's name, its z."""
    z = np.zeros((len(sources.inputs), 1))
    for words, value in values.items():
        found = [k for k, i in enumerate(sources.inputs) if words.replace("_", " ") in i.name]
        assert len(found) == 1, (words, [i.name for i in sources.inputs])
        z[found[0]] = value
    return z


def test_loads_and_supply() -> None:
    tables = document(30.0)
    tables["load"] = [
        {"name": "ovens", "connection": "star", "L1": "20 ohm", "L2": "30+5j ohm", "L3": "25 ohm"}
    ]
    tolerances = {
        "ovens: L2": Tolerance(0.1, 4.0),
        "supply: voltage": Tolerance(0.05),
        "supply: L3": Tolerance(0.0, 2.0),
    }
    model, _, sources = model_of(tables, tolerances)
    assert [i.name for i in sources.inputs] == [
        "ovens: L2",
        "angle of ovens: L2",
        "supply: voltage",
        "angle of supply: L3",
    ]
    z = np.array([[0.5], [-1.0], [0.8], [1.0]])
    L2 = complex((30 + 5j) * 1.05 * np.exp(-1j * np.radians(4)))
    tables["load"][0]["L2"] = f"{L2.real!r}{L2.imag:+}j ohm"
    phase = 400 / 3**0.5 * 1.04
    tables["supply"] = {
        "wires": 3,
        "phase_voltages": {
            "L1": f"{phase!r} V",
            "L2": f"{phase!r} V @ -120 deg",
            "L3": f"{phase!r} V @ 122 deg",
        },
    }
    expected = simulator.solve(simulator.scenario_from(tables))
    total = expected.total
    readings = [reading.watts for reading in expected.readings.values()]
    assert model.evaluate(z)[:, 0] == pytest.approx(
        [*readings, total.indicated, total.error], **CLOSE
    )


def test_motor_and_leads() -> None:
    circuit = {
        "R1": "0.641 ohm", "X1": "1.106 ohm", "R2": "0.332 ohm", "X2": "0.464 ohm",
        "Xm": "26.3 ohm",
    }  # fmt: skip
    tables = document(30.0)
    tables["load"] = [
        {"name": "fan", "connection": "motor", "slip": 0.022, "circuit": circuit}
        | {"lead_impedance": "0.3 ohm"}
    ]
    tolerances = {"fan": Tolerance(0.1), "fan: lead_impedance": Tolerance(0.5)}
    model, _, sources = model_of(tables, tolerances)
    # an impedance 10 % larger is every part of the circuit 10 % larger, at the same slip (derived)
    larger = {key: f"{1.1 * float(text.split()[0])!r} ohm" for key, text in circuit.items()}
    tables["load"][0] |= {"circuit": larger, "lead_impedance": "0.45 ohm"}
    expected = simulator.solve(simulator.scenario_from(tables))
    readings = [reading.watts for reading in expected.readings.values()]
    found = model.evaluate(np.ones((len(sources.inputs), 1)))[:, 0]
    assert found == pytest.approx(
        [*readings, expected.total.indicated, expected.total.error], **CLOSE
    )


CT = {"ratio": "20/5 A", "ratio_error": "-0.3 %", "phase_displacement": "20 min"}
VT = {"ratio": "400/100 V", "ratio_error": "0.2 %", "phase_displacement": "-10 min"}
OF_TRANSFORMERS = {
    "current_transformer ct: ratio_error": Tolerance(0.01),
    "current_transformer ct: phase_displacement": Tolerance(0.0, 1.0),
    "voltage_transformer vt: ratio_error": Tolerance(0.02),
    "voltage_transformer vt: phase_displacement": Tolerance(0.0, 0.5),
}


@pytest.mark.parametrize("burden", [None, "20 kohm"])
def test_stated_errors_of_transformers(burden: str | None) -> None:
    """Also where the voltage transformer feeds a voltage circuit in the network."""
    instrument = {"voltage_circuit": burden} if burden else {}
    transformers = {"current_transformer": {"ct": CT}, "voltage_transformer": {"vt": VT}}
    tables = document(40.0, instrument, **transformers)
    model, _, sources = model_of(tables, OF_TRANSFORMERS, ("ct", "vt"))
    z = z_of(
        sources,
        ratio_error_of_ct=0.5,
        phase_displacement_of_ct=-1.0,
        ratio_error_of_vt=-0.25,
        phase_displacement_of_vt=1.0,
    )
    tables["current_transformer"]["ct"] = CT | {
        "ratio_error": "0.2 %", "phase_displacement": "-40 min",
    }  # fmt: skip
    tables["voltage_transformer"]["vt"] = VT | {
        "ratio_error": "-0.3 %", "phase_displacement": "20 min",
    }  # fmt: skip
    expected = simulator.solve(simulator.scenario_from(tables))
    readings = [reading.watts for reading in expected.readings.values()]
    assert model.evaluate(z)[:2, 0] == pytest.approx(readings, **CLOSE)


def test_electronic_channels() -> None:
    electronic = {"kind": "electronic", "gain_error": "0.1 %", "phase_error": "5 min"}
    tables = document(70.0, electronic)
    tolerances = {
        "instrument portable: gain_error": Tolerance(0.004),
        "instrument portable: phase_error": Tolerance(0.0, 0.5),
    }
    model, _, sources = model_of(tables, tolerances, ("portable",))
    z = z_of(sources, gain_error=0.5, phase_error=-1.0)
    tables["instrument"]["portable"] |= {"gain_error": "0.3 %", "phase_error": "-25 min"}
    expected = simulator.solve(simulator.scenario_from(tables))
    readings = [reading.watts for reading in expected.readings.values()]
    assert model.evaluate(z)[:2, 0] == pytest.approx(readings, **CLOSE)


@pytest.mark.parametrize("compensated", [False, True])
def test_voltage_circuit_of_an_electrodynamic_wattmeter(compensated: bool) -> None:
    """Derived: the pointer follows R·I_v·I_c with the nominal R (design/physics.md, section 1)."""
    instrument = {"voltage_circuit": "2 kohm"} | ({"compensated": True} if compensated else {})
    tables = document(50.0, instrument)
    tables["method"] |= {"voltage_tap": "load"}
    model, _, sources = model_of(tables, {"instrument portable: voltage_circuit": Tolerance(0.1)})
    assert [i.name for i in sources.inputs] == ["voltage circuit of W1", "voltage circuit of W2"]
    tables["instrument"]["portable"]["voltage_circuit"] = "2.2 kohm"
    other = simulator.solve(simulator.scenario_from(tables))
    # the same currents, but calibrated for 2 kohm instead of 2.2 kohm
    readings = [reading.watts * 2 / 2.2 for reading in other.readings.values()]
    assert model.evaluate(np.ones((2, 1)))[:2, 0] == pytest.approx(readings, **CLOSE)


def test_class_error_is_in_watts_at_the_instrument() -> None:
    """Derived: 0.5 % of 400 V·10 A is 20 W at the meter, 80 W at the primary of 20/5 A."""
    tables = document(40.0, CLASS_HALF, current_transformer={"ct": {"ratio": "20/5 A"}})
    model, result, sources = model_of(tables, {})
    assert [each.size for each in sources.inputs] == pytest.approx([80, 80])
    found = model.evaluate(z_of(sources, W1=-1.0))[:3, 0]
    readings = [reading.watts for reading in result.readings.values()]
    assert found == pytest.approx([readings[0] - 80, readings[1], sum(readings) - 80], **CLOSE)


def test_windings_have_transformers_of_their_own() -> None:
    """Derived: (I1 − I2)·V with only I1 one percent larger."""
    tables = {
        "title": "difference currents",
        "supply": {"wires": 4, "voltage": "400 V"},
        "load": [
            {"connection": "star", "star_point": "neutral"}
            | {"L1": "20 ohm", "L2": "30+5j ohm", "L3": "25 ohm"}
        ],
        "current_transformer": {"ct": {"ratio": "20/5 A"}},
        "method": {"name": "two elements, difference currents", "current_transformer": "ct"},
    }
    model, result, sources = model_of(
        tables, {"current_transformer ct: ratio_error": Tolerance(0.01)}
    )
    assert [i.name for i in sources.inputs] == [
        f"ratio error of ct in L{k}" for k in (1, 2, 3)
    ]  # L2's serves both wattmeters
    V1 = result.first.line_potentials[0]
    I1 = result.first.line_currents[0]
    found = model.evaluate(z_of(sources, L1=1.0))[:, 0]
    change = 0.01 * (V1 * I1.conjugate()).real
    assert found[0] - result["W1"].watts == pytest.approx(change, rel=1e-9)
    assert found[1] == pytest.approx(result["W2"].watts, rel=1e-12)

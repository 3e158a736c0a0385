"""The curves of design/needs.md, section 2.1: each against a closed form or a number of that page.

The page's numbers were calculated from phasors for it: derived values, not published ones (CALC).
A, B, C there are L1, L2, L3 here; B is 400 V, 10 A; U is 230 V and 23, 46, 23∠60° ohm on a neutral.
"""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from simulator.studies.run import vary
from simulator.studies.steps import Steps
from tests.studies.documents import Document, scenario

if TYPE_CHECKING:
    from simulator.studies.study import Study

U_LOAD = {"L1": "23 ohm", "L2": "46 ohm", "L3": "23 ohm @ 60 deg"}
OHM = 400 / math.sqrt(3) / 10  # of base case B


def measured(wires: int, load: Document, volts: float, **tables: Any) -> Document:
    star = {"star_point": "neutral"} if wires == 4 and load["connection"] == "star" else {}
    supply = {"wires": wires, "sequence_voltages": {"positive": f"{volts!r} V"}}
    return {"title": "t", "supply": supply, "load": [{"name": "load"} | star | load]} | tables


def star(**more: str) -> Document:
    return {"connection": "star"} | more


def two(common: str) -> Document:
    """Two wattmeters to a common line, whatever the number of wires."""
    first, second = [line for line in ("L1", "L2", "L3") if line != common]
    meters = [
        {"name": f"W{k}", "current": line, "voltage": [line, common]}
        for k, line in enumerate((first, second), 1)
    ]
    return {"wattmeter": meters, "total": {"power": "W1 + W2"}}


def error(study: Study) -> np.ndarray:
    assert study.error_percent is not None
    return study.error_percent


@pytest.mark.parametrize(("sequence", "sign"), [("L1-L2-L3", 1), ("L3-L2-L1", -1)])
def test_1_readings_against_the_angle_in_both_sequences(sequence: str, sign: int) -> None:
    document = measured(3, star(each=f"{OHM!r} ohm"), 400 / math.sqrt(3), **two("L2"))
    document["supply"]["sequence"] = sequence
    study = vary(scenario(document), {"load: angle": Steps("-90 deg", "90 deg", 61)})
    phi = np.radians(np.linspace(-90, 90, 61))
    # U·I·cos(30° ± φ), the sign by the sequence (two-wattmeter method on a balanced load)
    np.testing.assert_allclose(
        study.readings["W1"], 4000 * np.cos(math.pi / 6 + sign * phi), atol=1e-8
    )
    np.testing.assert_allclose(
        study.readings["W2"], 4000 * np.cos(math.pi / 6 - sign * phi), atol=1e-8
    )
    np.testing.assert_allclose(study.true, math.sqrt(3) * 4000 * np.cos(phi), atol=1e-8)


def test_2_ratio_of_the_readings_against_power_factor() -> None:
    # needs.md row 8
    document = measured(3, star(each=f"{OHM!r} ohm"), 400 / math.sqrt(3), **two("L2"))
    factors = ["1", "0.866 lag", "0.8 lag", "0.707 lag", "0.5 lag", "0.3 lag", "0.1 lag", "0 lag"]
    study = vary(scenario(document), {"load: power_factor": factors})
    small = [3464.1, 2000, 1571.3, 1035, 0, -868.6, -1643.6, -2000]
    large = [3464.1, 4000, 3971.3, 3864, 3464.1, 2947.1, 2336.4, 2000]
    assert study.readings["W1"].tolist() == pytest.approx(small, abs=0.6)
    assert study.readings["W2"].tolist() == pytest.approx(large, abs=0.6)
    ratio = study.readings["W1"] / study.readings["W2"]
    assert ratio[[1, 2, 3, 5, 6]].tolist() == pytest.approx(
        [0.5, 0.396, 0.268, -0.295, -0.703], abs=6e-4
    )


@pytest.mark.parametrize("line", ["L1", "L2", "L3"])
def test_3_one_meter_times_three_against_unbalance(line: str) -> None:
    meter = {
        "wattmeter": [{"name": "W", "current": line, "voltage": [line, "N"]}],
        "total": {"power": "3*W"},
    }
    document = measured(4, star(each="23 ohm"), 230, **meter)
    study = vary(scenario(document), {"load: unbalance L1": Steps("-50 %", "50 %", 41)})
    u = np.linspace(-0.5, 0.5, 41)
    # derived: 3·(1 + u) or 3·1 instead of 3 + u
    wanted = 100 * (2 * u if line == "L1" else -u) / (3 + u)
    np.testing.assert_allclose(error(study), wanted, atol=1e-10)
    # needs.md row 9: u = 10 % and 50 %
    printed = {"L1": (6.45, 28.57)}.get(line, (-3.23, -14.29))
    assert error(study)[[24, 40]].tolist() == pytest.approx(printed, abs=0.006)


def test_4_two_meters_against_the_neutrals_impedance() -> None:
    document = measured(4, star(**U_LOAD), 230, **two("L2"))
    values = ["0 ohm", "1 ohm", "5 ohm", "20 ohm", "100 ohm", "open"]
    study = vary(scenario(document), {"load: neutral_lead": values})
    # needs.md row 10, against the loads alone
    assert error(study)[:-1].tolist() == pytest.approx([50, 51.67, 49.69, 30.53, 8.68], abs=0.006)
    assert error(study)[-1] == pytest.approx(0, abs=1e-10)


@pytest.mark.parametrize(("common", "printed"), [("L1", -0.25), ("L2", 1.88), ("L3", -1.64)])
def test_5_two_meters_against_unbalance(common: str, printed: float) -> None:
    document = measured(4, star(each="23 ohm, 0.8 lag"), 230, **two(common))
    study = vary(scenario(document), {"load: unbalance L3": ["0 %", "5 %"]})
    # needs.md row 10: the current in C 5 % larger
    assert error(study)[0] == pytest.approx(0, abs=1e-10)
    assert error(study)[1] == pytest.approx(printed, abs=0.006)


@pytest.mark.parametrize("wires", [3, 4])
def test_6_floating_star_point_against_unequal_circuits(wires: int) -> None:
    meters = {
        "instrument": {f"m{k}": {"voltage_circuit": "20 kohm"} for k in (1, 2, 3)},
        "method": {
            "name": "three wattmeters to a floating star point",
            "instrument": ["m1", "m2", "m3"],
        },
    }
    document = measured(wires, star(**U_LOAD), 230, **meters)
    circuits = ["20 kohm", "20.2 kohm", "21 kohm", "22 kohm", "40 kohm"]
    study = vary(scenario(document), {"instrument m1: voltage_circuit": circuits})
    if wires == 3:
        # any star point will do where no current returns, but for what the circuits draw
        np.testing.assert_allclose(error(study), 0, atol=0.2)
        assert np.ptp(study.readings["W1"]) > 100
    else:
        # needs.md row 16, on 20 kohm that themselves take some 8 W of 4600 W
        change = error(study) - error(study)[0]
        assert change[1:4].tolist() == pytest.approx([0.207, 1.008, 1.953], abs=0.01)


def test_7_against_unequal_voltages() -> None:
    # needs.md rows 9 and 27
    one = {
        "wattmeter": [{"name": "W", "current": "L1", "voltage": ["L1", "N"]}],
        "total": {"power": "3*W"},
    }
    study = vary(
        scenario(measured(4, star(each="23 ohm"), 230, **one)), {"supply: unbalance L1": ["-3 %"]}
    )
    assert error(study).tolist() == pytest.approx([-4.02], abs=0.006)
    difference = {"method": {"name": "two elements, difference currents"}}
    written = scenario(measured(4, star(each="23 ohm"), 230, **difference))
    study = vary(written, {"supply: unbalance L2": ["-2 %", "-5 %", "5 %"]})
    assert error(study).tolist() == pytest.approx([0.66, 1.64, -1.69], abs=0.006)
    study = vary(written, {"supply: L1": [f"{0.95 * 230!r} V"]})
    assert error(study).tolist() == pytest.approx([-0.86], abs=0.006)


def test_9_angle_of_current_transformers_against_power_factor() -> None:
    transformer = {"current_transformer": {"ct": {"ratio": "100/5 A"}}}
    meters = {"method": {"name": "two wattmeters", "current_transformer": "ct"}}
    document = measured(3, star(each="23 ohm"), 230, **transformer, **meters)
    study = vary(
        scenario(document),
        {
            "load: angle": Steps("0 deg", "85 deg", 18),
            "current_transformer ct: phase_displacement": ["30 min", "60 min"],
        },
    )
    phi = np.radians(np.linspace(0, 85, 18))[:, None]
    beta = np.radians([0.5, 1.0])
    # needs.md row 14: cos(φ − β)/cos φ − 1
    np.testing.assert_allclose(
        error(study), 100 * (np.cos(phi - beta) / np.cos(phi) - 1), rtol=1e-9, atol=1e-9
    )


def test_12_lamps_against_the_capacitance_of_a_sequence_indicator() -> None:
    # derived: V_S = Σ V·y/Σ y (Millman); where Xc = R needs.md row 11 has 1.496 and 0.401
    R = 1000.0
    load = star(L1="-1000j ohm", L2=f"{R} ohm", L3=f"{R} ohm") | {
        "L1": {"capacitance": "1 uF"},
        "star_point": "P",
    }
    meters = [{"name": f"V{k}", "between": [f"L{k}", "P"]} for k in (1, 2, 3)]
    document = measured(3, load, 230, voltmeter=meters)
    equal = 1 / (2 * math.pi * 50 * R)
    steps = Steps("0.1 uF", f"{equal!r} F", 31, logarithmic=True)
    study = vary(scenario(document), {"load: L1 capacitance": steps})
    farads = 0.1e-6 * (equal / 0.1e-6) ** np.linspace(0, 1, 31)
    V = 230 * np.array([1, cmath.rect(1, -2 * math.pi / 3), cmath.rect(1, 2 * math.pi / 3)])
    y = np.stack([2j * math.pi * 50 * farads, np.full(31, 1 / R), np.full(31, 1 / R)])
    point = (V @ y) / y.sum(axis=0)
    for k in (1, 2):
        np.testing.assert_allclose(study.readings[f"V{k + 1}"], np.abs(V[k] - point), rtol=1e-12)
    assert study.readings["V2"][-1] / 230 == pytest.approx(1.496, abs=6e-4)
    assert study.readings["V3"][-1] / 230 == pytest.approx(0.401, abs=6e-4)
    assert study.units["V2"] == "V"

"""One solved network: true, crossing and lost, each number by Ohm's and Millman's laws."""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import simulator

if TYPE_CHECKING:
    from simulator.findings.station import Station

A = cmath.rect(1, 2 * math.pi / 3)
V = 230 * np.array([1, A**2, A])
FOUR = {"wires": 4, "voltage": f"{230 * math.sqrt(3)!r} V"}
THREE = {"wires": 3, "voltage": f"{230 * math.sqrt(3)!r} V"}
EXACT = {"rel": 1e-10, "abs": 1e-10}


def station(supply: dict[str, Any], *loads: dict[str, Any], **tables: Any) -> Station:
    document = {"title": "station", "supply": supply, "load": list(loads)} | tables
    return simulator.solve(simulator.scenario_from(document)).first


def star(L1: str, L2: str, L3: str, **more: str) -> dict[str, Any]:
    return {"connection": "star", "L1": L1, "L2": L2, "L3": L3} | more


def test_true_is_what_the_loads_take_and_crossing_what_passes_the_meters() -> None:
    # derived: a star on the neutral behind 1 ohm of lead in each line and 2 ohm in the neutral,
    # a heater between two lines on the load side, another on the supply side of the meters
    found = station(
        FOUR,
        star("20+5j ohm", "30 ohm", "10-8j ohm", star_point="neutral", lead_impedance="1 ohm",
             neutral_lead="2 ohm", name="oven"),
        impedance=[
            {"name": "beyond", "between": ["L1", "L2"], "value": "100 ohm"},
            {"name": "before", "between": ["L2", "L3"], "value": "50 ohm", "side": "supply"},
        ],
        wattmeter=[{"name": "W1", "current": "L1", "voltage": ["L1", "N"]}],
    )  # fmt: skip
    Z = np.array([20 + 5j, 30, 10 - 8j])
    y = 1 / (Z + 1)
    point = (V @ y) / (y.sum() + 1 / 2)
    I = (V - point) * y
    heater = (V[0] - V[1]) / 100
    true = complex(Z @ np.abs(I) ** 2)
    leads = float(np.sum(np.abs(I) ** 2)) + 2 * abs(I.sum()) ** 2
    beyond = 3 * 230**2 / 100
    assert found.true == pytest.approx(true, **EXACT)
    assert found.crossing == pytest.approx(true + leads + beyond, **EXACT)
    lines = I + np.array([heater, -heater, 0])
    assert found.line_currents.tolist() == pytest.approx(lines.tolist(), **EXACT)
    assert found.crossing == pytest.approx(complex(V @ lines.conj()), **EXACT)
    assert float(found.plane.active) == pytest.approx(found.crossing.real, **EXACT)
    assert found.neutral_current == pytest.approx(complex(I.sum()), **EXACT)
    assert found.losses == pytest.approx(
        {
            "meters": 0,
            "leads": leads,
            "transformers": 0,
            "impedances": beyond + 3 * 230**2 / 50,
        },
        **EXACT,
    )
    (load,) = found.loads
    assert load.name == "oven"
    assert load.power == pytest.approx(true, **EXACT)
    assert load.star_point == pytest.approx(complex(point), **EXACT)  # before its neutral lead
    for branch, z, i in zip(load.branches, Z, I, strict=True):
        assert branch.current == pytest.approx(complex(i), **EXACT)
        assert branch.voltage == pytest.approx(complex(z * i), **EXACT)
        assert branch.power == pytest.approx(complex(z) * abs(i) ** 2, **EXACT)


def test_losses_of_lines_and_meters() -> None:
    # derived: 10 A through 1 ohm of line, 0.5 ohm of neutral and 0.2 ohm of current circuit into
    # 23 − 1.7 ohm; a voltage circuit of 23 kΩ before the current circuit at 230 − 10 V, and a
    # voltmeter of 10 kΩ at the load, both small beside it but counted
    coil, coil_v, volt = 0.2, 23e3, 10e3
    found = station(
        FOUR | {"line_impedance": "1 ohm", "neutral_impedance": "0.5 ohm"},
        {"connection": "line-to-neutral", "L1": "21.3 ohm"},
        instrument={
            "w": {"current_circuit": f"{coil} ohm", "voltage_circuit": f"{coil_v} ohm"},
            "v": {"voltage_circuit": f"{volt} ohm"},
            "a": {"current_circuit": "0.1 ohm"},
        },
        wattmeter=[{"name": "W", "current": "L1", "voltage": ["L1", "N"], "instrument": "w"}],
        voltmeter=[{"name": "V", "between": ["L1", "N"], "instrument": "v"}],
        ammeter=[{"name": "A", "in": "L1", "instrument": "a"}],
    )
    load = 1 / (1 / 21.3 + 1 / volt)
    after = coil + 0.1 + load  # beyond the tap of the wattmeter's voltage circuit
    both = 1 / (1 / after + 1 / coil_v)
    I_line = 230 / (1.5 + both)
    U_tap = I_line * both
    I = U_tap / after
    U = I * load
    assert found.losses["leads"] == pytest.approx(1.5 * I_line**2, rel=1e-12)
    meters = U_tap**2 / coil_v + (coil + 0.1) * I**2 + U**2 / volt
    assert found.losses["meters"] == pytest.approx(meters, rel=1e-12)
    assert found.true == pytest.approx(U**2 / 21.3, rel=1e-12)
    assert found.voltmeters == pytest.approx({"V": U}, rel=1e-12)
    assert found.ammeters == pytest.approx({"A": I}, rel=1e-12)
    # the line current is counted beyond the meters: the voltmeter is one of them
    assert found.line_currents[0] == pytest.approx(U / 21.3, rel=1e-12)
    assert found.crossing == pytest.approx(found.true, rel=1e-12)


def test_the_potentials_of_the_plane_are_those_on_the_load_side() -> None:
    # derived: 1 ohm of current circuit in L1 at 10 A, 3 ohm in the neutral
    found = station(
        FOUR,
        {"connection": "line-to-neutral", "L1": "19 ohm"},
        instrument={"a": {"current_circuit": "1 ohm"}, "n": {"current_circuit": "3 ohm"}},
        ammeter=[
            {"name": "A", "in": "L1", "instrument": "a"},
            {"name": "B", "in": "N", "instrument": "n"},
        ],
    )
    expected = np.array([220, *V[1:]]) - 30
    assert found.line_potentials.tolist() == pytest.approx(expected.tolist(), **EXACT)
    assert found.neutral_current == pytest.approx(10, rel=1e-12)
    assert found.neutral == "N"


def test_on_three_wires_potentials_are_to_their_mean_and_there_is_no_neutral() -> None:
    emfs = {"L1": "230 V", "L2": "200 V @ -130 deg", "L3": "240 V @ 110 deg"}
    found = station({"wires": 3, "phase_voltages": emfs}, star("20 ohm", "30 ohm", "10-8j ohm"))
    assert complex(found.line_potentials.sum()) == pytest.approx(0, abs=1e-10)
    assert found.line_potentials[0] - found.line_potentials[1] == pytest.approx(
        230 - cmath.rect(200, math.radians(-130)), rel=1e-12
    )
    assert found.neutral is None
    assert found.neutral_current == 0


@pytest.mark.parametrize("sequence", ["L1-L2-L3", "L3-L2-L1"])
def test_components_are_those_of_the_supplys_own_sequence(sequence: str) -> None:
    # derived: a balanced load of 10 ohm sees each component by itself
    emfs = {"positive": "230 V", "negative": "6 V @ 40 deg", "zero": "3 V"}
    found = station(
        {"wires": 4, "sequence_voltages": emfs, "sequence": sequence},
        {"connection": "star", "each": "10 ohm", "star_point": "neutral"},
    )
    parts = (230, cmath.rect(6, math.radians(40)), 3)
    assert found.components["voltage"] == pytest.approx(parts, rel=1e-10)
    assert found.components["current"] == pytest.approx([p / 10 for p in parts], rel=1e-10)


def test_a_motor_has_three_branches_to_a_star_point_without_zero_sequence() -> None:
    # derived: star of Z1 on symmetrical voltages; the circuit at slip 0.03 written out
    circuit = {"R1": "0.6 ohm", "X1": "1.1 ohm", "R2": "0.3 ohm", "X2": "0.46 ohm", "Xm": "26 ohm"}
    found = station(THREE, {"connection": "motor", "slip": 0.03, "circuit": circuit, "name": "M"})
    rotor = 0.3 / 0.03 + 0.46j
    Z = 0.6 + 1.1j + 26j * rotor / (26j + rotor)
    (motor,) = found.loads
    assert motor.star_point == pytest.approx(0, abs=1e-9)
    for branch, v in zip(motor.branches, V, strict=True):
        assert branch.voltage == pytest.approx(complex(v), rel=1e-10)
        assert branch.current == pytest.approx(complex(v / Z), rel=1e-10)
    assert motor.power == pytest.approx(3 * 230**2 / Z.conjugate(), rel=1e-10)
    assert found.crossing == pytest.approx(motor.power, rel=1e-10)


def test_a_motors_star_point_is_the_mean_of_its_terminals() -> None:
    # derived: it draws no zero-sequence current, so the zero component of 15j V moves it whole
    circuit = {"R1": "0.6 ohm", "X1": "1.1 ohm", "R2": "0.3 ohm", "X2": "0.46 ohm", "Xm": "26 ohm"}
    emfs = {"positive": "230 V", "negative": "9 V", "zero": "15 V @ 90 deg"}
    motor = {"connection": "motor", "slip": 0.03, "circuit": circuit}
    found = station({"wires": 3, "sequence_voltages": emfs}, motor)
    assert found.loads[0].star_point == pytest.approx(15j, rel=1e-10)
    voltages = sum(branch.voltage for branch in found.loads[0].branches)
    assert voltages == pytest.approx(0, abs=1e-10)


def test_star_points_of_every_kind() -> None:
    # isolated: Millman; delta: none; named and held at N by an impedance: a fourth branch
    isolated = star("20 ohm", "30 ohm", "60 ohm", star_point="isolated", name="a")
    named = star("20 ohm", "30 ohm", "60 ohm", star_point="S", name="b")
    delta = {"connection": "delta", "each": "90 ohm", "name": "c"}
    found = station(
        FOUR, isolated, named, delta,
        impedance=[{"name": "Z", "between": ["S", "N"], "value": "10 ohm"}],
    )  # fmt: skip
    y = 1 / np.array([20, 30, 60])
    a, b, c = found.loads
    assert a.star_point == pytest.approx(complex(V @ y / y.sum()), rel=1e-10)
    assert b.star_point == pytest.approx(complex(V @ y / (y.sum() + 0.1)), rel=1e-10)
    assert c.star_point is None
    assert found.nodes == {"S": b.star_point}  # named by the user, unlike the isolated one


def test_what_is_only_rounding_is_nothing() -> None:
    found = station(THREE, star("20 ohm", "20 ohm", "20 ohm", name="a"))
    assert found.loads[0].star_point == 0
    found = station(THREE, star("20 ohm", "20 ohm", "open", name="a"))
    assert found.line_currents[2] == 0
    assert found.loads[0].branches[2].current == 0
    assert found.loads[0].branches[2].power == 0


def test_a_separate_impedance_between_two_nodes_of_its_own_is_beyond_the_meters_too() -> None:
    # derived: a star of 23 ohm whose point S is held at N by 10 + 5 ohm, with a node T between
    found = station(
        FOUR,
        star("20 ohm", "30 ohm", "60 ohm", star_point="S"),
        impedance=[
            {"name": "first", "between": ["S", "T"], "value": "10 ohm"},
            {"name": "second", "between": ["T", "N"], "value": "5 ohm"},
        ],
    )
    y = 1 / np.array([20, 30, 60])
    I = (V - V @ y / (y.sum() + 1 / 15)) * y
    assert found.line_currents.tolist() == pytest.approx(I.tolist(), **EXACT)
    assert found.crossing == pytest.approx(complex(V @ I.conj()), **EXACT)


def test_the_resistors_of_an_artificial_neutral_belong_to_the_meters_on_either_side() -> None:
    # derived: a balanced 20 ohm star takes 3·(230 V)²/20 ohm, whatever the meter's own star takes
    for tap in ("supply", "load"):
        found = station(
            THREE,
            star("20 ohm", "20 ohm", "20 ohm"),
            instrument={"p": {"voltage_circuit": "20 kohm"}},
            method={
                "name": "one wattmeter with artificial neutral",
                "instrument": "p",
                "voltage_tap": tap,
                "resistors": ["20 kohm", "10 kohm"],
            },
        )
        assert found.crossing == pytest.approx(3 * 230**2 / 20, **EXACT)
        assert abs(found.line_currents.sum()) < 1e-9

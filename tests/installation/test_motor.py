"""The motor's block against the equivalent circuit it stands for, built of plain elements."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from simulator.installation.conductors import Conductors
from simulator.installation.loads import Connection, Load
from simulator.installation.motor import Motor
from simulator.network.elements import Impedance, Source
from simulator.network.netlist import Netlist
from simulator.network.nodal import solve

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.network.elements import Element

A = cmath.rect(1, 2 * math.pi / 3)
# Rows: unit positive set of L1-L2-L3 and of L3-L2-L1.
SETS = {1: np.array([1, A**2, A]), -1: np.array([1, A, A**2])}
# The numbers of design/scenario.md.
MOTOR = Motor(R1=0.641, X1=1.106, R2=0.332, X2=0.464, Xm=26.3, Rc=math.inf, slip=0.022)
WITH_IRON = replace(MOTOR, Rc=180.0)


def per_phase(motor: Motor, slip: float) -> complex:
    """Solve the per-phase circuit as a network: its impedance is volts over amperes."""
    elements: list[Element] = [
        Source("E", ("1", "0"), 100),
        Impedance("stator", ("1", "2"), motor.R1 + 1j * motor.X1),
        Impedance("magnetising", ("2", "0"), 1j * motor.Xm),
        Impedance("iron", ("2", "0"), motor.Rc),
        Impedance("rotor leakage", ("2", "3"), 1j * motor.X2),
        Impedance("rotor", ("3", "0"), motor.R2 / slip if slip else complex(math.inf)),
    ]
    return 100 / solve(Netlist(tuple(elements), "0")).current("stator")


@pytest.mark.parametrize("motor", [MOTOR, WITH_IRON])
@pytest.mark.parametrize("slip", [0.0, 0.022, 1.0, 1.3, 2.0])
def test_sequence_impedances_are_those_of_the_circuit_at_s_and_2_minus_s(
    motor: Motor, slip: float
) -> None:
    found = replace(motor, slip=slip).sequence_impedances()
    assert found == pytest.approx((per_phase(motor, slip), per_phase(motor, 2 - slip)), rel=1e-12)


def test_limits_of_the_slip() -> None:
    # derived: without slip the rotor is open, Z = R1 + j(X1 + Xm); at standstill both fields meet
    # the same circuit
    idle, _ = replace(MOTOR, slip=0.0).sequence_impedances()
    assert idle == pytest.approx(0.641 + 27.406j, rel=1e-12)
    positive, negative = replace(MOTOR, slip=1.0).sequence_impedances()
    assert positive == pytest.approx(negative, rel=1e-12)


@pytest.mark.parametrize("sequence", [1, -1])
@pytest.mark.parametrize("motor", [MOTOR, WITH_IRON])
def test_each_set_meets_its_own_impedance_and_the_zero_set_none(
    motor: Motor, sequence: int
) -> None:
    Z1, Z2 = per_phase(motor, motor.slip), per_phase(motor, 2 - motor.slip)
    Y = motor.admittance(sequence)
    forward, backward = 230 * SETS[sequence], 11j * SETS[-sequence]
    assert Y @ forward == pytest.approx(forward / Z1, rel=1e-12)
    assert Y @ backward == pytest.approx(backward / Z2, rel=1e-12)
    assert Y @ np.full(3, 50 + 7j) == pytest.approx(np.zeros(3), abs=1e-13)
    # nothing flows out anywhere but through the three terminals
    assert Y.sum(axis=0) == pytest.approx(np.zeros(3), abs=1e-15)


def stars(Z: complex, emfs: np.ndarray) -> Iterator[Element]:
    for k, emf in enumerate(emfs.tolist()):
        yield Source(f"E{k}", (f"L{k + 1}", "0"), emf)
        yield Impedance(f"Z{k}", (f"L{k + 1}", "star"), Z)


@pytest.mark.parametrize("sequence", [1, -1])
def test_an_unsymmetrical_supply_is_the_superposition_of_two_plain_stars(sequence: int) -> None:
    lines = ("L1", "L2", "L3")
    positive, negative, zero = 228 * SETS[sequence], (9 - 4j) * SETS[-sequence], np.full(3, 15j)
    load = Load("M", Connection.MOTOR, (), None, {}, MOTOR)
    parts = [element for _, element in load.elements(Conductors(), sequence)]
    emfs = (positive + negative + zero).tolist()
    sources = [
        Source(f"E{k}", (line, "0"), emf)
        for k, (line, emf) in enumerate(zip(lines, emfs, strict=True))
    ]
    found = solve(Netlist((*sources, *parts), "0"))

    currents = np.zeros(3, complex)
    slips = (MOTOR.slip, 2 - MOTOR.slip)
    for slip, part in zip(slips, (positive, negative), strict=True):
        alone = solve(Netlist(tuple(stars(per_phase(MOTOR, slip), part)), "0"))
        currents += [alone.current(f"Z{k}") for k in range(3)]
    assert found.currents["motor M"] == pytest.approx(currents, rel=1e-11)
    # 3·Re(Z)·|I|² of each field, no power between them
    P = sum(
        3 * abs(V / Z) ** 2 * Z.real
        for V, Z in ((228, per_phase(MOTOR, slips[0])), (9 - 4j, per_phase(MOTOR, slips[1])))
    )
    assert found.powers["motor M"].real == pytest.approx(P, rel=1e-11)


def test_a_motor_behind_leads() -> None:
    # derived: on a symmetrical supply every line sees Z1 and its lead
    leads = dict.fromkeys(("L1", "L2", "L3"), 0.3 + 0.1j)
    load = Load("M", Connection.MOTOR, (), None, leads, MOTOR)
    sources = [Source(f"E{k}", (f"L{k + 1}", "0"), 230 * a) for k, a in enumerate(SETS[1])]
    found = solve(Netlist((*sources, *(e for _, e in load.elements(Conductors(), 1))), "0"))
    expected = 230 / (per_phase(MOTOR, MOTOR.slip) + 0.3 + 0.1j)
    assert found.current("lead L1 of M") == pytest.approx(expected, rel=1e-12)
    assert found.currents["motor M"][0] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("line", range(3))
def test_a_motor_on_one_line_only_rests(line: int) -> None:
    # Two leads open: no current flows, and no rounding of it may be taken for a fault.
    leads = {f"L{k + 1}": complex(math.inf) if k != line else 0.1 + 0j for k in range(3)}
    load = Load("M", Connection.MOTOR, (), None, leads, MOTOR)
    sources = [Source(f"E{k}", (f"L{k + 1}", "0"), 230 * a) for k, a in enumerate(SETS[1])]
    found = solve(Netlist((*sources, *(e for _, e in load.elements(Conductors(), 1))), "0"))
    assert np.abs(found.currents["motor M"]).max() < 1e-12

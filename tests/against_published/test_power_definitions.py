"""Apparent power and unbalance by their definitions, through whole circuits.

IEEE 1459-2010 and DIN 40110-2: formulas partly SEEN in texts that quote them, numbers CALC.
"""

from __future__ import annotations

import math

import pytest

import simulator
from simulator.findings.powers import PlanePowers, nema_voltage_unbalance

pytestmark = pytest.mark.reference


def plane(wires: int, load: dict[str, str], zero: str = "0 V") -> PlanePowers:
    table = {
        "title": "apparent power",
        "supply": {"wires": wires, "sequence_voltages": {"positive": "100 V", "zero": zero}},
        "load": [load],
    }
    return simulator.solve(simulator.scenario_from(table)).first.plane


def test_a_one_phase_of_four_wires() -> None:
    # 100 V, 10 A in one resistor: P = S_V = S_A = 1000, S_e = 2449.49, pf_e = 0.408248 (ρ = ξ = 1)
    found = plane(4, {"connection": "line-to-neutral", "L1": "10 ohm"})
    assert found.active == pytest.approx(1000)
    assert found.apparent.vector == pytest.approx(1000)
    assert found.apparent.arithmetic == pytest.approx(1000)
    assert found.apparent.effective == pytest.approx(2449.49, abs=0.005)
    assert found.power_factor.effective == pytest.approx(0.408248, abs=5e-7)
    # no zero-sequence voltage, so DIN's collective quantities are the same
    assert found.apparent.collective == pytest.approx(2449.49, abs=0.005)


def test_b_one_resistor_between_two_lines() -> None:
    # 17.3205 ohm on three wires: P = 1732.05, pf_V = 1, pf_A = 0.866025, pf_e = 0.707107
    found = plane(3, {"connection": "line-to-line", "L1-L2": "17.320508 ohm"})
    assert found.active == pytest.approx(1732.05, abs=0.005)
    assert found.power_factor.vector == pytest.approx(1)
    assert found.power_factor.arithmetic == pytest.approx(0.866025, abs=5e-7)
    assert found.power_factor.effective == pytest.approx(0.707107, abs=5e-7)


def test_zero_sequence_weighs_differently_in_the_two_standards() -> None:
    # CALC, ρ = ξ = 1: Ve² = V1² + V2² + V0²/2 (IEEE), U_Σ² = 3·(V1² + V2² + V0²/4) (DIN), and
    # Ie² = I_Σ²/3 = I1² + I2² + 4·I0²; here V1 = 100, V0 = 20 V on 10 ohm from each line to N
    load = {"connection": "star", "each": "10 ohm", "star_point": "neutral"}
    found = plane(4, load, zero="20 V @ 50 deg")
    squared_current = 10**2 + 4 * 2**2
    assert found.apparent.effective == pytest.approx(
        3 * math.sqrt((100**2 + 20**2 / 2) * squared_current)
    )
    assert found.apparent.collective == pytest.approx(
        3 * math.sqrt((100**2 + 20**2 / 4) * squared_current)
    )


def test_trap_a_published_unbalance_that_is_wrong() -> None:
    # NEMA MG 1, largest deviation over mean (SEEN
    # https://www.eng-tips.com/threads/nec-standrad-for-voltage-unbalance-for-motors.41982/latest ):
    # 400, 395, 388 V give 1.606 % (CALC: mean 394⅓, deviation 6⅓). The page
    # https://hemmotor.com/en/blog/asynchronous-ac-motors/asynchronous-motor-voltage-unbalance-derating-nema
    # prints 1.45 %.
    found = 100 * nema_voltage_unbalance([400, 395, 388])
    assert found == pytest.approx(100 * 19 / 1183)
    assert found != pytest.approx(1.45, abs=0.005)

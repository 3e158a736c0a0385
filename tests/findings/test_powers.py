"""`standards.md` and `needs.md` are the project's reference and design pages.

CALC marks a number that was calculated for those pages, not published.
"""

from __future__ import annotations

import math
from dataclasses import astuple

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from simulator.errors import SimulatorError
from simulator.findings.powers import (
    ByDefinition,
    nema_voltage_unbalance,
    plane_powers,
    voltage_unbalance,
    voltage_unbalance_from_magnitudes,
)
from simulator.phasors import polar

ROOT3 = math.sqrt(3)
A = np.exp(2j * np.pi / 3)
# Rows: unit positive, negative, zero component on L1, L2, L3 (sequence L1-L2-L3).
SETS = np.array([[1, A**2, A], [1, A, A**2], [1, 1, 1]])
SYMMETRICAL = SETS[0]
# Powers of opposite sign cancel: what is left is compared with the largest possible power.
ROUND_OFF = 1e-12

phasor = st.builds(polar, st.one_of(st.just(0.0), st.floats(0.01, 1000)), st.floats(-180, 180))
three = st.lists(phasor, min_size=3, max_size=3).map(np.array)
no_neutral_current = st.tuples(phasor, phasor).map(lambda i: np.array([*i, -i[0] - i[1]]))
angle = st.floats(-180, 180)


def four(by: ByDefinition) -> np.ndarray:
    return np.array([by.arithmetic, by.vector, by.effective, by.collective])


def largest(V: np.ndarray, I: np.ndarray) -> float:
    return float(np.linalg.norm(V) * np.linalg.norm(I))


# Named circuits -----------------------------------------------------------------------------


def test_one_resistor_on_one_phase_of_four_wires() -> None:
    # standards.md section 5, test A (CALC): 100 V, 10 A resistive on one phase
    found = plane_powers(100 * SYMMETRICAL, [10, 0, 0], wires=4)
    assert found.active == pytest.approx(1000)
    assert found.reactive == pytest.approx(0, abs=1e-9)
    # no zero component of voltage, so the collective quantities are the effective ones (CALC)
    assert four(found.apparent) == pytest.approx([1000, 1000, 2449.49, 2449.49], abs=0.005)
    assert four(found.power_factor) == pytest.approx([1, 1, 0.408248, 0.408248], abs=5e-7)


@pytest.mark.parametrize("reference", [0, 57.7 - 12j, 100])
def test_one_resistor_between_two_lines(reference: complex) -> None:
    # standards.md section 5, test B (CALC): 17.3205 Ω between two lines, 100 V to the star point
    V = 100 * SYMMETRICAL
    i = (V[0] - V[1]) / 17.320508
    found = plane_powers(V + reference, [i, -i, 0], wires=3)
    assert found.active == pytest.approx(1732.05, abs=0.005)
    assert four(found.power_factor) == pytest.approx([0.866025, 1, 0.707107, 0.707107], abs=5e-7)


def test_base_case_balanced() -> None:
    # needs.md section 6, case B: 400 V, 10 A, pf 0.8 lag; derived: P = √3·400·10·0.8 and all
    # definitions agree on a balanced circuit, S = √3·400·10
    V = 400 / ROOT3 * SYMMETRICAL
    for wires in (3, 4):
        found = plane_powers(V, 10 * SYMMETRICAL * (0.8 - 0.6j), wires)
        assert found.active == pytest.approx(5542.6, abs=0.05)
        assert found.reactive == pytest.approx(4156.9, abs=0.05)
        assert four(found.apparent) == pytest.approx(6928.2, abs=0.05)
        assert four(found.power_factor) == pytest.approx(0.8)


def test_base_case_on_four_wires() -> None:
    # needs.md section 6, case U: P and Q there; power factors from its section 3.1 (derived
    # there from phasors). Arithmetic apparent power derived: 230 V·(10 + 5 + 10) A.
    found = plane_powers(230 * SYMMETRICAL, [polar(10, 0), polar(5, -120), polar(10, 60)], wires=4)
    assert found.active == pytest.approx(4600)
    assert found.reactive == pytest.approx(1991.86, abs=0.005)
    assert found.apparent.arithmetic == pytest.approx(5750)
    assert found.power_factor.arithmetic == pytest.approx(0.800, abs=0.0005)
    assert found.power_factor.vector == pytest.approx(0.918, abs=0.0005)
    assert found.power_factor.effective == pytest.approx(0.577, abs=0.0005)


def test_base_case_with_the_neutral_open() -> None:
    # needs.md sections 2 (row 2 and 7) and 6, case U3: star point 139.60 V at 42.52°, currents
    # 6.883, 7.947, 10.513 A, P 5265.79, Q 2201.53, vector power factor 0.923.
    V = 230 * SYMMETRICAL
    I = (V - polar(139.60, 42.52)) / [23, 46, polar(23, 60)]
    I -= I.mean()  # the printed star point leaves a milliampere over
    for reference in (0, V[1], polar(139.60, 42.52)):
        found = plane_powers(V - reference, I, wires=3)
        assert found.active == pytest.approx(5265.79, rel=2e-4)
        assert found.reactive == pytest.approx(2201.53, rel=2e-4)
        assert found.power_factor.vector == pytest.approx(0.923, abs=0.0005)
        # derived from the printed currents: the mean of the potentials is the supply's star point
        arithmetic = 5265.79 / (230 * (6.883 + 7.947 + 10.513))
        effective = 5265.79 / (230 * math.sqrt(3 * (6.883**2 + 7.947**2 + 10.513**2)))
        assert found.power_factor.arithmetic == pytest.approx(arithmetic, rel=2e-4)
        assert found.power_factor.effective == pytest.approx(effective, rel=2e-4)


def test_base_case_resistor_between_two_lines() -> None:
    # needs.md section 2 row 7, case R: 4000 W, Q = 0, vector 1.000, arithmetic 0.866, effective
    # 0.707 (derived there from phasors)
    V = 400 / ROOT3 * SYMMETRICAL
    i = (V[0] - V[1]) / 40
    found = plane_powers(V, [i, -i, 0], wires=3)
    assert found.active == pytest.approx(4000)
    assert found.reactive == pytest.approx(0, abs=1e-9)
    assert found.power_factor.vector == pytest.approx(1.000, abs=0.0005)
    assert found.power_factor.arithmetic == pytest.approx(0.866, abs=0.0005)
    assert found.power_factor.effective == pytest.approx(0.707, abs=0.0005)


@pytest.mark.reference
def test_equal_resistors_on_unequal_line_voltages() -> None:
    # Chakrabarti, Soni, Gupta, Bhatnagar, A Textbook on Power System Engineering, 2nd ed. 2013,
    # example 3.3.6, as printed by the book's companion notebook: line voltages 1840 at 124.2°,
    # 2760 at 0°, 2300 at −138.6° (they close within 1 V) on a star of 10.58 Ω give 98.3, 129
    # and 149.2 A. Derived from those: P = R·ΣI², and equal resistors have power factor 1 by every
    # definition that refers voltages to the star point. Printed to 0.4 % at worst (129 A).
    R = 10.58
    V = np.array([polar(1840, 124.2), 0, -polar(2760, 0)])
    I = (V - V.mean()) / R
    np.testing.assert_allclose(np.abs(I), [98.3, 129, 149.2], rtol=0.004)
    found = plane_powers(V, I, wires=3)
    P = R * (98.3**2 + 129**2 + 149.2**2)
    assert four(found.apparent) == pytest.approx(P, rel=0.004)
    assert four(found.power_factor) == pytest.approx(1)


# Identities ---------------------------------------------------------------------------------


@given(three, three)
def test_four_wires_in_symmetrical_components(V012: np.ndarray, I012: np.ndarray) -> None:
    # standards.md section 5 (CALC), a second route: Ve² = V1² + V2² + V0²/2,
    # Ie² = I1² + I2² + 4·I0², U_Σ² = 3·(V1² + V2² + V0²/4), I_Σ² = 3·Ie²;
    # P + jQ = 3·ΣV·I* because the components are orthogonal
    found = plane_powers(V012 @ SETS, I012 @ SETS, wires=4)
    tolerance = ROUND_OFF * largest(V012 @ SETS, I012 @ SETS)
    V, I = np.abs(V012) ** 2, np.abs(I012) ** 2
    Ie = math.sqrt(I @ [1, 1, 4])
    power = 3 * (V012 @ I012.conj())
    assert found.active == pytest.approx(power.real, abs=tolerance)
    assert found.reactive == pytest.approx(power.imag, abs=tolerance)
    assert found.apparent.vector == pytest.approx(abs(power), abs=tolerance)
    assert found.apparent.effective == pytest.approx(
        3 * math.sqrt(V @ [1, 1, 0.5]) * Ie, abs=tolerance
    )
    assert found.apparent.collective == pytest.approx(
        3 * math.sqrt(V @ [1, 1, 0.25]) * Ie, abs=tolerance
    )


@given(three, three)
def test_three_wires_in_symmetrical_components(V012: np.ndarray, I012: np.ndarray) -> None:
    # standards.md section 5 (CALC): as above; the zero component of voltage is a reference only
    I012[2] = 0
    found = plane_powers(V012 @ SETS, I012 @ SETS, wires=3)
    tolerance = ROUND_OFF * largest(V012 @ SETS, I012 @ SETS)
    V, I = np.abs(V012) ** 2, np.abs(I012) ** 2
    apparent = 3 * math.sqrt((V[0] + V[1]) * (I[0] + I[1]))
    power = 3 * (V012 @ I012.conj())
    assert found.active == pytest.approx(power.real, abs=tolerance)
    assert found.reactive == pytest.approx(power.imag, abs=tolerance)
    assert found.apparent.effective == pytest.approx(apparent, abs=tolerance)
    assert found.apparent.collective == pytest.approx(apparent, abs=tolerance)


@given(three, three)
def test_collective_quantities_to_the_virtual_star_point(V: np.ndarray, I: np.ndarray) -> None:
    # standards.md section 5 (CALC): U_Σ is the norm of all conductors' potentials about their mean,
    # I_Σ that of all conductors' currents, the neutral counted as a conductor like any other
    for wires, conductors, currents in [
        (4, np.append(V, 0), np.append(I, -I.sum())),
        (3, V, I),
    ]:
        expected = largest(conductors - conductors.mean(), currents)
        collective = plane_powers(V, I, wires).apparent.collective
        assert collective == pytest.approx(expected, abs=ROUND_OFF * largest(V, I))


def test_power_is_the_mean_of_voltage_times_current() -> None:
    # derived: instantaneous values over one period, and Q by the same with the current turned back
    # by a quarter period
    V, I = np.array([231, polar(222, -121), polar(236, 119)]), np.array([3 - 4j, 2j, 7])
    turn = np.exp(2j * np.pi * np.arange(64)[:, np.newaxis] / 64)
    v, i = math.sqrt(2) * (V * turn).real, math.sqrt(2) * (I * turn).real
    quarter = math.sqrt(2) * (I * 1j * turn).real
    found = plane_powers(V, I, wires=4)
    assert found.active == pytest.approx((v * i).sum(axis=1).mean())
    assert found.reactive == pytest.approx((v * quarter).sum(axis=1).mean())


# Order --------------------------------------------------------------------------------------


@given(three, no_neutral_current)
def test_order_on_three_wires(V: np.ndarray, I: np.ndarray) -> None:
    # derived: |Σ V·I*| ≤ Σ |V·I| (triangle) ≤ √ΣV²·√ΣI² (Cauchy-Schwarz), V to its mean
    arithmetic, vector, effective, collective = four(plane_powers(V, I, wires=3).apparent)
    tolerance = ROUND_OFF * largest(V, I)
    assert vector <= arithmetic + tolerance
    assert arithmetic <= effective + tolerance
    assert effective == pytest.approx(collective, abs=tolerance)


@given(three, three)
@example(np.ones(3), np.ones(3))
def test_order_on_four_wires(V: np.ndarray, I: np.ndarray) -> None:
    # derived: vector ≤ arithmetic as on three wires; vector ≤ collective by Cauchy-Schwarz in
    # components with V0/2 and 2·I0; collective ≤ effective because V0²/4 ≤ V0²/2
    arithmetic, vector, effective, collective = four(plane_powers(V, I, wires=4).apparent)
    tolerance = ROUND_OFF * largest(V, I)
    assert vector <= arithmetic + tolerance
    assert vector <= collective + tolerance
    assert collective <= effective + tolerance


@given(three, three)
def test_order_on_four_wires_when_voltages_sum_to_zero(V: np.ndarray, I: np.ndarray) -> None:
    # derived: with ΣV = 0, U_Σ² = ΣV², and I_Σ² is at least ΣI²: Cauchy-Schwarz again
    tolerance = ROUND_OFF * largest(V, I)
    arithmetic, _, effective, collective = four(plane_powers(V - V.mean(), I, wires=4).apparent)
    assert arithmetic <= effective + tolerance
    assert effective == pytest.approx(collective, abs=tolerance)


def test_arithmetic_may_exceed_effective_on_four_wires() -> None:
    # derived: three equal voltages, balanced currents. Arithmetic 3; 3·Ve² = 3·3·3/18 = 3/2 and
    # 3·Ie² = 3, so effective √4.5; collective √(3/4·3) = 1.5. So no order holds between them.
    arithmetic, vector, effective, collective = four(
        plane_powers(np.ones(3), SYMMETRICAL, wires=4).apparent
    )
    assert arithmetic == pytest.approx(3)
    assert vector == pytest.approx(0, abs=1e-15)
    assert effective == pytest.approx(math.sqrt(4.5))
    assert collective == pytest.approx(1.5)


# Invariance ---------------------------------------------------------------------------------


@given(three, three, angle, st.sampled_from([3, 4]))
def test_a_common_rotation_changes_nothing(
    V: np.ndarray, I: np.ndarray, degrees: float, wires: int
) -> None:
    before = plane_powers(V, I, wires)
    after = plane_powers(V * polar(1, degrees), I * polar(1, degrees), wires)
    tolerance = ROUND_OFF * largest(V, I)
    assert after.active == pytest.approx(before.active, abs=tolerance)
    assert after.reactive == pytest.approx(before.reactive, abs=tolerance)
    assert four(after.apparent) == pytest.approx(four(before.apparent), abs=tolerance)


@given(three, no_neutral_current, phasor)
def test_a_common_potential_changes_nothing_on_three_wires(
    V: np.ndarray, I: np.ndarray, common: complex
) -> None:
    before, after = plane_powers(V, I, wires=3), plane_powers(V + common, I, wires=3)
    tolerance = ROUND_OFF * (largest(V, I) + largest(V + common, I))
    assert after.active == pytest.approx(before.active, abs=tolerance)
    assert after.reactive == pytest.approx(before.reactive, abs=tolerance)
    assert four(after.apparent) == pytest.approx(four(before.apparent), abs=tolerance)


@given(three, three, st.sampled_from([3, 4]))
def test_reversed_currents_reverse_powers_and_power_factors(
    V: np.ndarray, I: np.ndarray, wires: int
) -> None:
    before, after = plane_powers(V, I, wires), plane_powers(V, -I, wires)
    assert after.active == -before.active
    assert after.reactive == -before.reactive
    np.testing.assert_array_equal(four(after.apparent), four(before.apparent))
    np.testing.assert_array_equal(four(after.power_factor), -four(before.power_factor))


# Undefined, many, refused -------------------------------------------------------------------


@pytest.mark.parametrize("wires", [3, 4])
def test_power_factor_without_apparent_power_is_undefined(wires: int) -> None:
    found = plane_powers(230 * SYMMETRICAL, [0, 0, 0], wires)
    assert not four(found.apparent).any()
    assert np.isnan(four(found.power_factor)).all()


def test_power_factor_of_round_off_is_undefined() -> None:
    # derived: L1 takes what L2 gives back, active and reactive alike, so the vector apparent power
    # is zero and the arithmetic one 2·230·10; rounding leaves about 1e-13 of it
    I = 10 * SYMMETRICAL * [polar(1, 33), polar(1, -147), 0]
    found = plane_powers(230 * SYMMETRICAL, I, wires=4)
    assert np.isnan(found.power_factor.vector)
    assert found.power_factor.arithmetic == pytest.approx(0, abs=1e-12)
    assert found.apparent.arithmetic == pytest.approx(4600)


def test_leading_shapes_broadcast() -> None:
    # derived: case U scaled; P and Q grow with the product, power factors stay
    V = 230 * SYMMETRICAL * np.array([1, 2]).reshape(2, 1, 1)
    I = np.array([polar(10, 0), polar(5, -120), polar(10, 60)]) * np.array([[1], [3], [-1]])
    found = plane_powers(V, I, wires=4)
    np.testing.assert_allclose(found.active, 4600 * np.array([[1, 3, -1], [2, 6, -2]]))
    np.testing.assert_allclose(found.apparent.arithmetic, 5750 * np.array([[1, 3, 1], [2, 6, 2]]))
    for factor in astuple(found.power_factor):
        assert factor.shape == (2, 3)
        np.testing.assert_allclose(factor, factor[0, 0] * np.array([[1, 1, -1]] * 2))


def test_impossible_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="wires is 2, expected 3 or 4"):
        plane_powers(SYMMETRICAL, SYMMETRICAL, wires=2)
    with pytest.raises(ValueError, match="mismatch"):
        plane_powers(np.ones(4), np.ones(4), wires=4)


# Voltage unbalance --------------------------------------------------------------------------


@given(three)
def test_unbalance_from_phasors(V012: np.ndarray) -> None:
    # derived: the phasors are put together from their components by the matrix above
    V = V012 @ SETS
    positive, negative, zero = np.abs(V012)
    if positive > 0:
        tolerance = ROUND_OFF * float(np.abs(V012).max()) / positive
        assert voltage_unbalance(V) == pytest.approx(
            (negative / positive, zero / positive), rel=1e-9, abs=tolerance
        )
    else:
        assert np.isnan(voltage_unbalance(V)).all()


def test_unbalance_on_the_other_sequence() -> None:
    # derived: positive and negative component exchange their roles
    V = np.array([6, 230, 3]) @ SETS
    assert voltage_unbalance(V, -1) == pytest.approx((6 / 230, 3 / 230))
    assert voltage_unbalance(V[[0, 2, 1]]) == pytest.approx((6 / 230, 3 / 230))


@given(st.floats(1, 1000), st.floats(0, 1000), angle)
def test_unbalance_from_magnitudes_of_known_components(
    positive: float, negative: float, degrees: float
) -> None:
    # derived: line voltages between phasors put together from their components
    V = np.array([positive, polar(negative, degrees), 0]) @ SETS
    U = np.abs(V - np.roll(V, -1))
    expected = min(negative / positive, positive / negative if negative else 0)
    # near V1 = V2 the triangle is flat, and sides given to 1e-16 know the ratio only to 1e-8
    tolerance = 1e-12 if expected < 0.99 else 1e-6
    assert voltage_unbalance_from_magnitudes(U) == pytest.approx(expected, abs=tolerance)


def test_unbalance_from_magnitudes() -> None:
    # standards.md section 5 (CALC): 460/467/450 V
    assert voltage_unbalance_from_magnitudes([460, 467, 450]) == pytest.approx(0.021465, abs=5e-7)
    # derived: V1² and V2² are as ΣU² ± 4√3·area of the triangle of line voltages. (200, 200√3,
    # 400) is right-angled, its area 20 000√3: (320 − 240)/(320 + 240) = 1/7. Flat: V1 = V2.
    right = [200, 200 * ROOT3, 400]
    factors = voltage_unbalance_from_magnitudes([right, [400, 400, 400], [200, 100, 100]])
    assert factors == pytest.approx([1 / math.sqrt(7), 0, 1], rel=1e-12, abs=0)
    # flat, but open by one unit in the last place when written in binary
    assert voltage_unbalance_from_magnitudes([0.1, 4.1, 4.2]) == pytest.approx(1, abs=1e-6)
    assert np.isnan(voltage_unbalance_from_magnitudes([0, 0, 0]))


@pytest.mark.reference
def test_unbalance_from_published_components() -> None:
    # V. K. Mehta, R. Mehta, Principles of Power System, 4th ed. 2005, example 18.13, as printed by
    # the book's companion notebook: line voltages 200, 346 (200√3 rounded) and 400 V on a star of
    # 1 Ω: I1 = 176.3, I2 = 66.63 A. A star of equal resistors has I2/I1 = V2/V1. Printed to 0.05
    # and 0.005 A, so the ratio is known to 0.00014.
    factor = voltage_unbalance_from_magnitudes([200, 200 * ROOT3, 400])
    assert factor == pytest.approx(66.63 / 176.3, abs=0.00014)


def test_small_unbalance_keeps_its_digits() -> None:
    # derived: one side longer by the factor 1 + ε. With S = ΣU² and d = (1 + ε)² − 1 the triangle's
    # area gives S² − 48·area² = 4d², so V2/V1 = 2d/(S + 4√3·area) = 2ε/3·(1 + O(ε)).
    # β itself differs from 1/3 by ε² only and would lose all digits.
    assert voltage_unbalance_from_magnitudes([400, 400, 400 * (1 + 1e-7)]) == pytest.approx(
        2e-7 / 3, rel=1e-6
    )


@pytest.mark.parametrize(
    ("U", "named"),
    [
        ([100, 100, 201], "100.0, 100.0, 201.0"),
        ([400, 0, 395], "400.0, 0.0, 395.0"),
        ([-400, 400, 400], "-400.0, 400.0, 400.0"),
        ([[1, 1, 1], [1, 1, 3]], "1.0, 1.0, 3.0"),
    ],
)
def test_line_voltages_that_do_not_close_are_refused(U: list[float], named: str) -> None:
    with pytest.raises(SimulatorError) as refusal:
        voltage_unbalance_from_magnitudes(U)
    assert str(refusal.value) == (
        f"line voltages [{named}] V were given, expected three magnitudes of which "
        "none is larger than the sum of the other two"
    )


def test_four_line_voltages_are_refused() -> None:
    with pytest.raises(ValueError, match="mismatch"):
        voltage_unbalance_from_magnitudes([400, 400, 400, 400])


def test_unbalance_by_nema() -> None:
    # standards.md section 5 (definition SEEN, numbers CALC); derived: 9/459 and 19/1183. A page
    # that prints 1.45 % for the second is wrong.
    assert nema_voltage_unbalance([460, 467, 450]) == pytest.approx(0.019608, abs=5e-7)
    assert nema_voltage_unbalance([400, 395, 388]) == pytest.approx(0.01606, abs=5e-6)
    found = nema_voltage_unbalance([[460, 467, 450], [400, 395, 388], [400, 400, 400]])
    assert found == pytest.approx([9 / 459, 19 / 1183, 0])
    assert np.isnan(nema_voltage_unbalance([0, 0, 0]))

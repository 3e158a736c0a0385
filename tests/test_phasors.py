from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.phasors import (
    A,
    angle_deg,
    from_components,
    polar,
    symmetrical_components,
    wrap_deg,
)

ROOT3 = math.sqrt(3)


def test_the_operator_is_a_cube_root_of_one() -> None:
    # derived: a³ = 1 and 1 + a + a² = 0, from the definition of a root of unity
    assert 1 + A + A.conjugate() == 0
    assert abs(A**3 - 1) < 1e-15
    assert A.imag > 0


@pytest.mark.parametrize(
    ("magnitude", "degrees", "expected"),
    [
        # derived: exact sines and cosines
        (2, 60, 1 + ROOT3 * 1j),
        (2, -60, 1 - ROOT3 * 1j),
        (230, 90, 230j),
        (230, 180, -230),
        (ROOT3, 150, -1.5 + ROOT3 / 2 * 1j),
    ],
)
def test_polar(magnitude: float, degrees: float, expected: complex) -> None:
    assert polar(magnitude, degrees) == pytest.approx(expected, rel=1e-15, abs=1e-13)


@pytest.mark.parametrize(
    ("angle", "expected"),
    [
        # derived: whole turns taken off by hand
        (0, 0),
        (180, 180),
        (-180, 180),
        (540, 180),
        (-540, 180),
        (181, -179),
        (-181, 179),
        (360, 0),
        (-360, 0),
        (725.5, 5.5),
        (-330, 30),
        (math.nextafter(-180, 0), math.nextafter(-180, 0)),
        (math.nextafter(180, 181), math.nextafter(-180, 0)),
    ],
)
def test_wrap(angle: float, expected: float) -> None:
    wrapped = wrap_deg(angle)
    assert wrapped == pytest.approx(expected, rel=1e-15, abs=0)
    assert -180 < wrapped <= 180
    assert math.copysign(1, wrapped) == 1 or wrapped < 0  # 0, never −0


@given(st.floats(-1e6, 1e6))
def test_wrap_takes_off_whole_turns_exactly(angle: float) -> None:
    # derived: rational arithmetic, nothing rounded
    turns = (Fraction(angle) - Fraction(float(wrap_deg(angle)))) / 360
    assert turns.denominator == 1
    assert -180 < wrap_deg(angle) <= 180


@pytest.mark.parametrize(
    ("phasor", "expected"),
    [
        # derived: exact tangents
        (1, 0),
        (1j, 90),
        (-1j, -90),
        (-1, 180),
        (complex(-1, -0.0), 180),
        (complex(-1, -1e-30), 180),
        (complex(1, -0.0), 0),
        (1 - 1j, -45),
        (-1 - ROOT3 * 1j, -120),
        (0, 0),
    ],
)
def test_angle(phasor: complex, expected: float) -> None:
    angle = angle_deg(phasor)
    assert angle == pytest.approx(expected, rel=1e-15)
    assert math.copysign(1, angle) == 1 or angle < 0  # 0, never −0


def test_angle_of_round_off_is_zero() -> None:
    # derived: by the rule of the design, 1e-12 of the largest phasor is the floor
    phasors = np.array([[230j, 2.30e-10j], [2.31e-10j, 0]])
    np.testing.assert_array_equal(
        angle_deg(phasors, floor=1e-12 * np.abs(phasors).max()), [[90, 0], [90, 0]]
    )
    assert angle_deg(5j, floor=5) == 0


@pytest.mark.reference
def test_components_of_a_four_wire_feeder() -> None:
    # V. K. Mehta, R. Mehta, Principles of Power System, 4th ed. 2005, example 18.2, as printed
    # by the book's companion notebook; printed to 0.005 A and 0.005° (positive: 0.05°)
    currents = [polar(100, 30), polar(50, 300), polar(30, 180)]
    positive, negative, zero = symmetrical_components(currents)
    for component, magnitude, degrees, half_degree in [
        (positive, 57.98, 43.3, 0.05),
        (negative, 18.97, 24.96, 0.005),
        (zero, 27.29, 4.69, 0.005),
    ]:
        assert abs(component) == pytest.approx(magnitude, abs=0.005)
        assert angle_deg(component) == pytest.approx(degrees, abs=half_degree)


@pytest.mark.reference
def test_components_of_an_unbalanced_delta() -> None:
    # Chakrabarti, Soni, Gupta, Bhatnagar, A Textbook on Power System Engineering, 2nd ed. 2013,
    # example 3.3.4, as printed by the book's companion notebook. Branch currents by Ohm's law
    # from its data: 100 V at −60°, 180°, 60° on 20, 5, 10 Ω. Printed to 0.05 and 0.005 A.
    ab, bc, ca = polar(100, -60) / 20, polar(100, 180) / 5, polar(100, 60) / 10
    positive, negative, zero = symmetrical_components([ab - ca, bc - ab, ca - bc])
    assert positive == pytest.approx(-20.2j, abs=0.05)
    assert negative.real == pytest.approx(-2.5, abs=0.05)
    assert negative.imag == pytest.approx(7.22, abs=0.005)
    assert zero == pytest.approx(0, abs=1e-14)


def test_a_pure_set_has_one_component() -> None:
    # derived: a set whose peaks follow each other by a third of a turn
    forward = [polar(1, 10), polar(1, -110), polar(1, 130)]
    backward = [polar(1, 10), polar(1, 130), polar(1, -110)]
    one = polar(1, 10)
    for X, sequence, expected in [
        (forward, 1, [one, 0, 0]),
        (forward, -1, [0, one, 0]),
        (backward, 1, [0, one, 0]),
        (backward, -1, [one, 0, 0]),
        ([one, one, one], -1, [0, 0, one]),
    ]:
        np.testing.assert_allclose(symmetrical_components(X, sequence), expected, atol=1e-15)
        np.testing.assert_allclose(from_components(*expected, sequence), X, atol=1e-15)


@pytest.mark.parametrize("shape", [(3,), (5, 3), (2, 4, 3)])
def test_components_are_a_fourier_transform(shape: tuple[int, ...]) -> None:
    # derived: zero, negative and positive component are bins 0, 1 and 2 of a three-point DFT
    rng = np.random.default_rng(1893)
    X = rng.normal(size=shape) + 1j * rng.normal(size=shape)
    zero, negative, positive = np.moveaxis(np.fft.fft(X) / 3, -1, 0)
    np.testing.assert_allclose(
        symmetrical_components(X), [positive, negative, zero], rtol=1e-13, atol=1e-15
    )
    np.testing.assert_allclose(
        symmetrical_components(X, -1), [negative, positive, zero], rtol=1e-13, atol=1e-15
    )
    np.testing.assert_allclose(from_components(positive, negative, zero), X, rtol=1e-13)
    np.testing.assert_allclose(from_components(negative, positive, zero, -1), X, rtol=1e-13)


def test_components_broadcast() -> None:
    # derived: a zero component alone shifts all three by itself
    X = from_components(0, 0, np.array([[1.0], [2.0]]) * np.ones(4))
    np.testing.assert_array_equal(X, np.array([[[1.0]], [[2.0]]]) * np.ones((2, 4, 3)))


def test_wrong_shape_or_sequence_is_refused() -> None:
    with pytest.raises(ValueError, match="mismatch"):
        symmetrical_components([1, 2, 3, 4])
    with pytest.raises(ValueError, match=r"expected 1 .* or -1"):
        symmetrical_components([1, 2, 3], 0)
    with pytest.raises(ValueError, match=r"expected 1 .* or -1"):
        from_components(1, 0, 0, 2)

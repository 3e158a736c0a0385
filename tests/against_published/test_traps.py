"""Printed values that are wrong: the simulator must not give them, and must give the right ones.

The right values are worked out here by hand methods, none of them nodal analysis: Ohm's law in the
branches of a delta, two meshes of a star, the triangle of powers. What the source did wrong stands
in the record's note. Confidence: CALC.
"""

from __future__ import annotations

import cmath
import math
from typing import Any

import pytest

pytestmark = pytest.mark.reference
ROOT3 = math.sqrt(3)


def polar(magnitude: float, degrees: float) -> complex:
    return cmath.rect(magnitude, math.radians(degrees))


def delta(
    voltages: tuple[complex, ...], branches: tuple[complex, ...]
) -> tuple[complex, complex, complex]:
    """Line currents of a delta from the currents ab, bc, ca of its branches."""
    ab, bc, ca = (v / z for v, z in zip(voltages, branches, strict=True))
    return ab - ca, bc - ab, ca - bc


def star(
    ab: complex, bc: complex, Za: complex, Zb: complex, Zc: complex
) -> tuple[complex, complex, complex]:
    """Currents of an isolated star by two meshes, a-b and b-c (Cramer's rule)."""
    determinant = (Za + Zb) * (Zb + Zc) - Zb**2
    first = (ab * (Zb + Zc) + bc * Zb) / determinant
    second = (bc * (Za + Zb) + ab * Zb) / determinant
    return first, second - first, -second


def cross_connected() -> dict[str, complex]:
    I_R = 440 / (60 + 45j) - polar(440, 120) / -56j
    return {"W": polar(440, -120).real * I_R.real + polar(440, -120).imag * I_R.imag}


def loads_by_power() -> dict[str, complex]:
    # currents of the branches from their powers; each in the frame of its own voltage
    ab = 25e3 / 415
    bc = polar(40e3 / 415, -120 - math.degrees(math.acos(0.85)))
    ca = polar(30e3 / 415, 120 + math.degrees(math.acos(0.6)))
    a, b, c = ab - ca, bc - ab, ca - bc
    W1 = 415 * a.real / 1e3
    # 25 + 34 + 18 kW are in the load, so the other meter has the rest
    return {"W1": W1, "W2": 77 - W1, "Ia": abs(a), "Ib": abs(b), "Ic": abs(c)}


def mixed_delta() -> dict[str, complex]:
    currents = delta((400, polar(400, -120), polar(400, 120)), (10 + 5j, 8 - 4j, 12))
    return dict(zip(("Ia", "Ib", "Ic"), currents, strict=True))


def reversed_sequence_star() -> dict[str, complex]:
    a, b, c = polar(400 / ROOT3, 0), polar(400 / ROOT3, 120), polar(400 / ROOT3, -120)
    return {"Ib": star(a - b, b - c, 6, 5.26 + 3j, 3.535 + 3.535j)[1]}


def resistive_star() -> dict[str, complex]:
    I_B = star(400, polar(400, -120), 10, 20, 25)[2]
    return {"Pb": 25 * abs(I_B) ** 2}


def resonant_star() -> dict[str, complex]:
    return {"Vb": 15 * abs(star(440, polar(440, -120), 50, 15j, -15j)[1])}


def star_point_sign() -> dict[str, complex]:
    a, b, c = polar(161.66, 0), polar(161.66, -120), polar(161.66, 120)
    Vao = 10 * star(a - b, b - c, 10, 8.66 + 5j, 8.66 - 5j)[0]
    return {"Vao": Vao, "Von": a - Vao}


def constants_from_readings() -> dict[str, complex]:
    # tan φ = √3·(3 − 1)/(3 + 1) = √3/2, so cos²φ = 4/7; R = U²·cos²φ/P, X = R·tan φ
    return {"R": 160 / 7, "C_uF": 1e6 / (2 * math.pi * 50 * 80 * ROOT3 / 7)}


def high_meter_given() -> dict[str, complex]:
    # W1/W2 = cos(30° + φ)/cos(30° − φ) with cos φ = 0.4, sin φ = √0.84
    return {"W1": 8 * (0.4 * ROOT3 - math.sqrt(0.84)) / (0.4 * ROOT3 + math.sqrt(0.84))}


def low_power_factor() -> dict[str, complex]:
    # Q = P·tan φ and W = P/2 ± Q/(2√3)
    share = 15 * math.sqrt(0.84) / 0.4 / (2 * ROOT3)
    return {"W1": 7.5 + share, "W2": 7.5 - share}


def remembered_star() -> dict[str, complex]:
    # sequence CBA with V_BC at 0°, so V_AB at 240°
    I_B = star(polar(208, 240), 208, 6, polar(6, 30), polar(5, 45))[1]
    return {"IB": I_B, "VB": I_B * polar(6, 30)}


RIGHT = {
    "X03": cross_connected,
    "X05": loads_by_power,
    "X12": mixed_delta,
    "X21": reversed_sequence_star,
    "X24": resistive_star,
    "X27": resonant_star,
    "X28": star_point_sign,
    "X65": constants_from_readings,
    "X66": high_meter_given,
    "X67": low_power_factor,
    "M06": remembered_star,
}


def test_the_wrong_print_is_not_repeated(trap: Any) -> None:
    assert trap.distance > 1
    assert trap.record["note"]


def test_the_right_value_is_given(trap: Any) -> None:
    right = RIGHT[trap.record["id"]]()[trap.name]
    assert trap.ours == pytest.approx(right, rel=1e-9)
    assert trap.printed.distance(right) > 1  # it is the print that is wrong


def test_every_trap_has_a_right_value(traps: list[Any]) -> None:
    marked = {(trap.record["id"], trap.name) for trap in traps}
    assert marked == {(record_id, name) for record_id in RIGHT for name in RIGHT[record_id]()}

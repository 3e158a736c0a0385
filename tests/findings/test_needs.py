"""Base cases and acceptance numbers of design/needs.md, through the whole program.

They were calculated from phasors for that page: derived values, not published ones. Each is
checked to the digits printed there, and again to ten digits against phasors written out here: on a
solid neutral every current is V/Z (Ohm), on an isolated star point V_S = Σ V·y/Σ y (Millman), and
every reading is Re(V·I*). A, B, C there are L1, L2, L3 here.
"""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import simulator

if TYPE_CHECKING:
    from simulator.findings.result import Result, TotalResult

A = cmath.rect(1, 2 * math.pi / 3)
ABC, ACB = np.array([1, A**2, A]), np.array([1, A, A**2])
LINES = ("L1", "L2", "L3")
# Half of the last digit, 0.01, in the real and in the imaginary part.
BOTH_PARTS = 5e-3 * math.sqrt(2)
DIGITS = {"rel": 1e-10, "abs": 1e-8}

U = np.array([23, 46, cmath.rect(23, math.pi / 3)])
U2 = np.array([25, 40, cmath.rect(30, math.pi / 4)])


# The whole program --------------------------------------------------------------------------


def ohms(z: complex) -> str:
    return "open" if math.isinf(abs(z)) else f"{z.real:.17g}{z.imag:+.17g}j ohm"


def star(Z: np.ndarray, **more: object) -> dict[str, Any]:
    branches = {line: ohms(complex(z)) for line, z in zip(LINES, Z, strict=True)}
    return {"connection": "star"} | branches | more


def on_neutral(Z: np.ndarray, **more: object) -> dict[str, Any]:
    return star(Z, star_point="neutral", **more)


def supply(wires: int, V: np.ndarray | None = None, **more: object) -> dict[str, Any]:
    """Write a supply of these emfs; of 230 V, symmetrical, if there are none."""
    table: dict[str, Any] = {"wires": wires} | more
    emfs = 230 * ABC if V is None else V
    phasors = (f"{abs(v):.17g} V @ {math.degrees(cmath.phase(v)):.17g} deg" for v in emfs)
    return table | {"phase_voltages": dict(zip(LINES, phasors, strict=True))}


def measured(source: dict[str, Any], *loads: dict[str, Any], **tables: Any) -> Result:
    document = {"title": "needs", "supply": source, "load": list(loads)}
    return simulator.solve(simulator.scenario_from(document | tables))


def total(result: Result) -> TotalResult:
    assert result.total is not None
    return result.total


def watts(result: Result) -> list[float]:
    return [reading.watts for reading in result.readings.values()]


def two(common: str, source: dict[str, Any], *loads: dict[str, Any], **tables: Any) -> Result:
    """Two wattmeters to a common line, first the line before it, then the one after it.

    On four wires the method is not offered; people do it all the same.
    """
    k = LINES.index(common)
    meters = [
        {"name": f"W{n}", "current": line, "voltage": [line, common]}
        for n, line in enumerate((LINES[k - 1], LINES[(k + 1) % 3]), 1)
    ]
    return measured(source, *loads, wattmeter=meters, total={"power": "W1 + W2"}, **tables)


def three(end: str, source: dict[str, Any], *loads: dict[str, Any], **tables: Any) -> Result:
    """Three wattmeters to one point; with instruments named m1, m2, m3, if there are any."""
    named = tables.get("instrument", {})
    meters = [
        {"name": f"W{k}", "current": line, "voltage": [line, end]}
        | ({"instrument": f"m{k}"} if f"m{k}" in named else {})
        for k, line in enumerate(LINES, 1)
    ]
    return measured(source, *loads, wattmeter=meters, total={"power": "W1 + W2 + W3"}, **tables)


# Phasors by hand ----------------------------------------------------------------------------


def solid(V: np.ndarray, Z: np.ndarray) -> np.ndarray:
    """Currents of a star on the neutral (Ohm)."""
    return V / Z


def isolated(V: np.ndarray, Z: np.ndarray) -> tuple[complex, np.ndarray]:
    """Star point and currents of a star without neutral (Millman)."""
    point = complex(np.sum(V / Z) / np.sum(1 / Z))
    return point, (V - point) / Z


def to_line(V: np.ndarray, I: np.ndarray, common: int) -> list[float]:
    """Readings of two wattmeters to a common line: first the line before it, then the one after."""
    before, after = (common - 1) % 3, (common + 1) % 3
    return [((V[k] - V[common]) * I[k].conj()).real for k in (before, after)]


def power(V: np.ndarray, I: np.ndarray) -> complex:
    return complex(V @ I.conj())


def balanced(pf: float, lines: np.ndarray = ABC) -> tuple[np.ndarray, np.ndarray]:
    """Base case B: 400 V between lines, 10 A at an angle; phase voltages and star impedances."""
    V = 400 / math.sqrt(3) * lines
    return V, np.full(3, cmath.rect(400 / math.sqrt(3) / 10, math.acos(pf)))


# 1 and 2: the total of two wattmeters, and its error ----------------------------------------


@pytest.mark.parametrize(
    ("common", "readings", "indicated", "error"),
    [
        ("L1", {1725, 0}, 1725, -2875),
        ("L2", {3450}, 6900, 2300),
        ("L3", {3450, 1725}, 5175, 575),
    ],
)
def test_two_wattmeters_on_the_four_wires_of_U(
    common: str, readings: set[float], indicated: float, error: float
) -> None:
    V, k = 230 * ABC, LINES.index(common)
    I = solid(V, U)
    result = two(common, supply(4), on_neutral(U))
    found = total(result)
    assert watts(result) == pytest.approx(to_line(V, I, k), **DIGITS)
    assert {round(w, 6) + 0.0 for w in watts(result)} == readings
    assert found.indicated == pytest.approx(indicated, abs=1e-8)
    assert found.true == pytest.approx(4600, abs=1e-8)
    assert found.error == pytest.approx(error, abs=1e-8)
    # the named term: −Re(V_XN·I_N*)
    assert found.error == pytest.approx(-(V[k] * I.sum().conj()).real, abs=1e-9)
    I_N = result.first.neutral_current
    assert abs(I_N) == pytest.approx(13.229, abs=5e-4)
    assert math.degrees(cmath.phase(I_N)) == pytest.approx(19.11, abs=5e-3)
    assert found.reason.count("13.23 A") == 1


def test_the_three_errors_of_U_add_up_to_nothing() -> None:
    # because the supply's three voltages do
    found = [total(two(line, supply(4), on_neutral(U))) for line in LINES]
    assert sum(t.error for t in found) == pytest.approx(0, abs=1e-8)
    assert sum(t.indicated for t in found) / 3 == pytest.approx(4600, rel=1e-12)


@pytest.mark.parametrize(
    ("common", "readings"),
    [("L1", [2360.5, 2905.3]), ("L2", [1089.5, 4176.3]), ("L3", [2723.7, 2542.1])],
)
def test_U3_has_its_neutral_open(common: str, readings: list[float]) -> None:
    V = 230 * ABC
    point, I = isolated(V, U)
    result = two(common, supply(3), star(U))
    by_hand = to_line(V, I, LINES.index(common))
    assert watts(result) == pytest.approx(by_hand, **DIGITS)
    assert sorted(watts(result)) == pytest.approx(sorted(readings), abs=0.05)
    assert total(result).is_right
    assert total(result).indicated == pytest.approx(5265.79, abs=5e-3)
    (load,) = result.first.loads
    assert load.star_point == pytest.approx(point, rel=1e-10)
    assert abs(load.star_point or 0) == pytest.approx(139.60, abs=5e-3)
    assert math.degrees(cmath.phase(load.star_point or 0)) == pytest.approx(42.52, abs=5e-3)
    volts = [abs(b.voltage) for b in load.branches]
    assert volts == pytest.approx([158.30, 365.57, 241.80], abs=5e-3)
    # the page prints 6.883 for the first, which is 158.30/23: rounded twice
    currents = [abs(b.current) for b in load.branches]
    assert currents == pytest.approx([6.8825, 7.947, 10.513], abs=5e-4)
    assert currents == pytest.approx(np.abs(I).tolist(), **DIGITS)
    assert result.first.true == pytest.approx(5265.79 + 2201.53j, abs=BOTH_PARTS)


# 7: power factors of an unbalanced load -----------------------------------------------------


def claimed_power_factor(w1: float, w2: float) -> float:
    """Say what tan φ = √3·(W2 − W1)/(W2 + W1) would claim."""
    return math.cos(math.atan(math.sqrt(3) * (w2 - w1) / (w1 + w2)))


@pytest.mark.parametrize(
    ("common", "readings", "claimed"),
    [("L1", {4000, 0}, 0.5), ("L2", {4000, 0}, 0.5), ("L3", {2000}, 1.0)],
)
def test_R_one_resistor_between_two_lines(
    common: str, readings: set[float], claimed: float
) -> None:
    load = {"connection": "line-to-line", "L1-L2": "40 ohm"}
    result = two(common, {"wires": 3, "voltage": "400 V"}, load)
    assert {round(w, 6) + 0.0 for w in watts(result)} == readings
    assert claimed_power_factor(*watts(result)) == pytest.approx(claimed, rel=1e-9)
    assert result.first.true == pytest.approx(4000, abs=1e-8)
    assert np.abs(result.first.line_currents) == pytest.approx([10, 10, 0], abs=1e-12)
    factors = result.first.plane.power_factor
    assert float(factors.vector) == pytest.approx(1, abs=1e-12)
    assert float(factors.arithmetic) == pytest.approx(0.866, abs=5e-4)
    assert float(factors.effective) == pytest.approx(0.707, abs=5e-4)


@pytest.mark.parametrize(
    ("common", "claimed", "reactive"),
    [("L1", 0.984, 943.5), ("L2", 0.702, 5346.6), ("L3", 0.998, 314.5)],
)
def test_the_formula_for_balanced_loads_on_U3(common: str, claimed: float, reactive: float) -> None:
    method = {"name": "two wattmeters for reactive power", "common": common}
    result = measured(supply(3), star(U), method=method)
    assert claimed_power_factor(*watts(result)) == pytest.approx(claimed, abs=5e-4)
    assert abs(total(result).indicated) == pytest.approx(reactive, abs=0.05)
    assert total(result).true == pytest.approx(2201.5, abs=0.05)
    assert not total(result).is_right
    assert float(result.first.plane.power_factor.vector) == pytest.approx(0.923, abs=5e-4)
    V, (_, I) = 230 * ABC, isolated(230 * ABC, U)
    w1, w2 = to_line(V, I, LINES.index(common))
    assert total(result).indicated == pytest.approx(math.sqrt(3) * (w2 - w1), **DIGITS)


# 9: one wattmeter, times three --------------------------------------------------------------


def times_three(line: str, V: np.ndarray, Z: np.ndarray) -> float:
    method = {"name": "one wattmeter to neutral", "line": line}
    result = measured(supply(4, V), on_neutral(Z), method=method)
    k, I = LINES.index(line), solid(V, Z)
    by_hand = 3 * (V[k] * I[k].conj()).real
    assert total(result).indicated == pytest.approx(by_hand, **DIGITS)
    assert total(result).error == pytest.approx(by_hand - power(V, I).real, **DIGITS)
    return total(result).error_percent


@pytest.mark.parametrize(("line", "percent"), [("L1", 50), ("L2", -25), ("L3", -25)])
def test_one_wattmeter_times_three_on_U(line: str, percent: float) -> None:
    assert times_three(line, 230 * ABC, U) == pytest.approx(percent, abs=1e-9)


@pytest.mark.parametrize(
    ("line", "raised", "percent"),
    [
        ("L1", 0.1, 6.45),
        ("L2", 0.1, -3.23),
        ("L3", 0.1, -3.23),
        ("L1", 0.5, 28.57),
        ("L2", 0.5, -14.29),
    ],
)
def test_one_wattmeter_times_three_with_one_current_raised(
    line: str, raised: float, percent: float
) -> None:
    Z = np.array([23 / (1 + raised), 23, 23])
    assert times_three(line, 230 * ABC, Z) == pytest.approx(percent, abs=5e-3)


def test_one_wattmeter_times_three_with_one_voltage_low() -> None:
    V = 230 * ABC * np.array([0.97, 1, 1])
    assert times_three("L1", V, np.full(3, 23)) == pytest.approx(-4.02, abs=5e-3)


# 10: two wattmeters on four wires -----------------------------------------------------------


@pytest.mark.parametrize(("common", "percent"), [("L2", 1.88), ("L3", -1.64), ("L1", -0.25)])
def test_a_small_unbalance_on_four_wires(common: str, percent: float) -> None:
    V, Z = balanced(0.8)
    Z = Z / np.array([1, 1, 1.05])
    found = total(two(common, supply(4, V), on_neutral(Z)))
    assert found.error_percent == pytest.approx(percent, abs=5e-3)
    I = solid(V, Z)
    error = -(V[LINES.index(common)] * I.sum().conj()).real
    assert found.error == pytest.approx(error, **DIGITS)


@pytest.mark.parametrize(
    ("Z_N", "of_source", "of_loads"),
    [
        (0, 50.0, 50.0),
        (1, 46.84, 51.67),
        (5, 36.63, 49.69),
        (20, 19.25, 30.53),
        (100, 5.30, 8.68),
        (math.inf, 0.0, 0.0),
    ],
)
def test_a_neutral_impedance_on_the_load_side(
    Z_N: float, of_source: float, of_loads: float
) -> None:
    lead = "open" if math.isinf(Z_N) else f"{Z_N} ohm"
    result = two("L2", supply(4), on_neutral(U, neutral_lead=lead))
    found = total(result)
    assert 100 * found.method_error / found.crossing == pytest.approx(of_source, abs=5e-3)
    assert found.error_percent == pytest.approx(of_loads, abs=5e-3)
    # by hand: the star point by Millman with the neutral as a fourth branch at 0 V
    V = 230 * ABC
    y_N = 1 / Z_N if Z_N else math.inf
    point = 0 if math.isinf(y_N) else complex(np.sum(V / U) / (np.sum(1 / U) + y_N))
    I = (V - point) / U
    assert found.indicated == pytest.approx(sum(to_line(V, I, 1)), **DIGITS)
    assert found.true == pytest.approx(power(V - point, I).real, **DIGITS)
    assert found.crossing == pytest.approx(power(V, I).real, **DIGITS)


# 11: the sequence ---------------------------------------------------------------------------


@pytest.mark.parametrize(("lines", "readings"), [(ABC, [1571.3, 3971.3]), (ACB, [3971.3, 1571.3])])
def test_B_in_both_sequences(lines: np.ndarray, readings: list[float]) -> None:
    V, Z = balanced(0.8, lines)
    result = two("L2", supply(3, V), star(Z))
    assert watts(result) == pytest.approx(readings, abs=0.05)
    # W1 = U·I·cos(30° + φ), W2 = U·I·cos(30° − φ); the other sequence exchanges them
    phi = math.acos(0.8)
    forms = [4000 * math.cos(math.pi / 6 + phi), 4000 * math.cos(math.pi / 6 - phi)]
    assert watts(result) == pytest.approx(forms[:: 1 if lines is ABC else -1], **DIGITS)
    assert total(result).indicated == pytest.approx(5542.6, abs=0.05)
    assert total(result).is_right


@pytest.mark.parametrize(
    ("pf", "w1", "w2"),
    [
        (1.0, 3464.1, 3464.1),
        (math.sqrt(3) / 2, 2000, 4000),
        (0.8, 1571.3, 3971.3),
        (math.sqrt(0.5), 1035, 3864),
        (0.5, 0, 3464.1),
        (0.3, -868.6, 2947.1),
        (0.1, -1643.6, 2336.4),
        (0.0, -2000, 2000),
    ],
)
def test_the_curve_of_readings_against_power_factor(pf: float, w1: float, w2: float) -> None:
    # needs.md, row 8
    V, Z = balanced(pf)
    assert watts(two("L2", supply(3, V), star(Z))) == pytest.approx([w1, w2], abs=0.5)


@pytest.mark.parametrize(
    ("lines", "phases"),
    [(ABC, [1089.5, 2905.3, 1271.1]), (ACB, [3268.4, 726.3, 1271.1])],
)
def test_U3_in_both_sequences(lines: np.ndarray, phases: list[float]) -> None:
    V = 230 * lines
    result = two("L2", supply(3, V), star(U))
    (load,) = result.first.loads
    assert [b.power.real for b in load.branches] == pytest.approx(phases, abs=0.05)
    point, I = isolated(V, U)
    by_hand = ((V - point) * I.conj()).real
    assert [b.power.real for b in load.branches] == pytest.approx(by_hand.tolist(), **DIGITS)
    assert total(result).indicated == pytest.approx(5265.79, abs=5e-3)


@pytest.mark.parametrize(("lines", "percent"), [(ABC, [-62.5, 50, 12.5]), (ACB, [12.5, -25, 12.5])])
def test_errors_of_U_in_both_sequences(lines: np.ndarray, percent: list[float]) -> None:
    found = [
        total(two(line, supply(4, 230 * lines), on_neutral(U))).error_percent for line in LINES
    ]
    assert found == pytest.approx(percent, abs=1e-8)


def test_sequence_indicator_of_a_capacitor_and_two_lamps() -> None:
    # derived: with X_C = R the star point is at V·(j + a² + a)/(2 + j) = V·(−1 + 3j)/5
    result = measured(supply(3), star(np.array([-40j, 40, 40])))
    (load,) = result.first.loads
    assert load.star_point == pytest.approx(230 * (-1 + 3j) / 5, rel=1e-10)
    _, after, before = (abs(b.voltage) / 230 for b in load.branches)
    assert after == pytest.approx(1.496, abs=5e-4)
    assert before == pytest.approx(0.401, abs=5e-4)


# 16: artificial star points -----------------------------------------------------------------


def coils(*ohms_of: float) -> dict[str, dict[str, str]]:
    return {f"m{k}": {"voltage_circuit": f"{R} ohm"} for k, R in enumerate(ohms_of, 1) if R}


@pytest.mark.parametrize("R", [(1, 1, 1), (1.05, 1, 1), (2, 1, 1), (1, 1, 0)])
def test_unequal_coils_do_not_matter_to_the_sum_on_three_wires(R: tuple[float, ...]) -> None:
    # 0: the coil is open, so this meter only senses where the other two hold the point
    result = three("P", supply(3), star(U), instrument=coils(*(1e6 * r for r in R)))
    # needs.md takes the coils for huge; 1 MΩ draws 0.05 W each
    assert total(result).indicated == pytest.approx(5265.79, abs=5e-3)
    assert total(result).indicated == pytest.approx(total(result).crossing, rel=1e-12)
    V, (_, I) = 230 * ABC, isolated(230 * ABC, U)
    y = np.array([1 / r if r else 0 for r in R])
    P = (V @ y) / y.sum()
    assert watts(result) == pytest.approx(((V - P) * I.conj()).real.tolist(), **DIGITS)
    assert result.first.nodes["P"] == pytest.approx(P, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("R", "percent"),
    [
        ((1.01, 1, 1), 0.207),
        ((1.05, 1, 1), 1.008),
        ((1.1, 1, 1), 1.953),
        ((1.05, 0.95, 1), 1.866),
        ((1, 1, 1), 0.0),
    ],
)
def test_unequal_coils_on_the_four_wires_of_U(R: tuple[float, ...], percent: float) -> None:
    result = three("P", supply(4), on_neutral(U), instrument=coils(*(1e6 * r for r in R)))
    assert total(result).error_percent == pytest.approx(percent, abs=5e-4)
    # −Re(V_ON·I_N*) with O from Millman's theorem
    V, I = 230 * ABC, solid(230 * ABC, U)
    y = 1 / np.array(R)
    P = (V @ y) / y.sum()
    assert total(result).error == pytest.approx(-(P * I.sum().conj()).real, abs=1e-8)


# 17: special supplies -----------------------------------------------------------------------


def test_three_elements_to_earth_on_a_corner_earthed_delta() -> None:
    V, Z = balanced(1.0)
    result = three("PE", supply(3, V, earthed="L2"), star(Z))
    assert watts(result) == pytest.approx([3464.1, 0, 3464.1], abs=0.05)
    assert result["W2"].direction == "zero"
    assert total(result).is_right
    # pf 0.866 leading and lagging at unity: the elements see ±30°
    angles = [
        math.degrees(cmath.phase(result[name].voltage / result[name].current))
        for name in ("W1", "W3")
    ]
    assert angles == pytest.approx([30, -30], abs=1e-9)


HIGH_LEG = np.array([120, 207.84609690826528j, -120])


def high_leg_loads(pf: float) -> tuple[list[dict[str, Any]], np.ndarray]:
    """10 A at 240 V on all lines, 20 A on L1–N and 10 A on L3–N; and their line currents."""
    turn = cmath.rect(1, math.acos(pf))
    Z3 = 240 / math.sqrt(3) / 10 * cmath.rect(1, math.acos(0.8))
    singles = {"L1": ohms(6 * turn), "L3": ohms(12 * turn)}
    loads = [
        star(np.full(3, Z3), star_point="isolated"),
        {"connection": "line-to-neutral"} | singles,
    ]
    I = (HIGH_LEG - HIGH_LEG.mean()) / Z3 + HIGH_LEG / np.array([6 * turn, math.inf, 12 * turn])
    return loads, I


def test_high_leg_delta() -> None:
    loads, I = high_leg_loads(1.0)
    result = three("N", supply(4, HIGH_LEG), *loads)
    assert watts(result) == pytest.approx([2871.4, 1662.8, 2391.4], abs=0.05)
    assert total(result).indicated == pytest.approx(6925.5, abs=0.05)
    assert watts(result) == pytest.approx((HIGH_LEG * I.conj()).real.tolist(), **DIGITS)
    assert result.measurement.supply.sequence == -1  # A-C-B


@pytest.mark.parametrize(("pf", "percent"), [(1.0, [-17.3, 0.0, 17.3]), (0.8, [-15.5, 20.1, 15.5])])
def test_two_wattmeters_on_a_high_leg_delta(pf: float, percent: list[float]) -> None:
    loads, I = high_leg_loads(pf)
    found = [total(two(line, supply(4, HIGH_LEG), *loads)) for line in LINES]
    assert [t.error_percent for t in found] == pytest.approx(percent, abs=0.05)
    assert found[0].true == pytest.approx(6925.5 if pf == 1 else 6205.5, abs=0.05)
    for k, t in enumerate(found):
        assert t.error == pytest.approx(-(HIGH_LEG[k] * I.sum().conj()).real, **DIGITS)


# 25: reactive power -------------------------------------------------------------------------


@pytest.mark.parametrize(("lines", "reading"), [(ABC, 2400.0), (ACB, -2400.0)])
def test_one_cross_connected_wattmeter_on_B(lines: np.ndarray, reading: float) -> None:
    V, Z = balanced(0.8, lines)
    result = measured(supply(3, V), star(Z), method={"name": "one wattmeter for reactive power"})
    assert result["W"].watts == pytest.approx(reading, rel=1e-10)
    assert abs(total(result).indicated) == pytest.approx(4156.9, abs=0.05)
    assert total(result).is_right is (lines is ABC)


def test_three_cross_connected_wattmeters_on_U() -> None:
    result = measured(
        supply(4), on_neutral(U), method={"name": "three wattmeters for reactive power"}
    )
    assert watts(result) == pytest.approx([0, 0, 3450], abs=1e-8)
    assert total(result).indicated == pytest.approx(1991.86, abs=5e-3)
    assert total(result).indicated == pytest.approx(power(230 * ABC, solid(230 * ABC, U)).imag)
    assert total(result).is_right
    assert math.sqrt(3) * result["W3"].watts == pytest.approx(5975.6, abs=0.05)


# 26: self-consumption -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tap", "own", "percent"), [("supply", 12.0, 0.455), ("load", 8.07, 0.306)]
)
def test_a_wattmeters_own_circuits(tap: str, own: float, percent: float) -> None:
    # the load gets its 220 V at 20 A and pf 0.6 because the emf is that much higher, by hand
    I = cmath.rect(20, -math.acos(0.6))
    emf = 220 + 0.03 * (I + (220 / 6000 if tap == "load" else 0))
    V = np.array([emf, 220 * A**2, 220 * A])
    load = {"connection": "line-to-neutral", "L1": ohms(220 / I)}
    meter = {
        "name": "W", "current": "L1", "voltage": ["L1", "N"], "instrument": "m", "voltage_tap": tap,
    }  # fmt: skip
    result = measured(
        supply(4, V),
        load,
        instrument={"m": {"current_circuit": "0.03 ohm", "voltage_circuit": "6 kohm"}},
        wattmeter=[meter],
        total={"power": "W"},
    )
    assert total(result).true == pytest.approx(2640, rel=1e-10)
    assert total(result).error == pytest.approx(own, abs=5e-3)
    assert total(result).error_percent == pytest.approx(percent, abs=5e-4)


# 27: two voltages and three currents --------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "factor", "percent"),
    [("L2", 0.98, 0.66), ("L2", 0.95, 1.64), ("L2", 1.05, -1.69), ("L1", 0.95, -0.86)],
)
def test_difference_currents_on_unequal_voltages(line: str, factor: float, percent: float) -> None:
    V = 230 * ABC
    V[LINES.index(line)] *= factor
    method = {"name": "two elements, difference currents"}
    result = measured(supply(4, V), on_neutral(np.full(3, 23)), method=method)
    assert total(result).error_percent == pytest.approx(percent, abs=5e-3)
    I = V / 23
    assert total(result).error == pytest.approx(-(V.sum() * I[1].conj()).real, abs=1e-8)


# 28: which star point -----------------------------------------------------------------------


@pytest.mark.parametrize(("end", "watt"), [("N", 4790.8), ("S", 4372.9)])
def test_to_the_supplys_neutral_or_to_the_loads_star_point(end: str, watt: float) -> None:
    between = {"name": "neutral", "between": ["S", "N"], "value": "5 ohm"}
    result = three(end, supply(4), star(U, star_point="S"), impedance=[between])
    assert total(result).indicated == pytest.approx(watt, abs=0.05)
    assert total(result).true == pytest.approx(4372.9, abs=0.05)
    assert total(result).crossing == pytest.approx(4790.8, abs=0.05)
    assert result.first.losses["impedances"] == pytest.approx(417.9, abs=0.05)
    # by hand: Millman with the fourth branch
    V = 230 * ABC
    point = np.sum(V / U) / (np.sum(1 / U) + 1 / 5)
    I = (V - point) / U
    reference = 0 if end == "N" else point
    assert watts(result) == pytest.approx(((V - reference) * I.conj()).real.tolist(), **DIGITS)
    assert result.first.losses["impedances"] == pytest.approx(5 * abs(I.sum()) ** 2, rel=1e-10)


def test_meters_to_the_supplys_neutral_do_not_read_the_phase_powers_of_an_isolated_star() -> None:
    result = three("N", supply(4), star(U, star_point="isolated"))
    assert watts(result) == pytest.approx([1271.1, 1815.8, 2178.9], abs=0.05)
    (load,) = result.first.loads
    assert [b.power.real for b in load.branches] == pytest.approx(
        [1089.5, 2905.3, 1271.1], abs=0.05
    )
    assert total(result).is_right
    assert result.first.neutral_current == 0


# 3.1: mistakes on paper ---------------------------------------------------------------------


def test_neutral_current_and_power_factors_of_U() -> None:
    # 25 A is the arithmetic sum of the currents, 13.23 A flow; pf 0.800 arithmetic, 0.918 vector,
    # 0.770 effective without and 0.577 with the neutral counted. The neutral belongs to IEEE
    # 1459's four-wire definition, so the number without it cannot be asked of the program.
    result = three("N", supply(4), on_neutral(U))
    currents = np.abs(result.first.line_currents)
    assert currents == pytest.approx([10, 5, 10], rel=1e-12)
    assert abs(result.first.neutral_current) == pytest.approx(13.23, abs=5e-3)
    factors = result.first.plane.power_factor
    assert float(factors.arithmetic) == pytest.approx(0.800, abs=5e-4)
    assert float(factors.vector) == pytest.approx(0.918, abs=5e-4)
    assert float(factors.effective) == pytest.approx(0.577, abs=5e-4)


def test_star_and_delta_of_the_same_load() -> None:
    # 23.09 ↔ 69.28 ohm; B has 10 A in each line either way
    V, Z = balanced(0.8)
    assert abs(Z[0]) == pytest.approx(23.09, abs=5e-3)
    delta = {"connection": "delta", "each": ohms(3 * Z[0])}
    assert abs(3 * Z[0]) == pytest.approx(69.28, abs=5e-3)
    in_delta, in_star = two("L2", supply(3, V), delta), two("L2", supply(3, V), star(Z))
    assert watts(in_delta) == pytest.approx(watts(in_star), rel=1e-12)
    assert np.abs(in_delta.first.line_currents) == pytest.approx([10] * 3, rel=1e-12)


def test_readings_are_not_the_powers_of_the_lines() -> None:
    # "each reading taken as power of that phase", U3 with common B
    result = two("L2", supply(3), star(U))
    (load,) = result.first.loads
    assert watts(result)[1] == pytest.approx(4176.3, abs=0.05)
    assert load.branches[2].power.real == pytest.approx(1271.1, abs=0.05)


# Section 6: U2, whose readings do not coincide ----------------------------------------------


@pytest.mark.parametrize(
    ("lines", "neutral", "percent", "times"),
    [
        (ABC, 8.656, [-40.79, 30.71, 10.08], [35.49, -15.32, -20.16]),
        (ACB, 3.184, [5.30, -15.39, 10.08], None),
    ],
)
def test_U2_with_its_neutral(
    lines: np.ndarray, neutral: float, percent: list[float], times: list[float] | None
) -> None:
    V = 230 * lines
    result = three("N", supply(4, V), on_neutral(U2))
    assert watts(result) == pytest.approx([2116, 1322.5, 1246.86], abs=5e-3)
    assert result.first.true == pytest.approx(4685.36 + 1246.86j, abs=BOTH_PARTS)
    assert abs(result.first.neutral_current) == pytest.approx(neutral, abs=5e-4)
    errors = [total(two(line, supply(4, V), on_neutral(U2))).error_percent for line in LINES]
    assert errors == pytest.approx(percent, abs=5e-3)
    if times:
        found = [times_three(line, V, U2) for line in LINES]
        assert found == pytest.approx(times, abs=5e-3)


@pytest.mark.parametrize(
    ("common", "readings"),
    [("L1", [1983.75, 790.48]), ("L2", [3174.00, 2950.11]), ("L3", [3174.00, 1983.75])],
)
def test_readings_of_U2_with_its_neutral(common: str, readings: list[float]) -> None:
    result = two(common, supply(4), on_neutral(U2))
    assert sorted(watts(result)) == pytest.approx(sorted(readings), abs=5e-3)
    by_hand = to_line(230 * ABC, solid(230 * ABC, U2), LINES.index(common))
    assert watts(result) == pytest.approx(by_hand, **DIGITS)


@pytest.mark.parametrize(
    ("lines", "phases", "claims"),
    [
        (ABC, [985.99, 2497.05, 1436.08], [0.950, 0.874, 1.000]),
        (ACB, [2528.54, 954.50, 1436.08], [0.874, 0.760, 0.882]),
    ],
)
def test_U2_without_its_neutral(
    lines: np.ndarray, phases: list[float], claims: list[float]
) -> None:
    V = 230 * lines
    results = [two(line, supply(3, V), star(U2)) for line in LINES]
    for result, claim in zip(results, claims, strict=True):
        assert total(result).indicated == pytest.approx(4919.12, abs=5e-3)
        assert claimed_power_factor(*watts(result)) == pytest.approx(claim, abs=5e-4)
    (load,) = results[0].first.loads
    assert [b.power.real for b in load.branches] == pytest.approx(phases, abs=5e-3)
    assert load.power == pytest.approx(4919.12 + 1436.08j, abs=BOTH_PARTS)
    point, I = isolated(V, U2)
    assert load.star_point == pytest.approx(point, rel=1e-10)
    assert results[0].first.line_currents.tolist() == pytest.approx(I.tolist(), rel=1e-10)
    if lines is ABC:
        assert abs(point) == pytest.approx(94.44, abs=5e-3)
        assert math.degrees(cmath.phase(load.star_point or 0)) == pytest.approx(31.18, abs=5e-3)
        volts = [abs(b.voltage) for b in load.branches]
        assert volts == pytest.approx([157.00, 316.04, 246.84], abs=5e-3)
        expected = [[2924.15, 1994.96], [1669.35, 3249.77], [2448.44, 2470.68]]
        for result, pair in zip(results, expected, strict=True):
            assert sorted(watts(result)) == pytest.approx(sorted(pair), abs=5e-3)


@pytest.mark.parametrize(
    ("lines", "currents", "common_B"),
    [(ABC, [20, 20, 0], {8000, 0}), (ACB, [10, 10, 17.32], {2000, 6000})],
)
def test_a_delta_with_a_line_without_current(
    lines: np.ndarray, currents: list[float], common_B: set[float]
) -> None:
    V = 400 / math.sqrt(3) * lines
    delta = {
        "connection": "delta",
        "L1-L2": "40 ohm",
        "L2-L3": ohms(cmath.rect(40, math.pi / 3)),
        "L3-L1": ohms(cmath.rect(40, -math.pi / 3)),
    }
    result = two("L2", supply(3, V), delta)
    assert np.abs(result.first.line_currents) == pytest.approx(currents, abs=5e-3)
    assert {round(w, 6) + 0.0 for w in watts(result)} == common_B
    assert total(result).indicated == pytest.approx(8000, rel=1e-10)
    if lines is ABC:
        assert watts(two("L3", supply(3, V), delta)) == pytest.approx([4000, 4000], rel=1e-10)
        assert result.first.line_currents[2] == 0

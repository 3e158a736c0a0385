"""What each shipped scenario should give, worked out by hand beside the program.

Every number is derived: from the closed forms of balanced circuits, Millman's theorem, and phasor
arithmetic on the file's own values. Nothing here imports the simulator.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, field

Numbers = dict[str, float]
SQRT3 = math.sqrt(3)


@dataclass(frozen=True)
class Variant:
    """The file with one passage replaced, and what it gives then."""

    old: str
    new: str
    numbers: Numbers


@dataclass(frozen=True)
class Lesson:
    """Numbers by name, as `test_shipped.look_up` finds them, and what its comments promise."""

    numbers: Numbers
    variants: tuple[Variant, ...] = ()
    quoted: Numbers = field(default_factory=dict)  # derived here, but no result of the program


def at(size: float, degrees: float) -> complex:
    return cmath.rect(size, math.radians(degrees))


def star(phase_voltage: float, sequence: int = 1) -> tuple[complex, complex, complex]:
    return tuple(at(phase_voltage, -sequence * k * 120) for k in range(3))


def cos(degrees: float) -> float:
    return math.cos(math.radians(degrees))


def active(voltage: complex, current: complex) -> float:
    return voltage.real * current.real + voltage.imag * current.imag


def millman(voltages: tuple[complex, ...], admittances: tuple[complex, ...]) -> complex:
    return sum(y * v for y, v in zip(admittances, voltages, strict=True)) / sum(admittances)


def balanced(voltage: float, current: float, phi: float) -> tuple[float, float, float]:
    """The two readings with common line L2, and their sum: V·I·cos(30° ± φ), √3·V·I·cos φ."""
    each = voltage * current
    return each * cos(30 + phi), each * cos(30 - phi), SQRT3 * each * cos(phi)


def alike(reading: float) -> Numbers:
    """Three equal readings and their sum."""
    return {"W1": reading, "W2": reading, "W3": reading, "total": 3 * reading}


def _first() -> Lesson:
    # Common practice: a star's line current is V/√3 over Z; at φ = 30° the cosines are 1/2 and 1.
    current = 400 / SQRT3 / 23.094
    w1, w2 = 400 * current / 2, 400 * current
    return Lesson(
        {"W1": w1, "W2": w2, "total": 1.5 * w2, "true": 1.5 * w2, "power factor": SQRT3 / 2}
    )


def _artificial_neutral() -> Lesson:
    # Branches of 20, 20 and 10 kohm weigh 1 : 1 : 2, so P lies at V3/4 = 240 V / 4.
    first, _, third = star(240)
    shifted = active(first - third / 4, 10)
    equal = Variant('"10 kohm"]', '"20 kohm"]', {"W": 2400, "total": 7200, "percent": 0})
    return Lesson(
        {
            "W": shifted,
            "total": 3 * shifted,
            "true": 7200,
            "percent": 100 / 8,  # Re(V1·V3*)/(4·V²) = −1/8
            "node P": 60,
            "branch boiler L1": 2400,
        },
        (equal,),
    )


def _angle_error() -> Lesson:
    # Both readings are taken at φ − b, so the total carries cos(φ − b)/cos φ.
    numbers = []
    for factor in (0.2, 0.8):
        phi = math.degrees(math.acos(factor))
        w1, w2, total = balanced(400, 100, phi - 0.5)
        percent = 100 * (cos(phi - 0.5) / factor - 1)
        numbers.append({"W1": w1, "W2": w2, "total": total, "percent": percent})
    true = SQRT3 * 400 * 100 * 0.2
    return Lesson(numbers[0] | {"true": true}, (Variant("0.2 lag", "0.8 lag", numbers[1]),))


def _corner_earthed() -> Lesson:
    # 400 V across 40 ohm: 10 A in a branch, √3 times that in a line, 30° off the line voltage.
    each = 400 * 10 * SQRT3 * cos(30)
    return Lesson(
        {
            "W1": each,
            "W2": 0,
            "W3": each,
            "total": 12000,
            "true": 12000,
            "W1 angle": 30,
            "W3 angle": -30,
            "W2 voltage": 0,
            "power factor": 1,
        }
    )


def _difference_currents() -> Lesson:
    # error = −Re(ΣV·I2*): ΣV = −12 V ∠−120°, I2 = 9.5 A ∠−120°.
    # W1 = 240·(10 − 9.5·cos 120°), and W2 likewise.
    true = 2 * 2400 + 228**2 / 24
    return Lesson(
        {
            "W1": 3540,
            "W2": 3540,
            "total": true + 12 * 9.5,
            "true": true,
            "error": 114,
            "neutral": 0.5,
            "branch incubators L2 current": 9.5,
        },
        (Variant('"228 V', '"240 V', {"total": 7200, "error": 0}),),
        quoted={"sum of the voltages V": 12},
    )


def _half_power_factor() -> Lesson:
    # W1 = P/2·(1 − tan φ/√3), which is zero at tan φ = √3.
    below = 1500 * (1 - math.tan(math.acos(0.4)) / SQRT3)
    return Lesson(
        {"W1": 0, "W2": 3000, "total": 3000, "true": 3000, "power factor": 0.5},
        (Variant("0.5 lag", "0.4 lag", {"W1": below, "total": 3000}),),
    )


def _high_leg() -> Lesson:
    # The motor: three branches that take 10/√3 A at 240 V; the lamps: 20 A in A and 10 A in C.
    # (207.846 V is √3·120 V but for the digits left out, so the motor's closed form is near only.)
    a, b, c = at(120, 0), at(207.846, 90), at(120, 180)
    y = at(10 / SQRT3 / 240, -math.degrees(math.acos(0.8)))
    w1 = active(a, y * (a - b) - y * (c - a)) + 120 * 20
    w2 = active(b, y * (b - c) - y * (a - b))
    w3 = active(c, y * (c - a) - y * (b - c)) + 120 * 10
    total = w1 + w2 + w3
    assert math.isclose(total, SQRT3 * 240 * 10 * 0.8 + 3600, rel_tol=1e-6)
    return Lesson(
        {
            "W1": w1,
            "W2": w2,
            "W3": w3,
            "total": total,
            "true": total,
            "W1 voltage": 120,
            "W2 voltage": 207.846,
            "W3 voltage": 120,
        }
    )


def _idle_motor() -> Lesson:
    # A ladder worked from the far end: 1 A in the rotor, back to the terminals, then scaled.
    rotor = 0.6 / 0.003 + 1j
    line = 1 + rotor / 45j + rotor / 800
    terminal = rotor + (0.6 + 1j) * line
    current = 400 / SQRT3 * abs(line / terminal)
    w1, w2, total = balanced(400, current, math.degrees(cmath.phase(terminal / line)))
    return Lesson(
        {"W1": w1, "W2": w2, "total": total, "true": total}, quoted={"without the sign W": w2 - w1}
    )


def _leads() -> Lesson:
    # 240 V over 23 + 1 ohm: 10 A.
    return Lesson(
        {"W1": 3600, "W2": 3600, "total": 7200, "true": 6900, "error": 300, "lost in leads": 300}
    )


# The load of design/needs.md, base case U: 230 V to neutral, 23, 46 and 23∠60° ohm.
_U = star(230)
_U_ADMITTANCES = (1 / 23 + 0j, 1 / 46 + 0j, at(1 / 23, -60))


def _unearthed_u() -> tuple[complex, list[complex], list[float]]:
    point = millman(_U, _U_ADMITTANCES)
    currents = [y * (v - point) for y, v in zip(_U_ADMITTANCES, _U, strict=True)]
    powers = [active(v - point, i) for v, i in zip(_U, currents, strict=True)]
    return point, currents, powers


def _lost_neutral() -> Lesson:
    point, _, powers = _unearthed_u()
    voltages = {f"V{k}": abs(v - point) for k, v in enumerate(_U, 1)}
    readings = {f"W{k}": p for k, p in enumerate(powers, 1)}
    sound = Variant(
        'neutral_impedance = "open"',
        "",
        {"V1": 230, "V2": 230, "V3": 230, "W1": 2300, "W2": 1150, "W3": 1150, "total": 4600},
    )
    sums = {"total": sum(powers), "true": sum(powers), "star huts": abs(point), "neutral": 0}
    return Lesson(voltages | readings | sums, (sound,), quoted={"made for V": 230})


def _heater_between_lines() -> Lesson:
    # 10 A in L1, back in L2, none in L3: W1 = 400 V·10 A, W2 = V32·0. With common line L3 both
    # voltages stand 60° from the current: 400 V·10 A·cos 60° each.
    other = Variant('common = "L2"', 'common = "L3"', {"W1": 2000, "W2": 2000, "total": 4000})
    return Lesson(
        {
            "W1": 4000,
            "W2": 0,
            "total": 4000,
            "true": 4000,
            "power factor": 1,
        },
        (other,),
    )


_STALLS = {"total": 6000, "true": 6000}


def _moved_in_turn() -> Lesson:
    return Lesson({"W1": 3000, "W2": 2000, "W3": 1000} | _STALLS)


def _times_three() -> Lesson:
    lucky = Variant('line = "L1"', 'line = "L2"', {"W": 2000, "total": 6000, "percent": 0})
    return Lesson({"W": 3000, "total": 9000, "true": 6000, "percent": 50}, (lucky,))


def _two_positions() -> Lesson:
    # Leading by 30°: the voltage to L2 is in phase with the current, that to L3 60° away.
    current = 400 / SQRT3 / 23.094
    return Lesson(
        {
            "W1": 400 * current,
            "W2": 200 * current,
            "total": 600 * current,
            "true": 600 * current,
        }
    )


def _reactive_one() -> Lesson:
    # V23 lags V1 by 90°: the reading is V·I·sin φ.
    reactive = SQRT3 * 400 * 10 * 0.6
    return Lesson({"W": 400 * 10 * 0.6, "total": reactive, "true": reactive})


def _reactive_three() -> Lesson:
    # Each voltage, √3·230 V, lags that of its own line by 90°: √3·V·I·sin φ, φ = 0, 0, 60°.
    reactive = 230 * 10 * math.sin(math.pi / 3)
    return Lesson({"W1": 0, "W2": 0, "W3": 3450, "total": reactive, "true": reactive})


def _reversed_circuit() -> Lesson:
    each = 230 * 10 * 0.8
    numbers = {"W1": each, "W2": each, "W3": -each, "total": each, "true": 3 * each}
    return Lesson(numbers, (Variant('["current"]', '["voltage"]', numbers),))


def _reversed_sequence() -> Lesson:
    small, large, _ = balanced(400, 10, math.degrees(math.acos(0.8)))
    reactive = SQRT3 * 400 * 10 * 0.6
    usual = Variant(
        '"B-Y-R"', '"R-Y-B"', {"W1": small, "W2": large, "total": reactive, "true": reactive}
    )
    return Lesson({"W1": large, "W2": small, "total": -reactive, "true": reactive}, (usual,))


def _supply_tap() -> Lesson:
    # 220 V over 6.57 + 0.03 + j8.8 = 11 ohm, power factor 0.6: 20 A. Each counts 0.03·20².
    each = 220 * 20 * 0.6
    return Lesson(
        alike(each) | {"true": 3 * 400 * 6.57, "error": 36, "W1 current": 20},
        quoted={"each too high W": 0.03 * 20**2},
    )


def _load_tap() -> Lesson:
    # Behind 0.03 ohm lie 6.57 + j8.8 ohm and 6 kohm side by side; each counts U²/6000.
    load = 6.57 + 8.8j
    both = load * 6000 / (load + 6000)
    voltage, current = 220 * both / (both + 0.03), 220 / (both + 0.03)
    own = abs(voltage) ** 2 / 6000
    true = 3 * abs(voltage / load) ** 2 * 6.57
    reading = active(voltage, current)
    return Lesson(
        alike(reading) | {"true": true, "error": 3 * own},
        quoted={"each too high W": own},
    )


def _sequence_star() -> Lesson:
    # Admittances j : 1 : 1 put S at V1·(−1 + 3j)/5; the lamps' voltages are then the roots of
    # 0.3² + (√3/2 ± 0.6)² of the phase voltage.
    bright, dim = (100 * math.hypot(0.3, SQRT3 / 2 + s * 0.6) for s in (1, -1))
    other = Variant("wires = 3", 'wires = 3\nsequence = "L3-L2-L1"', {"V2": dim, "V3": bright})
    return Lesson(
        {"V2": bright, "V3": dim, "node S": 100 * math.sqrt(0.4)},
        (other,),
    )


# 240 V, 20, 40 and 40 ohm in an isolated star, weights 2 : 1 : 1: the star point lies at V1/4.
# Currents: 180/20 = 9 A in L1; −4.5 ∓ j3·√3 A in L2 and L3.
_RACK_CURRENTS = (9 + 0j, -4.5 - 3j * SQRT3, -4.5 + 3j * SQRT3)
_RACKS = {"total": 5400, "true": 5400, "branch racks L1": 1620, "branch racks L2": 1890}


def _to_a_line() -> Lesson:
    # W1 = Re((V1 − V2)·9 A) = 360·9; W3: V3 − V2 = j·240·√3, times 3·√3 A.
    return Lesson({"W1": 3240, "W2": 0, "W3": 2160} | _RACKS)


def _unequal_coils_three() -> Lesson:
    # Circuits of 20, 10 and 20 kohm weigh 1 : 2 : 1: P lies at V2/4.
    lines = star(240)
    readings = {
        f"W{k}": active(v - lines[1] / 4, i)
        for k, (v, i) in enumerate(zip(lines, _RACK_CURRENTS, strict=True), 1)
    }
    equal = {
        f"W{k}": active(v, i) for k, (v, i) in enumerate(zip(lines, _RACK_CURRENTS, strict=True), 1)
    }
    variant = Variant('["high_range", "low_range", "high_range"]', '"high_range"', equal | _RACKS)
    return Lesson(readings | _RACKS | {"node P": 60}, (variant,))


def _unequal_coils_four() -> Lesson:
    # The neutral carries (2·V1 + V2 + V3)/40 = V1/40 = 6 A; the error is −Re(V_P·6 A), V_P = V2/4.
    return Lesson(
        {
            "W1": 300 * 12 * 0.9,  # Re(V1 − V2/4) = 270 V
            "W2": 180 * 6,
            "W3": 1440 + 180,  # Re(−V2/4·I3*) = −60·6·cos 240°
            "total": 5760 + 180,
            "true": 5760,
            "error": 180,
            "neutral": 6,
            "node P": 60,
        },
        (
            Variant(
                '["high_range", "low_range", "high_range"]',
                '"high_range"',
                {"W1": 2880, "W2": 1440, "W3": 1440, "total": 5760, "error": 0},
            ),
        ),
    )


def _two_with_neutral() -> Lesson:
    # error = −Re(V2·I_N*), I_N = 10 + 5∠−120° + 10∠60° A.
    neutral = 10 + at(5, -120) + at(10, 60)
    error = -active(at(230, -120), neutral)
    each = 230 * SQRT3 * 10 * cos(30)
    return Lesson(
        {
            "W1": each,
            "W2": each,
            "total": 4600 + error,
            "true": 4600,
            "error": 2300,
            "neutral": abs(neutral),
        },
        quoted={"from the common line to the neutral V": 230},
    )


def _current_transformers() -> Lesson:
    # 400 V over 8.66025 ohm, times √3 in the line: 80 A, 4 A behind 100/5.
    line = 400 / 8.66025 * SQRT3
    return Lesson(
        {
            "W1": 200 * line,
            "W2": 400 * line,
            "W1 shows": 10 * line,
            "W2 shows": 20 * line,
            "W1 current": line / 20,
            "total": 600 * line,
            "true": 600 * line,
        },
        quoted={"line A": line},
    )


def _voltage_transformers() -> Lesson:
    # 10 kV over 433.0127 ohm, times √3: 40 A; 1000 W on the line for each one shown.
    line = 10e3 / 433.0127 * SQRT3
    return Lesson(
        {
            "W1": 5000 * line,
            "W2": 10000 * line,
            "W1 shows": 5 * line,
            "W2 shows": 10 * line,
            "W1 current": line / 10,
            "W1 voltage": 100,
            "total": 15000 * line,
            "true": 15000 * line,
        },
        quoted={"ratio W": 1000},
    )


def _burden() -> Lesson:
    # The primary current divides between 60j ohm and winding, leads and burden, 0.37 + 0.24j ohm
    # together; both in parallel, over 20², stand in the line before 2.4 ohm at power factor 0.3.
    Z, inner = 2.4 * (0.3 + 1j * math.sqrt(1 - 0.09)), 0.37 + 0.24j
    part = 60j / (60j + inner)
    U = 400 / SQRT3
    I = U / (Z + part * inner / 400)
    W, P = active(U + 0j, part * I), Z.real * abs(I) ** 2
    currents = {f"W{k} current": abs(part * I) / 20 for k in (1, 2, 3)}
    return Lesson(
        alike(W) | currents | {"true": 3 * P, "percent": 100 * (W / P - 1)},
        quoted={"too small %": 100 * (1 - abs(part))},
    )


def _hidden_overload() -> Lesson:
    w1, w2, total = balanced(400, 8, math.degrees(math.acos(0.3)))
    return Lesson(
        {"W1": w1, "W2": w2, "W1 current": 8, "W2 current": 8, "total": total, "true": total},
        quoted={"full scale W": 5 * 480},
    )


def _which_star_point() -> Lesson:
    point, currents, powers = _unearthed_u()
    readings = {f"W{k}": active(v, i) for k, (v, i) in enumerate(zip(_U, currents, strict=True), 1)}
    branches = {f"branch pit head L{k}": p for k, p in enumerate(powers, 1)}
    sums = {"total": sum(powers), "true": sum(powers), "star pit head": abs(point), "neutral": 0}
    return Lesson(readings | branches | sums)


LESSONS: dict[str, Lesson] = {
    "a-first-measurement": _first(),
    "angle-error-of-current-transformers": _angle_error(),
    "artificial-neutral-unequal-resistors": _artificial_neutral(),
    "corner-earthed-delta": _corner_earthed(),
    "current-transformer-with-its-burden": _burden(),
    "difference-currents-unequal-voltages": _difference_currents(),
    "half-power-factor-one-reads-zero": _half_power_factor(),
    "high-leg-supply": _high_leg(),
    "idle-motor-reads-below-zero": _idle_motor(),
    "leads-beyond-the-meters": _leads(),
    "lost-neutral": _lost_neutral(),
    "one-heater-between-two-lines": _heater_between_lines(),
    "one-meter-moved-in-turn": _moved_in_turn(),
    "one-meter-times-three": _times_three(),
    "one-meter-two-positions": _two_positions(),
    "overload-hidden-by-low-power-factor": _hidden_overload(),
    "reactive-power-one-meter": _reactive_one(),
    "reactive-power-three-meters": _reactive_three(),
    "reversed-current-circuit": _reversed_circuit(),
    "reversed-sequence": _reversed_sequence(),
    "self-consumption-load-tap": _load_tap(),
    "self-consumption-supply-tap": _supply_tap(),
    "sequence-star-capacitor-and-lamps": _sequence_star(),
    "three-meters-to-a-line": _to_a_line(),
    "through-current-transformers": _current_transformers(),
    "through-voltage-transformers": _voltage_transformers(),
    "two-meters-with-a-neutral": _two_with_neutral(),
    "unequal-coils-four-wires": _unequal_coils_four(),
    "unequal-coils-three-wires": _unequal_coils_three(),
    "which-star-point": _which_star_point(),
}

# The same numbers as design/needs.md prints them (derived there, from phasors, not published);
# half a unit of the last digit is what they can support.
PRINTED: dict[str, dict[str, str]] = {
    "angle-error-of-current-transformers": {"percent": "4.27"},  # row 14
    "high-leg-supply": {"W1": "2871.4", "W2": "1662.8", "W3": "2391.4", "total": "6925.5"},  # 17
    "lost-neutral": {  # rows 2 and 34
        "V1": "158.30",
        "V2": "365.57",
        "V3": "241.80",
        "star huts": "139.60",
        "W1": "1089.5",
        "W2": "2905.3",
        "W3": "1271.1",
        "total": "5265.79",
    },
    "one-heater-between-two-lines": {"total": "4000", "power factor": "1.000"},  # row 7
    "overload-hidden-by-low-power-factor": {"W1": "-695", "W2": "2358"},  # row 15
    "reactive-power-one-meter": {"W": "2400.0", "total": "4156.9"},  # row 25
    "reactive-power-three-meters": {"W1": "0", "W2": "0", "W3": "3450", "total": "1991.86"},  # 25
    "reversed-current-circuit": {"W1": "1840", "W3": "-1840", "total": "1840"},  # row 4
    "reversed-sequence": {"W1": "3971.3", "W2": "1571.3"},  # row 11
    "sequence-star-capacitor-and-lamps": {"V2": "149.6", "V3": "40.1"},  # row 11, of 100 V
    "two-meters-with-a-neutral": {  # row 1
        "W1": "3450",
        "W2": "3450",
        "total": "6900",
        "true": "4600",
        "neutral": "13.229",
        "percent": "50.0",
    },
    "which-star-point": {  # row 28
        "W1": "1271.1",
        "W2": "1815.8",
        "W3": "2178.9",
        "branch pit head L1": "1089.5",
        "branch pit head L2": "2905.3",
        "branch pit head L3": "1271.1",
    },
}

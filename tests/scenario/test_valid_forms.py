"""Every valid form of the scenario file, and the values it stands for.

The forms are those of the design page scenario.md. Expected values are worked out by hand; each
derivation stands beside its numbers. The power triangle used throughout is the 3-4-5 one.
"""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING

import pytest

import simulator
from simulator.installation.loads import Connection
from simulator.metering.instruments import IDEAL, Kind
from simulator.metering.meters import Side, Winding
from simulator.scenario.build import Measurement, build
from tests.scenario.texts import (
    FOUR,
    FOUR_WIRES,
    MOTOR,
    STAR,
    THREE,
    THREE_WIRES,
    W1,
    load,
    meter,
    replaced,
)

if TYPE_CHECKING:
    from pathlib import Path

    from simulator.installation.loads import Load
    from simulator.metering.instruments import Instrument
    from simulator.metering.meters import Wattmeter

SQRT3 = math.sqrt(3)
OPEN = complex(math.inf)
SENSE = 'current = "L1"\nvoltage = ["L1", "L2"]'


def built(text: str) -> Measurement:
    return build(simulator.parse_scenario(text))


def close(value: complex | tuple[complex, ...]) -> object:
    """Expect a value of a closed form: twelve digits."""
    return pytest.approx(value, rel=1e-12, abs=1e-12)


def deg(angle: float) -> complex:
    return cmath.rect(1, math.radians(angle))


# Supply


def emfs(line: str, wires: int = 3) -> tuple[complex, complex, complex]:
    return built(f'title = "t"\n[supply]\nwires = {wires}\n{line}\n').supply.emfs


@pytest.mark.parametrize("wires", [3, 4])
@pytest.mark.parametrize(
    ("sequence", "turn"),
    [
        ("", -120),
        ('sequence = "L1-L2-L3"', -120),
        ('sequence = "L2-L3-L1"', -120),
        ('sequence = "L3-L1-L2"', -120),
        ('sequence = "L3-L2-L1"', 120),
        ('sequence = "L2-L1-L3"', 120),
        ('sequence = "L1-L3-L2"', 120),
    ],
)
def test_symmetrical_supply(wires: int, sequence: str, turn: float) -> None:
    # scenario.md, "Angles and sequence": the L1 emf is at 0°, so L1–L2 is at +30°, or −30° for
    # the other sequence.
    found = emfs(f'voltage = "400 V"\n{sequence}', wires)
    assert found == close(tuple(400 / SQRT3 * deg(k * turn) for k in range(3)))
    across = found[0] - found[1]
    assert across == close(400 * deg(-turn / 4))


def test_phase_voltages_as_given_and_their_sequence() -> None:
    text = 'phase_voltages = { L1 = "231 V", L2 = "222 V @ -121 deg", L3 = "236 V @ 119 deg" }'
    assert emfs(text) == close((231, 222 * deg(-121), 236 * deg(119)))
    forwards = built(f'title = "t"\n[supply]\nwires = 4\n{text}\n').supply
    assert forwards.sequence == 1
    assert forwards.nominal_voltage is None
    # scenario.md: |V1| >= |V2| is L1-L2-L3; with L2 and L3 exchanged |V1| < |V2|
    backwards = text.replace("L2", "X").replace("L3", "L2").replace("X", "L3")
    assert built(f'title = "t"\n[supply]\nwires = 4\n{backwards}\n').supply.sequence == -1


def test_sequence_voltages() -> None:
    # derived: V1 = P + N + Z, V2 = a²P + aN + Z, V3 = aP + a²N + Z with a = 1∠120°
    P, N, Z = 230, 6 * deg(40), 2 * deg(-70)
    text = 'sequence_voltages = { positive = "230 V", negative = "6 V @ 40 deg"'
    expected = (P + N + Z, P * deg(240) + N * deg(120) + Z, P * deg(120) + N * deg(240) + Z)
    assert emfs(text + ', zero = "2 V @ -70 deg" }') == close(expected)
    assert emfs(text + " }") == close(tuple(E - Z for E in expected))
    # the other sequence exchanges what L2 and L3 get
    found = emfs('sequence = "L3-L2-L1"\n' + text + ', zero = "2 V @ -70 deg" }')
    assert found == close((expected[0], expected[2], expected[1]))


@pytest.mark.parametrize(
    ("line", "impedances"),
    [
        ("", (0, 0, 0)),
        ('line_impedance = "0.05+0.02j ohm"', (0.05 + 0.02j,) * 3),
        ('line_impedance = { L1 = "1 ohm", L3 = "open" }', (1, 0, OPEN)),
        ("line_impedance = {}", (0, 0, 0)),
    ],
)
def test_line_impedances(line: str, impedances: tuple[complex, ...]) -> None:
    supply = built(replaced(THREE, "wires = 3", f"wires = 3\n{line}")).supply
    assert supply.line_impedances == impedances


@pytest.mark.parametrize(
    ("line", "impedance"),
    [("", 0), ('neutral_impedance = "0.05 ohm"', 0.05), ('neutral_impedance = "open"', OPEN)],
)
def test_neutral_impedance(line: str, impedance: complex) -> None:
    supply = built(replaced(FOUR, "wires = 4", f"wires = 4\n{line}")).supply
    assert supply.neutral_impedance == impedance


def test_frequency_and_its_default() -> None:
    assert built(THREE).supply.frequency == 50
    text = replaced(THREE, "wires = 3", 'wires = 3\nfrequency = "60 Hz"')
    assert built(text).supply.frequency == 60


def test_earthed_conductor_makes_a_node_pe() -> None:
    probe = '[[voltmeter]]\nname = "V"\nbetween = ["L1", "PE"]\n'
    earthed = replaced(THREE, "wires = 3", 'wires = 3\nearthed = "L2"')
    # derived: with L2 at PE the voltage L1–PE is the line voltage; with N at PE it is 400/√3
    result = simulator.solve(simulator.parse_scenario(earthed + STAR + probe))
    assert result.first.voltmeters["V"] == close(400)
    earthed = replaced(FOUR, "wires = 4", 'wires = 4\nearthed = "N"')
    result = simulator.solve(simulator.parse_scenario(earthed + probe))
    assert result.first.voltmeters["V"] == close(400 / SQRT3)


# Loads


def only_load(lines: str, supply: str = THREE) -> Load:
    (found,) = built(load(lines, supply)).stations[None].loads
    return found


def impedances(lines: str, supply: str = THREE) -> dict[str, complex]:
    return {branch.name: branch.impedance for branch in only_load(lines, supply).branches}


def star_of(value: str) -> complex:
    (Z,) = set(impedances(f'connection = "star"\neach = {value}').values())
    return Z


# The literals of scenario.md; the phasors by hand: 50∠53.13°: 53.13° is in the table of the page;
# 0.6 lag of 50 ohm is 30 + 40j (3-4-5).
@pytest.mark.parametrize(
    ("text", "Z"),
    [
        ("33.1 ohm", 33.1),
        ("30+40j ohm", 30 + 40j),
        ("30-40j ohm", 30 - 40j),
        ("50 ohm @ 53.13 deg", 50 * deg(53.13)),
        ("50 ohm, 0.6 lag", 30 + 40j),
        ("50 ohm, 0.6 lead", 30 - 40j),
        ("0.0331 kohm", 33.1),
        ("33.1 Ω", 33.1),
        ("50 Ω ∠ 53.13°", 50 * deg(53.13)),
        ("0 ohm", 0),
        ("open", OPEN),
    ],
)
def test_impedance_literals(text: str, Z: complex) -> None:
    supply = replaced(THREE, "wires = 3", 'wires = 3\nline_impedance = "1 ohm"')
    found = impedances(f'connection = "line-to-line"\nL1-L2 = "{text}"', supply)
    assert found == {"L1-L2": close(Z)}


def test_star() -> None:
    found = built(THREE_WIRES).stations[None].loads[0]
    assert (found.name, found.connection) == ("ovens", Connection.STAR)
    assert [(b.name, b.start, b.impedance) for b in found.branches] == [
        ("L1", "L1", 25),
        ("L2", "L2", 25 + 10j),
        ("L3", "L3", 40),
    ]
    assert {b.end for b in found.branches} == {found.star_point}
    assert found.star_point not in ("L1", "L2", "L3", "N")


@pytest.mark.parametrize(
    ("line", "supply", "node"),
    [
        ('star_point = "neutral"', FOUR, "N"),
        ('star_point = "N"', FOUR, "N"),
        ('star_point = "P"', FOUR, "P"),
        ('star_point = "P"', THREE, "P"),
        ('star_point = "isolated"', FOUR, None),
        ('star_point = "isolated"', THREE, None),
        ("", THREE, None),
    ],
)
def test_star_points(line: str, supply: str, node: str | None) -> None:
    found = only_load(f'connection = "star"\neach = "10 ohm"\n{line}', supply).star_point
    if node is None:
        assert found not in ("N", "neutral", "isolated", "P", None)
    else:
        assert found == node


@pytest.mark.parametrize("key", ["L3-L1", "L1-L3"])
def test_delta_and_both_names_of_a_branch(key: str) -> None:
    lines = f'connection = "delta"\nL2-L3 = "2 ohm"\n{key} = "3 ohm"\nL2-L1 = "1 ohm"'
    found = only_load(lines)
    # scenario.md: currents run as "L1-L2", "L2-L3", "L3-L1" are written, whatever the key
    assert sorted((b.name, b.start, b.end, b.impedance) for b in found.branches) == [
        ("L1-L2", "L1", "L2", 1),
        ("L2-L3", "L2", "L3", 2),
        ("L3-L1", "L3", "L1", 3),
    ]
    assert found.star_point is None


def test_line_to_line_and_line_to_neutral_may_have_fewer_branches() -> None:
    assert impedances('connection = "line-to-line"\nL3-L2 = "5 ohm"') == {"L2-L3": 5}
    found = only_load('connection = "line-to-neutral"\nL2 = "5 ohm"\nL3 = "open"', FOUR)
    assert [(b.name, b.end, b.impedance) for b in found.branches] == [
        ("L2", "N", 5),
        ("L3", "N", OPEN),
    ]


def test_parts() -> None:
    # derived at 50 Hz: ω = 100π, ωL = 0.03·100π, 1/(ωC) = 1/(100π·47e-6)
    X_L, X_C = 0.03 * 100 * math.pi, 1 / (100 * math.pi * 47e-6)
    parts = 'resistance = "10 ohm", inductance = "30 mH", capacitance = "47 uF"'
    assert star_of(f"{{ {parts} }}") == close(10 + 1j * (X_L - X_C))
    Y = 1 / 10 - 1j / X_L + 1j / X_C
    assert star_of(f"{{ {parts}, parallel = true }}") == close(1 / Y)
    assert star_of('{ inductance = "30 mH" }') == close(1j * X_L)
    assert star_of('{ capacitance = "47 uF" }') == close(-1j * X_C)
    sixty = replaced(THREE, "wires = 3", 'wires = 3\nfrequency = "60 Hz"')
    found = impedances('connection = "line-to-line"\nL1-L2 = { inductance = "30 mH" }', sixty)
    assert found == {"L1-L2": close(1j * X_L * 60 / 50)}


# One branch takes 1600 W and 1200 var, so 2000 VA at power factor 0.8; at 250 V it draws 8 A and
# has |Z| = 31.25 ohm, Z = 31.25·(0.8 + 0.6j) = 25 + 18.75j (derived).
PAIRS = [
    'power = "1.6 kW", apparent_power = "2 kVA"',
    'power = "1.6 kW", reactive_power = "1.2 kvar"',
    'power = "1600 W", current = "8 A"',
    'power = "1.6 kW", power_factor = "0.8 lag"',
    'apparent_power = "2 kVA", reactive_power = "1200 var"',
    'apparent_power = "2 kVA", power_factor = "0.8 lag"',
    'reactive_power = "1.2 kvar", current = "8 A"',
    'reactive_power = "1.2 kvar", power_factor = "0.8 lag"',
    'current = "8 A", power_factor = "0.8 lag"',
]


@pytest.mark.parametrize("pair", PAIRS)
def test_ratings_of_a_branch(pair: str) -> None:
    assert star_of(f'{{ {pair}, at = "250 V" }}') == close(25 + 18.75j)


@pytest.mark.parametrize("pair", [p for p in PAIRS if "lag" in p and "reactive" not in p])
def test_leading_ratings(pair: str) -> None:
    assert star_of(f'{{ {pair.replace("lag", "lead")}, at = "250 V" }}') == close(25 - 18.75j)


def test_ratings_with_a_negative_reactive_power_lead() -> None:
    for other in ('power = "1.6 kW"', 'apparent_power = "2 kVA"', 'power_factor = "0.8 lead"'):
        rating = f'{{ {other}, reactive_power = "-1.2 kvar", at = "250 V" }}'
        assert star_of(rating) == close(25 - 18.75j)


def test_unstated_sense_is_lag_and_is_said() -> None:
    text = load('connection = "star"\neach = { power = "1.6 kW", current = "8 A", at = "250 V" }')
    assert built(text).notes == ("load 1, each: lag or lead is not stated; taken as lagging",)


# The whole load takes 4800 W and 3600 var, 6000 VA, at 400 V line to line: 6000/(√3·400) A.
# Star: Z = U²/S* = 160000/(4800 − 3600j) = 64/3 + 16j; delta: three times that (derived).
@pytest.mark.parametrize(
    "pair",
    [
        'power = "4.8 kW", power_factor = "0.8 lag"',
        'power = "4.8 kW", apparent_power = "6 kVA"',
        f'current = "{15 / SQRT3!r} A", power_factor = "0.8 lag"',
        f'reactive_power = "3.6 kvar", current = "{15 / SQRT3!r} A"',
    ],
)
@pytest.mark.parametrize("at", [', at = "400 V"', ""])
def test_ratings_of_a_whole_load(pair: str, at: str) -> None:
    for connection, Z in (("star", 64 / 3 + 16j), ("delta", 64 + 48j)):
        found = impedances(f'connection = "{connection}"\ntotal = {{ {pair}{at} }}')
        assert list(found.values()) == [close(Z)] * 3


# 1 kW at power factor 1 and the nominal value: 400 V between lines, 400/√3 V to a star point.
@pytest.mark.parametrize(
    ("lines", "Z"),
    [
        ('connection = "star"\nstar_point = "isolated"\neach = {}', 160 / 3),
        ('connection = "delta"\neach = {}', 160),
        ('connection = "line-to-line"\nL1-L2 = {}', 160),
        ('connection = "line-to-neutral"\nL1 = {}', 160 / 3),
        ('connection = "star"\nstar_point = "neutral"\nL1 = {}\nL2 = "open"\nL3 = "open"', 160 / 3),
    ],
)
def test_rating_at_the_nominal_value(lines: str, Z: float) -> None:
    rated = lines.replace("{}", '{ power = "1 kW", power_factor = "1" }')
    assert next(iter(impedances(rated, FOUR).values())) == close(Z)
    # from components: √3 times the positive one is the nominal voltage between lines
    supply = replaced(
        FOUR,
        'voltage = "400 V"',
        f'sequence_voltages = {{ positive = "{400 / SQRT3!r} V @ 20 deg", negative = "9 V" }}',
    )
    assert next(iter(impedances(rated, supply).values())) == close(Z)


def test_rating_for_no_power_is_open() -> None:
    assert star_of('{ power = "0 W", power_factor = "1" }') == OPEN


@pytest.mark.parametrize(
    ("line", "leads"),
    [
        ("", {"L1": 0, "L2": 0, "L3": 0}),
        ('lead_impedance = "0.1 ohm"', {"L1": 0.1, "L2": 0.1, "L3": 0.1}),
        ('lead_impedance = { L2 = "1+2j ohm" }', {"L1": 0, "L2": 1 + 2j, "L3": 0}),
        (
            'lead_impedance = { L2 = "1 ohm" }\nneutral_lead = "5 ohm"',
            {"L1": 0, "L2": 1, "L3": 0, "N": 5},
        ),
    ],
)
def test_leads(line: str, leads: dict[str, complex]) -> None:
    lines = f'connection = "star"\neach = "10 ohm"\nstar_point = "neutral"\n{line}'
    assert only_load(lines, FOUR).leads == leads


def test_a_load_that_generates() -> None:
    found = impedances('connection = "star"\neach = "-5+1j ohm"\nactive = true')
    assert found == {"L1": -5 + 1j, "L2": -5 + 1j, "L3": -5 + 1j}


def test_motor() -> None:
    (found,) = built(THREE + MOTOR).stations[None].loads
    motor = found.motor
    assert motor is not None
    assert found.branches == ()
    assert (motor.R1, motor.X1, motor.R2, motor.X2) == (0.641, 1.106, 0.332, 0.464)
    assert (motor.Xm, motor.Rc, motor.slip) == (26.3, math.inf, 0.022)
    for slip in ("0", "1", "2", "1e-3"):
        (found,) = built(THREE + replaced(MOTOR, "0.022", slip)).stations[None].loads
        assert found.motor is not None
        assert found.motor.slip == float(slip)


def test_motor_that_generates() -> None:
    text = THREE + replaced(MOTOR, "slip = 0.022", "slip = -0.02\nactive = true")
    assert simulator.solve(simulator.parse_scenario(text)).first.true.real < 0


def test_loads_without_names_are_numbered() -> None:
    nameless = STAR.replace('name = "ovens"\n', "")
    found = built(THREE + nameless + STAR + nameless).stations[None].loads
    assert [x.name for x in found] == ["load 1", "ovens", "load 3"]


def test_names_that_differ_by_case_are_two_loads() -> None:
    found = built(THREE + STAR + STAR.replace("ovens", "Ovens")).stations[None].loads
    assert [x.name for x in found] == ["ovens", "Ovens"]


# What belongs to no load


def test_separate_impedances() -> None:
    resistors = (
        '[[impedance]]\nname = "balancing resistor"\nbetween = ["L2", "P"]\nvalue = "20 kohm"\n'
        'side = "supply"\n[[impedance]]\nbetween = ["P", "L1"]\nvalue = "open"\n'
    )
    first, second = built(THREE + resistors).stations[None].impedances
    assert (first.name, first.between, first.impedance) == (
        "balancing resistor",
        ("L2", "P"),
        20e3,
    )
    assert (first.side, second.side) == (Side.SUPPLY, Side.LOAD)
    assert (second.name, second.impedance) == ("impedance 2", OPEN)


@pytest.mark.parametrize(("side", "crossing"), [("supply", 0), ("load", 160)])
def test_an_impedance_is_before_or_behind_the_meters(side: str, crossing: float) -> None:
    # derived: 400 V on 1 kohm are 160 W, which meters see only where it is behind them
    text = (
        f'{THREE}{W1}[[impedance]]\nbetween = ["L1", "L2"]\nvalue = "1 kohm"\nside = "{side}"\n'
        '[total]\npower = "W1"\n'
    )
    result = simulator.solve(simulator.parse_scenario(text))
    assert result["W1"].watts == close(crossing)
    assert result.total is not None
    assert (result.total.crossing, result.total.true) == (close(crossing), 0)
    assert result.first.losses["impedances"] == close(160)


# Instruments


def instrument(lines: str) -> Instrument:
    text = meter(f'{SENSE}\ninstrument = "portable"', f"[instrument.portable]\n{lines}\n")
    return built(text).wattmeters[0].instrument


def test_instruments_are_ideal_part_by_part() -> None:
    assert built(meter(SENSE)).wattmeters[0].instrument == IDEAL
    assert instrument("") == IDEAL
    found = instrument('current_circuit = "0.03+0.01j ohm"')
    assert (found.current_circuit, found.senses_only) == (0.03 + 0.01j, True)
    assert found.voltage_factor == 1


@pytest.mark.parametrize(
    ("text", "Z"),
    [
        ("20 kohm", 20e3),
        # derived at 50 Hz: ωL = 100π·0.012
        ("20 kohm, 12 mH", 20e3 + 1.2j * math.pi),
        ("20000+5j ohm", 20e3 + 5j),
        ("20 kohm, 0.6 lag", 12e3 + 16e3j),
    ],
)
def test_voltage_circuits(text: str, Z: complex) -> None:
    found = instrument(f'voltage_circuit = "{text}"')
    assert found.voltage_circuit == close(Z)
    # scenario.md: Z_v0 is the real part, so the pointer follows V·Re(Z)/Z
    assert found.voltage_factor == close(Z.real / Z)


def test_electronic_instrument() -> None:
    found = instrument('kind = "electronic"\ngain_error = "0.1 %"\nphase_error = "3 min"')
    assert (found.kind, found.gain_error) == (Kind.ELECTRONIC, close(0.001))
    assert found.phase_error == close(3 / 60)  # sixty minutes of arc make a degree
    assert found.voltage_factor == close(1.001 * deg(0.05))


def test_ranges_and_class() -> None:
    found = instrument('current_range = "5 A"\nvoltage_range = "0.3 kV"\naccuracy_class = 0.5')
    assert (found.current_range, found.voltage_range, found.accuracy_class) == (5, 300, 0.5)
    assert instrument("accuracy_class = 1").accuracy_class == 1


def test_an_unused_instrument_changes_nothing() -> None:
    plain = simulator.solve(simulator.parse_scenario(THREE_WIRES))
    spare = THREE_WIRES + '[instrument.spare]\nvoltage_circuit = "1 ohm"\n'
    other = simulator.solve(simulator.parse_scenario(spare))
    assert [r.watts for r in other.readings.values()] == [r.watts for r in plain.readings.values()]


# Meters


def wattmeter(lines: str, rest: str = "", supply: str = THREE) -> Wattmeter:
    return built(meter(lines, rest, supply)).wattmeters[0]


@pytest.mark.parametrize(
    ("text", "windings", "shown"),
    [
        ('"L1"', [("L1", 1)], "L1"),
        ('"-L1"', [("L1", -1)], "−L1"),
        ('["L1", "-L2"]', [("L1", 1), ("L2", -1)], "L1 − L2"),
        ('["-L1", "L2", "L3"]', [("L1", -1), ("L2", 1), ("L3", 1)], "−L1 + L2 + L3"),
        ('"N"', [("N", 1)], "N"),
    ],
)
def test_current_circuits(text: str, windings: list[tuple[str, int]], shown: str) -> None:
    found = wattmeter(f'current = {text}\nvoltage = ["L1", "N"]', supply=FOUR)
    assert found.windings == tuple(Winding(*w) for w in windings)
    assert found.current_text == shown


def test_defaults_of_a_wattmeter() -> None:
    found = wattmeter(SENSE)
    assert (found.voltage, found.tap) == (("L1", "L2"), Side.SUPPLY)
    assert (found.current_reversed, found.voltage_reversed) == (False, False)
    assert (found.station, found.current_transformer, found.voltage_transformer) == (None,) * 3


@pytest.mark.parametrize(
    ("text", "current", "voltage", "sign"),
    [
        ("[]", False, False, 1),
        ('["current"]', True, False, -1),
        ('["voltage"]', False, True, -1),
        ('["voltage", "current"]', True, True, 1),
    ],
)
def test_reversed(text: str, current: bool, voltage: bool, sign: int) -> None:
    lines = f"{SENSE}\nreversed = {text}"
    found = wattmeter(lines)
    assert (found.current_reversed, found.voltage_reversed) == (current, voltage)
    plain = simulator.solve(simulator.parse_scenario(meter(SENSE)))["W1"]
    other = simulator.solve(simulator.parse_scenario(meter(lines)))["W1"]
    assert other.watts == close(sign * plain.watts)
    # scenario.md: current and voltage are what the circuits feel after `reversed`
    assert other.current == close(-plain.current if current else plain.current)
    assert other.voltage == close(-plain.voltage if voltage else plain.voltage)


@pytest.mark.parametrize(
    ("tap", "first", "second"),
    # derived: 400 V over 33 + 1 + 2 + 4 ohm is 10 A. An end on its own conductor sits at its own
    # current circuit, on another conductor at that conductor's node on the named side:
    # supply: W1 400 V, W2 400 − 10 V; load: W1 400 − 10 − 40 V, W2 400 − 30 − 40 V.
    [("supply", 4000, 3900), ("load", 3500, 3300)],
)
def test_taps_and_the_order_along_a_conductor(tap: str, first: float, second: float) -> None:
    text = load('connection = "line-to-line"\nL1-L2 = "33 ohm"').replace(W1, "")
    for name, line, ohms in (("W1", "L1", 1), ("W2", "L1", 2), ("W3", "L2", 4)):
        text += (
            f'[[wattmeter]]\nname = "{name}"\ncurrent = "{line}"\nvoltage = ["L1", "L2"]\n'
            f'instrument = "r{ohms}"\nvoltage_tap = "{tap}"\n'
            f'[instrument.r{ohms}]\ncurrent_circuit = "{ohms} ohm"\n'
        )
    result = simulator.solve(simulator.parse_scenario(text))
    assert (result["W1"].watts, result["W2"].watts) == close((first, second))


def test_a_voltage_circuit_may_end_where_it_begins() -> None:
    # scenario.md: with the common point on a line, the meter in that line reads zero
    lines = 'current = "L1"\nvoltage = ["L1", "L1"]'
    result = simulator.solve(simulator.parse_scenario(meter(lines)))
    assert (result["W1"].watts, result["W1"].direction) == (0, "zero")


def test_a_voltage_circuit_at_a_load_s_star_point() -> None:
    text = replaced(THREE_WIRES, 'L3 = "40 ohm"', 'L3 = "40 ohm"\nstar_point = "P"')
    text = replaced(text, 'voltage = ["L1", "L2"]', 'voltage = ["L1", "P"]')
    result = simulator.solve(simulator.parse_scenario(text))
    branch = result.first.loads[0].branches[0]
    assert result["W1"].watts == close(branch.power.real)  # that branch alone


def test_other_meters() -> None:
    text = THREE_WIRES + (
        '[[voltmeter]]\nname = "V"\nbetween = ["L1", "L2"]\n'
        '[[voltmeter]]\nname = "U"\nbetween = ["L2", "L3"]\nside = "supply"\ninstrument = "i"\n'
        '[[ammeter]]\nname = "A"\nin = "L3"\ninstrument = "i"\n'
        '[instrument.i]\ncurrent_circuit = "0.1 ohm"\nvoltage_circuit = "5 kohm"\n'
    )
    found = built(text).stations[None]
    assert [(v.name, v.between, v.side) for v in found.voltmeters] == [
        ("V", ("L1", "L2"), Side.LOAD),
        ("U", ("L2", "L3"), Side.SUPPLY),
    ]
    assert found.voltmeters[0].instrument == IDEAL
    assert found.voltmeters[1].instrument.voltage_circuit == 5e3
    assert [(a.name, a.conductor, a.instrument.current_circuit) for a in found.ammeters] == [
        ("A", "L3", 0.1)
    ]


def test_stations() -> None:
    text = (
        THREE
        + STAR
        + "".join(
            f'[[wattmeter]]\nname = "{name}"\n{SENSE}\n{station}\n'
            for name, station in (("A", ""), ("B", "station = 7"), ("C", "station = 2"))
        )
    )
    found = built(text).stations
    # scenario.md: each is solved with only its meters plus those without a station
    assert {n: [w.name for w in s.wattmeters] for n, s in found.items()} == {
        2: ["A", "C"],
        7: ["A", "B"],
    }


def transformed(lines: str, current: str, voltage: str) -> Wattmeter:
    rest = f"[current_transformer.ct]\n{current}\n[voltage_transformer.vt]\n{voltage}\n"
    return wattmeter(f"{SENSE}\n{lines}", rest)


def test_transformers() -> None:
    both = 'current_transformer = "ct"\nvoltage_transformer = "vt"'
    found = transformed(
        both,
        'ratio = "100/5 A"\nratio_error = "-0.2 %"\nphase_displacement = "12 min"',
        'ratio = "11 kV/110 V"',
    )
    ct, vt = found.current_transformer, found.voltage_transformer
    assert ct is not None
    assert vt is not None
    assert (ct.ratio, vt.ratio, found.ratio) == (20, close(100), close(2000))
    assert ct.error_factor == close(0.998 * deg(0.2))
    assert vt.error_factor == 1
    for ratio in ("100 A/5 A", "0.1 kA/5 A", "100/5A"):
        again = transformed(both, f'ratio = "{ratio}"', 'ratio = "400/100 V"')
        assert again.current_transformer is not None
        assert again.current_transformer.ratio == close(20)


def test_readings_are_referred_to_the_primary() -> None:
    lines = f'{SENSE}\ncurrent_transformer = "ct"'
    text = meter(lines, '[current_transformer.ct]\nratio = "100/5 A"\n')
    found = simulator.solve(simulator.parse_scenario(text))["W1"]
    plain = simulator.solve(simulator.parse_scenario(meter(SENSE)))["W1"]
    assert found.watts == close(plain.watts)
    assert found.at_instrument == close(plain.watts / 20)


# Totals


def test_totals() -> None:
    total = built(THREE_WIRES).total
    assert total is not None
    assert (total.formula, total.coefficients, total.reactive) == (
        "W1 + W2",
        {"W1": 1, "W2": 1},
        False,
    )
    text = replaced(THREE_WIRES, 'power = "W1 + W2"', 'reactive_power = "sqrt(3)*(W2 - W1)"')
    total = built(text).total
    assert total is not None
    assert total.reactive
    assert total.coefficients == {"W2": close(SQRT3), "W1": close(-SQRT3)}
    assert built(THREE + STAR + W1).total is None
    assert built(replaced(THREE_WIRES, "W1 + W2", "W1 + W1")).total.coefficients == {"W1": 2}


def test_a_coefficient_may_cancel() -> None:
    result = simulator.solve(
        simulator.parse_scenario(replaced(THREE_WIRES, "W1 + W2", "W1 + W2 - W2"))
    )
    assert result.total is not None
    assert result.total.indicated == result["W1"].watts


# Circuits with little in them


@pytest.mark.parametrize("text", [THREE, FOUR])
def test_no_load_and_no_meter(text: str) -> None:
    result = simulator.solve(simulator.parse_scenario(text))
    assert (result.readings, result.total, result.first.true) == ({}, None, 0)


@pytest.mark.parametrize("text", [THREE_WIRES, FOUR_WIRES])
def test_supply_without_voltage(text: str) -> None:
    dead = text.replace('voltage = "400 V"', 'sequence_voltages = { positive = "0 V" }')
    result = simulator.solve(simulator.parse_scenario(dead))
    assert [(r.watts, r.direction) for r in result.readings.values()] == [(0, "zero")] * 2
    assert result.total is not None
    assert result.total.is_right
    assert math.isnan(result.total.error_percent)


@pytest.mark.parametrize("connection", ["delta", "star"])
def test_every_branch_open(connection: str) -> None:
    lines = f'connection = "{connection}"\neach = "open"'
    if connection == "star":
        lines += '\nstar_point = "neutral"'
    result = simulator.solve(simulator.parse_scenario(load(lines, FOUR)))
    assert (result.first.true, result["W1"].watts) == (0, 0)
    assert result["W1"].voltage == close(400 * deg(30))


def test_dead_short_behind_line_impedances() -> None:
    # derived: three emfs of 400/√3 V behind 0.1 ohm each, shorted: 400/(√3·0.1) A, no power beyond
    text = load('connection = "star"\neach = "0 ohm"').replace(
        "wires = 3", 'wires = 3\nline_impedance = "0.1 ohm"'
    )
    result = simulator.solve(simulator.parse_scenario(text))
    assert [abs(i) for i in result.first.line_currents] == close([4000 / SQRT3] * 3)
    assert result.first.true == 0


# Reading


def test_read_from_a_file_and_from_bytes(tmp_path: Path) -> None:
    path = tmp_path / "öfen.toml"
    path.write_text(THREE_WIRES.replace("ovens", "öfen"), encoding="utf-8")
    for found in (
        simulator.read_scenario(path),
        simulator.read_scenario(str(path)),
        simulator.parse_scenario(path.read_bytes()),
        simulator.parse_scenario(path.read_text(encoding="utf-8")),
    ):
        assert found.load[0].name == "öfen"


@pytest.mark.parametrize("start", ["\ufeff", "\ufeff# a comment\n", "\n"])
def test_what_editors_put_around_a_text(start: str) -> None:
    text = (start + THREE_WIRES).replace("\n", "\r\n")
    assert simulator.parse_scenario(text.encode()).title == "t"

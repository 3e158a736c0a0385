"""Quantity texts: tables of good and bad literals, round trips, and a small fuzz.

Expected values come from the meaning of the SI prefixes as powers of ten (from memory: SI
Brochure, table of prefixes), from Pythagorean triples and the angles of a regular polygon
(closed forms, written out beside them), or from Python's exact decimal arithmetic.
"""

from __future__ import annotations

import cmath
import math
from decimal import Decimal
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.errors import QuantityError
from simulator.formatting import format_impedance, format_phasor, format_quantity
from simulator.quantities import (
    OPEN,
    PowerFactor,
    parse_angle,
    parse_impedance,
    parse_percent,
    parse_phasor,
    parse_power_factor,
    parse_ratio,
    parse_real,
    parse_voltage_circuit,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.quantities import Unit

EPS = 2.0**-52
ROOT3 = math.sqrt(3)
UNITS = ["V", "A", "W", "VA", "var", "Hz", "ohm", "H", "F"]
KINDS = {
    "V": "a voltage",
    "A": "a current",
    "W": "an active power",
    "VA": "an apparent power",
    "var": "a reactive power",
    "Hz": "a frequency",
    "ohm": "a resistance or reactance",
    "H": "an inductance",
    "F": "a capacitance",
}

PARSERS: dict[str, Callable[[object], complex]] = {
    "real": lambda text: parse_real(text, "V"),
    "angle": parse_angle,
    "percent": parse_percent,
    "phasor": lambda text: parse_phasor(text, "A"),
    "impedance": parse_impedance,
    "voltage circuit": lambda text: sum(parse_voltage_circuit(text)),
    "power factor": lambda text: parse_power_factor(text).value,
    "ratio": lambda text: sum(parse_ratio(text, "A")),
}


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("400 V", "V", 400),
        ("400V", "V", 400),
        (" 400  V\n", "V", 400),
        ("400\u00a0V", "V", 400),
        ("-76.85 W", "W", -76.85),
        ("−76.85 W", "W", -76.85),
        ("+5 A", "A", 5),
        (".5 A", "A", 0.5),
        ("5. A", "A", 5),
        ("1.6 kW", "W", 1600),
        ("2 kVA", "VA", 2000),
        ("1.2 kvar", "var", 1200),
        ("50 Hz", "Hz", 50),
        ("0.05 kHz", "Hz", 50),
        ("20 kohm", "ohm", 20e3),
        ("20 kΩ", "ohm", 20e3),
        ("20 k\u2126", "ohm", 20e3),
        ("1 Mohm", "ohm", 1e6),
        ("1 mohm", "ohm", 1e-3),
        ("2 GW", "W", 2e9),
        ("30 mH", "H", 30e-3),
        ("47 uF", "F", 47e-6),
        ("47 µF", "F", 47e-6),
        ("47 μF", "F", 47e-6),
        ("33 nF", "F", 33e-9),
        ("33 pF", "F", 33e-12),
        ("1e3 V", "V", 1000),
        ("1E-3 V", "V", 1e-3),
        ("1e-5 kV", "V", 1e-2),
        ("0 W", "W", 0),
        ("0e9999 W", "W", 0),
    ],
)
def test_real(text: str, unit: Unit, value: float) -> None:
    assert parse_real(text, unit) == value


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        *[("25", unit) for unit in UNITS],
        *[("5 %", unit) for unit in UNITS],
        *[("open", unit) for unit in UNITS],
        *[(f"1 c{unit}", unit) for unit in UNITS],
        *[(f"1 h{unit}", unit) for unit in UNITS],
        *[(f"1 da{unit}", unit) for unit in UNITS],
        *[(f"1 K{unit}", unit) for unit in UNITS],
        *[(f"1 T{unit}", unit) for unit in UNITS],
        *[(f"1 kk{unit}", unit) for unit in UNITS],
        *[(f"1 Ki{unit}", unit) for unit in UNITS],
        *[(f"1 k {unit}", unit) for unit in UNITS],
        *[(f"1 {unit}{unit}", unit) for unit in UNITS],
        *[(f"1 {unit} or so", unit) for unit in UNITS],
        *[(f"{word} {unit}", unit) for unit in UNITS for word in ("nan", "inf", "∞", "1e999")],
        *[("1 " + other, unit) for unit in UNITS for other in UNITS if other != unit],
        ("", "V"),
        ("   ", "V"),
        ("V", "V"),
        ("k", "V"),  # the name of a physical constant in the library underneath
        ("q", "V"),
        ("$5", "V"),
        ("1,5 V", "V"),  # a decimal comma read as a thousands separator would be 15 V
        ("1_000 V", "V"),
        ("1 000 V", "V"),
        ("1.2.3 V", "V"),
        ("0x10 V", "V"),
        ("１２ V", "V"),
        ("1/2 V", "V"),
        ("1e V", "V"),
        ("1e31 V", "V"),
        ("-1e31 V", "V"),
        ("1e-999 V", "V"),
        ("- 5 V", "V"),
        ("--5 V", "V"),
        ("5 v", "V"),
        ("5 volts", "V"),
        ("5 V²", "V"),
        ("5 V = 3", "V"),
        ("x = 5 V", "V"),
        ("x: 5 V", "V"),
        ("5 V -- note", "V"),
        ("5 V # note", "V"),
        ("'5 V'", "V"),
        ("5 V @ 3 deg", "V"),
        ("3+4j V", "V"),
        ("50 hz", "Hz"),
        ("1 VAr", "var"),
        ("1 Ohm", "ohm"),
        ("1 min", "V"),
        ("0" * 201 + " V", "V"),
    ],
)
def test_real_refused(text: str, unit: Unit) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_real(text, unit)
    message = str(caught.value)
    assert message.startswith(f"expected {KINDS[unit]}, for example '")
    assert (repr(text) if len(text) < 50 else repr(text[:50])[:-1]) in message


def test_limits() -> None:
    assert parse_real("0 V", "V", minimum=0) == 0
    assert parse_real("1 mHz", "Hz", above=0) == 0.001
    with pytest.raises(QuantityError, match=r"expected a voltage of at least 0 V, .* got '-1 mV'"):
        parse_real("-1 mV", "V", minimum=0)
    with pytest.raises(QuantityError, match=r"expected a frequency above 0 Hz, .* got '0 Hz'"):
        parse_real("0 Hz", "Hz", above=0)


@pytest.mark.parametrize(
    ("text", "unit", "remedy"),
    [
        ("-1.04KW", "W", "; did you mean '-1.04kW'?"),
        ("- 1.04 kW", "W", "; did you mean '-1.04 kW'?"),
        ("400v", "V", "; did you mean '400V'?"),
        ("23 Ohm", "ohm", "; did you mean '23 ohm'?"),
        ("2.83", "W", " (its unit is missing)"),
        ("-1,04kW", "W", " (a decimal point, no comma)"),
        ("1 MW h", "W", ""),
        ("1 mw", "W", ""),  # milli or mega: not for us to say
        ("1 KV", "W", ""),
    ],
)
def test_a_slip_of_the_pen_is_answered_with_its_remedy(text: str, unit: Unit, remedy: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_real(text, unit)
    assert str(caught.value).endswith(f"got '{text}'{remedy}")


def test_a_dash_set_by_a_word_processor_is_a_minus() -> None:
    assert parse_real("\u20131.04 kW", "W") == parse_real("\u22121.04 kW", "W") == -1040


def test_no_unit_is_missing_where_none_belongs() -> None:
    with pytest.raises(QuantityError, match=r"got '0\.8'$"):
        parse_power_factor("0.8")


def test_messages() -> None:
    with pytest.raises(QuantityError) as caught:
        parse_impedance("25 V")
    assert str(caught.value) == "expected an impedance, for example '33.1 ohm', got '25 V'"
    with pytest.raises(QuantityError) as caught:
        parse_real(400, "V")
    assert str(caught.value) == (
        "expected a voltage, for example '400 V', got 400; write it as a text with its unit, "
        'as in "400 V"'
    )
    with pytest.raises(QuantityError, match="5000 characters, at most 200") as caught:
        parse_real("7" * 5000, "V")
    assert len(str(caught.value)) < 200


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("2 deg", 2),
        ("2°", 2),
        ("-2 °", -2),
        ("−120deg", -120),
        ("+1.5 deg", 1.5),
        ("15 min", 0.25),  # 60 minutes of arc are a degree
        ("-3 min", -0.05),
        ("720 deg", 720),
    ],
)
def test_angle(text: str, degrees: float) -> None:
    assert parse_angle(text) == degrees


@pytest.mark.parametrize(
    "text", ["2", "2 rad", "2 mdeg", "2 in", "2 min deg", "2 degdeg", "nan deg", "2'", "2 kmin", ""]
)
def test_angle_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="expected an angle, for example '2 deg' or '15 min'"):
        parse_angle(text)


@pytest.mark.parametrize(
    ("text", "fraction"),
    [("-0.2 %", -0.002), ("0.1%", 0.001), ("100 %", 1), ("+3 %", 0.03), ("0 %", 0)],
)
def test_percent(text: str, fraction: float) -> None:
    assert parse_percent(text) == fraction


@pytest.mark.parametrize("text", ["0.2", "%", "2 k%", "2 %%", "2 percent", "nan %", "1e999 %"])
def test_percent_refused(text: str) -> None:
    with pytest.raises(QuantityError, match=r"expected a percentage, for example '-0\.2 %'"):
        parse_percent(text)


@pytest.mark.parametrize(
    ("text", "phasor"),
    [
        ("231 V", 231),
        ("0 V", 0),
        ("231 V @ -120 deg", complex(-115.5, -115.5 * ROOT3)),  # cos 120° = -1/2
        ("231 V ∠ −120°", complex(-115.5, -115.5 * ROOT3)),
        ("231V@240deg", complex(-115.5, -115.5 * ROOT3)),
        ("11 kV @ 30 deg", complex(5500 * ROOT3, 5500)),
        ("2 V @ 1800 min", complex(ROOT3, 1)),  # 1800 minutes are 30 degrees
        ("-3+4j V", -3 + 4j),
    ],
)
def test_phasor(text: str, phasor: complex) -> None:
    # The degrees, their radians and the cosine are each rounded: a few eps of the magnitude.
    assert abs(parse_phasor(text, "V") - phasor) <= 4 * EPS * abs(phasor)


@pytest.mark.parametrize("turns", [-1e6, -3, 0, 2])
@pytest.mark.parametrize(("degrees", "unit"), [(0, 1), (90, 1j), (180, -1), (270, -1j)])
def test_right_angles_are_exact(degrees: float, unit: complex, turns: float) -> None:
    text = f"50 ohm @ {degrees + 360 * turns} deg"
    assert parse_impedance(text) == 50 * unit


@pytest.mark.parametrize(
    "text",
    [
        "-231 V",
        "-231 V @ 0 deg",
        "231 @ 0 deg",
        "231 V @ 0",
        "231 V @",
        "@ 0 deg",
        "231 V @ 0 deg @ 0 deg",
        "231 A @ 0 deg",
        "231 V @ 3 V",
        "231 V, 0.6 lag",
        "open",
        "231 V @ inf deg",
    ],
)
def test_phasor_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="expected a voltage, for example '400 V' or "):
        parse_phasor(text, "V")


@pytest.mark.parametrize(
    ("text", "impedance"),
    [
        ("33.1 ohm", 33.1),
        ("1.2 kohm", 1200),
        ("0 ohm", 0),
        ("-5 ohm", -5),
        ("30+40j ohm", 30 + 40j),
        ("30 + 40j ohm", 30 + 40j),
        ("30 - j40 ohm", 30 - 40j),
        ("30−j 40 Ω", 30 - 40j),
        ("-30-40j ohm", -30 - 40j),
        ("40j ohm", 40j),
        ("-j40 ohm", -40j),
        ("+40 j ohm", 40j),
        ("1+2j kohm", 1000 + 2000j),
        ("1e-3+2.5e0j kohm", 1 + 2500j),
        ("0.05+0.02j ohm", 0.05 + 0.02j),
        ("open", OPEN),
        # derived: triples 3-4-5 and 7-24-25; sin 30° = 1/2, and 45° halves the square
        ("50 ohm, 0.6 lag", 30 + 40j),
        ("50 ohm, 0.8 lead", 40 - 30j),
        ("25 ohm,0.28lag", 7 + 24j),
        ("50 ohm, 1", 50),
        ("50 ohm, 0 lag", 50j),
        ("2 kohm, 0 lead", -2000j),
        ("40 ohm @ 30 deg", complex(20 * ROOT3, 20)),
        ("40 ohm @ -45 deg", complex(20 * math.sqrt(2), -20 * math.sqrt(2))),
        ("40 ohm @ 3600000000030 deg", complex(20 * ROOT3, 20)),
        ("40 Ω ∠ 150°", complex(-20 * ROOT3, 20)),
    ],
)
def test_impedance(text: str, impedance: complex) -> None:
    parsed = parse_impedance(text)
    assert parsed == impedance or abs(parsed - impedance) <= 4 * EPS * abs(impedance)


@pytest.mark.parametrize(
    "text",
    [
        "25 V",
        "25",
        "30+40 ohm",
        "30+40i ohm",
        "30 40j ohm",
        "30+j ohm",
        "30++40j ohm",
        "30+j40j ohm",
        "30+40j",
        "(30+40j) ohm",
        "30 ohm + 40j ohm",
        "30+40j ohm @ 3 deg",
        "1e999+1j ohm",
        "1+1e999j ohm",
        "1+nanj ohm",
        "-50 ohm @ 0 deg",
        "-50 ohm, 0.6 lag",
        "50 ohm, 0.6",
        "50 ohm, 1.1 lag",
        "50 ohm,",
        "50, 0.6 lag",
        "1,5 ohm",
        "Open",
        "open ohm",
        "20 kohm, 12 mH",
    ],
)
def test_impedance_refused(text: str) -> None:
    with pytest.raises(QuantityError, match=r"expected an impedance, for example '33\.1 ohm', got"):
        parse_impedance(text)


@pytest.mark.parametrize(
    ("text", "circuit"),
    [
        ("20 kohm", (20e3, 0)),
        ("20 kohm, 12 mH", (20e3, 12e-3)),
        ("20 kohm, 0 H", (20e3, 0)),
        ("20+0.5j kohm", (20e3 + 500j, 0)),
        ("50 kohm, 0.6 lag", (30e3 + 40e3j, 0)),
        ("open", (OPEN, 0)),
    ],
)
def test_voltage_circuit(text: str, circuit: tuple[complex, float]) -> None:
    impedance, inductance = parse_voltage_circuit(text)
    assert impedance == pytest.approx(circuit[0], rel=4 * EPS, abs=0)
    assert inductance == circuit[1]


@pytest.mark.parametrize(
    "text",
    [
        "0 ohm",
        "0 ohm, 12 mH",
        "10j ohm",
        "-20 kohm",
        "20 kohm, -12 mH",
        "20 kohm, 12 mF",
        "20 kohm, 12",
        "20 kohm, 12 mH, 0.6 lag",
        "12 mH",
        "open, 12 mH",
    ],
)
def test_voltage_circuit_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="expected the impedance of a voltage circuit"):
        parse_voltage_circuit(text)


@pytest.mark.parametrize(
    ("text", "value", "sense", "degrees"),
    [
        ("0.5 lag", 0.5, "lag", 60),  # cos 60° = 1/2
        ("0.5lead", 0.5, "lead", -60),
        ("1", 1, None, 0),
        ("1.0 lag", 1, "lag", 0),
        ("0 lag", 0, "lag", 90),
        ("0 lead", 0, "lead", -90),
    ],
)
def test_power_factor(text: str, value: float, sense: str | None, degrees: float) -> None:
    parsed = parse_power_factor(text)
    assert (parsed.value, parsed.sense) == (value, sense)
    assert parsed.angle_deg == pytest.approx(degrees, rel=4 * EPS)


@pytest.mark.parametrize(
    "text",
    ["0.8", "0", "1.1 lag", "1.1", "-0.8 lag", "0.8 LAG", "0.8 behind", "80 %", "lag", "nan"],
)
def test_power_factor_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="from 0 to 1 with 'lag' or 'lead'"):
        parse_power_factor(text)


@pytest.mark.parametrize(
    ("text", "unit", "ratio"),
    [
        ("100/5 A", "A", (100, 5)),
        ("100 / 5 A", "A", (100, 5)),
        ("100 A / 5 A", "A", (100, 5)),
        ("0.1 kA/5 A", "A", (100, 5)),
        ("400/100 V", "V", (400, 100)),
        ("11 kV/110 V", "V", (11000, 110)),
        ("11/0.11 kV", "V", (11000, 110)),
    ],
)
def test_ratio(text: str, unit: Unit, ratio: tuple[float, float]) -> None:
    assert parse_ratio(text, unit) == ratio


@pytest.mark.parametrize(
    "text",
    ["100/5", "100 A/5", "100 A", "0/5 A", "100/0 A", "-100/5 A", "100/5 V", "100/5/1 A", "/5 A"],
)
def test_ratio_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="expected a ratio of two currents above zero, for"):
        parse_ratio(text, "A")


@pytest.mark.parametrize("value", [400, 1.5, True, None, [], {}, b"5 V", 5j, [1 << 100_000]])
@pytest.mark.parametrize("parse", PARSERS.values(), ids=PARSERS)
def test_only_texts_are_read(parse: Callable[[object], complex], value: object) -> None:
    with pytest.raises(QuantityError, match="write it as a text with its unit, as in "):
        parse(value)


@pytest.mark.parametrize(
    ("value", "unit", "digits", "text"),
    [
        (2400.0, "W", 4, "2.4 kW"),
        (-76.85, "W", 4, "-76.85 W"),
        (0.0, "W", 4, "0 W"),
        (-0.0, "W", 4, "0 W"),
        (20e3, "ohm", 4, "20 kohm"),
        (230.0, "V", 4, "230 V"),
        (999.96, "V", 4, "1 kV"),
        (47e-6, "F", 4, "47 uF"),
        (12345.678, "var", 6, "12.3457 kvar"),
        (1e12, "W", 4, "1e12 W"),
        (2400.0, "W", None, "2400 W"),
        (0.1, "W", None, "0.1 W"),
        (-0.0, "W", None, "0 W"),
    ],
)
def test_format_quantity(value: float, unit: Unit, digits: int | None, text: str) -> None:
    assert format_quantity(value, unit, digits) == text


@pytest.mark.parametrize(
    ("impedance", "digits", "text"),
    [
        (33.1, 4, "33.1 ohm"),
        (30 + 40j, 4, "30+40j ohm"),
        (-30 - 40j, 4, "-30-40j ohm"),
        (40j, 4, "40j ohm"),
        (1200 + 500j, 4, "1.2+0.5j kohm"),
        (20e3 + 1e-9j, 4, "20 kohm"),
        (1e-9 - 25j, 4, "-25j ohm"),
        (999.96 + 1j, 4, "1+0.001j kohm"),
        (0, 4, "0 ohm"),
        (1e12 + 1e12j, 4, "1000000000000+1000000000000j ohm"),
        (OPEN, 4, "open"),
        (OPEN, None, "open"),
        (25 + 0.1j, None, "25+0.1j ohm"),
        (1e-9 - 25j, None, "1e-09-25j ohm"),
    ],
)
def test_format_impedance(impedance: complex, digits: int | None, text: str) -> None:
    assert format_impedance(impedance, digits) == text


@pytest.mark.parametrize(
    ("phasor", "digits", "text"),
    [
        (231, 4, "231 V @ 0 deg"),
        (complex(-231, -0.0), 4, "231 V @ 180 deg"),
        (complex(-231, -1e-9), 4, "231 V @ 180 deg"),
        (complex(-115.5, -115.5 * ROOT3), 4, "231 V @ -120 deg"),
        (3 + 4j, 4, "5 V @ 53.13 deg"),  # derived: atan(4/3) = 53.130 deg
        (11e3j, 4, "11 kV @ 90 deg"),
        (0, 4, "0 V"),
        (0, None, "0 V"),
        (200j, None, "200 V @ 90 deg"),
        (2 + 5e-324j, 4, "2 V @ 0 deg"),
        (2 + 5e-324j, None, "2+5e-324j V"),
    ],
)
def test_format_phasor(phasor: complex, digits: int | None, text: str) -> None:
    assert format_phasor(phasor, "V", digits) == text


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_only_finite_values_are_written(value: float) -> None:
    with pytest.raises(QuantityError, match="expected a finite value"):
        format_quantity(value, "W")
    with pytest.raises(QuantityError, match="expected a finite value"):
        format_phasor(complex(0, value), "V", None)
    with pytest.raises(QuantityError, match="expected a finite value"):
        format_impedance(complex(0, value))


PREFIXES = {"p": -12, "n": -9, "u": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
reals = st.floats(-1e29, 1e29)
# What a circuit can hold; a display of four digits is not asked to show 1e-320.
shown = st.floats(1e-12, 1e12) | st.floats(-1e12, -1e-12)


@given(st.integers(-(10**13), 10**13), st.sampled_from(sorted(PREFIXES)), st.sampled_from(UNITS))
def test_prefix_is_a_power_of_ten(ten_millionths: int, prefix: str, unit: Unit) -> None:
    number = Decimal(ten_millionths).scaleb(-7)
    expected = float(number.scaleb(PREFIXES[prefix]))  # exact decimal, rounded once
    assert parse_real(f"{number:f} {prefix}{unit}", unit) == expected


@given(reals, st.sampled_from(UNITS))
def test_exact_round_trip_of_reals(value: float, unit: Unit) -> None:
    assert parse_real(format_quantity(value, unit, None), unit) == value


@given(reals, reals)
def test_exact_round_trip_of_complex(real: float, imag: float) -> None:
    value = complex(real, imag)
    assert parse_impedance(format_impedance(value, None)) == value
    assert parse_phasor(format_phasor(value, "V", None), "V") == value


@given(st.integers(1, 4000), st.integers(-1799, 1800))
def test_what_was_written_in_polar_form_is_so_again(tenths: int, angle: int) -> None:
    phasor = parse_phasor(f"{tenths / 10} V @ {angle / 10} deg", "V")
    text = format_phasor(phasor, "V", None)
    assert parse_phasor(text, "V") == phasor
    assert text == f"{tenths / 10:g} V @ {angle / 10:g} deg"


@given(shown, shown, st.sampled_from(UNITS))
def test_display_is_right_to_its_last_digit(real: float, imag: float, unit: Unit) -> None:
    # Four digits of 1.000…9.999: half a unit of the last is at most 5e-4 of the value.
    assert parse_real(format_quantity(real, unit), unit) == pytest.approx(real, rel=5.001e-4)
    value = complex(real, imag)
    error = parse_impedance(format_impedance(value)) - value
    largest = 5.001e-4 * max(abs(real), abs(imag))
    assert abs(error.real) <= largest
    assert abs(error.imag) <= largest
    # The angle is written to 0.01 deg, so it is off by at most 0.005 deg = 8.73e-5 rad.
    again = parse_phasor(format_phasor(value, unit), unit)
    assert abs(again) == pytest.approx(abs(value), rel=5.001e-4)
    assert abs(cmath.phase(again / value)) <= 8.73e-5


PIECES = ["1", "0", ".", "e", "E", "+", "-", "−", "j", "i", " ", "k", "m", "µ", "V", "A", "ohm"]
PIECES += ["Ω", "H", "%", "°", "deg", "min", "@", "∠", ",", "/", "lag", "lead", "open", "nan"]
PIECES += ["inf", "1e999", "=", "#", "$", "_", "'", "(", ")", "9" * 60, "\x00", "\ud800", "٣"]


@given(st.text() | st.lists(st.sampled_from(PIECES), max_size=12).map("".join))
def test_nothing_but_a_quantity_error_escapes(text: str) -> None:
    for parse in PARSERS.values():
        try:
            value = parse(text)
        except QuantityError as error:
            assert len(str(error)) < 400  # noqa: PT017
        else:
            assert cmath.isfinite(value) or value == OPEN


@pytest.mark.parametrize("piece", ["9", "1+", "j", "1e", "1.", " ", "-", "@", ",", "1 V/", "ohm"])
def test_long_texts_are_read_or_refused_at_once(piece: str) -> None:
    # A pattern that tried every way to split such a text would not return within the test run.
    text = (piece * 200)[:199] + "!"
    with pytest.raises(QuantityError):
        parse_impedance(text)
    with pytest.raises(QuantityError):
        parse_ratio(text, "V")


def test_power_factor_is_a_value() -> None:
    assert parse_power_factor("0.8 lag") == PowerFactor(0.8, "lag")

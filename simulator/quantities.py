"""Quantities as a person writes them: ``"1.6 kW"`` to a number in SI units."""

from __future__ import annotations

import cmath
import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, TypeVar, cast

from quantiphy import Quantity

from simulator.errors import QuantityError

if TYPE_CHECKING:
    from collections.abc import Callable

T = TypeVar("T")
Unit = Literal["V", "A", "W", "VA", "var", "Hz", "ohm", "H", "F"]
OPEN: Final = complex(math.inf, 0.0)
"""The impedance of an open branch [ohm]."""

_KINDS: Final[dict[Unit, tuple[str, str]]] = {
    "V": ("a voltage", "400 V"),
    "A": ("a current", "5 A"),
    "W": ("an active power", "1.6 kW"),
    "VA": ("an apparent power", "2 kVA"),
    "var": ("a reactive power", "1.2 kvar"),
    "Hz": ("a frequency", "50 Hz"),
    "ohm": ("a resistance or reactance", "33.1 ohm"),
    "H": ("an inductance", "30 mH"),
    "F": ("a capacitance", "47 uF"),
}
_LONGEST = 200
_LARGEST = 1e30  # so that no square or product of quantities can overflow later
_SPELLINGS = str.maketrans(
    {"Ω": "ohm", "\u2126": "ohm", "µ": "u", "μ": "u", "−": "-", "\u2013": "-", "°": "deg", "∠": "@"}
)
# Words whose capitals may be confused without changing what is meant: m and M are not among them.
_WORDS = ("V", "kV", "A", "W", "kW", "VA", "kVA", "var", "kvar", "Hz", "ohm", "kohm", "uF")
_USUAL = {word.lower(): word for word in (*_WORDS, "deg", "min", "lag", "lead", "open")}
_NUMBER = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_REAL = re.compile(rf"(?P<number>[+-]?{_NUMBER})\s*(?P<word>[A-Za-z]+|%)")
_RECTANGULAR = re.compile(
    rf"(?:(?P<real>[+-]?{_NUMBER})\s*(?=[+-]))?(?P<sign>[+-]?)\s*"
    rf"(?:j\s*(?P<after>{_NUMBER})|(?P<before>{_NUMBER})\s*j)\s*(?P<word>[A-Za-z]+)"
)
_POWER_FACTOR = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<sense>lag|lead)?")


class Scaled(Quantity):
    """A number with an SI prefix, its preferences our own and not the library's global ones."""


Scaled.set_prefs(input_sf="GMkmunp", output_sf="GMkmunp")


@dataclass(frozen=True, slots=True)
class PowerFactor:
    """A power factor and its sense.

    Attributes
    ----------
    value : float
        Ratio of active to apparent power, 0 to 1.
    sense : {'lag', 'lead'} or None
        Current behind or ahead of the voltage; None is possible only where `value` is 1.
    """

    value: float
    sense: Literal["lag", "lead"] | None

    @property
    def angle_deg(self) -> float:
        """Angle of the voltage ahead of the current.

        Returns
        -------
        float
            The angle [deg], positive for lag.
        """
        angle = math.degrees(math.acos(self.value))
        return -angle if self.sense == "lead" else angle


def parse_real(
    text: object, unit: Unit, *, minimum: float | None = None, above: float | None = None
) -> float:
    """Read a real quantity such as ``1.6 kW``.

    Parameters
    ----------
    text : object
        What the user wrote; anything but a text is refused.
    unit : Unit
        The unit it must have, with or without an SI prefix from p to G.
    minimum : float, optional
        Smallest value allowed [unit].
    above : float, optional
        The value must be greater than this [unit].

    Returns
    -------
    float
        The value [unit].

    Raises
    ------
    QuantityError
        If the text is no such quantity, or out of range.
    """
    what, example = _KINDS[unit]
    if minimum is not None:
        what += f" of at least {minimum:g} {unit}"
    if above is not None:
        what += f" above {above:g} {unit}"

    def read(text: str) -> float | None:
        value = _real(text, unit)
        if value is None or (minimum is not None and value < minimum):
            return None
        return value if above is None or value > above else None

    return _parse(text, read, what, example)


def parse_angle(text: object) -> float:
    """Read an angle such as ``2 deg``, ``2°`` or ``15 min`` (minutes of arc).

    Parameters
    ----------
    text : object
        What the user wrote.

    Returns
    -------
    float
        The angle [deg], not reduced to one turn.

    Raises
    ------
    QuantityError
        If the text is no angle.
    """
    return _parse(text, _angle, "an angle", "2 deg' or '15 min")


def parse_percent(text: object) -> float:
    """Read a percentage such as ``-0.2 %``.

    Parameters
    ----------
    text : object
        What the user wrote.

    Returns
    -------
    float
        The fraction: -0.002 for ``-0.2 %``.

    Raises
    ------
    QuantityError
        If the text is no percentage.
    """

    def read(text: str) -> float | None:
        match = _REAL.fullmatch(text)
        return _float(match["number"], -2) if match and match["word"] == "%" else None

    return _parse(text, read, "a percentage", "-0.2 %")


def parse_phasor(text: object, unit: Unit) -> complex:
    """Read an rms phasor such as ``231 V`` or ``231 V @ -120 deg``.

    The rectangular form ``-115.5-200j V``, which `format_phasor` may write, is read too.

    Parameters
    ----------
    text : object
        What the user wrote.
    unit : Unit
        The unit it must have.

    Returns
    -------
    complex
        The phasor [unit].

    Raises
    ------
    QuantityError
        If the text is no such phasor, or its magnitude is negative.
    """

    def read(text: str) -> complex | None:
        value = _real(text, unit)
        if value is None:
            return _complex(text, unit)
        return complex(value) if value >= 0 else None

    what, example = _KINDS[unit]
    return _parse(text, read, what, f"{example}' or '{example} @ -120 deg")


def parse_impedance(text: object) -> complex:
    """Read an impedance: ``30+40j ohm``, ``50 ohm @ 53.13 deg``, ``50 ohm, 0.6 lag``, ``open``.

    Parameters
    ----------
    text : object
        What the user wrote.

    Returns
    -------
    complex
        The impedance [ohm]; `OPEN` for ``open``. The sign of its resistance is not judged.

    Raises
    ------
    QuantityError
        If the text is no impedance.
    """
    return _parse(text, _impedance, "an impedance", "33.1 ohm")


def parse_voltage_circuit(text: object) -> tuple[complex, float]:
    """Read the voltage circuit of a wattmeter: an impedance, or ``20 kohm, 12 mH``.

    Parameters
    ----------
    text : object
        What the user wrote.

    Returns
    -------
    impedance : complex
        Without the inductance [ohm]; `OPEN` for ``open``, an ideal circuit.
    inductance : float
        In series with it [H].

    Raises
    ------
    QuantityError
        If the text is no impedance with a resistance above zero.
    """

    def read(text: str) -> tuple[complex, float] | None:
        first, _, second = text.partition(",")
        resistance, inductance = _real(first, "ohm"), _real(second, "H")
        if resistance is not None and inductance is not None:
            impedance: complex | None = complex(resistance)
        else:
            impedance, inductance = _impedance(text), 0.0
        if impedance is None or impedance.real <= 0 or inductance < 0:
            return None
        return impedance, inductance

    what = "the impedance of a voltage circuit with a resistance above zero"
    return _parse(text, read, what, "20 kohm' or '20 kohm, 12 mH")


def parse_power_factor(text: object) -> PowerFactor:
    """Read a power factor such as ``0.8 lag``; only 1 stands without a sense.

    Parameters
    ----------
    text : object
        What the user wrote.

    Returns
    -------
    PowerFactor
        Value and sense.

    Raises
    ------
    QuantityError
        If the text is no power factor, is outside 0 to 1, or lacks its sense.
    """
    what = "a power factor from 0 to 1 with 'lag' or 'lead' (only 1 needs neither)"
    return _parse(text, _power_factor, what, "0.8 lag")


def parse_ratio(text: object, unit: Unit) -> tuple[float, float]:
    """Read the ratio of an instrument transformer: ``100/5 A``, ``11 kV/110 V``.

    Parameters
    ----------
    text : object
        What the user wrote; a primary value without a unit has the secondary one's.
    unit : Unit
        The unit of both.

    Returns
    -------
    primary : float
        Rated primary value [unit].
    secondary : float
        Rated secondary value [unit].

    Raises
    ------
    QuantityError
        If the text is no ratio of two values above zero.
    """

    def read(text: str) -> tuple[float, float] | None:
        first, _, second = (part.strip() for part in text.partition("/"))
        match = _REAL.fullmatch(second)
        if match and re.fullmatch(_NUMBER, first):
            first += f" {match['word']}"
        primary, secondary = _real(first, unit), _real(second, unit)
        if primary is None or secondary is None or min(primary, secondary) <= 0:
            return None
        return primary, secondary

    what = f"a ratio of two {_KINDS[unit][0].split(' ', 1)[1]}s above zero"
    return _parse(text, read, what, "100/5 A" if unit == "A" else f"400/100 {unit}")


# A reader gives None where the text is not what it reads.
def _parse(given: object, read: Callable[[str], T | None], what: str, example: str) -> T:
    expected = f"expected {what}, for example '{example}', got {_shown(given)}"
    if not isinstance(given, str):
        example = example.partition("'")[0]
        raise QuantityError(f'{expected}; write it as a text with its unit, as in "{example}"')
    if len(given) > _LONGEST:
        raise QuantityError(f"{expected} ({len(given)} characters, at most {_LONGEST})")
    text = given.translate(_SPELLINGS).strip()
    value = read(text)
    if value is None:
        raise QuantityError(expected + _remedy(text, read))
    return value


# Only asked, never taken for granted. What reads a bare 1 needs no unit.
def _remedy(text: str, read: Callable[[str], object]) -> str:
    if re.search(r"\d,\d", text):
        return " (a decimal point, no comma)"
    if re.fullmatch(rf"[+-]?\s*{_NUMBER}", text) and read("1") is None:
        return " (its unit is missing)"
    meant = re.sub("[A-Za-z]+", lambda word: _USUAL.get(word[0].lower(), word[0]), text)
    meant = " ".join(re.sub(r"^([+-])\s+", r"\1", meant).split())
    return f"; did you mean '{meant}'?" if meant != text and read(meant) is not None else ""


def _shown(given: object) -> str:
    try:
        text = repr(given)
    except ValueError:  # an integer of thousands of digits
        return "a number too long to show"
    return text if len(text) <= 60 else f"{text[:59]}…"


# Rounded once, so that "47 uF" is the float nearest to 47e-6; None beyond the range of quantities.
def _float(number: str, decade: int = 0) -> float | None:
    mantissa, _, exponent = number.lower().partition("e")
    value = float(f"{mantissa}e{int(exponent or 0) + decade}")
    if abs(value) > _LARGEST or (value == 0 and mantissa.strip("+-0.")):
        return None
    return value + 0.0  # no negative zero


# The power of ten that the prefix in "kohm" stands for, if the rest is the unit.
def _decade(word: str, unit: str) -> int | None:
    scale = Scaled(f"1 {word}")
    return round(math.log10(scale)) if scale.units == unit else None


def _real(text: str, unit: str) -> float | None:
    match = _REAL.fullmatch(text.strip())
    decade = _decade(match["word"], unit) if match else None
    return _float(match["number"], decade) if match and decade is not None else None


def _angle(text: str) -> float | None:
    match = _REAL.fullmatch(text.strip())
    value = _float(match["number"]) if match else None
    if match is None or value is None or match["word"] not in {"deg", "min"}:
        return None
    return value / 60 if match["word"] == "min" else value


def _complex(text: str, unit: str) -> complex | None:
    first, at, second = text.partition("@")
    if at:
        magnitude, angle = _real(first, unit), _angle(second)
        if magnitude is None or angle is None or magnitude < 0:
            return None
        return _polar(magnitude, angle)
    match = _RECTANGULAR.fullmatch(text)
    decade = _decade(match["word"], unit) if match else None
    if match is None or decade is None:
        return None
    real = _float(match["real"] or "0", decade)
    imag = _float(match["sign"] + (match["after"] or match["before"]), decade)
    return None if real is None or imag is None else complex(real, imag)


# Exact on the axes: the cosine of 270 degrees must not make a resistance negative.
def _polar(magnitude: float, angle: float) -> complex:
    angle = math.remainder(angle, 360)
    if angle % 90 == 0:
        return magnitude * (1 + 0j, 1j, -1 + 0j, -1j)[int(angle // 90) % 4]
    return cmath.rect(magnitude, math.radians(angle))


def _impedance(text: str) -> complex | None:
    if text == "open":
        return OPEN
    first, comma, second = text.partition(",")
    magnitude = _real(first, "ohm")
    if not comma:
        return _complex(text, "ohm") if magnitude is None else complex(magnitude)
    factor = _power_factor(second)
    if magnitude is None or magnitude < 0 or factor is None:
        return None
    reactance = magnitude * math.sqrt((1 - factor.value) * (1 + factor.value))
    return complex(magnitude * factor.value, -reactance if factor.sense == "lead" else reactance)


def _power_factor(text: str) -> PowerFactor | None:
    match = _POWER_FACTOR.fullmatch(text.strip())
    value = _float(match["number"]) if match else None
    if match is None or value is None or value > 1 or (value != 1 and not match["sense"]):
        return None
    return PowerFactor(value, cast("Literal['lag', 'lead'] | None", match["sense"]))

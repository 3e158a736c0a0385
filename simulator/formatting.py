"""Quantities as a person reads them: a number in SI units to ``"1.6 kW"``."""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING

from simulator.errors import QuantityError
from simulator.quantities import Scaled, parse_phasor, parse_real

if TYPE_CHECKING:
    from simulator.quantities import Unit


def format_quantity(value: float, unit: Unit, digits: int | None = 4) -> str:
    """Write a real quantity with a fitting SI prefix.

    Parameters
    ----------
    value : float
        The value [unit].
    unit : Unit
        Its unit.
    digits : int or None
        Significant digits; None writes the shortest text that `parse_real` reads as `value`.

    Returns
    -------
    str
        For example ``2.4 kW``.

    Raises
    ------
    QuantityError
        If the value is not finite.
    """
    _require_finite(value)
    if digits is None:
        return f"{_exact(value)} {unit}"
    return str(Scaled(value, unit).render(prec=digits - 1))


def format_impedance(Z: complex, digits: int | None = 4) -> str:
    """Write an impedance in rectangular form, both parts to the larger one's last digit.

    Parameters
    ----------
    Z : complex
        The impedance [ohm].
    digits : int or None
        Significant digits; None writes the shortest text that `parse_impedance` reads as `Z`.

    Returns
    -------
    str
        For example ``1.2+0.5j kohm``; ``open`` where the resistance is infinite.

    Raises
    ------
    QuantityError
        If the impedance is neither open nor finite.
    """
    if Z.real == math.inf:
        return "open"
    _require_finite(Z)
    larger = max(abs(Z.real), abs(Z.imag))
    if digits is None or larger == 0:
        return _rectangular(Z, "ohm")
    word = format_quantity(larger, "ohm", digits).split()[1]
    scale = parse_real(f"1 {word}", "ohm")
    places = digits - 1 - math.floor(math.log10(larger / scale))
    return _rectangular(complex(round(Z.real / scale, places), round(Z.imag / scale, places)), word)


def format_phasor(V: complex, unit: Unit, digits: int | None = 4) -> str:
    """Write an rms phasor in polar form.

    Parameters
    ----------
    V : complex
        The phasor [unit].
    unit : Unit
        Its unit.
    digits : int or None
        Significant digits of the magnitude, the angle to match; None writes the shortest text
        that `parse_phasor` reads as `V`, in rectangular form where no polar one does.

    Returns
    -------
    str
        For example ``231 V @ -120 deg``.

    Raises
    ------
    QuantityError
        If the phasor is not finite.
    """
    _require_finite(V)
    V = complex(V) + 0  # no negative zero: its angle would be -180 degrees
    if V == 0:
        return f"0 {unit}"
    # Not cmath.phase: it takes an angle too small for a float for an overflow.
    magnitude, angle = abs(V), math.degrees(math.atan2(V.imag, V.real))
    if digits is not None:
        angle = round(angle, digits - 2)
        angle = 180.0 if angle == -180 else angle
        return f"{format_quantity(magnitude, unit, digits)} @ {_exact(angle)} deg"
    for precision in range(1, 18):
        r, a = (float(f"{part:.{precision}g}") for part in (magnitude, angle))
        text = f"{_exact(r)} {unit} @ {_exact(a)} deg"
        if parse_phasor(text, unit) == V:
            return text
    return _rectangular(V, unit)


def _require_finite(value: complex) -> None:
    if not cmath.isfinite(value):
        raise QuantityError(f"expected a finite value to write, got {value}")


# The shortest decimal that reads back as the same float.
def _exact(value: float, sign: str = "") -> str:
    return f"{float(value) + 0.0:{sign}}".removesuffix(".0")


def _rectangular(Z: complex, word: str) -> str:
    if Z.imag == 0:
        return f"{_exact(Z.real)} {word}"
    real = _exact(Z.real) if Z.real else ""
    return f"{real}{_exact(Z.imag, '+' if real else '')}j {word}"

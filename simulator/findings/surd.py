"""Exact numbers for ideal arrangements: rationals, √3 and j."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Surd:
    """A number `one + root3·√3 + j·(imag + imag_root3·√3)` with rational parts, exact.

    Ideal arrangements and the operator `a = (−1 + j√3)/2` live in this field, so their table can be
    decided without a tolerance.

    Attributes
    ----------
    one : Fraction
        Rational part of the real part.
    root3 : Fraction
        Coefficient of √3 in the real part.
    imag : Fraction
        Rational part of the imaginary part.
    imag_root3 : Fraction
        Coefficient of √3 in the imaginary part.
    """

    one: Fraction = Fraction(0)
    root3: Fraction = Fraction(0)
    imag: Fraction = Fraction(0)
    imag_root3: Fraction = Fraction(0)

    def __add__(self, other: object) -> Surd:
        if not isinstance(other, Surd | int | Fraction):
            return NotImplemented
        y = surd(other)
        return Surd(
            self.one + y.one,
            self.root3 + y.root3,
            self.imag + y.imag,
            self.imag_root3 + y.imag_root3,
        )

    def __mul__(self, other: object) -> Surd:
        if not isinstance(other, Surd | int | Fraction):
            return NotImplemented
        a, b, c, d = self.one, self.root3, self.imag, self.imag_root3
        y = surd(other)
        e, f, g, h = y.one, y.root3, y.imag, y.imag_root3
        return Surd(
            a * e - c * g + 3 * (b * f - d * h),
            a * f + b * e - c * h - d * g,
            a * g + c * e + 3 * (b * h + d * f),
            a * h + d * e + b * g + c * f,
        )

    __radd__ = __add__
    __rmul__ = __mul__

    def __neg__(self) -> Surd:
        return self * -1

    def __sub__(self, other: object) -> Surd:
        if not isinstance(other, Surd | int | Fraction):
            return NotImplemented
        return self + -surd(other)

    def __rsub__(self, other: object) -> Surd:
        return -self + other

    def __bool__(self) -> bool:
        return bool(self.one or self.root3 or self.imag or self.imag_root3)

    def __complex__(self) -> complex:
        return complex(self.one + self.root3 * 3**0.5, self.imag + self.imag_root3 * 3**0.5)

    def conjugate(self) -> Surd:
        """Conjugate.

        Returns
        -------
        Surd
            The complex conjugate; numpy's `conj` calls it.
        """
        return Surd(self.one, self.root3, -self.imag, -self.imag_root3)


def surd(x: object) -> Surd:
    """Take a number into the field.

    Parameters
    ----------
    x : Surd, int or Fraction
        The number.

    Returns
    -------
    Surd
        The same number.

    Raises
    ------
    TypeError
        For a number that is not exact, such as a float.
    """
    if isinstance(x, Surd):
        return x
    if isinstance(x, int | Fraction):
        return Surd(Fraction(x))
    raise TypeError(f"exact arithmetic takes int, Fraction and Surd, not {type(x).__name__} {x!r}")

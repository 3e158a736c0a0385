"""A second reader of quantities, in exact fractions; it shares no code with the program.

Written from shared design page scenario.md, "Literals", without regular expressions and without a
library of units. It gives None for what is no such literal.
"""

from __future__ import annotations

from fractions import Fraction

from mpmath import mp, mpc, mpf

PREFIXES = {"G": 9, "M": 6, "k": 3, "": 0, "m": -3, "u": -6, "n": -9, "p": -12}
SPELLINGS = {"Ω": "ohm", "\u2126": "ohm", "µ": "u", "μ": "u", "−": "-", "°": "deg", "∠": "@"}
LARGEST = 1e30
DIGITS = 50
_FIGURES = frozenset("0123456789")


def spelt(text: str) -> str:
    return "".join(SPELLINGS.get(c, c) for c in text).strip()


def _is_whole(text: str) -> bool:
    return bool(text) and _FIGURES.issuperset(text)


def is_number(text: str, *, signed: bool = True) -> bool:
    mantissa, e, exponent = text.replace("E", "e").partition("e")
    if signed and mantissa[:1] in ("+", "-"):
        mantissa = mantissa[1:]
    if e and not _is_whole(exponent[1:] if exponent[:1] in ("+", "-") else exponent):
        return False
    before, _, after = mantissa.partition(".")
    return _is_whole(before + after)


def number(text: str, power: int = 0, *, signed: bool = True) -> Fraction | None:
    """Read a number times a power of ten, if it is within the range of quantities."""
    if not is_number(text, signed=signed):
        return None
    mantissa, _, exponent = text.replace("E", "e").partition("e")
    value, power = Fraction(mantissa.rstrip(".")), int(exponent or 0) + power
    if value == 0:
        return value
    if abs(power) > 1000:
        return None
    value *= Fraction(10) ** power
    return value if abs(value) < 10**31 and 0 < abs(float(value)) <= LARGEST else None


def parted(text: str) -> tuple[str, str]:
    """Part the longest number that a text begins with from the rest."""
    k = next((k for k in range(len(text), 0, -1) if is_number(text[:k])), 0)
    return text[:k], text[k:].strip()


def real(text: str, unit: str) -> Fraction | None:
    digits, word = parted(text.strip())
    power = next((p for prefix, p in PREFIXES.items() if word == prefix + unit), None)
    return None if power is None else number(digits, power)


def percent(text: str) -> Fraction | None:
    digits, word = parted(text)
    return number(digits, -2) if word == "%" else None


def angle(text: str) -> Fraction | None:
    """Read an angle as the nearest float: a turn of 1e20 degrees must mean some angle."""
    digits, word = parted(text.strip())
    value, parts = number(digits), {"deg": 1, "min": 60}.get(word)
    if value is None or parts is None:
        return None
    return Fraction(float(Fraction(float(value)) / parts))


def phasor(text: str, unit: str) -> mpc | None:
    size = real(text, unit)
    if size is None:
        return _complex(text, unit)
    return mpc(exact(size)) if size >= 0 else None


@mp.workdps(DIGITS)
def impedance(text: str) -> mpc | None:
    """Read an impedance; infinite for an open one."""
    if text == "open":
        return mpc(mp.inf)
    if "," not in text:
        size = real(text, "ohm")
        return _complex(text, "ohm") if size is None else mpc(exact(size))
    first, second = text.split(",", 1)
    size, factor = real(first, "ohm"), power_factor(second)
    if size is None or size < 0 or factor is None:
        return None
    cosine, sense = exact(factor[0]), factor[1]
    sine = mp.sqrt(1 - cosine**2)
    return exact(size) * mpc(cosine, -sine if sense == "lead" else sine)


def power_factor(text: str) -> tuple[Fraction, str] | None:
    """Read a power factor as the nearest float, for near 1 its sine changes by far more."""
    text = text.strip()
    sense = next((word for word in ("lag", "lead") if text.endswith(word)), "")
    value = number(text.removesuffix(sense).rstrip(), signed=False)
    if value is None or float(value) > 1 or (float(value) != 1 and not sense):
        return None
    return Fraction(float(value)), sense


def voltage_circuit(text: str) -> tuple[mpc, Fraction] | None:
    first, _, second = text.partition(",")
    R, L = real(first, "ohm"), real(second, "H")
    if R is not None and L is not None:
        Z: mpc | None = mpc(exact(R))
    else:
        Z, L = impedance(text), Fraction(0)
    return None if Z is None or Z.real <= 0 or L < 0 else (Z, L)


def ratio(text: str, unit: str) -> tuple[Fraction, Fraction] | None:
    first, _, second = (part.strip() for part in text.partition("/"))
    if is_number(first, signed=False):
        first += parted(second)[1]
    above, below = real(first, unit), real(second, unit)
    return None if above is None or below is None or min(above, below) <= 0 else (above, below)


@mp.workdps(DIGITS)
def _complex(text: str, unit: str) -> mpc | None:
    if "@" in text:
        first, second = text.split("@", 1)
        size, turn = real(first, unit), angle(second)
        if size is None or turn is None or size < 0:
            return None
        return exact(size) * mp.expjpi(exact(turn % 360 / 180))
    words = {prefix + unit: power for prefix, power in PREFIXES.items()}
    word = max((w for w in words if text.endswith(w)), key=len, default=None)
    if word is None:
        return None
    body, power = text.removesuffix(word).rstrip(), words[word]
    cut = max((k for k, c in enumerate(body) if c in "+-" and not _in_exponent(body, k)), default=0)
    first, second = body[:cut].rstrip(), body[cut:]
    sign = -1 if second.startswith("-") else 1
    second = second[1:].lstrip() if second[:1] in ("+", "-") else second
    if second.startswith("j"):
        second = second[1:].lstrip()
    elif second.endswith("j"):
        second = second[:-1].rstrip()
    else:
        return None
    re = number(first, power) if first else Fraction(0)
    im = number(second, power, signed=False)
    return None if re is None or im is None else mpc(exact(re), sign * exact(im))


def _in_exponent(text: str, k: int) -> bool:
    return k > 1 and text[k - 1] in "eE" and (text[k - 2] in _FIGURES or text[k - 2] == ".")


@mp.workdps(DIGITS)
def exact(value: Fraction) -> mpf:
    return mpf(value.numerator) / mpf(value.denominator)

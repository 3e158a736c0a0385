"""The formula of a total: a signed, weighted sum of readings, parsed and never evaluated."""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation, localcontext
from fractions import Fraction
from typing import TYPE_CHECKING, Final, Generic, NamedTuple, TypeAlias, TypeVar, cast

from simulator.errors import FormulaError

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

_LONGEST = 1000
_DEEPEST = 50
# In floats 0.1 + 0.2 - 0.3 is not zero, and could be divided by; here sums are exact.
_DIGITS = 250
_SPELLINGS = str.maketrans("−·⋅×", "-***")
_TOKEN = re.compile(
    r"(?P<number>(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)"
    r"|(?P<name>[^\W\d]\w*)|(?P<mark>\S)|(?P<end>\Z)"
)


@dataclass(frozen=True, slots=True)
class _Surd:
    """The number p + q·√3."""

    p: Fraction
    q: Fraction = Fraction(0)

    def __add__(self, other: _Surd) -> _Surd:
        return _Surd(self.p + other.p, self.q + other.q)

    def __neg__(self) -> _Surd:
        return _Surd(-self.p, -self.q)

    def __mul__(self, other: _Surd) -> _Surd:
        return _Surd(self.p * other.p + 3 * self.q * other.q, self.p * other.q + self.q * other.p)

    def __truediv__(self, other: _Surd) -> _Surd:
        norm = other.p**2 - 3 * other.q**2  # zero only for zero: √3 is irrational
        return self * _Surd(other.p / norm, -other.q / norm)


N = TypeVar("N", Decimal, _Surd)
_Value: TypeAlias = N | dict[str, N]


@dataclass(frozen=True)
class _Arithmetic(Generic[N]):
    """The number type a formula is read into; `root` raises ValueError where it has no root."""

    number: Callable[[str], N]
    plus: Callable[[N, N], N]
    root: Callable[[N], N]
    is_sound: Callable[[N], bool]
    no_root: str


class _Token(NamedTuple):
    kind: str
    text: str
    start: int


def parse_formula(text: object, names: Collection[str]) -> dict[str, float]:
    """Read a formula such as ``sqrt(3)*(W2 - W1)`` into one coefficient for each name.

    Parameters
    ----------
    text : object
        Numbers, ``sqrt`` of a number, names, ``+ - *``, ``/`` by a number, parentheses.
    names : collection of str
        The names it may use.

    Returns
    -------
    dict of str to float
        Coefficients in order of first appearance; a name that cancels keeps 0.

    Raises
    ------
    FormulaError
        If the text is no such formula; the message shows where.
    """
    with localcontext(prec=_DIGITS):
        terms = _Parser(text, names, _DECIMALS).terms()
    return {name: float(c) + 0.0 for name, c in terms.items()}  # no negative zero


def parse_formula_exact(
    text: object, names: Collection[str]
) -> dict[str, tuple[Fraction, Fraction]]:
    """Read a formula into exact coefficients p + q·√3.

    Parameters
    ----------
    text : object
        As for `parse_formula`; decimal numbers are taken as written.
    names : collection of str
        The names it may use.

    Returns
    -------
    dict of str to (Fraction, Fraction)
        The pair p, q of each name, in order of first appearance.

    Raises
    ------
    FormulaError
        If the text is no such formula, or has a root that is not of the form p or q·√3.
    """
    return {name: (c.p, c.q) for name, c in _Parser(text, names, _SURDS).terms().items()}


def _surd_root(value: _Surd) -> _Surd:
    for factor in (1, 3):
        square = value.p / factor
        if value.q == 0 and square >= 0:
            root = Fraction(math.isqrt(square.numerator), math.isqrt(square.denominator))
            if root**2 == square:
                return _Surd(root) if factor == 1 else _Surd(Fraction(0), root)
    raise ValueError(value)


# A sum that is only rounding, as sqrt(2)*sqrt(2) - 2 leaves, is nothing.
def _decimal_sum(left: Decimal, right: Decimal) -> Decimal:
    total = left + right
    rounding = max(abs(left), abs(right)).scaleb(10 - _DIGITS)
    return total if abs(total) > rounding else Decimal(0)


def _decimal_root(value: Decimal) -> Decimal:
    try:
        return value.sqrt()
    except InvalidOperation:
        raise ValueError(value) from None


# No product or quotient of two such numbers overflows, or vanishes, before it is looked at.
def _in_range(value: Decimal) -> bool:
    return 1e-100 < abs(value) < 1e100


def _is_short(value: Fraction) -> bool:
    return max(value.numerator.bit_length(), value.denominator.bit_length()) < 4096


_DECIMALS: Final = _Arithmetic[Decimal](
    Decimal,
    _decimal_sum,
    _decimal_root,
    lambda c: c == 0 or _in_range(c),
    "the root of a negative number",
)
_SURDS: Final = _Arithmetic[_Surd](
    lambda text: _Surd(Fraction(text)),
    lambda left, right: left + right,
    _surd_root,
    lambda c: _is_short(c.p) and _is_short(c.q),
    "not exactly representable",
)


# Recursive descent; a value is a number, or the coefficients of the names in it.
class _Parser(Generic[N]):
    def __init__(self, text: object, names: Collection[str], arithmetic: _Arithmetic[N]) -> None:
        if not isinstance(text, str):
            kind = type(text).__name__
            raise FormulaError(f"expected a formula such as 'W1 + W2', got a value of type {kind}")
        if len(text) > _LONGEST:
            raise FormulaError(f"a formula may have {_LONGEST} characters, this has {len(text)}")
        self.given = text
        self.text = text.translate(_SPELLINGS)
        self.names = names
        self.arithmetic: _Arithmetic[N] = arithmetic
        self.depth = 0
        self.token = self._read(0)

    def terms(self) -> dict[str, N]:
        start = self.token
        value = self._sum()
        if self.token.kind != "end":
            raise self._stray()
        if not isinstance(value, dict):
            raise self._fault(start, "the formula names no meter")
        return value

    def _sum(self) -> _Value[N]:
        value = self._product()
        while self.token.text in {"+", "-"}:
            operator = self._take()
            right = self._product()
            if operator.text == "-":
                right = self._each(right, lambda c: -c, operator)
            value = self._added(value, right, operator)
        return value

    def _product(self) -> _Value[N]:
        value = self._factor()
        while self.token.text in {"*", "/"}:
            operator = self._take()
            value = self._scaled(value, self._factor(), operator)
        return value

    def _factor(self) -> _Value[N]:
        first, minus = self.token, False
        while self.token.text in {"+", "-"}:
            minus ^= self._take().text == "-"
        value = self._atom()
        return self._each(value, lambda c: -c, first) if minus else value

    def _atom(self) -> _Value[N]:
        token = self._take()
        if token.kind == "number":
            return self._number(token)
        if token.text == "(":
            return self._group(token)
        if token.text == "sqrt" and self.token.text == "(":
            value = self._group(self._take())
            if isinstance(value, dict):
                raise self._fault(token, "the root of a reading is no weighted sum")
            return self._each(value, self.arithmetic.root, token)
        if token.kind == "name":
            if token.text not in self.names:
                raise self._fault(token, self._unknown(token.text))
            return {token.text: self.arithmetic.number("1")}
        raise self._fault(token, "expected a number, sqrt(3), the name of a meter or a parenthesis")

    def _group(self, opening: _Token) -> _Value[N]:
        if self.depth == _DEEPEST:
            raise self._fault(opening, f"parentheses nested more than {_DEEPEST} deep")
        self.depth += 1
        value = self._sum()
        if self.token.text != ")":
            raise self._stray()
        self._take()
        self.depth -= 1
        return value

    def _number(self, token: _Token) -> N:
        if not token.text.lower().partition("e")[0].strip("0."):
            return self.arithmetic.number("0")  # an exact 0e999999999 would take for ever
        if not _in_range(Decimal(float(token.text))):
            raise self._fault(token, "a number out of range")
        return self.arithmetic.number(token.text)

    def _added(self, left: _Value[N], right: _Value[N], operator: _Token) -> _Value[N]:
        if isinstance(left, dict) and isinstance(right, dict):
            plus = self.arithmetic.plus
            both = {name: plus(left[name], right[name]) for name in left if name in right}
            return self._sound(left | right | both, operator)
        if isinstance(left, dict) or isinstance(right, dict):
            raise self._fault(operator, "a number may multiply a reading, but not be added to one")
        return self._sound(self.arithmetic.plus(left, right), operator)

    def _scaled(self, left: _Value[N], right: _Value[N], operator: _Token) -> _Value[N]:
        if isinstance(right, dict):
            if operator.text == "/":
                raise self._fault(operator, "nothing may be divided by a reading")
            if isinstance(left, dict):
                raise self._fault(operator, "a product of two readings is no weighted sum")
            return self._each(right, lambda c: c * left, operator)
        if operator.text == "/":
            return self._each(left, lambda c: c / right, operator)
        return self._each(left, lambda c: c * right, operator)

    def _each(self, value: _Value[N], change: Callable[[N], N], token: _Token) -> _Value[N]:
        try:
            if isinstance(value, dict):
                changed: _Value[N] = {name: change(c) for name, c in value.items()}
            else:
                changed = change(value)
        except ArithmeticError:  # a ZeroDivisionError, or what 0/0 is among decimals
            raise self._fault(token, "division by zero") from None
        except ValueError:
            raise self._fault(token, self.arithmetic.no_root) from None
        return self._sound(changed, token)

    def _sound(self, value: _Value[N], token: _Token) -> _Value[N]:
        numbers = value.values() if isinstance(value, dict) else [value]
        if not all(map(self.arithmetic.is_sound, numbers)):
            raise self._fault(token, "the result is out of range")
        return value

    def _take(self) -> _Token:
        token = self.token
        self.token = self._read(token.start + len(token.text))
        return token

    def _read(self, start: int) -> _Token:
        match = cast("re.Match[str]", _TOKEN.search(self.text, start))  # the end always matches
        return _Token(str(match.lastgroup), match[0], match.start())

    def _fault(self, token: _Token, why: str) -> FormulaError:
        start, end = token.start, token.start + len(token.text)
        piece = repr(self.given[start:end][:40]) if token.text else "the end"
        around = self.given[max(0, start - 30) : start + 30]
        return FormulaError(f"formula {around!r}, at character {start + 1}, {piece}: {why}")

    def _unknown(self, name: str) -> str:
        nearest = difflib.get_close_matches(name[:40], self.names, n=1, cutoff=0)
        hint = f"the nearest is '{nearest[0]}'" if nearest else "there are no meters"
        return f"no meter has this name, {hint}"

    def _stray(self) -> FormulaError:
        why = "expected an operator before it"
        if self.token.kind == "end":
            why = "a closing parenthesis is missing"
        elif self.token.text == ")":
            why = "this parenthesis was never opened"
        return self._fault(self.token, why)

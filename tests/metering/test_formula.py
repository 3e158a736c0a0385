"""Formulas of totals: tables by hand, and sympy as an independent reader of random ones."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
import sympy
from hypothesis import given, settings
from hypothesis import strategies as st
from sympy.parsing.sympy_parser import parse_expr, rationalize, standard_transformations

from simulator.errors import FormulaError
from simulator.metering.formula import parse_formula, parse_formula_exact

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping

    Parse = Callable[[object, Collection[str]], Mapping[str, object]]

NAMES = ["W1", "W2", "W3"]
ROOT3 = sympy.sqrt(3)
ZERO = (Fraction(0), Fraction(0))


# Totals of the catalogue of methods (design page scenario.md, "Methods of the catalogue"), and
# others worked out by hand; each coefficient as the pair p, q of p + q·√3.
@pytest.mark.parametrize(
    ("text", "terms"),
    [
        ("W1 + W2", {"W1": (1, 0), "W2": (1, 0)}),
        ("3*W1", {"W1": (3, 0)}),
        ("W1 + W2 + W3", {"W1": (1, 0), "W2": (1, 0), "W3": (1, 0)}),
        ("sqrt(3)*W1", {"W1": (0, 1)}),
        ("sqrt(3)*(W2 - W1)", {"W2": (0, 1), "W1": (0, -1)}),
        ("(W1 + W2 + W3)/sqrt(3)", {n: (0, Fraction(1, 3)) for n in NAMES}),  # 1/√3 = √3/3
        ("sqrt(3)·(W2 − W1)", {"W2": (0, 1), "W1": (0, -1)}),
        ("2 × W1 ⋅ 3", {"W1": (6, 0)}),
        ("W3-W1", {"W3": (1, 0), "W1": (-1, 0)}),
        ("W1 - W1", {"W1": (0, 0)}),
        ("W2 - W1 - W2", {"W2": (0, 0), "W1": (-1, 0)}),
        ("-(-W1)", {"W1": (1, 0)}),
        ("--+-W1", {"W1": (-1, 0)}),
        ("2*-W1/-4", {"W1": (Fraction(1, 2), 0)}),
        ("W1 - W2*2 + W2", {"W1": (1, 0), "W2": (-1, 0)}),
        ("W1 - (W2 - 2*(W3 - W1))", {"W1": (-1, 0), "W2": (-1, 0), "W3": (2, 0)}),
        ("8/2/2*W1", {"W1": (2, 0)}),
        ("W1/(2*3)", {"W1": (Fraction(1, 6), 0)}),
        ("W1/2*3", {"W1": (Fraction(3, 2), 0)}),
        ("(1 - 3)*W1", {"W1": (-2, 0)}),
        ("0.1*W1 + .5*W2 + 1.e-1*W3", {"W1": (0.1, 0), "W2": (0.5, 0), "W3": (0.1, 0)}),
        ("(1e30 + 1 - 1e30)*W1", {"W1": (1, 0)}),
        ("1e2*W1 + 25E-2*W2", {"W1": (100, 0), "W2": (0.25, 0)}),
        ("0*W1", {"W1": (0, 0)}),
        ("0e99999999999*W1", {"W1": (0, 0)}),
        ("sqrt(4)*W1", {"W1": (2, 0)}),
        ("sqrt(12)*W1", {"W1": (0, 2)}),
        ("sqrt(0.75)*W1", {"W1": (0, 0.5)}),
        ("sqrt(1/3)*W1", {"W1": (0, Fraction(1, 3))}),
        ("sqrt(0)*W1", {"W1": (0, 0)}),
        ("sqrt( 2 + 1 ) * sqrt(3) * W1", {"W1": (3, 0)}),
        ("W1/(1 + sqrt(3))", {"W1": (-0.5, 0.5)}),  # times (√3 − 1)/(√3 − 1)
        ("\tW1\n+ W2 ", {"W1": (1, 0), "W2": (1, 0)}),
        ("-" * 900 + "W1", {"W1": (1, 0)}),
        ("(" * 50 + "W1" + ")" * 50, {"W1": (1, 0)}),
        ("+".join(["W1"] * 330), {"W1": (330, 0)}),
    ],
)
def test_formula(text: str, terms: dict[str, tuple[float, float]]) -> None:
    exact = {
        n: tuple(Fraction(str(x)) if isinstance(x, float) else x for x in c)
        for n, c in terms.items()
    }
    assert parse_formula_exact(text, NAMES) == exact
    assert list(parse_formula_exact(text, NAMES)) == list(terms)
    floats = parse_formula(text, NAMES)
    assert list(floats) == list(terms)
    for name, (p, q) in exact.items():
        # A handful of rounded operations.
        assert floats[name] == pytest.approx(p + q * math.sqrt(3), rel=1e-15, abs=0)


@pytest.mark.parametrize("parse", [parse_formula, parse_formula_exact])
@pytest.mark.parametrize(
    ("text", "character", "piece", "why"),
    [
        ("", 1, "the end", "expected a number, sqrt"),
        ("  ", 3, "the end", "expected a number, sqrt"),
        ("5", 1, "'5'", "names no meter"),
        ("2 - 2", 1, "'2'", "names no meter"),
        ("W1 + 5", 4, "'+'", "not be added"),
        ("5 − W1", 3, "'−'", "not be added"),
        ("W1*W2", 3, "'*'", "product of two readings"),
        ("W1 · (W2)", 4, "'·'", "product of two readings"),
        ("(W1 - W1)*W2", 10, "'*'", "product of two readings"),
        ("2/W1", 2, "'/'", "divided by a reading"),
        ("W1/W2", 3, "'/'", "divided by a reading"),
        ("sqrt(W1)", 1, "'sqrt'", "root of a reading"),
        ("W1/0", 3, "'/'", "division by zero"),
        ("W1/(2 - 2)", 3, "'/'", "division by zero"),
        ("W1/(sqrt(3) - sqrt(3))", 3, "'/'", "division by zero"),
        ("W1 W2", 4, "'W2'", ": expected an operator before it"),
        ("2W1", 2, "'W1'", ": expected an operator before it"),
        ("2 3*W1", 3, "'3'", ": expected an operator before it"),
        ("2(W1)", 2, "'('", ": expected an operator before it"),
        ("sqrt(3)W1", 8, "'W1'", ": expected an operator before it"),
        ("W1 $ 2", 4, "'$'", ": expected an operator before it"),
        ("1.2.3*W1", 4, "'.3'", ": expected an operator before it"),
        ("1,5*W1", 2, "','", ": expected an operator before it"),
        ("W1**2", 4, "'*'", "expected a number"),
        ("W1//2", 4, "'/'", "expected a number"),
        ("W1 +", 5, "the end", "expected a number"),
        ("*W1", 1, "'*'", "expected a number"),
        ("()*W1", 2, "')'", "expected a number"),
        ("√3*W1", 1, "'√'", "expected a number"),
        ("W1)", 3, "')'", ": this parenthesis was never opened"),
        ("(W1", 4, "the end", ": a closing parenthesis is missing"),
        ("sqrt(3*W1", 10, "the end", ": a closing parenthesis is missing"),
        ("W1 + W4x", 6, "'W4x'", "the nearest is 'W"),
        ("w2 + W1", 1, "'w2'", "no meter has this name, the nearest is 'W2'"),
        ("sqrt*W1", 1, "'sqrt'", "no meter has this name"),
        ("W1.real", 3, "'.'", ": expected an operator before it"),
        ("__import__('os')", 1, "'__import__'", "no meter has this name"),
        ("nan*W1", 1, "'nan'", "no meter has this name"),
        ("1e999*W1", 1, "'1e999'", "out of range"),
        ("1e-999*W1", 1, "'1e-999'", "out of range"),
        ("1e999999999999*W1", 1, "'1e999999999999'", "out of range"),
        ("(" * 51 + "W1" + ")" * 51, 51, "'('", "more than 50 deep"),
        ("sqrt(" * 51 + "3" + ")" * 51 + "*W1", 255, "'('", "more than 50 deep"),
        ("-(" * 400 + "W1", 102, "'('", "more than 50 deep"),
    ],
)
def test_refused(parse: Parse, text: str, character: int, piece: str, why: str) -> None:
    with pytest.raises(FormulaError) as caught:
        parse(text, NAMES)
    message = str(caught.value)
    assert f"at character {character}, {piece}: " in message
    assert message.endswith(why) if why.startswith(": ") else why in message
    assert len(message) < 300


@pytest.mark.parametrize("parse", [parse_formula, parse_formula_exact])
@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("W1 + 5", "4, '+': a number may multiply a reading, but not be added to one"),
        ("W1/W2", "3, '/': nothing may be divided by a reading"),
        ("W1*W2", "3, '*': a product of two readings is no weighted sum"),
        ("sqrt(W1)", "1, 'sqrt': the root of a reading is no weighted sum"),
        ("W1/0", "3, '/': division by zero"),
        ("3 + 4", "1, '3': the formula names no meter"),
        ("1e101*W1", "1, '1e101': a number out of range"),
        ("W1*W1*1e9", "3, '*': a product of two readings is no weighted sum"),
        ("", "1, the end: expected a number, sqrt(3), the name of a meter or a parenthesis"),
    ],
)
def test_messages_in_full(parse: Parse, text: str, at: str) -> None:
    with pytest.raises(FormulaError) as caught:
        parse(text, NAMES)
    assert str(caught.value) == f"formula {text!r}, at character {at}"


def test_of_a_long_formula_thirty_characters_on_either_side_are_shown() -> None:
    with pytest.raises(FormulaError) as caught:
        parse_formula("W2+W1+" * 10 + "A" * 50 + "+W1", NAMES)
    assert str(caught.value).startswith(
        f"formula {'W2+W1+' * 5 + 'A' * 30!r}, at character 61, {'A' * 40!r}: "
        "no meter has this name, the nearest is "
    )


@pytest.mark.parametrize("parse", [parse_formula, parse_formula_exact])
def test_parentheses_beside_each_other_are_no_deeper(parse: Parse) -> None:
    beside = "(W1) + (W2) + "
    assert set(parse(beside + "(" * 50 + "W3" + ")" * 50, NAMES)) == set(NAMES)
    with pytest.raises(FormulaError, match="more than 50 deep"):
        parse(beside + "(" * 51 + "W3" + ")" * 51, NAMES)


@pytest.mark.parametrize("parse", [parse_formula, parse_formula_exact])
def test_guards(parse: Parse) -> None:
    for text in ("(" * 10_000 + "W1" + ")" * 10_000, "W1+" * 400 + "W1"):
        with pytest.raises(FormulaError, match=f"1000 characters, this has {len(text)}"):
            parse(text, NAMES)
    for text in (3, None, True, ["W1"], 1 << 100_000):
        kind = f"got a value of type {type(text).__name__}$"
        with pytest.raises(FormulaError, match=rf"expected a formula such as 'W1 \+ W2', {kind}"):
            parse(text, NAMES)
    assert parse("W1" + " " * 998, NAMES)  # 1000 characters
    with pytest.raises(FormulaError, match=r"1000 characters, this has 1001$"):
        parse("W1" + " " * 999, NAMES)
    with pytest.raises(FormulaError, match=r"no meter has this name, there are no meters$"):
        parse("W1", [])


def test_out_of_range_results() -> None:
    for text, at in (
        ("6e99*W1 + 6e99*W1", "9, '+'"),
        ("(6e99 + 6e99)*W1", "7, '+'"),
        ("1e60*(1e60*W1)", "5, '*'"),
    ):
        with pytest.raises(FormulaError) as caught:
            parse_formula(text, NAMES)
        expected = f"formula '{text}', at character {at}: the result is out of range"
        assert str(caught.value) == expected
    for text in ("1e60*1e60*W1", "1e-60*1e-60*W1", "W1/1e-60/1e-60", "1e60*W1*1e60"):
        with pytest.raises(FormulaError, match="the result is out of range"):
            parse_formula(text, NAMES)
    long = "*".join(["(1+7e-99)"] * 90) + "*W1"
    with pytest.raises(FormulaError, match="the result is out of range"):
        parse_formula_exact(long, NAMES)
    assert parse_formula(long, NAMES) == {"W1": 1}


def test_zero_has_no_sign() -> None:
    assert str(parse_formula("-W1*0", NAMES)) == "{'W1': 0.0}"


def test_roots() -> None:
    # derived: √2 by hand to 17 digits, 1.4142135623730950
    assert parse_formula("sqrt(2)*W1", NAMES)["W1"] == pytest.approx(1.4142135623730950, rel=2e-16)
    for nothing in ("sqrt(2)*sqrt(2) - 2", "sqrt(2)*sqrt(3) - sqrt(6)"):  # but for rounding
        with pytest.raises(FormulaError, match=r"division by zero$"):
            parse_formula(f"W1/({nothing})", NAMES)
    with pytest.raises(FormulaError, match="root of a negative number"):
        parse_formula("sqrt(1-2)*W1", NAMES)
    for radicand in ("2", "1-2", "-3", "4+2*sqrt(3)", "sqrt(3)", "5/7"):
        with pytest.raises(FormulaError, match=r"character 1, 'sqrt': not exactly representable"):
            parse_formula_exact(f"sqrt({radicand})*W1", NAMES)


def test_a_meter_may_be_called_sqrt_and_names_are_whole_words() -> None:
    names = ["sqrt", "W", "W1", "e3", "Zähler"]
    assert parse_formula("sqrt(4)*sqrt + e3 + 2*W1 - W + Zähler", names) == {
        "sqrt": 2,
        "e3": 1,
        "W1": 2,
        "W": -1,
        "Zähler": 1,
    }


literals = st.integers(1, 30).map(str) | st.sampled_from(["0.1", "2.5", ".75", "1e1", "sqrt(3)"])
literals |= st.sampled_from(["sqrt(4)", "sqrt(12)", "sqrt(2.25)", "0"])
divisors = st.integers(1, 30).map(str) | st.sampled_from(["0.5", "sqrt(3)", "sqrt(0.75)"])
spaces = st.sampled_from(["", " "])


def compound(
    inner: st.SearchStrategy[str], factor: st.SearchStrategy[str]
) -> st.SearchStrategy[str]:
    """Join texts into longer ones of the same kind: numbers into a number, sums into a sum."""
    return st.one_of(
        st.builds("{}{}{}{}{}".format, inner, spaces, st.sampled_from("+-"), spaces, inner),
        st.builds("({})*({})".format, factor, inner),
        st.builds("({})*{}".format, inner, divisors),
        st.builds("({}){}/{}".format, inner, spaces, divisors),
        st.builds("-({})".format, inner),
    )


numbers = st.recursive(literals, lambda inner: compound(inner, inner), max_leaves=4)
sums = st.recursive(st.sampled_from(NAMES), lambda inner: compound(inner, numbers), max_leaves=8)


def sympy_terms(text: str) -> dict[str, sympy.Expr]:
    rules = (*standard_transformations, rationalize)
    expression = sympy.expand(parse_expr(text, {n: sympy.Symbol(n) for n in NAMES}, rules))
    return {n: expression.coeff(sympy.Symbol(n)) for n in NAMES}


@settings(max_examples=150, deadline=None)  # sympy is slow
@given(sums)
def test_sympy_reads_the_same(text: str) -> None:
    expected = sympy_terms(text)
    exact = parse_formula_exact(text.replace("-", "−").replace("*", "·"), NAMES)
    assert list(exact) == sorted({n for n in NAMES if n in text}, key=text.index)
    for name in NAMES:
        p, q = (sympy.Rational(x.numerator, x.denominator) for x in exact.get(name, ZERO))
        assert sympy.expand(sympy.radsimp(expected[name] - p - q * ROOT3)) == 0
    # With every minus made a plus nothing cancels, so that value bounds each rounding error
    # (running error analysis, from memory: Higham, Accuracy and Stability, section 3.3).
    bounds = sympy_terms(text.replace("-", "+"))
    floats = parse_formula(text, NAMES)
    for name in exact:
        error = abs(floats[name] - expected[name].evalf(40))
        assert error <= len(text) * 2.0**-52 * bounds[name].evalf(40)


PIECES = [*NAMES, "W9", "1", "0", ".5", "3", "sqrt(3)", "sqrt", "(", ")", "+", "-", "*", "/", "−"]
PIECES += [" ", "·", "1e99", "1e-99", "e", ".", ",", "**", "9" * 90, "(1+", "nan", "\x00", "\ud800"]


@given(st.text() | st.lists(st.sampled_from(PIECES), max_size=25).map("".join))
def test_nothing_but_a_formula_error_escapes(text: str) -> None:
    for parse in (parse_formula, parse_formula_exact):
        try:
            terms = parse(text, NAMES)
        except FormulaError as error:
            assert len(str(error)) < 600  # noqa: PT017
        else:
            assert terms
            assert set(terms) <= set(NAMES)
            assert "inf" not in str(terms)
            assert "nan" not in str(terms)

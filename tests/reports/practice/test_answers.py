"""Every answer of a sheet against a second way to it, from the words that a student reads.

derived: phasors by Ohm, Kirchhoff and Millman in `by_hand`, which shares no code with the
simulator. Sheets write given values with up to six figures, readings that are told with four.
"""

from __future__ import annotations

import cmath
import math
import re
from random import Random

import pytest

from simulator.metering.catalogue import METHODS
from simulator.reports.practice.draw_phasors import draw_phasors
from simulator.reports.practice.infer_pair import PAIRS, infer_pair
from simulator.reports.practice.infer_sum import infer_sum
from simulator.reports.practice.installations import balanced, factor_words
from simulator.reports.practice.predict import predict
from simulator.reports.practice.problem import Choice
from tests.reports.practice.by_hand import (
    LINES,
    felt,
    load_power,
    neutral_current,
    phase_voltages,
    quantity,
    readings,
    total,
)

LEVELS = (1, 2, 3)
CASES = [pytest.param(m, level, id=f"{m}, {level}") for m in METHODS for level in LEVELS]
OF_TOLD = 1e-4  # cosines and ohms are told with four to six figures
SEEDS = ("a", "b")


def _drawn(draw, method, level, seed):
    shape, numbers = (Random(f"{seed}, {what}") for what in ("shape", "numbers"))  # noqa: S311
    return draw(shape, numbers, method, level)


@pytest.mark.parametrize(("method", "level"), CASES)
def test_predicted_readings_follow_from_the_words(method, level):
    for seed in SEEDS:
        problem = _drawn(predict, method, level, seed)
        watts = readings(problem.told)
        asks = {ask.symbol: ask for ask in problem.asks}
        for name, value in watts.items():
            assert asks[name].value == pytest.approx(value, abs=OF_TOLD * asks[name].scale)
        formula = re.search(r"indicated, (.*)\?", asks["total"].words)[1]
        told_total = total(formula, watts)
        assert asks["total"].value == pytest.approx(
            told_total, abs=3 * OF_TOLD * asks["total"].scale
        )
        powers = load_power(problem.told)
        if "true" in asks and not METHODS[method].reactive:
            assert asks["true"].value == pytest.approx(powers.real, abs=3 * OF_TOLD * abs(powers))
        if "Q" in asks:
            assert asks["Q"].value == pytest.approx(powers.imag, abs=3 * OF_TOLD * abs(powers))
            factor = powers.real / abs(powers)
            assert asks["cos φ"].value == pytest.approx(factor, abs=3 * OF_TOLD)
        if "I N" in asks:
            expected = neutral_current(problem.told)
            assert asks["I N"].value == pytest.approx(expected, abs=OF_TOLD * asks["I N"].scale)


@pytest.mark.parametrize(("method", "level"), CASES)
def test_drawn_angles_follow_from_the_words(method, level):
    problem = _drawn(draw_phasors, method, level, "c")
    asks = {ask.symbol: ask for ask in problem.asks}
    for name, (v, i) in felt(problem.told).items():
        if v:
            between = abs(math.degrees(cmath.phase(v / i)))
            assert asks[f"∠ {name}"].value == pytest.approx(between, abs=0.02)
            assert asks[name].value == pytest.approx(
                (v * i.conjugate()).real, abs=OF_TOLD * asks[name].scale
            )


@pytest.mark.parametrize("method", PAIRS)
@pytest.mark.parametrize("level", LEVELS)
def test_what_two_readings_mean_is_a_load_that_makes_them(method, level):
    """derived: put the answers back into the circuit; its wattmeters must show what was told."""
    for seed in SEEDS:
        problem = _drawn(infer_pair, method, level, seed)
        answers = {a.symbol: a.value for a in problem.asks if not isinstance(a, Choice)}
        told = {
            name: quantity(text, "W")
            for name, text in re.findall(r"(W\d) = ([^;]*?)[;.](?: |$)", problem.told[-1])
        }
        V = phase_voltages(problem.told[0])
        phi = math.degrees(math.acos(answers["cos φ"]))
        senses = [a.right for a in problem.asks if isinstance(a, Choice)]
        phi = -phi if senses == [{"lead"}] else phi
        assert answers.get("φ", abs(phi)) == pytest.approx(abs(phi), abs=1e-6)
        amperes = answers["P"] / (3 * abs(V["L1"]) * answers["cos φ"])
        I = {k: cmath.rect(amperes, cmath.phase(v) - math.radians(phi)) for k, v in V.items()}
        (words,) = [t for t in problem.told if " with I " in t]
        for name, line, start, end in re.findall(
            r"(W\d) (?:\(position \d\) )?with I (L\d) and V (L\d)-(L\d)", words
        ):
            shown = ((V[start] - V[end]) * I[line].conjugate()).real
            assert shown == pytest.approx(told.get(name, 0.0), abs=1e-5 * answers["P"])
        if "Q" in answers:
            assert answers["Q"] == pytest.approx(answers["P"] * math.tan(math.radians(phi)))
        if "Z" in answers:
            (ask,) = [a for a in problem.asks if not isinstance(a, Choice) and a.symbol == "Z"]
            delta = "delta" in ask.words
            across = abs(V["L1"]) * (math.sqrt(3) if delta else 1)
            branch = amperes / (math.sqrt(3) if delta else 1)
            assert ask.value == pytest.approx(across / branch)


@pytest.mark.parametrize("method", [m for m in METHODS if m not in PAIRS])
@pytest.mark.parametrize("level", LEVELS)
def test_what_readings_with_voltage_and_current_mean(method, level):
    """derived: P, Q and S by their definitions from the numbers told (four figures)."""
    for seed in SEEDS:
        problem = _drawn(infer_sum, method, level, seed)
        answers = {a.symbol: a.value for a in problem.asks}
        given = problem.told[-1]
        watts = {k: quantity(v, "W") for k, v in re.findall(r"(W\d?) = ([^;]*W)", given)}
        phase = abs(phase_voltages(problem.told[0])["L1"])
        if "in each line" in given:
            amperes = [quantity(re.search(r"([\d.]+ m?A) in each", given)[1], "A")] * 3
        else:
            amperes = [quantity(x, "A") for x in re.findall(r"I L\d = ([\d.]+ m?A)", given)]
        S = phase * sum(amperes)
        if METHODS[method].reactive:
            n = len(watts)
            Q = abs(sum(watts.values())) * (math.sqrt(3) if n == 1 else 1 / math.sqrt(3))
            if not amperes:
                P = quantity(re.search(r"active power is ([\d.]+ [kM]?W)", given)[1], "W")
                S = math.hypot(P, Q)
            else:
                P = math.sqrt(S**2 - Q**2)
        else:
            P = sum(watts.values()) * (3 if len(watts) == 1 else 1)
            Q = math.sqrt(max(S**2 - P**2, 0.0))
        expected = {"P": P, "Q": Q, "S": S, "cos φ": P / S}
        for symbol, value in answers.items():
            scale = 1 if symbol == "cos φ" else S
            assert value == pytest.approx(expected[symbol], abs=2e-3 * scale), symbol


def test_every_reading_is_told_those_of_zero_too():
    problem = _drawn(infer_pair, "three wattmeters to a line", 1, "a")
    assert "W2 = 0 W" in problem.told[-1]


@pytest.mark.parametrize(
    ("phi", "words"),
    [(0.0, "power factor 1"), (30.0, "power factor 0.866 lag"), (-60.0, "power factor 0.5 lead")],
)
def test_power_factors_are_told_as_such(phi, words):
    assert factor_words(phi) == words


def test_an_oven():
    told = {balanced(Random(k), Random(k), 3, 1).told[1] for k in range(200)}  # noqa: S311
    assert any("an oven" in words for words in told)
    assert not any(" a o" in words for words in told)


def test_the_second_way_knows_the_lines():
    assert phase_voltages("Three wires, 400 V from line to line, sequence L3-L2-L1.").keys() == {
        *LINES
    }

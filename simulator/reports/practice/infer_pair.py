"""Infer from two readings: total, reactive power, angle, power factor, sense, impedance."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.figures.words import quantity
from simulator.findings.balanced import ROOT3, BalancedLoad
from simulator.findings.inference import Given, infer
from simulator.reports.practice.circuit import circuit
from simulator.reports.practice.installations import LINE_VOLTS, LINES, load_of_power
from simulator.reports.practice.problem import Choice, Problem, asks_for, number, tidy

if TYPE_CHECKING:
    from random import Random

    from simulator.findings.inference import Inference
    from simulator.reports.practice.problem import Ask, Level

Numbers = dict[str, float]
STEPS = (1, 1.2, 1.5, 1.6, 1.8, 2, 2.4, 2.5, 3, 3.2, 3.5, 3.6, 4, 4.5, 4.8, 5, 6, 7.2, 7.5, 8, 9)
LOW_OVER_HIGH = tuple(k / 20 for k in range(3, 20))
PAIRS = (
    "one wattmeter, two positions",
    "two wattmeters",
    "three wattmeters to a line",
    "two wattmeters for reactive power",
)
"""Methods of which two readings count."""
EXCHANGED = "the two readings exchanged in the difference, or the other sequence"


def infer_pair(shape: Random, random: Random, method: str, level: Level) -> Problem:
    """Draw a problem in which two readings lead to what a balanced load takes.

    Parameters
    ----------
    shape, random : Random
        Where the kind of circuit and its numbers come from.
    method : str
        One of `PAIRS`.
    level : int
        1: both positive, lagging; 2: perhaps one below zero, any sequence, lag or lead; 3: the
        impedance too.

    Returns
    -------
    Problem
        The problem.
    """
    sequence = 1 if level == 1 else shape.choice((1, 1, -1))
    lag = level == 1 or shape.random() < 0.6
    sign = 1 if level == 1 else shape.choice((1, -1))
    high = random.choice(STEPS) * random.choice((1000.0, 1000.0, 10000.0))
    low = sign * high * random.choice(LOW_OVER_HIGH if sign > 0 else LOW_OVER_HIGH[:10])
    before, after = (low, high) if lag == (sequence > 0) else (high, low)
    volts = float(random.choice(LINE_VOLTS))
    load = BalancedLoad(before + after, sequence * ROOT3 * (after - before))
    installation = load_of_power(volts, load.active, load.reactive, sequence)
    whole = circuit(shape, random, installation, method, level, equal=True)
    counting = [name for name, r in whole.result.readings.items() if r.voltage]
    # of a star on one line the wattmeter in the line after it may come first
    first = counting if math.isclose(whole.result[counting[0]].watts, before) else counting[::-1]
    given = Given(
        dict(zip(first, (before, after), strict=True)),
        LINES,
        sequence=sequence,
        voltage=volts if level == 3 else None,
    )
    delta = shape.random() < 0.5
    inference = infer(given)
    readings = "; ".join(
        f"{name} = {tidy(given.readings.get(name, 0.0), 'W')}" for name in whole.result.readings
    )
    return Problem(
        "infer",
        method,
        level,
        (*whole.all_told, f"The load is balanced. Read: {readings}."),
        pair_asks(inference, level, delta=delta),
        tuple(pair_steps(inference, delta=delta)),
        whole.result,
    )


def pair_asks(
    inference: Inference, level: Level, *, delta: bool = False
) -> tuple[Ask | Choice, ...]:
    """Ask for what two readings mean, with the slips.

    Parameters
    ----------
    inference : Inference
        What follows from them.
    level : int
        1: P, φ and power factor; 2: Q and sense too; 3: the impedance in place of φ.
    delta : bool, optional
        Whether the impedance is asked for in delta, not in star.

    Returns
    -------
    tuple of Ask or Choice
        The questions.
    """
    load = inference.load
    assert load is not None  # noqa: S101  (a balanced load was drawn)
    size = load.apparent
    questions: dict[str, tuple[str, str, float]] = {
        "P": ("What active power does the load take?", "W", size),
        "Q": ("What reactive power, positive for lag?", "var", size),
        "φ": ("What is the angle φ of the load, its size?", "°", 90.0),
        "cos φ": ("What is its power factor?", "", 1.0),
        "Z": (f"What impedance has a branch, if it is a {_shape(delta=delta)}?", "ohm", 0.0),
    }
    left_out = {1: ("Q", "Z"), 2: ("Z",), 3: ("φ",)}[level]
    slips = _slips(inference, delta=delta)
    right = (
        {"P": load.active} | _angle(load.active, load.reactive) | _impedance(inference, delta=delta)
    )
    asked = {k: v for k, v in questions.items() if k not in left_out}
    asks: list[Ask | Choice] = list(asks_for(asked, right, slips))
    if level > 1:
        sense, other = ("lag", "lead") if load.reactive > 0 else ("lead", "lag")
        words = "Does the current lag or lead?"
        asks.append(Choice(words, {"lag": "", "lead": ""}, frozenset([sense]), {other: EXCHANGED}))
    return tuple(asks)


def pair_steps(inference: Inference, *, delta: bool) -> list[str]:
    """Write the way from two readings to what they mean.

    Parameters
    ----------
    inference : Inference
        What follows from them.
    delta : bool
        Whether the impedance is asked for in delta.

    Returns
    -------
    list of str
        The lines.
    """
    load, given = inference.load, inference.given
    assert load is not None  # noqa: S101
    before, after = list(given.readings)[:: given.sequence]
    W = {
        name: f"({tidy(watts, 'W')})" if watts < 0 else tidy(watts, "W")
        for name, watts in given.readings.items()
    }
    P, Q = quantity(load.active, "W"), quantity(load.reactive, "var")
    first, second = sorted(W)
    order, sense = "-".join(LINES[:: given.sequence]), "lag" if load.reactive > 0 else "lead"
    lines = [
        f"P = {first} + {second} = {W[first]} + {W[second]} = {P}",
        f"V·I·cos(30° + φ) is {before}, V·I·cos(30° − φ) is {after} in the sequence {order}",
        f"Q = √3·({after} − {before}) = √3·({W[after]} − {W[before]}) = {Q}: {sense}",
        f"tan φ = Q/P = {number(load.reactive / load.active)}, φ = {number(load.phi or 0.0)}°",
        f"power factor = cos φ = {number(load.power_factor or 0.0)}",
    ]
    if inference.star is not None and inference.current is not None and given.voltage is not None:
        S, V, I = load.apparent, given.voltage, inference.current
        star, asked = abs(inference.star), abs(inference.star) * (3 if delta else 1)
        lines.append(f"S = √(P² + Q²) = {quantity(S, 'VA')}; I = S/(√3·V) = {quantity(I, 'A')}")
        lines.append(
            f"Z = V/(√3·I) = {tidy(V, 'V')}/(√3·{quantity(I, 'A')}) = {_ohms(star)} in star"
            + (f", 3 times that = {_ohms(asked)} in delta" if delta else "")
        )
    return lines


def _shape(*, delta: bool) -> str:
    return "delta" if delta else "star"


def _ohms(value: float) -> str:
    return quantity(value, "ohm").replace("ohm", "Ω")


def _angle(P: float, Q: float) -> Numbers:
    phi = math.degrees(math.atan2(Q, P))
    return {"Q": Q, "φ": abs(phi), "cos φ": math.cos(math.radians(phi))}


def _impedance(inference: Inference, *, delta: bool) -> Numbers:
    return {} if inference.star is None else {"Z": abs(inference.star) * (3 if delta else 1)}


def _slips(inference: Inference, *, delta: bool) -> dict[str, Numbers]:
    """Work out what the usual slips lead to."""
    load, given = inference.load, inference.given
    assert load is not None  # noqa: S101
    P, Q = load.active, load.reactive
    before, after = given.readings.values()
    slips: dict[str, Numbers] = {
        "√3 left out of Q and tan φ": _angle(P, Q / ROOT3),
        "√3 applied to the sum": {"P": ROOT3 * P},
        "tan φ upside down, √3·(sum)/(difference)": _upside_down(P, Q),
        EXCHANGED: {"Q": -Q},
    }
    if min(before, after) < 0:
        absolute = abs(before) + abs(after), given.sequence * ROOT3 * (abs(after) - abs(before))
        slips["minus sign lost"] = {"P": absolute[0]} | _angle(*absolute)
    if inference.star is not None:
        Z = abs(inference.star) * (3 if delta else 1)
        slips["star taken for delta or the reverse"] = {"Z": Z / 3 if delta else 3 * Z}
        slips["√3 left out of V = √3·I·Z"] = {"Z": ROOT3 * Z if not delta else Z / ROOT3}
    return slips


def _upside_down(P: float, Q: float) -> Numbers:
    phi = math.atan(3 * P / abs(Q))
    return {"φ": math.degrees(phi), "cos φ": math.cos(phi)}

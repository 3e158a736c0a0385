"""Infer from one reading, a sum, or cross-connected wattmeters, with voltage and current."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.figures.words import quantity
from simulator.metering.catalogue import METHODS
from simulator.reports.practice.circuit import circuit
from simulator.reports.practice.installations import ROOT3, balanced, load_of_power, unbalanced
from simulator.reports.practice.problem import Problem, asks_for, number, tidy
from simulator.reports.practice.working import formula_text, total_step, watts_text

if TYPE_CHECKING:
    from random import Random

    from simulator.findings.result import Result
    from simulator.reports.practice.circuit import Circuit
    from simulator.reports.practice.problem import Level

Numbers = dict[str, float]


def infer_sum(shape: Random, random: Random, method: str, level: Level) -> Problem:
    """Draw a problem in which readings, a voltage and currents lead to what a load takes.

    Parameters
    ----------
    shape, random : Random
        Where the kind of circuit and its numbers come from.
    method : str
        A method of which one reading, or the sum of several, counts.
    level : int
        1: a balanced load; 2: also the power that the method does not read, or a load that is not
        balanced; 3: the same, leading too.

    Returns
    -------
    Problem
        The problem.
    """
    if METHODS[method].n_wattmeters > 1 and level > 1:
        wires = METHODS[method].wires[-1 if _cross(method) else 0]
        whole = circuit(shape, random, unbalanced(shape, random, wires, 2), method, level)
    else:
        whole = _tidily_balanced(shape, random, method, level)
    asked, right, slips, steps = (_cross_connected if _cross(method) else _active)(whole, level)
    words = {
        "P": ("What active power does the load take?", "W"),
        "Q": ("What is the size of its reactive power?", "var"),
        "S": (_apparent_words(whole), "VA"),
        "cos φ": ("What is its power factor, P/S?", ""),
    }
    size = float(whole.result.first.plane.apparent.arithmetic)
    questions = {k: (*words[k], 1.0 if k == "cos φ" else size) for k in asked}
    return Problem(
        "infer",
        method,
        level,
        (whole.installation.told[0], *whole.told, _read(whole, level)),
        asks_for(questions, right, slips),
        tuple(steps),
        whole.result,
    )


def _tidily_balanced(shape: Random, random: Random, method: str, level: Level) -> Circuit:
    """Draw a balanced load on which one wattmeter of the method reads a tidy number."""
    installation = balanced(shape, random, METHODS[method].wires[0], 1 if level == 1 else 2)
    drawn = circuit(shape, random, installation, method, level, equal=True).result
    S = drawn.first.true
    volts = ROOT3 * float(abs(drawn.first.line_potentials[0]))
    first = float(f"{next(iter(drawn.readings.values())).watts:.2g}")
    if METHODS[method].reactive:
        Q = ROOT3 * first * drawn.measurement.supply.sequence
        P = math.sqrt(max(abs(S) ** 2 - Q**2, 0.0))
    elif METHODS[method].total == "W1 + W2":
        P, Q = S.real, S.imag
    else:
        P = 3 * first
        Q = math.copysign(math.sqrt(max(abs(S) ** 2 - P**2, 0.0)), S.imag)
    sequence, wires = drawn.measurement.supply.sequence, drawn.measurement.conductors.wires
    tidy_one = load_of_power(volts, P, Q, sequence, wires)
    return circuit(shape, random, tidy_one, method, level, equal=True)


def _cross(method: str) -> bool:
    return METHODS[method].reactive


def _is_balanced(whole: Circuit) -> bool:
    return whole.installation.phi is not None


def _apparent_words(whole: Circuit) -> str:
    if _is_balanced(whole):
        return "What apparent power does it take?"
    if _cross(whole.method):
        return "What is the apparent power √(P² + Q²)?"
    return "What is the arithmetic apparent power, the sum of V·I of the three phases?"


def _read(whole: Circuit, level: Level) -> str:
    """Tell the readings, and the currents or the other power."""
    result = whole.result
    readings = "; ".join(f"{k} = {watts_text(r)}" for k, r in result.readings.items())
    amperes = [abs(i) for i in result.first.line_currents.tolist()]
    if _is_balanced(whole):
        sense = "" if level == 1 else " and inductive" if _lags(whole) else " and capacitive"
        currents = f"{tidy(amperes[0], 'A', 4)} in each line"
        return f"The load is balanced{sense}. Read: {readings}; {currents}."
    if _cross(whole.method):
        power = tidy(result.first.true.real, "W", 4)
        return f"The load is not balanced. Read: {readings}; its active power is {power}."
    lines = zip(result.measurement.conductors.lines, amperes, strict=True)
    currents = "; ".join(f"I {line} = {tidy(i, 'A', 4)}" for line, i in lines)
    return f"The load is not balanced. Read: {readings}; {currents}."


def _lags(whole: Circuit) -> bool:
    return whole.installation.phi is not None and whole.installation.phi > 0


def _volts(result: Result) -> tuple[float, bool]:
    """Give the voltage that is told, and whether it is one to the neutral."""
    phase = float(abs(result.first.line_potentials[0]))
    return (phase, True) if result.first.neutral else (ROOT3 * phase, False)


def _active(
    whole: Circuit, level: Level
) -> tuple[list[str], Numbers, dict[str, Numbers], list[str]]:
    """Go from watts to P, S and the power factor."""
    result = whole.result
    V, to_neutral = _volts(result)
    amperes = [abs(i) for i in result.first.line_currents.tolist()]
    P, watts = result.first.true.real, sum(r.watts for r in result.readings.values())
    balanced, single = _is_balanced(whole), len(result.readings) == 1
    S = (V if to_neutral else V / ROOT3) * sum(amperes)
    Q = math.sqrt(max(S**2 - P**2, 0.0))
    slips: dict[str, Numbers] = {}
    if single:
        slips["one reading taken for the whole"] = _from(watts, S)
        slips["√3 in place of 3"] = _from(ROOT3 * watts, S)
    else:
        slips["√3 applied to the sum"] = _from(ROOT3 * P, S)
        slips["mean of the readings in place of their sum"] = _from(P / len(result.readings), S)
    wrong = S / ROOT3 if to_neutral else S * ROOT3
    name = "√3 where phase voltages ask for 3" if to_neutral else "3 where line voltages ask for √3"
    if not balanced:
        name = "phase and line voltage taken for each other"
        wrong = S * ROOT3
    slips[name] = {"S": wrong, "cos φ": P / wrong}
    if balanced:
        slips["V·I taken for the whole"] = {"S": V * amperes[0], "cos φ": P / (V * amperes[0])}
        slips["Q = S − P"] = {"Q": S - P}
    asked = ["P", "S", "cos φ"] + (["Q"] if balanced and level > 1 else [])
    right = {"P": P, "S": S, "cos φ": P / S, "Q": Q}
    steps = [total_step(result), _apparent_step(V, amperes, S, balanced=balanced, phase=to_neutral)]
    steps.append(f"power factor = P/S = {quantity(P, 'W')}/{quantity(S, 'VA')} = {number(P / S)}")
    if "Q" in asked:
        steps.append(f"Q = √(S² − P²) = {quantity(Q, 'var')}; watts do not tell lag from lead")
    if not balanced:
        steps.append(
            f"P needs no balance here. {result.total.reason if result.total else ''}".strip()
        )
    return asked, right, slips, steps


def _from(P: float, S: float) -> Numbers:
    return {"P": P, "cos φ": P / S} | ({"Q": math.sqrt(S**2 - P**2)} if P < S else {})


def _apparent_step(V: float, amperes: list[float], S: float, *, balanced: bool, phase: bool) -> str:
    volts = tidy(V, "V")
    if balanced:
        factor, symbol = (
            ("3", "V·I with the phase voltage") if phase else ("√3", "V·I with the line voltage")
        )
        product = f"{factor}·{volts}·{tidy(amperes[0], 'A', 4)}"
        return f"S = {factor}·{symbol} = {product} = {quantity(S, 'VA')}"
    across = volts if phase else f"{volts}/√3"
    currents = " + ".join(tidy(i, "A", 4) for i in amperes)
    return f"S = V·(I L1 + I L2 + I L3) = {across} × ({currents}) = {quantity(S, 'VA')}"


def _cross_connected(
    whole: Circuit, level: Level
) -> tuple[list[str], Numbers, dict[str, Numbers], list[str]]:
    """Go from cross-connected watts to Q, and with S or P to the rest."""
    result = whole.result
    Q, P = abs(result.first.true.imag), result.first.true.real
    single, balanced = len(result.readings) == 1, _is_balanced(whole)
    S = math.hypot(P, Q)
    factors = {"√3 left out": 1 / ROOT3, "3 in place of √3": ROOT3}
    if not single:
        factors = {"not divided by √3": ROOT3, "divided by 3 in place of √3": 1 / ROOT3}
    slips = {name: {"Q": factor * Q} for name, factor in factors.items()}
    V, _ = _volts(result)
    amperes = [abs(i) for i in result.first.line_currents.tolist()]
    formula = formula_text(result.measurement.total.formula if result.measurement.total else "")
    steps = [f"Q = {formula}, its size: {quantity(Q, 'var')}"]
    if balanced:
        for name, factor in factors.items():
            slips[name] |= _rest(S, factor * Q)
        wrong = ROOT3 * S
        slips["3 where line voltages ask for √3"] = {"S": wrong} | _rest(wrong, Q)
        slips["V·I taken for the whole"] = {"S": S / ROOT3} | _rest(S / ROOT3, Q)
        slips["P = S − Q"] = {"P": S - Q, "cos φ": (S - Q) / S}
        slips["power factor = Q/S"] = {"cos φ": Q / S}
        steps.append(_apparent_step(V, amperes, S, balanced=True, phase=False))
        steps.append(f"P = √(S² − Q²) = {quantity(P, 'W')}")
        asked = ["Q", "P", "cos φ"] if level == 1 else ["Q", "S", "P", "cos φ"]
    else:
        for name, factor in factors.items():
            wrong = math.hypot(P, factor * Q)
            slips[name] |= {"S": wrong, "cos φ": P / wrong}
        slips["P and Q added without their right angle"] = {"S": P + Q, "cos φ": P / (P + Q)}
        slips["power factor = Q/S"] = {"cos φ": Q / S}
        steps.append(f"S = √(P² + Q²) = {quantity(S, 'VA')}")
        asked = ["Q", "S", "cos φ"]
    steps.append(f"power factor = P/S = {number(P / S)}")
    return asked, {"P": P, "Q": Q, "S": S, "cos φ": P / S}, slips, steps


def _rest(S: float, Q: float) -> Numbers:
    if S <= Q:
        return {}
    P = math.sqrt(S**2 - Q**2)
    return {"P": P, "cos φ": P / S}

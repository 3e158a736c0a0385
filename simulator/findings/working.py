"""The working of an inference: its steps as one writes them on the board, and what they assume."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.findings.balanced import ROOT3, BalancedLoad
from simulator.findings.reason import amount
from simulator.formatting import format_impedance

if TYPE_CHECKING:
    from simulator.findings.inference import Given, Inference

_PASSING = "Passing these checks proves no wiring right: wrong connections may pass them all."
# derived in the design pages' table of wrong connections
_PASSING_TWO = (
    "For example, where 1571 W and 3971 W would be right (400 V, 10 A), wrongly connected "
    "wattmeters may read 2400 W and 3971 W: they pass, and are 15 % too high. Only each voltage's "
    "angle to its current shows it."
)


def steps(inference: Inference) -> list[str]:
    """Write the working, one step per line.

    Parameters
    ----------
    inference : Inference
        What follows from readings.

    Returns
    -------
    list of str
        Formulas with numbers and units; the last one says why it stops, if it does.
    """
    two = len(inference.readings) == 2
    lines = [*_settling(inference), _total(inference)]
    load = inference.load
    if load is not None and load.apparent:
        lines += _two_angle(inference, load) if two else _neutral_angle(inference, load)
        lines += _impedance(inference, load)
    return lines if inference.refused is None else [*lines, inference.refused]


def assumes(inference: Inference) -> list[str]:
    """List the conditions that the steps assume.

    Parameters
    ----------
    inference : Inference
        What follows from readings.

    Returns
    -------
    list of str
        Each with the step that assumes it in front.
    """
    given = inference.given
    found = _total_assumes(inference)
    if inference.load is not None:
        angle = "Q, φ and power factor" if len(inference.readings) == 2 else "power factor"
        found += [
            f"{angle}: a balanced load",
            f"{angle}: symmetrical sinusoidal voltages",
        ]
        if len(inference.readings) == 2:
            found.append(f"Q, φ and lag or lead: the sequence {_sequence(given)}")
    minus = [name for name, watts in inference.readings.items() if watts < 0]
    if minus and not inference.settled and inference.active is not None:
        whose = " and ".join(minus)
        turned = ""
        if len(minus) == 1 and not inference.hypotheses and len(inference.readings) > 1:
            other = inference.active - 2 * inference.readings[whose]
            turned = f" (if one of {whose} is, P = {amount(other, 'W')})"
        found.append(f"P: the minus of {whose} is real, no circuit is reversed{turned}")
    if inference.settled and inference.indicated >= 0:
        found.append("P: power flows to the load")
    if inference.star is not None:
        found.append("Z: V from line to line, I in a line, both rms; series form")
    if given.power_factor is not None and inference.load is not None:
        found.append("Q and Z: the power factor is the one given, not one that follows from watts")
    return found


def notes(inference: Inference) -> list[str]:
    """List what a reader must know beside the conclusions.

    Parameters
    ----------
    inference : Inference
        What follows from readings.

    Returns
    -------
    list of str
        Sentences.
    """
    found = []
    given, load = inference.given, inference.load
    if inference.checks and all(check.holds for check in inference.checks):
        found.append(_PASSING)
        if len(inference.readings) == 2:
            found.append(_PASSING_TWO)
    if load is not None and load.active < 0:
        found.append(
            "Power flows back to the supply, or both wattmeters are connected the other way round: "
            "lag, lead and an impedance belong to a load that takes power."
        )
    if load is not None and load.sense and _within(given, list(inference.readings.values())):
        found.append(
            f"The readings differ by less than {100 * given.tolerance:g} %: lag cannot be told "
            "from lead."
        )
    if load is not None and load.apparent and inference.voltage is None:
        found.append("The impedance needs the line voltage or a line current.")
    return found


def settle_by(inference: Inference) -> str | None:
    """Say how to settle a doubtful sign.

    Parameters
    ----------
    inference : Inference
        What follows from readings.

    Returns
    -------
    str or None
        The measurement that settles it; None if there is no doubt left.
    """
    if not inference.hypotheses or inference.settled:
        return None
    given = inference.given
    left = [h for h in inference.hypotheses if h.fits is not False]
    if not left:
        return None
    apparent, known = [h.load.apparent for h in left], given.voltage or given.current
    if given.equal(min(apparent), max(apparent)):
        parts = ["No ammeter settles it."]
    elif known is None:
        parts = ["Voltmeter and ammeter: measure the line voltage and a line current."]
    else:
        meter, unit = ("Ammeter", "A") if given.voltage else ("Voltmeter", "V")
        near = [
            f"near {amount(h.load.apparent / (ROOT3 * known), unit)}, {h.description}" for h in left
        ]
        parts = [f"{meter}: {'; '.join(near)}."]
    if len({math.prod(h.readings.values()) > 0 for h in left}) == 2:
        low = min(given.readings, key=lambda name: abs(given.readings[name]))
        target = given.meter_lines[1 - list(given.readings).index(low)]
        parts.append(
            f"Lead test: move the voltage lead of {low} from {given.common} to {target}; if its "
            "reading keeps its sign, add the two magnitudes, if it changes sign, subtract the low "
            "one."
        )
    if min(h.load.active for h in left) < 0:
        parts.append("Power that flows back: trace the marked terminals of both wattmeters.")
    return " ".join(parts)


def _sequence(given: Given) -> str:
    return "-".join(given.lines[:: given.sequence])


def _within(given: Given, watts: list[float]) -> bool:
    return len(watts) == 2 and given.equal(watts[0], watts[1])


def _settling(inference: Inference) -> list[str]:
    """Tell how voltage and current decide between the hypotheses."""
    V, I = inference.given.voltage, inference.given.current
    if not inference.settled or V is None or I is None:
        return []
    lines = [
        f"If {h.description}: I = S/(√3·V) = {amount(h.load.apparent, 'VA')}/"
        f"(√3·{amount(V, 'V')}) = {amount(h.current or 0.0, 'A')}"
        for h in inference.hypotheses
    ]
    chosen = next(h for h in inference.hypotheses if h.readings == inference.readings)
    return [*lines, f"The line current is {amount(I, 'A')}: {chosen.description}"]


def _total(inference: Inference) -> str:
    names, watts = list(inference.readings), list(inference.readings.values())
    total = amount(inference.indicated, "W")
    symbol = "P" if inference.active is not None else "indicated"
    if len(names) == 1:
        return f"{symbol} = 3·{names[0]} = 3·{_signed(watts[0], 'W')} = {total}"
    numbers = " + ".join(_signed(w, "W") for w in watts)
    return f"{symbol} = {' + '.join(names)} = {numbers} = {total}"


def _total_assumes(inference: Inference) -> list[str]:
    given, names = inference.given, list(inference.readings)
    if inference.active is None:
        return []
    if len(names) == 1:
        return [
            "P: a balanced load",
            "P: a voltage circuit to the neutral, or to an artificial neutral of equal branches",
        ]
    if len(names) == 3:
        return ["P: voltage circuits to one common point; on four wires to the neutral"]
    places = "; ".join(
        f"{name} in {line}, its voltage circuit from {line} to {given.common}"
        for name, line in zip(names, given.meter_lines, strict=True)
    )
    return ["P: three wires, or no neutral current", f"P: {places}"]


def _signed(value: float, unit: str) -> str:
    text = amount(value, unit)
    return f"({text})" if value < 0 else text


def _plain(value: float | None) -> str:
    return f"{value:.4g}".replace("-", "−")


def _two_angle(inference: Inference, load: BalancedLoad) -> list[str]:
    given = inference.given
    ordered = list(inference.readings)[:: given.sequence]
    first, second = ordered
    follower = given.meter_lines[:: given.sequence][1]
    place = f"{follower} follows the common line {given.common} in the sequence {_sequence(given)}"
    numbers = " − ".join(_signed(inference.readings[name], "W") for name in (second, first))
    if load.active:
        ratio = f"{_signed(load.reactive, 'var')}/{_signed(load.active, 'W')}"
        tangent = f"tan φ = Q/P = {ratio} = {_plain(load.reactive / load.active)}, φ"
    else:
        tangent = "P = 0, φ"
    rule = {
        "lag": f"lag: the larger reading, {second}, is in the line that follows the common line",
        "lead": f"lead: the larger reading, {first}, is in the other line",
        None: "power flows back" if load.active < 0 else "neither lag nor lead: equal readings",
    }[load.sense]
    squares = f"√(({amount(load.active, 'W')})² + ({amount(load.reactive, 'var')})²)"
    return [
        f"{place}; {second} is in it",
        f"Q = √3·({second} − {first}) = √3·({numbers}) = {amount(load.reactive, 'var')}",
        f"{tangent} = {_plain(load.phi)}°",
        f"power factor = cos φ = {_plain(load.power_factor)}, {rule}",
        f"S = √(P² + Q²) = {squares} = {amount(load.apparent, 'VA')}",
    ]


def _neutral_angle(inference: Inference, load: BalancedLoad) -> list[str]:
    given = inference.given
    phi, factor = _plain(load.phi), _plain(load.power_factor)
    if given.power_factor is not None:
        S = amount(load.apparent, "VA")
        return [
            f"S = P/power factor = {amount(load.active, 'W')}/{factor} = {S}",
            f"φ = {phi}°, Q = P·tan φ = {amount(load.reactive, 'var')}",
        ]
    V, I = given.voltage or 0.0, given.current or 0.0  # without a power factor they made the load
    product = f"√3·{amount(V, 'V')}·{amount(I, 'A')}"
    angle = f"φ = ±{phi}°: watts to a neutral do not tell lag from lead"
    return [
        f"S = √3·V·I = {product} = {amount(ROOT3 * V * I, 'VA')}",
        f"power factor = P/S = {factor}",
        "φ = 0" if load.sense_known else angle,
    ]


def _impedance(inference: Inference, load: BalancedLoad) -> list[str]:
    given, V, I, Z = inference.given, inference.voltage, inference.current, inference.star
    if V is None or I is None:
        return []
    S, volts, amperes = amount(load.apparent, "VA"), amount(V, "V"), amount(I, "A")
    lines = []
    if given.current is None:
        lines.append(f"I = S/(√3·V) = {S}/(√3·{volts}) = {amperes}")
    if given.voltage is None:
        lines.append(f"V = S/(√3·I) = {S}/(√3·{amperes}) = {volts}")
    if Z is not None:
        star, delta = (
            f"{amount(abs(z), 'ohm')}, at φ: {impedance_text(z, load)}" for z in (Z, 3 * Z)
        )
        lines.append(f"|Z| in star = V/(√3·I) = {volts}/(√3·{amperes}) = {star}")
        lines.append(f"|Z| in delta = 3·|Z| in star = {delta}")
    return lines


def impedance_text(Z: complex, load: BalancedLoad) -> str:
    """Write an impedance whose reactance may have an unknown sign.

    Parameters
    ----------
    Z : complex
        The impedance [ohm].
    load : BalancedLoad
        The load it belongs to.

    Returns
    -------
    str
        For example "18.48+13.86j ohm", or "18.48±13.86j ohm".
    """
    text = format_impedance(Z)
    if load.sense_known:
        return text
    return text.replace("+", "±") if "+" in text else f"±{text}"

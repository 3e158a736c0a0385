"""Supplies and loads with tidy numbers: as a scenario's tables, and in the words of a problem."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from simulator.reports.practice.problem import number, tidy

if TYPE_CHECKING:
    from random import Random

    from simulator.reports.practice.problem import Level

Tables = dict[str, Any]
Given = Literal["current", "star", "delta", "neutral", "isolated"]

LINES = ("L1", "L2", "L3")
ROOT3 = math.sqrt(3)
LINE_VOLTS = (200, 220, 380, 400, 440, 480, 500, 600, 690)
PHASE_VOLTS = (110, 120, 127, 200, 220, 230, 240, 250, 277)
AMPERES = (2, 2.5, 4, 5, 6, 8, 10, 12, 15, 16, 20, 25, 30, 40)
# Angles of load whose cosines one knows, and those of power factors of one or two digits.
KNOWN = (0.0, 30.0, 45.0, 60.0)
USUAL = tuple(math.degrees(math.acos(x)) for x in (0.9, 0.85, 0.8, 0.75, 0.7, 0.6))
LOW = tuple(math.degrees(math.acos(x)) for x in (0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45))
# Angles of impedances that are told as such.
ROUND = (15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 65.0, 70.0, 75.0, 80.0)
RESISTIVE = ("oven", "kiln", "boiler", "drying rack", "heater battery")
INDUCTIVE = ("pump", "fan", "band saw", "mixer", "press", "hoist", "conveyor", "mill")


@dataclass(frozen=True)
class Installation:
    """A supply and a load.

    Attributes
    ----------
    tables : dict
        Tables ``supply`` and ``load`` of a scenario file.
    told : tuple of str
        The same in words.
    given : str
        How the load is told: by its current, or by impedances in star, in delta, in star to the
        neutral, or in an isolated star that is not balanced.
    phi : float or None
        Angle of a balanced load, positive for lag [deg]; None where the branches differ.
    """

    tables: Tables
    told: tuple[str, ...]
    given: Given
    phi: float | None = None


def balanced(shape: Random, random: Random, wires: int, level: Level) -> Installation:
    """Draw a balanced load.

    Parameters
    ----------
    shape, random : Random
        Where the kind of circuit and its numbers come from.
    wires : int
        3 or 4.
    level : int
        1: told by its current, lagging; 2: leading or of low power factor, other sequences; 3:
        told by its impedance.

    Returns
    -------
    Installation
        Supply and load.
    """
    supply, told, volts = _supply(shape, random, wires, level)
    angles = (KNOWN + USUAL, KNOWN[1:] + USUAL + LOW, ROUND)[level - 1]
    phi = random.choice(angles) * (1 if level == 1 else shape.choice((1, 1, -1)))
    thing = _thing(random, phi)
    if level < 3:
        current = random.choice(AMPERES)
        Z = volts / (ROOT3 * current)
        words = f"The balanced load, {thing}, takes {tidy(current, 'A')} in each line at "
        return Installation(
            supply | _star(wires, [impedance_text(Z, phi)] * 3),
            (told, f"{words}{factor_words(phi)}."),
            "current",
            phi,
        )
    if wires == 4:
        Z = _tidy_ohms(random, volts / ROOT3)
        words = f"The balanced load, {thing}, is a star to the neutral, each branch "
        given: Given = "neutral"
        load = _star(wires, [impedance_text(Z, phi)] * 3)
    else:
        given = shape.choice(("star", "delta"))
        Z = _tidy_ohms(random, volts)
        words = f"The balanced load, {thing}, is connected in {given}, each branch "
        load = {"load": [{"name": "load", "connection": given, "each": impedance_text(Z, phi)}]}
    return Installation(supply | load, (told, f"{words}{ohms(Z, phi)}."), given, phi)


def unbalanced(shape: Random, random: Random, wires: int, level: Level) -> Installation:
    """Draw a load that is not balanced.

    Parameters
    ----------
    shape, random : Random
        Where the kind of circuit and its numbers come from.
    wires : int
        3: a delta (level 2) or an isolated star of three resistances or impedances (level 3); 4: a
        star to the neutral.
    level : int
        1: resistive; higher: with angles, and other sequences.

    Returns
    -------
    Installation
        Supply and load.
    """
    supply, told, volts = _supply(shape, random, wires, level)
    angles = [0.0] * 3
    if level > 1:
        signs = shape.choice([(0, 1, 1), (1, 0, 1), (1, 1, 0), (0, 0, 1), (0, 1, -1), (1, -1, 1)])
        angles = [sign * random.choice(ROUND[:10]) for sign in signs]
    given: Given = "neutral" if wires == 4 else "delta" if level < 3 else "isolated"
    across = volts if wires == 3 else volts / ROOT3
    sizes = _sizes(random, across)
    if given == "delta":
        names = ("L1-L2", "L2-L3", "L3-L1")
        values = {k: impedance_text(Z, phi) for k, Z, phi in zip(names, sizes, angles, strict=True)}
        load: Tables = {"load": [{"name": "load", "connection": "delta", **values}]}
        words = "Three loads are connected in delta: "
    else:
        load = _star(wires, [impedance_text(*branch) for branch in zip(sizes, angles, strict=True)])
        names = LINES
        where = (
            "from the lines to the neutral" if wires == 4 else "in star, its star point isolated"
        )
        words = f"Three loads are connected {where}: "
    named = (
        f"{k}: {ohms(Z, phi)}"
        for k, Z, phi in zip((n.replace("-", " to ") for n in names), sizes, angles, strict=True)
    )
    return Installation(supply | load, (told, words + "; ".join(named) + "."), given)


def load_of_power(
    volts: float, active: float, reactive: float, sequence: int = 1, wires: int = 3
) -> Installation:
    """Build a balanced load that takes given powers; its words do not tell them.

    Parameters
    ----------
    volts : float
        Voltage from line to line [V].
    active, reactive : float
        What it takes [W, var].
    sequence : {1, -1}, optional
        Whether the lines peak in label order.
    wires : int, optional
        3 or 4.

    Returns
    -------
    Installation
        Supply and load.
    """
    order = "-".join(LINES[::sequence])
    S = complex(active, reactive)
    Z = impedance_text(volts**2 / abs(S), math.degrees(math.atan2(reactive, active)))
    supply, words = _table(wires, volts, order)
    told = (words,)
    phi = math.degrees(math.atan2(reactive, active))
    return Installation(supply | _star(wires, [Z] * 3), told, "current", phi)


def factor_words(phi: float) -> str:
    """Write a power factor as a problem tells it.

    Parameters
    ----------
    phi : float
        Angle of the load, positive for lag [deg].

    Returns
    -------
    str
        For example "power factor 0.8 lag".
    """
    if phi == 0:
        return "power factor 1"
    sense = "lag" if phi > 0 else "lead"
    return f"power factor {number(math.cos(math.radians(phi)))} {sense}"


def impedance_text(Z: float, phi: float) -> str:
    """Write an impedance as a scenario file does, with every digit.

    Parameters
    ----------
    Z : float
        Its size [ohm].
    phi : float
        Its angle [deg].

    Returns
    -------
    str
        For example "23.0 ohm @ 30.0 deg".
    """
    return f"{Z!r} ohm @ {phi!r} deg"


def ohms(Z: float, phi: float) -> str:
    """Write an impedance as a problem tells it.

    Parameters
    ----------
    Z : float
        Its size [ohm].
    phi : float
        Its angle [deg].

    Returns
    -------
    str
        For example "23 Ω ∠30°".
    """
    return tidy(Z, "ohm") if phi == 0 else f"{tidy(Z, 'ohm')} ∠{number(phi)}°"


def _supply(shape: Random, random: Random, wires: int, level: Level) -> tuple[Tables, str, float]:
    """Draw a symmetrical supply; give its table, its words, and its voltage from line to line."""
    order = LINES if level == 1 else shape.choice((LINES, LINES, LINES[::-1]))
    volts = float(random.choice(LINE_VOLTS if wires == 3 else PHASE_VOLTS))
    volts *= 1 if wires == 3 else ROOT3
    return *_table(wires, volts, "-".join(order)), volts


def _table(wires: int, volts: float, sequence: str) -> tuple[Tables, str]:
    """Write a supply's table, and its words."""
    table: Tables = {"wires": wires, "sequence": sequence}
    if wires == 3:
        table["voltage"] = f"{volts!r} V"
        words = f"Three wires, {tidy(volts, 'V')} from line to line"
    else:
        table["sequence_voltages"] = {"positive": f"{volts / ROOT3!r} V"}
        words = f"Four wires, {tidy(volts / ROOT3, 'V')} from each line to the neutral"
    return {"supply": table}, f"{words}, sequence {sequence}."


def _star(wires: int, branches: list[str]) -> Tables:
    point = "neutral" if wires == 4 else "isolated"
    branch = dict(zip(LINES, branches, strict=True))
    return {"load": [{"name": "load", "connection": "star", "star_point": point, **branch}]}


def _thing(random: Random, phi: float) -> str:
    thing = random.choice(RESISTIVE if phi == 0 else INDUCTIVE)
    named = f"{'an' if thing[0] in 'aeiou' else 'a'} {thing}"
    return named if phi >= 0 else f"{named} with its capacitors left on"


def _sizes(random: Random, volts: float) -> list[float]:
    """Draw three different impedances, none of them more than four times another."""
    sizes = [0.0]
    while len(set(sizes)) < 3 or max(sizes) > 4 * min(sizes):
        sizes = [_tidy_ohms(random, volts) for _ in LINES]
    return sizes


def _tidy_ohms(random: Random, volts: float) -> float:
    """Draw an impedance across which a voltage drives a tidy current, and that is tidy itself."""
    return random.choice(
        [volts / I for I in AMPERES if math.isclose(round(volts / I, 1), volts / I)]
    )

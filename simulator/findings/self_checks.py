"""What a line voltage and a line current say about a set of readings on a balanced load."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.findings.balanced import ROOT3, BalancedLoad, two_wattmeters

if TYPE_CHECKING:
    from simulator.findings.inference import Given


@dataclass(frozen=True)
class Check:
    """A relation that must hold on every balanced load.

    Attributes
    ----------
    relation : str
        The relation as a formula.
    left, right : float
        Its two sides.
    unit : str
        Their unit.
    holds : bool
        Whether it holds within the tolerance.
    """

    relation: str
    left: float
    right: float
    unit: str
    holds: bool


@dataclass(frozen=True)
class Hypothesis:
    """One way to count readings whose sign is in doubt.

    Attributes
    ----------
    description : str
        What it says.
    readings : dict of str to float
        The readings as it counts them [W].
    load : BalancedLoad
        The load they would mean.
    current : float or None
        The line current it needs [A]; None without a line voltage.
    fits : bool or None
        Whether voltage and current agree with it; None without both.
    """

    description: str
    readings: dict[str, float]
    load: BalancedLoad
    current: float | None
    fits: bool | None


def self_checks(load: BalancedLoad, given: Given) -> tuple[Check, ...]:
    """Compare a load with the line voltage and the line current.

    Parameters
    ----------
    load : BalancedLoad
        What the readings mean.
    given : Given
        Voltage, current and tolerance.

    Returns
    -------
    tuple of Check
        P ≤ √3·V·I; for two readings the identity V·I = √(4/3·(W1² + W2² − W1·W2)) = S/√3, and its
        other face, the power factor by the formula against P/(√3·V·I). Empty without V and I.
    """
    if given.voltage is None or given.current is None:
        return ()
    VI = given.voltage * given.current
    active, limit = abs(load.active), ROOT3 * VI
    possible = active <= limit or given.equal(active, limit)
    checks = [Check("P ≤ √3·V·I", active, limit, "W", possible)]
    if len(given.readings) == 2:
        made = load.apparent / ROOT3
        identity = "V·I = √(4/3·(W1² + W2² − W1·W2))"
        checks.append(Check(identity, VI, made, "VA", given.equal(VI, made)))
    factor = given.power_factor.value if given.power_factor else load.power_factor
    if factor is not None and load.sense_known:
        measured = load.active / limit
        relation = "P/(√3·V·I) = power factor"
        checks.append(Check(relation, measured, factor, "", given.equal(measured, factor)))
    return tuple(checks)


def count_readings(given: Given) -> tuple[Hypothesis, ...]:
    """Count two readings as they stand, and the other ways that their signs allow.

    Parameters
    ----------
    given : Given
        What was read.

    Returns
    -------
    tuple of Hypothesis
        As they stand; if that makes power flow back, both the other way round; and with the other
        sign between them so that the load takes power. V and I decide between equal and opposite
        signs by V·I = √(4/3·(W1² + W2² − W1·W2)), derived, and see nothing else.
    """
    read = given.readings
    minus = [name for name, watts in read.items() if watts < 0]
    low, high = sorted(read, key=lambda name: abs(read[name]))
    opposite = math.prod(read.values()) < 0
    other = {
        name: -abs(read[name]) if name == low and not opposite else abs(read[name]) for name in read
    }
    changed = high if read[high] < 0 else low
    counts = f"a circuit of {changed} is reversed and the reading counts positive"
    if not minus:
        counts = f"{low} counts negative, its circuit reversed to read it and the minus lost"
    ways = {"the readings count as they stand": read}
    if sum(read.values()) < 0:
        turned = {name: -watts for name, watts in read.items()}
        ways = {
            "the readings count as they stand and power flows back": read,
            "a circuit of each wattmeter is reversed and both count the other way round": turned,
        }
    elif minus:
        ways = {f"the minus of {minus[0]} is real and the power factor is below 0.5": read}
    if other not in ways.values():
        ways[counts] = other
    return tuple(_hypothesis(given, text, readings) for text, readings in ways.items())


def _hypothesis(given: Given, description: str, readings: dict[str, float]) -> Hypothesis:
    before, after = readings.values()
    load = two_wattmeters(before, after, given.sequence)
    current = None if given.voltage is None else load.apparent / (ROOT3 * given.voltage)
    fits = None
    if given.current is not None and current is not None:
        fits = given.equal(given.current, current)
    return Hypothesis(description, readings, load, current, fits)

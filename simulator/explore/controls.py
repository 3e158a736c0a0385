"""What can be moved: each control with all its stops, so that whatever else is asked is refused."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.explore.base import SAME_ANGLE, phase_of
from simulator.formatting import format_impedance
from simulator.metering.catalogue import METHODS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from simulator.explore.base import Base

OWN = "as in the file"
"""The method of a file that writes its wattmeters out."""
NO_NEUTRAL = "there is no neutral on three wires"


@dataclass(frozen=True)
class Stop:
    """A place at which a control can stand.

    Attributes
    ----------
    value : str
        As the address says it.
    text : str
        As the page says it.
    number : float
        What it stands for: percent, degrees, ohms.
    group : str
        What it has in common with its neighbours.
    """

    value: str
    text: str
    number: float = math.nan
    group: str = ""


@dataclass(frozen=True)
class Control:
    """Something that can be moved.

    Attributes
    ----------
    name : str
        Its name in the address.
    group, label : str
        The part of the circuit it belongs to, and what it is.
    stops : tuple of Stop
        Where it can stand.
    start : str
        Value of the stop at which it stands when nothing has been moved.
    slides : bool
        Whether its stops lie on a scale.
    why_not : str
        Why it cannot be moved in this situation; empty if it can.
    """

    name: str
    group: str
    label: str
    stops: tuple[Stop, ...]
    start: str
    slides: bool = True
    why_not: str = ""

    def stop(self, value: str) -> Stop | None:
        """Find a stop.

        Parameters
        ----------
        value : str
            As the address says it.

        Returns
        -------
        Stop or None
            The stop; None if it has no such stop.
        """
        return next((stop for stop in self.stops if stop.value == value), None)


def controls_of(base: Base) -> dict[str, Control]:
    """List what can be moved.

    Parameters
    ----------
    base : Base
        What the page starts from.

    Returns
    -------
    dict of str to Control
        By name, in the order of the circuit: supply, load, meters.
    """
    every = [*_supply(base), *_load(base), *_meters(base)]
    return {control.name: control for control in every}


def _supply(base: Base) -> Iterable[Control]:
    lines, wires = base.conductors.lines, base.conductors.wires
    yield Control(
        "wires",
        "supply",
        "Wires",
        (Stop("3", "three", 3), Stop("4", "four, with a neutral", 4)),
        str(wires),
        slides=False,
        why_not="the file says how many there are" if base.is_file else "",
    )
    orders = ["-".join(lines), "-".join(reversed(lines))]
    yield Control(
        "sequence",
        "supply",
        "Sequence",
        tuple(Stop(order, order) for order in orders),
        orders[base.supply.sequence < 0],
        slides=False,
    )
    for k, line in enumerate(lines, 1):
        yield Control(f"U{k}", "supply", f"Voltage of {line}", _percents(range(-20, 21)), "0")
    stops, start = _neutral(base.supply.neutral_impedance)
    fixed = NO_NEUTRAL if base.is_file and wires == 3 else ""
    yield Control("Nsupply", "supply", "Neutral, before the meters", stops, start, why_not=fixed)


def _load(base: Base) -> Iterable[Control]:
    yield _power_factor(base)
    lines = base.conductors.lines
    branches = [branch.name for load in base.loads for branch in load.branches]
    for k, line in enumerate(lines):
        names = dict.fromkeys(name for name in branches if phase_of(name, lines) == k)
        yield Control(
            f"I{k + 1}",
            "load",
            f"Load on {' and '.join(names) or line}",
            _percents(range(-100, 101, 5)),
            "0",
            why_not="" if names else _no_branch(base, line),
        )
    number = base.neutral_load
    given = 0j
    if number is not None and base.conductors.neutral:
        given = base.loads[number].leads.get(base.conductors.neutral, 0j)
    stops, start = _neutral(given)
    fixed = ""
    if base.is_file and base.conductors.wires == 3:
        fixed = NO_NEUTRAL
    elif base.is_file and number is None:
        fixed = "it needs exactly one load that is connected to the neutral"
    yield Control("Nload", "load", "Neutral, behind the meters", stops, start, why_not=fixed)


def _no_branch(base: Base, line: str) -> str:
    if not any(load.branches for load in base.loads):
        return (
            "a motor's currents follow from its own circuit" if base.loads else "there is no load"
        )
    return f"no load has a branch that begins at {line}"


def _meters(base: Base) -> Iterable[Control]:
    own = base.is_file and base.method is None
    stops = [Stop(OWN, OWN)] if own else []
    for name, method in METHODS.items():
        wires = " or ".join(("three", "four")[n - 3] for n in method.wires)
        stops.append(Stop(name, name, group=f"for {wires} wires"))
    start = OWN if own else base.method or "two wattmeters"
    yield Control("method", "meters", "Method", tuple(stops), start, slides=False)
    yield Control(
        "line",
        "meters",
        "Line",
        tuple(Stop(line, line) for line in base.conductors.lines),
        _line(base),
        slides=False,
    )
    for k in range(1, 4):
        percents = (-50, -25, -20, -10, -5, -2, -1, 0, 1, 2, 5, 10, 20, 25, 50, 100)
        yield Control(
            f"coil{k}", "meters", f"Ohms in voltage circuit {k}", _percents(percents), "0"
        )


def _line(base: Base) -> str:
    """Find the line that the file's method has chosen."""
    given = base.document.get("method", {})
    line = given.get("common") or given.get("line")
    if line:
        return str(line)
    options = METHODS[base.method].options if base.method else ("common",)
    return base.conductors.lines[0 if "line" in options else 1]


def _percents(values: Iterable[int]) -> tuple[Stop, ...]:
    return tuple(Stop(f"{v}", f"{v:+d} %".replace("-", "−") if v else "0 %", v) for v in values)


def _neutral(given: complex) -> tuple[tuple[Stop, ...], str]:
    """List the stops of a neutral from closed to open, with the file's own value among them."""
    ohms = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100)
    stops = [
        Stop("closed", "closed", 0),
        *(Stop(f"{z:g}", f"{z:g} Ω", z) for z in ohms),
        Stop("open", "open", math.inf),
    ]
    size = math.inf if math.isinf(given.real) else abs(given)
    same = next((s for s in stops if s.number == size and (given.imag == 0 or size == 0)), None)
    if same is None:
        same = Stop("file", format_impedance(given).replace("ohm", "Ω"), size)
        stops.append(same)
    return tuple(sorted(stops, key=lambda s: s.number)), same.value


# Angles one meets in every lesson, whose power factor is no round number.
_NOTABLE = {75.0: "0.259", 45.0: "0.707", 30.0: "0.866", 15.0: "0.966"}


def _power_factor(base: Base) -> Control:
    """Give the angle of all branches, or by how much they are turned if they have several."""
    if base.angles:
        return _turn(base) if base.angle is None else _common_angle(base.angle)
    stop = Stop("file", "as in the file")
    why = "no load has a branch that can be turned"
    return Control("pf", "load", "Power factor", (stop,), stop.value, why_not=why)


def _turn(base: Base) -> Control:
    low = min(math.ceil(-90 - min(base.angles)), 0)
    high = max(math.floor(90 - max(base.angles)), 0)
    stops = tuple(Stop(f"{v}", _turned(v), v) for v in range(low, high + 1))
    why = "" if len(stops) > 1 else "no load branch can be turned without becoming a source"
    return Control("turn", "load", "All angles turned", stops, "0", why_not=why)


def _common_angle(angle: float) -> Control:
    hundredths = {math.degrees(math.acos(k / 100)): f"{k / 100:g}" for k in range(101)}
    stops: dict[float, Stop] = {}
    for phi, text in (hundredths | _NOTABLE).items():
        for sense, sign in (("lag", 1), ("lead", -1)):
            value = text if phi == 0 else text + sense
            stops[sign * phi] = Stop(value, _pf_text(text, sense, phi), sign * phi)
    start = next((phi for phi in stops if abs(phi - angle) <= SAME_ANGLE), angle)
    if start not in stops:
        text, sense = f"{math.cos(math.radians(angle)):.4f}", "lag" if angle > 0 else "lead"
        stops[start] = Stop(text + sense, _pf_text(text, sense, abs(angle)), angle)
    in_order = tuple(stops[phi] for phi in sorted(stops))
    return Control("pf", "load", "Power factor", in_order, stops[start].value)


def _pf_text(text: str, sense: str, phi: float) -> str:
    return "1, φ 0°" if phi == 0 else f"{text} {sense}, φ {phi:.1f}°".replace(".0°", "°")


def _turned(degrees: int) -> str:
    if degrees == 0:
        return "as in the file"
    return f"{abs(degrees)}° more {'lagging' if degrees > 0 else 'leading'}"

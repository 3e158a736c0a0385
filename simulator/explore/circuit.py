"""Supply and loads as the controls have left them, in the words of a scenario file."""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING

from simulator.explore.base import phase_of
from simulator.formatting import format_phasor

if TYPE_CHECKING:
    from simulator.explore.base import Base, Tables
    from simulator.explore.controls import Control
    from simulator.explore.state import State
    from simulator.installation.loads import Load

DIGITS = 12
"""Significant digits of what is written: a round current comes out round."""
_VOLTAGES = ("U1", "U2", "U3")
_LOADS = ("I1", "I2", "I3")


def changed_supply(base: Base, controls: dict[str, Control], state: State) -> Tables:
    """Write the supply.

    Parameters
    ----------
    base : Base
        What the page started from.
    controls : dict of str to Control
        What can be moved.
    state : State
        Where the controls stand.

    Returns
    -------
    dict
        The table ``[supply]``.
    """
    table = dict(base.document["supply"])
    labels, lines = base.labels, base.conductors.lines
    turned = state.moves("sequence")
    if state.moves(*_VOLTAGES) or (turned and "phase_voltages" in table):
        emfs = base.supply.emfs[:1] + base.supply.emfs[:0:-1] if turned else base.supply.emfs
        scales = [1 + state.number(controls[name]) / 100 for name in _VOLTAGES]
        table = {
            key: value
            for key, value in table.items()
            if key not in ("voltage", "sequence_voltages", "sequence")
        }
        table["phase_voltages"] = {
            label: format_phasor(emf * scale, "V", DIGITS)
            for label, emf, scale in zip(labels, emfs, scales, strict=False)
        }
    elif turned:
        table["sequence"] = "-".join(lines[::-1] if base.supply.sequence > 0 else lines)
    if state.moves("Nsupply") and base.conductors.neutral:
        table["neutral_impedance"] = _ohms(state.number(controls["Nsupply"]))
    return table


def changed_loads(base: Base, controls: dict[str, Control], state: State) -> list[Tables]:
    """Write the loads.

    Parameters
    ----------
    base : Base
        What the page started from.
    controls : dict of str to Control
        What can be moved.
    state : State
        Where the controls stand.

    Returns
    -------
    list of dict
        The tables ``[[load]]``.
    """
    turn = 0.0
    if state.moves("turn"):
        turn = state.number(controls["turn"])
    elif state.moves("pf") and base.angle is not None:
        turn = state.number(controls["pf"]) - base.angle
    scales = [1 + state.number(controls[name]) / 100 for name in _LOADS]
    # a rating may refer to the supply's nominal voltage, which an unsymmetrical one has not
    written = state.moves("pf", "turn", *_LOADS, *_VOLTAGES)
    tables = []
    for k, (table, load) in enumerate(zip(base.document.get("load", []), base.loads, strict=True)):
        new = _branches(table, load, turn, scales, base) if written and load.branches else table
        if k == base.neutral_load and state.moves("Nload") and base.conductors.neutral:
            new = new | {"neutral_lead": _ohms(state.number(controls["Nload"]))}
        tables.append(new)
    return tables


def _branches(table: Tables, load: Load, turn: float, scales: list[float], base: Base) -> Tables:
    """Write a load branch by branch, each turned by an angle, its current scaled."""
    lines = base.conductors.lines
    own = {branch.name for branch in load.branches}
    kept = {
        key: value
        for key, value in table.items()
        if key not in ("each", "total") and "-".join(reversed(key.split("-"))) not in own
    }
    for branch in load.branches:
        scale = scales[phase_of(branch.name, lines)]
        kept[branch.name] = _impedance(branch.impedance, turn, scale)
    return kept


def _impedance(Z: complex, turn: float, scale: float) -> str:
    if scale == 0 or not cmath.isfinite(Z):
        return "open"
    angle = math.degrees(cmath.phase(Z)) + turn if Z else 0.0
    size = f"{abs(Z) / scale:.{DIGITS}g} ohm"
    return f"{size} @ {angle:.{DIGITS}g} deg" if round(angle, 7) else size


def _ohms(size: float) -> str:
    return "open" if math.isinf(size) else f"{size:g} ohm"

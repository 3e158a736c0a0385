"""Forms in voltages and currents, written as one would on the board."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from simulator.findings.sensing import Form
    from simulator.phasors import FloatArray

_SMALL = 1e-9
_ROOTS = {math.sqrt(3): "√3", 1 / math.sqrt(3): "1/√3", 2 / math.sqrt(3): "2/√3"}


def reduced(form: Form, wires: int) -> Form:
    """Insert the current law of three wires, ``I1 + I2 + I3 = 0``.

    Parameters
    ----------
    form : Form
        Any form whose value does not depend on the reference of the potentials.
    wires : int
        3 or 4; on four wires nothing can be inserted.

    Returns
    -------
    Form
        A form of equal value in which each node meets as few currents as possible.
    """
    if wires == 4:
        return form
    rows = []
    for row in form.K:
        shifted = [row - x for x in (0, *row)]
        rows.append(min(shifted, key=lambda r: (np.count_nonzero(abs(r) > _SMALL), abs(r).sum())))
    return type(form)(form.nodes, np.array(rows))


def write_form(form: Form, neutral: str | None) -> str:
    """Write a form as ``Re(…)``.

    Parameters
    ----------
    form : Form
        The form; its first three nodes are the lines.
    neutral : str or None
        The neutral, in whose name ``I1 + I2 + I3`` is written; None on three wires.

    Returns
    -------
    str
        For example ``Re((V_N − V_P)·I_N*)``; "0" for a form that vanishes.
    """
    by_node, by_current = _by_node(form, neutral), _by_current(form)
    terms = by_node if len(by_node) < len(by_current) else by_current
    if not terms:
        return "0"
    text = terms[0][1] if terms[0][0] > 0 else f"−{terms[0][1]}"
    for sign, term in terms[1:]:
        text += f" {'+' if sign > 0 else '−'} {term}"
    return f"Re({text})" if len(terms) > 1 or terms[0][0] > 0 else f"−Re({terms[0][1]})"


def _by_node(form: Form, neutral: str | None) -> list[tuple[int, str]]:
    """Collect voltages that meet the same combination of currents."""
    groups: list[tuple[FloatArray, FloatArray]] = []  # (row of K, weights of the voltages)
    for k, row in enumerate(form.K):
        if np.all(abs(row) < _SMALL):
            continue
        for first_row, voltages in groups:
            largest = int(abs(first_row).argmax())
            factor = row[largest] / first_row[largest]
            if np.all(abs(row - factor * first_row) < _SMALL):
                voltages[k] = factor
                break
        else:
            voltages = np.zeros(len(form.K))
            voltages[k] = 1
            groups.append((row, voltages))
    return [
        _product(voltages, form.nodes, *_tidy_currents(row, form.nodes[:3], neutral))
        for row, voltages in groups
    ]


def _tidy_currents(
    currents: FloatArray, lines: tuple[str, ...], neutral: str | None
) -> tuple[float, str]:
    """Write a combination of currents with a simple first coefficient; give what was taken out."""
    first = float(currents[int(np.flatnonzero(abs(currents) > _SMALL)[0])])
    scaled = currents / first
    if neutral is not None and np.all(abs(scaled - 1) < _SMALL):
        return first, f"I_{neutral}*"
    if np.count_nonzero(abs(scaled) > _SMALL) == 1:
        return first, f"I_{lines[int(abs(scaled).argmax())]}*"
    return first, f"({write_sum(scaled, [f'I_{line}' for line in lines])})*"


def _by_current(form: Form) -> list[tuple[int, str]]:
    """Collect the voltages that one current meets."""
    terms = []
    for line, column in zip(form.nodes[:3], form.K.T, strict=True):
        if np.any(abs(column) > _SMALL):
            terms.append(_product(column, form.nodes, 1, f"I_{line}*"))
    return terms


def _product(
    voltages: FloatArray, nodes: tuple[str, ...], factor: float, current: str
) -> tuple[int, str]:
    """Write (sum of voltages)·current, with the sign and a common factor in front."""
    voltages = voltages * factor
    used = np.flatnonzero(abs(voltages) > _SMALL)
    common = float(voltages[used[int(abs(voltages[used]).argmin())]])
    if voltages[used[0]] / common < 0:
        common = -common
    sign = -1 if common < 0 else 1
    common *= sign
    if len(used) == 2 and sign < 0:  # −(V_a − V_b) reads better the other way round
        sign = 1
        inner = write_sum(voltages / common, [f"V_{node}" for node in nodes])
    else:
        inner = write_sum(voltages / (sign * common), [f"V_{node}" for node in nodes])
    if len(used) > 1:
        inner = f"({inner})"
    front = "" if abs(common - 1) < _SMALL else f"{_number(common)}·"
    return sign, f"{front}{inner}·{current}"


def write_sum(coefficients: FloatArray, names: list[str]) -> str:
    """Write a weighted sum, positive terms first.

    Parameters
    ----------
    coefficients : ndarray of float
        The weights [1].
    names : list of str
        What they weigh.

    Returns
    -------
    str
        For example ``V_N − V_P``; "0" where all weights vanish.
    """
    pairs = [
        (float(c), name) for c, name in zip(coefficients, names, strict=True) if abs(c) > _SMALL
    ]
    pairs.sort(key=lambda pair: pair[0] < 0)
    text = ""
    for c, name in pairs:
        piece = name if abs(abs(c) - 1) < _SMALL else f"{_number(abs(c))}·{name}"
        if text:
            text += f" {'−' if c < 0 else '+'} {piece}"
        else:
            text = f"−{piece}" if c < 0 else piece
    return text or "0"


def _number(value: float) -> str:
    """Write a positive number, roots of three as such."""
    for root, text in _ROOTS.items():
        if abs(value - root) < _SMALL:
            return text
    return f"{value:.4g}"

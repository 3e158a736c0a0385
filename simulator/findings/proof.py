"""The proof that a total is right, or what remains of it, in lines a trainee can follow."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.findings.error_terms import method_expression
from simulator.findings.expression import write_form, write_sum
from simulator.findings.reason import LOAD_WORDS, SUPPLY_WORDS
from simulator.findings.sensing import (
    direction_sign,
    indicated_form,
    star_weights,
    true_form,
    weigh_currents,
)
from simulator.phasors import angle_deg

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.findings.exactness import Row
    from simulator.metering.meters import Wattmeter
    from simulator.scenario.build import Measurement


def proof_lines(
    measurement: Measurement,
    exactness: Sequence[Row],
    always: bool,  # noqa: FBT001
) -> tuple[str, ...]:
    """Write the total out, insert the current law, and see what cancels and what remains.

    Parameters
    ----------
    measurement : Measurement
        What is measured; it forms a total.
    exactness : sequence of Row
        Its exactness table.
    always : bool
        Whether the total is right for any load on any supply.

    Returns
    -------
    tuple of str
        The lines.
    """
    total, conductors = measurement.total, measurement.conductors
    assert total is not None  # noqa: S101  (the caller has one)
    symbol = "Q" if total.reactive else "P"
    shown = indicated_form(measurement, total)
    true = write_form(true_form(shown.nodes, conductors.neutral), conductors.neutral)
    if total.reactive:
        true = true.replace("Re(", "Im(")
    lines = [_reading_line(meter, conductors.lines) for meter in measurement.wattmeters]
    lines += _star_lines(measurement)
    lines.append(f"T = {total.formula} = {write_form(shown, conductors.neutral)}")
    lines.append(f"{symbol} = {true}")
    currents = " + ".join(f"I_{line}" for line in conductors.lines)
    if conductors.neutral is None:
        lines.append(f"Current law on three wires: {currents} = 0.")
    else:
        lines.append(f"Current law on four wires: {currents} = I_{conductors.neutral}.")
    rest = method_expression(measurement, total)
    if rest == "0":
        lines.append(f"Inserted, everything cancels: T − {symbol} = 0, whatever the load.")
    else:
        lines.append(f"What remains: T − {symbol} = {rest}")
        if always:
            lines.append("It is zero for every load, since the currents sum to zero.")
        else:
            lines.append(_where_it_vanishes(exactness))
    return tuple(lines)


def _reading_line(meter: Wattmeter, lines: tuple[str, str, str]) -> str:
    currents = write_sum(weigh_currents(meter, lines), [f"I_{line}" for line in lines])
    if len(meter.windings) > 1 or currents.startswith("−"):
        currents = f"({currents})"
    start, end = meter.voltage
    if start == end:
        return f"{meter.name} = 0: both ends of its voltage circuit are on {start}"
    sign = "−" if direction_sign(meter) < 0 else ""
    note = "   (one circuit reversed)" if sign else ""
    return f"{meter.name} = {sign}Re((V_{start} − V_{end})·{currents}*){note}"


def _star_lines(measurement: Measurement) -> list[str]:
    """Write where star points lie, by the weights of the branches that meet there."""
    weights, names = star_weights(measurement)
    symbols = [f"V_{name}" for name in names]
    note = "   (weights of the branches that meet there)"
    lines = []
    for node, row in weights.items():
        if abs(row.imag).max() < 1e-9:
            lines.append(f"V_{node} = {write_sum(row.real, symbols)}{note}")
        else:
            parts = [
                f"{abs(w):.4g}∠{angle_deg(w):.1f}°·{symbol}"
                for w, symbol in zip(row, symbols, strict=True)
                if abs(w) > 1e-9
            ]
            lines.append(f"V_{node} = {' + '.join(parts)}{note}")
    return lines


def _where_it_vanishes(exactness: Sequence[Row]) -> str:
    exact = [row for row in exactness if row.exact]
    if not exact:
        return "It vanishes on no class of supplies and loads as a whole."
    widest: list[Row] = []
    for row in exact:  # the table runs from wide to narrow
        if not any(_holds(wide, row) for wide in widest):
            widest.append(row)
    parts = [f"{LOAD_WORDS[row.load]} on {SUPPLY_WORDS[row.supply]}" for row in widest]
    return f"It vanishes for {'; and for '.join(parts)}."


def _holds(wide: Row, narrow: Row) -> bool:
    supplies = ("any", "zero-sum", "symmetrical")
    wider_loads = {
        "any": ("any", "no neutral current", "balanced", "balanced resistive"),
        "no neutral current": ("no neutral current",),
        "balanced": ("balanced", "balanced resistive"),
        "balanced resistive": ("balanced resistive",),
    }
    return (
        supplies.index(wide.supply) <= supplies.index(narrow.supply)
        and narrow.load in wider_loads[wide.load]
    )

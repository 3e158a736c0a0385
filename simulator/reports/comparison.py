"""Measured beside predicted readings, for machines and for people."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tabulate import tabulate

from simulator.findings.reason import amount
from simulator.reports.faults import faults_object, settle_by, settlements
from simulator.reports.faults_text import tests_table
from simulator.reports.text import columns

if TYPE_CHECKING:
    from simulator.findings.comparison import Compared, Comparison
    from simulator.findings.faults.hypotheses import Faults

Object = dict[str, Any]


def comparison_object(comparison: Comparison) -> Object:
    """Turn a comparison into the object that ``blondel compare --json`` prints.

    Parameters
    ----------
    comparison : Comparison
        The comparison.

    Returns
    -------
    dict
        Only plain Python values.
    """
    faults = comparison.faults
    return {
        "title": comparison.result.measurement.title,
        "meters": [_row(reading) for reading in comparison.readings],
        "total": _row(comparison.total) if comparison.total else None,
        "missing": list(comparison.missing),
        "within": comparison.within,
        "explanation": _explanation(faults) if faults else None,
    }


def _row(compared: Compared) -> Object:
    return {
        "name": compared.name,
        "station": compared.station,
        "unit": compared.unit,
        "measured": compared.measured,
        "predicted": compared.predicted,
        "difference": compared.difference,
        "tolerance": compared.tolerance,
        "within": compared.within,
    }


def _explanation(faults: Faults) -> Object:
    found = faults_object(faults)
    return {
        "hypotheses": [h for h in found["hypotheses"] if h["consistent"]],
        "settle_by": found["settle_by"],
        "tests": found["tests"],
        "notes": found["notes"],
    }


def comparison_text(comparison: Comparison) -> str:
    """Write a comparison for a person.

    Parameters
    ----------
    comparison : Comparison
        The comparison.

    Returns
    -------
    str
        Table, which meters are out, and which wirings explain the readings.
    """
    parts = [
        comparison.result.measurement.title,
        _table(comparison),
        _verdict(comparison),
        _missing(comparison),
        _explained(comparison.faults) if comparison.faults else "",
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _table(comparison: Comparison) -> str:
    rows = [*comparison.readings, *([comparison.total] if comparison.total else [])]
    moved = any(row.station is not None for row in rows)
    # Each unit has decimals of its own.
    texts: dict[int, tuple[str, ...]] = {}
    for unit in dict.fromkeys(row.unit for row in rows):
        same = [(k, row) for k, row in enumerate(rows) if row.unit == unit]
        kinds = ("measured", "predicted", "difference", "tolerance")
        written = columns([getattr(row, kind) for kind in kinds for _, row in same])[0]
        for n, (k, _) in enumerate(same):
            texts[k] = tuple(written[n + j * len(same)] for j in range(len(kinds)))
    table = []
    for k, row in enumerate(rows):
        verdict = "within" if row.within else "OUT"
        station = [str(row.station or "")] if moved else []
        table.append([row.name, *station, row.unit, *texts[k], verdict])
    headings = ["meter", *(["station"] if moved else []), "unit", "measured", "predicted"]
    headings += ["difference", "tolerance", ""]
    align = ["left"] * (3 if moved else 2) + ["right"] * 4 + ["left"]
    return tabulate(table, headings, tablefmt="simple", colalign=align, disable_numparse=True)


def _verdict(comparison: Comparison) -> str:
    if comparison.within:
        return "Everything that was read is within its tolerance."
    out = [f"{row.name} by {amount(row.difference, row.unit)}" for row in comparison.out]
    if comparison.total and not comparison.total.within:
        off = amount(comparison.total.difference, comparison.total.unit)
        out.append(f"the total by {off}")
    return f"Out of tolerance: {', '.join(out)}."


def _missing(comparison: Comparison) -> str:
    if not comparison.missing:
        return ""
    blind = not comparison.result.readings.keys().isdisjoint(comparison.missing)
    why = "; without every wattmeter no wiring fault is looked for" if blind else ""
    return f"Not read: {', '.join(comparison.missing)}{why}."


def _explained(faults: Faults) -> str:
    chosen = settlements(faults)
    notes = "\n".join(f"Note: {note}" for note in faults.notes)
    to_settle = f"To settle it: {settle_by(faults, chosen)}"
    if not faults.fitting:
        head = f"None of {len(faults.hypotheses)} wirings explains all readings."
        return "\n".join(filter(None, (head, to_settle, notes)))
    lines = [f"  class {h.group}: {h.description}" for h in faults.fitting]
    some = f"{len(lines)} of {len(faults.hypotheses)} wirings"
    cautions = dict.fromkeys(h.wiring.caution for h in faults.fitting if h.wiring.caution)
    head = "\n".join([f"All readings are explained by {some}:", *lines, *cautions, to_settle])
    return "\n\n".join(part for part in (head, *map(tests_table, chosen), notes) if part)

"""An explanation as text and as the object of ``explain --json``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from tabulate import tabulate

from simulator.findings.exactness import LOADS, SUPPLIES, TOLERANCE
from simulator.findings.reason import amount
from simulator.phasors import angle_deg
from simulator.reports.text import columns

if TYPE_CHECKING:
    from simulator.findings.error_terms import Term
    from simulator.findings.exactness import Row
    from simulator.findings.explanation import Explanation


def explanation_object(explanation: Explanation) -> dict[str, Any]:
    """Turn an explanation into the object that ``blondel explain --json`` prints.

    Parameters
    ----------
    explanation : Explanation
        The explanation.

    Returns
    -------
    dict
        Only plain Python values.
    """
    total = explanation.result.total
    assert total is not None  # noqa: S101  (an explanation has one)
    per_va, currents = explanation.worst
    found = explanation.counterexample
    return {
        "title": explanation.result.measurement.title,
        "formula": total.formula,
        "indicated": total.indicated,
        "true": total.true,
        "reason": total.reason,
        "error": {
            "value": total.error,
            "unit": total.unit,
            "terms": [
                {"name": t.name, "expression": t.expression, "value": t.value, "cause": t.cause}
                for t in _worth_listing(explanation)
            ],
        },
        "conditions": {
            "supply": explanation.conditions.supply,
            "balanced": explanation.conditions.balanced,
            "neutral_current": explanation.conditions.neutral_current,
        },
        "exactness": [
            {
                "supply": row.supply,
                "load": row.load,
                "exact": row.exact,
                "either_sequence": row.either_sequence,
            }
            for row in explanation.exactness
        ],
        "proved_in_exact_arithmetic": explanation.proved_exactly,
        "proof": list(explanation.proof),
        "worst_error_per_va": per_va if np.isfinite(per_va) else None,
        "worst_currents": [
            {"rms_a": float(abs(i)), "angle_deg": float(angle_deg(i, 1e-12))} for i in currents
        ],
        "counterexample": None
        if found is None
        else {"scenario": found.toml, "indicated": found.indicated, "true": found.true},
    }


def explanation_text(explanation: Explanation) -> str:
    """Write an explanation for a person.

    Parameters
    ----------
    explanation : Explanation
        The explanation.

    Returns
    -------
    str
        Reason, proof, exactness table, error terms, worst case and counterexample.

    Examples
    --------
    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [
    ...         {"connection": "line-to-neutral", "L1": "20 ohm", "L2": "40 ohm", "L3": "40 ohm"}
    ...     ],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> print(simulator.explanation_text(simulator.explain(scenario)))
    Heaters
    The total is 2666.7 W too high: ×3 on an unbalanced load is not the total, ...
    """
    total = explanation.result.total
    assert total is not None  # noqa: S101  (an explanation has one)
    measurement, terms = explanation.result.measurement, _worth_listing(explanation)
    ideal = ", were meters and leads ideal" if len(terms) > 1 else ""
    parts = [
        measurement.title,
        total.reason,
        "",
        "The proof   (Re(V·I*) is V times I times the cosine of the angle between them)",
        *(f"  {line}" for line in explanation.proof),
        "",
        f"For which supplies and loads the total is right{ideal}",
        _exactness_table(explanation),
        f"This scenario: {explanation.conditions.words}.",
        _how_decided(explanation),
        "",
        _terms(terms, total.error, total.unit),
    ]
    if not explanation.always_exact:
        parts += [_worst(explanation), *_counterexample(explanation, total.unit)]
    return "\n".join(parts).rstrip() + "\n"


def _worth_listing(explanation: Explanation) -> list[Term]:
    """Leave out the terms that are nothing but rounding, but never the method's."""
    total = explanation.result.total
    assert total is not None  # noqa: S101
    floor = 1e-12 * total.apparent
    first, *others = explanation.terms
    return [first, *(term for term in others if abs(term.value) > floor)]


def _exactness_table(explanation: Explanation) -> str:
    sequence = explanation.result.measurement.supply.sequence
    lines = explanation.result.measurement.conductors.lines
    here = "-".join(lines[::sequence])
    cells = {(row.supply, row.load): _cell(row, here, explanation) for row in explanation.exactness}
    loads = [load for load in LOADS if load != "no neutral current" or _four_wires(explanation)]
    supplies = [supply for supply in SUPPLIES if supply != "zero-sum" or _four_wires(explanation)]
    rows = [[f"{supply} voltages", *(cells[supply, load] for load in loads)] for supply in supplies]
    headings = ["", *(load if load == "no neutral current" else f"{load} load" for load in loads)]
    return tabulate(rows, headings, tablefmt="simple", disable_numparse=True)


def _four_wires(explanation: Explanation) -> bool:
    return explanation.result.measurement.conductors.wires == 4


def _cell(row: Row, sequence: str, explanation: Explanation) -> str:
    text = "right" if row.exact else "no"
    if row.exact and not row.either_sequence:
        text = f"right, {sequence} only"
    return f"{text} *" if explanation.conditions.fits(row) else text


def _how_decided(explanation: Explanation) -> str:
    how = (
        "Decided in exact arithmetic: each 'right' is proved, not rounded."
        if explanation.proved_exactly
        else "Decided to an error of 1e-9 per volt-ampere."
    )
    return f"* holds this scenario. {how}"


def _terms(terms: list[Term], error: float, unit: str) -> str:
    if [term.expression for term in terms] == ["0"]:
        return "The error, term by term: there is none."
    (values,) = columns([*(term.value for term in terms), error])
    rows = [[t.name, v, t.expression] for t, v in zip(terms, values, strict=False)]
    rows.append(["error of the total", values[-1], "indicated − true"])
    table = tabulate(
        rows,
        ["term", unit, "expression"],
        tablefmt="simple",
        disable_numparse=True,
        colalign=("left", "right", "left"),
    )
    return f"The error, term by term\n{table}"


def _worst(explanation: Explanation) -> str:
    per_va, currents = explanation.worst
    if per_va < TOLERANCE:
        return "\nAt these voltages no currents at all make the total wrong; at others they do."
    lines = explanation.result.measurement.conductors.lines
    named = ", ".join(
        f"I_{line} = {abs(i):.3f} A ∠{angle_deg(i, 1e-12):z.1f}°"
        for line, i in zip(lines, currents, strict=True)
    )
    return (
        f"\nWorst case at these voltages: an error of {100 * per_va:.3g} % of ‖V‖·‖I‖ (roots of "
        f"the sums of the lines' squares),\nreached in the proportion {named}."
    )


def _counterexample(explanation: Explanation, unit: str) -> list[str]:
    found = explanation.counterexample
    if found is None:
        return []
    head = (
        f"\nA small load that shows it: {amount(found.indicated, unit)} indicated, "
        f"{amount(found.true, unit)} true\n"
    )
    return [head, *(f"    {line}".rstrip() for line in found.toml.splitlines())]

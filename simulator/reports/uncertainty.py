"""Uncertainties and drift as text and as machine-readable objects."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from tabulate import tabulate

from simulator.findings.drift import drift_advice
from simulator.findings.reason import amount
from simulator.findings.uncertainty.model import Quantity
from simulator.findings.uncertainty.monte_carlo import numerical_tolerance

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from simulator.findings.drift import DriftStudy, Round
    from simulator.findings.uncertainty.evaluation import OutputUncertainty, Uncertainty
    from simulator.findings.uncertainty.inputs import Input

Object = dict[str, Any]


def uncertainty_object(uncertainty: Uncertainty) -> Object:
    """Turn uncertainties into an object for machines.

    Parameters
    ----------
    uncertainty : Uncertainty
        The uncertainties.

    Returns
    -------
    dict
        Only plain Python values; what is undefined is null.
    """
    settings = uncertainty.settings
    return {
        "probability": settings.probability,
        "draws": uncertainty.draws,
        "stable": uncertainty.stable,
        "digits": settings.digits,
        "seed": settings.seed,
        "quantities": [_quantity(q) for q in uncertainty.quantities],
        "inputs": [_input(each) for each in uncertainty.inputs],
        "remarks": list(uncertainty.remarks),
        "notes": list(uncertainty.notes),
    }


def _input(source: Input) -> Object:
    return {
        "source": source.name,
        "distribution": str(source.distribution),
        "size": source.size,
        "unit": source.unit,
    }


def _quantity(q: OutputUncertainty) -> Object:
    simulation, linear = q.simulation, q.validation
    return {
        "name": q.name,
        "kind": str(q.output.kind),
        "unit": q.output.unit,
        "value": q.value,
        "mean": simulation.mean,
        "standard_uncertainty": simulation.standard_uncertainty,
        "interval": list(q.interval),
        "symmetric_interval": list(simulation.symmetric),
        "shortest_interval": list(simulation.shortest),
        "worst_case": None if q.worst_case is None else list(q.worst_case),
        "stable": simulation.stable,
        "linear": {
            "standard_uncertainty": q.budget.standard_uncertainty,
            "interval": list(linear.interval),
            "differences": list(linear.differences),
            "tolerance": linear.tolerance,
            "valid": linear.valid,
        },
        "budget": [
            {
                **_input(c.source),
                "standard_uncertainty": c.standard_uncertainty,
                "share": c.share,
                "limit": c.limit,
            }
            for c in q.budget.contributions
        ],
        "limits_rss": q.budget.limits_rss,
        "limits_sum": q.budget.limits_sum,
    }


def uncertainty_text(uncertainty: Uncertainty) -> str:
    """Write uncertainties for a person.

    Parameters
    ----------
    uncertainty : Uncertainty
        The uncertainties.

    Returns
    -------
    str
        A table of the quantities, the error budgets of the total (or of the readings) and of the
        power factor, remarks and notes.
    """
    settings = uncertainty.settings
    head = (
        f"Uncertainty, from {uncertainty.draws} draws (JCGM 101, seed {settings.seed}); intervals "
        f"hold {100 * settings.probability:g} %"
    )
    shown = [q for q in uncertainty.quantities if not _repeats_total(q, uncertainty)]
    parts = [f"{head}\n\n{_quantities(shown)}"]
    parts += [_budget(q) for q in _with_budget(shown)]
    remarks = [f"Mind: {text}" for text in uncertainty.remarks]
    parts.append("\n".join([*remarks, *(f"Note: {text}" for text in uncertainty.notes)]))
    return "\n\n".join(part for part in parts if part) + "\n"


def _repeats_total(q: OutputUncertainty, uncertainty: Uncertainty) -> bool:
    """Tell whether a quantity is the error of a total whose true power is certain."""
    total = uncertainty.of(Quantity.TOTAL)
    if q.output.kind is not Quantity.ERROR or total is None:
        return False
    return math.isclose(
        q.budget.standard_uncertainty, total.budget.standard_uncertainty, rel_tol=1e-6
    )


def _with_budget(shown: Sequence[OutputUncertainty]) -> list[OutputUncertainty]:
    formed = (Quantity.TOTAL, Quantity.ERROR)
    chosen = [q for q in shown if q.output.kind in formed]
    chosen = chosen or [q for q in shown if q.output.kind is Quantity.READING]
    return chosen + [q for q in shown if q.output.kind is Quantity.POWER_FACTOR]


def _titled(q: OutputUncertainty) -> str:
    return f"{q.name} {q.output.unit}".rstrip()


def _rounded(values: Iterable[float], uncertainty: float) -> list[str]:
    """Write values to the second digit of an uncertainty."""
    last = numerical_tolerance(uncertainty, digits=2)
    decimals = max(0, math.ceil(-math.log10(2 * last) - 1e-9)) if last else 1
    return [f"{value:z.{decimals}f}" for value in values]


def _table(headings: Sequence[str], rows: Sequence[Sequence[str]], left: int) -> str:
    align = ["left"] * left + ["right"] * (len(headings) - left)
    return tabulate(rows, headings, tablefmt="simple", colalign=align, disable_numparse=True)


def _quantities(quantities: Sequence[OutputUncertainty]) -> str:
    rows = []
    for q in quantities:
        u, linear = q.simulation.standard_uncertainty, q.budget.standard_uncertainty
        ends = [*q.interval, *(q.worst_case or (math.nan, math.nan))]
        texts = [t.replace("nan", "–") for t in _rounded([q.value, u, *ends, linear], u)]
        agrees = "agrees" if q.validation.valid else "differs"
        rows.append([_titled(q), *texts, agrees])
    headings = [
        "quantity",
        "value",
        "u",
        "from",
        "to",
        "at worst",
        "to",
        "u, linear",
        "its interval",
    ]
    return _table(headings, rows, left=1)


def size_text(source: Input) -> str:
    """Write how far an input may be off.

    Parameters
    ----------
    source : Input
        The input.

    Returns
    -------
    str
        Its limit or standard uncertainty; angles below a degree in minutes, as classes have them.
    """
    sign = "±" if source.bounded else "u "
    if source.unit == "°" and source.size < 1:
        return f"{sign}{60 * source.size:.4g}′"
    return f"{sign}{amount(source.size, source.unit)}".replace(" °", "°")


def _budget(q: OutputUncertainty) -> str:
    u = q.budget.standard_uncertainty
    if not u:
        return ""
    rows = []
    for c in q.budget.contributions:
        (part,) = _rounded([c.standard_uncertainty], u)
        most = "–" if c.limit is None else _rounded([c.limit], u)[0]
        rows.append([c.source.name, size_text(c.source), part, f"{100 * c.share:.1f}", most])
    combined, rss, together = (
        "–" if value is None else _rounded([value], u)[0]
        for value in (u, q.budget.limits_rss, q.budget.limits_sum)
    )
    rows.append(["root of sum of squares", "", combined, "100.0", rss])
    rows.append(["sum", "", "", "", together])
    headings = [f"budget of {_titled(q)}", "within", "u", "share %", "limit"]
    return _table(headings, rows, left=2)


def drift_object(study: DriftStudy) -> Object:
    """Turn a drift study into an object for machines.

    Parameters
    ----------
    study : DriftStudy
        The study.

    Returns
    -------
    dict
        Only plain Python values; what is undefined is null.
    """
    rounds = {
        "as_listed": study.as_listed,
        "best": study.best,
        "there_and_back": study.there_and_back,
    }
    return {
        "drift_percent": 100 * study.drift,
        "unit": study.unit,
        **{key: _round(taken) for key, taken in rounds.items()},
        "advice": list(drift_advice(study)),
    }


def _round(taken: Round) -> Object:
    percent = taken.effect_percent
    return {
        "order": [list(place) for place in taken.order],
        "indicated": taken.indicated,
        "at_once": taken.at_once,
        "true": taken.true,
        "effect": taken.effect,
        "effect_percent": percent if math.isfinite(percent) else None,
    }


def drift_text(study: DriftStudy) -> str:
    """Write a drift study for a person.

    Parameters
    ----------
    study : DriftStudy
        The study.

    Returns
    -------
    str
        What the drift does and in which order to read, a sentence in each line.
    """
    return "\n".join(drift_advice(study)) + "\n"

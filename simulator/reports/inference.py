"""An inference as text and as the object of ``infer --json``."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from tabulate import tabulate

from simulator.findings.reason import amount
from simulator.findings.working import assumes, impedance_text, notes, settle_by, steps

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.findings.balanced import BalancedLoad
    from simulator.findings.inference import Inference
    from simulator.findings.self_checks import Hypothesis
    from simulator.findings.station import Station

Object = dict[str, Any]


def inference_object(inference: Inference) -> Object:
    """Turn an inference into the object that ``blondel infer --json`` prints.

    Parameters
    ----------
    inference : Inference
        The inference.

    Returns
    -------
    dict
        Only plain Python values; what does not follow is null.
    """
    claimed = inference.claim is not None or inference.active is None
    return {
        "readings": inference.given.readings,
        **_powers(inference.active, inference.load),
        "impedance_ohm": _impedances(inference),
        "line_voltage_v": inference.voltage,
        "line_current_a": inference.current,
        "assumes": assumes(inference),
        "steps": steps(inference),
        "refused": inference.refused,
        "would_have_claimed": _powers(inference.indicated, inference.claim) if claimed else None,
        "true": _true(inference.station) if inference.station else None,
        "checks": [
            {
                "relation": c.relation,
                "left": c.left,
                "right": c.right,
                "unit": c.unit,
                "holds": c.holds,
            }
            for c in inference.checks
        ],
        "hypotheses": [_hypothesis(h) for h in inference.hypotheses],
        "settle_by": settle_by(inference),
        "notes": notes(inference),
    }


def _powers(active: float | None, load: BalancedLoad | None) -> Object:
    known = load if load is not None and load.sense_known else None
    return {
        "active_w": active,
        "reactive_var": known.reactive if known else None,
        "apparent_va": load.apparent if load else None,
        "phi_deg": known.phi if known else None,
        "power_factor": load.power_factor if load else None,
        "sense": load.sense if load else None,
    }


def _impedances(inference: Inference) -> Object | None:
    Z, load = inference.star, inference.load
    if Z is None or load is None:
        return None
    return {
        name: {"re": z.real, "im": z.imag if load.sense_known else None}
        for name, z in (("star", Z), ("delta", 3 * Z))
    }


def _true(station: Station) -> Object:
    plane = station.plane
    factors = {name: float(value) for name, value in vars(plane.power_factor).items()}
    return {
        "active_w": station.true.real,
        "reactive_var": station.true.imag,
        "apparent_va": {name: float(value) for name, value in vars(plane.apparent).items()},
        "power_factor": {k: v if math.isfinite(v) else None for k, v in factors.items()},
    }


def _hypothesis(hypothesis: Hypothesis) -> Object:
    return {
        "description": hypothesis.description,
        "readings": hypothesis.readings,
        **_powers(hypothesis.load.active, hypothesis.load),
        "line_current_a": hypothesis.current,
        "fits": hypothesis.fits,
    }


def inference_text(inference: Inference) -> str:
    """Write an inference for a person.

    Parameters
    ----------
    inference : Inference
        The inference.

    Returns
    -------
    str
        Working, conclusions, doubts, checks and assumptions.
    """
    parts = [
        _listed("Working", steps(inference)),
        _conclusions(inference),
        _doubt(inference),
        _checks(inference),
        _listed("Assumes", assumes(inference)),
        "\n".join(notes(inference)),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _listed(title: str, lines: Sequence[str]) -> str:
    return "\n".join([title, *(f"  {line}" for line in lines)]) if lines else ""


def _table(rows: Sequence[Sequence[str]], headings: Sequence[str]) -> str:
    align = ["left"] + ["right"] * (len(headings) - 1)
    return tabulate(rows, headings, tablefmt="simple", colalign=align, disable_numparse=True)


def _conclusions(inference: Inference) -> str:
    """Tabulate what is concluded, what the formula would have claimed, and what is true."""
    columns = {"concluded": _column(inference.active, inference.load)}
    load, Z = inference.load, inference.star
    if load and Z is not None:
        columns["concluded"]["impedance of a phase in star"] = impedance_text(Z, load)
        columns["concluded"]["impedance of a phase in delta"] = impedance_text(3 * Z, load)
    if inference.claim or inference.active is None:
        columns["would have claimed"] = _column(inference.indicated, inference.claim)
    if inference.station:
        columns["true"] = _true_column(inference.station)
    rows = dict.fromkeys(name for column in columns.values() for name in column)
    table = [[name, *(column.get(name, "") for column in columns.values())] for name in rows]
    return _table(table, ["", *columns])


def _column(active: float | None, load: BalancedLoad | None) -> dict[str, str]:
    sign = "" if load is None or load.sense_known else "±"
    quantities = (
        ("active power", active, "W", ""),
        ("reactive power", load.reactive if load else None, "var", sign),
        ("apparent power", load.apparent if load else None, "VA", ""),
        ("angle φ", load.phi if load else None, "°", sign),
    )
    column = {
        name: "–" if value is None else f"{before}{amount(value, unit)}".replace(" °", "°")
        for name, value, unit, before in quantities
    }
    return column | {"power factor": _factor(load)}


def _true_column(station: Station) -> dict[str, str]:
    true, plane = station.true, station.plane
    column = {"active power": amount(true.real, "W"), "reactive power": amount(true.imag, "var")}
    for name, apparent in vars(plane.apparent).items():
        column[f"apparent power, {name}"] = amount(float(apparent), "VA")
    for name, factor in vars(plane.power_factor).items():
        text = f"{float(factor):.4f}" if math.isfinite(factor) else "–"
        column[f"power factor, {name}"] = text.replace("-", "−")
    return column


def _factor(load: BalancedLoad | None) -> str:
    if load is None or load.power_factor is None:
        return "–"
    return f"{load.power_factor:.4f} {load.sense or ''}".strip().replace("-", "−")


def _doubt(inference: Inference) -> str:
    if not inference.hypotheses:
        return ""
    fits = {True: "yes", False: "no", None: "–"}
    rows = [
        [
            h.description,
            amount(h.load.active, "W"),
            _factor(h.load),
            "–" if h.current is None else amount(h.current, "A"),
            fits[h.fits],
        ]
        for h in inference.hypotheses
    ]
    headings = ["if", "total", "power factor", "needs a line current of", "fits"]
    settle = settle_by(inference)
    title = "What the signs may mean\n"
    return title + _table(rows, headings) + (f"\n{settle}" if settle else "")


def _checks(inference: Inference) -> str:
    tolerance = f"within {100 * inference.given.tolerance:g} %"
    rows = [
        [
            c.relation,
            *(amount(x, c.unit).strip() for x in (c.left, c.right)),
            "holds" if c.holds else "fails",
        ]
        for c in inference.checks
    ]
    headings = ["self-check", "left", "right", tolerance]
    return _table(rows, headings) if rows else ""

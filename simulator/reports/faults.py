"""What wiring faults would read, for machines, and the tests that settle which it is."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from simulator.findings.faults.commissioning import commissioning
from simulator.findings.faults.loads import load_current, load_of
from simulator.findings.faults.normal import looks_wrong
from simulator.findings.faults.settle import settle

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.findings.faults.commissioning import Commissioning
    from simulator.findings.faults.hypotheses import Faults, Hypothesis
    from simulator.findings.faults.settle import Settlement
    from simulator.findings.result import Result

Object = dict[str, Any]
# A total counts as right within this part where the limits were given in watts.
USUAL_TOLERANCE = 0.02


def faults_object(faults: Faults) -> Object:
    """Turn wirings into the object that ``blondel faults --json`` prints.

    Parameters
    ----------
    faults : Faults
        The wirings.

    Returns
    -------
    dict
        Only plain Python values.
    """
    right = faults.right.result
    chosen = settlements(faults)
    return {
        "title": right.measurement.title,
        "correct": _watts(right),
        "measured": faults.measured,
        "limits_w": faults.limits,
        "tolerance": faults.tolerance,
        "hypotheses": [_hypothesis(faults, h) for h in faults.hypotheses],
        "settle_by": settle_by(faults, chosen),
        "tests": [_tests(s) for s in chosen if s.tests],
        "commissioning": _commissioning(proven(faults)),
        "looks_wrong_and_is_right": list(looks_wrong(right)),
        "notes": list(faults.notes),
    }


def _watts(result: Result) -> dict[str, float]:
    return {name: reading.watts for name, reading in result.readings.items()}


def _hypothesis(faults: Faults, hypothesis: Hypothesis) -> Object:
    found = {
        "description": hypothesis.description,
        "readings": _watts(hypothesis.result),
        "total": hypothesis.total,
        "total_over_true": faults.over_true(hypothesis),
        "consistent": hypothesis.consistent,
        "group": hypothesis.group,
        "slips": hypothesis.wiring.slips,
        "caution": hypothesis.wiring.caution or None,
        "overvoltage": faults.overvoltage(hypothesis),
    }
    if hypothesis.fit:
        found["misfit"] = hypothesis.fit.misfit
    if hypothesis.fit and hypothesis.consistent and not faults.region.is_point:
        load = load_of(hypothesis.explaining)
        found["load"] = {
            "active_w": load.real,
            "reactive_var": load.imag,
            "power_factor": load.real / abs(load),
            "current_a": load_current(hypothesis.explaining),
        }
    return found


def settlements(faults: Faults) -> list[Settlement]:
    """Settle between the wirings that fit, or inside each class where nothing was measured.

    Parameters
    ----------
    faults : Faults
        The wirings.

    Returns
    -------
    list of Settlement
        One for each set of several wirings.
    """
    if faults.measured is None:
        return [settle(faults, g) for g in faults.groups.values() if len(g) > 1]
    return [settle(faults, faults.fitting)] if len(faults.fitting) > 1 else []


def _tests(settlement: Settlement) -> Object:
    return {
        "between": [h.description for h in settlement.wirings],
        "tests": [
            {
                "test": test.name,
                "unit": test.unit or None,
                "shows": [
                    {k: None if math.isnan(v) else v for k, v in shown.items()}
                    for shown in test.shows
                ],
            }
            for test in settlement.tests
        ],
        "left": [[h.description for h in together] for together in settlement.left],
    }


def proven(faults: Faults) -> Commissioning | None:
    """Find what the scenario's load proves, within the tolerance of the readings.

    Parameters
    ----------
    faults : Faults
        The wirings.

    Returns
    -------
    Commissioning or None
        It; None without a total.
    """
    return commissioning(faults, faults.tolerance or USUAL_TOLERANCE)


def _commissioning(found: Commissioning | None) -> Object | None:
    if found is None:
        return None
    return {
        "power_factor": found.power_factor,
        "resistive": found.is_resistive,
        "later": factor_words(found),
        "right_here": [
            {
                "description": hypothesis.description,
                "total_over_true_later": None if math.isnan(later) else later,
            }
            for hypothesis, later in found.passing
        ],
        "wrong_later": len(found.wrong_later),
        "classes_here": found.classes_here,
        "classes_later": found.classes_later,
    }


def factor_words(found: Commissioning) -> str:
    """Write the power factor at which wirings are looked at again.

    Parameters
    ----------
    found : Commissioning
        What a load proves.

    Returns
    -------
    str
        For example "0.8 lag".
    """
    return f"{found.later.value:g} {found.later.sense or ''}".rstrip()


def settle_by(faults: Faults, chosen: Sequence[Settlement]) -> str:
    """Name the extra tests that settle which wiring it is.

    Parameters
    ----------
    faults : Faults
        The wirings.
    chosen : sequence of Settlement
        Their settlements.

    Returns
    -------
    str
        One or two sentences.
    """
    if faults.measured is not None and not faults.fitting:
        unknown = "; give spans of both where they are not known" if faults.region.is_point else ""
        return (
            f"check the load that was assumed (its power factor and current{unknown}), ranges and "
            "ratios, and the readings themselves"
        )
    if not chosen:
        only = faults.fitting[0].description if faults.fitting else ""
        return (
            f"Nothing to settle, only one wiring explains the readings: {only}"
            if only
            else "No two wirings read the same"
        )
    tests = dict.fromkeys(test.name for s in chosen for test in s.tests)
    left = [[h.description for h in together] for s in chosen for together in s.left]
    inside = "" if faults.measured else "Inside the classes: "
    said = [inside + "; ".join(tests)] if tests else []
    if left:
        first = " and ".join(f"'{words}'" for words in left[0][:2])
        more = " and others" if len(left) > 1 or len(left[0]) > 2 else ""
        said.append(f"Only following the leads tells {first}{more} apart")
    return ". ".join(said)

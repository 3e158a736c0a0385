"""Why a total is right or wrong, and how everything is connected: what the page shows second."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator.explore.answers import minus
from simulator.findings.exactness import LOADS, SUPPLIES
from simulator.findings.explanation import Explanation
from simulator.findings.reason import RIGHT
from simulator.reports.explanation import explanation_object
from simulator.reports.text import columns

if TYPE_CHECKING:
    from simulator.explore.situation import Board
    from simulator.explore.state import State
    from simulator.findings.exactness import Row

Object = dict[str, Any]


def why_object(board: Board, state: State) -> Object:
    """Say for which supplies and loads the total is right, what makes it wrong, and the wiring.

    Parameters
    ----------
    board : Board
        The board.
    state : State
        Where the controls stand.

    Returns
    -------
    dict
        Exactness table, proof and error terms, null without a total; the list of connections.

    Raises
    ------
    SimulatorError
        If the situation has no solution.
    """
    from simulator.figures.connections.listing import connection_text  # noqa: PLC0415

    result = board.result(state)
    found: Object = {"why": None, "connections": connection_text(result)}
    if result.total is not None:
        found["why"] = _why(Explanation(board.situation(state).scenario, result))
    return found


def _why(explanation: Explanation) -> Object:
    whole = explanation_object(explanation)
    assert explanation.result.total is not None  # noqa: S101  (an explanation has one)
    error, example = whole["error"], whole["counterexample"]
    names = [*(term["name"] for term in error["terms"]), "error of the total"]
    expressions = [*(term["expression"] for term in error["terms"]), "indicated − true"]
    floor = RIGHT * explanation.result.total.apparent
    found = [*(term["value"] for term in error["terms"]), error["value"]]
    (values,) = columns(value if abs(value) > floor else 0.0 for value in found)
    return {
        "table": _table(explanation),
        "conditions": f"Here: {explanation.conditions.words}.",
        "decided": "Decided in exact arithmetic."
        if explanation.proved_exactly
        else "Decided to an error of 1e-9 per volt-ampere.",
        "proof": list(explanation.proof),
        "unit": error["unit"],
        "terms": [
            [name, minus(value), expression]
            for name, value, expression in zip(names, values, expressions, strict=True)
        ],
        "counterexample": example and example["scenario"],
    }


def _table(explanation: Explanation) -> Object:
    """Write the exactness table; on three wires some of its rows and columns coincide."""
    conductors = explanation.result.measurement.conductors
    four = conductors.wires == 4
    loads = [load for load in LOADS if four or load != "no neutral current"]
    supplies = [supply for supply in SUPPLIES if four or supply != "zero-sum"]
    cells = {(row.supply, row.load): row for row in explanation.exactness}
    sequence = "-".join(conductors.lines[:: explanation.result.measurement.supply.sequence])
    return {
        "heads": [load if load == "no neutral current" else f"{load} load" for load in loads],
        "rows": [
            {
                "head": f"{supply} voltages",
                "cells": [_cell(cells[supply, load], explanation, sequence) for load in loads],
            }
            for supply in supplies
        ],
    }


def _cell(row: Row, explanation: Explanation, sequence: str) -> Object:
    text = "right" if row.exact else "no"
    if row.exact and not row.either_sequence:
        text = f"right, {sequence} only"
    return {"text": text, "right": bool(row.exact), "here": bool(explanation.conditions.fits(row))}

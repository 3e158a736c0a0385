"""Forms as written on the board, each term multiplied out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.findings.expression import reduced, write_form, write_sum
from simulator.findings.sensing import Form

NODES = ("L1", "L2", "L3", "N", "P")
R3 = math.sqrt(3)


def form(**rows: list[float]) -> Form:
    """The form with these rows: what each node's potential is multiplied by, current by current."""
    return Form(NODES, np.array([rows.get(node, [0, 0, 0]) for node in NODES], dtype=float))


@pytest.mark.parametrize(
    ("weights", "text"),
    [
        ([0, 0, 0], "0"),
        ([1, 0, 0], "a"),
        ([-1, 0, 0], "−a"),
        ([-1, 1, 0], "b − a"),
        ([1, -1, 1], "a + c − b"),
        ([-1, -1, 0], "−a − b"),
        ([2, -0.5, 0], "2·a − 0.5·b"),
        ([R3, -1 / R3, 2 / R3], "√3·a + 2/√3·c − 1/√3·b"),
        ([1e-10, 1, 1 + 1e-10], "b + c"),
        ([1 / 3, 0, -2 / 3], "0.3333·a − 0.6667·c"),
    ],
)
def test_sums(weights: list[float], text: str) -> None:
    assert write_sum(np.array(weights), ["a", "b", "c"]) == text


@pytest.mark.parametrize(
    ("rows", "neutral", "text"),
    [
        ({}, "N", "0"),
        ({"L1": [1, 0, 0]}, "N", "Re(V_L1·I_L1*)"),
        ({"L1": [-1, 0, 0]}, "N", "−Re(V_L1·I_L1*)"),
        ({"L1": [0, -2, 0]}, "N", "−Re(2·V_L1·I_L2*)"),
        ({"L1": [1, 0, 0], "L2": [-1, 0, 0]}, "N", "Re((V_L1 − V_L2)·I_L1*)"),
        # −(V_a − V_b) is written the other way round
        ({"L1": [-1, 0, 0], "L2": [1, 0, 0]}, "N", "Re((V_L2 − V_L1)·I_L1*)"),
        ({"L1": [0, 0, R3], "L2": [0, 0, -R3]}, "N", "Re(√3·(V_L1 − V_L2)·I_L3*)"),
        (
            {"L1": [1, 0, 0], "L2": [0, 1, 0], "L3": [0, 0, -1]},
            "N",
            "Re(V_L1·I_L1* + V_L2·I_L2* − V_L3·I_L3*)",
        ),
        # three voltages before one current: the smallest factor is taken out
        (
            {"L1": [2, 0, 0], "L2": [-2, 0, 0], "P": [4, 0, 0]},
            "N",
            "Re(2·(V_L1 + 2·V_P − V_L2)·I_L1*)",
        ),
        (
            {"L1": [-2, 0, 0], "L2": [-2, 0, 0], "P": [4, 0, 0]},
            "N",
            "−Re(2·(V_L1 + V_L2 − 2·V_P)·I_L1*)",
        ),
        # all currents alike are the neutral's, where there is one
        ({"N": [1, 1, 1], "P": [-1, -1, -1]}, "N", "Re((V_N − V_P)·I_N*)"),
        ({"N": [1, 1, 1], "P": [-1, -1, -1]}, None, "Re((V_N − V_P)·(I_L1 + I_L2 + I_L3)*)"),
        ({"P": [-3, -3, -3]}, "N", "−Re(3·V_P·I_N*)"),
        # one voltage before several currents
        ({"P": [1, -1, 0]}, "N", "Re(V_P·(I_L1 − I_L2)*)"),
        ({"P": [0, -0.5, 0.5]}, "N", "−Re(0.5·V_P·(I_L2 − I_L3)*)"),
        (
            {"L1": [1, -1, 0], "P": [-2, 2, 0]},
            "N",
            "Re((V_L1 − 2·V_P)·(I_L1 − I_L2)*)",
        ),
    ],
)
def test_forms(rows: dict[str, list[float]], neutral: str | None, text: str) -> None:
    assert write_form(form(**rows), neutral) == text


def test_the_current_law_of_three_wires_is_inserted_where_it_shortens() -> None:
    # V_L2·(I_L1 + I_L3) is −V_L2·I_L2; 2·(I_L1 + I_L2 + I_L3) is nothing; 1, −1, 0 stays as it is
    whole = form(L1=[1, -1, 0], L2=[1, 0, 1], P=[2, 2, 2])
    np.testing.assert_array_equal(
        reduced(whole, 3).K, [[1, -1, 0], [0, -1, 0], [0, 0, 0], [0, 0, 0], [0, 0, 0]]
    )
    assert reduced(whole, 4) is whole

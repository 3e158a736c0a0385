"""Tolerances as a person writes them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.errors import QuantityError, ScenarioError
from simulator.findings.uncertainty.inputs import (
    Distribution,
    Effect,
    Input,
    InputList,
    PhasorErrors,
    Tolerance,
    parse_tolerance,
    parse_tolerances,
)

NORMAL = Distribution.NORMAL


@pytest.mark.parametrize(
    ("text", "quantity", "tolerance"),
    [
        ("ovens: L2 = 5 %", "ovens: L2", Tolerance(0.05)),
        ("ovens=5%,3 deg", "ovens", Tolerance(0.05, 3.0)),
        ("ovens = ±5 %, ±30 min", "ovens", Tolerance(0.05, 0.5)),
        ("supply: voltage = u 1 %", "supply: voltage", Tolerance(0.01, 0.0, NORMAL)),
        ("a = b = 2°", "a = b", Tolerance(0.0, 2.0)),
        ("ovens = u 1 %, 0.5 deg", "ovens", Tolerance(0.01, 0.5, NORMAL)),
    ],
)
def test_tolerances(text: str, quantity: str, tolerance: Tolerance) -> None:
    found, given = parse_tolerance(text)
    assert found == quantity
    assert (given.relative, given.angle) == pytest.approx((tolerance.relative, tolerance.angle))
    assert given.distribution is tolerance.distribution


REFUSED = (
    "|ovens|ovens 5 %|= 5 %| = 5 %|ovens =|ovens = 5|ovens = -5 %|ovens = 5 V|ovens = 0 %|"
    "ovens = u|ovens = 5 %,|ovens = nan %|ovens = ±"
)


@pytest.mark.parametrize("text", REFUSED.split("|"))
def test_refused_tolerances(text: str) -> None:
    with pytest.raises(QuantityError, match="expected a quantity and how far") as caught:
        parse_tolerance(text)
    assert f"got '{text}'" in str(caught.value)


def test_the_same_quantity_twice() -> None:
    assert list(parse_tolerances(["a = 1 %", "b = 2 %"])) == ["a", "b"]
    with pytest.raises(QuantityError, match="'a' is given twice"):
        parse_tolerances(["a = 1 %", "a = 2 %"])


def test_standard_uncertainties_of_z() -> None:
    """Rectangular ±1: 1/√3 (JCGM 100, 4.3.7; MEM, high). Normal: one."""
    assert Input("a", Distribution.RECTANGULAR, 5, "W").standard_uncertainty == 1 / math.sqrt(3)
    assert Input("a", NORMAL, 5, "W").standard_uncertainty == 1


def test_one_input_for_each_name() -> None:
    inputs = InputList()
    first = inputs.add(Input("a", NORMAL, 1, "W"))
    assert inputs.add(Input("b", NORMAL, 2, "W")) == 1
    assert inputs.add(Input("a", NORMAL, 3, "W")) == first == 0
    assert [each.size for each in inputs.inputs] == [3, 2]
    with pytest.raises(ScenarioError, match="expected a size"):
        inputs.add(Input("c", NORMAL, math.nan, "W"))


def test_factors() -> None:
    errors = PhasorErrors((Effect(0, 0.1), Effect(1, 0.2)), (Effect(1, 90.0),))
    z = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    assert errors.factor(z) == pytest.approx([1, 1.1, 1.2j])
    assert errors.factor(z, 2.0, 90.0) == pytest.approx([2j, 2.1j, -2.2])
    assert PhasorErrors().factor(z, 2.0, 90.0) == pytest.approx([2j])

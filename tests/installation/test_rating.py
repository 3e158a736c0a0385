"""Nameplates. One load throughout: the 3-4-5 triangle of 1600 W, 1200 var and 2000 VA at 250 V.

derived: its power factor is 1600/2000 = 0.8, its current 2000/250 = 8 A, its impedance
250 V/8 A = 31.25 ohm at the angle of 0.8 + 0.6j, that is 25 + 18.75j ohm.
"""

from __future__ import annotations

import itertools
import math

import pytest

from simulator.errors import ScenarioError
from simulator.installation.rating import Rating, branch_impedance

U = 250.0
QUANTITIES = {
    "power": 1600.0,
    "apparent_power": 2000.0,
    "reactive_power": 1200.0,
    "current": 8.0,
    "power_factor": 0.8,
}
PAIRS = [
    pair
    for pair in itertools.combinations(QUANTITIES, 2)
    if pair != ("apparent_power", "current")  # one and the same at a given voltage
]


def rating(*names: str, sense: str | None = None, **other: float) -> Rating:
    return Rating(**{name: QUANTITIES[name] for name in names} | other, sense=sense)


@pytest.mark.parametrize("pair", PAIRS)
def test_every_pair_gives_the_same_load(pair: tuple[str, str]) -> None:
    S = rating(*pair).complex_power(U)
    assert pytest.approx(1600 + 1200j, rel=1e-12) == S
    assert branch_impedance(S, U) == pytest.approx(25 + 18.75j, rel=1e-12)


@pytest.mark.parametrize("other", ["power", "apparent_power", "current"])
def test_a_leading_power_factor_makes_a_capacitive_load(other: str) -> None:
    S = rating(other, "power_factor", sense="lead").complex_power(U)
    assert pytest.approx(1600 - 1200j, rel=1e-12) == S
    assert branch_impedance(S, U) == pytest.approx(25 - 18.75j, rel=1e-12)


@pytest.mark.parametrize("other", ["power", "apparent_power", "current", "power_factor"])
def test_a_negative_reactive_power_makes_a_capacitive_load(other: str) -> None:
    S = rating(other, reactive_power=-1200.0).complex_power(U)
    assert pytest.approx(1600 - 1200j, rel=1e-12) == S


def test_a_sense_that_agrees_with_the_reactive_power() -> None:
    assert rating("power_factor", reactive_power=-1200.0, sense="lead").complex_power(
        U
    ) == pytest.approx(1600 - 1200j, rel=1e-12)
    assert rating("power_factor", "reactive_power", sense="lag").complex_power(U).imag > 0


@pytest.mark.parametrize("names", [("power",), ("current",), (), ("apparent_power", "current")])
def test_too_little_is_refused_with_what_was_given(names: tuple[str, ...]) -> None:
    with pytest.raises(ScenarioError, match="expected exactly two of") as caught:
        rating(*names).complex_power(U)
    assert (" and ".join(names) or "none") in str(caught.value)


def test_too_much_is_refused_with_what_was_given() -> None:
    with pytest.raises(ScenarioError, match="got power and reactive_power and power_factor"):
        rating("power", "reactive_power", "power_factor").complex_power(U)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (Rating(power=2001, apparent_power=2000), "power of 2001 is larger than .* 2000 VA"),
        (Rating(power=2001, current=8), "power of 2001 is larger than .* 2000 VA"),
        (Rating(reactive_power=2001, current=8), "reactive_power of 2001 is larger than"),
        (Rating(reactive_power=-2001, apparent_power=2000), "of -2001 is larger than"),
        (Rating(reactive_power=1200, power_factor=1), "1200 var contradicts the power factor 1"),
        (Rating(reactive_power=-1200, power_factor=0.8, sense="lag"), "contradicts .* 0.8 lag"),
        (Rating(reactive_power=1200, power_factor=0.8, sense="lead"), "contradicts .* 0.8 lead"),
        (Rating(reactive_power=0, power_factor=0.8), "0 var contradicts the power factor 0.8"),
        (Rating(power=0, power_factor=0.8), "power of 0 W contradicts the power factor 0.8"),
        (Rating(power=1600, power_factor=0), "power factor of 0"),
        (Rating(power=0, power_factor=0), "power factor of 0"),
        (Rating(reactive_power=0, power_factor=1), "do not fix a load"),
    ],
)
def test_a_contradiction_is_refused_in_plain_words(given: Rating, message: str) -> None:
    with pytest.raises(ScenarioError, match=message):
        given.complex_power(U)


def test_ends_of_the_power_factor() -> None:
    assert Rating(power=500, power_factor=1).complex_power(U) == 500
    assert Rating(power=0, power_factor=1).complex_power(U) == 0
    assert Rating(current=2, power_factor=1).complex_power(U) == 500
    assert Rating(reactive_power=500, power_factor=0).complex_power(U) == 500j
    assert Rating(apparent_power=500, power_factor=0, sense="lead").complex_power(U) == -500j
    # P = S up to the rounding of a calculator: no reactive power, and no complaint
    S = Rating(power=2000 * (1 + 1e-13), apparent_power=2000).complex_power(U)
    assert pytest.approx(2000, rel=1e-12) == S


@pytest.mark.parametrize(
    ("given", "assumes"),
    [
        (Rating(power=1600, power_factor=0.8), True),
        (Rating(power=1600, apparent_power=2000), True),
        (Rating(power=1600, current=8), True),
        (Rating(power=1600, power_factor=0.8, sense="lag"), False),
        (Rating(power=1600, reactive_power=1200), False),
        (Rating(power=1600, power_factor=1), False),
    ],
)
def test_says_when_lagging_is_only_an_assumption(given: Rating, assumes: bool) -> None:
    assert given.assumes_lag is assumes


def test_no_power_is_an_open_branch() -> None:
    assert math.isinf(abs(branch_impedance(0j, U)))

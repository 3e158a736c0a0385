"""The adaptive simulation against JCGM 101's own example and closed forms."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
import pytest

from simulator.errors import ScenarioError
from simulator.findings.uncertainty.inputs import Distribution, Input
from simulator.findings.uncertainty.linear import budget, sensitivities, validate
from simulator.findings.uncertainty.monte_carlo import (
    Settings,
    numerical_tolerance,
    shortest_interval,
    simulate,
    symmetric_interval,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.phasors import FloatArray


def inputs(kind: str, n: int) -> list[Input]:
    return [Input(f"X{k}", Distribution(kind), 1.0, "") for k in range(n)]


def weighted(weights: Sequence[float]) -> object:
    return lambda z: np.array([np.array(weights) @ z])


def irwin_hall(x: Fraction, n: int) -> Fraction:
    """Distribution function of the sum of n variables uniform on 0 to 1 (Irwin, Hall 1927)."""
    terms = range(math.floor(x) + 1)
    return sum(
        (Fraction((-1) ** k * math.comb(n, k)) * (x - k) ** n for k in terms), Fraction(0)
    ) / math.factorial(n)


def upper_end(n: int) -> float:
    """97.5 % quantile of a sum of n variables uniform on −√3 to √3, by bisection."""
    low, high = Fraction(n, 2), Fraction(n)
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if irwin_hall(middle, n) < Fraction(39, 40) else (low, middle)
    return float(2 * low - n) * math.sqrt(3)


def test_sum_of_four_rectangular_quantities() -> None:
    """JCGM 101, 9.2.3 (from memory): u = 2, interval ±3.88; the linear law gives ±3.92."""
    assert upper_end(4) == pytest.approx(3.88, abs=0.005)
    four, settings = inputs("rectangular", 4), Settings(draws=1_000_000)
    (found,) = simulate(weighted([math.sqrt(3)] * 4), four, settings)
    assert found.standard_uncertainty == pytest.approx(2, abs=0.005)
    # the standard deviation of a quantile is √(p(1−p)/n)/density, 0.004 here
    assert found.symmetric == pytest.approx((-upper_end(4), upper_end(4)), abs=0.016)
    assert found.shortest[1] - found.shortest[0] == pytest.approx(2 * upper_end(4), abs=0.02)
    linear = budget(four, sensitivities(weighted([math.sqrt(3)] * 4), 4)[0])
    assert linear.standard_uncertainty == pytest.approx(2, rel=1e-9)
    checked = validate(0.0, linear.standard_uncertainty, found)
    assert checked.interval == pytest.approx((-3.92, 3.92), abs=0.001)
    assert checked.tolerance == 0.5  # of u = 2, one digit
    assert checked.valid


def test_sum_of_four_normal_quantities() -> None:
    """JCGM 101, 9.2.2 (from memory): u = 2.0, interval ±3.92; here the linear law is exact."""
    (found,) = simulate(weighted([1] * 4), inputs("normal", 4), Settings(draws=1_000_000))
    assert found.standard_uncertainty == pytest.approx(2, abs=0.006)
    assert found.symmetric == pytest.approx((-3.92, 3.92), abs=0.03)


def test_one_rectangular_quantity_dominates() -> None:
    """JCGM 101, 9.2.4 (from memory): u = 10.1, ±17.0 by simulation, ±19.9 by the linear law."""
    weights = [math.sqrt(3)] * 3 + [10 * math.sqrt(3)]
    (found,) = simulate(weighted(weights), inputs("rectangular", 4), Settings(draws=1_000_000))
    assert math.sqrt(103) == pytest.approx(10.1, abs=0.05)  # 1 + 1 + 1 + 10² (derived)
    assert found.standard_uncertainty == pytest.approx(math.sqrt(103), abs=0.02)
    assert found.symmetric == pytest.approx((-17.0, 17.0), abs=0.1)
    checked = validate(0.0, math.sqrt(103), found)
    assert checked.interval == pytest.approx((-19.9, 19.9), abs=0.05)
    assert checked.valid  # within δ = 5, half of the one digit of 10
    assert max(checked.differences) > 2.5


@pytest.mark.parametrize(
    ("uncertainty", "digits", "expected"),
    # JCGM 101, 7.9.2, examples 1 and 2 (from memory): 0.00035 g in two digits and in one
    [(0.00035, 2, 0.000005), (0.00035, 1, 0.00005), (0.0996, 1, 0.05), (9.96, 2, 0.5), (2, 1, 0.5)],
)
def test_numerical_tolerance(uncertainty: float, digits: int, expected: float) -> None:
    assert numerical_tolerance(uncertainty, digits) == pytest.approx(expected, rel=1e-12)


def test_nothing_has_no_tolerance() -> None:
    assert numerical_tolerance(0.0, 2) == 0


@pytest.mark.parametrize("n", [2000, 2001, 2013, 10_000])
@pytest.mark.parametrize("probability", [0.95, 0.9, 0.683])
def test_intervals_by_counting(n: int, probability: float) -> None:
    """Derived: an interval of q + 1 values leaves as many, give or take one, on either side."""
    values = np.sort(np.random.default_rng(n).exponential(size=n))
    low, high = symmetric_interval(values, probability)
    below, above = (values < low).sum(), (values > high).sum()
    assert abs(int(below) - int(above)) <= 1
    held = n - below - above
    assert abs(held - 1 - probability * n) <= 0.5
    short = shortest_interval(values, probability)
    lengths = [values[k + held - 1] - values[k] for k in range(n - held + 1)]
    assert short[1] - short[0] == min(lengths)
    assert short[0] <= values[n // 100]  # an exponential density is highest at its start


def test_smallest_number_of_draws() -> None:
    """J = smallest integer ≥ 100/(1 − p) = 2000 for p 0.95 (reference/standards.md, CALC)."""
    assert Settings().fewest == 2000
    assert Settings().block == 10_000
    assert Settings(probability=0.999).block == 100_000
    with pytest.raises(ScenarioError, match="at least 2000 draws"):
        Settings(draws=1999)


@pytest.mark.parametrize("wrong", [{"probability": 1.0}, {"probability": 0.0}, {"digits": 3}])
def test_refused_settings(wrong: dict[str, float]) -> None:
    with pytest.raises(ScenarioError, match="expected"):
        Settings(**wrong)


def test_adaptive_stop() -> None:
    """It stops at the first block at which 2s ≤ δ for all four results, found again here."""
    three, settings = inputs("rectangular", 3), Settings(seed=5)
    weights = [1.0, 0.7, 0.2]
    (found,) = simulate(weighted(weights), three, settings)
    n = len(found.values)
    assert found.stable
    assert 20_000 <= n < settings.largest
    assert n % 10_000 == 0
    random = np.random.Generator(np.random.SFC64(5))
    blocks: list[FloatArray] = []
    stopped = 0
    while not stopped:
        z = np.array([random.uniform(-1, 1, 10_000) for _ in three])
        blocks.append(np.array(weights) @ z)
        results = np.array([[y.mean(), y.std(ddof=1), *_ends(y)] for y in blocks])
        if len(blocks) > 1:
            s = np.sqrt(((results - results.mean(axis=0)) ** 2).sum(axis=0))
            s /= math.sqrt(len(blocks) * (len(blocks) - 1))
            u = np.concatenate(blocks).std(ddof=1)
            stopped = len(blocks) * bool(max(2 * s) <= numerical_tolerance(u, 2))
    assert n == 10_000 * stopped


def _ends(values: FloatArray) -> tuple[float, float]:
    """7.7.2 for 10⁴ values and 95 %: q = 9500, r = 250, counted from 1."""
    ordered = np.sort(values)
    return ordered[249], ordered[9749]


def test_fewer_digits_need_fewer_draws() -> None:
    three = inputs("normal", 3)
    model = weighted([1.0, 0.7, 0.2])
    (coarse,), (fine,) = (simulate(model, three, Settings(digits=d, seed=3)) for d in (1, 2))
    assert len(coarse.values) < len(fine.values)


def test_gives_up_in_the_end() -> None:
    heavy = lambda z: np.array([np.exp(4 * z[0])])  # noqa: E731
    settings = Settings(largest=50_000)
    (found,) = simulate(heavy, inputs("normal", 1), settings)
    assert len(found.values) == 50_000
    assert not found.stable


def test_reproducible_by_seed() -> None:
    model, two = weighted([1, 2]), inputs("rectangular", 2)
    first, again, other = (
        simulate(model, two, Settings(draws=12_345, seed=seed))[0].values for seed in (1, 1, 2)
    )
    assert len(first) == 12_345
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_constant_output_is_stable() -> None:
    model = lambda z: np.array([np.full(z.shape[1], 7.0), z[0]])  # noqa: E731
    constant, _ = simulate(model, inputs("normal", 1), Settings(digits=1))
    assert constant.stable
    assert (constant.mean, constant.standard_uncertainty, constant.symmetric) == (7, 0, (7, 7))
    assert not constant.one_sided

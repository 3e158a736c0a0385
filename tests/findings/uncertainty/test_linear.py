"""The law of propagation of uncertainty, its budget, and its check against the simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.findings.uncertainty.evaluation import evaluate_uncertainty
from simulator.findings.uncertainty.inputs import Distribution, Input, Tolerance
from simulator.findings.uncertainty.linear import budget, sensitivities, validate
from simulator.findings.uncertainty.monte_carlo import Settings, Simulation
from tests.findings.uncertainty.base import CLASS_HALF, I, V, case, readings_of

A, B, C = (
    Input("a", Distribution.RECTANGULAR, 3.0, "W"),
    Input("b", Distribution.RECTANGULAR, 1.0, "W"),
    Input("c", Distribution.NORMAL, 1.0, "W"),
)


def test_budget_is_ranked() -> None:
    """Derived: 3/√3 and 4/√3 squared are 3 and 16/3, together with 1: 28/3."""
    found = budget([A, B, C], np.array([3.0, -4.0, 1.0]))
    assert [c.source.name for c in found.contributions] == ["b", "a", "c"]
    assert [c.share for c in found.contributions] == pytest.approx([16 / 28, 9 / 28, 3 / 28])
    assert found.standard_uncertainty == pytest.approx(math.sqrt(28 / 3))
    assert [c.limit for c in found.contributions] == [4, 3, None]
    assert found.limits_sum is found.limits_rss is None


def test_limits_add_up() -> None:
    """Derived: 3 and 4 make 5 as a root of squares, and 7 as a sum."""
    found = budget([A, B, C], np.array([3.0, -4.0, 0.0]))
    assert len(found.contributions) == 2
    assert (found.limits_rss, found.limits_sum) == pytest.approx((5, 7))


def test_nothing_contributes() -> None:
    found = budget([A, B], np.zeros(2))
    assert found.contributions == ()
    assert (found.standard_uncertainty, found.limits_sum, found.limits_rss) == (0, 0, 0)


def test_sensitivities_by_calculus() -> None:
    """Derived: partial derivatives of x·y², sin x and a constant at (2, 3)."""

    def model(z: np.ndarray) -> np.ndarray:
        x, y = 2 + z[0], 3 + z[1]
        return np.array([x * y**2, np.sin(x), np.full_like(x, 5.0)])

    expected = [[9, 12], [math.cos(2), 0], [0, 0]]
    # the third derivative of the sine leaves 1e-6/6 of itself
    assert sensitivities(model, 2) == pytest.approx(np.array(expected), abs=1e-6)


@pytest.mark.parametrize("phi", [10.0, 45.0, 75.0, -60.0])
def test_total_and_reactive_power_in_closed_form(phi: float) -> None:
    """Derived: u(W1 + W2) = √2·u and u(Q) = √6·u for equal independent limits of 20 W."""
    u = evaluate_uncertainty(case(phi, CLASS_HALF), settings=Settings(draws=50_000))
    single = 20 / math.sqrt(3)
    found = {q.name: q for q in u.quantities}
    for name, factor in (("total", math.sqrt(2)), ("reactive power", math.sqrt(6))):
        assert found[name].budget.standard_uncertainty == pytest.approx(factor * single, rel=1e-9)
        # 4 standard deviations of an estimate from 50000 draws
        simulated = found[name].simulation.standard_uncertainty
        assert simulated == pytest.approx(factor * single, rel=4 / math.sqrt(2 * 50_000))


def test_a_current_transformers_contribution_in_closed_form() -> None:
    """Derived: dW/dε = W, and for a leading secondary dW/dδ = V·I·sin(angle), here at 30° ± φ."""
    phi = 50.0
    ct = {"current_transformer": {"ct": {"ratio": "10/5 A"}}}
    tolerances = {
        "current_transformer ct: ratio_error": Tolerance(0.004),
        "current_transformer ct: phase_displacement": Tolerance(0.0, 0.4),
    }
    u = evaluate_uncertainty(case(phi, **ct), tolerances, settings=Settings(draws=2000))
    found = {c.source.name: c.sensitivity for c in u["W1"].budget.contributions}
    W1, _ = readings_of(phi)
    assert found["ratio error of ct in L1"] == pytest.approx(0.004 * W1, rel=1e-6)
    turned = V * I * math.sin(math.radians(30 + phi)) * math.radians(0.4)
    assert found["phase displacement of ct in L1"] == pytest.approx(turned, rel=1e-5)


def simulation(values: np.ndarray) -> Simulation:
    return Simulation(np.sort(values), 0.95, stable=True)


def test_validation_of_a_normal_quantity() -> None:
    """Derived: k = 1.96 at 95 %."""
    normal = simulation(np.random.default_rng(1).normal(100, 3, 400_000))
    checked = validate(100.0, 3.0, normal)
    assert checked.interval == pytest.approx((100 - 5.880, 100 + 5.880), abs=0.001)
    assert checked.tolerance == 0.5
    assert checked.valid


def test_validation_fails_for_one_rectangle() -> None:
    """Derived: 95 % of a rectangle ±a are within 0.95·a, and 1.96·a/√3 = 1.13·a."""
    a = 4 * math.sqrt(3)  # u = 4
    flat = simulation(np.random.default_rng(2).uniform(-a, a, 400_000))
    checked = validate(0.0, 4.0, flat)
    expected = (1.96 / math.sqrt(3) - 0.95) * a
    assert checked.differences == pytest.approx((expected, expected), abs=0.03)
    assert checked.tolerance == 0.5
    assert not checked.valid

"""Numbers of reference/standards.md, section 8, with the marks they have there."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.findings.uncertainty.evaluation import evaluate_uncertainty
from simulator.findings.uncertainty.inputs import Distribution, Tolerance
from simulator.findings.uncertainty.model import Quantity
from simulator.findings.uncertainty.monte_carlo import Settings
from tests.findings.uncertainty.base import (
    CLASS_HALF,
    ELECTRONIC,
    I,
    V,
    angle_of,
    case,
    readings_of,
)

QUICK = Settings(draws=20_000)
KILOWATT = {"accuracy_class": 0.5, "current_range": "10 A", "voltage_range": "100 V"}


def test_class_half_of_one_kilowatt() -> None:
    """Limit 5 W, u = 2.887 W; sum of two, independent: U(k = 2) = 8.165 W (CALC).

    Rectangular ±a: u = a/√3 (JCGM 100, 4.3.7; MEM, high).
    """
    u = evaluate_uncertainty(case(40.0, KILOWATT), settings=QUICK)
    (contribution,) = u["W1"].budget.contributions
    assert contribution.limit == pytest.approx(5, rel=1e-9)
    assert contribution.standard_uncertainty == pytest.approx(2.887, abs=0.0005)
    total = u.of(Quantity.TOTAL)
    assert 2 * total.budget.standard_uncertainty == pytest.approx(8.165, abs=0.0005)
    assert 2 * total.simulation.standard_uncertainty == pytest.approx(8.165, rel=0.02)
    assert total.budget.limits_sum == pytest.approx(10, rel=1e-9)


def test_sensitivities_of_the_power_factor() -> None:
    """100 and 300 W: 2.42977e-3 and −8.09924e-4 per W (CALC against finite differences)."""
    # derived: W1/W2 = 1/3 where tan φ = √3·(300 − 100)/400, and W1 + W2 = 400 W at V·I = S/√3
    phi = math.degrees(math.atan(math.sqrt(3) / 2))
    factor = evaluate_uncertainty(case(phi, CLASS_HALF), settings=QUICK).of(Quantity.POWER_FACTOR)
    W1, W2 = readings_of(phi)
    assert pytest.approx(3, rel=1e-12) == W2 / W1
    per_watt = {
        c.source.name[-2:]: c.sensitivity / (0.005 * V * I) * (W1 / 100)
        for c in factor.budget.contributions
    }
    assert per_watt["W1"] == pytest.approx(2.42977e-3, abs=5e-9)
    assert per_watt["W2"] == pytest.approx(-8.09924e-4, abs=5e-10)


@pytest.mark.parametrize(
    "phi", [0.0, 20.0, 36.86989764584401, 60.0, 75.0, 84.26082952273322, -50.0]
)
def test_uncertainty_of_the_angle(phi: float) -> None:
    """u(φ) = (2u/(√3·V·I))·√(1 + ½·cos 2φ), u(cos φ) = sin φ·u(φ) (CALC + Monte Carlo)."""
    u = evaluate_uncertainty(case(phi, CLASS_HALF), settings=QUICK)
    watts = 0.005 * V * I / math.sqrt(3)
    expected = (
        2 * watts / (math.sqrt(3) * V * I) * math.sqrt(1 + math.cos(2 * math.radians(phi)) / 2)
    )
    angle, factor = u.of(Quantity.ANGLE), u.of(Quantity.POWER_FACTOR)
    assert math.radians(angle.budget.standard_uncertainty) == pytest.approx(expected, rel=1e-6)
    assert factor.budget.standard_uncertainty == pytest.approx(
        abs(math.sin(math.radians(phi))) * expected, rel=1e-5, abs=1e-12
    )
    simulated = math.radians(angle.simulation.standard_uncertainty)
    assert simulated == pytest.approx(expected, rel=0.02)
    assert any("told from lead" in remark for remark in u.remarks) == (phi == 0)


def test_linear_law_fails_at_unity() -> None:
    """u(φ) = 0.234°, mean shift −8.3e-6, standard deviation 9.9e-6 (CALC), linear u(pf) = 0."""
    u = evaluate_uncertainty(case(0.0, CLASS_HALF), settings=Settings(draws=400_000))
    angle, factor = u.of(Quantity.ANGLE), u.of(Quantity.POWER_FACTOR)
    assert angle.budget.standard_uncertainty == pytest.approx(0.234, abs=0.0005)
    assert factor.budget.standard_uncertainty == 0
    assert not factor.validation.valid
    assert factor.simulation.mean - 1 == pytest.approx(-8.3e-6, abs=0.05e-6)
    assert factor.simulation.standard_uncertainty == pytest.approx(9.9e-6, abs=0.05e-6)
    # one-sided below 1: the shortest interval reaches it, the symmetric one does not
    assert factor.interval == factor.simulation.shortest
    assert factor.interval[1] == pytest.approx(1, abs=1e-12)
    assert factor.simulation.symmetric[1] < 1 - 1e-10
    assert sum("linear law fails" in remark for remark in u.remarks) == 1
    assert sum("Lag cannot be told from lead" in remark for remark in u.remarks) == 1


def test_linear_law_holds_away_from_unity() -> None:
    """Normal errors, a curvature that is small against them: both laws must agree (derived)."""
    percent = {"instrument portable: gain_error": Tolerance(0.01, 0.0, Distribution.NORMAL)}
    settings = Settings(digits=1, draws=200_000)
    u = evaluate_uncertainty(case(45.0, ELECTRONIC), percent, settings=settings)
    for quantity in u.quantities:
        assert quantity.validation.valid, quantity.name
    assert u.remarks == ()


@pytest.mark.parametrize(
    ("power_factor", "percent", "digit"),
    [(0.8, 0.27, 2), (0.5, 0.50, 2), (0.3, 0.81, 2), (0.1, 2.4, 1)],
)
def test_relative_uncertainty_grows_at_low_power_factors(
    power_factor: float, percent: float, digit: int
) -> None:
    """u(pf)/pf = tan φ·u(φ): 0.27 % at 0.8, 0.50 % at 0.5, 0.81 % at 0.3, 2.4 % at 0.1 (CALC)."""
    u = evaluate_uncertainty(case(angle_of(power_factor), CLASS_HALF), settings=QUICK)
    factor = u.of(Quantity.POWER_FACTOR)
    relative = 100 * factor.budget.standard_uncertainty / factor.value
    assert relative == pytest.approx(percent, abs=0.5 * 10**-digit)
    assert 100 * factor.simulation.standard_uncertainty / factor.value == pytest.approx(
        relative, rel=0.02
    )
    said = [remark for remark in u.remarks if "tan φ" in remark]
    assert len(said) == (power_factor < 0.5)


def test_power_factor_against_a_simulation_written_out() -> None:
    """Derived: the same model on plain arrays, W = V·I·cos(30° ± φ) and uniform errors of ±20 W."""
    u = evaluate_uncertainty(case(75.0, CLASS_HALF), settings=Settings(draws=200_000))
    random = np.random.default_rng(7)
    W1, W2 = (W + random.uniform(-20, 20, 400_000) for W in readings_of(75.0))
    # standards.md, section 8: cos φ = (W1 + W2)/(2·√(W1² − W1·W2 + W2²)) (CALC)
    factors = (W1 + W2) / (2 * np.sqrt(W1**2 - W1 * W2 + W2**2))
    found = u.of(Quantity.POWER_FACTOR).simulation
    assert found.mean == pytest.approx(factors.mean(), abs=3e-5)
    assert found.standard_uncertainty == pytest.approx(factors.std(), rel=0.01)
    assert found.symmetric == pytest.approx(np.quantile(factors, [0.025, 0.975]), abs=1e-4)

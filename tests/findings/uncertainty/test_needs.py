"""Numbers of design/needs.md, needs 13, 14 and 32: derived there from phasors, not published.

Each is checked to the digits printed there.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

import simulator
from simulator.findings.uncertainty.evaluation import evaluate_uncertainty
from simulator.findings.uncertainty.inputs import Distribution, Tolerance
from simulator.findings.uncertainty.model import Quantity
from simulator.findings.uncertainty.monte_carlo import Settings
from tests.findings.uncertainty.base import ELECTRONIC, angle_of, case, document

QUICK = Settings(draws=20_000)
# Need 13: 1 % of each reading is a standard uncertainty.
ONE_PERCENT = {"instrument portable: gain_error": Tolerance(0.01, 0.0, Distribution.NORMAL)}
THIRTY_MINUTES = {"current_transformer ct: phase_displacement": Tolerance(0.0, 0.5)}
IDEAL_CT = {"ct": {"ratio": "10/5 A"}}
CLASS_HALF_CT = {"ct": {"ratio": "10/5 A", "accuracy_class": "0.5"}}  # 0.5 % and 30′ at 100 %
HALF_PERCENT = {"instrument portable: gain_error": Tolerance(0.005)}


@pytest.mark.parametrize(
    ("power_factor", "percent", "digit"),
    [(1, 0.71, 2), (0.5, 1.0, 1), (0.259, 1.68, 2), (0.1, 4.12, 2), (0.0175, 23.4, 1)],
)
def test_need_13_total(power_factor: float, percent: float, digit: int) -> None:
    scenario = case(angle_of(power_factor), ELECTRONIC)
    total = evaluate_uncertainty(scenario, ONE_PERCENT, settings=QUICK).of(Quantity.TOTAL)
    relative = 100 * total.budget.standard_uncertainty / total.value
    # 0.259 and 0.0175 are three-digit power factors of 75° and 89°
    slack = 0.002 * percent if power_factor in (0.259, 0.0175) else 0.0
    assert relative == pytest.approx(percent, abs=0.5 * 10**-digit + slack)
    # derived: u² = (u₁² + u₂²) for independent readings
    W1, W2 = (np.cos(np.radians(30 + s * angle_of(power_factor))) for s in (1, -1))
    assert relative == pytest.approx(math.hypot(W1, W2) / (W1 + W2), rel=1e-6)
    simulated = 100 * total.simulation.standard_uncertainty / total.value
    assert simulated == pytest.approx(relative, rel=0.02)  # 4 standard deviations of 1/√(2·20000)


def test_need_13_at_unity() -> None:
    """u(φ) = 0.70° and u(pf) about 7e-5 by simulation; lag or lead unknown; Q 0 ± 1.2 % of P."""
    u = evaluate_uncertainty(case(0.0, ELECTRONIC), ONE_PERCENT, settings=Settings(draws=100_000))
    angle, factor = u.of(Quantity.ANGLE), u.of(Quantity.POWER_FACTOR)
    reactive, total = u.of(Quantity.REACTIVE), u.of(Quantity.TOTAL)
    assert angle.budget.standard_uncertainty == pytest.approx(0.70, abs=0.005)
    assert angle.simulation.standard_uncertainty == pytest.approx(0.70, abs=0.01)
    # derived: φ is normal with u = √(3/2)·1 % of a radian, so 1 − pf is φ²/2 with the mean u²/2,
    # the "about 7e-5" of the need, and the standard deviation u²/√2
    squared = 1.5e-4
    assert squared / 2 == pytest.approx(7e-5, abs=0.5e-5)
    assert 1 - factor.simulation.mean == pytest.approx(squared / 2, rel=0.02)
    assert factor.simulation.standard_uncertainty == pytest.approx(squared / 2**0.5, rel=0.03)
    assert factor.budget.standard_uncertainty == 0
    assert 100 * reactive.budget.standard_uncertainty / total.value == pytest.approx(1.2, abs=0.05)
    assert any("Lag cannot be told from lead" in remark for remark in u.remarks)


def test_need_13_at_one_half() -> None:
    """With W1 = 0 an error in percent of a reading leaves the power factor alone: u(pf) = 0."""
    u = evaluate_uncertainty(case(60.0, ELECTRONIC), ONE_PERCENT, settings=QUICK)
    factor = u.of(Quantity.POWER_FACTOR)
    assert factor.value == pytest.approx(0.5, rel=1e-12)
    assert factor.budget.standard_uncertainty < 1e-9
    assert factor.simulation.standard_uncertainty < 1e-9


def test_need_13_monte_carlo_at_75_degrees() -> None:
    u = evaluate_uncertainty(case(75.0, ELECTRONIC), ONE_PERCENT, settings=Settings(draws=200_000))
    total, factor = u.of(Quantity.TOTAL), u.of(Quantity.POWER_FACTOR)
    percent = 100 * total.simulation.standard_uncertainty / total.value
    assert percent == pytest.approx(1.68, abs=0.01)
    assert factor.simulation.standard_uncertainty == pytest.approx(0.0029, abs=0.00005)


@pytest.mark.parametrize(
    ("power_factor", "percent"), [(0.8, 0.65), (0.5, 1.51), (0.2, 4.27), (0.1, 8.68)]
)
def test_need_14_same_angle_on_both_meters(power_factor: float, percent: float) -> None:
    """100·(cos(φ−b)/cos φ − 1) for b = 30′: the highest that a shared transformer allows."""
    scenario = case(angle_of(power_factor), current_transformer=IDEAL_CT)
    u = evaluate_uncertainty(scenario, THIRTY_MINUTES, shared=["ct"], settings=QUICK)
    total = u.of(Quantity.TOTAL)
    assert total.worst_case is not None
    assert 100 * (total.worst_case[1] / total.value - 1) == pytest.approx(percent, abs=0.005)


@pytest.mark.parametrize(
    ("power_factor", "line", "percent"),
    [(1.0, "L1", 0.25), (1.0, "L3", -0.25), (0.2, "L1", 2.39), (0.2, "L3", 1.88)],
)
def test_need_14_only_one_of_two_meters(power_factor: float, line: str, percent: float) -> None:
    """The change of the total for +30′ in one line; low meter in L1, high meter in L3."""
    tables = document(angle_of(power_factor), current_transformer=IDEAL_CT)
    del tables["method"]
    tables["wattmeter"] = [
        {"name": "W1", "current": "L1", "voltage": ["L1", "L2"]},
        {"name": "W2", "current": "L3", "voltage": ["L3", "L2"]},
    ]
    tables["wattmeter"][line == "L3"]["current_transformer"] = "ct"
    tables["total"] = {"power": "W1 + W2"}
    u = evaluate_uncertainty(simulator.scenario_from(tables), THIRTY_MINUTES, settings=QUICK)
    total = u.of(Quantity.TOTAL)
    (turned,) = total.budget.contributions
    assert turned.source.name == f"phase displacement of ct in {line}"
    end = total.worst_case[turned.sensitivity > 0]
    assert 100 * (end / total.value - 1) == pytest.approx(percent, abs=0.005)


@pytest.mark.parametrize(
    ("power_factor", "percent", "angles"), [(1.0, 0.61, None), (0.8, 0.80, None), (0.3, 2.25, 1.99)]
)
def test_need_32(power_factor: float, percent: float, angles: float | None) -> None:
    """Transformers of class 0.5 (IEC 61869-2, SEEN) at rated current, 0.5 % of each reading."""
    scenario = case(angle_of(power_factor), ELECTRONIC, current_transformer=CLASS_HALF_CT)
    total = evaluate_uncertainty(scenario, HALF_PERCENT, settings=QUICK).of(Quantity.TOTAL)
    assert 100 * total.budget.limits_rss / total.value == pytest.approx(percent, abs=0.005)
    turned = [c.limit for c in total.budget.contributions if "displacement" in c.source.name]
    assert len(turned) == 2
    if angles is not None:
        assert 100 * math.hypot(*turned) / total.value == pytest.approx(angles, abs=0.005)


def test_need_32_both_angles_of_equal_sign() -> None:
    scenario = case(angle_of(0.3), ELECTRONIC, current_transformer=CLASS_HALF_CT)
    u = evaluate_uncertainty(scenario, HALF_PERCENT, shared=["ct"], settings=QUICK)
    total = u.of(Quantity.TOTAL)
    (turned,) = (c for c in total.budget.contributions if "displacement" in c.source.name)
    assert 100 * turned.limit / total.value == pytest.approx(2.77, abs=0.006)

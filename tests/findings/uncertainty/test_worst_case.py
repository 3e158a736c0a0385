"""The worst case within all limits: exact where it can be calculated, and never exceeded."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

import simulator
from simulator.findings.uncertainty.evaluation import evaluate_uncertainty
from simulator.findings.uncertainty.inputs import Distribution, Tolerance
from simulator.findings.uncertainty.linear import sensitivities
from simulator.findings.uncertainty.model import Quantity
from simulator.findings.uncertainty.monte_carlo import Settings
from simulator.findings.uncertainty.worst_case import extremes
from tests.findings.uncertainty.base import CLASS_HALF, ELECTRONIC, case, document
from tests.findings.uncertainty.test_model import model_of

QUICK = Settings(draws=20_000)


def test_products_of_errors() -> None:
    """Derived: (1 + a)(1 + b)·c + d at the corners; beyond the linear law's sum."""
    model = lambda z: ((1 + 0.3 * z[0]) * (1 + 0.2 * z[1]) * 5 + z[2])[None]  # noqa: E731
    low, high = extremes(model, sensitivities(model, 3))
    assert high == pytest.approx(1.3 * 1.2 * 5 + 1)
    assert low == pytest.approx(0.7 * 0.8 * 5 - 1)


def test_turning_point_inside() -> None:
    """Derived: 1 − (x − y + 0.3)² is 1 on a line, and least in a corner."""
    model = lambda z: (1 - (z[0] - z[1] + 0.3) ** 2)[None]  # noqa: E731
    low, high = extremes(model, sensitivities(model, 2))
    assert high == pytest.approx(1)
    assert low == pytest.approx(1 - 2.3**2)


def test_flat_start() -> None:
    """Derived: 1 − (x + y)² has no slope in the middle, where the linear law's corner is."""
    model = lambda z: (1 - (z[0] + z[1]) ** 2)[None]  # noqa: E731
    low, high = extremes(model, sensitivities(model, 2))
    assert (low, high) == (pytest.approx(-3), pytest.approx(1))


def test_power_factor_at_unity() -> None:
    """Derived: W1 20 W down and W2 20 W up gives tan φ = √3·40/6928.2, the least cos φ."""
    factor = evaluate_uncertainty(case(0.0, CLASS_HALF), settings=QUICK).of(Quantity.POWER_FACTOR)
    phi = math.atan(math.sqrt(3) * 40 / (math.sqrt(3) * 4000))
    assert factor.worst_case == pytest.approx((math.cos(phi), 1.0), abs=1e-12)


def test_angle_of_a_reading_beyond_its_peak() -> None:
    """Derived: W2 at φ = 30° is V·I·cos 0; turned by 2° either way it can only get less."""
    u = evaluate_uncertainty(
        case(30.0, ELECTRONIC), {"instrument portable: phase_error": Tolerance(0.0, 2.0)},
        settings=QUICK,
    )  # fmt: skip
    low, high = u["W2"].worst_case
    assert (low, high) == pytest.approx((4000 * math.cos(math.radians(2)), 4000), rel=1e-9)


def test_a_standard_uncertainty_has_no_worst_case() -> None:
    u = evaluate_uncertainty(
        case(30.0, CLASS_HALF),
        {"supply: voltage": Tolerance(0.01, 0.0, Distribution.NORMAL)},
        settings=QUICK,
    )
    total = u.of(Quantity.TOTAL)
    assert total.worst_case is None
    assert total.budget.limits_sum is total.budget.limits_rss is None
    assert [c.limit is None for c in total.budget.contributions].count(True) == 1


def random_case(random: np.random.Generator) -> tuple[dict, dict[str, Tolerance]]:
    """Anything uncertain at once; also the angle near 0, where the power factor turns round."""
    phi = float(random.choice([0.0, *random.uniform(-80, 85, 3)]))
    ct = {"ratio": f"{random.choice([10, 15, 40])}/5 A", "accuracy_class": "1"}
    if random.random() < 0.5:
        ct["accuracy_class"] = "0.6"  # IEEE C57.13: a parallelogram
    vt = {"ratio": "400/100 V", "accuracy_class": str(random.choice(["0.5", "1", "0.3"]))}
    instrument = {"accuracy_class": 1, "current_range": "5 A", "voltage_range": "100 V"}
    instrument |= {"voltage_circuit": "5 kohm"}
    tables = document(
        phi, instrument, current_transformer={"ct": ct}, voltage_transformer={"vt": vt}
    )
    tolerances = {"motor": Tolerance(0.1, 5.0), "supply: L2": Tolerance(0.05, 2.0)}
    tolerances["instrument portable: voltage_circuit"] = Tolerance(0.02, 0.3)
    chosen = [key for key in tolerances if random.random() < 0.6]
    return tables, {key: tolerances[key] for key in chosen}


@pytest.mark.parametrize("seed", range(12))
def test_nothing_is_beyond_the_worst_case(seed: int) -> None:
    """No draw, and no corner of all limits; with few inputs, of which all corners are tried."""
    random = np.random.default_rng(seed)
    tables, tolerances = random_case(random)
    u = evaluate_uncertainty(simulator.scenario_from(tables), tolerances, settings=QUICK)
    model, _, sources = model_of(tables, tolerances)
    n = len(sources.inputs)
    corners = random.choice([-1.0, 1.0], (n, 4000))
    if n <= 12:
        corners = np.array(list(itertools.product([-1.0, 1.0], repeat=n))).T
    values = replace(model, pair=("W1", "W2")).evaluate(corners)
    for row, quantity in zip(values, u.quantities, strict=True):
        low, high = quantity.worst_case
        drawn = quantity.simulation.values
        rounding = 1e-12 * max(abs(low), abs(high))
        assert low - rounding <= min(row.min(), drawn[0]), quantity.name
        assert max(row.max(), drawn[-1]) <= high + rounding, quantity.name
        if n <= 12:  # the ends are corners, or lie inside where a quantity turns round
            slack = 1e-2 * (high - low)
            assert (low, high) == pytest.approx((row.min(), row.max()), abs=slack), quantity.name

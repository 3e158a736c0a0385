"""Coverage: over many simulated sites the 95 % interval holds the truth about as often.

A site is what an engineer finds: the scenario says what is on the drawings and the name plates, and
the real installation lies somewhere within the tolerances. The real one is drawn here, with random
numbers of its own, and calculated in the usual way through the program as a scenario in which every
deviation is written down; only the error of the instrument is added by hand. Two things are true
there: what the meters read, and what power the loads take.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

import simulator
from simulator.findings.uncertainty.evaluation import evaluate_uncertainty
from simulator.findings.uncertainty.inputs import Distribution, Tolerance
from simulator.findings.uncertainty.model import Quantity
from simulator.findings.uncertainty.monte_carlo import Settings

# IEC 61869-2:2012, tables 201 (SEEN): class 0.5, percent of rated current, error in % and minutes.
POINTS, RATIO, MINUTES = [5, 20, 100, 120], [1.5, 0.75, 0.5, 0.5], [90, 45, 30, 30]
RATED, FULL_SCALE = 20.0, 0.5 * 5 * 400  # A; 5 A, 400 V and rated power factor 0.5, in W
LINES = ("L1", "L2", "L3")


@dataclass(frozen=True)
class Held:
    """What of a site the intervals hold."""

    reading: bool
    total: bool
    power: bool


def scenario_of(Z: np.ndarray, emf: float, transformers: dict[str, Any]) -> dict[str, Any]:
    ohms = (f"{z.real!r}{z.imag:+}j ohm" for z in Z.tolist())
    lines = {"W1": "L1", "W2": "L3"}
    return {
        "title": "site",
        "supply": {"wires": 3, "voltage": f"{emf!r} V", "line_impedance": "0.2+0.1j ohm"},
        "load": [{"name": "site", "connection": "star"} | dict(zip(LINES, ohms, strict=True))],
        "instrument": {
            "portable": {"accuracy_class": 0.5, "voltage_circuit": "20 kohm"}
            | {"current_range": "5 A", "voltage_range": "400 V", "rated_power_factor": 0.5}
        },
        "current_transformer": transformers,
        "wattmeter": [
            {"name": name, "current": line, "voltage": [line, "L2"], "instrument": "portable"}
            | {"current_transformer": f"ct {line}"}
            for name, line in lines.items()
        ],
        "total": {"power": "W1 + W2"},
    }


def visit(seed: int) -> Held:
    random = np.random.default_rng([2024, seed])
    Z = random.uniform(14, 35, 3) * np.exp(1j * np.radians(random.uniform(-30, 75, 3)))
    drawings = {f"ct {line}": {"ratio": "20/5 A", "accuracy_class": "0.5"} for line in ("L1", "L3")}
    scenario = simulator.scenario_from(scenario_of(Z, 400.0, drawings))
    # on half of the sites only the meters are uncertain
    uncertain = seed % 2
    tolerances = {}
    if uncertain:
        tolerances = {f"site: {line}": Tolerance(0.06, 4.0) for line in LINES}
        tolerances["supply: voltage"] = Tolerance(0.015, 0.0, Distribution.NORMAL)
    result = simulator.solve(scenario)
    u = evaluate_uncertainty(
        scenario, tolerances, settings=Settings(draws=10_000, seed=seed), result=result
    )

    plates = {}
    for line, current in zip(LINES, np.abs(result.first.line_currents), strict=True):
        percent = 100 * float(current) / RATED
        ratio, minutes = (np.interp(percent, POINTS, limits) for limits in (RATIO, MINUTES))
        plates[f"ct {line}"] = {
            "ratio": "20/5 A",
            "ratio_error": f"{random.uniform(-ratio, ratio)!r} %",
            "phase_displacement": f"{random.uniform(-minutes, minutes)!r} min",
        }
    emf = 400.0
    if uncertain:
        Z = Z * random.uniform(0.94, 1.06, 3) * np.exp(1j * np.radians(random.uniform(-4, 4, 3)))
        emf *= 1 + 0.015 * random.standard_normal()
    real = simulator.solve(simulator.scenario_from(scenario_of(Z, float(emf), plates)))
    errors = random.uniform(-1, 1, 2) * 0.005 * FULL_SCALE * RATED / 5
    W1, W2 = (real[name].watts + e for name, e in zip(("W1", "W2"), errors, strict=True))

    low, high = u.of(Quantity.ERROR).interval  # of indicated minus true
    return Held(
        reading=_within(W1, u["W1"].interval),
        total=_within(W1 + W2, u.of(Quantity.TOTAL).interval),
        power=_within(real.total.true, (W1 + W2 - high, W1 + W2 - low)),
    )


def _within(value: float, interval: tuple[float, float]) -> bool:
    return interval[0] <= value <= interval[1]


def shares(sites: range) -> dict[str, float]:
    visits = [visit(seed) for seed in sites]
    return {key: float(np.mean([getattr(v, key) for v in visits])) for key in vars(visits[0])}


def test_coverage_of_a_hundred_sites() -> None:
    """By the binomial law 88 or fewer of 100 have a chance of 0.4 %, all 100 one of 0.6 %.

    A standard uncertainty too small by a quarter would hold about 86 %.
    """
    for what, share in shares(range(100)).items():
        assert 0.89 <= share <= 0.99, what


@pytest.mark.heavy
def test_coverage_of_a_thousand_sites() -> None:
    """93 to 97 %, three standard deviations √(0.95·0.05/1000) = 0.7 % either way."""
    for what, share in shares(range(1000)).items():
        assert 0.93 <= share <= 0.97, what

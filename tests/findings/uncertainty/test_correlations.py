"""Which readings share an error, and what that does to their total."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pytest

import simulator
from simulator.errors import ScenarioError
from simulator.findings.uncertainty.evaluation import evaluate_uncertainty
from simulator.findings.uncertainty.inputs import Tolerance
from simulator.findings.uncertainty.model import Quantity
from simulator.findings.uncertainty.monte_carlo import Settings
from tests.findings.uncertainty.base import CLASS_HALF, ELECTRONIC, case

if TYPE_CHECKING:
    from simulator.findings.uncertainty.evaluation import Uncertainty

QUICK = Settings(draws=20_000)
GAIN = {"instrument portable: gain_error": Tolerance(0.005)}
RATIO = {"current_transformer ct: ratio_error": Tolerance(0.005)}
CT = {"current_transformer": {"ct": {"ratio": "10/5 A"}}}


def names(u: Uncertainty) -> list[str]:
    return [each.name for each in u.inputs]


def relative(u: Uncertainty) -> float:
    total = u.of(Quantity.TOTAL)
    assert total is not None
    return total.simulation.standard_uncertainty / total.value


def test_a_common_error_is_the_same_part_of_the_total() -> None:
    """Derived: 0.5 % of each reading, the same on both, is 0.5 % of their sum, at any angle."""
    for phi in (0.0, 45.0, 75.0):
        for scenario, tolerances, shared in (
            (case(phi, ELECTRONIC), GAIN, "portable"),
            (case(phi, **CT), RATIO, "ct"),
        ):
            u = evaluate_uncertainty(scenario, tolerances, shared=[shared], settings=QUICK)
            assert len(u.inputs) == 1
            total = u.of(Quantity.TOTAL)
            assert total.worst_case == pytest.approx((0.995 * total.value, 1.005 * total.value))
            assert relative(u) == pytest.approx(0.005 / math.sqrt(3), rel=0.01)
            own = u["W1"].simulation.standard_uncertainty / abs(u["W1"].value)
            assert own == pytest.approx(relative(u), rel=1e-9)
            # and the power factor, a ratio of readings, does not notice
            assert u.of(Quantity.POWER_FACTOR).simulation.standard_uncertainty < 1e-12


def test_by_default_each_wattmeter_has_units_of_its_own() -> None:
    u = evaluate_uncertainty(case(0.0, ELECTRONIC, **CT), GAIN | RATIO, settings=QUICK)
    assert sorted(names(u)) == [
        "gain error of W1",
        "gain error of W2",
        "ratio error of ct in L1",
        "ratio error of ct in L3",
    ]
    # derived: at φ = 0 both readings are half of the total; four times 0.25 % limit
    assert relative(u) == pytest.approx(0.005 / math.sqrt(3), rel=0.02)


FOUR: dict[str, Any] = {
    "title": "market stalls",
    "supply": {"wires": 4, "voltage": "400 V"},
    "load": [
        {"name": "stalls", "connection": "star", "star_point": "neutral"}
        | {"L1": "20 ohm", "L2": "30 ohm", "L3": "40 ohm"}
    ],
    "instrument": {"clamp": CLASS_HALF},
}


def test_a_moved_wattmeter_is_one_instrument() -> None:
    """Derived: the same ±20 W three times is ±60 W; from three instruments √3·20/√3 = 20 W."""
    moved = FOUR | {"method": {"name": "one wattmeter moved in turn", "instrument": "clamp"}}
    u = evaluate_uncertainty(simulator.scenario_from(moved), settings=QUICK)
    assert names(u) == ["accuracy class 0.5 of the moved clamp"]
    total = u.of(Quantity.TOTAL)
    assert total.worst_case == pytest.approx((total.value - 60, total.value + 60))
    assert total.budget.standard_uncertainty == pytest.approx(60 / math.sqrt(3))
    three = FOUR | {"method": {"name": "three wattmeters to neutral", "instrument": "clamp"}}
    total = evaluate_uncertainty(simulator.scenario_from(three), settings=QUICK).of(Quantity.TOTAL)
    assert total.budget.standard_uncertainty == pytest.approx(20)


def test_a_moved_wattmeter_takes_its_transformer_along() -> None:
    moved = FOUR | {
        "method": {"name": "one wattmeter moved in turn", "current_transformer": "jaws"},
        "current_transformer": {"jaws": {"ratio": "20/1 A", "accuracy_class": "0.5"}},
    }
    u = evaluate_uncertainty(simulator.scenario_from(moved), settings=QUICK)
    assert names(u) == [
        "ratio error of jaws of the moved wattmeter",
        "phase displacement of jaws of the moved wattmeter",
    ]
    # one input, but each station has the limits of its own current: largest at the least current
    percent = 100 * 230.94 / 40 / 20  # of the rated current, in L3
    assert percent == pytest.approx(28.87, abs=0.01)
    assert u.inputs[0].size == pytest.approx(0.75 - 0.25 * (percent - 20) / 80, abs=1e-3)


def test_two_moved_wattmeters_are_two() -> None:
    """Two instruments that go from place to place together."""
    tables = FOUR | {
        "wattmeter": [
            {"name": f"{side}{station}", "current": line, "voltage": [line, "N"]}
            | {"station": station, "instrument": "clamp"}
            for station, lines in ((1, ("L1", "L2")), (2, ("L2", "L3")))
            for side, line in zip("AB", lines, strict=True)
        ],
        "total": {"power": "A1 + B1 + A2 + B2"},
    }
    u = evaluate_uncertainty(simulator.scenario_from(tables), settings=QUICK)
    assert names(u) == [
        "accuracy class 0.5 of the moved clamp",
        "accuracy class 0.5 of the moved clamp 2",
    ]
    by_input = {
        name: {c.source.name for c in u[name].budget.contributions} for name in ("A1", "B1", "A2")
    }
    assert by_input["A1"] == by_input["A2"] != by_input["B1"]


def test_a_transformer_serves_the_wattmeters_in_its_conductor() -> None:
    """And a voltage transformer those across its two nodes, whichever way round."""
    tables = {
        "title": "one line, two wattmeters",
        "supply": {"wires": 3, "voltage": "400 V"},
        "load": [{"connection": "star", "each": "23 ohm"}],
        "current_transformer": {"ct": {"ratio": "20/5 A", "accuracy_class": "1"}},
        "voltage_transformer": {"vt": {"ratio": "400/100 V", "accuracy_class": "1"}},
        "wattmeter": [
            {"name": name, "current": line, "voltage": ends}
            | {"current_transformer": "ct", "voltage_transformer": "vt"}
            for name, line, ends in (
                ("W1", "L1", ["L1", "L2"]),
                ("W2", "L1", ["L2", "L1"]),
                ("W3", "L3", ["L3", "L2"]),
            )
        ],
    }
    u = evaluate_uncertainty(simulator.scenario_from(tables), settings=QUICK)
    assert [n.removeprefix("ratio error of ") for n in names(u) if n.startswith("ratio")] == [
        "ct in L1",
        "vt at L1-L2",
        "ct in L3",
        "vt at L2-L3",
    ]
    W1, W2 = u["W1"].simulation.values, u["W2"].simulation.values
    assert list(W1) == pytest.approx(list(-W2[::-1]))


def test_unknown_unit() -> None:
    with pytest.raises(ScenarioError, match="did you mean 'portable'"):
        evaluate_uncertainty(case(0.0, CLASS_HALF), shared=["portible"])

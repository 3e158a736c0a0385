"""Very many cases: the compiled route against single solutions, failures, statistics."""

from __future__ import annotations

import copy
import math
import tracemalloc
from typing import Any

import numpy as np
import pytest

from simulator.errors import QuantityError, ScenarioError
from simulator.studies.compilation import compile_model
from simulator.studies.dependence import Dependence
from simulator.studies.prepared import known_quantities, prepare_draws, prepare_sweep
from simulator.studies.run import monte_carlo, monte_carlo_statistics, vary
from simulator.studies.statistics import Accumulator, pilot_of, statistics_of, summarise
from simulator.studies.steps import Steps
from simulator.studies.sweep import Sweep
from tests.studies.documents import EVERYTHING, Document, changed, expected, rows, scenario

STAR: Document = {
    "title": "Star",
    "supply": {"wires": 4, "voltage": "400 V"},
    "load": [
        {
            "name": "ovens",
            "connection": "star",
            "star_point": "neutral",
            "L1": "25 ohm",
            "L2": "25+10j ohm",
            "L3": "40 ohm",
        }
    ],
    "wattmeter": [
        {"name": "W1", "current": "L1", "voltage": ["L1", "L2"]},
        {"name": "W2", "current": "L3", "voltage": ["L3", "L2"]},
    ],
    "total": {"power": "W1 + W2"},
}


def ohms(Z: complex) -> str:
    return f"{Z.real!r}{Z.imag:+.17g}j ohm"


def test_random_cases_are_those_of_single_solutions() -> None:
    # every kind of number that a table of the file can hold, drawn at once
    distributions = {
        "ovens: L1": "normal 10 %, 5 deg",
        "ovens: L2": "uniform 20 %",
        "supply: voltage": "normal 2 %",
        "lathe: total power": "uniform 0.5 kW",
        "lamps: L2 capacitance": "uniform 20 %",
        "drive: slip": "uniform 0.01",
        "current_transformer stated: phase_displacement": "normal 5 min",
        "instrument static: gain_error": "normal 0.1 %",
        "instrument corrected: voltage_circuit": "uniform 5 %",
    }
    study = monte_carlo(scenario(EVERYTHING), distributions, cases=1500, seed=5)
    values = {axis.name: axis.values for axis in study.axes}
    found = rows(study)
    assert not study.failed
    for k in (0, 700, 1499):
        case = {name: each[k].item() for name, each in values.items()}
        document = copy.deepcopy(EVERYTHING)
        put: list[tuple[tuple[str | int, ...], Any]] = [
            (("load", 0, "L1"), ohms(case["ovens: L1"])),
            (("load", 0, "L2"), ohms(case["ovens: L2"])),
            (("supply", "voltage"), f"{case['supply: voltage']!r} V"),
            (("load", 1, "total", "power"), f"{case['lathe: total power']!r} W"),
            (("load", 2, "L2", "capacitance"), f"{case['lamps: L2 capacitance']!r} F"),
            (("load", 3, "slip"), case["drive: slip"]),
            (
                ("current_transformer", "stated", "phase_displacement"),
                f"{case['current_transformer stated: phase_displacement']!r} deg",
            ),
            (
                ("instrument", "static", "gain_error"),
                f"{case['instrument static: gain_error']!r} %",
            ),
            (
                ("instrument", "corrected", "voltage_circuit"),
                ohms(case["instrument corrected: voltage_circuit"]),
            ),
        ]
        for address, value in put:
            document = changed(document, *address, value=value)
        wanted = [*expected(document).values()]
        assert found[:, k].tolist() == pytest.approx(wanted, rel=1e-9, abs=1e-7)


def test_a_grid_runs_through_its_last_quantity_fastest() -> None:
    written = scenario(STAR)
    first, second = ["10 ohm", "20 ohm"], Steps("5 ohm", "500 ohm", 700)
    study = vary(written, {"ovens: L1": first, "ovens: L3": second})
    assert study.shape == (2, 700)
    assert [len(axis.values) for axis in study.axes] == [2, 700]
    assert study.readings["W2"].shape == study.true.shape == (2, 700)
    # on a neutral without impedance W2 has to do with L3 alone: 400²·cos 30°/√3/Z
    ohm = np.linspace(5, 500, 700)
    reading = 400 * 400 / math.sqrt(3) * math.cos(math.pi / 6) / ohm
    for row in study.readings["W2"]:
        assert row == pytest.approx(reading, rel=1e-12)
    columns = study.columns()
    assert columns[0].tolist()[:2] == [10, 10]
    assert columns[0].tolist()[699:701] == [10, 20]
    assert columns[1].tolist()[:700] == study.axes[1].values.tolist()


def test_together_is_first_with_first() -> None:
    values = {"ovens: L1": ["10 ohm", "20 ohm", "30 ohm"], "ovens: L3": ["1 ohm", "2 ohm", "3 ohm"]}
    study = vary(scenario(STAR), values, together=True)
    grid = vary(scenario(STAR), values)
    assert study.shape == (3,)
    assert study.true.tolist() == pytest.approx(np.diag(grid.true).tolist(), rel=1e-14)


def test_a_case_without_a_solution_is_named_and_spoils_no_other() -> None:
    # the star point of an isolated star whose three branches are open floats
    document = changed(STAR, "load", 0, "star_point", value="P")
    document["voltmeter"] = [{"name": "V1", "between": ["P", "N"]}]
    opens = ["20 ohm", "open"]
    study = vary(scenario(document), {f"ovens: L{k}": opens for k in (1, 2, 3)})
    assert list(study.failed) == [7]
    assert "'P'" in study.failed[7]
    assert "load ovens L3" in study.failed[7]
    for values in (*study.readings.values(), study.true):
        assert np.isfinite(values.ravel()[:7]).all()
        assert np.isnan(values.ravel()[7])
    two_open = vary(scenario(document), {"ovens: L1": ["open"], "ovens: L2": ["open"]})
    assert two_open.readings["V1"].ravel()[0] == pytest.approx(400 / math.sqrt(3), rel=1e-12)


def test_among_many_cases_too() -> None:
    document = changed(STAR, "load", 0, "star_point", value="isolated")
    steps = [f"{k} ohm" for k in range(1, 1500)]
    together = {
        "ovens: L1": ["open", *steps],
        "ovens: L2": ["open", *steps],
        "ovens: L3": ["open", *reversed(steps)],
    }
    study = vary(scenario(document), together, together=True)
    assert list(study.failed) == [0]
    assert "floats" in study.failed[0] or "potential" in study.failed[0]
    assert np.isfinite(study.true[1:]).all()
    assert np.isnan(study.true[0])


def test_a_first_case_that_contradicts_the_file_fails_alone() -> None:
    document = copy.deepcopy(STAR)
    rating = {"power": "4 kW", "apparent_power": "5 kVA"}
    document["load"] = [{"name": "ovens", "connection": "delta", "total": rating}]
    study = vary(scenario(document), {"ovens: total power": ["6 kW", "3 kW"]})
    assert list(study.failed) == [0]
    assert study.true[1] == pytest.approx(3000, rel=1e-12)
    with pytest.raises(ScenarioError, match="is larger than the apparent power"):
        vary(scenario(document), {"ovens: total power": ["6 kW", "7 kW"]})


def test_a_rare_decision_of_the_file_is_taken_for_its_case_alone() -> None:
    document = copy.deepcopy(STAR)
    document["supply"] = {"wires": 4, "sequence_voltages": {"positive": "230 V"}}
    rating = {"power": "4 kW", "power_factor": "0.8 lag"}
    document["load"] = [{"name": "ovens", "connection": "delta", "total": rating}]
    positive = [f"{volts} V" for volts in range(1, 1500)]
    positive[1234] = "0 V"  # then the rating refers to no voltage
    study = vary(scenario(document), {"supply: positive": positive})
    assert list(study.failed) == [1234]
    assert "the supply has no single nominal voltage" in study.failed[1234]
    powers = [f"{watts} W" for watts in range(1, 1500)]
    powers[1234] = "0 W"
    study = vary(scenario(document), {"ovens: total power": powers})
    assert list(study.failed) == [1234]
    assert "a power of 0 W contradicts the power factor 0.8" in study.failed[1234]
    good = [k for k in range(1499) if k != 1234]
    # on its nominal voltage a load by its rating takes its rated power
    assert study.true[good] == pytest.approx(np.array(good) + 1.0, rel=1e-12)


@pytest.mark.parametrize(
    ("path", "address", "rare"),
    [
        ("instrument portable: voltage_circuit", ("instrument", "portable"), "open"),
        ("lamps: L2 resistance", ("load", 2, "L2"), "0 ohm"),
        ("ovens: L1", ("load", 0), "open"),
        ("current_transformer built: winding", ("current_transformer", "built"), "1e-9 ohm"),
        ("voltage_transformer built: winding", ("voltage_transformer", "built"), "1e-9 ohm"),
    ],
)
def test_a_rare_case_where_arithmetic_gives_no_number(path: str, address: Any, rare: str) -> None:
    # inf/inf, 1/0 in an admittance; one that stays a number; and one far from the usual, which
    # is audited
    values = [f"{ohm} ohm" for ohm in range(1, 1500)]
    values[1024] = rare
    study = vary(scenario(EVERYTHING), {path: values})
    key = path.rsplit(maxsplit=1)[-1]
    document = changed(EVERYTHING, *address, key, value=rare)
    wanted = [*expected(document).values()]
    assert rows(study)[:, 1024].tolist() == pytest.approx(wanted, rel=1e-9, abs=1e-7)


def test_impossible_draws_fail_alone() -> None:
    # a power factor of 0.98 with a spread of 0.01 is beyond 1 in about 2.3 % of the cases, more
    # than two standard deviations (from memory: Φ(−2) = 0.02275)
    document = copy.deepcopy(STAR)
    document["load"] = [
        {
            "name": "ovens",
            "connection": "delta",
            "total": {"power": "4 kW", "power_factor": "0.98 lag"},
        }
    ]
    study = monte_carlo(
        scenario(document), {"ovens: total power_factor": "normal 0.01"}, cases=4000
    )
    drawn = study.axes[0].values
    assert list(study.failed) == np.flatnonzero(drawn > 1).tolist()
    assert len(study.failed) == pytest.approx(91, abs=40)
    message = study.failed[next(iter(study.failed))]
    assert message.startswith("ovens: total power_factor: expected a power factor from 0 to 1, got")
    good = np.isfinite(study.true)
    assert good.sum() == 4000 - len(study.failed)
    # on its nominal voltage a load by its rating takes its rated power whatever its power factor
    assert study.true[good] == pytest.approx(np.full(good.sum(), 4000.0), rel=1e-12)


def test_values_that_contradict_the_file_fail_alone() -> None:
    document = copy.deepcopy(STAR)
    rating = {"power": "4 kW", "apparent_power": "5 kVA"}
    document["load"] = [{"name": "ovens", "connection": "delta", "total": rating}]
    study = vary(scenario(document), {"ovens: total power": ["3 kW", "6 kW", "4 kW"]})
    assert list(study.failed) == [1]
    assert "the power of 6000 is larger than the apparent power of 5000 VA" in study.failed[1]
    assert study.true.tolist() == pytest.approx([3000, math.nan, 4000], rel=1e-12, nan_ok=True)
    powers, volts = ["3 kW", "6 kW", "4 kW"], ["400 V", "410 V"]
    both = {"supply: voltage": volts, "ovens: total power": powers}
    study = vary(scenario(document), both)
    assert list(study.failed) == [1, 4]
    wanted = pytest.approx([3000, math.nan, 4000], rel=1e-12, nan_ok=True)
    assert [row.tolist() for row in study.true] == [wanted, wanted]


@pytest.mark.parametrize("path", sorted(known_quantities(scenario(EVERYTHING))))
def test_no_quantity_is_converted_case_by_case(path: str, monkeypatch: Any) -> None:
    written = scenario(EVERYTHING)
    quantity = known_quantities(written)[path]
    own = quantity.base
    if own is None:
        own = 20 + 1j if quantity.kind.is_complex else 0.9
    values = np.linspace(0.5, 0.9, 1000) * (own or 1.0)
    cases = Sweep((quantity,), (values if np.imag(own) else np.real(values),))
    dependence = compile_model(written, cases).dependence
    asked = []
    convert = Dependence.of
    monkeypatch.setattr(Dependence, "of", lambda *given: asked.append(1) or convert(*given))
    numbers, failed = dependence.entries(cases.columns(0, 1000))
    assert len(numbers)
    assert not failed
    assert len(asked) == 1
    # all of it again, case by case
    for k in (0, 500, 999):
        alone = convert(dependence, [cases.values[0][k].item()])
        assert numbers[:, k] == pytest.approx([alone[name] for name in dependence.names], rel=1e-14)


def test_few_impossible_cases_are_found_by_halves(monkeypatch: Any) -> None:
    document = copy.deepcopy(STAR)
    rating = {"power": "4 kW", "apparent_power": "5 kVA"}
    document["load"] = [{"name": "ovens", "connection": "delta", "total": rating}]
    prepared = prepare_sweep(scenario(document), {"ovens: total power": ["3 kW", "4 kW"]})
    dependence = prepared.model.dependence
    powers = np.linspace(1000, 4900, 4096)
    powers[[700, 3000]] = 5100, 7000
    asked = []
    convert = Dependence.of
    monkeypatch.setattr(Dependence, "of", lambda *given: asked.append(1) or convert(*given))
    numbers, failed = dependence.entries([powers])
    assert sorted(failed) == [700, 3000]
    assert np.isnan(numbers).any(axis=0).nonzero()[0].tolist() == [700, 3000]
    assert len(asked) <= 1 + 2 * 2 * 12  # derived: two paths down to one of 2^12


def test_numbers_of_impossible_cases_are_none() -> None:
    dependence = prepare_sweep(scenario(STAR), {"ovens: L1": ["1 ohm", "2 ohm"]}).model.dependence
    numbers, failed = dependence.entries([np.array([5, -5, 7 + 1j])])
    assert list(failed) == [1]
    assert np.isnan(numbers[:, 1]).all()
    assert numbers[0, [0, 2]].tolist() == [5, 7 + 1j]


def test_draws_have_the_spread_that_was_asked_for() -> None:
    # derived: limits of four standard errors, 1/√n of a standard deviation and 1/√(2n) of itself
    n = 40_000
    study = monte_carlo(
        scenario(STAR),
        {
            "ovens: L1": "normal 2 %",
            "ovens: L2": "uniform 5 %, 3 deg",
            "supply: voltage": "normal 4 V",
            "ovens: unbalance L3": "uniform 10 %",
        },
        cases=n,
        seed=11,
    )
    L1, L2, U, unbalance = (axis.values for axis in study.axes)
    assert not np.imag(L1).any()
    assert L1.real.mean() == pytest.approx(25, abs=4 * 0.5 / math.sqrt(n))
    assert L1.real.std() == pytest.approx(0.5, rel=4 / math.sqrt(2 * n))
    size, angle = np.abs(L2), np.degrees(np.angle(L2))
    nominal = abs(25 + 10j)
    assert size.min() >= 0.95 * nominal
    assert size.max() <= 1.05 * nominal
    assert size.std() == pytest.approx(0.05 * nominal / math.sqrt(3), rel=0.02)
    assert abs(angle - math.degrees(math.atan2(10, 25))).max() <= 3
    assert angle.std() == pytest.approx(math.sqrt(3), rel=0.02)
    assert abs(np.corrcoef(size, angle)[0, 1]) < 4 / math.sqrt(n)
    assert U.mean() == pytest.approx(400, abs=4 * 4 / math.sqrt(n))
    assert U.std() == pytest.approx(4, rel=4 / math.sqrt(2 * n))
    assert unbalance.min() >= -10
    assert unbalance.std() == pytest.approx(10 / math.sqrt(3), rel=0.02)


@pytest.mark.parametrize("shapes", [("normal", "normal"), ("normal", "uniform"), ("uniform",) * 2])
@pytest.mark.parametrize("coefficient", [-0.9, 0.5])
def test_correlations_are_pearsons(shapes: tuple[str, str], coefficient: float) -> None:
    n = 60_000
    spread = {f"ovens: L{k}": f"{shape} 3 %" for k, shape in enumerate(shapes, 1)}
    study = monte_carlo(
        scenario(STAR),
        spread | {"ovens: L3": "normal 1 %"},
        cases=n,
        correlations={("ovens: L1", "ovens: L2"): coefficient},
    )
    one, other, third = (np.abs(axis.values) for axis in study.axes)
    assert np.corrcoef(one, other)[0, 1] == pytest.approx(coefficient, abs=4 / math.sqrt(n))
    assert np.corrcoef(one, third)[0, 1] == pytest.approx(0, abs=4 / math.sqrt(n))
    for shape, values, base in zip(shapes, (one, other), (25, abs(25 + 10j)), strict=True):
        part = 0.03 if shape == "normal" else 0.03 / math.sqrt(3)
        assert values.std() == pytest.approx(part * base, rel=4 / math.sqrt(n))
        if shape == "uniform":
            assert abs(values - base).max() <= 0.03 * base


def test_complete_correlation_is_one_number() -> None:
    pair = ("ovens: L1", "ovens: L3")
    study = monte_carlo(
        scenario(STAR),
        dict.fromkeys(pair, "normal 3 %"),
        cases=100,
        correlations={pair: 1.0},
    )
    one, other = (np.real(axis.values) for axis in study.axes)
    assert (one / 25).tolist() == pytest.approx((other / 40).tolist(), rel=1e-7)


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        (["ovens: L1 about 2 %"], "expected a quantity, 'normal' or 'uniform'"),
        (["normal 2 %"], "expected a quantity, 'normal' or 'uniform'"),
        (["ovens: L9 normal 2 %"], "no quantity 'ovens: L9' to vary; did you mean 'ovens: L"),
        (["ovens: L1 normal"], "expected a quantity, 'normal' or 'uniform'"),
        (["ovens: L1 normal two"], "ovens: L1: expected a spread above zero, for example '2 %'"),
        (["ovens: L1 normal 0 %"], "expected a spread above zero"),
        (["ovens: L1 normal -2 %"], "expected a spread above zero"),
        (["ovens: L1 normal 2 V"], "expected a spread above zero"),
        (["ovens: L1 normal 2 %, 3"], "expected an angle"),
        (["ovens: L1 normal 2 %, 0 deg"], "expected a spread above zero, for example '1 deg'"),
        (["supply: voltage normal 2 %, 1 deg"], "it has no angle that could spread"),
        (["ovens: each normal 2 %"], "it has no single value in the scenario to spread around"),
        (["ovens: lead_impedance normal 2 %"], "which is a part of zero"),
        (["ovens: L1 normal 2 %", "ovens: L1 uniform 2 %"], "ovens: L1: it is given twice"),
        ([], "there is no quantity to vary"),
    ],
)
def test_distributions_that_are_none(texts: list[str], said: str) -> None:
    with pytest.raises((QuantityError, ScenarioError)) as caught:
        prepare_draws(scenario(STAR), texts, cases=10)
    assert said in str(caught.value)


def test_what_is_open_does_not_spread() -> None:
    document = changed(STAR, "load", 0, "L1", value="open")
    with pytest.raises(ScenarioError, match="ovens: L1: it is open in the scenario"):
        prepare_draws(scenario(document), ["ovens: L1 normal 2 %"], cases=10)


@pytest.mark.parametrize(
    ("correlations", "said"),
    [
        ({("ovens: L1", "ovens: L2"): 1.1}, "a coefficient from -1 to 1"),
        ({("ovens: L1", "ovens: L1"): 0.5}, "two different quantities"),
        ({("ovens: L1", "supply: voltage"): 0.5}, "'supply: voltage' is not drawn; drawn are"),
        (
            {
                ("ovens: L1", "ovens: L2"): 0.9,
                ("ovens: L1", "ovens: L3"): 0.9,
                ("ovens: L2", "ovens: L3"): -0.9,
            },
            "the coefficients contradict each other",
        ),
    ],
)
def test_correlations_that_are_none(correlations: Any, said: str) -> None:
    texts = [f"ovens: L{k} normal 2 %" for k in (1, 2, 3)]
    with pytest.raises(ScenarioError) as caught:
        prepare_draws(scenario(STAR), texts, cases=10, correlations=correlations)
    assert said in str(caught.value)


def test_no_cases_and_no_seed_are_refused() -> None:
    with pytest.raises(ScenarioError, match="at least 1 case"):
        prepare_draws(scenario(STAR), ["ovens: L1 normal 2 %"], cases=0)
    with pytest.raises(ScenarioError, match="seed of at least 0"):
        prepare_draws(scenario(STAR), ["ovens: L1 normal 2 %"], cases=1, seed=-1)


def test_statistics_without_the_cases_are_those_of_all_cases() -> None:
    distributions = {"ovens: L1": "normal 10 %", "ovens: L3": "uniform 30 %"}
    study = monte_carlo(scenario(STAR), distributions, cases=300_001, seed=2)
    streamed = monte_carlo_statistics(scenario(STAR), distributions, cases=300_001, seed=2)
    assert streamed.keys() == study.outputs.keys()
    for key, values in study.outputs.items():
        found, flat = streamed[key], np.sort(values.ravel())
        assert found.count == 300_001
        assert found.mean == pytest.approx(flat.mean(), rel=1e-12)
        assert found.deviation == pytest.approx(flat.std(ddof=1), rel=1e-10, abs=1e-9)
        assert (found.least, found.most) == (flat[0], flat[-1])
        # the bins are 1/1024 of the distance from the mean
        for end, p in ((found.low, 0.025), (found.high, 0.975)):
            exact = float(np.quantile(flat, p))
            assert end == pytest.approx(exact, abs=1e-3 * abs(exact - flat.mean()) + 1e-9)


def test_statistics_pass_over_what_is_not_defined() -> None:
    rng = np.random.default_rng(0)
    outputs = rng.normal(100, 3, (3, 50_000))
    outputs[0, ::7] = np.nan
    outputs[2] = np.nan
    accumulator = Accumulator(pilot_of(outputs[:, :1000]))
    for start in (0, 20_000):
        accumulator.add(summarise(outputs[:, start : start + 20_000], accumulator.pilot))
    accumulator.add(summarise(outputs[:, 40_000:], accumulator.pilot))
    for found, row in zip(accumulator.result(), outputs, strict=True):
        exact = statistics_of(row)
        assert found.count == np.isfinite(row).sum() == exact.count
        if exact.count:
            assert found.mean == pytest.approx(np.nanmean(row), rel=1e-13)
            assert found.deviation == pytest.approx(np.nanstd(row, ddof=1), rel=1e-12)
            assert found.high == pytest.approx(np.nanquantile(row, 0.975), rel=1e-4)
        else:
            assert math.isnan(found.mean)


def test_memory_does_not_grow_with_the_cases() -> None:
    def peak(cases: int) -> int:
        prepared = prepare_draws(scenario(STAR), ["ovens: L1 normal 2 %"], cases=cases)
        tracemalloc.start()
        prepared.statistics(prepared.chunks(statistics=True))
        found = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return found

    peak(1000)  # whatever is imported on the way
    assert peak(1_000_000) < 1.2 * peak(250_000)


def test_the_same_case_alone_and_among_many() -> None:
    few = prepare_sweep(scenario(STAR), {"ovens: L1": ["17 ohm"]})
    many = prepare_sweep(scenario(STAR), {"ovens: L1": Steps("10 ohm", "24 ohm", 2001)})
    one, all_of_them = few.study(few.chunks()), many.study(many.chunks())
    assert rows(all_of_them)[:, 1000] == pytest.approx(rows(one)[:, 0], rel=1e-12)

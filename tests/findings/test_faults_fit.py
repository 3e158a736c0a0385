"""Fitting the load, and the promise that a fault is always in the class found for its readings."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from scipy.optimize import linprog

import simulator
from simulator.errors import SimulatorError
from simulator.findings.faults.find import explain_readings, find_faults, joint_limits
from simulator.findings.faults.fit import _best, fit
from simulator.findings.faults.loads import LoadSpan, Region, load_of, region_of, with_load
from simulator.findings.result import solve
from simulator.scenario.build import build

ROOT3 = math.sqrt(3)


def scenario(wires, loads, instrument=None, **supply):
    document = {
        "title": "random",
        "supply": {"wires": wires} | (supply or {"voltage": "400 V"}),
        "load": loads,
        "method": {
            "name": "two wattmeters" if wires == 3 else "three wattmeters to neutral",
        },
    }
    if instrument:
        document["instrument"] = {"real": instrument}
        document["method"]["instrument"] = "real"
    return simulator.scenario_from(document)


def readings(result):
    return np.array([reading.watts for reading in result.readings.values()])


# The best point of a linear model ----------------------------------------------------------


@pytest.mark.parametrize("seed", range(20))
def test_the_smallest_largest_deviation_against_a_linear_programme(seed):
    # Derived: min t with |base + x·along + y·across| ≤ t over a cone of angles is a linear
    # programme in x, y, t; here solved by scipy
    rng = np.random.default_rng(seed)
    n = 2 + seed % 2
    base, along, across = rng.normal(size=(3, n)) * [[3], [1], [1]]
    first, last = sorted(rng.uniform(-1.2, 1.2, 2))
    rows, bounds = [], []
    for sign in (1, -1):
        rows += [[sign * a, sign * b, -1] for a, b in zip(along, across, strict=True)]
        bounds += (-sign * base).tolist()
    rows += [[math.tan(first), -1, 0], [-math.tan(last), 1, 0]]
    bounds += [0, 0]
    solved = linprog([0, 0, 1], A_ub=rows, b_ub=bounds, bounds=[(0, None), (None, None), (0, None)])
    found, factor = _best(base, along, across, Region((0.0, 1e3), (first, last)))
    assert found == pytest.approx(solved.fun, abs=1e-6)
    deviation = np.abs(base + factor.real * along + factor.imag * across).max()
    assert deviation == pytest.approx(found, abs=1e-9)


def test_a_region_keeps_its_bounds():
    base, along, across = np.array([-10.0, -10.0]), np.array([1.0, 1.0]), np.array([0.0, 0.0])
    found, factor = _best(base, along, across, Region((1.0, 4.0), (-0.5, 0.5)))
    assert (found, abs(factor)) == (pytest.approx(6.0), pytest.approx(4.0))


# Fitting in a network ------------------------------------------------------------------------


def test_two_readings_fix_power_and_reactive_power():
    # Derived: balanced load on three wires, P = W1 + W2 and Q = √3·(W2 − W1)
    measurement = build(scenario(3, [{"connection": "star", "each": "20 ohm @ 20 deg"}]))
    result = solve(measurement)
    region = region_of(LoadSpan(phi=(-80, 80), current=(1, 20)), result)
    for w1, w2 in ((1500.0, 2500.0), (-300.0, 900.0), (3000.0, 2000.0)):
        found = fit(measurement, result, np.array([w1, w2]), np.array([10.0, 10.0]), region)
        power = load_of(found.result)
        assert power.real == pytest.approx(w1 + w2, abs=1e-3)
        assert power.imag == pytest.approx(ROOT3 * (w2 - w1), abs=1e-3)


MOTOR = {
    "connection": "motor",
    "slip": 0.022,
    "circuit": {
        "R1": "0.641 ohm",
        "X1": "1.106 ohm",
        "R2": "0.332 ohm",
        "X2": "0.464 ohm",
        "Xm": "26.3 ohm",
        "Rc": "open",
    },
}
STAR = {
    "connection": "star",
    "star_point": "neutral",
    "L1": "20 ohm",
    "L2": "25+10j ohm",
    "L3": "40 ohm @ -30 deg",
}


@pytest.mark.parametrize(
    ("wires", "loads"),
    [(3, [MOTOR]), (4, [STAR]), (4, [STAR, {"connection": "line-to-line", "L1-L2": "70 ohm"}])],
)
def test_a_network_with_drops_and_burdens_is_fitted_too(wires, loads):
    # Readings of a changed load, behind line impedances and real circuits, have to be found again
    setup = scenario(
        wires,
        loads,
        {"current_circuit": "0.05+0.02j ohm", "voltage_circuit": "15 kohm"},
        voltage="400 V",
        line_impedance="0.5+0.3j ohm",
    )
    measurement = build(setup)
    for factor in (cmath.rect(0.8, 0.3), cmath.rect(1.3, -0.2)):
        changed = with_load(measurement, factor)
        seen = readings(solve(changed))
        limits = np.full(len(seen), 10.0)
        found = fit(measurement, solve(measurement), seen, limits, Region((0.5, 1.5), (-0.5, 0.5)))
        assert found.misfit == pytest.approx(0, abs=2e-6)
        power, meant = load_of(found.result), load_of(solve(changed))
        # three readings fix one load; so do two of a load that keeps its shape
        assert power == pytest.approx(meant, rel=1e-5)


def test_scaling_a_load_scales_what_it_takes():
    # Derived: on an ideal supply S ∝ conj(Y), a motor's as well
    for loads in ([MOTOR], [STAR | {"L3": "open"}]):
        measurement = build(scenario(4, loads))
        before = load_of(solve(measurement))
        after = load_of(solve(with_load(measurement, 0.5 - 0.25j)))
        assert after == pytest.approx(before * (0.5 + 0.25j), rel=1e-9)


def test_what_a_span_means():
    # Derived: 400 V on 20 ohm at 20°, so 11.547 A; half to double of it, and 10° to 30°
    result = solve(scenario(3, [{"connection": "star", "each": "20 ohm @ 20 deg"}]))
    I = 400 / ROOT3 / 20
    region = region_of(LoadSpan(phi=(10, 30), current=(I / 2, 2 * I)), result)
    assert region.sizes == pytest.approx((0.5, 2))
    assert region.angles == pytest.approx((math.radians(-10), math.radians(10)))
    assert region_of(LoadSpan(current=(I, I)), result).sizes == pytest.approx((1, 1))
    assert region_of(LoadSpan(phi=(0, 20)), result).sizes == (1, 1)


def test_no_load_cannot_be_fitted():
    result = solve(scenario(3, [{"connection": "line-to-line", "L1-L2": "open"}]))
    with pytest.raises(SimulatorError, match="takes no power"):
        region_of(LoadSpan(phi=(0, 10)), result)


def test_no_load_of_the_span_fits():
    setup = scenario(3, [{"connection": "star", "each": "20 ohm @ 20 deg"}])
    wide = LoadSpan(phi=(0, 60), current=(5, 15))
    narrow = LoadSpan(phi=(0, 60), current=(11, 12))
    for span, fits in ((wide, True), (narrow, False)):
        faults = find_faults(setup, {"W1": 800.0, "W2": 2000.0}, span=span)
        assert faults.right.consistent is fits


# The promise ---------------------------------------------------------------------------------


def random_setup(rng):
    wires = int(rng.integers(3, 5))
    star = {"connection": "star", "star_point": "neutral" if wires == 4 else "isolated"}
    for line in ("L1", "L2", "L3"):
        ohms, phi = rng.uniform(10, 60), rng.uniform(-50, 80)
        star[line] = f"{ohms:.6g} ohm @ {phi:.6g} deg"
    V = rng.normal([230, 230, 230], 4)
    angles = rng.normal([0, -120, 120], 1)
    phasors = {
        f"L{k}": f"{v:.6g} V @ {a:.6g} deg"
        for k, (v, a) in enumerate(zip(V, angles, strict=True), 1)
    }
    instrument = {"current_circuit": "0.02 ohm", "voltage_circuit": "20 kohm"}
    return scenario(
        wires,
        [star],
        instrument if rng.random() < 0.5 else None,
        phase_voltages=phasors,
        line_impedance=f"{rng.uniform(0, 0.3):.6g} ohm",
    )


def bounded_noise(rng, faults):
    return {name: rng.uniform(-limit, limit) for name, limit in faults.limits.items()}


def is_found(faults, hypothesis, noise):
    """Whether a wiring explains its own readings, disturbed, together with its whole class."""
    seen = {name: r.watts + noise[name] for name, r in hypothesis.result.readings.items()}
    explained = explain_readings(faults, seen)
    own = [h for h in explained.fitting if h.description == hypothesis.description]
    whole = [h for h in explained.hypotheses if h.group == hypothesis.group]
    return len(own) == 1 and all(h.consistent for h in whole)


def check_bounded(seeds, n_each):
    for seed in seeds:
        rng = np.random.default_rng(seed)
        faults = find_faults(random_setup(rng), tolerance=0.02)
        for k in rng.permutation(len(faults.hypotheses))[:n_each]:
            hypothesis = faults.hypotheses[int(k)]
            noise = bounded_noise(rng, faults)
            assert is_found(faults, hypothesis, noise), (seed, hypothesis.description)


def share_found(seeds, n_each):
    found = []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        setup = random_setup(rng)
        right = solve(setup).readings
        u = {name: 0.01 * abs(r.voltage * r.current) for name, r in right.items()}
        faults = find_faults(setup, limits=joint_limits(u))
        for k in rng.permutation(len(faults.hypotheses))[:n_each]:
            noise = {name: rng.normal(0, sigma) for name, sigma in u.items()}
            found.append(is_found(faults, faults.hypotheses[int(k)], noise))
    return np.mean(found)


def check_spans(seeds):
    """The load is not the scenario's but another one within its span."""
    for seed in seeds:
        rng = np.random.default_rng(seed)
        setup = random_setup(rng)
        right = solve(setup)
        phi = math.degrees(cmath.phase(load_of(right)))
        I = float(np.abs(right.first.line_currents).max())
        span = LoadSpan(phi=(phi - 12, phi + 12), current=(0.7 * I, 1.3 * I))
        faults = find_faults(setup, span=span)
        truth = faults.hypotheses[int(rng.integers(len(faults.hypotheses)))]
        factor = cmath.rect(rng.uniform(0.7, 1.3), math.radians(rng.uniform(-12, 12)))
        watts = readings(solve(with_load(truth.wiring.measurement, factor)))
        noise = bounded_noise(rng, faults)
        seen = {name: w + noise[name] for name, w in zip(noise, watts, strict=True)}
        explained = explain_readings(faults, seen)
        assert truth.description in [h.description for h in explained.fitting], seed


def test_a_fault_is_in_the_class_found_for_its_readings():
    check_bounded(range(6), n_each=20)


def test_normal_noise_hides_few_faults():
    assert share_found(range(100, 106), n_each=40) >= 0.94


def test_a_fault_is_found_with_an_uncertain_load():
    check_spans(range(200, 203))


@pytest.mark.heavy
def test_a_thousand_random_loads():
    check_bounded(range(1000, 2000), n_each=10)


@pytest.mark.heavy
def test_normal_noise_over_a_thousand_random_loads():
    assert share_found(range(2000, 3000), n_each=10) >= 0.94


@pytest.mark.heavy
def test_uncertain_loads_many_times():
    check_spans(range(3000, 3300))

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import simulator
from simulator.errors import ScenarioError
from simulator.figures.mismatch import against_mismatch
from simulator.figures.sweeps import (
    against_neutral_impedance,
    against_power_factor,
    against_unbalance,
    angle_of_load,
    apparent_power,
    balanced_impedance,
    reading_ratio,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.findings.result import Result

ROOT3 = math.sqrt(3)
# The base cases of needs.md, section 6.
B_LOAD = {"connection": "star", "each": "23.0940107675850 ohm, 0.8 lag"}
U_LOAD = {
    "connection": "star",
    "L1": "23 ohm",
    "L2": "46 ohm",
    "L3": "23 ohm @ 60 deg",
}
TO_NEUTRAL = {"star_point": "neutral"}
V230 = f"{230 * ROOT3!r} V"


def common(line: str) -> dict[str, Any]:
    """Two wattmeters with a common line, written out so that four wires may have them too."""
    others = [x for x in ("L1", "L2", "L3") if x != line]
    meters = [
        {"name": f"W{k}", "current": x, "voltage": [x, line]} for k, x in enumerate(others, 1)
    ]
    return {"wattmeter": meters, "total": {"power": "W1 + W2"}}


def solved(load: dict[str, Any], wires: int = 3, voltage: str = "400 V", **tables: Any) -> Result:
    base = {"title": "t", "supply": {"wires": wires, "voltage": voltage}, "load": [load]}
    return simulator.solve(simulator.scenario_from(base | tables))


FLOATING = {
    "instrument": {"m": {"voltage_circuit": "20 kohm"}},
    "method": {"name": "three wattmeters to a floating star point", "instrument": "m"},
}


@pytest.mark.parametrize(
    ("factor", "first", "second"),
    # needs.md 8, base case B, derived there; printed to about five digits
    [(1, 3464.1, 3464.1), (0.866025, 2000, 4000), (0.8, 1571.3, 3971.3), (0.5, 0, 3464.1),
     (0.3, -868.6, 2947.1), (0.1, -1643.6, 2336.4), (0, -2000, 2000)],
)  # fmt: skip
def test_readings_against_power_factor(factor: float, first: float, second: float) -> None:
    result = solved(B_LOAD, **common("L2"))
    phi = math.degrees(math.acos(factor))
    sweep = against_power_factor(result, np.array([-phi, phi]))
    # lagging as printed; leading with the two meters exchanged, by symmetry
    np.testing.assert_allclose(sweep.readings["W1"], [second, first], atol=0.06)
    np.testing.assert_allclose(sweep.readings["W2"], [first, second], atol=0.06)
    np.testing.assert_allclose(sweep.total, first + second, atol=0.1)
    np.testing.assert_allclose(sweep.true, 4000 * ROOT3 * factor, atol=0.01)
    assert sweep.apparent == pytest.approx(4000 * ROOT3)


def test_readings_against_power_factor_in_closed_form() -> None:
    sweep = against_power_factor(solved(B_LOAD, **common("L2")))
    phi = np.radians(sweep.angles)
    assert sweep.angles[[0, -1]].tolist() == [-90, 90]
    assert {-60.0, -30.0, 0.0, 30.0, 60.0} <= set(sweep.angles.tolist())
    # physics.md 5: W1 = V·I·cos(30° + φ), W2 = V·I·cos(30° − φ)
    np.testing.assert_allclose(sweep.readings["W1"], 4000 * np.cos(np.pi / 6 + phi), atol=1e-6)
    np.testing.assert_allclose(sweep.readings["W2"], 4000 * np.cos(np.pi / 6 - phi), atol=1e-6)


def test_the_other_sequence_exchanges_the_readings() -> None:
    supply = {"wires": 3, "voltage": "400 V", "sequence": "L3-L2-L1"}
    one = against_power_factor(solved(B_LOAD, **common("L2")))
    other = against_power_factor(solved(B_LOAD, supply=supply, **common("L2")))
    # needs.md 11: with the other sequence the two readings change places
    np.testing.assert_allclose(other.readings["W1"], one.readings["W2"], atol=1e-8)
    np.testing.assert_allclose(other.readings["W2"], one.readings["W1"], atol=1e-8)


@pytest.mark.parametrize("load", [U_LOAD, {"connection": "delta", "each": "10+5j ohm"}])
def test_the_balanced_load_takes_the_same_apparent_power(load: dict[str, Any]) -> None:
    result = solved(load, **common("L2"))
    apparent = apparent_power(result)
    sweep = against_power_factor(result, np.array([0.0]))
    assert sweep.true == pytest.approx([apparent], rel=1e-9)


def test_ratio_of_the_readings() -> None:
    # needs.md 8, derived there: ratio by power factor; printed to three digits
    ratios = {1: 1, 0.866025: 0.5, 0.8: 0.396, 0.707107: 0.268, 0.5: 0, 0.3: -0.295, 0.1: -0.703}
    ratios[0] = -1
    angles = np.degrees(np.arccos(np.array(list(ratios))))
    readings = against_power_factor(solved(B_LOAD, **common("L2")), angles).readings
    found = reading_ratio(readings["W1"], readings["W2"])
    np.testing.assert_allclose(found, list(ratios.values()), atol=6e-4)


def test_ratio_keeps_signs_and_is_undefined_for_two_zeros() -> None:
    found = reading_ratio(np.array([2.0, -1.0, 0.0, -3.0]), np.array([-4.0, -2.0, 0.0, 1.0]))
    # derived: by hand
    np.testing.assert_array_equal(found, [-0.5, 0.5, np.nan, -1 / 3])


@pytest.mark.parametrize(
    ("change", "raised", "another"),
    # needs.md 9, derived there: one wattmeter × 3 in L1, resistive, one line raised
    [(10, 6.45, -3.23), (50, 28.57, -14.29)],
)
def test_one_wattmeter_times_three_against_unbalance(
    change: float, raised: float, another: float
) -> None:
    load = {"connection": "star", "each": "23 ohm"} | TO_NEUTRAL
    result = solved(load, wires=4, method={"name": "one wattmeter to neutral"})
    sweep = against_unbalance(result, np.array([0.0, change]))
    for line, expected in (("L1", raised), ("L2", another), ("L3", another)):
        np.testing.assert_allclose(sweep.errors[line], [0, expected], atol=5e-3)


@pytest.mark.parametrize(
    ("line", "expected"),
    # needs.md 10, derived there: power factor 0.8, I_C 5 % more
    [("L2", 1.88), ("L3", -1.64), ("L1", -0.25)],
)
def test_two_wattmeters_on_four_wires_against_unbalance(line: str, expected: float) -> None:
    result = solved(B_LOAD | TO_NEUTRAL, wires=4, **common(line))
    sweep = against_unbalance(result, np.array([5.0]))
    assert sweep.errors["L3"] == pytest.approx([expected], abs=6e-3)


def test_two_wattmeters_on_three_wires_do_not_mind_unbalance() -> None:
    sweep = against_unbalance(solved(B_LOAD, **common("L2")))
    # Blondel: n − 1 wattmeters on n wires
    assert max(np.abs(errors).max() for errors in sweep.errors.values()) < 1e-9


def test_error_against_neutral_impedance() -> None:
    result = solved(U_LOAD | TO_NEUTRAL, wires=4, voltage=V230, **common("L2"))
    size = balanced_impedance(result)
    sweep = against_neutral_impedance(result, np.array([1e-9, 1.0, 5.0, 20.0, 100.0, 1e7]) / size)
    np.testing.assert_allclose(sweep.x[1:5], [1, 5, 20, 100], rtol=1e-12)
    # needs.md 10, derived there, against the power of the loads alone; 0 ohm: needs.md 1, open: 2
    expected = [50.0, 51.67, 49.69, 30.53, 8.68, 0.0]
    np.testing.assert_allclose(sweep.errors["total"], expected, atol=6e-3)


@pytest.mark.parametrize("wires", [3, 4])
def test_error_against_unequal_voltage_circuits(wires: int) -> None:
    load = U_LOAD | (TO_NEUTRAL if wires == 4 else {})
    result = solved(load, wires=wires, voltage=V230, **FLOATING)
    sweep = against_mismatch(result, np.array([0.0, 1.0, 5.0, 10.0]))
    # needs.md 16, derived there; the same pair of curves whichever of the two the scenario is
    np.testing.assert_allclose(sweep.errors["4 wires"], [0, 0.207, 1.008, 1.953], atol=6e-4)
    assert np.abs(sweep.errors["3 wires"]).max() < 1e-9


def test_unequal_voltage_circuits_are_made_equal_first(shipped: Callable[[str], Result]) -> None:
    for name in ("unequal-coils-three-wires", "unequal-coils-four-wires"):
        sweep = against_mismatch(shipped(name), np.array([0.0]))
        assert abs(sweep.errors["3 wires"][0]) < 1e-9
        assert abs(sweep.errors["4 wires"][0]) < 1e-9


def test_an_artificial_neutral_of_unequal_branches() -> None:
    load = {"connection": "star", "each": "23 ohm"}
    method = {"name": "one wattmeter with artificial neutral", "instrument": "m"}
    # derived: Millman, V_P = V1·(r − 1)/(r + 2) with r = 1/(1 + x), so 3·W/P = 3/(r + 2)
    expected = [100 * (3 / (1 / (1 + x) + 2) - 1) for x in (-0.5, 0.0, 0.5)]
    for resistors in ({}, {"resistors": ["5 kohm", "80 kohm"]}):  # these are made equal first
        tables = {"instrument": FLOATING["instrument"], "method": method | resistors}
        sweep = against_mismatch(solved(load, **tables), np.array([-50.0, 0.0, 50.0]))
        np.testing.assert_allclose(sweep.errors["3 wires"], expected, atol=1e-3)


def test_angle_of_the_scenarios_own_load() -> None:
    # needs.md section 6, U: P = 4600 W, Q = 1991.86 var
    result = solved(U_LOAD | TO_NEUTRAL, wires=4, voltage=V230, **common("L2"))
    assert angle_of_load(result) == pytest.approx(math.degrees(math.atan(1991.86 / 4600)), abs=1e-3)
    assert math.isnan(angle_of_load(solved({"connection": "line-to-line", "L1-L2": "open"})))


def test_a_star_point_that_meters_use_stays_theirs() -> None:
    load = U_LOAD | {"star_point": "S"}
    meters = [{"name": f"W{k}", "current": f"L{k}", "voltage": [f"L{k}", "S"]} for k in (1, 2, 3)]
    result = solved(load, wattmeter=meters, total={"power": "W1 + W2 + W3"})
    sweep = against_power_factor(result, np.array([0.0]))
    # derived: to the star point of a balanced load each wattmeter reads a third
    for values in sweep.readings.values():
        assert values == pytest.approx([sweep.apparent / 3], rel=1e-9)


def test_what_varies_stays_out_of_the_scenario() -> None:
    result = solved(U_LOAD | TO_NEUTRAL, wires=4, **common("L2"))
    before = simulator.result_object(result)
    against_unbalance(result)
    against_neutral_impedance(result)
    assert simulator.result_object(result) == before


REFUSALS: list[tuple[Callable[[Result], object], dict[str, Any], str]] = [
    (against_power_factor, {}, "no readings without a wattmeter"),
    (against_unbalance, {}, "a total that is not formed"),
    (against_neutral_impedance, common("L2"), "a neutral impedance needs a neutral"),
    (against_mismatch, common("L2"), "make a star point of their own, and here they do not"),
]


@pytest.mark.parametrize(("sweep", "tables", "expected"), REFUSALS)
def test_a_curve_that_makes_no_sense_is_refused(
    sweep: Callable[[Result], object], tables: dict[str, Any], expected: str
) -> None:
    with pytest.raises(ScenarioError, match=expected):
        sweep(solved(B_LOAD, **tables))


def test_no_load_has_no_curve() -> None:
    load = {"connection": "line-to-line", "L1-L2": "open"}
    with pytest.raises(ScenarioError, match="a load that takes no power"):
        against_power_factor(solved(load, **common("L2")))


def test_a_meter_to_the_neutral_has_no_place_on_three_wires() -> None:
    meters = [{"name": "W1", "current": "L1", "voltage": ["L1", "P"], "instrument": "m"}]
    meters += [{"name": "W2", "current": "L2", "voltage": ["L2", "P"], "instrument": "m"}]
    meters += [{"name": "W3", "current": "L3", "voltage": ["L3", "N"], "instrument": "m"}]
    result = solved(
        U_LOAD | TO_NEUTRAL,
        wires=4,
        instrument=FLOATING["instrument"],
        wattmeter=meters,
        total={"power": "W1 + W2 + W3"},
    )
    with pytest.raises(ScenarioError, match="on three wires there is no N for W3"):
        against_mismatch(result)

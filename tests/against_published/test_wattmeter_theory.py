"""What the two circuits of a wattmeter and its transformers do to a reading.

CALC: worked out for the reference collection outside this program. One wattmeter on one line of a
four-wire supply; errors in percent do not depend on the voltage, only on the load's impedance.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

import simulator

pytestmark = pytest.mark.reference


def error(
    volts: float, load: str, instrument: dict[str, str], tap: str = "supply", **extra: Any
) -> float:
    """Error of a wattmeter, as a part of the power in the load."""
    meter = {
        "name": "W",
        "current": "L1",
        "voltage": ["L1", "N"],
        "voltage_tap": tap,
        "instrument": "meter",
    }
    table = {
        "title": "one wattmeter",
        "supply": {"wires": 4, "sequence_voltages": {"positive": f"{volts} V"}},
        "load": [{"connection": "line-to-neutral", "L1": load}],
        "instrument": {"meter": instrument},
        "wattmeter": [meter | dict.fromkeys(extra, "t")],
        "total": {"power": "W"},
        **{key: {"t": value} for key, value in extra.items()},
    }
    total = simulator.solve(simulator.scenario_from(table)).total
    assert total is not None
    return total.error / total.true


# Inductive voltage circuit: reading = V·I·cos β·cos(φ − β), textbook formula MEM (high), e.g.
# https://online.flipbuilder.com/aptc/qojr/files/basic-html/page847.html (not readable there)


@pytest.mark.parametrize(
    ("phi", "reading_over_true", "correction"),
    [
        (60, 1.015038, 0.985185),
        (80, 1.049413, 0.952914),
        (-60, 0.984810, 1.015425),
        (-80, 0.950435, 1.052150),
    ],
)
def test_inductive_voltage_circuit(phi: float, reading_over_true: float, correction: float) -> None:
    # CALC, β = 0.5°: high on a lagging load, low on a leading one
    X = 20_000 * math.tan(math.radians(0.5))
    ratio = 1 + error(230, f"10 ohm @ {phi} deg", {"voltage_circuit": f"20000+{X:.9f}j ohm"})
    assert ratio == pytest.approx(reading_over_true, abs=5e-7)
    assert 1 / ratio == pytest.approx(correction, abs=5e-7)


# The instrument's own consumption: 0.1 and 6500 ohm SEEN in the title of
# https://edurev.in/question/1761198/ ; 250 V, 12 A and the power factors MEM; percentages CALC

EXERCISE = {"current_circuit": "0.1 ohm", "voltage_circuit": "6500 ohm"}


@pytest.mark.parametrize(
    ("power_factor", "tap", "percent", "half_unit"),
    [
        ("1", "supply", 0.48, 0.005),
        ("1", "load", 0.3205, 0.00005),
        ("0.4 lag", "supply", 1.2, 0.05),
        ("0.4 lag", "load", 0.8013, 0.00005),
    ],
)
def test_which_side_of_the_current_circuit(
    power_factor: str, tap: str, percent: float, half_unit: float
) -> None:
    load = f"{250 / 12:.12f} ohm, {power_factor}"
    assert 100 * error(250, load, EXERCISE, tap) == pytest.approx(percent, abs=half_unit)


@pytest.mark.parametrize("power_factor", [1.0, 0.4])
def test_own_consumption_in_closed_form(power_factor: float) -> None:
    # supply side: load + I²·R_cc; load side: load + V²/R_vc, both exactly (CALC by phasors)
    load, power = f"{250 / 12:.12f} ohm, {power_factor} lag", 250 * 12 * power_factor
    assert error(250, load, EXERCISE, "supply") == pytest.approx(12**2 * 0.1 / power)
    assert error(250, load, EXERCISE, "load") == pytest.approx(250**2 / 6500 / power)


def test_where_both_sides_are_equally_wrong() -> None:
    # at I = V/√(R_cc·R_vc): 230 V, 0.05 ohm, 20 kohm → 7.27 A (CALC)
    instrument = {"current_circuit": "0.05 ohm", "voltage_circuit": "20 kohm"}
    equal = math.sqrt(0.05 * 20e3)
    assert 230 / equal == pytest.approx(7.27, abs=0.005)

    def both(ohms: float) -> list[float]:
        return [error(230, f"{ohms:.12f} ohm", instrument, tap) for tap in ("supply", "load")]

    at, above, below = both(equal), both(equal / 2), both(equal * 2)
    assert at[0] == pytest.approx(at[1])
    assert below[0] < below[1]  # small current: supply side better
    assert above[0] > above[1]


# Instrument transformers: ΔP/P ≈ ε_i + ε_v + (δ_i − δ_v)·tan φ (CALC); signs as in IEC 61869-1
# (ratio error SEEN https://www.first-transformer.com/news_detail/282111.html ; phase MEM, high)


def test_transformer_errors_together() -> None:
    # 60° lag, +0.2 % and −0.1 %, +10′ and −5′: exact 0.8553 %, linear 0.8557 % (CALC)
    found = 100 * error(
        230,
        "10 ohm @ 60 deg",
        {},
        current_transformer={
            "ratio": "50/5 A",
            "ratio_error": "0.2 %",
            "phase_displacement": "10 min",
        },
        voltage_transformer={
            "ratio": "200/100 V",
            "ratio_error": "-0.1 %",
            "phase_displacement": "-5 min",
        },
    )
    assert found == pytest.approx(0.85535, abs=5e-6)
    assert found != pytest.approx(0.8557, abs=5e-5)


@pytest.mark.parametrize(
    ("power_factor", "percent", "half_unit"),
    [
        (0.9, 0.0141, 5e-5),
        (0.8, 0.0218, 5e-5),
        (0.5, 0.0504, 5e-5),
        (0.2, 0.143, 5e-4),
        (0.1, 0.289, 5e-4),
        (1, 0, 1e-5),
    ],
)
def test_what_one_minute_costs(power_factor: float, percent: float, half_unit: float) -> None:
    # CALC; at power factor 1 "about 0"
    transformer = {"ratio": "100/5 A", "phase_displacement": "1 min"}
    found = error(230, f"10 ohm, {power_factor} lag", {}, current_transformer=transformer)
    assert 100 * found == pytest.approx(percent, abs=half_unit)


def test_ratio_error_is_positive_where_the_secondary_is_too_large() -> None:
    for key, ratio in (("current_transformer", "100/5 A"), ("voltage_transformer", "400/100 V")):
        found = error(230, "10 ohm", {}, **{key: {"ratio": ratio, "ratio_error": "0.2 %"}})
        assert found == pytest.approx(0.002)

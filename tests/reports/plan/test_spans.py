"""Spans of power factors: the power is kept, behind impedances too; what cannot be is refused."""

from __future__ import annotations

import cmath
import math

import pytest

from simulator.errors import ScenarioError
from simulator.quantities import PowerFactor
from simulator.reports.plan.spans import around
from tests.reports.plan.base import MOTOR, U, plan, shipped


def angle(factor: float) -> float:
    return math.degrees(math.acos(factor))


BEHIND = MOTOR.replace('voltage = "400 V"', 'voltage = "400 V", line_impedance = "0.3+0.2j ohm"')
UNITY = MOTOR.replace("0.82 lag", "1")


@pytest.mark.parametrize("text", [MOTOR, BEHIND, U], ids=["stiff", "behind lines", "four wires"])
def test_power_is_kept(text: str) -> None:
    found = plan(text, width=0.05)
    powers = [case.result.first.true for case in found.span]
    own = powers[1]
    factor = own.real / abs(own)
    for power, expected in zip(powers, (factor - 0.05, factor, factor + 0.05), strict=True):
        assert power.real == pytest.approx(own.real, rel=1e-8)
        assert power.real / abs(power) == pytest.approx(expected, rel=1e-8)
        assert power.imag > 0
    assert found.expected is found.span[1]


def test_from_lag_to_lead_passes_unity() -> None:
    found = plan(MOTOR, angles=(-angle(0.9), angle(0.8)))
    assert [case.words for case in found.span] == [
        "power factor 0.8 lag",
        "power factor 0.82 lag",
        "power factor 1",
        "power factor 0.9 lead",
    ]
    currents = [abs(case.result.first.line_currents[0]) for case in found.span]
    assert min(currents) == currents[2]


def test_usual_width_and_one_load() -> None:
    assert [c.words for c in plan(MOTOR).span] == [
        "power factor 0.79 lag",
        "power factor 0.82 lag",
        "power factor 0.85 lag",
    ]
    alone = plan(MOTOR, angles=(angle(0.82), angle(0.82)))
    assert len(alone.span) == 1
    assert alone.idle is None
    unity = plan(UNITY)
    assert len(unity.span) == 1
    assert any("power factor is 1 and may turn either way" in note for note in unity.notes)


def test_around_ends_at_unity_and_follows_lead() -> None:
    near, far = around(cmath.rect(1, math.radians(angle(0.99))), 0.03)
    assert (near, far) == pytest.approx((0, angle(0.96)))
    leading = cmath.rect(1, -math.radians(angle(0.8)))
    assert around(leading, 0.1) == pytest.approx((-angle(0.7), -angle(0.9)))


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"angles": (angle(0.95), angle(0.9))}, "own power factor 0.82 lag does not lie within"),
        ({"width": 0.82}, "leaves nothing"),
        ({"angles": (0.0, 90.0)}, "must be above 0"),
    ],
)
def test_refused(options: dict[str, object], message: str) -> None:
    with pytest.raises(ScenarioError, match=message):
        plan(MOTOR, **options)


def test_a_width_that_was_asked_for_is_not_passed_over() -> None:
    with pytest.raises(ScenarioError, match="--span: the load's power factor is 1"):
        plan(UNITY, width=0.03)


def test_a_load_that_the_lines_cannot_feed() -> None:
    far = MOTOR.replace('voltage = "400 V"', 'voltage = "400 V", line_impedance = "8 ohm"')
    with pytest.raises(ScenarioError, match="behind the impedances of the supply"):
        plan(far, angles=(angle(0.82), angle(0.82)), idle=(20.0, PowerFactor(0.99, "lag")))


def test_a_usual_span_that_cannot_be_reached_is_left_out() -> None:
    """Derived: behind 8 Ω in each line 400 V give at most 400²/(4·8) = 5 kW to any load."""
    far = MOTOR.replace('voltage = "400 V"', 'voltage = "400 V", line_impedance = "8 ohm"')
    found = plan(far)
    assert len(found.span) == 1
    assert any("cannot take" in note for note in found.notes)


def test_nothing_to_plan() -> None:
    with pytest.raises(ScenarioError, match="no wattmeter"):
        shipped("sequence-star-capacitor-and-lamps")


def test_a_load_that_takes_nothing() -> None:
    """No span, and the fault search says what is missing."""
    empty = U.replace('"23 ohm"', '"open"').replace('"46 ohm"', '"open"')
    with pytest.raises(ScenarioError, match="no wattmeter carries both a voltage and a current"):
        plan(empty.replace('"23 ohm @ 60 deg"', '"open"'))

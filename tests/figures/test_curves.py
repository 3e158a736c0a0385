from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from simulator.errors import ScenarioError
from simulator.figures.curves import CURVES, draw_curves
from simulator.figures.mismatch import against_mismatch
from simulator.figures.style import Style
from simulator.figures.sweeps import (
    against_neutral_impedance,
    against_power_factor,
    against_unbalance,
    angle_of_load,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    from simulator.findings.result import Result

FOUR = "unequal-coils-four-wires"
TWO = "two-meters-with-a-neutral"


def lines(figure: Figure) -> dict[str, Line2D]:
    return {str(a.get_gid()): a for axes in figure.axes for a in axes.lines if a.get_gid()}


def texts(figure: Figure) -> list[str]:
    found: Any = figure.findobj(lambda a: hasattr(a, "get_text"))
    return [t.get_text() for t in found]


def test_drawn_errors_are_the_computed_ones(shipped: Callable[[str], Result]) -> None:
    result = shipped(FOUR)
    drawn = lines(draw_curves(result))
    sweeps = {
        "unbalance": against_unbalance(result),
        "mismatch": against_mismatch(result),
        "neutral-impedance": against_neutral_impedance(result),
    }
    for panel, sweep in sweeps.items():
        for name, errors in sweep.errors.items():
            line = drawn[f"{panel}-curve-{name}"]
            np.testing.assert_array_equal(line.get_xdata(), sweep.x)
            np.testing.assert_array_equal(line.get_ydata(), errors)


def test_drawn_readings_are_the_computed_ones(shipped: Callable[[str], Result]) -> None:
    result = shipped(TWO)
    drawn, sweep = lines(draw_curves(result)), against_power_factor(result)
    assert sweep.total is not None
    assert sweep.true is not None
    values = sweep.readings | {"total": sweep.total, "true": sweep.true}
    for name, watts in values.items():
        line = drawn[f"power-factor-curve-{name}"]
        np.testing.assert_array_equal(line.get_xdata(), sweep.angles)
        np.testing.assert_allclose(line.get_ydata(), watts / 1000, rtol=1e-15)


def test_the_scenario_is_marked(shipped: Callable[[str], Result]) -> None:
    result = shipped(TWO)
    drawn = lines(draw_curves(result, ["power-factor", "ratio"]))
    angle = angle_of_load(result)
    rings = [v for k, v in drawn.items() if k.startswith("power-factor-own-")]
    heights = {round(float(ring.get_ydata()[0]), 9) for ring in rings}
    total = sum(r.watts for r in result.readings.values())
    watts = [*(r.watts for r in result.readings.values()), total]
    assert heights == {round(w / 1000, 9) for w in watts}
    assert {float(ring.get_xdata()[0]) for ring in rings} == {angle}
    ring = drawn["ratio-own-0"]
    first, second = (r.watts for r in result.readings.values())
    small, large = sorted((first, second), key=abs)
    assert ring.get_xdata()[0] == pytest.approx(np.cos(np.radians(angle)))
    assert ring.get_ydata()[0] == pytest.approx(small / large)


def test_a_balanced_scenario_lies_on_its_curves(shipped: Callable[[str], Result]) -> None:
    drawn = lines(draw_curves(shipped("idle-motor-reads-below-zero")))
    ratio, ring = drawn["ratio-curve-lag"], drawn["ratio-own-0"]
    x, y = ratio.get_xdata(), ratio.get_ydata()
    assert np.all(np.diff(x) > 0)
    # between points three degrees apart a chord is off by at most some thousandths
    assert np.interp(ring.get_xdata()[0], x, y) == pytest.approx(ring.get_ydata()[0], abs=4e-3)


def test_ratio_runs_from_minus_one_to_one(shipped: Callable[[str], Result]) -> None:
    drawn = lines(draw_curves(shipped("a-first-measurement"), ["ratio"]))
    for name in ("lag", "lead"):
        x, y = drawn[f"ratio-curve-{name}"].get_data()
        # needs.md 8: ratio 1 at power factor 1, 0 at 0.5, −1 at 0
        assert (x[0], x[-1]) == pytest.approx((0, 1))
        assert (y[0], y[-1]) == pytest.approx((-1, 1))
        assert np.interp(0.5, x, y) == pytest.approx(0, abs=1e-9)


def test_the_power_factor_runs_from_lead_to_lag(shipped: Callable[[str], Result]) -> None:
    figure = draw_curves(shipped(TWO), ["power-factor"])
    (axes,) = figure.axes
    labels = [t.get_text() for t in axes.get_xticklabels()]
    marks = dict(zip(labels, axes.get_xticks().tolist(), strict=True))
    assert (marks["0 lead"], marks["1"], marks["0 lag"]) == (-90, 0, 90)
    for text, angle in zip(labels, axes.get_xticks(), strict=True):
        # derived: each number is the cosine of its angle, three digits
        assert float(text.split()[0]) == pytest.approx(np.cos(np.radians(angle)), abs=5e-4)


def test_axes_have_units_and_the_sheet_its_title(shipped: Callable[[str], Result]) -> None:
    result = shipped(FOUR)
    figure = draw_curves(result)
    for axes in figure.axes:
        assert "[" in axes.get_ylabel()
        assert "[" in axes.get_xlabel() or axes.get_xlabel() == "power factor"
    assert result.measurement.title in texts(figure)


def test_three_wires_lie_on_zero_and_say_so(shipped: Callable[[str], Result]) -> None:
    found = texts(draw_curves(shipped(FOUR), ["mismatch"]))
    assert "3 wires: on zero" in found
    assert "4 wires" in found


@pytest.mark.parametrize(
    ("name", "panels"),
    [
        (FOUR, ["power-factor", "unbalance", "mismatch", "neutral-impedance"]),
        (TWO, ["power-factor", "ratio", "unbalance", "neutral-impedance"]),
        ("a-first-measurement", ["power-factor", "ratio", "unbalance"]),
        ("artificial-neutral-unequal-resistors", ["power-factor", "unbalance", "mismatch"]),
    ],
)
def test_only_curves_that_make_sense_are_chosen(
    name: str, panels: list[str], shipped: Callable[[str], Result]
) -> None:
    figure = draw_curves(shipped(name))
    drawn = lines(figure)
    assert len(figure.axes) == len(panels)
    assert [p for p in CURVES if any(k.startswith(f"{p}-curve") for k in drawn)] == panels


@pytest.mark.parametrize(
    ("name", "curve", "expected"),
    [
        (FOUR, "ratio", "curve 'ratio': a ratio needs two wattmeters, and there are 3"),
        (TWO, "mismatch", "curve 'mismatch': unequal voltage circuits matter where"),
        ("a-first-measurement", "neutral-impedance", "but there are 3 wires"),
        (TWO, "colour", "no curve is called 'colour'; known are power-factor, ratio, unbalance"),
    ],
)
def test_a_curve_that_does_not_apply_is_refused(
    name: str, curve: str, expected: str, shipped: Callable[[str], Result]
) -> None:
    with pytest.raises(ScenarioError) as caught:
        draw_curves(shipped(name), [curve])
    assert expected in str(caught.value)


def test_no_curve_at_all(shipped: Callable[[str], Result]) -> None:
    with pytest.raises(ScenarioError, match=r"no curve makes sense here: .*without a wattmeter"):
        draw_curves(shipped("sequence-star-capacitor-and-lamps"))


def test_curves_differ_in_dash_where_there_is_no_colour(shipped: Callable[[str], Result]) -> None:
    drawn = lines(draw_curves(shipped(FOUR), ["unbalance"], Style(black_and_white=True)))
    dashes = {str(drawn[f"unbalance-curve-L{k}"]._dash_pattern) for k in (1, 2, 3)}
    assert len(dashes) == 3

"""The figure of a study: the numbers that are drawn are those that were computed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from simulator.errors import ScenarioError
from simulator.figures.studies import draw_study
from simulator.studies.run import monte_carlo, vary
from simulator.studies.steps import Steps
from tests.studies.documents import Document, changed, scenario
from tests.studies.test_many import STAR

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D


def lines(figure: Figure) -> dict[str, Line2D]:
    return {str(a.get_gid()): a for axes in figure.axes for a in axes.lines if a.get_gid()}


def axis_names(figure: Figure) -> list[str]:
    return [axes.get_xlabel() for axes in figure.axes]


def texts(figure: Figure) -> list[str]:
    found: Any = figure.findobj(lambda a: hasattr(a, "get_text"))
    return [t.get_text() for t in found]


def test_one_quantity_has_readings_and_error() -> None:
    study = vary(scenario(STAR), {"ovens: L1": Steps("1 ohm", "100 ohm", 21, logarithmic=True)})
    figure = draw_study(study)
    drawn = lines(figure)
    assert study.error_percent is not None
    x = np.logspace(0, 2, 21)
    for name, values in (
        ("readings-curve-W1", study.readings["W1"] / 1000),
        ("readings-curve-true", study.true / 1000),
        ("error-curve-error", study.error_percent),
    ):
        np.testing.assert_allclose(np.asarray(drawn[name].get_xdata(), float), x, rtol=1e-12)
        np.testing.assert_array_equal(drawn[name].get_ydata(), values)
    assert axis_names(figure) == ["ovens: L1 [Ω]"] * 2
    assert all(axes.get_xscale() == "log" for axes in figure.axes)
    assert figure.axes[0].get_ylabel() == "reading, power [kW]"


def test_two_quantities_have_a_curve_for_each_value_of_the_second() -> None:
    quantities = {"ovens: L3": ["20 ohm", "40 ohm"], "ovens: L1": Steps("10 ohm", "30 ohm", 9)}
    study = vary(scenario(STAR), quantities)
    figure = draw_study(study)
    drawn = lines(figure)
    assert study.total is not None
    for k, label in enumerate(("20 ohm", "40 ohm")):
        line = drawn[f"total-curve-{label}"]
        np.testing.assert_array_equal(line.get_xdata(), np.linspace(10, 30, 9))
        np.testing.assert_array_equal(line.get_ydata(), study.total[k] / 1000)
    assert "A curve for each ovens: L3" in " ".join(texts(figure))


def test_together_is_one_curve() -> None:
    quantities = {f"ovens: L{k}": Steps("10 ohm", "30 ohm", 9) for k in (1, 2, 3)}
    figure = draw_study(vary(scenario(STAR), quantities, together=True))
    assert {"readings-curve-W1", "readings-curve-total"} <= lines(figure).keys()


def test_a_power_factor_stands_at_its_angle() -> None:
    study = vary(scenario(STAR), {"ovens: power_factor": Steps("0 lag", "1", 11)})
    figure = draw_study(study)
    x = np.degrees(np.arccos(np.linspace(0, 1, 11)))
    drawn = np.asarray(lines(figure)["readings-curve-W1"].get_xdata(), float)
    np.testing.assert_allclose(drawn, x, atol=1e-6)
    ticks = [t.get_text() for t in figure.axes[0].get_xticklabels()]
    assert ticks == ["1", "0.8 lag", "0.5 lag", "0 lag"]


@pytest.mark.parametrize(
    ("values", "name", "x"),
    [
        (["10 ohm @ 30 deg", "20 ohm @ 30 deg"], "ovens: L1, magnitude [Ω]", [10, 20]),
        (["10+1j ohm", "10+3j ohm"], "ovens: L1, reactance [Ω]", [1, 3]),
        (["10+1j ohm", "12+1j ohm", "open"], "ovens: L1, resistance [Ω]", [10, 12]),
        (["10j ohm", "10 ohm", "10 ohm @ -60 deg"], "ovens: L1, angle [°]", [90, 0, -60]),
    ],
)
def test_a_complex_quantity_is_drawn_along_what_varies(values, name: str, x: list[float]) -> None:
    figure = draw_study(vary(scenario(STAR), {"ovens: L1": values}))
    assert axis_names(figure)[0] == name
    drawn = np.asarray(lines(figure)["readings-curve-W1"].get_xdata(), float)
    assert drawn.tolist() == pytest.approx(x)
    assert ("without the case in which it is open" in texts(figure)) == ("open" in values)


def test_other_meters_have_panels_of_their_own() -> None:
    document: Document = changed(STAR, "voltmeter", value=[{"name": "V1", "between": ["L1", "N"]}])
    document["ammeter"] = [{"name": "A1", "in": "N"}]
    study = vary(scenario(document), {"ovens: L1": ["10 ohm", "30 ohm"]})
    figure = draw_study(study)
    drawn = lines(figure)
    np.testing.assert_array_equal(drawn["voltmeters-curve-V1"].get_ydata(), study.readings["V1"])
    np.testing.assert_array_equal(drawn["ammeters-curve-A1"].get_ydata(), study.readings["A1"])
    assert [axes.get_ylabel() for axes in figure.axes][2:] == ["reading [V]", "reading [A]"]


def test_without_a_total_every_meter_is_compared() -> None:
    document = {k: v for k, v in STAR.items() if k != "total"}
    quantities = {"ovens: L3": ["20 ohm", "40 ohm"], "ovens: L1": Steps("10 ohm", "30 ohm", 9)}
    drawn = lines(draw_study(vary(scenario(document), quantities)))
    assert {"W1-curve-20 ohm", "W2-curve-40 ohm"} <= drawn.keys()


@pytest.mark.parametrize(
    ("quantities", "said"),
    [
        ({"ovens: L1": ["10 ohm"]}, "a curve needs at least two values"),
        ({"ovens: L1": ["10 ohm", "open"]}, "a curve needs at least two values"),
        ({"ovens: L1": ["1 ohm", "2j ohm", "3+9j ohm"]}, "its values lie on no line"),
        (
            {
                "ovens: L1": Steps("10 ohm", "20 ohm", 9),
                "ovens: L2": Steps("10 ohm", "20 ohm", 7),
            },
            "there would be 7; give the other quantities fewer values",
        ),
        ({"ovens: L1": Steps("10 ohm", "20 ohm", 20_001)}, "a curve can have at most 20000 points"),
    ],
)
def test_what_is_no_curve_is_refused(quantities, said: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        draw_study(vary(scenario(STAR), quantities))
    assert said in str(caught.value)


def test_random_cases_are_no_curve() -> None:
    study = monte_carlo(scenario(STAR), {"ovens: L1": "normal 2 %"}, cases=10)
    with pytest.raises(ScenarioError, match="varies step by step"):
        draw_study(study)

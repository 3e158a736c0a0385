"""Uncertainties and drift as text and as objects for machines."""

from __future__ import annotations

import json

import pytest

import simulator
from simulator.findings.drift import study_drift
from simulator.findings.uncertainty.evaluation import evaluate_uncertainty
from simulator.findings.uncertainty.inputs import Distribution, Input, Tolerance
from simulator.findings.uncertainty.monte_carlo import Settings
from simulator.reports.uncertainty import (
    drift_object,
    drift_text,
    size_text,
    uncertainty_object,
    uncertainty_text,
)
from tests.findings.uncertainty.base import CLASS_HALF, case, document

SUPPLY = {"supply: voltage": Tolerance(0.01, 0.0, Distribution.NORMAL)}
LONG = Settings(draws=100_000, digits=1)


def table(text: str, title: str) -> dict[str, list[str]]:
    """Rows of the table whose heading begins with a title, by their first column."""
    block = next(part for part in text.split("\n\n") if part.startswith(title))
    rows = [line.split("  ") for line in block.splitlines()[2:]]
    return {row[0]: [cell.strip() for cell in row[1:] if cell.strip()] for row in rows}


@pytest.mark.parametrize(
    ("distribution", "size", "unit", "text"),
    [
        (Distribution.RECTANGULAR, 0.5, "°", "±30′"),  # class 0.5 of a current transformer
        (Distribution.RECTANGULAR, 3.0, "°", "±3°"),
        (Distribution.NORMAL, 0.25, "°", "u 15′"),
        (Distribution.RECTANGULAR, 12345.6, "W", "±12345.6 W"),
        (Distribution.NORMAL, 0.52, "%", "u 0.52 %"),
    ],
)
def test_sizes_are_written_as_classes_have_them(
    distribution: Distribution, size: float, unit: str, text: str
) -> None:
    assert size_text(Input("it", distribution, size, unit)) == text


def test_text_of_a_balanced_load() -> None:
    """Case B at 30° with class 0.5 of 4000 W: ±20 W each; numbers derived as in test_linear."""
    text = uncertainty_text(evaluate_uncertainty(case(30.0, CLASS_HALF), settings=LONG))
    quantities = table(text, "quantity")
    # derived: 20/√3 = 11.5 W; 95 % of ±20 W is ±19 W; V·I·cos 60° = 2000 W
    assert quantities["W1 W"] == ["2000", "12", "1981", "2019", "1980", "2020", "12", "agrees"]
    # derived: √2·11.5 = 16.3 W; a triangle ±40 W holds 95 % within 40·(1 − √0.05) = 31.1 W
    assert quantities["total W"] == ["6000", "16", "5969", "6031", "5960", "6040", "16", "agrees"]
    assert "error of the total W" not in quantities  # the total without the true power
    assert list(quantities)[-3:] == ["reactive power var", "angle φ °", "power factor"]
    budget = table(text, "budget of total W")
    assert budget["accuracy class 0.5 of W1"] == ["±20 W", "12", "50.0", "20"]
    assert budget["root of sum of squares"] == ["16", "100.0", "28"]
    assert budget["sum"] == ["40"]
    # derived: √3/2·W2 against √3/2·W1 as sensitivities, W2 = 2·W1: 4/5 and 1/5 of the variance
    first, row = next(iter(table(text, "budget of power factor").items()))
    assert (first, row[2]) == ("accuracy class 0.5 of W1", "80.0")
    assert text.startswith("Uncertainty, from 100000 draws (JCGM 101, seed 1); intervals hold 95 %")
    assert "Mind" not in text


def test_text_with_a_standard_uncertainty() -> None:
    text = uncertainty_text(evaluate_uncertainty(case(30.0, CLASS_HALF), SUPPLY, settings=LONG))
    assert table(text, "quantity")["W1 W"][4:6] == ["–", "–"]
    budget = table(text, "budget of total W")
    assert budget["supply: voltage"][0] == "u 1 %"
    assert budget["supply: voltage"][-1] == budget["sum"][0] == "–"
    assert "budget of error of the total W" in text


def test_text_at_unity() -> None:
    text = uncertainty_text(evaluate_uncertainty(case(0.0, CLASS_HALF), settings=LONG))
    assert "Mind: Lag cannot be told from lead: φ lies from −0.4" in text
    assert "Mind: The linear law fails for the power factor: it gives u = 0" in text
    assert "or report φ = 0.00° with u = 0.23°" in text
    assert table(text, "quantity")["power factor"][-2:] == ["0.0000000", "differs"]


def test_text_without_a_total() -> None:
    tables = document(30.0, CLASS_HALF)
    del tables["method"]
    tables["load"][0] |= {"each": "20 ohm"}
    tables["wattmeter"] = [
        {"name": "Wa", "current": "L1", "voltage": ["L1", "L2"], "instrument": "portable"}
    ]
    text = uncertainty_text(
        evaluate_uncertainty(simulator.scenario_from(tables), settings=Settings(draws=2000))
    )
    assert list(table(text, "quantity")) == ["Wa W"]
    assert "accuracy class 0.5 of Wa" in table(text, "budget of Wa W")
    assert "Not stable in 2 digits after 2000 draws" in text


@pytest.mark.parametrize("tolerances", [{}, SUPPLY])
def test_object(tolerances: dict[str, Tolerance]) -> None:
    u = evaluate_uncertainty(case(30.0, CLASS_HALF), tolerances, settings=LONG)
    found = uncertainty_object(u)
    for value in (found["quantities"], found["inputs"], found["notes"], found["remarks"]):
        for inner in value:
            if not isinstance(inner, str):
                assert set(map(type, inner.values())) <= {str, float, list, dict, bool, type(None)}
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert (found["draws"], found["seed"], found["probability"]) == (100_000, 1, 0.95)
    by_name = {q["name"]: q for q in found["quantities"]}
    W1 = by_name["W1"]
    assert (W1["kind"], W1["unit"]) == ("reading", "W")
    assert W1["interval"] == list(u["W1"].simulation.symmetric)
    assert (W1["worst_case"] is None) == (W1["limits_sum"] is None) == bool(tolerances)
    assert {c["source"] for c in W1["budget"]} <= {i["source"] for i in found["inputs"]}
    assert sum(c["share"] for c in W1["budget"]) == pytest.approx(1)
    assert by_name["power factor"]["unit"] == ""


def test_drift() -> None:
    study = study_drift(simulator.solve(case(75.0)))
    assert study is not None
    found = drift_object(study)
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert found["drift_percent"] == 5
    assert found["as_listed"]["order"] == [["W1"], ["W2"]]
    assert found["as_listed"]["effect_percent"] == pytest.approx(5.26, abs=0.005)  # need 20
    assert found["there_and_back"]["order"] == [["W1"], ["W2"], ["W1"]]
    assert drift_text(study).splitlines() == found["advice"]

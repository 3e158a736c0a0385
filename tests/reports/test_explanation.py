"""An explanation as text: what a trainee meets is explained where it stands."""

from __future__ import annotations

from typing import Any

import simulator
from simulator.reports.explanation import explanation_text

HEATER = {"connection": "star", "each": "40 ohm"}
THREE = {"wires": 3, "voltage": "400 V"}
TWO = {"name": "two wattmeters"}


def text_of(**tables: Any) -> str:
    scenario = simulator.scenario_from(
        {"title": "text", "supply": THREE, "load": [HEATER]} | tables
    )
    return explanation_text(simulator.explain(scenario))


def test_no_table_of_an_error_that_is_none() -> None:
    text = text_of(method=TWO)
    assert text.endswith("The error, term by term: there is none.\n")


def test_what_real_meters_add_is_kept_apart_from_the_method() -> None:
    # derived: voltage circuits on the load side take 400²/16000 = 10 W each, two of them 20 W
    real = {"instrument": {"i": {"voltage_circuit": "16 kohm"}}}
    text = text_of(method=TWO | {"instrument": "i", "voltage_tap": "load"}, **real)
    assert "the total is right, were meters and leads ideal\n" in text
    rows = [line.split("  ")[0] for line in text.splitlines()]
    assert {"the method", "the meters' own consumption"} <= set(rows)
    assert "error of the total           20.000" in text
    assert ", were meters" not in text_of(method=TWO)


def test_signs_are_explained_where_they_stand() -> None:
    four = {"wires": 4, "voltage": "400 V"}
    text = text_of(
        supply=four,
        load=[HEATER | {"star_point": "neutral"}],
        method={"name": "one wattmeter to neutral"},
    )
    assert "Re(V·I*) is V times I times the cosine of the angle between them" in text
    assert "‖V‖·‖I‖ (roots of the sums of the lines' squares)" in text

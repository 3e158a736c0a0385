"""Predicts what every wattmeter in a three-phase circuit will read, and why.

>>> import simulator
>>> scenario = simulator.scenario_from({
...     "title": "Balanced heater",
...     "supply": {"wires": 3, "voltage": "400 V"},
...     "load": [{"connection": "star", "each": "50 ohm, 0.5 lag"}],
...     "method": {"name": "two wattmeters", "common": "L2"},
... })
>>> result = simulator.solve(scenario)
>>> result["W1"].direction, f"{result['W2'].watts:.1f} W"
('zero', '1600.0 W')
>>> result.total.is_right
True
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from simulator.errors import (
        FormulaError,
        NetworkError,
        QuantityError,
        ScenarioError,
        SimulatorError,
    )
    from simulator.figures.connections.listing import connection_text
    from simulator.figures.every import figures_of
    from simulator.figures.saving import save_figures
    from simulator.figures.style import Style
    from simulator.findings.explanation import Explanation, explain
    from simulator.findings.faults.find import find_faults
    from simulator.findings.inference import Given, Inference, infer
    from simulator.findings.inference_from_scenario import infer_scenario
    from simulator.findings.result import Result, solve
    from simulator.findings.uncertainty.evaluation import evaluate_uncertainty
    from simulator.reports.explanation import explanation_text
    from simulator.reports.machine import result_object
    from simulator.reports.text import result_text
    from simulator.scenario.models import Scenario
    from simulator.scenario.reader import parse_scenario, read_scenario, scenario_from
    from simulator.studies.run import monte_carlo, monte_carlo_statistics, vary
    from simulator.studies.steps import Steps

__version__ = "0.1.0"

# Where each public name lives; imported when first used, so that `blondel --help` needs no numpy.
_HOMES = {
    "FormulaError": "simulator.errors",
    "NetworkError": "simulator.errors",
    "QuantityError": "simulator.errors",
    "ScenarioError": "simulator.errors",
    "SimulatorError": "simulator.errors",
    "Result": "simulator.findings.result",
    "solve": "simulator.findings.result",
    "Explanation": "simulator.findings.explanation",
    "explain": "simulator.findings.explanation",
    "Given": "simulator.findings.inference",
    "Inference": "simulator.findings.inference",
    "infer": "simulator.findings.inference",
    "infer_scenario": "simulator.findings.inference_from_scenario",
    "Style": "simulator.figures.style",
    "figures_of": "simulator.figures.every",
    "save_figures": "simulator.figures.saving",
    "connection_text": "simulator.figures.connections.listing",
    "find_faults": "simulator.findings.faults.find",
    "evaluate_uncertainty": "simulator.findings.uncertainty.evaluation",
    "vary": "simulator.studies.run",
    "monte_carlo": "simulator.studies.run",
    "monte_carlo_statistics": "simulator.studies.run",
    "Steps": "simulator.studies.steps",
    "result_object": "simulator.reports.machine",
    "result_text": "simulator.reports.text",
    "explanation_text": "simulator.reports.explanation",
    "Scenario": "simulator.scenario.models",
    "parse_scenario": "simulator.scenario.reader",
    "read_scenario": "simulator.scenario.reader",
    "scenario_from": "simulator.scenario.reader",
}

__all__ = [
    "Explanation",
    "FormulaError",
    "Given",
    "Inference",
    "NetworkError",
    "QuantityError",
    "Result",
    "Scenario",
    "ScenarioError",
    "SimulatorError",
    "Steps",
    "Style",
    "connection_text",
    "evaluate_uncertainty",
    "explain",
    "explanation_text",
    "figures_of",
    "find_faults",
    "infer",
    "infer_scenario",
    "monte_carlo",
    "monte_carlo_statistics",
    "parse_scenario",
    "read_scenario",
    "result_object",
    "result_text",
    "save_figures",
    "scenario_from",
    "solve",
    "vary",
]


def __getattr__(name: str) -> Any:
    from importlib import import_module  # noqa: PLC0415

    if name not in _HOMES:
        raise AttributeError(f"module 'simulator' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)

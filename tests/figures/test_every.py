from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from matplotlib.figure import Figure

from simulator.errors import ScenarioError
from simulator.figures.curves import CURVES
from simulator.figures.every import FIGURES, figures_of
from simulator.figures.style import Style

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.findings.result import Result


def output_of(script: str) -> str:
    command = [sys.executable, "-c", script]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def test_every_figure_has_a_name(shipped: Callable[[str], Result]) -> None:
    result = shipped("two-meters-with-a-neutral")
    names = [*reversed(FIGURES), "ratio", "unbalance"]
    figures = figures_of(result, names, Style(black_and_white=True))
    assert list(figures) == names
    for name, figure in figures.items():
        assert isinstance(figure, Figure)
        words = [t.get_text() for t in figure.texts]
        assert result.measurement.title in words, name
    assert len(figures["ratio"].axes) == 1


def test_the_waveforms_of_a_wattmeter(shipped: Callable[[str], Result]) -> None:
    result = shipped("two-meters-with-a-neutral")
    figures = figures_of(result, ["waveforms"], meter="W2")
    assert any(t.get_text().startswith("Waveforms of W2") for t in figures["waveforms"].texts)


def test_an_unknown_figure_is_refused(shipped: Callable[[str], Result]) -> None:
    with pytest.raises(ScenarioError) as caught:
        figures_of(shipped("a-first-measurement"), ["phasor"])
    for name in ("'phasor'", *FIGURES, *CURVES):
        assert name in str(caught.value)


def test_the_rest_of_the_package_starts_without_matplotlib() -> None:
    script = (
        "import sys, simulator\n"
        "import simulator.reports.text, simulator.reports.machine, simulator.cli\n"
        "result = simulator.solve(simulator.scenario_from({'title': 't', 'supply': {'wires': 3, "
        "'voltage': '400 V'}, 'method': {'name': 'two wattmeters'}}))\n"
        "simulator.result_text(result)\n"
        "print(sorted({'matplotlib', 'schemdraw', 'PIL'} & set(sys.modules)))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"


def test_no_figure_touches_pyplot() -> None:
    script = (
        "import sys, simulator\n"
        "from simulator.figures.every import figures_of, FIGURES\n"
        "result = simulator.solve(simulator.scenario_from({'title': 't', 'supply': {'wires': 3, "
        "'voltage': '400 V'}, 'load': [{'connection': 'star', 'each': '23 ohm'}], "
        "'method': {'name': 'two wattmeters'}}))\n"
        "figures_of(result, ['phasors', 'waveforms', 'curves'])\n"
        "print('matplotlib.pyplot' in sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout == "False\n"

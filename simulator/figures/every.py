"""Any figure by its name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.errors import ScenarioError
from simulator.figures.style import PLAIN, Style

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from simulator.figures.connections.diagram import MarkStyle
    from simulator.findings.result import Result

FIGURES = ("phasors", "connections", "waveforms", "curves")
"""Names of the figures."""


def figures_of(
    result: Result,
    names: Sequence[str],
    style: Style = PLAIN,
    *,
    meter: str | None = None,
    mark: MarkStyle = "star",
) -> dict[str, Figure]:
    """Draw figures by their names.

    Parameters
    ----------
    result : Result
        The result.
    names : sequence of str
        Some of `FIGURES`, or keys of `simulator.figures.curves.CURVES` for one curve alone.
    style : Style, optional
        The look.
    meter : str, optional
        The wattmeter whose waveforms are drawn; the first one if not given.
    mark : {"star", "dot", "plus-minus"}, optional
        How the connection diagram marks terminals.

    Returns
    -------
    dict of str to Figure
        The figures, in the order of their names.

    Raises
    ------
    ScenarioError
        If a name is none of these, or a figure makes no sense for the scenario; it says why.

    Examples
    --------
    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [
    ...         {"connection": "line-to-neutral", "L1": "20 ohm", "L2": "40 ohm", "L3": "40 ohm"}
    ...     ],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> figures = simulator.figures_of(simulator.solve(scenario), ["phasors", "connections"])
    >>> list(figures)
    ['phasors', 'connections']
    """
    return {name: _figure(name, result, style, meter, mark) for name in names}


def _figure(name: str, result: Result, style: Style, meter: str | None, mark: MarkStyle) -> Figure:
    """Draw one figure, importing only what that takes."""
    if name == "phasors":
        from simulator.figures.phasors import draw_phasors  # noqa: PLC0415

        return draw_phasors(result, style)
    if name == "connections":
        from simulator.figures.connections.diagram import draw_connections  # noqa: PLC0415

        return draw_connections(result, style, mark=mark)
    if name == "waveforms":
        from simulator.figures.waveforms import draw_waveforms  # noqa: PLC0415

        return draw_waveforms(result, meter, style)
    from simulator.figures.curves import CURVES, draw_curves  # noqa: PLC0415

    if name == "curves":
        return draw_curves(result, style=style)
    if name in CURVES:
        return draw_curves(result, [name], style)
    known = ", ".join((*FIGURES, *CURVES))
    raise ScenarioError(f"no figure is called '{name}'; known are {known}", "figure")

"""Studies from Python: a scenario's quantities varied, or drawn at random."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.studies.prepared import prepare_draws, prepare_sweep

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from concurrent.futures import Executor
    from pathlib import Path

    from simulator.scenario.models import Scenario
    from simulator.studies.statistics import Statistics
    from simulator.studies.steps import Steps
    from simulator.studies.study import Study


def vary(
    scenario: Scenario,
    quantities: Mapping[str, Sequence[str] | Steps],
    *,
    together: bool = False,
    executor: Executor | None = None,
    keep: str | Path | None = None,
) -> Study:
    """Vary quantities of a scenario.

    Parameters
    ----------
    scenario : Scenario
        The scenario.
    quantities : mapping of str to (sequence of str or Steps)
        For each quantity, such as "ovens: L2", its values as one writes them in the file.
    together : bool, optional
        Whether the first case has the first value of each and so on, instead of each with each.
    executor : Executor, optional
        Who computes the cases, any of `concurrent.futures`; this process if not given.
    keep : str or Path, optional
        A directory in which finished parts are kept, and found again.

    Returns
    -------
    Study
        What every meter reads in every case.

    Raises
    ------
    SimulatorError
        If a quantity or a value is none, or the scenario cannot be solved at all.

    Examples
    --------
    One heater on one line, and one meter times three:

    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [{"name": "heaters", "connection": "line-to-neutral", "L1": "20 ohm"}],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> study = simulator.vary(scenario, {"heaters: L1": ["20 ohm", "40 ohm"]})
    >>> study.readings["W"].round().tolist(), study.total.round().tolist()
    ([2667.0, 1333.0], [8000.0, 4000.0])
    """
    prepared = prepare_sweep(scenario, quantities, together=together)
    return prepared.study(prepared.chunks(executor=executor, keep=keep))


def monte_carlo(  # noqa: PLR0913  (keywords, each with a meaning of its own)
    scenario: Scenario,
    distributions: Mapping[str, str],
    *,
    cases: int,
    seed: int = 0,
    correlations: Mapping[tuple[str, str], float] | None = None,
    executor: Executor | None = None,
    keep: str | Path | None = None,
) -> Study:
    """Draw quantities of a scenario at random.

    Parameters
    ----------
    scenario : Scenario
        The scenario.
    distributions : mapping of str to str
        For each quantity, such as "ovens: L2", how it is distributed around its value in the
        scenario: "normal 2 %" (standard deviation) or "uniform 5 %" (largest deviation).
    cases : int
        Number of cases.
    seed : int, optional
        What the random numbers follow from; the same seed gives the same numbers.
    correlations : mapping of (str, str) to float, optional
        Correlation coefficients of pairs of quantities.
    executor : Executor, optional
        Who computes the cases, any of `concurrent.futures`; this process if not given.
    keep : str or Path, optional
        A directory in which finished parts are kept, and found again.

    Returns
    -------
    Study
        What every meter reads in every case.

    Raises
    ------
    SimulatorError
        If a distribution is none, or the scenario cannot be solved at all.

    Examples
    --------
    A reading is inverse to the resistance, so it spreads as much:

    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [{"name": "heaters", "connection": "line-to-neutral", "L1": "20 ohm"}],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> drawn = {"heaters: L1": "normal 1 %"}
    >>> study = simulator.monte_carlo(scenario, drawn, cases=20_000, seed=1)
    >>> print(f"{study.readings['W'].std() / study.readings['W'].mean():.1%}")
    1.0%
    """
    texts = [f"{path} {distribution}" for path, distribution in distributions.items()]
    prepared = prepare_draws(scenario, texts, cases=cases, seed=seed, correlations=correlations)
    return prepared.study(prepared.chunks(executor=executor, keep=keep))


def monte_carlo_statistics(  # noqa: PLR0913  (keywords, each with a meaning of its own)
    scenario: Scenario,
    distributions: Mapping[str, str],
    *,
    cases: int,
    seed: int = 0,
    correlations: Mapping[tuple[str, str], float] | None = None,
    executor: Executor | None = None,
    keep: str | Path | None = None,
) -> dict[tuple[str, str], Statistics]:
    """Draw quantities of a scenario at random and keep only statistics, however many cases.

    Parameters
    ----------
    scenario : Scenario
        The scenario.
    distributions : mapping of str to str
        For each quantity how it is distributed, as of `monte_carlo`.
    cases : int
        Number of cases.
    seed : int, optional
        What the random numbers follow from; the same seed gives the same numbers.
    correlations : mapping of (str, str) to float, optional
        Correlation coefficients of pairs of quantities.
    executor : Executor, optional
        Who computes the cases, any of `concurrent.futures`; this process if not given.
    keep : str or Path, optional
        A directory in which finished parts are kept, and found again.

    Returns
    -------
    dict of (str, str) to Statistics
        By name and unit of what is computed.

    Raises
    ------
    SimulatorError
        If a distribution is none, or the scenario cannot be solved at all.

    Examples
    --------
    Of a uniform quantity 95 % lie within 0.95 of its largest deviation:

    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [{"name": "heaters", "connection": "line-to-neutral", "L1": "20 ohm"}],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> drawn = {"heaters: unbalance L1": "uniform 10 %"}
    >>> found = simulator.monte_carlo_statistics(scenario, drawn, cases=200_000)["W", "W"]
    >>> found.count, round(found.mean, -1), round((found.high - found.low) / found.mean, 2)
    (200000, 2670.0, 0.19)
    """
    texts = [f"{path} {distribution}" for path, distribution in distributions.items()]
    prepared = prepare_draws(scenario, texts, cases=cases, seed=seed, correlations=correlations)
    chunks = prepared.chunks(executor=executor, keep=keep, statistics=True)
    found = prepared.statistics(chunks)
    outputs = prepared.model.outputs
    return {(o.name, o.unit): each for o, each in zip(outputs, found, strict=True)}

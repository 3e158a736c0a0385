"""A study before it is computed: what varies and how, and the model that computes it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import ScenarioError
from simulator.scenario.build import build, expand_method
from simulator.scenario.models import RatingTable
from simulator.studies.chunks import run
from simulator.studies.compilation import compile_model
from simulator.studies.conversion import whole_of
from simulator.studies.distributions import parse_distribution
from simulator.studies.draws import BLOCK, Draws, correlation_matrix, mixing_matrix
from simulator.studies.keep import describe, open_keep
from simulator.studies.kinds import COMPENSATED_CIRCUIT, VOLTAGE_CIRCUIT
from simulator.studies.paths import find_quantity, quantities_of
from simulator.studies.progress import with_bar
from simulator.studies.rows import table_of
from simulator.studies.statistics import Accumulator, pilot_of
from simulator.studies.steps import Steps, values_of
from simulator.studies.study import Axis, study_of
from simulator.studies.sweep import Sweep

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from concurrent.futures import Executor
    from pathlib import Path

    from simulator.scenario.models import Scenario
    from simulator.studies.chunks import Chunk
    from simulator.studies.model import Model
    from simulator.studies.paths import Quantity
    from simulator.studies.rows import Table
    from simulator.studies.statistics import Pilot, Statistics
    from simulator.studies.study import Study


@dataclass(frozen=True, eq=False)
class Prepared:
    """A study before it is computed.

    Attributes
    ----------
    scenario : Scenario
        The scenario.
    cases : Sweep or Draws
        The cases.
    model : Model
        What computes them.
    """

    scenario: Scenario
    cases: Sweep | Draws
    model: Model

    @property
    def notes(self) -> list[str]:
        """What a person should notice beside the numbers."""
        paths = {quantity.path for quantity in self.cases.quantities}
        if not paths & {"supply: voltage", "supply: positive"}:
            return []
        return [
            f"load '{table.name or k}' is rated at the supply's voltage, so its impedance follows "
            'it; say at = "400 V" or the like where the rating is of one voltage'
            for k, table in enumerate(self.scenario.load, 1)
            if any(isinstance(v, RatingTable) and v.at is None for _, v in table)
        ]

    @cached_property
    def pilot(self) -> Pilot:
        """Where the results lie, from the first block of cases."""
        columns = self.cases.columns(0, min(BLOCK, self.cases.count))
        return pilot_of(self.model.evaluate(columns)[0])

    @property
    def table(self) -> Table:
        """The columns, when it is written as a table."""
        values = self.cases.values if isinstance(self.cases, Sweep) else self.cases.sample()
        quantities = [(q.path, q.kind) for q in self.cases.quantities]
        return table_of(quantities, values, self.model.outputs)

    def chunks(
        self,
        *,
        executor: Executor | None = None,
        keep: str | Path | None = None,
        statistics: bool = False,
        bar: bool = False,
    ) -> Iterator[Chunk]:
        """Compute the cases.

        Parameters
        ----------
        executor : Executor, optional
            Who computes them, any of `concurrent.futures`; this process if not given.
        keep : str or Path, optional
            A directory in which finished chunks are kept, and found again.
        statistics : bool, optional
            Whether only statistics are kept of the cases.
        bar : bool, optional
            Whether a terminal shows how far it is.

        Returns
        -------
        iterator of Chunk
            The chunks in their order.

        Raises
        ------
        ScenarioError
            If the directory holds another study, or cannot be written.
        """
        store = None
        if keep is not None:
            store = open_keep(keep, describe(self.scenario, self.cases, statistics=statistics))
        pilot = self.pilot if statistics else None
        chunks = run(self.model, self.cases, executor=executor, keep=store, pilot=pilot)
        return with_bar(chunks, self.cases.count) if bar else chunks

    def study(self, chunks: Iterable[Chunk]) -> Study:
        """Collect all cases.

        Parameters
        ----------
        chunks : iterable of Chunk
            The chunks, with all their cases.

        Returns
        -------
        Study
            The study.
        """
        cases = self.cases
        values = np.empty((len(self.model.outputs), cases.count))
        failed: dict[int, str] = {}
        for chunk in chunks:
            values[:, chunk.start : chunk.start + chunk.count] = chunk.outputs
            failed |= chunk.failed
        shape: tuple[int, ...] = (cases.count,)
        seed = None
        if isinstance(cases, Draws):
            columns, seed = cases.columns(0, cases.count), cases.seed
        else:
            columns, shape = list(cases.values), cases.shape
        axes = tuple(
            Axis(q.path, q.kind.unit, each, q.kind)
            for q, each in zip(cases.quantities, columns, strict=True)
        )
        arrays = values.reshape(len(values), *shape)
        results = dict(zip(self.model.outputs, arrays, strict=True))
        return study_of(self.scenario.title, axes, results, failed, seed)

    def statistics(self, chunks: Iterable[Chunk]) -> list[Statistics]:
        """Add up the statistics of chunks that keep nothing else.

        Parameters
        ----------
        chunks : iterable of Chunk
            The chunks.

        Returns
        -------
        list of Statistics
            One for each output.
        """
        accumulator = Accumulator(self.pilot)
        for chunk in chunks:
            assert chunk.summary is not None  # noqa: S101  (the chunks are made for this)
            accumulator.add(chunk.summary)
        return accumulator.result()


def known_quantities(scenario: Scenario) -> dict[str, Quantity]:
    """List everything of a scenario that can vary.

    Parameters
    ----------
    scenario : Scenario
        The scenario.

    Returns
    -------
    dict of str to Quantity
        By path, such as "ovens: L2".
    """
    return quantities_of(expand_method(scenario), whole_of(build(scenario)))


def prepare_sweep(
    scenario: Scenario,
    quantities: Mapping[str, Sequence[str] | Steps],
    *,
    together: bool = False,
) -> Prepared:
    """Prepare a study of quantities that vary step by step.

    Parameters
    ----------
    scenario : Scenario
        The scenario.
    quantities : mapping of str to (sequence of str or Steps)
        For each quantity its values, as one writes them in the file.
    together : bool, optional
        Whether the first case has the first value of each and so on, instead of each with each.

    Returns
    -------
    Prepared
        The study.

    Raises
    ------
    SimulatorError
        If there is no such quantity, or a value is none.
    """
    known = known_quantities(scenario)
    found = [find_quantity(path, known) for path in quantities]
    values = tuple(
        values_of(quantity, given)
        for quantity, given in zip(found, quantities.values(), strict=True)
    )
    _check(found, [bool(np.imag(each).any()) for each in values])
    cases = Sweep(tuple(found), values, together)
    return Prepared(scenario, cases, compile_model(scenario, cases))


def prepare_draws(
    scenario: Scenario,
    distributions: Iterable[str],
    *,
    cases: int,
    seed: int = 0,
    correlations: Mapping[tuple[str, str], float] | None = None,
) -> Prepared:
    """Prepare a study of quantities that are drawn at random.

    Parameters
    ----------
    scenario : Scenario
        The scenario.
    distributions : iterable of str
        Texts such as "ovens: L2 normal 2 %".
    cases : int
        Number of cases.
    seed : int, optional
        What the random numbers follow from.
    correlations : mapping of (str, str) to float, optional
        Correlation coefficients of pairs of quantities.

    Returns
    -------
    Prepared
        The study.

    Raises
    ------
    SimulatorError
        If a distribution is none, or the correlations contradict each other.
    """
    if cases < 1 or seed < 0:
        raise ScenarioError(
            f"expected at least 1 case and a seed of at least 0, got {cases} and {seed}"
        )
    known = known_quantities(scenario)
    found = tuple(parse_distribution(text, known) for text in distributions)
    _check([each.quantity for each in found], [bool(each.base.imag) for each in found])
    given = {
        (find_quantity(one, known).path, find_quantity(other, known).path): coefficient
        for (one, other), coefficient in (correlations or {}).items()
    }
    matrix = correlation_matrix(given, [each.quantity.path for each in found])
    if matrix:
        mixing_matrix([each.shape for each in found], matrix)  # refuses what is impossible
    draws = Draws(found, cases, seed, matrix)
    return Prepared(scenario, draws, compile_model(scenario, draws))


def _check(quantities: Sequence[Quantity], has_reactance: Sequence[bool]) -> None:
    """Refuse what cannot vary at the same time."""
    if not quantities:
        raise ScenarioError("there is no quantity to vary")
    paths = [quantity.path for quantity in quantities]
    twice = next((path for path in paths if paths.count(path) > 1), None)
    if twice:
        raise ScenarioError("it is given twice", twice)
    for quantity, reactance in zip(quantities, has_reactance, strict=True):
        circuit = quantity.kind in (VOLTAGE_CIRCUIT, COMPENSATED_CIRCUIT)
        if circuit and reactance and "supply: frequency" in paths:
            raise ScenarioError(
                "its reactance cannot be given while the frequency varies", quantity.path
            )

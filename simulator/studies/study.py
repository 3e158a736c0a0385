"""The results of a study: what every meter reads in every case, with names and units."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.files import write_whole
from simulator.studies.model import ERROR, TOTAL, TRUE, Output
from simulator.studies.rows import Table, csv_header, csv_rows, table_of
from simulator.studies.statistics import Statistics, statistics_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    from simulator.studies.kinds import Kind

    Float = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Axis:
    """A quantity that varies.

    Attributes
    ----------
    name : str
        The quantity, in the words of the file.
    unit : str
        Unit of its values; empty for a plain number.
    values : ndarray of float or complex, shape (n,)
        Its values; a power factor is negative for lead.
    kind : Kind
        How values are written.
    """

    name: str
    unit: str
    values: npt.NDArray[Any]
    kind: Kind

    @property
    def texts(self) -> list[str]:
        """The values as a person writes them."""
        return [self.kind.write(value) for value in self.values.tolist()]


@dataclass(frozen=True, eq=False)
class Study:
    """What every meter reads in every case.

    Arrays have the shape of the study: an axis for each quantity where each varies with each, in
    the order in which they were given; a single axis of cases where they vary together or at
    random. A case that is impossible or without a unique solution is NaN everywhere.

    Attributes
    ----------
    title : str
        The scenario's title.
    axes : tuple of Axis
        The quantities that vary.
    shape : tuple of int
        Shape of the arrays.
    readings : dict of str to ndarray of float
        Reading of each wattmeter [W], voltmeter [V] and ammeter [A].
    units : dict of str to str
        Unit of each of them.
    total, true, error, error_percent : ndarray of float or None
        Indicated total, what it should be, their difference [W or var], and that in percent of
        what it should be, NaN where that is zero; `true` alone, the active power of the loads
        [W], if the scenario forms no total.
    total_unit : str
        W or var.
    failed : dict of int to str
        What is wrong with cases that are NaN, by their number, counted row by row.
    seed : int or None
        What random cases follow from.
    """

    title: str
    axes: tuple[Axis, ...]
    shape: tuple[int, ...]
    readings: dict[str, Float]
    units: dict[str, str]
    total: Float | None
    true: Float
    error: Float | None
    error_percent: Float | None
    total_unit: str
    failed: dict[int, str]
    seed: int | None = None

    @cached_property
    def outputs(self) -> dict[tuple[str, str], Float]:
        """All results by name and unit."""
        unit = self.total_unit
        found = {(name, self.units[name]): values for name, values in self.readings.items()}
        about = {
            (TOTAL, unit): self.total,
            (TRUE, unit): self.true,
            (ERROR, unit): self.error,
            (ERROR, "%"): self.error_percent,
        }
        return found | {key: values for key, values in about.items() if values is not None}

    def statistics(self) -> dict[tuple[str, str], Statistics]:
        """Give mean, standard deviation, 95 % interval and extremes of all results.

        Returns
        -------
        dict of (str, str) to Statistics
            By name and unit.
        """
        return {key: statistics_of(values.ravel()) for key, values in self.outputs.items()}

    @property
    def table(self) -> Table:
        """The columns, when it is written as a table."""
        quantities = [(axis.name, axis.kind) for axis in self.axes]
        outputs = [Output(name, unit) for name, unit in self.outputs]
        return table_of(quantities, [axis.values for axis in self.axes], outputs)

    @property
    def flat(self) -> Float:
        """All results, one row for each output and one column for each case."""
        return np.array([values.ravel() for values in self.outputs.values()])

    def columns(self) -> list[npt.NDArray[Any]]:
        """Give the values of the quantities in every case.

        Returns
        -------
        list of ndarray of shape (n_cases,)
            For each axis.
        """
        values = [axis.values for axis in self.axes]
        if len(self.shape) == len(values) and len(values) > 1:
            values = [grid.ravel() for grid in np.meshgrid(*values, indexing="ij")]
        return values

    def to_csv(self, path: str | Path | None = None, *, overwrite: bool = False) -> str:
        """Write one row for each case, with units in the header.

        Parameters
        ----------
        path : str or Path, optional
            A file to write it to.
        overwrite : bool, optional
            Whether a file that exists may be replaced.

        Returns
        -------
        str
            The rows.

        Raises
        ------
        ScenarioError
            If the file exists, or cannot be written.
        """
        rows = csv_rows(self.table, (0, self.columns(), self.flat, self.failed))
        text = csv_header(self.table) + rows
        if path is not None:
            write_whole(Path(path), text, overwrite=overwrite)
        return text


def study_of(
    title: str,
    axes: tuple[Axis, ...],
    results: Mapping[Output, Float],
    failed: dict[int, str],
    seed: int | None,
) -> Study:
    """Give results their names.

    Parameters
    ----------
    title : str
        The scenario's title.
    axes : tuple of Axis
        The quantities that vary.
    results : mapping of Output to ndarray of float
        What was computed, in the shape of the study.
    failed : dict of int to str
        What is wrong with cases that are NaN.
    seed : int or None
        What random cases follow from.

    Returns
    -------
    Study
        The study.
    """
    by_role = {output.role: (output, values) for output, values in results.items()}
    about = {role: values for role, (_, values) in by_role.items()}
    meters = [output for output in results if output.role == "meter"]
    return Study(
        title=title,
        axes=axes,
        shape=about["true"].shape,
        readings={output.name: results[output] for output in meters},
        units={output.name: output.unit for output in meters},
        total=about.get("total"),
        true=about["true"],
        error=about.get("error"),
        error_percent=about.get("percent"),
        total_unit=by_role["true"][0].unit,
        failed=failed,
        seed=seed,
    )

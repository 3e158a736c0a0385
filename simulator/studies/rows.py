"""Cases as rows of a table: which columns there are, and what stands in them."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.studies.kinds import POWER_FACTOR

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    import numpy.typing as npt

    from simulator.studies.kinds import Kind
    from simulator.studies.model import Output

    Array = npt.NDArray[Any]
    Part = tuple[int, Sequence[Array], Array, dict[int, str]]
    """Number of the first case, values of the quantities, outputs, and what is wrong with cases."""

Cell = float | int | str | None


@dataclass(frozen=True)
class Column:
    """A column of numbers.

    Attributes
    ----------
    name : str
        The quantity or the meter.
    unit : str
        Its unit.
    """

    name: str
    unit: str

    @property
    def heading(self) -> str:
        """Name and unit."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name


@dataclass(frozen=True)
class Table:
    """The columns of a study: the quantities that vary, and then the outputs.

    Attributes
    ----------
    quantities : tuple of (str, Kind)
        Names and kinds of the quantities.
    parted : tuple of bool
        Which of them are complex, and so take two columns.
    outputs : tuple of Output
        What is computed.
    """

    quantities: tuple[tuple[str, Kind], ...]
    parted: tuple[bool, ...]
    outputs: tuple[Output, ...]

    @property
    def columns(self) -> list[Column]:
        """The columns of numbers."""
        found = []
        for (name, kind), parted in zip(self.quantities, self.parted, strict=True):
            if not parted:
                unit = "lead negative" if kind is POWER_FACTOR else kind.unit
                found.append(Column(name, unit))
            elif kind.unit == "ohm":
                found += [Column(f"{name}, resistance", "ohm"), Column(f"{name}, reactance", "ohm")]
            else:
                found += [Column(name, kind.unit), Column(f"{name}, angle", "deg")]
        return found + [Column(output.name, output.unit) for output in self.outputs]

    def rows(self, values: Sequence[Array], outputs: Array) -> Iterator[list[Cell]]:
        """Write cases as rows.

        Parameters
        ----------
        values : sequence of ndarray of shape (n,)
            Values of the quantities.
        outputs : ndarray of float, shape (n_outputs, n)
            What was computed.

        Yields
        ------
        list of float, str or None
            A row; an open impedance is a word, what is not defined is None.
        """
        cells: list[Sequence[Cell]] = []
        for (_, kind), parted, each in zip(self.quantities, self.parted, values, strict=True):
            if not parted:
                cells.append(_plain(np.real(each)))
            elif kind.unit == "ohm":
                cells += [_plain(each.real), each.imag.tolist()]
            else:
                cells += [np.abs(each).tolist(), np.degrees(np.angle(each)).tolist()]
        cells += [
            row.tolist() if np.isfinite(row).all() else _defined(row) for row in outputs + 0.0
        ]
        yield from map(list, zip(*cells, strict=True))


def _plain(values: Array) -> Sequence[Cell]:
    if np.isfinite(values).all():
        return values.tolist()  # type: ignore[no-any-return]
    return ["open" if np.isinf(v) else v for v in values.tolist()]


def _defined(values: Array) -> Sequence[Cell]:
    return [v if np.isfinite(v) else None for v in values.tolist()]


def csv_header(table: Table) -> str:
    """Write the header of a CSV file.

    Parameters
    ----------
    table : Table
        The columns.

    Returns
    -------
    str
        A line. The first column counts the cases, the last one says what is wrong with a case
        that has no results.
    """
    return _csv([["case", *(column.heading for column in table.columns), "remark"]])


def csv_rows(table: Table, part: Part) -> str:
    """Write cases as CSV.

    Parameters
    ----------
    table : Table
        The columns.
    part : Part
        The cases.

    Returns
    -------
    str
        A line for each.
    """
    start, values, outputs, failed = part
    rows = enumerate(table.rows(values, outputs), start)
    return _csv([k + 1, *row, failed.get(k, "")] for k, row in rows)


def _csv(rows: Iterable[Iterable[Cell]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


def table_of(
    quantities: Iterable[tuple[str, Kind]], values: Iterable[Array], outputs: Iterable[Output]
) -> Table:
    """Find the columns of a study.

    Parameters
    ----------
    quantities : iterable of (str, Kind)
        Names and kinds of the quantities.
    values : iterable of ndarray
        Values of each, by which it is seen whether it needs two columns.
    outputs : iterable of Output
        What is computed.

    Returns
    -------
    Table
        The columns.
    """
    parted = [bool(np.iscomplexobj(each) and np.any(np.imag(each) != 0)) for each in values]
    return Table(tuple(quantities), tuple(parted), tuple(outputs))

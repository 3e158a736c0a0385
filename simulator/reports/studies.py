"""Studies as text, and as JSON that is written while they are computed."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

from tabulate import tabulate

from simulator.findings.reason import RIGHT
from simulator.reports.text import columns

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from simulator.studies.paths import Quantity
    from simulator.studies.rows import Part, Table
    from simulator.studies.statistics import Statistics

Object = dict[str, Any]
MOST_ROWS = 40
"""A longer table shows only its first and last rows."""
ENDS = 12
MOST_FAILED = 10


def quantities_text(known: Mapping[str, Quantity]) -> str:
    """List what can vary.

    Parameters
    ----------
    known : mapping of str to Quantity
        The quantities by path.

    Returns
    -------
    str
        A table of their values.
    """
    rows = [(path, _value(quantity)) for path, quantity in known.items()]
    return tabulate(rows, ("quantity", "value"), tablefmt="simple", disable_numparse=True) + "\n"


def quantities_object(known: Mapping[str, Quantity]) -> list[Object]:
    """List what can vary, for machines.

    Parameters
    ----------
    known : mapping of str to Quantity
        The quantities by path.

    Returns
    -------
    list of dict
        Name, unit and value as a text; the value is null where there is no single one.
    """
    return [
        {
            "name": path,
            "unit": quantity.kind.unit,
            "value": None if quantity.base is None else quantity.kind.write(quantity.base),
        }
        for path, quantity in known.items()
    ]


def _value(quantity: Quantity) -> str:
    return "–" if quantity.base is None else quantity.kind.write(quantity.base)


class Ends:
    """The first and the last rows of a long study, collected while it is computed.

    Parameters
    ----------
    table : Table
        Its columns.
    count : int
        Number of cases.
    """

    def __init__(self, table: Table, count: int) -> None:
        self.table, self.count = table, count
        shown = count if count <= MOST_ROWS else ENDS
        self.wanted = [*range(min(shown, count)), *range(max(shown, count - shown), count)]
        self.texts: list[list[str]] = []
        self.numbers: list[list[float]] = []

    def add(self, part: Part) -> None:
        """Take what is wanted of a part.

        Parameters
        ----------
        part : Part
            The next cases.
        """
        start, values, outputs, _ = part
        for case in self.wanted:
            k = case - start
            if 0 <= k < outputs.shape[1]:
                kinds = [kind for _, kind in self.table.quantities]
                cells = zip(kinds, values, strict=True)
                self.texts.append([kind.write(each[k].item()) for kind, each in cells])
                self.numbers.append(outputs[:, k].tolist())

    def text(self) -> str:
        """Write the rows.

        Returns
        -------
        str
            A table.
        """
        headings = [name.replace(": ", ":\n") for name, _ in self.table.quantities]
        headings += [f"{o.name.replace(' ', chr(10), 1)} {o.unit}" for o in self.table.outputs]
        numbers = _without_rounding(self.table, list(zip(*self.numbers, strict=True)))
        written = zip(*columns(*numbers), strict=True)
        rows = [[*texts, *numbers] for texts, numbers in zip(self.texts, written, strict=True)]
        if self.count > MOST_ROWS:
            rows.insert(ENDS, ["…"] * len(headings))
        return _table(headings, rows)


def statistics_text(table: Table, statistics: Sequence[Statistics]) -> str:
    """Write statistics for a person.

    Parameters
    ----------
    table : Table
        The columns of the study.
    statistics : sequence of Statistics
        One for each output.

    Returns
    -------
    str
        A table.
    """
    headings = ["", "mean", "standard\ndeviation", "95 % lie\nfrom", "\nto", "smallest", "largest"]
    numbers = [(s.mean, s.deviation, s.low, s.high, s.least, s.most) for s in statistics]
    written = columns(*_without_rounding(table, numbers))
    rows = [
        [f"{output.name} {output.unit}", *row]
        for output, row in zip(table.outputs, written, strict=True)
    ]
    return _table(headings, rows, left=1)


def _without_rounding(
    table: Table, numbers: Sequence[Sequence[float]]
) -> Iterator[Sequence[float]]:
    """Write nothing for errors that are only rounding beside what is measured."""
    roles = [output.role for output in table.outputs]
    largest = max((abs(x) for x in numbers[roles.index("true")] if math.isfinite(x)), default=0)
    sizes = {"error": largest, "percent": 100}
    for role, each in zip(roles, numbers, strict=True):
        nothing = RIGHT * sizes.get(role, 0)
        yield [0.0 if abs(x) <= nothing else x for x in each]


def failed_text(failed: Mapping[int, str], count: int) -> str:
    """Say what is wrong with cases that have no results.

    Parameters
    ----------
    failed : mapping of int to str
        By case, what is wrong; perhaps not of all.
    count : int
        How many there are.

    Returns
    -------
    str
        A line for each of the first, and how many more there are.
    """
    some = sorted(failed)[:MOST_FAILED]
    lines = [f"Case {case + 1} has no results: {failed[case]}" for case in some]
    if count > len(some):
        lines.append(f"{count - len(some)} more cases have none.")
    return "".join(f"{line}\n" for line in lines)


class JsonPieces:
    """A study as one JSON object, written while it is computed.

    Parameters
    ----------
    table : Table
        Its columns.
    """

    def __init__(self, table: Table) -> None:
        self.table, self.between = table, ',\n "rows": [\n  '

    def opening(self, head: Object) -> str:
        """Begin.

        Parameters
        ----------
        head : dict
            What is known before the cases are.

        Returns
        -------
        str
            The first piece.
        """
        named = [{"name": column.name, "unit": column.unit} for column in self.table.columns]
        return _dumped(head | {"columns": named}).removesuffix("\n}")

    def rows(self, part: Part) -> str:
        """Go on.

        Parameters
        ----------
        part : Part
            The next cases.

        Returns
        -------
        str
            Their rows.
        """
        _, values, outputs, _ = part
        rows = (json.dumps(row, allow_nan=False) for row in self.table.rows(values, outputs))
        before, self.between = self.between, ",\n  "
        return before + ",\n  ".join(rows)

    def closing(self, tail: Object) -> str:
        """End.

        Parameters
        ----------
        tail : dict
            What is known only after the last case.

        Returns
        -------
        str
            The last piece.
        """
        end = "" if self.between.startswith(',\n "rows"') else "\n ]"
        return f"{end},{_dumped(tail).removeprefix('{')}\n"


def _dumped(value: Object) -> str:
    return json.dumps(value, indent=1, allow_nan=False)


def statistics_object(table: Table, statistics: Sequence[Statistics]) -> list[Object]:
    """Write statistics for machines.

    Parameters
    ----------
    table : Table
        The columns of the study.
    statistics : sequence of Statistics
        One for each output.

    Returns
    -------
    list of dict
        One for each output; what is not defined is null.
    """
    return [
        {
            "name": output.name,
            "unit": output.unit,
            "count": s.count,
            "mean": _number(s.mean),
            "standard_deviation": _number(s.deviation),
            "interval_95": [_number(s.low), _number(s.high)],
            "smallest": _number(s.least),
            "largest": _number(s.most),
        }
        for output, s in zip(table.outputs, statistics, strict=True)
    ]


def failed_object(failed: Mapping[int, str]) -> list[Object]:
    """List cases that have no results, for machines.

    Parameters
    ----------
    failed : mapping of int to str
        By case, what is wrong.

    Returns
    -------
    list of dict
        Number of the case, counted from 1, and the message.
    """
    return [{"case": case + 1, "message": failed[case]} for case in sorted(failed)]


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _table(headings: Sequence[str], rows: list[list[str]], left: int = 0) -> str:
    align = ["left"] * left + ["right"] * (len(headings) - left)
    table = tabulate(rows, headings, tablefmt="simple", colalign=align, disable_numparse=True)
    return "\n".join(line.rstrip() for line in table.splitlines()) + "\n"

"""The numbers of an arrangement in very many cases: as the file's own conversion gives them.

The code that converts a scenario file takes arrays of many cases in the place of numbers. What
comes out as an array varies, whatever the reason, so that no dependence can be missed. Wherever
the conversion has to decide, by the value of a number, what to do, an array of unlike cases
either raises or becomes NaN: then the cases are parted until each decision is that of all.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import SimulatorError
from simulator.studies.entries import entries_of
from simulator.studies.kinds import POWER_FACTOR

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt

    from simulator.studies.conversion import Conversion
    from simulator.studies.kinds import Value

    Array = npt.NDArray[Any]
    Complex = npt.NDArray[np.complex128]
    Cases = npt.NDArray[np.intp]

# What the conversion raises where cases contradict the scenario, or need unlike decisions.
CANNOT = (SimulatorError, ArithmeticError, TypeError, ValueError)


@dataclass(frozen=True)
class Dependence:
    """How the varying numbers of an arrangement follow from the quantities.

    Attributes
    ----------
    conversion : Conversion
        The scenario and its quantities.
    felt : frozenset of str
        Wattmeters whose voltage transformer is part of the network.
    usual : dict of str to complex
        All numbers of the arrangement in a usual case.
    names : tuple of str
        Those that vary.
    """

    conversion: Conversion
    felt: frozenset[str]
    usual: dict[str, complex]
    names: tuple[str, ...] = ()

    def entries(self, columns: Sequence[Array]) -> tuple[Complex, dict[int, str]]:
        """Compute the varying numbers of many cases.

        Parameters
        ----------
        columns : sequence of ndarray of shape (n,)
            Values of each quantity, in the unit shown.

        Returns
        -------
        numbers : ndarray of complex, shape (n_names, n)
            The numbers; NaN in cases that are impossible.
        failed : dict of int to str
            What is wrong with those.
        """
        numbers = np.empty((len(self.names), len(columns[0])), dtype=np.complex128)
        failed = self._impossible(columns)
        constant = self.usual.keys() - {*self.names}
        for cases, entries in self._converted(columns, failed):
            for out, name in zip(numbers, self.names, strict=True):
                out[cases] = entries[name]
            for name in constant:  # so that nothing can vary unnoticed
                assert entries[name] == self.usual[name], name  # noqa: S101
        if failed:
            numbers[:, list(failed)] = np.nan
        return numbers, failed

    def varying(self, columns: Sequence[Array]) -> tuple[str, ...]:
        """Find out which numbers vary.

        Parameters
        ----------
        columns : sequence of ndarray of shape (n,)
            Values of each quantity in some cases.

        Returns
        -------
        tuple of str
            Their names.
        """
        found: dict[str, None] = {}
        for _, entries in self._converted(columns, self._impossible(columns)):
            for name, number in entries.items():
                if isinstance(number, np.ndarray) or number != self.usual[name]:
                    found[name] = None
        return tuple(name for name in self.usual if name in found)

    def _impossible(self, columns: Sequence[Array]) -> dict[int, str]:
        failed: dict[int, str] = {}
        for quantity, values in zip(self.conversion.quantities, columns, strict=True):
            possible = quantity.kind.possible(values)
            if not possible.all():
                for k in np.flatnonzero(~possible).tolist():
                    got = quantity.kind.write(values[k])
                    failed[k] = f"{quantity.path}: expected {quantity.kind.wanted}, got '{got}'"
        return failed

    def _converted(
        self, columns: Sequence[Array], failed: dict[int, str]
    ) -> Iterator[tuple[Cases | slice, dict[str, Any]]]:
        """Convert all cases that have not failed, as many at once as can be; add what fails."""
        waiting = self._of_one_sense(columns, np.delete(np.arange(len(columns[0])), [*failed]))
        while waiting:
            cases = waiting.pop()
            if len(cases) == 1:
                (k,) = cases.tolist()
                try:
                    yield cases, self.of([values[k].item() for values in columns])
                except (SimulatorError, ArithmeticError) as error:
                    failed[k] = str(error)
                continue
            every = slice(None) if len(cases) == len(columns[0]) else cases
            try:
                with np.errstate(all="ignore"):  # what is no number is converted again
                    entries = self.of([values[every] for values in columns])
            except CANNOT:
                waiting += np.array_split(cases, 2)
                continue
            odd = _no_numbers(entries.values(), len(cases))
            if odd is None:
                yield every, entries
            elif odd.all():
                waiting += np.array_split(cases, 2)
            else:
                waiting += [cases[odd], cases[~odd]]

    def _of_one_sense(self, columns: Sequence[Array], cases: Cases) -> list[Cases]:
        """Part cases whose power factors lag from those that lead, as the file does by a word."""
        parts = [cases]
        for quantity, values in zip(self.conversion.quantities, columns, strict=True):
            if quantity.kind is POWER_FACTOR:
                lead = np.signbit(values)
                parts = [p[lead[p] == sense] for p in parts for sense in (False, True)]
        return [part for part in parts if len(part)]

    def of(self, values: Sequence[Value | Array]) -> dict[str, Any]:
        """Convert one case, or many.

        Parameters
        ----------
        values : sequence of complex or float, or of ndarray of shape (n,)
            A value for each quantity, in the unit shown.

        Returns
        -------
        dict of str to complex, or to ndarray of complex
            All numbers of the arrangement; arrays, of some cases, where they vary.
        """
        return entries_of(self.conversion.arrangement(values), self.felt)


def _no_numbers(entries: Any, n: int) -> npt.NDArray[np.bool_] | None:
    """Find cases in which something is NaN; None if there are none."""
    odd = None
    for each in entries:
        if isinstance(each, np.ndarray) and np.isnan(each.sum()):  # of inf − inf, perhaps
            odd = np.isnan(each) | (np.zeros(n, dtype=bool) if odd is None else odd)
    return odd if odd is not None and odd.any() else None

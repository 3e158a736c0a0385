"""How the numbers of an arrangement depend on the quantities that vary.

Most are a power, or a product of powers, of quantities: an impedance is itself, an emf follows
the voltage, a rated load goes with the square of it. Such numbers are computed directly. The others
go through the conversion code, with arrays in the place of numbers where it can take them, else
case by case. Which is which is found out in `simulator.studies.probing`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import SimulatorError
from simulator.studies.entries import entries_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from simulator.studies.conversion import Conversion
    from simulator.studies.kinds import Value

    Array = npt.NDArray[Any]
    Complex = npt.NDArray[np.complex128]

CANNOT = (SimulatorError, ArithmeticError, TypeError, ValueError)
"""What the conversion code raises where arrays are too much for it."""


@dataclass(frozen=True)
class Product:
    """A number that is ``factor·Π carrier^power``.

    Attributes
    ----------
    factor : complex
        The constant factor.
    powers : dict of int to int
        Power of each quantity's carrier.
    """

    factor: complex
    powers: dict[int, int]

    def of(self, carriers: Sequence[Array], out: Complex) -> None:
        """Compute it.

        Parameters
        ----------
        carriers : sequence of ndarray of shape (n,)
            The carriers of the quantities.
        out : ndarray of complex, shape (n,)
            Where to write it.
        """
        if self.factor == 1 and list(self.powers.values()) == [1]:
            out[:] = carriers[next(iter(self.powers))]  # itself, infinite or not
            return
        out[:] = self.factor
        for k, power in self.powers.items():
            for _ in range(abs(power)):
                (np.multiply if power > 0 else np.divide)(out, carriers[k], out=out)


@dataclass(frozen=True)
class Dependence:
    """How the varying numbers of an arrangement follow from the quantities.

    Attributes
    ----------
    conversion : Conversion
        The scenario and its quantities.
    felt : frozenset of str
        Wattmeters whose voltage transformer is part of the network.
    usual : tuple of complex or float
        A usual value of each quantity.
    products : dict of str to Product
        Numbers that vary and are products of powers.
    others : tuple of str
        The other numbers that vary.
    behind : tuple of int
        The quantities that those depend on.
    at_once : bool
        Whether they can be converted for many cases at once.
    """

    conversion: Conversion
    felt: frozenset[str]
    usual: tuple[Value, ...]
    products: dict[str, Product]
    others: tuple[str, ...] = ()
    behind: tuple[int, ...] = ()
    at_once: bool = True

    @property
    def names(self) -> tuple[str, ...]:
        """All numbers that vary."""
        return (*self.products, *self.others)

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
        numbers = np.zeros((len(self.names), len(columns[0])), dtype=np.complex128)
        failed = self._impossible(columns)
        quantities = self.conversion.quantities
        with np.errstate(all="ignore"):  # what is no number is converted by itself below
            carriers = [q.kind.carrier(each) for q, each in zip(quantities, columns, strict=True)]
            for out, product in zip(numbers, self.products.values(), strict=False):
                product.of(carriers, out)
            if self.others:
                self._convert_others(columns, carriers, numbers, failed)
        odd = np.flatnonzero(np.isnan(numbers).any(axis=0))
        self._convert(columns, odd.tolist(), slice(None), numbers, failed)
        if failed:
            numbers[:, list(failed)] = np.nan
        return numbers, failed

    def _convert_others(
        self,
        columns: Sequence[Array],
        carriers: Sequence[Array],
        numbers: Complex,
        failed: dict[int, str],
    ) -> None:
        """Convert all cases at once, or else each different one once."""
        possible = np.setdiff1d(np.arange(numbers.shape[1]), list(failed))
        which = slice(len(self.products), None)
        if self.at_once and len(possible):
            values: list[Any] = list(self.usual)
            for k in self.behind:
                values[k] = columns[k][possible]
            try:
                entries = self.of(values)
            except CANNOT:  # one of the cases is impossible, or needs a decision of its own
                pass
            else:
                for out, name in zip(numbers[which], self.others, strict=True):
                    out[possible] = entries[name]
                return
        table = np.array([carriers[k][possible] for k in self.behind], dtype=np.complex128)
        _, first, same = np.unique(table, axis=1, return_index=True, return_inverse=True)
        self._convert(columns, possible[first].tolist(), which, numbers, failed)
        like = possible[first[same.ravel()]]
        numbers[which, possible] = numbers[which, like]
        failed |= {
            k: failed[one]
            for k, one in zip(possible.tolist(), like.tolist(), strict=True)
            if one in failed
        }

    def _impossible(self, columns: Sequence[Array]) -> dict[int, str]:
        failed: dict[int, str] = {}
        for quantity, values in zip(self.conversion.quantities, columns, strict=True):
            possible = quantity.kind.possible(values)
            if not possible.all():
                for k in np.flatnonzero(~possible).tolist():
                    got = quantity.kind.write(values[k])
                    failed[k] = f"{quantity.path}: expected {quantity.kind.wanted}, got '{got}'"
        return failed

    def _convert(
        self,
        columns: Sequence[Array],
        cases: list[int],
        which: slice,
        numbers: Complex,
        failed: dict[int, str],
    ) -> None:
        """Convert some cases one by one."""
        names = self.names[which]
        for k in cases:
            if k not in failed:
                try:
                    entries = self.of([values[k].item() for values in columns])
                except (SimulatorError, ArithmeticError) as error:
                    failed[k] = str(error)
                else:
                    numbers[which, k] = [entries[name] for name in names]

    def of(self, values: Sequence[Value]) -> dict[str, complex]:
        """Convert one case.

        Parameters
        ----------
        values : sequence of complex or float
            A value for each quantity, in the unit shown.

        Returns
        -------
        dict of str to complex
            All numbers of the arrangement, the varying ones among them.
        """
        return entries_of(self.conversion.arrangement(values), self.felt)

"""How the numbers of an arrangement depend on the quantities that vary.

Most are a power, or a product of powers, of quantities: an impedance is itself, an emf follows
the voltage, a rated load goes with the square of it. That is found by converting a few cases and
holds only if further cases agree; such numbers are then computed for all cases at once. What is
no product of powers is converted case by case.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import SimulatorError
from simulator.studies.entries import entries_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from simulator.studies.conversion import Conversion
    from simulator.studies.kinds import Value
    from simulator.studies.paths import Quantity

    Array = npt.NDArray[Any]
    Complex = npt.NDArray[np.complex128]

POWERS = (0, 1, -1, 2, -2)
AGREEMENT = 1e-13


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
    products : dict of str to Product
        Numbers that vary and are products of powers.
    others : tuple of str
        The other numbers that vary.
    behind : tuple of int
        The quantities that those depend on.
    """

    conversion: Conversion
    felt: frozenset[str]
    products: dict[str, Product]
    others: tuple[str, ...]
    behind: tuple[int, ...]

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
        n_products = len(self.products)
        numbers = np.zeros((len(self.names), len(columns[0])), dtype=np.complex128)
        failed = self._impossible(columns)
        quantities = self.conversion.quantities
        with np.errstate(all="ignore"):  # what is no number is converted by itself below
            carriers = [q.kind.carrier(each) for q, each in zip(quantities, columns, strict=True)]
            for out, product in zip(numbers, self.products.values(), strict=False):
                product.of(carriers, out)
        odd = np.flatnonzero(np.isnan(numbers).any(axis=0)).tolist()
        self._convert(columns, odd, slice(n_products), numbers, failed)
        if self.others:
            possible = np.setdiff1d(np.arange(numbers.shape[1]), list(failed))
            table = np.array([carriers[k][possible] for k in self.behind], dtype=np.complex128)
            _, first, same = np.unique(table, axis=1, return_index=True, return_inverse=True)
            self._convert(
                columns, possible[first].tolist(), slice(n_products, None), numbers, failed
            )
            like = possible[first[same.ravel()]]
            numbers[n_products:, possible] = numbers[n_products:, like]
            failed |= {
                k: failed[one]
                for k, one in zip(possible.tolist(), like.tolist(), strict=True)
                if one in failed
            }
        if failed:
            numbers[:, list(failed)] = np.nan
        return numbers, failed

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


def find_dependence(
    conversion: Conversion,
    felt: frozenset[str],
    usual: Sequence[Value],
    others: Sequence[Sequence[Value]],
    cases: Sequence[Sequence[Value]],
) -> Dependence:
    """Find out which numbers vary, and which are products of powers.

    Parameters
    ----------
    conversion : Conversion
        The scenario and its quantities.
    felt : frozenset of str
        Wattmeters whose voltage transformer is part of the network.
    usual : sequence of complex or float
        A value of each quantity whose carrier is finite and not zero.
    others : sequence of sequence of complex or float
        For each quantity further such values, different from the usual one.
    cases : sequence of sequence of complex or float
        Whole cases to check with, all of whose carriers are finite and not zero.

    Returns
    -------
    Dependence
        The dependence.
    """
    bare = Dependence(conversion, felt, {}, (), ())
    quantities = conversion.quantities
    start, base = bare.of(usual), [_carrier(q, v) for q, v in zip(quantities, usual, strict=True)]
    powers: dict[str, dict[int, int | None]] = {}
    for k, values in enumerate(others):
        trials = [_tried(bare, [*usual[:k], value, *usual[k + 1 :]]) for value in values]
        ratios = [_carrier(quantities[k], value) / base[k] for value in values]
        for name, number in start.items():
            found = _power(number, [None if t is None else t[name] for t in trials], ratios)
            if found != 0:
                powers.setdefault(name, {})[k] = found
    products = {}
    for name, each in powers.items():
        known = {k: power for k, power in each.items() if power is not None}
        if known == each:
            factor = start[name] / math.prod(base[k] ** power for k, power in known.items())
            # an identity stays one to the last bit
            products[name] = Product(1 if abs(factor - 1) <= 1e-15 else factor, known)
    behind = {k for name, each in powers.items() if name not in products for k in each}
    left = tuple(name for name in powers if name not in products)
    found_so_far = Dependence(conversion, felt, products, left, tuple(sorted(behind)))
    return _checked(found_so_far, start, cases)


def _carrier(quantity: Quantity, value: Value) -> complex:
    return complex(quantity.kind.carrier(np.asarray(value)))


def _tried(bare: Dependence, values: Sequence[Value]) -> dict[str, complex] | None:
    try:
        return bare.of(values)
    except (SimulatorError, ArithmeticError):
        return None


def _power(
    start: complex, trials: Sequence[complex | None], ratios: Sequence[complex]
) -> int | None:
    """Find the power that explains all trials, if one does."""
    for power in POWERS:
        if all(
            trial is not None and _agree(trial, start * ratio**power if power else start)
            for trial, ratio in zip(trials, ratios, strict=True)
        ):
            return power
    return None


def _agree(one: complex, other: complex) -> bool:
    return one == other or abs(one - other) <= AGREEMENT * abs(other)


def _checked(
    dependence: Dependence, start: dict[str, complex], cases: Sequence[Sequence[Value]]
) -> Dependence:
    """Keep only the products that whole cases agree with; find what varies only there."""
    wrong: set[str] = set()
    for values in cases:
        entries = _tried(dependence, values)
        if entries is None:
            continue
        numbers, _ = dependence.entries([np.asarray([value]) for value in values])
        predicted = start | dict(zip(dependence.names, numbers[:, 0].tolist(), strict=True))
        wrong |= {name for name in entries if not _agree(entries[name], predicted[name])}
    if not wrong:
        return dependence
    every = tuple(range(len(dependence.conversion.quantities)))
    products = {name: p for name, p in dependence.products.items() if name not in wrong}
    others = tuple(dict.fromkeys([*dependence.others, *sorted(wrong)]))
    return replace(dependence, products=products, others=others, behind=every)

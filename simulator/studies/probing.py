"""Finding out, from a few cases, how the numbers of an arrangement depend on the quantities.

One quantity after the other gets other values; the power that explains what a number then does is
taken if whole cases, in which everything varies, agree with all of them together.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.studies.dependence import CANNOT, Dependence, Product

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.studies.conversion import Conversion
    from simulator.studies.kinds import Value
    from simulator.studies.paths import Quantity

POWERS = (0, 1, -1, 2, -2)
AGREEMENT = 1e-13


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
    bare = Dependence(conversion, felt, tuple(usual), {})
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
    so_far = replace(bare, products=products, others=left, behind=tuple(sorted(behind)))
    return _checked(so_far, start, cases)


def _carrier(quantity: Quantity, value: Value) -> complex:
    return complex(quantity.kind.carrier(np.asarray(value)))


def _tried(bare: Dependence, values: Sequence[Value]) -> dict[str, complex] | None:
    try:
        return bare.of(values)
    except CANNOT:
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
    """Keep only what whole cases agree with; find what varies only there."""
    wanted = {k: entries for k, case in enumerate(cases) if (entries := _tried(dependence, case))}
    if not wanted:
        return dependence
    columns = [np.array(values) for values in zip(*(cases[k] for k in wanted), strict=True)]
    numbers, _ = dependence.entries(columns)
    wrong: set[str] = set()
    for entries, row in zip(wanted.values(), numbers.T.tolist(), strict=True):
        predicted = start | dict(zip(dependence.names, row, strict=True))
        wrong |= {name for name in entries if not _agree(entries[name], predicted[name])}
    if not wrong:
        return dependence
    return replace(
        dependence,
        products={name: p for name, p in dependence.products.items() if name not in wrong},
        others=tuple(dict.fromkeys([*dependence.others, *sorted(wrong)])),
        behind=tuple(range(len(dependence.usual))),
        at_once=False,
    )

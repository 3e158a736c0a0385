"""Random topologies of random elements, against exact and 40-digit arithmetic.

The reference is a dense tableau: potentials of all nodes, voltage and current of every pair of
terminals, one law in each row. `nodal` has neither these unknowns nor these rows. SymPy solves it
exactly over the Gaussian rationals and tells its rank; mpmath solves it in 40 digits.
"""

from __future__ import annotations

import cmath
import math
import random
from typing import TYPE_CHECKING

import mpmath
import numpy as np
import pytest
from sympy import QQ_I
from sympy.polys.matrices import DomainMatrix

from simulator.errors import NetworkError
from simulator.network.elements import (
    AdmittanceBlock,
    Element,
    IdealTransformer,
    Impedance,
    Source,
)
from simulator.network.netlist import Netlist, terminals
from simulator.network.nodal import solve

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

OPEN = complex(math.inf)
Unknown = tuple[str, str, int]
Row = dict[Unknown, complex]
Solved = dict[Unknown, complex]


# The reference ------------------------------------------------------------------------------


def pairs_of(e: Element, reference: str) -> list[tuple[str, str]]:
    """List an element's pairs of terminals; of a block, each terminal against the reference."""
    ends = terminals(e)
    if isinstance(e, AdmittanceBlock):
        return [(end, reference) for end in ends]
    return list(zip(ends[::2], ends[1::2], strict=True))


def laws(e: Element) -> Iterator[tuple[Row, complex]]:
    u, i = ("U", e.name, 0), ("I", e.name, 0)
    if isinstance(e, IdealTransformer):
        yield {u: 1, ("U", e.name, 1): -e.turns_ratio}, 0
        yield {i: e.turns_ratio, ("I", e.name, 1): 1}, 0
    elif isinstance(e, AdmittanceBlock):
        for k, row in enumerate(e.admittance.tolist()):
            yield {("I", e.name, k): -1} | {("U", e.name, m): y for m, y in enumerate(row)}, 0
    elif e.impedance == OPEN:
        yield {i: 1}, 0
    else:
        yield {u: 1, i: -e.impedance}, e.emf if isinstance(e, Source) else 0


def tableau(netlist: Netlist) -> tuple[list[Row], list[complex]]:
    """Rows and right side; unknowns ("V", node, 0), ("U", name, pair) and ("I", name, pair)."""
    found: list[tuple[Row, complex]] = [({("V", netlist.reference, 0): 1}, 0)]
    sums: dict[str, Row] = {node: {} for node in netlist.nodes}
    for e in netlist.elements:
        found += laws(e)
        for k, pair in enumerate(pairs_of(e, netlist.reference)):
            row: Row = {("U", e.name, k): 1}
            for node, sign in zip(pair, (1, -1), strict=True):
                row["V", node, 0] = row.get(("V", node, 0), 0) - sign
                sums[node]["I", e.name, k] = sums[node].get(("I", e.name, k), 0) + sign
            found.append((row, 0))
    found += [(row, 0) for node, row in sums.items() if node != netlist.reference]
    return [row for row, _ in found], [value for _, value in found]


def unknowns(rows: list[Row]) -> list[Unknown]:
    return list(dict.fromkeys(key for row in rows for key in row))


def gaussian_rational(value: complex) -> object:
    """Turn a float into exactly the rational number it is."""
    z = complex(value)
    real, imaginary = (part.as_integer_ratio() for part in (z.real, z.imag))
    # a quotient in the domain itself: QQ_I(7, 5) is 7 + 5i
    return QQ_I(real[0], 0) / QQ_I(real[1], 0) + QQ_I(0, imaginary[0]) / QQ_I(imaginary[1], 0)


def solve_exactly(netlist: Netlist) -> Solved | None:
    """Exact solution as complex floats; None where the exact tableau is singular."""
    rows, right = tableau(netlist)
    keys = unknowns(rows)
    n = len(keys)
    assert len(rows) == n
    matrix = DomainMatrix(
        [[gaussian_rational(row.get(key, 0)) for key in keys] for row in rows], (n, n), QQ_I
    )
    if matrix.rank() < n:
        return None
    column = DomainMatrix([[gaussian_rational(value)] for value in right], (n, 1), QQ_I)
    found = matrix.lu_solve(column).to_Matrix()
    return {key: complex(x) for key, x in zip(keys, found, strict=True)}


def solve_in_40_digits(netlist: Netlist) -> Solved:
    rows, right = tableau(netlist)
    keys = unknowns(rows)
    with mpmath.workdps(40):
        matrix = mpmath.matrix(len(keys), len(keys))
        for k, row in enumerate(rows):
            for key, value in row.items():
                matrix[k, keys.index(key)] = mpmath.mpmathify(value)
        found = mpmath.lu_solve(matrix, mpmath.matrix([mpmath.mpmathify(v) for v in right]))
        # what is 0 comes out as some 1e-40 of what it was the difference of
        found = [x if abs(x) > 1e-30 else 0 for x in found]
        return {key: complex(x) for key, x in zip(keys, found, strict=True)}


def largest_error(netlist: Netlist, reference: Solved) -> tuple[float, float]:
    """Largest error of a potential and of a current, each over the largest of its kind.

    Of the voltages' kind are the emfs too. A block's current is a sum of Y·V, whose terms are of
    the currents' kind: with large admittances and small voltages it has fewer digits than they.
    """
    found = solve(netlist)
    volts = [abs(found.potentials[node] - reference["V", node, 0]) for node in netlist.nodes]
    largest_volt = max(abs(reference["V", node, 0]) for node in netlist.nodes)
    amperes, largest_ampere = [0.0], 0.0
    for e in netlist.elements:
        step = 2
        if isinstance(e, Source):
            largest_volt = max(largest_volt, abs(e.emf))
        if isinstance(e, AdmittanceBlock):
            step = 1
            V = np.array([abs(reference["V", node, 0]) for node in e.terminals])
            largest_ampere = max(largest_ampere, *(np.abs(e.admittance) @ V))
        for k, current in enumerate(found.currents[e.name][::step].tolist()):
            amperes.append(abs(current - reference["I", e.name, k]))
            largest_ampere = max(largest_ampere, abs(reference["I", e.name, k]))
    # where no current flows at all, what is left of rounding is compared with an ampere
    return max(volts) / (largest_volt or 1), max(amperes) / (largest_ampere or 1)


# Random networks ----------------------------------------------------------------------------


def netlists(seed: int, count: int, draw: Callable[[random.Random], complex]) -> Iterator[Netlist]:
    """Draw networks of 3 to 6 nodes, with one to two elements of any kind for each."""
    rng = random.Random(seed)  # noqa: S311
    while count:
        nodes = [str(k) for k in range(rng.randint(3, 6))]
        n = rng.randint(len(nodes), 2 * len(nodes))
        elements = [random_element(rng, f"e{k}", nodes, draw) for k in range(n)]
        if "0" in (node for e in elements for node in terminals(e)):
            yield Netlist(tuple(elements), "0")
            count -= 1


def random_element(
    rng: random.Random, name: str, nodes: list[str], draw: Callable[[random.Random], complex]
) -> Element:
    pair, other = tuple(rng.sample(nodes, 2)), tuple(rng.sample(nodes, 2))
    emf = complex(rng.randint(-9, 9), rng.randint(1, 9))
    makers: list[tuple[int, Callable[[], Element]]] = [
        (10, lambda: Impedance(name, pair, draw(rng))),
        (2, lambda: Impedance(name, pair, 0j)),
        (1, lambda: Impedance(name, pair, OPEN)),
        (4, lambda: Source(name, pair, emf, draw(rng))),
        (2, lambda: Source(name, pair, emf)),
        (2, lambda: IdealTransformer(name, pair, other, rng.choice([0.125, 0.25, 0.5, 2, 8]))),
        (2, lambda: delta_block(name, tuple(rng.sample(nodes, 3)), [draw(rng) for _ in range(3)])),
    ]
    weights = [weight for weight, _ in makers]
    return rng.choices([make for _, make in makers], weights)[0]()


def delta_block(name: str, ends: tuple[str, ...], impedances: list[complex]) -> AdmittanceBlock:
    """Make a block of three branches; admittances are floats whose sums are exact."""
    grid = 2.0**-24
    a, b, c = (
        complex(round((1 / z).real / grid), round((1 / z).imag / grid)) * grid for z in impedances
    )
    Y = np.array([[a + c, -a, -c], [-a, a + b, -b], [-c, -b, b + c]])
    return AdmittanceBlock(name, ends, Y)


def small_integers(rng: random.Random) -> complex:
    """Draw a passive impedance of small whole ohms, lossless ones too: resonances do happen."""
    return complex(rng.randint(0, 4), rng.randint(-4, 4)) or 1 + 0j


def many_decades(rng: random.Random) -> complex:
    """Draw an impedance from a milliohm to a megohm."""
    return cmath.rect(10 ** rng.uniform(-3, 6), rng.uniform(-1.5, 1.5))


def compare_exactly(seed: int, count: int) -> tuple[int, int]:
    solved = refused = 0
    for netlist in netlists(seed, count, small_integers):
        exact = solve_exactly(netlist)
        if exact is None:
            with pytest.raises(NetworkError):
                solve(netlist)
            refused += 1
            continue
        # a circuit with a unique solution is never refused
        volts, amperes = largest_error(netlist, exact)
        assert volts < 1e-12, netlist
        assert amperes < 1e-12, netlist
        solved += 1
    return solved, refused


def compare_in_40_digits(seed: int, count: int) -> int:
    compared = 0
    for netlist in netlists(seed, count, many_decades):
        try:
            condition = solve(netlist).condition
        except NetworkError:
            continue
        if condition <= 1e3:
            volts, amperes = largest_error(netlist, solve_in_40_digits(netlist))
            assert volts < 1e-12, netlist
            assert amperes < 1e-12, netlist
            compared += 1
    return compared


def test_refuses_exactly_what_has_no_unique_solution_and_solves_the_rest() -> None:
    solved, refused = compare_exactly(seed=1, count=60)
    assert solved > 30
    assert refused > 5


def test_random_topologies_to_twelve_digits() -> None:
    assert compare_in_40_digits(seed=2, count=40) > 15


@pytest.mark.heavy
@pytest.mark.parametrize("seed", range(10, 30))
def test_many_random_networks(seed: int) -> None:
    solved, refused = compare_exactly(seed, count=100)
    assert min(solved, refused) > 5
    assert compare_in_40_digits(seed + 100, count=100) > 30

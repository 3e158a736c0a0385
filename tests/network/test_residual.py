"""How far a written-down solution is from the circuit's laws, worked out by hand.

Each solution breaks one law only: the others are fulfilled, so the mismatch found is that law's.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.network.elements import (
    AdmittanceBlock,
    Element,
    IdealTransformer,
    Impedance,
    Source,
)
from simulator.network.netlist import Netlist, terminals
from simulator.network.residual import largest_residual

OPEN = complex(math.inf)


def residual(
    elements: tuple[Element, ...],
    potentials: dict[str, complex],
    currents: dict[str, list[complex]],
    powers: dict[str, complex] | None = None,
) -> float:
    """The mismatch, with the right powers where none are given."""
    I = {name: np.array(values, dtype=complex) for name, values in currents.items()}
    V = potentials | {"0": 0j}
    right = {
        e.name: complex(np.array([V[node] for node in terminals(e)]) @ I[e.name].conj())
        for e in elements
    }
    return largest_residual(Netlist(elements, "0"), V, I, powers or right)


def loop(emf: complex = 10, z: complex = 5) -> tuple[Element, ...]:
    return Source("E", ("1", "0"), emf), Impedance("Z", ("1", "0"), z)


def test_a_right_solution_has_none() -> None:
    assert residual(loop(), {"1": 10}, {"E": [-2, 2], "Z": [2, -2]}) == 0


def test_a_drop_that_is_not_the_impedance_times_the_current() -> None:
    # derived: 10 V against a drop of 5 ohm · 3 A = 15 V: 5 of 15 are left
    found = residual(loop(), {"1": 10}, {"E": [-3, 3], "Z": [3, -3]})
    assert found == pytest.approx(1 / 3, rel=1e-15)


def test_an_emf_that_is_not_the_voltage() -> None:
    # derived: 8 V at the terminals of 10 V and no impedance: 2 of 10
    found = residual(loop(), {"1": 8}, {"E": [-1.6, 1.6], "Z": [1.6, -1.6]})
    assert found == pytest.approx(1 / 5, rel=1e-15)


@pytest.mark.parametrize(("far", "expected"), [(5, 0), (6, 1 / 15)])
def test_a_transformer_between_four_nodes_of_any_potential(far: float, expected: float) -> None:
    # derived, n = 2: 30 − 10 = 2·(15 − 5); with 6 for 5, 2 V are left of 30
    elements = (
        IdealTransformer("T", ("1", "2"), ("3", "4"), 2.0),
        Impedance("open", ("4", "0"), OPEN),
    )
    potentials = {"1": 30, "2": 10, "3": 15, "4": far}
    found = residual(elements, potentials, {"T": [0, 0, 0, 0], "open": [0, 0]})
    assert found == pytest.approx(expected, rel=1e-15)


def test_a_voltage_that_is_nothing_beside_the_largest_is_judged_by_the_largest() -> None:
    # derived: 1e-12 V across a link of 0 ohm, of the floor 1e-12 · 1000 V
    elements = (Source("E", ("1", "0"), 1000), Impedance("link", ("2", "0"), 0j))
    found = residual(elements, {"1": 1000, "2": 1e-12}, {"E": [0, 0], "link": [0, 0]})
    assert found == pytest.approx(1e-3, rel=1e-12)


def test_a_network_of_blocks_alone_has_no_branch_law() -> None:
    Y = np.array([[1, -1], [-1, 1]], dtype=complex)
    assert residual((AdmittanceBlock("B", ("1", "0"), Y),), {"1": 0}, {"B": [0, 0]}) == 0


def test_currents_of_a_node_that_do_not_cancel_however_small_they_are() -> None:
    # derived: into node 1 −10 and 9 µA, 1 of 19 µA. At the reference 10 − 9 of the sum of all
    # sizes, 38 µA. Laws hold: 10 µA is 0.01 mV behind 1 ohm, 9 µA what 1 kohm takes of 9 mV.
    elements = (Source("E", ("1", "0"), 9.01e-3, 1), Impedance("Z", ("1", "0"), 1e3))
    currents = {"E": [-1e-5, 1e-5], "Z": [9e-6, -9e-6]}
    powers = {"E": -9e-8 + 0j, "Z": 9e-8 + 0j}  # in balance, so that only the node is wrong
    found = residual(elements, {"1": 9e-3}, currents, powers)
    assert found == pytest.approx(1 / 19, rel=1e-9)


def test_powers_that_do_not_balance() -> None:
    # derived: −20 + 30 of 20 + 30 and of the 10 V · 2 A in the source
    found = residual(loop(), {"1": 10}, {"E": [-2, 2], "Z": [2, -2]}, {"E": -20 + 0j, "Z": 30 + 0j})
    assert found == pytest.approx(10 / 70, rel=1e-15)


def test_what_cancels_within_a_block_counts_as_size() -> None:
    # derived: the same 5 ohm as a block of 0.2 S: |V|·|Y|·|V| = 10·0.2·10 = 20 VA more
    Y = np.array([[0.2, -0.2], [-0.2, 0.2]], dtype=complex)
    elements = Source("E", ("1", "0"), 10), AdmittanceBlock("B", ("1", "0"), Y)
    found = residual(
        elements, {"1": 10}, {"E": [-2, 2], "B": [2, -2]}, {"E": -20 + 0j, "B": 30 + 0j}
    )
    assert found == pytest.approx(10 / 90, rel=1e-15)


@pytest.mark.parametrize("what", ["potential", "current", "power"])
def test_no_number_is_never_lost(what: str) -> None:
    potentials, currents = {"1": 10 + 0j}, {"E": [-2, 2], "Z": [2, -2]}
    powers = {"E": -20 + 0j, "Z": 20 + 0j}
    if what == "potential":
        potentials["1"] = complex(math.nan)
    elif what == "current":
        currents["Z"] = [math.nan, math.nan]
    else:
        powers["Z"] = complex(math.nan)
    assert math.isnan(residual(loop(), potentials, currents, powers))

"""Supplies as sources and impedances of a network, the network solved."""

from __future__ import annotations

import cmath
import math

import pytest

from simulator.installation.conductors import EARTH, SUPPLY_STAR_POINT, Conductors
from simulator.installation.supply import (
    Supply,
    emfs_from_components,
    sequence_of,
    symmetrical_emfs,
)
from simulator.network.elements import Impedance
from simulator.network.netlist import Netlist
from simulator.network.nodal import Solution, solve

THREE = Conductors()
FOUR = Conductors(neutral="N")
A = cmath.rect(1, 2 * math.pi / 3)
SYMMETRICAL = symmetrical_emfs(400, 1)


def solved(supply: Supply, conductors: Conductors, *loads: Impedance) -> Solution:
    side = {conductor: conductor for conductor in conductors.all}
    elements = [element for _, element in supply.elements(conductors, side)]
    return solve(Netlist((*elements, *loads), SUPPLY_STAR_POINT))


def idle(conductors: Conductors) -> tuple[Impedance, ...]:
    """Tie every conductor loosely to the star point, so that none floats and none is loaded."""
    return tuple(Impedance(f"tie {k}", (k, SUPPLY_STAR_POINT), 1e15 + 0j) for k in conductors.all)


def degrees(z: complex) -> float:
    return math.degrees(cmath.phase(z))


@pytest.mark.parametrize(("sequence", "turn"), [(1, 30.0), (-1, -30.0)])
def test_symmetrical_supply(sequence: int, turn: float) -> None:
    # design/scenario.md, "Angles and sequence": the L1 emf is at 0°, so L1–L2 is at +30°, or −30°
    found = solved(Supply(symmetrical_emfs(400, sequence), sequence), THREE, *idle(THREE))
    V = [found.potentials[line] for line in THREE.lines]
    assert [abs(v) for v in V] == pytest.approx([230.940107676] * 3, rel=1e-11)
    assert degrees(V[0]) == pytest.approx(0, abs=1e-9)
    for k in range(3):
        U = V[k] - V[(k + 1) % 3]
        assert abs(U) == pytest.approx(400, rel=1e-12)
        assert degrees(U / (V[k] / abs(V[k]))) == pytest.approx(turn, abs=1e-9)
    assert sum(V) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("sequence", [1, -1])
def test_emfs_from_components(sequence: int) -> None:
    # derived: Fortescue's synthesis written line by line; with the other sequence the operator of
    # L2 and L3 is exchanged
    plus, minus, zero = 230 + 0j, 6 + 4j, -3 + 1j
    a = A if sequence > 0 else A.conjugate()
    expected = (
        plus + minus + zero,
        a**2 * plus + a * minus + zero,
        a * plus + a**2 * minus + zero,
    )
    found = emfs_from_components(plus, minus, zero, sequence)
    assert found == pytest.approx(expected, rel=1e-12)
    assert sequence_of(found) == sequence


@pytest.mark.parametrize(
    ("emfs", "sequence"),
    [
        ((230, 220 * A**2, 240 * A), 1),
        ((230, 220 * A, 240 * A**2), -1),
        # a heavily unbalanced supply still turns the way its larger component does
        ((230, 20 * A**2, 30 * A), 1),
        # one phase only: both components are equal, and label order is taken
        ((230, 0, 0), 1),
        # all in phase: neither component
        ((230, 230, 230), 1),
        # high leg of design/needs.md, section 6: 120 at 0°, 207.846 at 90°, 120 at 180°, whose
        # line voltages run A-C-B
        ((120, 207.846j, -120), -1),
    ],
)
def test_sequence_of_unsymmetrical_emfs(emfs: tuple[complex, ...], sequence: int) -> None:
    assert sequence_of(emfs) == sequence


def test_line_and_neutral_impedance_drop_the_voltage_of_their_current() -> None:
    # derived: one load of 22 ohm from L2 to N behind 0.6 + 0.8j and a neutral of 0.4 − 0.8j ohm:
    # 230/(22 + 0.6 + 0.4) = 10 A in phase with its emf
    supply = Supply(
        (230, 230 * A**2, 230 * A),
        1,
        line_impedances=(1j, 0.6 + 0.8j, 0j),
        neutral_impedance=0.4 - 0.8j,
    )
    found = solved(supply, FOUR, Impedance("load", ("L2", "N"), 22 + 0j), *idle(THREE))
    I = 10 * A**2
    assert found.current("load") == pytest.approx(I, rel=1e-12)
    assert found.potentials["N"] == pytest.approx((0.4 - 0.8j) * I, rel=1e-12)
    assert found.potentials["L2"] == pytest.approx(230 * A**2 - (0.6 + 0.8j) * I, rel=1e-12)
    assert found.potentials["L1"] == pytest.approx(230, rel=1e-12)
    assert found.current("line L2") == pytest.approx(I, rel=1e-12)
    assert found.current("source L2") == pytest.approx(-I, rel=1e-12)
    assert found.powers["line L2"] == pytest.approx(100 * (0.6 + 0.8j), rel=1e-12)


def test_roles_and_elements_that_are_not_there() -> None:
    side = {k: f"{k} in" for k in FOUR.all}
    supply = Supply(SYMMETRICAL, 1, line_impedances=(0.1, 0, 0))
    parts = {e.name: (role, e.terminals) for role, e in supply.elements(FOUR, side)}
    assert parts == {
        "source L1": ("source", ("L1 source terminal", SUPPLY_STAR_POINT)),
        "line L1": ("line", ("L1 source terminal", "L1 in")),
        "source L2": ("source", ("L2 in", SUPPLY_STAR_POINT)),
        "source L3": ("source", ("L3 in", SUPPLY_STAR_POINT)),
        "neutral N": ("line", (SUPPLY_STAR_POINT, "N in")),
    }


def test_a_lost_neutral_is_at_the_star_point_of_what_is_connected_to_it() -> None:
    # derived: Millman with the three loads alone, (230·1/23 + 230a²/46 + 230a/23)/(1/23+1/46+1/23)
    supply = Supply((230, 230 * A**2, 230 * A), 1, neutral_impedance=complex(math.inf))
    loads = [Impedance(f"Z{k}", (f"L{k}", "N"), z) for k, z in ((1, 23), (2, 46), (3, 23))]
    found = solved(supply, FOUR, *loads)
    expected = 230 * (1 / 23 + A**2 / 46 + A / 23) / (2 / 23 + 1 / 46)
    assert found.potentials["N"] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("earthed", ["L2", "N"])
def test_the_earthed_conductor_is_at_earth_before_its_own_impedance(earthed: str) -> None:
    # derived: corner-earthed, L1 stands 400 V off earth; star point earthed, 230.94 V
    supply = Supply(SYMMETRICAL, 1, line_impedances=(1, 1, 1), neutral_impedance=1, earthed=earthed)
    load = Impedance("load", ("L2", "N"), 21.094010767585 + 0j)
    found = solved(supply, FOUR, load, *idle(THREE))
    assert abs(found.current("load")) == pytest.approx(10, rel=1e-12)  # 230.94/(21.094 + 1 + 1)
    expected = {"L2": 400, "N": 400 / math.sqrt(3)}[earthed]
    assert abs(found.voltage("L1", EARTH)) == pytest.approx(expected, rel=1e-12)
    assert found.current("earthing of the supply") == pytest.approx(0, abs=1e-12)


def test_conductors() -> None:
    own = Conductors(("R", "S", "T"), "Mp")
    assert (own.all, own.wires) == (("R", "S", "T", "Mp"), 4)
    assert (THREE.all, THREE.wires) == (("L1", "L2", "L3"), 3)
    assert [own.pair(k) for k in range(3)] == [("R", "S"), ("S", "T"), ("T", "R")]

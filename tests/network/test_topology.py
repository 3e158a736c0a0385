"""What the structure alone decides: names, references, floating parts, free loops."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.errors import NetworkError
from simulator.network.elements import AdmittanceBlock, IdealTransformer, Impedance, Source
from simulator.network.netlist import Netlist, terminals
from simulator.network.nodal import solve
from simulator.network.topology import FloatingPartError, FreeLoopError, check_topology

OPEN = complex(math.inf)


def source(name: str, a: str, b: str, emf: complex, z: complex = 0j) -> Source:
    return Source(name, (a, b), emf, z)


def impedance(name: str, a: str, b: str, z: complex) -> Impedance:
    return Impedance(name, (a, b), z)


def check(*elements: object) -> None:
    check_topology(Netlist(elements, "0"))  # type: ignore[arg-type]


def floating(*elements: object) -> FloatingPartError:
    with pytest.raises(FloatingPartError) as caught:
        check(*elements)
    return caught.value


def free_loop(*elements: object) -> FreeLoopError:
    with pytest.raises(FreeLoopError) as caught:
        check(*elements)
    return caught.value


# The netlist --------------------------------------------------------------------------------


def test_nodes_come_in_order_of_appearance_and_a_transformer_lists_its_primary_first() -> None:
    transformer = IdealTransformer("T", ("p", "0"), ("s", "t"), 2.0)
    assert terminals(transformer) == ("p", "0", "s", "t")
    assert Netlist((impedance("Z", "b", "a", 1), transformer), "0").nodes == (
        "b",
        "a",
        "p",
        "0",
        "s",
        "t",
    )


def test_two_elements_of_one_name_are_refused_by_that_name() -> None:
    with pytest.raises(NetworkError, match="two elements are called 'Z'"):
        Netlist((impedance("Z", "1", "0", 1), impedance("Z", "2", "0", 1)), "0")


@pytest.mark.parametrize("elements", [(), (impedance("Z", "1", "2", 1),)])
def test_a_reference_that_no_element_touches_is_refused_by_name(elements: tuple) -> None:
    with pytest.raises(NetworkError, match="reference node 'earth'"):
        Netlist(elements, "earth")


# Floating parts -----------------------------------------------------------------------------


def test_a_floating_part_names_its_nodes_and_the_opens_at_its_border() -> None:
    error = floating(
        source("E", "1", "0", 10, 1),
        impedance("near", "1", "0", 4),
        impedance("switch", "1", "2", OPEN),
        impedance("inside", "2", "3", 3),
        impedance("lamp", "3", "0", OPEN),
        impedance("elsewhere", "1", "0", OPEN),
    )
    assert error.nodes == ("2", "3")
    assert error.opens == ("switch", "lamp")
    for name in ("'2'", "'3'", "'switch'", "'lamp'"):
        assert name in str(error)
    assert "elsewhere" not in str(error)


def test_a_part_with_nothing_open_at_its_border_floats_too() -> None:
    error = floating(source("E", "1", "0", 10, 1), impedance("island", "2", "3", 3))
    assert error.nodes == ("2", "3")
    assert error.opens == ()
    assert str(error).endswith("no closed path leads from there to the rest of the circuit")


def test_windings_of_a_transformer_do_not_tie_each_other_to_the_reference() -> None:
    # The windings are coupled by flux, not by a conductor: the secondary side may float.
    transformer = IdealTransformer("T", ("1", "0"), ("2", "3"), 2.0)
    burden = impedance("burden", "2", "3", 7)
    assert floating(source("E", "1", "0", 10, 1), transformer, burden).nodes == ("2", "3")
    check(source("E", "1", "0", 10, 1), transformer, burden, impedance("tie", "3", "0", 1e6))


def test_a_block_ties_its_terminals_together() -> None:
    block = AdmittanceBlock("B", ("1", "2", "3"), 1j * np.eye(3))
    check(source("E", "1", "0", 10, 1), block)
    assert floating(source("E", "4", "0", 10, 1), block).nodes == ("1", "2", "3")


def test_an_open_with_an_infinite_reactance_is_open_too() -> None:
    assert floating(
        source("E", "1", "0", 10, 1), impedance("Z", "1", "2", complex(0, math.inf))
    ).opens == ("Z",)


# Loops without impedance --------------------------------------------------------------------


def test_fighting_sources_are_named_with_the_voltage_they_fight_over() -> None:
    # 230 V at 0° against 230 V at 90° around a loop: √2·230 = 325.27 V
    error = free_loop(
        source("first", "1", "0", 230),
        impedance("link", "1", "2", 0j),
        source("second", "2", "0", 230j),
        impedance("bystander", "1", "0", 5),
    )
    assert set(error.members) == {"first", "link", "second"}
    assert error.mismatch == pytest.approx(230 * math.sqrt(2), rel=1e-12)
    assert "fight over 325.3 V" in str(error)
    assert "bystander" not in str(error)


def test_a_free_loop_in_full_words() -> None:
    fight = free_loop(source("a", "1", "0", 3), source("b", "1", "0", 5))
    assert str(fight) == (
        "'b', 'a' form a loop without any impedance: its sources fight over 2 V, and nothing "
        "limits the current; give one of them an impedance"
    )
    agree = free_loop(source("a", "1", "0", 3), source("b", "1", "0", 3))
    assert str(agree) == (
        "'b', 'a' form a loop without any impedance: its sources agree, but the current around it "
        "is not determined; give one of them an impedance"
    )
    idle = free_loop(impedance("a", "1", "0", 0j), impedance("b", "1", "0", 0j))
    assert str(idle) == (
        "'b', 'a' form a loop without any impedance: the current around it is not determined"
    )


def test_links_that_lead_out_of_the_loop_are_not_of_it() -> None:
    error = free_loop(
        impedance("stub", "1", "9", 0j),
        impedance("further", "9", "8", 0j),
        source("E", "1", "0", 10),
        impedance("side", "0", "7", 0j),
        impedance("link", "1", "2", 0j),
        impedance("closing", "2", "0", 0j),
    )
    assert set(error.members) == {"E", "link", "closing"}
    assert error.mismatch == 10


@pytest.mark.parametrize(("size", "off", "expected"), [(230e3, 1e-4, 0), (1e-3, 1e-6, 1e-6)])
def test_sources_agree_to_a_part_of_their_own_size(
    size: float, off: float, expected: float
) -> None:
    error = free_loop(source("a", "1", "0", size), source("b", "1", "0", size + off))
    assert error.mismatch == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("ends", [("1", "0"), ("0", "1")])
def test_agreeing_ideal_sources_in_parallel_are_refused_as_such(ends: tuple[str, str]) -> None:
    emf = 230 if ends == ("1", "0") else -230
    error = free_loop(source("first", "1", "0", 230), source("second", *ends, emf))
    assert error.mismatch == 0
    assert "agree" in str(error)


def test_the_mismatch_counts_each_source_in_its_direction_around_the_loop() -> None:
    # 100 V and 60 V in series against 150 V: 10 V are left
    error = free_loop(
        source("a", "1", "0", 100), source("b", "1", "2", -60), source("c", "2", "0", 150)
    )
    assert error.mismatch == pytest.approx(10)


def test_a_zero_ohm_loop_is_named_whatever_else_is_connected() -> None:
    error = free_loop(
        source("E", "1", "0", 230, 1),
        impedance("link 1", "1", "2", 0j),
        impedance("link 2", "2", "3", 0j),
        impedance("link 3", "3", "1", 0j),
    )
    assert set(error.members) == {"link 1", "link 2", "link 3"}
    assert error.mismatch is None
    assert "current around it is not determined" in str(error)


def test_one_impedance_anywhere_in_the_loop_settles_it() -> None:
    # 10 V around 2 ohm: 5 A
    netlist = Netlist((source("a", "1", "0", 240), source("b", "1", "0", 230, 2)), "0")
    assert solve(netlist).current("b") == pytest.approx(5)


def test_a_network_that_is_both_in_parts_and_looped_is_refused_for_its_part_first() -> None:
    loop = impedance("x", "1", "0", 0j), impedance("y", "1", "0", 0j)
    assert floating(*loop, impedance("island", "2", "3", 1)).nodes == ("2", "3")

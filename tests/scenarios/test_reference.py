"""The reference solver itself, on circuits that can be worked out by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from mpmath import mp, mpc, mpf

import simulator
from simulator.network.elements import AdmittanceBlock, IdealTransformer, Impedance, Source
from simulator.network.netlist import Netlist, terminals
from tests.reference_solver import DIGITS, read_reference, solve_reference

TINY = mpf(10) ** (5 - DIGITS)


def test_transformer_by_hand() -> None:
    # 10 V behind 1 ohm; 2 : 1 turns make 1 ohm look like 4: 2 A in, 4 V across it.
    found = solve_reference(
        Netlist(
            (
                Source("source", ("a", "0"), 10 + 0j, 1 + 0j),
                IdealTransformer("transformer", ("a", "0"), ("b", "0"), 2.0),
                Impedance("load", ("b", "0"), 1 + 0j),
                Impedance("gap", ("b", "0"), complex("inf")),
            ),
            "0",
        )
    )
    # The source's current is counted into its plus terminal: −2 A.
    expected = {
        ("I", "source", "0"): -2,
        ("I", "transformer", "0"): 2,
        ("I", "transformer", "1"): -4,
        ("I", "load", "0"): 4,
        ("I", "gap", "0"): 0,
        ("V", "a"): 8,
        ("V", "b"): 4,
    }
    for unknown, value in expected.items():
        assert abs(found[unknown] - value) < TINY


def test_block_and_link_by_hand() -> None:
    # A block of two terminals is one admittance of j/2 S; 6 V over it through a link: 3j A.
    y = 0.5j * np.array([[1, -1], [-1, 1]])
    found = solve_reference(
        Netlist(
            (
                Source("source", ("a", "0"), 6 + 0j),
                Impedance("link", ("a", "b"), 0j),
                AdmittanceBlock("block", ("b", "0"), y),
            ),
            "0",
        )
    )
    assert abs(found["I", "link", "0"] - mpc(0, 3)) < TINY
    assert abs(found["I", "block", "1"] + mpc(0, 3)) < TINY


def test_kirchhoff_holds_to_all_its_digits() -> None:
    path = Path(__file__).parents[2] / "scenarios" / "through-voltage-transformers.toml"
    netlist = simulator.solve(simulator.read_scenario(path)).first.wired.netlist
    with mp.workdps(DIGITS):
        found = solve_reference(netlist)
        into = {node: [mpc(0)] for node in netlist.nodes}
        for element in netlist.elements:
            nodes = terminals(element)
            if isinstance(element, AdmittanceBlock):
                currents = [found["I", element.name, str(k)] for k in range(len(nodes))]
            else:
                pairs = (found["I", element.name, str(k)] for k in range(len(nodes) // 2))
                currents = [sign * i for i in pairs for sign in (1, -1)]
            for node, current in zip(nodes, currents, strict=True):
                into[node].append(current)
        for currents in into.values():
            assert abs(mp.fsum(currents)) <= TINY * mp.fsum(currents, absolute=True)


@pytest.mark.parametrize("kind", ["electrodynamic", "electronic"])
def test_reading_rules_by_hand(kind: str) -> None:
    # 100 V on 10 ohm: 10 A, 1000 W. The voltage circuit is 1000 ohm at 45°: an electrodynamic
    # wattmeter sees 1/√2 of the voltage 45° late, so half. An electronic one sees all of it,
    # turned by its 60°: half too.
    errors = {"phase_error": "60 deg"} if kind == "electronic" else {}
    scenario = simulator.scenario_from(
        {
            "title": "by hand",
            "supply": {"wires": 4, "sequence_voltages": {"positive": "100 V"}},
            "load": [{"connection": "line-to-neutral", "L1": "10 ohm"}],
            "instrument": {
                "a": {"voltage_circuit": "1 kohm, 3.18309886183790671538 H", "kind": kind} | errors
            },
            "method": {"name": "one wattmeter to neutral", "instrument": "a"},
        }
    )
    ((watts, voltage, current),) = read_reference(simulator.solve(scenario).first).values()
    assert float(watts) == pytest.approx(500, rel=1e-14)
    assert float(voltage) == pytest.approx(100, rel=1e-14)
    assert float(current) == pytest.approx(10, rel=1e-14)

"""Many deviating cases of a network against each case solved by itself, as a network of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import simulator
from simulator.errors import NetworkError
from simulator.findings.uncertainty.network import DeviatingNetwork
from simulator.network.elements import AdmittanceBlock, IdealTransformer, Impedance, Source
from simulator.network.netlist import Netlist
from simulator.network.nodal import solve
from tests.scenario.texts import FOUR_WIRES, MOTOR, THREE_WIRES

# A solved case may be off by its condition times 2⁻⁵³ (1e2 here); the same holds for the other way.
CLOSE = {"rel": 1e-11, "abs": 1e-11}


def netlist_of(text: str) -> Netlist:
    return simulator.solve(simulator.parse_scenario(text)).first.wired.netlist


def changed(netlist: Netlist, factors: dict[str, complex]) -> Netlist:
    elements = []
    for e in netlist.elements:
        factor = factors.get(e.name, 1)
        if isinstance(e, Source):
            elements.append(replace(e, emf=e.emf * factor))
        elif isinstance(e, AdmittanceBlock):
            elements.append(replace(e, admittance=e.admittance / factor))
        elif isinstance(e, Impedance) and not e.is_open:
            elements.append(replace(e, impedance=e.impedance * factor))
        else:
            elements.append(e)
    return Netlist(tuple(elements), netlist.reference)


TEXTS = {
    "three wires": THREE_WIRES,
    "motor": THREE_WIRES + MOTOR,
    "four wires": FOUR_WIRES.replace(
        'voltage = "400 V"',
        'voltage = "400 V"\nneutral_impedance = "0.5 ohm"\nline_impedance = "0.1+0.1j ohm"',
    ),
    "voltage circuits": THREE_WIRES.replace('"W2"', '"W2"\ninstrument = "p"').replace(
        "[[load]]", '[instrument.p]\nvoltage_circuit = "20 kohm"\n[[load]]'
    ),
}


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_each_case_by_itself(text: str) -> None:
    netlist = netlist_of(text)
    names = [
        e.name
        for e in netlist.elements
        if not isinstance(e, IdealTransformer) and getattr(e, "impedance", 1) not in (0, np.inf)
    ]
    names += [e.name for e in netlist.elements if isinstance(e, Source)]
    names = list(dict.fromkeys(names))
    assert len(names) >= 6
    random = np.random.default_rng(11)
    n = 7
    factors = {
        name: random.uniform(0.6, 1.5, n) * np.exp(1j * random.uniform(-0.4, 0.4, n))
        for name in names
    }
    pairs = [(node, netlist.reference) for node in netlist.nodes]
    currents = [e.name for e in netlist.elements if not isinstance(e, AdmittanceBlock)]
    found = DeviatingNetwork(netlist, names, [*currents, *pairs]).phasors(factors)
    assert found.shape == (len(currents) + len(pairs), n)
    for k in range(n):
        one = solve(changed(netlist, {name: factor[k] for name, factor in factors.items()}))
        expected = [one.current(name) for name in currents]
        expected += [one.potentials[node] for node, _ in pairs]
        assert found[:, k] == pytest.approx(np.array(expected), **CLOSE)


def test_sources_alone() -> None:
    netlist = netlist_of(THREE_WIRES)
    names = ["source L1", "source L2", "source L3"]
    found = DeviatingNetwork(netlist, names, ["load ovens L1"]).phasors(
        dict.fromkeys(names, np.array([1, 2, 2j]))
    )
    assert found[0] == pytest.approx(found[0, 0] * np.array([1, 2, 2j]))  # linear in the sources


def test_case_without_a_solution() -> None:
    """Two sources with no more impedance between them than −1 + 1 ohm."""
    netlist = Netlist(
        (
            Source("emf", ("a", "0"), 1 + 0j),
            Impedance("one", ("a", "b"), 1 + 0j),
            Impedance("other", ("b", "0"), 1 + 0j),
        ),
        "0",
    )
    network = DeviatingNetwork(netlist, ["other"], ["one"])
    assert network.phasors({"other": np.array([1.0 + 0j, 3.0])})[0] == pytest.approx([0.5, 0.25])
    with pytest.raises(NetworkError, match="without a solution"):
        network.phasors({"other": np.array([1.0, -1.0 + 0j])})


def test_transformers_do_not_deviate() -> None:
    part = IdealTransformer("t", ("a", "0"), ("b", "0"), 2.0)
    netlist = Netlist(
        (Source("emf", ("a", "0"), 1 + 0j), part, Impedance("z", ("b", "0"), 1 + 0j)), "0"
    )
    with pytest.raises(TypeError, match="'t'"):
        DeviatingNetwork(netlist, ["t"], ["z"])

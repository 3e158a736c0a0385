"""The list of connections is complete: the network is rebuilt from its words alone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import simulator
from simulator.figures.connections.listing import connection_list, connection_text
from simulator.metering.catalogue import METHODS
from simulator.reports.catalogue import starter_text
from tests.figures.test_connections_cases import ARRANGEMENTS, NAMES, scenario_number
from tests.figures.test_connections_netlist import Union, expected_elements

SHIPPED = sorted(Path(__file__).parents[2].joinpath("scenarios").glob("*.toml"))


def terminals_in_words(station):
    """What the list calls each terminal of each element that has to be connected."""
    arrangement = station.arrangement
    found = {}
    for load in arrangement.loads:
        for branch in load.branches:
            found[f"load {load.name} {branch.name}"] = _ends(f"{load.name}, branch {branch.name}")
        if load.motor:
            found[load.element_name("")] = [
                f"{load.name}, terminal {line}" for line in arrangement.conductors.lines
            ]
        for k in load.leads:
            found[load.lead_name(k)] = _ends(f"{load.name}, lead in {k}")
    for part in arrangement.impedances:
        found[f"impedance {part.name}"] = _ends(part.name)
    for meter in arrangement.wattmeters:
        found |= _wattmeter_in_words(meter)
    for meter in arrangement.ammeters:
        found[f"current circuit of {meter.name} in {meter.conductor}"] = [
            f"{meter.name}, end towards the supply",
            f"{meter.name}, end towards the load",
        ]
    for meter in arrangement.voltmeters:
        found[f"voltage circuit of {meter.name}"] = _ends(meter.name)
    for line in arrangement.conductors.lines:
        found[f"line {line}"] = _ends(f"impedance of {line}")
        ends = "line end", "star-point end"
        found[f"source {line}"] = [f"source {line}, {end}" for end in ends]
    found[f"neutral {arrangement.conductors.neutral}"] = _ends(
        f"impedance of {arrangement.conductors.neutral}"
    )
    return found


def _ends(name):
    return [f"{name}, first end", f"{name}, second end"]


def _wattmeter_in_words(meter):
    found = {}
    for winding in meter.windings:
        where = f"{meter.name} in {winding.conductor}"
        name = f"{meter.name} current circuit"
        name += f" in {winding.conductor}" * (len(meter.windings) > 1)
        forward = (winding.sign == 1) ^ meter.current_reversed
        order = ("marked", "other") if forward else ("other", "marked")
        found[f"current circuit of {where}"] = [f"{name}, {end} end" for end in order]
        if meter.current_transformer:
            ct = f"current transformer {meter.current_transformer.name} of {where}"
            pins = ("P1", "P2", "S1", "S2")
            found[f"current transformer of {where}"] = [f"{ct}, {pin}" for pin in pins]
            for part in ("leads", "burden"):
                found[f"{part} of current transformer of {where}"] = _ends(f"{part} of {ct}")
    order = ("other", "marked") if meter.voltage_reversed else ("marked", "other")
    name = f"{meter.name} voltage circuit"
    found[f"voltage circuit of {meter.name}"] = [f"{name}, {end} end" for end in order]
    if meter.voltage_transformer:
        vt = f"voltage transformer {meter.voltage_transformer.name} of {meter.name}"
        found[f"voltage transformer of {meter.name}"] = [f"{vt}, {pin}" for pin in "ABab"]
        for part in ("leads", "burden"):
            found[f"{part} of voltage transformer of {meter.name}"] = _ends(f"{part} of {vt}")
    return found


def check(result):
    """Terminals and places with the same words are one; so are those joined by a connection."""
    connections = connection_list(result)
    for station in result.stations:
        own = [c for c in connections if c.station == station.number]
        joined = Union()
        for c in own:
            if c.to_terminal == "not connected":
                joined.join(c.from_terminal, f"nothing at {c.from_terminal}")
            elif c.to_terminal != "earth":  # no connection to another earthed secondary
                joined.join(c.from_terminal, c.to_terminal)
        expected = expected_elements(station)
        words = terminals_in_words(station)
        there, back = {}, {}
        for element, nodes in expected.items():
            if element == "PE" or element.startswith(("earth of", "gap at")):
                continue
            for node, text in zip(nodes, words[element], strict=True):
                place = joined.find(text)
                assert there.setdefault(node, place) == place, (element, text, node)
                assert back.setdefault(place, node) == node, (element, text, node)
        known = {text for e in expected if e in words for text in words[e]}
        points = {"PE", "star point of the supply"}
        strange = {c.from_terminal for c in own} - known - points
        assert not strange
        earths = [c.from_terminal for c in own if c.to_terminal == "earth"]
        assert len(earths) == sum(e.startswith("earth of") for e in expected)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_shipped_scenario(path):
    check(simulator.solve(simulator.read_scenario(path)))


@pytest.mark.parametrize("name", METHODS)
def test_starter_of_method(name):
    check(simulator.solve(simulator.parse_scenario(starter_text(name))))


@pytest.mark.parametrize("name", NAMES)
def test_arrangement(name):
    check(simulator.solve(simulator.scenario_from(ARRANGEMENTS[name])))


@pytest.mark.parametrize("number", range(40))
def test_drawn_by_lot(number):
    check(simulator.solve(simulator.scenario_from(scenario_number(number))))


def test_example_of_two_wattmeters():
    """Common point on L2: W1 in L1, W2 in L3 (definition of the method in scenario.md)."""
    text = connection_text(
        simulator.solve(simulator.parse_scenario(starter_text("two wattmeters")))
    )
    assert (
        "W1 current circuit, marked end: L1 on the supply side of W1 (towards the supply)" in text
    )
    assert "W1 voltage circuit, marked end: L1 on the supply side of W1 (20 kΩ)" in text
    assert re.search(r"W2 voltage circuit, other end: L2 ", text)


def test_order_is_that_of_the_work():
    """Loads, then current circuits, then voltage circuits, the supply last."""
    scenario = simulator.scenario_from(ARRANGEMENTS["differences through transformers"])
    names = [c.from_terminal for c in connection_list(simulator.solve(scenario))]

    def first(word):
        return next(k for k, name in enumerate(names) if word in name)

    def last(word):
        return len(names) - 1 - next(k for k, name in enumerate(names[::-1]) if word in name)

    assert last("branch") < first("current circuit") < last("current circuit")
    assert last("current circuit") < first("voltage circuit") < last("voltage circuit")
    assert last("voltage circuit") < first("source")
    assert first(", S2") < first("current circuit") < first(", P1")


def test_cautions():
    """Section 9 of the reference page on standards: what must always be said."""
    plain = connection_text(
        simulator.solve(simulator.parse_scenario(starter_text("two wattmeters")))
    )
    assert "prove dead" in plain
    assert "local rules apply" in plain
    assert "transformer" not in plain
    result = simulator.solve(
        simulator.scenario_from(ARRANGEMENTS["differences through transformers"])
    )
    text = connection_text(result)
    assert "Never open the secondary of a current transformer" in text
    assert "Never short the secondary of a voltage transformer" in text


def test_stations_are_listed_one_after_the_other():
    result = simulator.solve(simulator.scenario_from(ARRANGEMENTS["stations"]))
    assert list(dict.fromkeys(c.station for c in connection_list(result))) == [1, 2]
    assert "Station 2" in connection_text(result)


def test_reversed_circuits_are_said_to_be():
    result = simulator.solve(simulator.scenario_from(ARRANGEMENTS["both circuits reversed"]))
    text = connection_text(result)
    assert (
        "W1 current circuit, marked end: L1 on the load side of W1 (towards the load; rev" in text
    )
    assert "W1 voltage circuit, marked end: L2 (reversed)" in text

"""The drawn connections are the scenario's: the node list is rebuilt from what was drawn.

Wires and dots are read from the figure's own artists. Two wire ends that meet are one wire; three
or more are joined only by a dot, and so is a wire with another that ends on it. Wires that cross
without a dot are not connected. Nodes and elements found in this way are compared one by one with
the network that was solved.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.patches import Circle

import simulator
from simulator.figures.connections import symbols
from simulator.figures.connections.diagram import connection_pages, draw_connections
from simulator.figures.style import Style
from simulator.installation.conductors import EARTH, SUPPLY_STAR_POINT
from simulator.metering.catalogue import METHODS
from simulator.network.elements import IdealTransformer, Impedance
from simulator.network.netlist import terminals
from simulator.reports.catalogue import starter_text
from tests.figures.test_connections_cases import ARRANGEMENTS, NAMES, scenario_number

SHIPPED = sorted(Path(__file__).parents[2].joinpath("scenarios").glob("*.toml"))


class Union:
    """Sets that grow together."""

    def __init__(self):
        self.parents = {}

    def find(self, item):
        self.parents.setdefault(item, item)
        while self.parents[item] != item:
            item = self.parents[item]
        return item

    def join(self, first, second):
        self.parents[self.find(first)] = self.find(second)

    def join_all(self, items):
        for item in items:
            self.join(items[0], item)


def drawn_wires(figure):
    """Corners of every wire in the figure; symbols are drawn on another layer."""
    (axes,) = figure.axes
    return [
        tuple((round(x, 4), round(y, 4)) for x, y in line.get_xydata())
        for line in axes.lines
        if line.get_zorder() == symbols.WIRES
    ]


def drawn_dots(figure):
    (axes,) = figure.axes
    dots = [p for p in axes.patches if isinstance(p, Circle) and p.get_zorder() == symbols.DOTS]
    return {(round(p.center[0], 4), round(p.center[1], 4)) for p in dots}


def is_on(point, wire):
    return any(
        abs(math.dist(a, point) + math.dist(point, b) - math.dist(a, b)) < 1e-6
        for a, b in itertools.pairwise(wire)
    )


def rebuild(wires, dots, pages):
    """Nodes of every element as they were drawn: what of the drawing is connected to what."""
    ends = {}
    for k, wire in enumerate(wires):
        for point in (wire[0], wire[-1]):
            ends.setdefault(point, []).append(k)
    drawn = {}
    for symbol in itertools.chain.from_iterable(page.symbols for page in pages):
        for part in symbol.parts:
            names = [(part.element, k) for k in range(len(part.terminals))]
            assert part.element not in drawn, f"{part.element} is drawn twice"
            drawn[part.element] = names
            for name, point in zip(names, part.terminals, strict=True):
                ends.setdefault(point, []).append(name)
    nodes = Union()
    for point, meeting in ends.items():
        through = [k for k, w in enumerate(wires) if k not in meeting and is_on(point, w)]
        if point not in dots:
            assert len(meeting) <= 2, f"{meeting} meet at {point} without a dot"
            assert not through, f"{meeting} end on wire {through} at {point} without a dot"
        nodes.join_all(meeting + through)
    for dot in dots:
        through = [k for k, wire in enumerate(wires) if is_on(dot, wire)]
        assert through, f"a dot at {dot} is on no wire"
        nodes.join_all(through)
    return {element: tuple(nodes.find(n) for n in names) for element, names in drawn.items()}


INSIDE = ("first half of the winding of ", "winding of ", "magnetising branch of ")


def expected_elements(station):
    """Nodes of every element that has to be drawn, from the solved network and its meters.

    A plain wire stands for a neutral, an earthing or a short without impedance of its own. What
    is inside a transformer is part of its symbol. Secondary sides of transformers hang on the
    reference only for the solver; drawn, each is earthed by itself.
    """
    wired = station.wired
    found, same = {}, Union()
    for element in wired.netlist.elements:
        role, name, nodes = wired.roles[element.name], element.name, terminals(element)
        is_link = isinstance(element, Impedance) and element.impedance == 0
        if role == "earth":
            found[EARTH] = (EARTH,)
        if role == "transformer":
            _add_transformer_part(found, same, element)
        elif role in ("line", "earth") and is_link:
            same.join(*nodes)
        else:
            found[name] = nodes
    for meter in station.arrangement.wattmeters:
        for winding, circuit in zip(
            meter.windings, wired.wired[meter.name].current_circuits, strict=True
        ):
            if meter.current_transformer:
                where = f"{meter.name} in {winding.conductor}"
                transformer = f"current transformer of {where}"
                assert found[circuit][1] == SUPPLY_STAR_POINT
                found[circuit] = found[circuit][0], f"return of {transformer}"
                _add_gap(found, meter.current_transformer, transformer, circuit)
    for meter in (*station.arrangement.wattmeters, *station.arrangement.voltmeters):
        circuit, ends = f"voltage circuit of {meter.name}", wired.wired[meter.name].ends
        if not getattr(meter, "voltage_transformer", None):
            found.setdefault(circuit, ends)
            continue
        transformer = f"voltage transformer of {meter.name}"
        inside, outside = f"{meter.name} secondary", f"return of {transformer}"
        found.setdefault(transformer, (*ends, inside, outside))
        found[f"earth of {transformer}"] = (outside,)
        at_meter = wired.wired[meter.name].felt or (inside,)
        found[circuit] = at_meter[0], outside
        _add_gap(found, meter.voltage_transformer, transformer, circuit)
    return {name: tuple(same.find(n) for n in nodes) for name, nodes in found.items()}


def _add_transformer_part(found, same, element):
    nodes, name = terminals(element), element.name
    inside = [name.removeprefix(p) for p in (*INSIDE, "short of ") if name.startswith(p)]
    whole = inside[0] if inside else name.split(" of ", 1)[1] if name[0] in "lb" else name
    back = f"return of {whole}"
    nodes = tuple(back if n == SUPPLY_STAR_POINT else n for n in nodes)
    if isinstance(element, IdealTransformer):
        assert element.secondary[1] == SUPPLY_STAR_POINT
        nodes = (*element.primary, element.secondary[0], back)
        found[f"earth of {name}"] = (back,)
        found[name] = nodes
    elif inside and not name.startswith("magnetising"):
        same.join(*nodes)
    elif not inside:
        found[name] = nodes


def _add_gap(found, transformer, name, circuit):
    """A meter that is not connected to its transformer hangs at the earthed end alone."""
    if transformer.secondary == "connected":
        return
    inside, back = found[name][2:]
    loose = f"loose end of {circuit}"
    found[f"gap at {name}"] = inside, loose
    found[circuit] = loose, back


def compare(drawn, expected, station):
    ends = {name: drawn.pop(name) for name in list(drawn) if name.startswith("end of ")}
    assert set(drawn) == set(expected)
    to_drawn, to_expected = {}, {}
    for element, nodes in expected.items():
        found = drawn[element]
        assert len(found) == len(nodes), element
        for node, net in zip(nodes, found, strict=True):
            assert to_drawn.setdefault(node, net) == net, f"{element}: '{node}' is drawn apart"
            assert to_expected.setdefault(net, node) == node, f"{element}: '{node}' is joined"
    for name, nets in ends.items():
        conductor = name.removeprefix("end of ")
        assert conductor in station.arrangement.conductors.all
        if conductor in to_drawn:
            assert nets == (to_drawn[conductor],)


def check(result):
    figure = draw_connections(result, Style())
    pages = connection_pages(result)
    wires, dots = drawn_wires(figure), drawn_dots(figure)
    assert sorted(wires) == sorted(w.points for page in pages for w in page.wires)
    for station, page in zip(result.stations, pages, strict=True):
        _, bottom, _, top = page.box
        own = [w for w in wires if all(bottom <= y <= top for _, y in w)]
        drawn = rebuild(own, {d for d in dots if bottom <= d[1] <= top}, [page])
        compare(drawn, expected_elements(station), station)
        check_marks(station, page)


def check_marks(station, page):
    """Every wattmeter's marks stand at the terminals that face what the scenario says."""
    parts = {p.element: p.terminals for s in page.symbols for p in s.parts}
    marks = {}
    for mark in page.marks:
        points = parts[mark.element]
        distances = [math.dist(mark.at, p) for p in points]
        assert min(distances) < 0.5, mark
        assert mark.element not in marks, mark
        marks[mark.element] = int(np.argmin(distances))
    expected = {}
    for meter in station.arrangement.wattmeters:
        place = station.wired.wired[meter.name]
        for winding, element in zip(meter.windings, place.current_circuits, strict=True):
            forward = (winding.sign == 1) ^ meter.current_reversed
            expected[element] = 0 if forward else 1
        expected[f"voltage circuit of {meter.name}"] = 1 if meter.voltage_reversed else 0
    assert marks == expected


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_shipped_scenario(path):
    check(simulator.solve(simulator.read_scenario(path)))


@pytest.mark.parametrize("name", METHODS)
def test_starter_of_method(name):
    check(simulator.solve(simulator.parse_scenario(starter_text(name))))


@pytest.mark.parametrize("name", NAMES)
def test_arrangement(name):
    check(simulator.solve(simulator.scenario_from(ARRANGEMENTS[name])))


@pytest.mark.parametrize("number", range(25))
def test_drawn_by_lot(number):
    check(simulator.solve(simulator.scenario_from(scenario_number(number))))


@pytest.mark.heavy
@pytest.mark.parametrize("number", range(25, 400))
def test_many_drawn_by_lot(number):
    check(simulator.solve(simulator.scenario_from(scenario_number(number))))


@pytest.mark.parametrize("broken", ["moved wire", "missing dot", "additional dot"])
def test_a_wrong_drawing_is_noticed(broken):
    text = starter_text("three wattmeters to neutral")
    result = simulator.solve(simulator.parse_scenario(text))
    (station,), (page,) = result.stations, connection_pages(result)
    wires, dots = [w.points for w in page.wires], set(page.dots)
    compare(rebuild(wires, dots, [page]), expected_elements(station), station)
    tap = next(w for w in page.wires if not w.ink.heavy)
    if broken == "moved wire":
        wires.remove(tap.points)
        wires.append(replace(tap, points=tuple((x, y + 0.01) for x, y in tap.points)).points)
    elif broken == "missing dot":
        dots.remove(sorted(dots)[-1])
    else:
        dots.add(_crossing(wires))
    with pytest.raises(AssertionError):
        compare(rebuild(wires, dots, [page]), expected_elements(station), station)


def _crossing(wires):
    """A point where two wires cross."""
    segments = [s for w in wires for s in itertools.pairwise(w)]
    for (a, b), (c, d) in itertools.permutations(segments, 2):
        if a[1] == b[1] and c[0] == d[0]:
            xs, ys = sorted((a[0], b[0])), sorted((c[1], d[1]))
            if xs[0] < c[0] < xs[1] and ys[0] < a[1] < ys[1]:
                return c[0], a[1]
    raise AssertionError("no two wires cross")

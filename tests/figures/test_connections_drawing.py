"""The connection diagram is legible: texts apart, wires clear of symbols and texts, same bytes."""

from __future__ import annotations

import itertools
import math
import time
from pathlib import Path

import numpy as np
import pytest
from matplotlib.path import Path as Outline

import simulator
from simulator.figures.clashes import overlaps
from simulator.figures.connections import symbols
from simulator.figures.connections.diagram import connection_pages, draw_connections
from simulator.figures.saving import save
from simulator.figures.style import Style, settings
from simulator.metering.catalogue import METHODS
from simulator.reports.catalogue import starter_text
from tests.figures.test_connections_cases import ARRANGEMENTS, NAMES, scenario_number

SHIPPED = sorted(Path(__file__).parents[2].joinpath("scenarios").glob("*.toml"))
BOTH_TAPS = [(name, tap) for name in METHODS for tap in ("supply", "load")]


def results():
    """Every case with a name: shipped scenarios, methods with both taps, hand-wired, by lot."""
    for path in SHIPPED:
        yield pytest.param(lambda p=path: simulator.read_scenario(p), id=path.stem)
    for name, tap in BOTH_TAPS:
        text = starter_text(name) + f'voltage_tap = "{tap}"\n'
        yield pytest.param(lambda t=text: simulator.parse_scenario(t), id=f"{name}, {tap} tap")
    for name in NAMES:
        yield pytest.param(lambda n=name: simulator.scenario_from(ARRANGEMENTS[n]), id=name)
    for number in range(12):
        yield pytest.param(
            lambda n=number: simulator.scenario_from(scenario_number(n)), id=f"lot {number}"
        )


def clipped(segment, polygon):
    """Length of the part of a segment inside a convex polygon (its corners anticlockwise or not).

    Cyrus and Beck's way: the segment is cut by the half-plane of every side.
    """
    (ax, ay), (bx, by) = segment
    corners = list(polygon)
    area = sum(
        p[0] * q[1] - q[0] * p[1] for p, q in zip(corners, corners[1:] + corners[:1], strict=True)
    )
    if area < 0:
        corners.reverse()
    low, high = 0.0, 1.0
    for p, q in zip(corners, corners[1:] + corners[:1], strict=True):
        normal = p[1] - q[1], q[0] - p[0]
        start = normal[0] * (ax - p[0]) + normal[1] * (ay - p[1])
        slope = normal[0] * (bx - ax) + normal[1] * (by - ay)
        if abs(slope) < 1e-12:
            if start <= 1e-6:  # along a side or beyond it
                return 0.0
        elif slope > 0:
            low = max(low, -start / slope)
        else:
            high = min(high, -start / slope)
    return max(0.0, high - low) * math.dist(*segment)


def rectangle(box, margin=0.0):
    left, bottom, right, top = box
    left, bottom, right, top = left - margin, bottom - margin, right + margin, top + margin
    return (left, bottom), (right, bottom), (right, top), (left, top)


def segments(page):
    return [s for wire in page.wires for s in itertools.pairwise(wire.points)]


def check_clear(page):
    for segment in segments(page):
        for symbol in page.symbols:
            assert clipped(segment, symbol.outline) < 0.02, (segment, symbol)
        for label in page.labels:
            assert clipped(segment, rectangle(label.box, -0.02)) == 0, (segment, label)
        for mark in page.marks:
            (x, y), r = mark.at, 0.1
            assert clipped(segment, rectangle((x - r, y - r, x + r, y + r))) == 0, (segment, mark)
    for label in page.labels:
        around = rectangle(label.box, -0.02)
        for symbol in page.symbols:
            sides = zip(symbol.outline, symbol.outline[1:] + symbol.outline[:1], strict=True)
            assert not any(clipped(side, around) for side in sides), (label, symbol)
            assert not Outline(around).contains_points(symbol.outline).any(), (label, symbol)
            assert not Outline(symbol.outline).contains_points(around).any(), (label, symbol)
        for mark in page.marks:
            assert not Outline(rectangle(label.box, 0.08)).contains_point(mark.at), (label, mark)
    for first, second in itertools.combinations(page.symbols, 2):
        assert not any(clipped(side, first.outline) > 0.02 for side in sides_of(second)), (
            first,
            second,
        )


def sides_of(symbol):
    return zip(symbol.outline, symbol.outline[1:] + symbol.outline[:1], strict=True)


def check_no_wire_on_another(page):
    """Two wires never run along each other, or nobody could tell them apart."""
    for (a, b), (c, d) in itertools.combinations(segments(page), 2):
        for k in (0, 1):
            along = 1 - k
            if a[k] == b[k] == c[k] == d[k]:
                low = max(min(a[along], b[along]), min(c[along], d[along]))
                high = min(max(a[along], b[along]), max(c[along], d[along]))
                assert high - low < 1e-6, ((a, b), (c, d))


@pytest.mark.parametrize("scenario", list(results()))
def test_everything_has_its_own_room(scenario):
    for page in connection_pages(simulator.solve(scenario())):
        check_clear(page)
        check_no_wire_on_another(page)


@pytest.mark.heavy
@pytest.mark.parametrize("number", range(12, 400))
def test_by_lot_everything_has_its_own_room(number):
    for page in connection_pages(simulator.solve(simulator.scenario_from(scenario_number(number)))):
        check_clear(page)
        check_no_wire_on_another(page)


@pytest.mark.parametrize("scenario", [*results()][::2])
def test_no_label_overlaps_or_leaves(scenario):
    figure = draw_connections(simulator.solve(scenario()), Style())
    with settings():
        assert not overlaps(figure)
    assert not overlaps(figure)  # nor where a notebook renders it by the user's own settings


def a_result(name="two elements, difference currents"):
    return simulator.solve(simulator.parse_scenario(starter_text(name)))


def case(name):
    return simulator.solve(simulator.scenario_from(ARRANGEMENTS[name]))


@pytest.mark.parametrize("name", ["transformers, every way round", "many loads", "no load"])
def test_symbols_reach_their_terminals(name):
    """Something is drawn at every terminal, not only recorded."""
    result = case(name)
    (axes,) = draw_connections(result, Style()).axes
    paths = [line.get_path() for line in axes.lines if line.get_zorder() != symbols.WIRES]
    paths += [
        p.get_patch_transform().transform_path(p.get_path()).interpolated(1) for p in axes.patches
    ]
    curves = [np.vstack(p.to_polygons(closed_only=False)) for p in paths]
    for symbol in (s for page in connection_pages(result) for s in page.symbols):
        for terminal in symbol.terminals:
            assert min(distance(terminal, curve) for curve in curves) < 0.02, (symbol, terminal)


def distance(point, curve):
    """Distance of a point to a polyline."""
    a, b = curve[:-1], curve[1:]
    along = b - a
    length = (along**2).sum(axis=1)
    part = ((np.asarray(point) - a) * along).sum(axis=1) / np.where(length == 0, 1, length)
    nearest = a + np.clip(part, 0, 1)[:, None] * along
    return np.hypot(*(nearest - point).T).min()


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_same_bytes(tmp_path, ending):
    contents = []
    for k in range(2):
        path = tmp_path / f"{k}.{ending}"
        save(draw_connections(a_result(), Style()), path, "title")
        contents.append(path.read_bytes())
    assert contents[0] == contents[1]


def test_svg_text_stays_text(tmp_path):
    path = tmp_path / "a.svg"
    save(draw_connections(case("long names"), Style()), path, "title")
    text = path.read_text()
    assert ">pseudo-neutral<" in text
    assert ">123.5+67.9j Ω<" in text


def test_fits_a4_for_every_method():
    for name in METHODS:
        size = draw_connections(a_result(name), Style()).get_size_inches()
        assert sorted(size) == pytest.approx([8.27, 11.69])


def colours(figure):
    (axes,) = figure.axes
    wires = [line for line in axes.lines if line.get_zorder() == symbols.WIRES]
    return {line.get_color() for line in wires}


def test_black_and_white_has_no_colour():
    (ink,) = colours(draw_connections(a_result(), Style(black_and_white=True)))
    assert ink == "#1c1c1c"


def test_conductor_colours():
    chosen = Style(conductor_colours="iec")
    found = colours(draw_connections(a_result(), chosen))
    assert {chosen.conductor(k).colour for k in range(4)} <= found


def test_a_pale_conductor_has_a_dark_edge():
    (axes,) = draw_connections(a_result(), Style(conductor_colours="us-208")).axes
    white = [line for line in axes.lines if line.get_color() == "#ffffff"]
    assert white
    assert all(line.get_path_effects() for line in white)


@pytest.mark.parametrize("mark", ["star", "dot", "plus-minus"])
def test_marks_are_drawn(mark):
    figure = draw_connections(a_result(), Style(), mark=mark)
    (axes,) = figure.axes
    points = [m.at for page in connection_pages(a_result()) for m in page.marks]
    assert len(points) == 6  # derived: two meters of two windings and a voltage circuit each
    drawn = [line.get_xydata() for line in axes.lines]
    drawn += [np.array([p.center]) for p in axes.patches if hasattr(p, "radius")]
    for point in points:
        near = [np.hypot(*(xy - point).T).max() < 0.25 for xy in drawn]
        assert sum(near) == {"star": 3, "dot": 1, "plus-minus": 3}[mark]


def test_readings_stand_beside_the_meters():
    (page,) = connection_pages(a_result("two wattmeters"))
    texts = [label.text for label in page.labels]
    readings = a_result("two wattmeters").readings.values()
    assert all(f"{abs(r.watts) / 1000:.4g}" in " ".join(texts) for r in readings)
    assert {"W1", "W2"} <= set(texts)


def test_is_drawn_in_time():
    """At most 400 ms after the import; the bound here leaves room for a busy machine."""
    result = a_result("three wattmeters for reactive power")
    draw_connections(result, Style())
    start = time.perf_counter()
    draw_connections(result, Style())
    assert time.perf_counter() - start < 1.2

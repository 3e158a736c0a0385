from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING, Any

import pytest

import simulator
from simulator.figures.phasors import draw_phasors
from simulator.phasors import polar
from simulator.quantities import parse_real

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.artist import Artist
    from matplotlib.figure import Figure

    from simulator.findings.result import Result

Artists = dict[str, "Artist"]
SAMPLE = (
    "idle-motor-reads-below-zero",
    "lost-neutral",
    "one-meter-moved-in-turn",
    "through-current-transformers",
    "unequal-coils-four-wires",
)


def drawn(figure: Figure, plane: str) -> Artists:
    """What is drawn on one plane, by its name without the plane's."""
    named = {str(a.get_gid()): a for a in figure.get_children()}
    start = f"{plane}-"
    found = {k.removeprefix(start): a for k, a in named.items() if k.startswith(start)}
    assert found, f"nothing is called {plane}"
    return found


def scale(artists: Artists, unit: str) -> float:
    """Read the stated scale as a reader would: length of the bar over the value beside it."""
    left, right = artists[f"scale-{unit}"].get_xdata()
    return (right - left) / parse_real(artists[f"scale-{unit}-text"].get_text(), unit)


def arrow(artists: Artists, name: str, unit: str) -> complex:
    """Measure an arrow from its tail to the tip of its head, by the stated scale."""
    tail = complex(*artists[name].get_xydata()[0])
    tip = complex(*artists[f"{name}-head"].get_xy()[0])
    return (tip - tail) / scale(artists, unit)


def texts(figure: Figure) -> list[str]:
    return [t.get_text() for t in figure.findobj(match=lambda a: hasattr(a, "get_text"))]


def scenario(**tables: Any) -> Result:
    base = {"title": "t", "supply": {"wires": 3, "voltage": "400 V"}}
    return simulator.solve(simulator.scenario_from(base | tables))


def balanced(factor: str, **supply: str) -> Result:
    # derived: 400 V / (√3 · 10 A) = 23.0940107676 ohm carries 10 A
    return scenario(
        supply={"wires": 3, "voltage": "400 V"} | supply,
        load=[{"connection": "star", "each": f"23.0940107675850 ohm, {factor}"}],
        method={"name": "two wattmeters", "common": "L2"},
    )


def test_what_each_wattmeter_of_two_feels() -> None:
    # needs.md 23, derived there: W1 feels V_AB at +30° and I_A at −36.87°, W2 V_CB at 90° and I_C
    # at 83.13°
    figure = draw_phasors(balanced("0.8 lag"))
    for name, V, I in (("W1", polar(400, 30), -36.87), ("W2", polar(400, 90), 83.13)):
        artists = drawn(figure, name)
        assert arrow(artists, "V", "V") == pytest.approx(V, rel=1e-9)
        assert arrow(artists, "I", "A") == pytest.approx(polar(10, I), abs=2e-3)
    assert "66.9°" in texts(figure)
    assert "6.9°" in texts(figure)


def test_angle_zero_is_along_x_and_the_sequence_is_written() -> None:
    for sequence, angle in (("L1-L2-L3", -120), ("L3-L2-L1", 120)):
        figure = draw_phasors(balanced("0.8 lag", sequence=sequence))
        artists = drawn(figure, "main")
        # derived: 400 V / √3, and the second line one third of a turn after or before the first
        assert arrow(artists, "V-L1", "V") == pytest.approx(400 / math.sqrt(3), rel=1e-9)
        expected = polar(400 / math.sqrt(3), angle)
        assert arrow(artists, "V-L2", "V") == pytest.approx(expected, rel=1e-9)
        assert artists["sequence"].get_text() == f"sequence {sequence}"
        turn = complex(*artists["turning-end-head"].get_xy()[0])
        start = complex(*artists["turning-end"].get_xydata()[0])
        assert cmath.phase(turn / start) > 0  # the arrow points anticlockwise
        to_px = artists["V-L1-head"].get_transform()
        origin, right, up = to_px.transform([(0, 0), (1, 0), (0, 1)])
        assert right[0] - origin[0] == pytest.approx(up[1] - origin[1], rel=1e-9)
        assert (right[1], up[0]) == pytest.approx((origin[1], origin[0]))


@pytest.mark.parametrize("name", SAMPLE)
def test_every_arrow_is_a_solved_phasor(name: str, shipped: Callable[[str], Result]) -> None:
    result = shipped(name)
    figure = draw_phasors(result)
    main, station = drawn(figure, "main"), result.first
    phasors = {
        f"V-{n}": v
        for n, v in zip(station.arrangement.conductors.lines, station.line_potentials, strict=True)
    }
    phasors |= {
        f"I-{n}": i
        for n, i in zip(station.arrangement.conductors.lines, station.line_currents, strict=True)
    }
    if station.neutral:
        phasors[f"I-{station.neutral}"] = station.neutral_current
    for what, value in phasors.items():
        if value:
            assert arrow(main, what, "VA"["VI".index(what[0])]) == pytest.approx(value, rel=1e-9)
        else:
            assert f"{what}-head" not in main
            assert any(t.startswith("Zero:") and what.replace("-", " ") in t for t in texts(figure))
    for meter, reading in result.readings.items():
        panel = drawn(figure, meter)
        assert arrow(panel, "V", "V") == pytest.approx(reading.voltage, rel=1e-9)
        assert arrow(panel, "I", "A") == pytest.approx(reading.current, rel=1e-9)


@pytest.mark.parametrize(
    ("factor", "signs"),
    # derived: cos(30°+φ) and cos(30°−φ) at φ = 53.13°, 60°, 84.26° lag and lead
    [("0.6 lag", "++"), ("0.5 lag", "0+"), ("0.1 lag", "-+"), ("0.1 lead", "+-"), ("1", "++")],
)
def test_the_projection_is_the_reading(factor: str, signs: str) -> None:
    result = balanced(factor)
    figure = draw_phasors(result)
    for sign, (name, reading) in zip(signs, result.readings.items(), strict=True):
        panel = drawn(figure, name)
        word = {"+": "upscale", "0": "zero", "-": "downscale"}[sign]
        assert any(t.startswith(f"{name}: ") and t.endswith(f", {word}") for t in texts(figure))
        if sign == "0":
            assert "projection" not in panel
            continue
        V = arrow(panel, "V", "V")
        corners = [complex(*c) for c in panel["projection"].get_xy()]
        along = (corners[1] - corners[0]) / scale(panel, "A")
        assert (along * V.conjugate()).real == pytest.approx(reading.watts, rel=1e-9)
        assert (along * V.conjugate()).imag == pytest.approx(0, abs=1e-6 * abs(reading.watts))
        assert bool(panel["projection"].get_hatch()) == (sign == "-")  # not by colour alone


def test_behind_transformers_the_panel_is_the_secondary_side(
    shipped: Callable[[str], Result],
) -> None:
    result = shipped("through-current-transformers")
    ratio = result["W1"].meter.ratio
    assert ratio != 1
    figure = draw_phasors(result)
    panel, main = drawn(figure, "W1"), drawn(figure, "main")
    primary = arrow(main, "I-L1", "A")
    assert arrow(panel, "I", "A") == pytest.approx(primary / ratio, rel=0.02)  # its own error
    other = arrow(main, "I-L3", "A")
    assert arrow(panel, "other-I-L3", "A") == pytest.approx(other / ratio, rel=1e-9)
    assert any(f"times {ratio:g} for the transformers" in t for t in texts(figure))


def test_neutral_displacement() -> None:
    # needs.md 2, U3, derived there: the star point moves 139.60 V at 42.52°
    result = scenario(
        supply={"wires": 3, "voltage": f"{230 * math.sqrt(3)!r} V"},
        load=[
            {
                "name": "U3",
                "connection": "star",
                "L1": "23 ohm",
                "L2": "46 ohm",
                "L3": "23 ohm @ 60 deg",
            }
        ],
    )
    figure = draw_phasors(result)
    points = drawn(figure, "points")
    shift = arrow(points, "displacement-star-point-of-U3", "V")
    assert shift == pytest.approx(polar(139.60, 42.52), abs=0.02)
    for k, line in enumerate(("L1", "L2", "L3")):
        at = complex(*points[line].get_xydata()[0]) / scale(points, "V")
        assert at == pytest.approx(polar(230, -120 * k), abs=1e-6)
    assert "star point of U3\ndisplaced 139.6 V" in texts(figure)


def test_pseudo_neutral_and_coinciding_star_points(shipped: Callable[[str], Result]) -> None:
    figure = draw_phasors(shipped("unequal-coils-four-wires"))
    points = drawn(figure, "points")
    # derived: 240 V, circuits 20, 10, 20 kohm: V_P = (V1 + 2·V2 + V3)/4 = V2/4, by Millman
    shift = arrow(points, "displacement-pseudo-neutral-P", "V")
    assert abs(shift) == pytest.approx(60, rel=1e-9)
    assert "supply star point\nN at the loads\nstar point of racks" in texts(figure)


def test_coinciding_phasors_share_a_label() -> None:
    # derived: two equal resistors from L1 and L2 to a neutral, emfs of L1 and L2 the same
    same = {"L1": "230 V", "L2": "230 V", "L3": "230 V @ 120 deg"}
    result = scenario(
        supply={"wires": 4, "phase_voltages": same},
        load=[{"connection": "star", "star_point": "neutral", "each": "23 ohm"}],
    )
    figure = draw_phasors(result)
    assert "V L1\nV L2\n230 V ∠0.0°" in texts(figure)
    assert "I L1\nI L2\n10 A ∠0.0°" in texts(figure)


@pytest.mark.parametrize("n", range(8))
def test_one_panel_for_each_wattmeter(n: int) -> None:
    meters = [
        {"name": f"M{k}", "current": f"L{k % 3 + 1}", "voltage": [f"L{k % 3 + 1}", "N"]}
        for k in range(n)
    ]
    result = scenario(
        supply={"wires": 4, "voltage": "400 V"},
        load=[{"connection": "star", "star_point": "neutral", "each": "23 ohm, 0.6 lag"}],
        wattmeter=meters,
    )
    figure = draw_phasors(result)
    planes = {str(a.get_gid()).split("-")[0] for a in figure.get_children() if a.get_gid()}
    assert planes == {"main", "points", *(f"M{k}" for k in range(n))}
    for k in range(n):
        expected = polar(400 / math.sqrt(3), -120 * (k % 3))
        assert arrow(drawn(figure, f"M{k}"), "V", "V") == pytest.approx(expected, rel=1e-9)


def test_stations_are_named(shipped: Callable[[str], Result]) -> None:
    found = texts(draw_phasors(shipped("one-meter-moved-in-turn")))
    for k in (1, 2, 3):
        assert any(t.startswith(f"W{k} (station {k}): ") for t in found)


def test_reversed_circuits_are_drawn_as_they_feel(shipped: Callable[[str], Result]) -> None:
    result = shipped("reversed-current-circuit")
    (name,) = (n for n, r in result.readings.items() if r.meter.current_reversed)
    figure = draw_phasors(result)
    panel, main = drawn(figure, name), drawn(figure, "main")
    line = result[name].meter.windings[0].conductor
    assert arrow(panel, "I", "A") == pytest.approx(-arrow(main, f"I-{line}", "A"), rel=1e-9)
    assert any("reversed" in t for t in texts(figure))


def test_no_phasor_at_all_is_drawn_where_there_is_none() -> None:
    result = scenario(method={"name": "two wattmeters"})  # no load: no current anywhere
    figure = draw_phasors(result)
    assert any(t == "Zero: I L1, I L2, I L3" for t in texts(figure))
    panel = drawn(figure, "W1")
    assert "V-head" in panel
    assert "I-head" not in panel
    assert "reads nothing" in texts(figure)
    assert "scale-A" not in panel


@pytest.mark.parametrize("share", [1 - 1.5e-9, 1 - 1e-10, 1.0, 1 + 1.5e-9])
def test_scales_of_currents_beside_a_power_of_ten(share: float) -> None:
    # 20 A and next to it: half of the largest current is just below, at or above 10 A
    ohms = 400 / math.sqrt(3) / (20 * share)
    document = {
        "title": "t",
        "supply": {"wires": 3, "voltage": "400 V"},
        "load": [{"connection": "star", "each": f"{ohms!r} ohm"}],
        "method": {"name": "two wattmeters"},
    }
    main = drawn(draw_phasors(simulator.solve(simulator.scenario_from(document))), "main")
    assert abs(arrow(main, "I-L1", "A")) == pytest.approx(20 * share)

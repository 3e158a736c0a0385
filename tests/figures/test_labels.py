"""No two labels overlap, none leaves the figure, none hides an arrow's head."""

from __future__ import annotations

from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest
from matplotlib.patches import Polygon
from matplotlib.text import Text

import simulator
from simulator.errors import ScenarioError
from simulator.figures.clashes import overlaps
from simulator.figures.curves import draw_curves
from simulator.figures.measuring import text_box
from simulator.figures.phasors import draw_phasors
from simulator.figures.style import Style
from simulator.figures.waveforms import draw_waveforms

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure

pytestmark = pytest.mark.usefixtures("drawing")

SCENARIOS = sorted(p.stem for p in (Path(__file__).parents[2] / "scenarios").glob("*.toml"))
DRAW: dict[str, Callable[..., Figure]] = {
    "phasors": draw_phasors,
    "waveforms": draw_waveforms,
    "curves": draw_curves,
}
TWO = {"method": {"name": "two wattmeters", "common": "L2"}}
LONG = ["Feederline_1", "Feederline_2", "Feederline_3", "Neutral_lead"]
LONG_NODE = "the_star_point_of_the_voltage_circuits_P"
LONG_LOAD = "old furnace in the northern hall, behind the rolling gate"


def three_wires(load: dict[str, Any], **tables: Any) -> dict[str, Any]:
    return {"supply": {"wires": 3, "voltage": "400 V"}, "load": [load]} | TWO | tables


def four_wires(n: int, load: dict[str, Any]) -> dict[str, Any]:
    """One to four wattmeters, the fourth with a difference of currents and reversed."""
    meters = [{"name": f"W{k}", "current": f"L{k}", "voltage": [f"L{k}", "N"]} for k in (1, 2, 3)]
    voltage = {"voltage": ["L1", "L2"], "reversed": ["current"]}
    meters.append({"name": "W4", "current": ["L1", "-L2"], **voltage})
    total = " + ".join(m["name"] for m in meters[:n])
    supply = {"wires": 4, "voltage": "400 V"}
    tables = {"supply": supply, "wattmeter": meters[:n], "total": {"power": total}}
    return tables | {"load": [{"connection": "star", "star_point": "neutral"} | load]}


def long_names(sequence: str, star_point: str) -> dict[str, Any]:
    a, b, c, _ = LONG
    branches = {a: "20 ohm", b: "40 ohm", c: "30 ohm, 0.5 lag", "star_point": star_point}
    meters = [
        {
            "name": f"wattmeter_with_a_name_as_long_as_may_be{k}",
            "current": line,
            "voltage": [line, LONG_NODE],
            "instrument": "m",
        }
        for k, line in enumerate(LONG[:3])
    ]
    order = {"L1-L2-L3": f"{a}-{b}-{c}", "L3-L2-L1": f"{c}-{b}-{a}"}[sequence]
    return {
        "title": "A title that goes on and on, as long as the reader of the file lets it be, " * 2,
        "labels": LONG,
        "supply": {"wires": 4, "voltage": "400 V", "sequence": order},
        "load": [{"name": LONG_LOAD, "connection": "star"} | branches],
        "instrument": {"m": {"voltage_circuit": "20 kohm, 1 H"}},
        "wattmeter": meters,
        "total": {"power": " + ".join(m["name"] for m in meters)},
    }


STAR = {"connection": "star"}
EXTREMES: dict[str, dict[str, Any]] = {
    "no load": {"supply": {"wires": 3, "voltage": "400 V"}} | TWO,
    "one line carries nothing": three_wires({"connection": "line-to-line", "L1-L2": "40 ohm"}),
    "zero reading": three_wires(STAR | {"each": "23 ohm, 0.5 lag"}),
    "opposite currents": four_wires(4, {"L1": "20 ohm", "L2": "open", "L3": "open"}),
    "coincident voltages": {
        "supply": {
            "wires": 4,
            "phase_voltages": {"L1": "230 V", "L2": "230 V", "L3": "230 V @ 180 deg"},
        },
        "load": [STAR | {"star_point": "neutral", "each": "23 ohm"}],
        "wattmeter": [
            {"name": "W1", "current": "L1", "voltage": ["L1", "L2"]},
            {"name": "W2", "current": "L3", "voltage": ["L3", "N"]},
        ],
    },
    "nearly coincident": {
        "supply": {
            "wires": 4,
            "phase_voltages": {"L1": "230 V", "L2": "229 V @ 1 deg", "L3": "231 V @ -1 deg"},
        },
        "load": [STAR | {"star_point": "neutral", "each": "23 ohm"}],
        "wattmeter": four_wires(3, {})["wattmeter"],
    },
    "one phase alone": four_wires(1, {"L1": "open", "L2": "open", "L3": "10 ohm"}),
    "long names": long_names("L1-L2-L3", "isolated"),
    "long names, other sequence": long_names("L3-L2-L1", "neutral"),
}
for factor, sequence in product(
    ("0 lead", "0.3 lead", "0.866 lead", "1", "0.866 lag", "0.5 lag", "0.3 lag", "0 lag"),
    ("L1-L2-L3", "L3-L2-L1"),
):
    supply = {"wires": 3, "voltage": "400 V", "sequence": sequence}
    EXTREMES[f"pf {factor}, {sequence}"] = three_wires(
        STAR | {"each": f"23 ohm, {factor}"}, supply=supply
    )
for n, spread in product((1, 2, 3, 4), ("equal", "unequal", "wild")):
    branches = {
        "equal": {"each": "23 ohm"},
        "unequal": {"L1": "23 ohm", "L2": "46 ohm", "L3": "23 ohm, 0.5 lag"},
        "wild": {"L1": "2 ohm, 0.1 lead", "L2": "900 ohm", "L3": "5 ohm, 0.2 lag"},
    }[spread]
    EXTREMES[f"{n} wattmeters, {spread}"] = four_wires(n, branches)

# The default run takes one in so many; `pytest -m heavy` takes them all.
PAIRS = [(name, what) for what in DRAW for name in SCENARIOS]
GRID = [(name, what) for what in DRAW for name in EXTREMES]
ALWAYS = {(name, "phasors") for name in [*SCENARIOS[::3], *list(EXTREMES)[:9]]}
ALWAYS |= {(name, what) for what in ("waveforms", "curves") for name in SCENARIOS[::5]}
ALWAYS |= {(name, what) for what in ("waveforms", "curves") for name in list(EXTREMES)[1:9:3]}
ALWAYS |= {(name, "phasors") for name in list(EXTREMES)[9::4]}


def cases(pairs: list[tuple[str, str]]) -> list[Any]:
    marks = [() if pair in ALWAYS else (pytest.mark.heavy,) for pair in pairs]
    return [pytest.param(*pair, marks=m) for pair, m in zip(pairs, marks, strict=True)]


def check(figure: Figure) -> None:
    clashes = overlaps(figure)
    assert clashes.overlapping == ()
    assert clashes.leaving == ()
    texts: list[Text] = figure.findobj(Text)
    assert min(t.get_fontsize() for t in texts if t.get_text()) >= 8  # common practice, no source
    boxes = [(t.get_text(), text_box(figure, t)) for t in texts if t.get_text()]
    for head in cast("list[Polygon]", figure.findobj(Polygon)):
        if not str(head.get_gid()).endswith("-head"):
            continue
        tip = head.get_transform().transform(head.get_xy()[0])
        over = [text for text, box in boxes if box.contains(*tip)]
        assert over == [], head.get_gid()


@pytest.mark.parametrize(("name", "what"), cases(PAIRS))
def test_of_shipped_scenarios(name: str, what: str, shipped: Callable[[str], Any]) -> None:
    result = shipped(name)
    try:
        figure = DRAW[what](result)
    except ScenarioError:
        assert not result.readings  # nothing to draw without a wattmeter
        return
    check(figure)


@pytest.mark.parametrize(("name", "what"), cases(GRID))
def test_of_extremes(name: str, what: str) -> None:
    result = simulator.solve(simulator.scenario_from({"title": name} | EXTREMES[name]))
    if what == "curves" and name == "no load":
        with pytest.raises(ScenarioError, match="takes no power"):
            draw_curves(result)
        return
    check(DRAW[what](result))


@pytest.mark.parametrize("what", DRAW)
def test_black_and_white_has_no_colour(what: str, shipped: Callable[[str], Any]) -> None:
    result = shipped("two-meters-with-a-neutral")
    for style, grey in ((Style(black_and_white=True), True), (Style(), False)):
        figure = DRAW[what](result, style=style)
        figure.dpi = 50
        overlaps(figure)  # gives it the canvas that is rendered below
        figure.canvas.draw()
        pixels = np.asarray(figure.canvas.buffer_rgba())[..., :3].astype(int)
        assert (np.ptp(pixels, axis=2).max() == 0) == grey

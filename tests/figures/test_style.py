from __future__ import annotations

from itertools import combinations

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.colors import to_rgb

from simulator.errors import ScenarioError
from simulator.figures.style import CONDUCTOR_COLOURS, DASHES, MARKERS, Style, settings

# Severe colour-vision deficiencies as matrices on linear RGB: Machado, Oliveira, Fernandes, "A
# physiologically-based model for simulation of color vision deficiency", 2009, severity 1.0
# (from memory).
VISION = {
    "normal": np.eye(3),
    "protan": np.array(
        [[0.1523, 1.0526, -0.2049], [0.1145, 0.7863, 0.0992], [-0.0039, -0.0481, 1.0520]]
    ),
    "deutan": np.array(
        [[0.3673, 0.8606, -0.2279], [0.2803, 0.6726, 0.0471], [-0.0118, 0.0429, 0.9689]]
    ),
    "tritan": np.array(
        [[1.2555, -0.0767, -0.1788], [-0.0784, 0.9308, 0.1476], [0.0047, 0.6914, 0.3039]]
    ),
}


def lab(colour: str, vision: str) -> np.ndarray:
    """CIE L*a*b* of a colour as someone sees it (sRGB and D65 constants: from memory)."""
    rgb = np.array(to_rgb(colour))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    linear = np.clip(VISION[vision] @ linear, 0, 1)
    xyz = (
        np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
        @ linear
        / [0.9505, 1.0, 1.089]
    )
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("vision", VISION)
def test_our_colours_are_far_apart_for_every_kind_of_colour_vision(vision: str) -> None:
    # common practice, no source: a difference of 20 in L*a*b* is plain side by side
    seen = [lab(Style().conductor(k).colour, vision) for k in range(4)]
    assert min(np.linalg.norm(a - b) for a, b in combinations(seen, 2)) > 20


def test_lines_are_far_apart_in_grey() -> None:
    lightness = sorted(lab(Style().conductor(k).colour, "normal")[0] for k in range(3))
    assert min(np.diff(lightness)) > 8


def test_nothing_depends_on_colour_alone() -> None:
    assert len(set(map(str, DASHES))) == len(set(MARKERS)) == 4
    for style in (Style(), Style(black_and_white=True), Style(conductor_colours="iec")):
        looks = [style.conductor(k) for k in range(4)]
        assert len({(str(look.dash), look.marker) for look in looks}) == 4


def test_black_and_white_has_no_hue() -> None:
    style = Style(black_and_white=True)
    looks = [*(style.conductor(k) for k in range(4)), *(style.series(k) for k in range(9))]
    colours = [look.colour for look in (*looks, style.voltage, style.current)]
    for colour in (*colours, style.accent, style.positive, style.negative):
        assert len(set(to_rgb(colour))) == 1


# standards.md section 6, each row SEEN at the source that the set names.
PUBLISHED = {
    "iec": ("brown", "black", "grey", "blue"),
    "au-nz": ("red", "white", "dark blue", "black"),
    "uk-old": ("red", "yellow", "blue", "black"),
    "us-208": ("black", "red", "blue", "white"),
    "us-480": ("brown", "orange", "yellow", "grey"),
    "canada": ("red", "black", "blue", "white"),
}


@pytest.mark.reference
def test_conductor_colours_are_the_published_ones() -> None:
    assert {name: chosen.words for name, chosen in CONDUCTOR_COLOURS.items()} == PUBLISHED
    for chosen in CONDUCTOR_COLOURS.values():
        assert chosen.source.startswith("https://")
        assert chosen.confidence == "SEEN"
        assert chosen.use


# from memory: hue of each word on the colour circle [deg]; black, grey and white have none
HUES = {"red": (-15, 15), "brown": (10, 35), "orange": (20, 40), "yellow": (40, 65)}
HUES |= {"blue": (200, 240), "dark blue": (215, 245)}


@pytest.mark.parametrize("name", CONDUCTOR_COLOURS)
def test_a_colour_is_what_its_word_says(name: str) -> None:
    for k, word in enumerate(CONDUCTOR_COLOURS[name].words):
        r, g, b = to_rgb(Style(conductor_colours=name).conductor(k).colour)
        if word in ("black", "grey", "white"):
            assert max(r, g, b) - min(r, g, b) < 0.02
            assert {"black": r < 0.2, "grey": 0.4 < r < 0.7, "white": r == 1}[word]
        else:
            hue = np.degrees(np.arctan2(np.sqrt(3) * (g - b), 2 * r - g - b))
            low, high = HUES[word]
            assert low <= (hue + 360) % 360 <= high or low <= hue <= high


def test_pale_conductors_get_a_dark_edge() -> None:
    for name, chosen in CONDUCTOR_COLOURS.items():
        for k in range(4):
            look = Style(conductor_colours=name).conductor(k)
            pale = lab(look.colour, "normal")[0] > 75
            assert look.cased == pale, (name, chosen.words[k])
            assert bool(look.casing(2.0)) == pale


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        ({"conductor_colours": "mauve"}, "known are iec, au-nz, uk-old, us-208, us-480, canada"),
        ({"conductor_colours": "iec", "black_and_white": True}, "black and white has none"),
    ],
)
def test_an_impossible_style_is_refused(options: dict[str, object], expected: str) -> None:
    with pytest.raises(ScenarioError, match=expected):
        Style(**options)


def test_the_users_own_settings_do_not_matter() -> None:
    with mpl.rc_context({"font.size": 30, "svg.fonttype": "path", "axes.facecolor": "red"}):
        with settings():
            assert mpl.rcParams["font.size"] == 10.5
            assert mpl.rcParams["svg.fonttype"] == "none"
            assert mpl.rcParams["axes.facecolor"] == "white"
        assert mpl.rcParams["font.size"] == 30

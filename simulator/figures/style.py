"""How figures look: ink, line patterns, conductor colours, sizes that are readable on A4.

Nothing depends on colour alone: every conductor has a dash pattern and a marker of its own, and
whatever a colour says a label says too.
"""

from __future__ import annotations

import warnings
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import matplotlib.style
from matplotlib.patheffects import Normal, withStroke

from simulator.errors import ScenarioError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.patheffects import AbstractPathEffect

A4 = (11.69, 8.27)
"""Width and height of a landscape sheet [in]."""
TITLE, HEADING, TEXT, SMALL = 15.0, 12.0, 10.5, 9.0
"""Font sizes [pt]."""

INK = "#1c1c1c"  # text, and what is drawn in black
GUIDE = "#8a8a8a"  # thin lines that only help the eye
DIM = "#c4c4c4"  # phasors that are not the subject of a panel
PAPER = "#ffffff"

# Everything that a matplotlibrc on the user's machine could otherwise change.
_SETTINGS = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": TEXT,
    "text.color": INK,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "text.parse_math": False,  # a "$" in a title is a "$"
    "text.hinting": "none",
    "axes.formatter.useoffset": False,
    "axes.formatter.use_mathtext": False,
    "axes.unicode_minus": True,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "axes.labelsize": TEXT,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "lines.solid_capstyle": "round",
    "lines.dash_capstyle": "butt",
    "hatch.linewidth": 0.7,
    "svg.fonttype": "none",  # text stays text
    "svg.hashsalt": "blondel",  # the same bytes for the same figure
    "pdf.fonttype": 42,
}


@dataclass(frozen=True)
class Look:
    """How one conductor, or one quantity, is drawn.

    Attributes
    ----------
    colour : str
        Colour.
    dash : str or tuple
        A line style of matplotlib's.
    marker : str
        A marker of matplotlib's.
    cased : bool
        Whether it is too pale for white paper and needs a dark edge.
    """

    colour: str
    dash: str | tuple[float, tuple[float, ...]] = "solid"
    marker: str = "o"
    cased: bool = False

    def casing(self, width: float) -> list[AbstractPathEffect]:
        """Give the path effects that make a pale line visible.

        Parameters
        ----------
        width : float
            Width of the line [pt].

        Returns
        -------
        list of AbstractPathEffect
            A dark edge on either side; empty for a line that needs none.
        """
        if not self.cased:
            return []
        return [withStroke(linewidth=width + 1.4, foreground=INK), Normal()]


# Three lines and the neutral: far apart in lightness and in hue for every kind of colour vision
# (tests/figures/test_style.py computes it), and in dash.
DASHES: tuple[str | tuple[float, tuple[float, ...]], ...] = (
    "solid",
    (0, (6.0, 1.8)),
    (0, (6.0, 1.6, 1.4, 1.6)),
    (0, (1.4, 1.4)),
)
MARKERS = ("o", "s", "^", "D")
_COLOURS = ("#1d3a8f", "#c04a16", "#2f9c8a", "#4a4a4a")


@dataclass(frozen=True)
class ColourSet:
    """Colours by which conductors are known in a region.

    Attributes
    ----------
    colours : tuple of str, shape (4,)
        Of the three lines and the neutral.
    words : tuple of str, shape (4,)
        Their names.
    use : str
        Where and when.
    source : str
        Who says so.
    confidence : str
        "SEEN": read at the source.
    """

    colours: tuple[str, str, str, str]
    words: tuple[str, str, str, str]
    use: str
    source: str
    confidence: str = "SEEN"


_HUES = {
    "brown": "#7a4419",
    "black": "#1c1c1c",
    "grey": "#8c8c8c",
    "blue": "#1f6fc4",
    "dark blue": "#1a2f7d",
    "red": "#c62828",
    "yellow": "#f2c200",
    "orange": "#ee7a10",
    "white": "#ffffff",
}
_PALE = {"white", "yellow"}


def _set(words: str, use: str, source: str) -> ColourSet:
    first, second, third, neutral = words.split(", ")
    names = first, second, third, neutral
    colours = _HUES[first], _HUES[second], _HUES[third], _HUES[neutral]
    return ColourSet(colours, names, use, source)


_LIQUISEARCH = "https://liquisearch.com/three-phase_electric_power/color_codes"
_US_COLOURS = "https://backend.yenex.com/what-are-the-color-codes-for-wiring.html"
CONDUCTOR_COLOURS: dict[str, ColourSet] = {
    "iec": _set(
        "brown, black, grey, blue",
        "IEC 60445:2010 (ed. 5), into which IEC 60446:2007 was merged",
        "https://en.wikipedia.org/wiki/IEC_60446 , https://b.rdd.ro/2017/07/",
    ),
    "au-nz": _set(
        "red, white, dark blue, black",
        "Australia and New Zealand, AS/NZS 3000:2007 Fig. 3.2; 2018 edition not checked",
        _LIQUISEARCH,
    ),
    "uk-old": _set(
        "red, yellow, blue, black", "United Kingdom until 2004/2006", f"{_LIQUISEARCH} (AS/NZS row)"
    ),
    "us-208": _set(
        "black, red, blue, white",
        "USA, 208Y/120 V; practice, not a requirement for ungrounded conductors",
        _US_COLOURS,
    ),
    "us-480": _set(
        "brown, orange, yellow, grey",
        "USA, 480Y/277 V; practice, not a requirement for ungrounded conductors",
        _US_COLOURS,
    ),
    "canada": _set("red, black, blue, white", "Canada", _LIQUISEARCH),
}
"""Published conductor colours by name."""


@dataclass(frozen=True)
class Style:
    """What a user chooses about the look of figures.

    Attributes
    ----------
    black_and_white : bool
        Whether to draw without any colour.
    conductor_colours : str or None
        A key of `CONDUCTOR_COLOURS`; None for colours of our own.

    Raises
    ------
    ScenarioError
        If there is no such set, or both are asked for.
    """

    black_and_white: bool = False
    conductor_colours: str | None = None

    def __post_init__(self) -> None:
        if self.conductor_colours is None:
            return
        if self.conductor_colours not in CONDUCTOR_COLOURS:
            raise ScenarioError(
                f"no conductor colours are called '{self.conductor_colours}'; "
                f"known are {', '.join(CONDUCTOR_COLOURS)}",
                "conductor colours",
            )
        if self.black_and_white:
            raise ScenarioError("a figure in black and white has none", "conductor colours")

    def conductor(self, k: int) -> Look:
        """Give the look of a conductor.

        Parameters
        ----------
        k : int
            0, 1, 2 for the lines in label order, 3 for the neutral.

        Returns
        -------
        Look
            Its look.
        """
        if self.conductor_colours is None:
            colour = INK if self.black_and_white else _COLOURS[k]
            return Look(colour, DASHES[k], MARKERS[k])
        chosen = CONDUCTOR_COLOURS[self.conductor_colours]
        return Look(chosen.colours[k], DASHES[k], MARKERS[k], chosen.words[k] in _PALE)

    def series(self, k: int) -> Look:
        """Give the look of a curve that is no conductor.

        Parameters
        ----------
        k : int
            Its number.

        Returns
        -------
        Look
            Its look; the fifth is drawn like the first.
        """
        k %= len(_COLOURS)
        return Look(INK if self.black_and_white else _COLOURS[k], DASHES[k], MARKERS[k])

    @property
    def voltage(self) -> Look:
        """Look of a voltage where no conductor is meant."""
        return Look(INK if self.black_and_white else "#1d3a8f", "solid", "o")

    @property
    def current(self) -> Look:
        """Look of a current where no conductor is meant."""
        return Look(INK if self.black_and_white else "#c04a16", (0, (6.0, 1.8)), "s")

    @property
    def accent(self) -> str:
        """Colour of what a figure wants seen first."""
        return INK if self.black_and_white else "#9c1f5c"

    @property
    def positive(self) -> str:
        """Fill of what counts upscale."""
        return "#d9d9d9" if self.black_and_white else "#cfe3f5"

    @property
    def negative(self) -> str:
        """Fill of what counts downscale; hatched as well wherever it is used."""
        return "#ffffff" if self.black_and_white else "#f8d9cc"


PLAIN = Style()
"""Colours of our own."""


@contextmanager
def settings() -> Iterator[None]:
    """Make matplotlib draw by our settings alone, whatever the user's own are.

    Yields
    ------
    None
        Everything that builds, measures or saves a figure runs inside it.
    """
    with matplotlib.style.context(["default", _SETTINGS]), warnings.catch_warnings():
        # A letter that the font lacks becomes a box in png and pdf; svg text has it.
        warnings.filterwarnings("ignore", r"Glyph \d+ .* missing from font")
        yield

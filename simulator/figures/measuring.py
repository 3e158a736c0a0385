"""How much room a text takes, and where it is broken."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import TYPE_CHECKING, cast

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from simulator.figures.style import TEXT

if TYPE_CHECKING:
    from matplotlib.transforms import Bbox

SAME_WIDTH = str.maketrans("123456789", "000000000")
"""Every digit of the font is as wide as a zero, so a text is measured once for all its numbers."""


def text_box(figure: Figure, text: Text) -> Bbox:
    """Measure a text as it is rendered.

    Parameters
    ----------
    figure : Figure
        The figure it is in.
    text : Text
        The text.

    Returns
    -------
    Bbox
        Its box [px].
    """
    if not isinstance(figure.canvas, FigureCanvasAgg):
        FigureCanvasAgg(figure)
    canvas = cast("FigureCanvasAgg", figure.canvas)
    return text.get_window_extent(canvas.get_renderer())  # type: ignore[no-untyped-call]


def text_size(text: str, size: float = TEXT, weight: str = "normal") -> tuple[float, float]:
    """Measure a text before it is in a figure.

    Parameters
    ----------
    text : str
        The text; may have several lines.
    size : float, optional
        Font size [pt].
    weight : str, optional
        Font weight.

    Returns
    -------
    tuple of float
        Width and height [pt].
    """
    return _size(text.translate(SAME_WIDTH), size, weight)


@lru_cache(maxsize=4096)
def _size(text: str, size: float, weight: str) -> tuple[float, float]:
    artist = Text(0, 0, text, size=size, weight=weight)
    artist.set_figure(_ruler())
    box = text_box(_ruler(), artist)
    return box.width, box.height


@cache
def _ruler() -> Figure:
    return Figure(figsize=(1, 1), dpi=72)


def wrap(text: str, width: float, size: float = TEXT, weight: str = "normal") -> str:
    """Break a text into lines no wider than a width.

    Parameters
    ----------
    text : str
        The text.
    width : float
        Width [pt].
    size : float, optional
        Font size [pt].
    weight : str, optional
        Font weight.

    Returns
    -------
    str
        The text with line breaks; a word too long for a line is broken as well.
    """
    words = text.split()
    whole = " ".join(words)
    if text_size(whole, size, weight)[0] <= width:
        return whole
    lines = [""]
    for word in words:
        rest = word
        trial = f"{lines[-1]} {rest}".lstrip()
        if text_size(trial, size, weight)[0] <= width:
            lines[-1] = trial
            continue
        if lines[-1]:
            lines.append("")
        while text_size(rest, size, weight)[0] > width and len(rest) > 1:
            n = len(rest) - 1
            while n > 1 and text_size(rest[:n], size, weight)[0] > width:
                n -= 1
            lines[-1], rest = rest[:n], rest[n:]
            lines.append("")
        lines[-1] = rest
    return "\n".join(lines)

"""How large a text will be, and where to break it."""

from __future__ import annotations

from functools import cache

from simulator.figures.style import SMALL, TEXT

NAME, PIN = 11.5, SMALL - 1
"""Font sizes of names and of marks of terminals [pt]; the others are those of every figure."""
CM_PER_POINT = 2.54 / 72
_LINE = 1.25  # height of a line in font sizes; a little more than any renderer takes


@cache
def extent(text: str, size: float = TEXT, *, bold: bool = False) -> tuple[float, float]:
    """Measure a text.

    Parameters
    ----------
    text : str
        The text; may have several lines.
    size : float, optional
        Font size [pt].
    bold : bool, optional
        Whether it is bold.

    Returns
    -------
    tuple of float
        Width and height [cm].
    """
    from matplotlib.font_manager import FontProperties  # noqa: PLC0415
    from matplotlib.textpath import text_to_path  # noqa: PLC0415

    font = FontProperties(family="DejaVu Sans", size=size, weight="bold" if bold else "normal")
    lines = text.split("\n")
    widths = [text_to_path.get_text_width_height_descent(t, font, ismath=False)[0] for t in lines]
    return max(widths) * CM_PER_POINT, len(lines) * _LINE * size * CM_PER_POINT


def fold(text: str, width: float, size: float = NAME, *, bold: bool = False) -> str:
    """Break a name into lines, also where it has no blank.

    Parameters
    ----------
    text : str
        The name.
    width : float
        Width of a line [cm].
    size : float, optional
        Font size [pt].
    bold : bool, optional
        Whether it is bold.

    Returns
    -------
    str
        The name with line breaks.
    """
    lines, rest = [], text
    while rest:
        n = len(rest)
        while n > 1 and extent(rest[:n], size, bold=bold)[0] > width:
            n -= 1
        if n < len(rest):
            cut = max(rest.rfind(c, 1, n) for c in " _-")
            n = cut + 1 if cut > n // 2 else n
        lines.append(rest[:n].strip())
        rest = rest[n:].lstrip()
    return "\n".join(lines)

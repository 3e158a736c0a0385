"""A sheet of paper: its heading, and rectangles on it in inches from the lower left corner."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from matplotlib.figure import Figure

from simulator.figures.measuring import text_size, wrap
from simulator.figures.style import A4, GUIDE, HEADING, INK, SMALL, TEXT, TITLE
from simulator.figures.words import printable

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MARGIN = 0.45
"""White edge of a sheet [in]."""
SPACE = 0.3
"""White space between panels [in]."""


@dataclass(frozen=True)
class Box:
    """A rectangle on a sheet [in].

    Attributes
    ----------
    left, bottom, width, height : float
        Its lower left corner and its size.
    """

    left: float
    bottom: float
    width: float
    height: float

    @property
    def top(self) -> float:
        """Its upper edge."""
        return self.bottom + self.height

    def grid(self, rows: int, columns: int) -> list[Box]:
        """Divide it into equal panels.

        Parameters
        ----------
        rows, columns : int
            How many.

        Returns
        -------
        list of Box
            The panels, row by row from the top.
        """
        width = (self.width - (columns - 1) * SPACE) / columns
        height = (self.height - (rows - 1) * SPACE) / rows
        return [
            Box(
                self.left + column * (width + SPACE),
                self.top - (row + 1) * height - row * SPACE,
                width,
                height,
            )
            for row in range(rows)
            for column in range(columns)
        ]

    def split(self, part: float) -> tuple[Box, Box]:
        """Divide it into a left and a right panel.

        Parameters
        ----------
        part : float
            Share of the left one.

        Returns
        -------
        tuple of Box
            The two.
        """
        width = (self.width - SPACE) * part
        right = Box(self.left + width + SPACE, self.bottom, self.width - SPACE - width, self.height)
        return Box(self.left, self.bottom, width, self.height), right

    def stack(self, part: float) -> tuple[Box, Box]:
        """Divide it into an upper and a lower panel.

        Parameters
        ----------
        part : float
            Share of the upper one.

        Returns
        -------
        tuple of Box
            The two.
        """
        height = (self.height - SPACE) * part
        lower = Box(self.left, self.bottom, self.width, self.height - SPACE - height)
        return Box(self.left, self.top - height, self.width, height), lower


def new_sheet(title: str, subtitle: str, size: tuple[float, float] = A4) -> tuple[Figure, Box]:
    """Take a sheet and write its heading.

    Parameters
    ----------
    title : str
        The scenario's title.
    subtitle : str
        What the figure shows, and under which circumstances.
    size : tuple of float, optional
        Width and height [in].

    Returns
    -------
    figure : Figure
        The sheet.
    body : Box
        What is left below the heading.
    """
    width, height = size
    figure = Figure(figsize=size, dpi=100, facecolor="white")
    top = height - MARGIN
    for text, font, weight, colour in (
        (printable(title), TITLE, "bold", INK),
        (printable(subtitle), TEXT, "normal", "#4a4a4a"),
    ):
        font_size = font if text_size(text, font, weight)[0] < 130 * (width - 1) else font - 3
        lines = wrap(text, 72 * (width - 2 * MARGIN), font_size, weight)
        top -= write(figure, lines, (MARGIN, top), size=font_size, weight=weight, color=colour)
        top -= 0.06
    return figure, Box(MARGIN, MARGIN, width - 2 * MARGIN, top - 0.22 - MARGIN)


def write(
    figure: Figure,
    text: str,
    corner: tuple[float, float],
    size: float = TEXT,
    **font: Any,
) -> float:
    """Write a text downwards from its upper left corner.

    Parameters
    ----------
    figure : Figure
        The sheet.
    text : str
        The text, broken into lines.
    corner : tuple of float
        Where it starts [in].
    size : float, optional
        Font size [pt].
    **font
        Weight and colour, as matplotlib calls them.

    Returns
    -------
    float
        Its height [in].
    """
    width, height = figure.get_size_inches()
    figure.text(
        corner[0] / width,
        corner[1] / height,
        text,
        size=size,
        verticalalignment="top",
        linespacing=1.25,
        **({"color": INK} | font),
    )
    return text_height(text, size)


def text_height(text: str, size: float) -> float:
    """Give the height a text takes on a sheet.

    Parameters
    ----------
    text : str
        The text, broken into lines.
    size : float
        Font size [pt].

    Returns
    -------
    float
        Its height [in].
    """
    return (text.count("\n") + 1) * size * 1.46 / 72


def head_panel(figure: Figure, box: Box, heading: str, line: str = "") -> Box:
    """Write a panel's heading.

    Parameters
    ----------
    figure : Figure
        The sheet.
    box : Box
        The panel.
    heading : str
        What it shows.
    line : str, optional
        A line below the heading.

    Returns
    -------
    Box
        What is left of the panel.
    """
    top = box.top
    fits = text_size(heading, HEADING, "bold")[0] <= 72 * box.width
    for text, size, weight in (
        (heading, HEADING if fits else TEXT, "bold"),
        (line, SMALL, "normal"),
    ):
        if text:
            lines = wrap(printable(text), 72 * box.width, size, weight)
            top -= write(figure, lines, (box.left, top), size=size, weight=weight)
    return Box(box.left, box.bottom, box.width, top - box.bottom)


def foot_panel(figure: Figure, box: Box, lines: list[str]) -> Box:
    """Write lines at the foot of a panel.

    Parameters
    ----------
    figure : Figure
        The sheet.
    box : Box
        The panel.
    lines : list of str
        The lines; long ones are broken.

    Returns
    -------
    Box
        What is left above them.
    """
    width = 72 * box.width
    text = "\n".join(_broken(printable(line), width, SMALL, ": ") for line in lines)
    height = text_height(text, SMALL)
    write(figure, text, (box.left, box.bottom + height), size=SMALL)
    return Box(box.left, box.bottom + height, box.width, box.height - height)


def side_panel(figure: Figure, box: Box, facts: list[tuple[str, str]]) -> None:
    """Write facts into a panel, half way up.

    Parameters
    ----------
    figure : Figure
        The sheet.
    box : Box
        The panel.
    facts : list of (str, str)
        What, and below it how much.
    """
    texts, width = [], 72 * box.width
    for what, value in facts:
        texts.append((wrap(printable(what), width, SMALL), SMALL, "#4a4a4a", 0.0))
        texts.append((_broken(printable(value), width, TEXT, " = "), TEXT, INK, 0.1))
    height = sum(text_height(text, size) + after for text, size, _, after in texts)
    top = box.bottom + (box.height + height) / 2
    for text, size, colour, after in texts:
        top -= write(figure, text, (box.left, top), size, color=colour) + after


def _broken(text: str, width: float, size: float, at: str) -> str:
    """Break a text that is too long where it is best broken, and then wherever it must be."""
    if text_size(text, size)[0] > width:
        text = text.replace(at, f"{at.rstrip()}\n" if at[0] != " " else f"\n{at.lstrip()}", 1)
    return "\n".join(wrap(line, width, size) for line in text.split("\n"))


def add_axes(figure: Figure, box: Box) -> Axes:
    """Put axes on a sheet.

    Parameters
    ----------
    figure : Figure
        The sheet.
    box : Box
        Where.

    Returns
    -------
    Axes
        The axes.
    """
    width, height = figure.get_size_inches()
    return figure.add_axes(
        (box.left / width, box.bottom / height, box.width / width, box.height / height)
    )


def frame(figure: Figure, box: Box) -> None:
    """Draw a thin line above a panel.

    Parameters
    ----------
    figure : Figure
        The sheet.
    box : Box
        The panel.
    """
    from matplotlib.lines import Line2D  # noqa: PLC0415

    width, height = figure.get_size_inches()
    x = box.left / width, (box.left + box.width) / width
    y = (box.top + 0.06) / height
    figure.add_artist(Line2D(x, (y, y), color=GUIDE, linewidth=0.5))

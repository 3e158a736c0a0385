"""A rectangle of a sheet with coordinates of its own, and nothing of what axes have besides.

Making axes, with their ticks and spines, takes longer than all that a panel shows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from matplotlib.lines import Line2D
from matplotlib.transforms import Affine2D, Bbox, TransformedBbox

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure
    from matplotlib.patches import Patch
    from matplotlib.text import Text

    from simulator.figures.sheet import Box


class Pane:
    """A rectangle of a sheet with coordinates of its own.

    What is drawn on it belongs to the figure; its methods are called as those of axes.

    Parameters
    ----------
    figure : Figure
        The sheet.
    box : Box
        Where on it.
    corner : tuple of float
        Coordinates of the lower left corner.
    inch : float
        Length of an inch in these coordinates, the same both ways.
    """

    def __init__(self, figure: Figure, box: Box, corner: tuple[float, float], inch: float) -> None:
        self.figure = figure
        where = Bbox.from_bounds(box.left, box.bottom, box.width, box.height)
        self.bbox = TransformedBbox(where, figure.dpi_scale_trans)
        placed = Affine2D().translate(-corner[0], -corner[1]).scale(1 / inch)
        self.transData = placed.translate(box.left, box.bottom) + figure.dpi_scale_trans
        self.texts: list[Text] = []

    def plot(self, x: Sequence[float], y: Sequence[float], **look: Any) -> Line2D:
        """Draw a line.

        Parameters
        ----------
        x, y : sequence of float
            Its points.
        **look
            What matplotlib's lines take.

        Returns
        -------
        Line2D
            The line.
        """
        line = Line2D(x, y, transform=self.transData, **look)
        self.figure.add_artist(line)
        return line

    def add_patch(self, patch: Patch) -> None:
        """Put a patch on the pane.

        Parameters
        ----------
        patch : Patch
            The patch, in the pane's coordinates.
        """
        patch.set_transform(self.transData)
        self.figure.add_artist(patch)

    def text(self, x: float, y: float, text: str, **font: Any) -> Text:
        """Write a text.

        Parameters
        ----------
        x, y : float
            Where.
        text : str
            The text.
        **font
            What matplotlib's texts take.

        Returns
        -------
        Text
            The text.
        """
        written = self.figure.text(x, y, text, transform=self.transData, **font)
        self.texts.append(written)
        return written

"""What is wrong with the texts of a figure: two on one spot, or one that leaves the sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

from matplotlib.axis import Axis
from matplotlib.text import Text

from simulator.figures.measuring import text_box

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Clashes:
    """What is wrong with the texts of a figure.

    Attributes
    ----------
    overlapping : tuple of pairs of str
        Texts that share room.
    leaving : tuple of str
        Texts that stick out of the figure.
    """

    overlapping: tuple[tuple[str, str], ...]
    leaving: tuple[str, ...]

    def __bool__(self) -> bool:
        """Whether anything is wrong."""
        return bool(self.overlapping or self.leaving)


def overlaps(figure: Figure, tolerance: float = 0.5) -> Clashes:
    """Find texts that overlap each other or leave the figure, from their rendered boxes.

    Parameters
    ----------
    figure : Figure
        The figure.
    tolerance : float, optional
        Overlap that no eye sees [px].

    Returns
    -------
    Clashes
        Pairs of overlapping texts, and texts that leave the figure.
    """
    figure.get_tightbbox()  # brings numbers and names of axes into their places
    hidden = _not_drawn(figure)
    texts = [
        (t.get_text(), text_box(figure, t))
        for t in cast("list[Text]", figure.findobj(Text))
        if t.get_text().strip() and t.get_visible() and t not in hidden
    ]
    boxes = [(text, box) for text, box in texts if box.width > 0 and box.height > 0]
    pairs = [
        (a, b)
        for k, (a, first) in enumerate(boxes)
        for b, second in boxes[k + 1 :]
        if min(first.x1, second.x1) - max(first.x0, second.x0) > tolerance
        and min(first.y1, second.y1) - max(first.y0, second.y0) > tolerance
    ]
    width, height = figure.bbox.size
    leaving = [
        text
        for text, box in boxes
        if min(box.x0, box.y0) < -tolerance
        or box.x1 > width + tolerance
        or box.y1 > height + tolerance
    ]
    return Clashes(tuple(pairs), tuple(leaving))


def _not_drawn(figure: Figure) -> set[Text]:
    """Texts of axes switched off, and tick labels that are kept but lie beyond the limits."""
    hidden: set[Text] = set()
    for axis in cast("list[Axis]", figure.findobj(Axis)):
        if not (axis.axes.axison and axis.get_visible()):
            hidden |= set(cast("list[Text]", axis.findobj(Text)))
            continue
        low, high = sorted(axis.get_view_interval())
        slack = 1e-9 * (high - low)
        for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks()):
            if not low - slack <= tick.get_loc() <= high + slack:
                hidden |= {tick.label1, tick.label2}
    return hidden

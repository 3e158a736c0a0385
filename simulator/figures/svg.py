"""A figure as SVG for a page that shows one after another, which differ in little but numbers."""

from __future__ import annotations

from functools import lru_cache
from io import StringIO
from typing import TYPE_CHECKING, Any

from matplotlib.backends.backend_svg import RendererSVG
from matplotlib.textpath import text_to_path

from simulator.figures.measuring import SAME_WIDTH
from simulator.figures.style import settings

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties

Extent = tuple[float, float, float]


def to_svg(figure: Figure) -> bytes:
    """Write a figure as SVG, the texts as texts.

    Parameters
    ----------
    figure : Figure
        The figure; afterwards it has the resolution of an SVG file.

    Returns
    -------
    bytes
        The SVG file, the same for the same figure.
    """
    content = StringIO()
    with settings():
        figure.dpi = 72
        width, height = figure.bbox.size
        renderer = _Renderer(width, height, content, metadata={"Date": None})  # type: ignore[no-untyped-call]  # matplotlib's own
        figure.draw(renderer)
        renderer.finalize()  # type: ignore[no-untyped-call]  # matplotlib's own
    return content.getvalue().encode()


class _Renderer(RendererSVG):
    def get_text_width_height_descent(self, s: str, prop: FontProperties, ismath: Any) -> Extent:
        return _measured(s.translate(SAME_WIDTH), prop.copy(), ismath)


@lru_cache(maxsize=4096)
def _measured(text: str, font: FontProperties, ismath: Any) -> Extent:
    return text_to_path.get_text_width_height_descent(text, font, ismath)

"""Pictures against stored ones, with a tolerance for another version of the font renderer.

After a change that is meant: ``python tests/figures/test_pictures.py`` draws them anew; look at
every one before it is committed.
"""

from __future__ import annotations

import sys
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
import pytest
from PIL import Image

import simulator
from simulator.figures.every import figures_of
from simulator.figures.style import Style, settings

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PICTURES = Path(__file__).parent / "pictures"
SCENARIOS = Path(__file__).parents[2] / "scenarios"
DPI = 40
BLOCK = 4
"""Pixels are averaged over blocks of this size, so that a shift by a fraction counts little."""
VISIBLE = 20
"""Difference of a block that an eye would see, of 255."""
TOLERANCE = 6
"""So many blocks of some 9500 may differ visibly; a missing arrow makes 9."""

CASES = {
    "phasors": ("unequal-coils-four-wires", "phasors", Style()),
    "phasors-downscale": ("idle-motor-reads-below-zero", "phasors", Style(black_and_white=True)),
    "phasors-iec": ("lost-neutral", "phasors", Style(conductor_colours="iec")),
    "waveforms": ("a-first-measurement", "waveforms", Style()),
    "curves": ("two-meters-with-a-neutral", "curves", Style()),
    "curves-mismatch": ("unequal-coils-four-wires", "mismatch", Style(black_and_white=True)),
}


def draw(case: str) -> Figure:
    scenario, name, style = CASES[case]
    result = simulator.solve(simulator.read_scenario(SCENARIOS / f"{scenario}.toml"))
    return figures_of(result, [name], style)[name]


def render(figure: Figure) -> Image.Image:
    content = BytesIO()
    with settings():
        figure.savefig(content, format="png", dpi=DPI)
    return Image.open(content).convert("RGB")


def difference(first: Image.Image, second: Image.Image) -> int:
    """Count the blocks that differ visibly."""
    assert first.size == second.size
    blocks = []
    for image in (first, second):
        pixels = np.asarray(image, float)
        rows, columns = (n // BLOCK for n in pixels.shape[:2])
        pixels = pixels[: rows * BLOCK, : columns * BLOCK]
        blocks.append(pixels.reshape(rows, BLOCK, columns, BLOCK, 3).mean(axis=(1, 3)))
    return int((np.abs(blocks[0] - blocks[1]).max(axis=2) > VISIBLE).sum())


@pytest.mark.skipif(mpl.__version_info__ < (3, 11), reason="older ones draw letters differently")
@pytest.mark.parametrize("case", CASES)
def test_picture(case: str) -> None:
    with Image.open(PICTURES / f"{case}.png") as stored:
        assert difference(render(draw(case)), stored.convert("RGB")) <= TOLERANCE


def test_the_comparison_sees_a_missing_arrow() -> None:
    figure = draw("phasors")
    whole = render(figure)
    (arrow,) = (a for a in figure.findobj() if a.get_gid() == "main-V-L2")
    arrow.set_visible(False)
    assert difference(render(figure), whole) > TOLERANCE


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    for case in CASES:
        render(draw(case)).quantize(256, method=Image.Quantize.FASTOCTREE).save(
            PICTURES / f"{case}.png", optimize=True
        )
    sys.exit(0)

from __future__ import annotations

import pytest
from matplotlib.figure import Figure

from simulator.figures.measuring import text_box, text_size, wrap

pytestmark = pytest.mark.usefixtures("drawing")


def rendered(text: str, size: float, weight: str) -> tuple[float, float]:
    figure = Figure(figsize=(6, 4), dpi=72)
    box = text_box(figure, figure.text(0.1, 0.1, text, size=size, weight=weight))
    return box.width, box.height


def test_a_text_is_measured_as_it_is_drawn() -> None:
    text = "two\nlines of text"
    assert text_size(text, 13, "bold") == pytest.approx(rendered(text, 13, "bold"))


@pytest.mark.parametrize("weight", ["normal", "bold"])
@pytest.mark.parametrize(
    "text", ["1", "117", "71 41", "−1.17 A ∠−147.1°", "L1-L2\n11.1 V", "W7: 1471.7 W"]
)
def test_numbers_are_as_wide_as_their_digits_are_many(text: str, weight: str) -> None:
    for size in (8.0, 9, 10.5, 15):
        assert text_size(text, size, weight) == pytest.approx(rendered(text, size, weight), abs=0.1)


def test_wrapping() -> None:
    text = "a number of words, one of which_is_so_long_that_it_must_be_broken_somewhere"
    lines = wrap(text, 100).split("\n")
    assert all(text_size(line)[0] <= 100 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert wrap("short", 100) == "short"
    assert wrap("", 100) == ""

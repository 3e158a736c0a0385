from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from matplotlib.figure import Figure

from simulator.figures.clashes import overlaps

if TYPE_CHECKING:
    from matplotlib.axes import Axes

pytestmark = pytest.mark.usefixtures("drawing")


def blank() -> tuple[Figure, Axes]:
    figure = Figure(figsize=(6, 4), dpi=72)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(0, 6)
    axes.set_ylim(0, 4)
    return figure, axes


def test_overlapping_texts_are_found() -> None:
    figure, axes = blank()
    axes.text(3, 2, "one text")
    axes.text(3.05, 2.05, "another")
    axes.text(1, 1, "alone")
    clashes = overlaps(figure)
    assert clashes.overlapping == (("one text", "another"),)
    assert clashes.leaving == ()
    assert clashes


def test_texts_that_leave_the_figure_are_found() -> None:
    figure, axes = blank()
    axes.text(5.8, 2, "too far right")
    axes.text(-0.3, 1, "too far left")
    axes.text(3, 3.95, "too high")
    axes.text(1, 2, "inside")
    assert set(overlaps(figure).leaving) == {"too far right", "too far left", "too high"}


def test_what_is_not_drawn_does_not_count() -> None:
    figure, axes = blank()
    axes.text(3, 2, "one text")
    axes.text(3, 2, "hidden").set_visible(False)
    axes.text(3, 2, "  ")
    assert not overlaps(figure)


def test_numbers_and_names_of_axes_count_where_they_are_drawn() -> None:
    figure = Figure(figsize=(4, 3), dpi=72)
    axes = figure.add_axes((0.2, 0.2, 0.7, 0.7))
    axes.set_xlim(0, 1)
    assert not overlaps(figure)  # numbers beyond the limits exist but are not drawn
    axes.set_xticks([0.5, 0.51], ["first number", "second number"])
    assert overlaps(figure).overlapping == (("first number", "second number"),)
    axes.set_axis_off()
    assert not overlaps(figure)

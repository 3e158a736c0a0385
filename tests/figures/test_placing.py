from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from matplotlib.figure import Figure

from simulator.figures.placing import (
    LEADER,
    Label,
    overlaps,
    place_labels,
    text_box,
    text_size,
    wrap,
)
from simulator.figures.style import settings

if TYPE_CHECKING:
    from matplotlib.axes import Axes

pytestmark = pytest.mark.usefixtures("drawing")


def blank(width: float = 6, height: float = 4) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(width, height), dpi=72)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(0, width)
    axes.set_ylim(0, height)
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


@pytest.mark.parametrize("n", [1, 2, 9])
def test_labels_of_the_same_point_share_no_room(n: int) -> None:
    figure, axes = blank()
    texts = place_labels(axes, [Label(f"label {k}", (3, 2), 0) for k in range(n)])
    assert [t.get_text() for t in texts] == [f"label {k}" for k in range(n)]
    assert not overlaps(figure)


def test_a_label_lies_where_it_is_wanted() -> None:
    figure, axes = blank()
    for towards, x, y in ((0, 1, 0), (90, 0, 1), (180, -1, 0), (-90, 0, -1)):
        (text,) = place_labels(axes, [Label("here", (3, 2), towards)])
        box = text_box(figure, text)
        to_middle = np.array([(box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2]) / 72 - [3, 2]
        assert np.dot(to_middle, [x, y]) > 0.9 * np.hypot(*to_middle)
        text.remove()


def test_a_label_crosses_no_line_and_hides_no_arrow_where_it_need_not() -> None:
    figure, axes = blank()
    line = ((0, 2), (6, 2))
    (text,) = place_labels(axes, [Label("wide label", (3, 2), 0)], segments=[line], points=[(3, 2)])
    box = text_box(figure, text)
    assert box.y0 > 2 * 72 or box.y1 < 2 * 72


def test_a_far_label_gets_a_leader() -> None:
    figure, axes = blank()
    texts = place_labels(axes, [Label("a wide label\nof two lines", (3, 2)) for _ in range(12)])
    gaps = []
    for text in texts:
        box = text_box(figure, text)
        nearest = np.clip([3 * 72, 2 * 72], box.min, box.max)
        gaps.append(np.hypot(*(nearest - [3 * 72, 2 * 72])))
    far = sum(gap > LEADER for gap in gaps)
    assert len(axes.lines) == far > 0


def test_texts_already_there_stay_clear() -> None:
    figure, axes = blank()
    axes.text(3.1, 2, "already there", verticalalignment="center")
    place_labels(axes, [Label("new", (3, 2), 0)])
    assert not overlaps(figure)


@hypothesis_settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(0.5, 5.5),
            st.floats(0.5, 3.5),
            st.text("LxW 0123456789", min_size=1, max_size=14),
            st.one_of(st.none(), st.floats(-180, 180)),
        ),
        min_size=1,
        max_size=8,
    )
)
def test_no_two_labels_overlap_and_none_leaves(
    given_labels: list[tuple[float, float, str, float | None]],
) -> None:
    with settings():
        figure, axes = blank()
        place_labels(axes, [Label(f"t{t}t", (x, y), a) for x, y, t, a in given_labels])
        assert not overlaps(figure)


def test_a_text_is_measured_as_it_is_drawn() -> None:
    figure, axes = blank()
    text = axes.text(1, 1, "two\nlines of text", size=13, weight="bold")
    box = text_box(figure, text)
    assert text_size("two\nlines of text", 13, "bold") == pytest.approx((box.width, box.height))


def test_wrapping() -> None:
    text = "a number of words, one of which_is_so_long_that_it_must_be_broken_somewhere"
    lines = wrap(text, 100).split("\n")
    assert all(text_size(line)[0] <= 100 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert wrap("short", 100) == "short"
    assert wrap("", 100) == ""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from matplotlib.figure import Figure

from simulator.figures import placing
from simulator.figures.clashes import overlaps
from simulator.figures.measuring import text_box
from simulator.figures.pane import Pane
from simulator.figures.placing import LEADER, Label, place_labels
from simulator.figures.sheet import Box
from simulator.figures.style import settings

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from simulator.phasors import FloatArray

pytestmark = pytest.mark.usefixtures("drawing")
Labels = list[tuple[float, float, str, float | None]]
LABELS = st.lists(
    st.tuples(
        st.floats(0.5, 5.5),
        st.floats(0.5, 3.5),
        st.text("LxW 0123456789", min_size=1, max_size=14),
        st.one_of(st.none(), st.floats(-180, 180)),
    ),
    min_size=1,
    max_size=8,
)
CROSS = [((0.0, 2.0), (6.0, 2.0)), ((3.0, 0.0), (3.0, 4.0))]


def blank(width: float = 6, height: float = 4) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(width, height), dpi=72)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(0, width)
    axes.set_ylim(0, height)
    return figure, axes


def placed(labels: Labels, axes: Axes | Pane) -> FloatArray:
    given = [Label(f"t{t}t", (x, y), a) for x, y, t, a in labels]
    return np.array([text.get_position() for text in place_labels(axes, given, segments=CROSS)])


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


def test_a_label_goes_far_rather_than_hide_an_arrow_head() -> None:
    figure, axes = blank()
    turns = np.radians(np.arange(0, 360, 45))
    rings = [radius / 72 * np.exp(1j * turns) for radius in (8, 16, 24)]
    points = [(3 + z.real, 2 + z.imag) for z in np.concatenate(rings).tolist()]
    (text,) = place_labels(axes, [Label("label", (3, 2))], points=points)
    box = text_box(figure, text)
    nearest = np.clip([3 * 72, 2 * 72], box.min, box.max)
    assert np.hypot(*(nearest - [3 * 72, 2 * 72])) > 24  # beyond the outermost of them


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
@given(LABELS)
def test_no_two_labels_overlap_and_none_leaves(labels: Labels) -> None:
    with settings():
        figure, axes = blank()
        placed(labels, axes)
        assert not overlaps(figure)


@hypothesis_settings(max_examples=25, deadline=None)
@given(LABELS)
def test_leaving_out_far_positions_changes_nothing(labels: Labels) -> None:
    with settings():
        found = placed(labels, blank()[1])
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(placing, "_RINGS", [np.concatenate(placing._RINGS)])
            assert placed(labels, blank()[1]) == pytest.approx(found)


@hypothesis_settings(max_examples=10, deadline=None)
@given(LABELS)
def test_a_pane_is_labelled_as_axes_are(labels: Labels) -> None:
    with settings():
        figure = Figure(figsize=(8, 5), dpi=72)
        on_pane = placed(labels, Pane(figure, Box(1, 0.5, 6, 4), (0, 0), 1))
        assert not overlaps(figure)
        assert placed(labels, blank()[1]) == pytest.approx(on_pane)

from __future__ import annotations

import numpy as np
import pytest

from simulator.figures.geometry import crossings, hits

LOW, HIGH = np.array([[0.0, 0.0]]), np.array([[2.0, 1.0]])


@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [
        # derived: by drawing them on squared paper, the box from (0, 0) to (2, 1)
        ((-1, 0.5), (3, 0.5), True),  # right through
        ((0.5, 0.5), (1, 0.6), True),  # inside
        ((1, 0.5), (5, 9), True),  # out of it
        ((1, -2), (1, 3), True),  # upright
        ((-1, 0.5), (-0.5, 0.5), False),  # ends before it
        ((3, 0.5), (5, 0.5), False),  # starts behind it
        ((-1, 1.5), (3, 1.5), False),  # above
        ((-1, 0.9), (1, 2.5), False),  # past its corner
        ((1, 0.5), (1, 0.5), True),  # a point in it
        ((1, 1.2), (1, 1.2), False),  # a point above it
    ],
)
def test_which_segments_pass_through_a_box(
    start: tuple[float, float], end: tuple[float, float], *, expected: bool
) -> None:
    assert bool(hits(LOW, HIGH, np.array([[start, end]], float), 0)[0, 0]) == expected


def test_a_margin_widens_the_box() -> None:
    above = np.array([[[-1, 1.5], [3, 1.5]]])
    assert hits(LOW, HIGH, above, 0.6)[0, 0]
    assert not hits(LOW, HIGH, above, 0.4)[0, 0]


def test_against_many_points_of_each_segment() -> None:
    rng = np.random.default_rng(7)
    low = rng.uniform(-1, 1, (20, 2))
    high = low + rng.uniform(0.2, 1, (20, 2))
    segments = rng.uniform(-2, 2, (60, 2, 2))
    found = hits(low, high, segments, 0)
    assert found.shape == (20, 60)
    # derived: a segment passes through a box if one of 2000 points of it is inside
    t = np.linspace(0, 1, 2000)[:, None, None]
    points = segments[:, 0] * (1 - t) + segments[:, 1] * t
    inside = (points[:, None] >= low[:, None]) & (points[:, None] <= high[:, None])
    sampled = inside.all(axis=3).any(axis=0)
    assert not (sampled & ~found).any()
    assert (found & ~sampled).sum() <= 3  # corners cut between two points


def test_crossings_are_counted() -> None:
    first = np.array([[[0, 0], [4, 0]], [[0, 5], [4, 5]]], float)
    second = np.array(
        [
            [[1, -1], [1, 1]],  # crosses the first
            [[3, -1], [2, 6]],  # crosses both
            [[5, -1], [5, 1]],  # beside
            [[0, 0], [0, 3]],  # touches the first's end
            [[0, 1], [4, 2]],  # between
        ],
        float,
    )
    # derived: by hand
    np.testing.assert_array_equal(crossings(first, second), [2, 1])
    np.testing.assert_array_equal(crossings(first, second[:0]), [0, 0])

"""Boxes and segments: which pass through which, and which cross."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from simulator.phasors import FloatArray


def hits(
    low: FloatArray, high: FloatArray, segments: FloatArray, margin: float
) -> npt.NDArray[np.bool_]:
    """Tell which boxes which segments pass through, by clipping them to the boxes' slabs.

    Parameters
    ----------
    low, high : ndarray of float, shape (n, 2)
        Lower left and upper right corners of the boxes.
    segments : ndarray of float, shape (m, 2, 2)
        Start and end of each segment.
    margin : float
        How much wider the boxes are taken on every side.

    Returns
    -------
    ndarray of bool, shape (n, m)
        Boxes by segments.
    """
    start, along = segments[None, :, 0], (segments[:, 1] - segments[:, 0])[None]
    along = np.where(np.abs(along) < 1e-9, 1e-9, along)
    first = ((low - margin)[:, None] - start) / along
    second = ((high + margin)[:, None] - start) / along
    enter, leave = np.minimum(first, second), np.maximum(first, second)
    enter, leave = np.maximum(*np.moveaxis(enter, 2, 0)), np.minimum(*np.moveaxis(leave, 2, 0))
    return np.asarray(np.maximum(enter, 0) <= np.minimum(leave, 1))


def crossings(first: FloatArray, second: FloatArray) -> FloatArray:
    """Count how many of the second segments each of the first ones crosses.

    Parameters
    ----------
    first : ndarray of float, shape (n, 2, 2)
        Start and end of each segment.
    second : ndarray of float, shape (m, 2, 2)
        The same.

    Returns
    -------
    ndarray of float, shape (n,)
        The counts; touching is not crossing.
    """
    across = (_sides(first, second) < 0) & (_sides(second, first).T < 0)
    return np.asarray(across.sum(axis=1), float)


def _sides(segments: FloatArray, lines: FloatArray) -> FloatArray:
    """Multiply the sides on which a segment's two ends lie of a line; negative if they differ."""
    along = (lines[:, 1] - lines[:, 0])[None, :, None]
    to_ends = segments[:, None] - lines[None, :, :1]
    side = along[..., 0] * to_ends[..., 1] - along[..., 1] * to_ends[..., 0]
    return np.asarray(side[..., 0] * side[..., 1])

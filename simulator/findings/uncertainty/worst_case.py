"""How far quantities can go while every input keeps its limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.phasors import FloatArray

# Rounds through all inputs; two are enough unless inputs depend on each other strongly.
ROUNDS = 6
# A gain below this part is rounding.
NOTHING = 1e-13


def extremes(
    model: Callable[[FloatArray], FloatArray], sensitivity: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Find the smallest and largest values of a model while every input is within −1 and 1.

    Parameters
    ----------
    model : callable
        From inputs of shape (n_inputs, n) to outputs of shape (n_outputs, n).
    sensitivity : ndarray of float, shape (n_outputs, n_inputs)
        Change of each output for z = 1.

    Returns
    -------
    low : ndarray of float, shape (n_outputs,)
        The smallest values.
    high : ndarray of float, shape (n_outputs,)
        The largest values.

    Notes
    -----
    The linear law's corner is only where the search starts: products of errors go beyond it, and a
    power factor near 1 turns round inside. One input after the other takes the best of its two
    limits and the vertex of the parabola through them and where it stands, for every output and
    either direction at once, until nothing gets better.
    """
    n_outputs, n_inputs = sensitivity.shape
    direction = np.repeat([1.0, -1.0], n_outputs)
    which = np.tile(np.arange(n_outputs), 2)
    z = direction * np.sign(sensitivity[which]).T

    def height(z: FloatArray) -> FloatArray:
        values = model(z)
        own = np.tile(which, z.shape[1] // len(which))
        return np.tile(direction, z.shape[1] // len(which)) * values[own, np.arange(z.shape[1])]

    best = height(z)
    for _ in range(ROUNDS):
        before = best
        for k in range(n_inputs):
            points = np.array([-np.ones_like(best), np.zeros_like(best), np.ones_like(best)])
            low, middle, high = _at(height, z, k, points)
            bend = low - 2 * middle + high
            with np.errstate(divide="ignore", invalid="ignore"):
                vertex = np.where(bend < 0, (low - high) / (2 * bend), 0.0)
            vertex = np.clip(vertex, -1, 1)
            (at_vertex,) = _at(height, z, k, vertex[None])
            candidates = np.array([best, low, high, at_vertex])
            choice = np.argmax(candidates, axis=0)
            here = np.array([z[k], points[0], points[2], vertex])
            z[k] = here[choice, np.arange(len(best))]
            best = candidates.max(axis=0)
        if (best - before <= NOTHING * np.abs(best)).all():
            break
    return -best[n_outputs:], best[:n_outputs]


def _at(
    height: Callable[[FloatArray], FloatArray], z: FloatArray, k: int, points: FloatArray
) -> FloatArray:
    """Give the heights with input k at each of some points, shape (n_points, n_searches)."""
    tried = np.tile(z, len(points))
    tried[k] = points.ravel()
    return height(tried).reshape(points.shape)

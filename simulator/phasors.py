"""Phasors: polar form, angles in degrees, symmetrical components."""

from __future__ import annotations

import cmath
import math

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
ComplexArray = npt.NDArray[np.complex128]

A = complex(-0.5, math.sqrt(3) / 2)
"""The operator a = exp(j120°); a² is its conjugate."""

# Rows: what a unit positive, negative and zero component adds to L1, L2, L3, by sequence.
_SETS = {
    1: np.array([[1, A.conjugate(), A], [1, A, A.conjugate()], [1, 1, 1]]),
    -1: np.array([[1, A, A.conjugate()], [1, A.conjugate(), A], [1, 1, 1]]),
}


def polar(magnitude: float, degrees: float) -> complex:
    """Return the phasor of a magnitude and an angle.

    Parameters
    ----------
    magnitude : float
        Magnitude, rms [any unit].
    degrees : float
        Angle [deg].

    Returns
    -------
    complex
        The phasor, in the unit of its magnitude.

    Notes
    -----
    Either may be an array of many cases, and then the phasor is one.
    """
    if np.ndim(magnitude) or np.ndim(degrees):
        turned: complex = magnitude * np.exp(1j * np.radians(degrees))
        return turned
    return cmath.rect(magnitude, math.radians(degrees))


def wrap_deg(angle: npt.ArrayLike) -> FloatArray:
    """Bring angles into (−180, 180].

    Parameters
    ----------
    angle : array_like of float, any shape
        Angle [deg].

    Returns
    -------
    ndarray of float, the same shape
        The same direction [deg]; exact, an angle already in the interval is returned unchanged.
    """
    turned: FloatArray = np.fmod(np.asarray(angle, np.float64), 360.0)
    turned += 360.0 * (turned <= -180.0)
    turned -= 360.0 * (turned > 180.0)
    return turned


def angle_deg(z: npt.ArrayLike, floor: npt.ArrayLike = 0.0) -> FloatArray:
    """Return the angle of phasors in (−180, 180].

    Parameters
    ----------
    z : array_like of complex, any shape
        Phasors [any unit].
    floor : array_like of float, optional
        Magnitude up to which a phasor counts as zero [unit of `z`]; broadcastable with `z`.

    Returns
    -------
    ndarray of float, broadcast shape
        Angle [deg]; 0 where ``|z| <= floor``, because the angle of round-off means nothing.
    """
    phasor = np.asarray(z, np.complex128)
    return wrap_deg(np.where(np.abs(phasor) <= floor, 0.0, np.degrees(np.angle(phasor))))


def symmetrical_components(
    X: npt.ArrayLike, sequence: int = 1
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Split three phasors into symmetrical components.

    Parameters
    ----------
    X : array_like of complex, shape (..., 3)
        Phasors of L1, L2 and L3 [any unit].
    sequence : {1, -1}, optional
        Order of the peaks of the positive component: 1 is L1-L2-L3, -1 is L3-L2-L1.

    Returns
    -------
    positive : ndarray of complex, shape (...)
        Positive component of L1 [unit of `X`].
    negative : ndarray of complex, shape (...)
        Negative component of L1 [unit of `X`].
    zero : ndarray of complex, shape (...)
        Zero component [unit of `X`].

    Raises
    ------
    ValueError
        If the last axis does not have length 3, or `sequence` is neither 1 nor -1.

    Notes
    -----
    For L1-L2-L3: X₊ = (X₁ + a·X₂ + a²·X₃)/3, X₋ = (X₁ + a²·X₂ + a·X₃)/3,
    X₀ = (X₁ + X₂ + X₃)/3 (Fortescue 1918, from memory).
    """
    components = np.asarray(X, np.complex128) @ (_sets(sequence).conj().T / 3)
    positive, negative, zero = np.moveaxis(components, -1, 0)
    return positive, negative, zero


def from_components(
    positive: npt.ArrayLike, negative: npt.ArrayLike, zero: npt.ArrayLike, sequence: int = 1
) -> ComplexArray:
    """Put three phasors together from their symmetrical components.

    Parameters
    ----------
    positive, negative, zero : array_like of complex, shape (...)
        Components of L1 [any unit]; broadcastable with each other.
    sequence : {1, -1}, optional
        Order of the peaks of the positive component: 1 is L1-L2-L3, -1 is L3-L2-L1.

    Returns
    -------
    ndarray of complex, shape (..., 3)
        Phasors of L1, L2 and L3 [unit of the components].

    Raises
    ------
    ValueError
        If `sequence` is neither 1 nor -1.
    """
    components = np.stack(np.broadcast_arrays(positive, negative, zero), axis=-1)
    return components.astype(np.complex128) @ _sets(sequence)


def _sets(sequence: int) -> ComplexArray:
    if sequence not in _SETS:
        raise ValueError(f"sequence is {sequence!r}, expected 1 (L1-L2-L3) or -1 (L3-L2-L1)")
    return _SETS[sequence]

"""Apparent power, power factor and voltage unbalance, each by its named definition."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from simulator.errors import SimulatorError
from simulator.phasors import ComplexArray, FloatArray, symmetrical_components

# Columns: V1 − V2, V2 − V3, V3 − V1.
_LINE_TO_LINE = np.array([[1, 0, -1], [-1, 1, 0], [0, -1, 1]])
# Below this part of the largest value it could have, a number is round-off.
_ROUND_OFF = 1e-12


@dataclass(frozen=True, eq=False)
class ByDefinition:
    """One quantity of an unbalanced circuit by each definition of apparent power.

    Attributes
    ----------
    arithmetic : ndarray of float, shape (...)
        By the sum of the apparent powers of the lines.
    vector : ndarray of float, shape (...)
        By the magnitude of the summed complex power.
    effective : ndarray of float, shape (...)
        By the effective voltage and current of IEEE 1459.
    collective : ndarray of float, shape (...)
        By the collective voltage and current of DIN 40110-2.
    """

    arithmetic: FloatArray
    vector: FloatArray
    effective: FloatArray
    collective: FloatArray


@dataclass(frozen=True, eq=False)
class PlanePowers:
    """Powers that cross a plane of a three-phase circuit.

    Attributes
    ----------
    active : ndarray of float, shape (...)
        Active power towards the load [W].
    reactive : ndarray of float, shape (...)
        Reactive power towards the load, positive for an inductive load [var].
    apparent : ByDefinition
        Apparent power [VA].
    power_factor : ByDefinition
        Active over apparent power [1]: negative when power flows back, NaN where the apparent
        power is zero.
    """

    active: FloatArray
    reactive: FloatArray
    apparent: ByDefinition
    power_factor: ByDefinition


def plane_powers(V: npt.ArrayLike, I: npt.ArrayLike, wires: int) -> PlanePowers:
    """Compute the powers at a plane of a possibly unbalanced three-phase circuit.

    Parameters
    ----------
    V : array_like of complex, shape (..., 3)
        Potentials of the lines, rms [V]: to N on four wires, to any reference on three, where
        they are referred to their mean.
    I : array_like of complex, shape (..., 3)
        Line currents towards the load, rms [A]; broadcastable with `V`. The neutral current of
        four wires is their sum.
    wires : {3, 4}
        Number of wires that cross the plane.

    Returns
    -------
    PlanePowers
        Active and reactive power, apparent power and power factor by each definition.

    Raises
    ------
    ValueError
        If the last axis does not have length 3, or `wires` is neither 3 nor 4.

    Notes
    -----
    Confidence: SEEN = the formula stood in a text that quotes the standard, CALC = derived and
    checked numerically, MEM = from memory. No paid standard was read whole.

    - P + jQ = Σ V·I*, load reference (IEC 60375:2018, MEM).
    - Arithmetic, S = Σ |V|·|I| over the lines, and vector, S = √(P² + Q²): IEEE 1459-2010,
      3.2.2 (MEM, CALC).
    - Effective, S = 3·Ve·Ie: IEEE 1459-2010 with ρ = ξ = 1. Four wires:
      Ve² = (3·Σ V_LN² + Σ V_LL²)/18, Ie² = (Σ I² + I_N²)/3; three wires: Ve² = Σ V_LL²/9,
      Ie² = Σ I²/3 (both SEEN).
    - Collective, S = U_Σ·I_Σ: DIN 40110-2:2002. Four wires: U_Σ² = (Σ V_LN² + Σ V_LL²)/4,
      I_Σ² = Σ I² + I_N² (SEEN); three wires: U_Σ² = Σ V_LL²/3, I_Σ² = Σ I² (CALC).

    The vector apparent power is never above any of the others. On three wires, and on four if
    the voltages sum to zero, arithmetic ≤ collective = effective; in general on four wires
    only collective ≤ effective holds.
    """
    if wires not in (3, 4):
        raise ValueError(f"wires is {wires!r}, expected 3 or 4")
    voltage, current = np.asarray(V, np.complex128), np.asarray(I, np.complex128)
    negligible = _ROUND_OFF * np.sqrt(_square_sum(voltage) * _square_sum(current))
    if wires == 3:
        voltage = voltage - voltage.mean(axis=-1, keepdims=True)

    line_power = voltage * current.conj()
    power = line_power.sum(axis=-1)
    to_neutral, between_lines = _square_sum(voltage), _square_sum(voltage @ _LINE_TO_LINE)
    currents = _square_sum(current)
    if wires == 4:
        currents = currents + np.abs(current.sum(axis=-1)) ** 2
        effective_voltage = np.sqrt((3 * to_neutral + between_lines) / 18)
        collective_voltage = np.sqrt((to_neutral + between_lines) / 4)
    else:
        effective_voltage = np.sqrt(between_lines / 9)
        collective_voltage = np.sqrt(between_lines / 3)

    apparent = ByDefinition(
        arithmetic=np.abs(line_power).sum(axis=-1),
        vector=np.abs(power),
        effective=3 * effective_voltage * np.sqrt(currents / 3),
        collective=collective_voltage * np.sqrt(currents),
    )
    factors = {
        name: _ratio(power.real, value, negligible) for name, value in vars(apparent).items()
    }
    return PlanePowers(power.real, power.imag, apparent, ByDefinition(**factors))


def voltage_unbalance(V: npt.ArrayLike, sequence: int = 1) -> tuple[FloatArray, FloatArray]:
    """Compute the unbalance factors V2/V1 and V0/V1 from phasors.

    Parameters
    ----------
    V : array_like of complex, shape (..., 3)
        Potentials of the lines, rms [V]. V2/V1 does not depend on their reference, V0/V1 does.
    sequence : {1, -1}, optional
        Order of the peaks of the positive component: 1 is L1-L2-L3, -1 is L3-L2-L1.

    Returns
    -------
    negative : ndarray of float, shape (...)
        V2/V1, a ratio of magnitudes [1]; NaN where there is no positive component.
    zero : ndarray of float, shape (...)
        V0/V1, likewise.

    Notes
    -----
    u2 and u0 of IEC 61000-4-30:2015, 5.7 (MEM, CALC).
    """
    voltage = np.asarray(V, np.complex128)
    positive, negative, zero = map(np.abs, symmetrical_components(voltage, sequence))
    negligible = _ROUND_OFF * np.sqrt(_square_sum(voltage))
    return _ratio(negative, positive, negligible), _ratio(zero, positive, negligible)


def voltage_unbalance_from_magnitudes(U: npt.ArrayLike) -> FloatArray:
    """Compute the unbalance factor V2/V1 from the magnitudes of the three line voltages.

    Parameters
    ----------
    U : array_like of float, shape (..., 3)
        Voltages L1-L2, L2-L3 and L3-L1, rms [V].

    Returns
    -------
    ndarray of float, shape (...)
        V2/V1 [1], or V1/V2 if the voltages rotate backwards: magnitudes do not tell which.
        NaN where all three are zero.

    Raises
    ------
    SimulatorError
        If three such voltages cannot stand between three points.
    ValueError
        If the last axis does not have length 3.

    Notes
    -----
    IEC 61000-4-30:2015, 5.7 (MEM, CALC): u2 = √((1 − √(3 − 6β))/(1 + √(3 − 6β))) with
    β = ΣU⁴/(ΣU²)². Here with δ² = 6β − 2 in the equal form u2 = δ/(1 + √(1 − δ²)), which
    keeps its digits near balance.
    """
    voltage = np.asarray(U, np.float64)
    longest = voltage.max(axis=-1)
    open_ends = 2 * longest > voltage.sum(axis=-1) + 1e-9 * longest
    if np.any(open_ends):
        raise SimulatorError(
            f"line voltages {voltage[open_ends][0].tolist()} V were given, expected three "
            "magnitudes of which none is larger than the sum of the other two"
        )
    # Differences of squares as (a − b)·(a + b), which loses no digits.
    differences = (voltage @ _LINE_TO_LINE) * (voltage @ np.abs(_LINE_TO_LINE))
    delta = _ratio(np.sqrt(2 * _square_sum(differences)), _square_sum(voltage), 0.0)
    factor: FloatArray = delta / (1 + np.sqrt(np.maximum(1 - delta**2, 0.0)))
    return factor


def nema_voltage_unbalance(U: npt.ArrayLike) -> FloatArray:
    """Compute the voltage unbalance as NEMA defines it.

    Parameters
    ----------
    U : array_like of float, shape (..., 3)
        Voltages L1-L2, L2-L3 and L3-L1, rms [V].

    Returns
    -------
    ndarray of float, shape (...)
        Largest deviation from the mean, over the mean [1]; NaN where the mean is zero.

    Notes
    -----
    NEMA MG 1 (definition SEEN, quoted; clause 14.36 MEM). It is not V2/V1.
    """
    voltage = np.asarray(U, np.float64)
    mean = voltage.mean(axis=-1)
    return _ratio(np.abs(voltage - mean[..., np.newaxis]).max(axis=-1), mean, 0.0)


def _square_sum(X: FloatArray | ComplexArray) -> FloatArray:
    squares: FloatArray = (np.abs(X) ** 2).sum(axis=-1)
    return squares


def _ratio(part: FloatArray, whole: FloatArray, negligible: FloatArray | float) -> FloatArray:
    return part / np.where(whole > negligible, whole, np.nan)

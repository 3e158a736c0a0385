"""What a load proves about the wiring, and what it leaves for later."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.findings.faults.find import class_of
from simulator.findings.faults.fit import watts
from simulator.findings.faults.hypotheses import over_true
from simulator.findings.faults.loads import load_of, with_load
from simulator.findings.result import solve
from simulator.quantities import PowerFactor

if TYPE_CHECKING:
    from simulator.findings.faults.hypotheses import Faults, Hypothesis
    from simulator.phasors import FloatArray

# The power factors that a total is looked at: the usual one, and the other where it is that one.
USUAL, OTHER = PowerFactor(0.8, "lag"), PowerFactor(1.0, None)
NEAR = 5.0
# Power factors above this are those of a resistive commissioning load.
RESISTIVE = 0.98


@dataclass(frozen=True)
class Commissioning:
    """What the scenario's load proves: wrong wirings whose total is right with it.

    Attributes
    ----------
    power_factor : float
        Power factor of the load.
    later : PowerFactor
        The power factor at which the same wirings are looked at again.
    passing : tuple of (Hypothesis, float)
        Wrong wirings whose total is right here, with what it is in parts of the true one later.
    tolerance : float
        Up to which part a total counts as right.
    classes_here, classes_later : int
        How many sets of readings all the wirings give here and later.
    """

    power_factor: float
    later: PowerFactor
    passing: tuple[tuple[Hypothesis, float], ...]
    tolerance: float
    classes_here: int
    classes_later: int

    @property
    def is_resistive(self) -> bool:
        """Whether the load is one that people commission with."""
        return abs(self.power_factor) > RESISTIVE

    @property
    def wrong_later(self) -> tuple[tuple[Hypothesis, float], ...]:
        """Those whose total is wrong later."""
        return tuple(p for p in self.passing if not abs(p[1] - 1) <= self.tolerance)


def commissioning(faults: Faults, tolerance: float) -> Commissioning | None:
    """Find the wrong wirings that a test with the scenario's load does not show in the total.

    Parameters
    ----------
    faults : Faults
        The wirings.
    tolerance : float
        Up to which part a total counts as right.

    Returns
    -------
    Commissioning or None
        Them, and what they read later; None without a total or a power.

    Raises
    ------
    NetworkError
        If a network has no unique solution later.

    Notes
    -----
    Later, the admittances of all loads are turned by the same angle.
    """
    right = faults.right.result
    power = load_of(right)
    if right.total is None or not power:
        return None
    phi = math.degrees(cmath.phase(power))
    later = OTHER if abs(phi - USUAL.angle_deg) <= NEAR else USUAL
    turn = cmath.rect(1, math.radians(phi - later.angle_deg))
    right_later = solve(with_load(right.measurement, turn))
    limits = np.array(list(faults.limits.values()))
    classes: list[FloatArray] = []
    passing = []
    for hypothesis in faults.hypotheses:
        result = solve(with_load(hypothesis.wiring.measurement, turn))
        class_of(watts(result) / limits, classes)
        share = faults.over_true(hypothesis)
        if hypothesis is not faults.right and share and abs(share - 1) <= tolerance:
            then = over_true(result, right_later)
            passing.append((hypothesis, math.nan if then is None else then))
    return Commissioning(
        power_factor=power.real / abs(power),
        later=later,
        passing=tuple(passing),
        tolerance=tolerance,
        classes_here=len(faults.groups),
        classes_later=len(classes),
    )

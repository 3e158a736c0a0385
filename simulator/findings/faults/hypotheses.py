"""A wiring with its readings, and all wirings of an arrangement by class."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from simulator.findings.reason import RIGHT

if TYPE_CHECKING:
    from simulator.findings.faults.fit import Fit
    from simulator.findings.faults.loads import Region
    from simulator.findings.faults.wiring import Wiring
    from simulator.findings.result import Result

# A voltage circuit that gets more than this is in danger; many carry 1.2 times their range.
OVERVOLTAGE = 1.2


@dataclass(frozen=True)
class Hypothesis:
    """A wiring, what it reads, and whether it explains the readings that were seen.

    Attributes
    ----------
    wiring : Wiring
        The wiring.
    result : Result
        What it reads with the scenario's load.
    group : int
        Number of the class of wirings that read the same, from 1.
    fit : Fit or None
        How well it explains the readings; None without any.
    consistent : bool or None
        Whether its class explains them.
    """

    wiring: Wiring
    result: Result
    group: int
    fit: Fit | None = None
    consistent: bool | None = None

    @property
    def description(self) -> str:
        """What is wrong with the wiring."""
        return self.wiring.description

    @property
    def total(self) -> float | None:
        """What its readings indicate together [W or var]; None without a formula."""
        return indicated(self.result)

    @property
    def explaining(self) -> Result:
        """What it reads with the load that fits best, or the scenario's."""
        return self.fit.result if self.fit else self.result


@dataclass(frozen=True)
class Faults:
    """The wirings of an arrangement.

    Attributes
    ----------
    hypotheses : tuple of Hypothesis
        The right wiring, then the wrong ones, those with fewest slips first.
    limits : dict of str to float
        How far each reading may be off [W].
    tolerance : float or None
        Part of the volt-amperes that the limits are; None where they were given.
    region : Region
        The loads that are possible, in parts of the scenario's.
    measured : dict of str to float or None
        Readings that were seen [W].
    notes : tuple of str
        What was assumed, and which wirings have no prediction.
    """

    hypotheses: tuple[Hypothesis, ...]
    limits: dict[str, float]
    tolerance: float | None
    region: Region
    measured: dict[str, float] | None
    notes: tuple[str, ...]

    @property
    def right(self) -> Hypothesis:
        """The wiring of the scenario."""
        return self.hypotheses[0]

    @property
    def fitting(self) -> tuple[Hypothesis, ...]:
        """The wirings that explain the readings; empty without any."""
        return tuple(h for h in self.hypotheses if h.consistent)

    @cached_property
    def groups(self) -> dict[int, tuple[Hypothesis, ...]]:
        """The classes, in the order of their numbers."""
        found: dict[int, list[Hypothesis]] = {}
        for hypothesis in self.hypotheses:
            found.setdefault(hypothesis.group, []).append(hypothesis)
        return {number: tuple(members) for number, members in found.items()}

    def over_true(self, hypothesis: Hypothesis) -> float | None:
        """Give the total of a wiring in parts of the true one.

        Parameters
        ----------
        hypothesis : Hypothesis
            The wiring.

        Returns
        -------
        float or None
            Indicated over true power of the rightly wired scenario; None where that is 0 or there
            is no total.
        """
        return over_true(hypothesis.result, self.right.result)

    def overvoltage(self, hypothesis: Hypothesis) -> dict[str, float]:
        """Find the voltage circuits that get more than they should.

        Parameters
        ----------
        hypothesis : Hypothesis
            The wiring.

        Returns
        -------
        dict of str to float
            For each wattmeter of which it is so, times the voltage it has when rightly wired.
        """
        right = self.right.result.readings
        times = {
            name: abs(reading.voltage / right[name].voltage)
            for name, reading in hypothesis.result.readings.items()
            if right[name].voltage
        }
        return {name: share for name, share in times.items() if share > OVERVOLTAGE}


def indicated(result: Result) -> float | None:
    """Form the total of a result's readings.

    Parameters
    ----------
    result : Result
        A solved measurement.

    Returns
    -------
    float or None
        The total [W or var]; None without a formula.
    """
    total = result.measurement.total
    if total is None:
        return None
    return math.fsum(c * result.readings[name].watts for name, c in total.coefficients.items())


def over_true(result: Result, right: Result) -> float | None:
    """Compare the total of a wiring with the truth.

    Parameters
    ----------
    result : Result
        The wiring, solved.
    right : Result
        The right wiring of the same load, solved.

    Returns
    -------
    float or None
        Indicated over true; None where the true one is 0 or there is no total.
    """
    total = indicated(result)
    if total is None or right.total is None:
        return None
    negligible = abs(right.total.true) <= RIGHT * right.total.apparent
    return None if negligible else total / right.total.true

"""Input quantities of an uncertainty: what is uncertain, by how much, and how it is distributed.

An input is a deviation z without a unit: from −1 to 1 in parts of its limit where only a limit is
known (rectangular, JCGM 100:2008, 4.3.7; MEM, high), or in standard uncertainties (normal). What a
z does is an `Effect`: one unit of an instrument or a transformer that serves several readings is
one z with several effects, so its correlations need no covariances.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import QuantityError, ScenarioError
from simulator.phasors import polar
from simulator.quantities import parse_angle, parse_percent

if TYPE_CHECKING:
    from collections.abc import Iterable

    from simulator.phasors import ComplexArray, FloatArray


class Distribution(StrEnum):
    """What is known about an input quantity."""

    RECTANGULAR = "rectangular"
    NORMAL = "normal"


@dataclass(frozen=True)
class Tolerance:
    """How far a quantity may lie from its value in the scenario.

    Attributes
    ----------
    relative : float
        Limit, or standard uncertainty, of its size as a fraction.
    angle : float
        Limit, or standard uncertainty, of its angle [deg].
    distribution : Distribution
        Rectangular if the two are limits, normal if they are standard uncertainties.
    """

    relative: float = 0.0
    angle: float = 0.0
    distribution: Distribution = Distribution.RECTANGULAR


def parse_tolerance(text: str) -> tuple[str, Tolerance]:
    """Read a tolerance as a person writes it.

    Parameters
    ----------
    text : str
        ``ovens: L2 = 5 %``, ``ovens = 5 %, 3 deg`` or, as a standard uncertainty,
        ``supply: voltage = u 1 %``.

    Returns
    -------
    quantity : str
        What it is about.
    tolerance : Tolerance
        The tolerance.

    Raises
    ------
    QuantityError
        If the text is none.
    """
    quantity, equals, given = text.rpartition("=")
    parts = given.strip()
    normal = parts.startswith("u ")
    values = {"relative": 0.0, "angle": 0.0}
    for part in (parts.removeprefix("u ") if normal else parts).split(","):
        word = part.strip().lstrip("±").strip()
        values["relative" if word.endswith("%") else "angle"] = _size(word, text)
    if not (equals and quantity.strip()) or not any(values.values()):
        raise QuantityError(f"{_EXPECTED}, got '{text}'")
    distribution = Distribution.NORMAL if normal else Distribution.RECTANGULAR
    return quantity.strip(), Tolerance(**values, distribution=distribution)


_EXPECTED = (
    "expected a quantity and how far it may lie from its value, such as 'ovens: L2 = 5 %', "
    "'ovens = 5 %, 3 deg' or, for a standard uncertainty, 'supply: voltage = u 1 %'"
)


def _size(word: str, text: str) -> float:
    try:
        value = parse_percent(word) if word.endswith("%") else parse_angle(word)
    except QuantityError as error:
        raise QuantityError(f"{_EXPECTED}, got '{text}'") from error
    if value < 0:
        raise QuantityError(f"{_EXPECTED}, got '{text}'")
    return value


def parse_tolerances(texts: Iterable[str]) -> dict[str, Tolerance]:
    """Read several tolerances.

    Parameters
    ----------
    texts : iterable of str
        See `parse_tolerance`.

    Returns
    -------
    dict of str to Tolerance
        By quantity.

    Raises
    ------
    QuantityError
        If a text is none, or two are about the same quantity.
    """
    found: dict[str, Tolerance] = {}
    for text in texts:
        quantity, tolerance = parse_tolerance(text)
        if quantity in found:
            raise QuantityError(f"a tolerance of '{quantity}' is given twice")
        found[quantity] = tolerance
    return found


@dataclass(frozen=True)
class Input:
    """An input quantity.

    Attributes
    ----------
    name : str
        What is uncertain.
    distribution : Distribution
        How z is distributed.
    size : float
        What z = 1 stands for, where it does most: a limit or a standard uncertainty.
    unit : str
        Unit of `size`: W, % or °.
    """

    name: str
    distribution: Distribution
    size: float
    unit: str

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty of z: 1/√3 of a limit."""
        return 1 / math.sqrt(3) if self.bounded else 1.0

    @property
    def bounded(self) -> bool:
        """Whether it has limits."""
        return self.distribution is Distribution.RECTANGULAR


@dataclass(frozen=True)
class Effect:
    """What an input does: ``scale·z``.

    Attributes
    ----------
    index : int
        Which input.
    scale : float
        What z = 1 does here.
    """

    index: int
    scale: float


Deviation = tuple[Effect, ...]


def deviation(effects: Deviation, z: FloatArray) -> FloatArray:
    """Add up what inputs do.

    Parameters
    ----------
    effects : tuple of Effect
        The effects; none leave no deviation.
    z : ndarray of float, shape (n_inputs, n)
        Inputs.

    Returns
    -------
    ndarray of float, shape (n,)
        Sum of the effects.
    """
    total = np.zeros(z.shape[1])
    for effect in effects:
        total += effect.scale * z[effect.index]
    return total


@dataclass(frozen=True)
class PhasorErrors:
    """Uncertain size and angle of a complex factor.

    Attributes
    ----------
    size : tuple of Effect
        Effects on its size, as a fraction.
    angle : tuple of Effect
        Effects on its angle [deg].
    """

    size: Deviation = ()
    angle: Deviation = ()

    def factor(self, z: FloatArray, size: float = 1.0, angle: float = 0.0) -> ComplexArray:
        """Give the factor.

        Parameters
        ----------
        z : ndarray of float, shape (n_inputs, n)
            Inputs.
        size : float, optional
            Its size without deviations.
        angle : float, optional
            Its angle without deviations [deg].

        Returns
        -------
        ndarray of complex, shape (n,) or (1,)
            The factor; one for all where nothing deviates.
        """
        if not (self.size or self.angle):
            return np.array([polar(size, angle)])
        turned = np.exp(1j * np.radians(angle + deviation(self.angle, z)))
        return np.asarray((size + deviation(self.size, z)) * turned)


@dataclass
class InputList:
    """Inputs while they are collected: one for each key.

    Attributes
    ----------
    inputs : list of Input
        What was found so far.
    notes : list of str
        What was assumed or could not be counted.
    """

    inputs: list[Input] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def add(self, new: Input) -> int:
        """Add an input, or find it if another reading already has it.

        Parameters
        ----------
        new : Input
            The input; its name is its key.

        Returns
        -------
        int
            Its index.

        Raises
        ------
        ScenarioError
            If its size is no size.
        """
        if not 0 <= new.size < math.inf:
            raise ScenarioError(f"expected a size of at least 0, got {new.size:g}", new.name)
        for k, known in enumerate(self.inputs):
            if known.name == new.name:
                self.inputs[k] = max(known, new, key=lambda each: each.size)
                return k
        self.inputs.append(new)
        return len(self.inputs) - 1

    def note(self, text: str) -> None:
        """Remember a note once.

        Parameters
        ----------
        text : str
            The note.
        """
        if text not in self.notes:
            self.notes.append(text)

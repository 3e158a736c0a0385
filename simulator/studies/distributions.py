"""Distributions of quantities around their values in the scenario, and how they are drawn."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import QuantityError, ScenarioError
from simulator.quantities import parse_angle, parse_percent, parse_real
from simulator.scenario.words import shown
from simulator.studies.kinds import direction_of
from simulator.studies.paths import find_quantity

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    from simulator.studies.kinds import Value
    from simulator.studies.paths import Quantity

    Array = npt.NDArray[Any]
    Float = npt.NDArray[np.float64]

SHAPES = ("normal", "uniform")
EXPECTED = (
    "expected a quantity, 'normal' or 'uniform', and how far it spreads, for example "
    "'ovens: L2 normal 2 %' (standard deviation), 'ovens: L2 normal 2 %, 1 deg' (size and angle) "
    "or 'supply: voltage uniform 5 %' (farthest from its value)"
)


@dataclass(frozen=True)
class Distribution:
    """How a quantity is distributed around its value in the scenario.

    Attributes
    ----------
    quantity : Quantity
        The quantity.
    shape : str
        "normal" or "uniform".
    spread : float
        Standard deviation, or largest deviation, of its size, in the unit shown.
    angle : float
        The same of its angle, independent of the size [rad].
    """

    quantity: Quantity
    shape: str
    spread: float
    angle: float = 0.0

    @property
    def base(self) -> Value:
        """Its value in the scenario."""
        assert self.quantity.base is not None  # noqa: S101  (`parse_distribution` looked)
        return self.quantity.base

    def values(self, size: Float, turn: Float | None) -> Array:
        """Turn deviations into values.

        Parameters
        ----------
        size : ndarray of float, shape (n,)
            Deviations of the size, in spreads.
        turn : ndarray of float, shape (n,), or None
            Deviations of the angle, in spreads of it; None if it has none.

        Returns
        -------
        ndarray of float or complex, shape (n,)
            The values.
        """
        if not self.quantity.kind.is_complex:
            return np.asarray(self.base.real + self.spread * size)
        sizes = abs(self.base) + self.spread * size
        values = np.empty(len(sizes), dtype=np.complex128)
        if turn is None:
            direction = direction_of(self.base)
            values.real, values.imag = sizes * direction.real, sizes * direction.imag
        else:
            angles = cmath.phase(self.base) + self.angle * turn
            values.real, values.imag = sizes * np.cos(angles), sizes * np.sin(angles)
        return values


def parse_distribution(text: str, known: Mapping[str, Quantity]) -> Distribution:
    """Read a distribution such as ``ovens: L2 normal 2 %``.

    Parameters
    ----------
    text : str
        Quantity, shape and spread.
    known : mapping of str to Quantity
        All quantities by path.

    Returns
    -------
    Distribution
        The distribution.

    Raises
    ------
    QuantityError
        If the text is none.
    ScenarioError
        If there is no such quantity, or it has no value to spread around.
    """
    for shape in SHAPES:
        path, found, spread = text.rpartition(f" {shape} ")
        if found and path.strip():
            return _around(find_quantity(path.strip(), known), shape, spread.strip())
    raise QuantityError(f"{EXPECTED}, got {shown(text)}")


def _around(quantity: Quantity, shape: str, spread: str) -> Distribution:
    base = quantity.base
    if base is None:
        raise ScenarioError(
            "it has no single value in the scenario to spread around", quantity.path
        )
    if not cmath.isfinite(base):
        raise ScenarioError("it is open in the scenario, so nothing can spread", quantity.path)
    size, _, angle = (part.strip() for part in spread.partition(","))
    try:
        return Distribution(quantity, shape, _size(quantity, size), _angle(quantity, angle))
    except QuantityError as error:
        raise QuantityError(error.message, quantity.path) from error


def _size(quantity: Quantity, text: str) -> float:
    """Read a spread, as a part of the value or in its unit."""
    unit: Any = quantity.kind.unit
    example = "2 %" if unit in ("", "%") else f"2 %' or '0.5 {unit}"
    wanted = f"expected a spread above zero, for example '{example}', got {shown(text)}"
    try:
        if text.endswith("%"):
            part = parse_percent(text)
            spread = 100 * part if unit == "%" else part * abs(quantity.base or 0.0)
        elif unit == "deg":
            spread = parse_angle(text)
        else:
            spread = parse_real(text, unit) if unit else float(text)
    except ValueError as error:
        raise QuantityError(wanted) from error
    if not 0 < spread < math.inf:
        of_nothing = text.endswith("%") and not quantity.base
        raise QuantityError(f"{wanted}{', which is a part of zero' if of_nothing else ''}")
    return spread


def _angle(quantity: Quantity, text: str) -> float:
    if not text:
        return 0.0
    if not quantity.kind.is_complex:
        raise QuantityError(f"it has no angle that could spread, got {shown(text)}")
    angle = parse_angle(text)
    if angle <= 0:
        raise QuantityError(f"expected a spread above zero, for example '1 deg', got {shown(text)}")
    return math.radians(angle)

"""Values that a quantity takes one after the other: a list of them, or steps between two."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import QuantityError
from simulator.scenario.words import shown
from simulator.studies import kinds

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from simulator.studies.paths import Quantity

    Array = npt.NDArray[Any]

MOST_STEPS = 10_000_000


@dataclass(frozen=True)
class Steps:
    """Equal steps from one value to another, both included.

    Attributes
    ----------
    start, stop : str
        The first and the last value, with their units.
    count : int
        Number of values.
    logarithmic : bool
        Whether every value is the same multiple of the one before.

    Examples
    --------
    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [{"name": "heaters", "connection": "line-to-neutral", "L1": "20 ohm"}],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> decades = simulator.Steps("1 ohm", "100 ohm", 3, logarithmic=True)
    >>> simulator.vary(scenario, {"heaters: L1": decades}).axes[0].texts
    ['1 ohm', '10 ohm', '100 ohm']
    """

    start: str
    stop: str
    count: int
    logarithmic: bool = False


def values_of(quantity: Quantity, given: Sequence[object] | Steps) -> Array:
    """Read the values of a quantity.

    Parameters
    ----------
    quantity : Quantity
        The quantity.
    given : sequence of str, or Steps
        Its values as one writes them in the file, or steps.

    Returns
    -------
    ndarray of float or complex, shape (n,)
        The values, in the unit shown.

    Raises
    ------
    QuantityError
        If one is none, or there are none.
    """
    if isinstance(given, Steps):
        return _stepped(quantity, given)
    if isinstance(given, str):
        raise QuantityError(
            f"expected a list of values, got the text {shown(given)}", quantity.path
        )
    values = np.array([quantity.read(each) for each in given])
    if not len(values):
        raise QuantityError("expected at least one value", quantity.path)
    return _checked(quantity, values)


def split_values(text: str) -> list[str]:
    """Split a list of values; by semicolons where there are any, else by commas.

    Parameters
    ----------
    text : str
        For example ``10 ohm, 20 ohm`` or ``50 ohm, 0.8 lag; 50 ohm, 0.6 lag``.

    Returns
    -------
    list of str
        The values.
    """
    return [part.strip() for part in text.split(";" if ";" in text else ",")]


def _checked(quantity: Quantity, values: Array) -> Array:
    possible = quantity.kind.possible(values)
    if not possible.all():
        got = quantity.kind.write(values[~possible][0])
        raise QuantityError(f"expected {quantity.kind.wanted}, got '{got}'", quantity.path)
    return values


def _stepped(quantity: Quantity, steps: Steps) -> Array:
    if not 2 <= steps.count <= MOST_STEPS:
        raise QuantityError(
            f"expected from 2 to {MOST_STEPS} steps, got {steps.count}", quantity.path
        )
    start, stop = quantity.read(steps.start), quantity.read(steps.stop)
    ends = f"from {shown(steps.start)} to {shown(steps.stop)}"
    if not (cmath.isfinite(start) and cmath.isfinite(stop)):
        raise QuantityError(f"there are no steps {ends}; list the values", quantity.path)
    if quantity.kind is kinds.POWER_FACTOR:
        start, stop = _same_sense(quantity, start, stop, ends)
    part = np.linspace(0, 1, steps.count)
    if not steps.logarithmic:
        values = start + (stop - start) * part
    elif start == 0 or stop == 0 or (stop / start).real <= 0 or (stop / start).imag:
        raise QuantityError(
            f"there are no logarithmic steps {ends}: expected two values of the same direction, "
            "neither of them zero",
            quantity.path,
        )
    else:
        values = start * (stop / start).real ** part
    values[-1] = stop  # to the last digit
    return _checked(quantity, values)


def _same_sense(quantity: Quantity, start: Any, stop: Any, ends: str) -> tuple[float, float]:
    """Give a power factor of 1 the sense of the other end."""
    if abs(start) == 1:
        start = math.copysign(1, stop)
    if abs(stop) == 1:
        stop = math.copysign(1, start)
    if np.signbit(start) != np.signbit(stop):
        raise QuantityError(
            f"there are no steps {ends}, for the power factor goes through 1 and back; vary the "
            f"angle instead, for example '{quantity.path.rpartition(':')[0]}: angle' from "
            "'-60 deg' to '60 deg'",
            quantity.path,
        )
    return start, stop

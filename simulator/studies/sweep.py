"""Cases of quantities that vary step by step: each with each, or all together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import ScenarioError
from simulator.studies.draws import SAMPLE

if TYPE_CHECKING:
    import numpy.typing as npt

    from simulator.studies.paths import Quantity

    Array = npt.NDArray[Any]


MOST_AXES, MOST_CASES = 16, 10**12


@dataclass(frozen=True, eq=False)
class Sweep:
    """Quantities that vary step by step.

    Attributes
    ----------
    quantities : tuple of Quantity
        What varies.
    values : tuple of ndarray
        Values of each quantity, in the unit shown.
    together : bool
        Whether the first case has the first value of each and so on, instead of each with each.

    Raises
    ------
    ScenarioError
        If quantities that vary together have unlike numbers of values, or there are too many.
    """

    quantities: tuple[Quantity, ...]
    values: tuple[Array, ...]
    together: bool = False

    def __post_init__(self) -> None:
        lengths = [len(each) for each in self.values]
        if self.together and len(set(lengths)) > 1:
            numbers = ", ".join(
                f"{quantity.path} has {n}"
                for quantity, n in zip(self.quantities, lengths, strict=True)
            )
            raise ScenarioError(
                f"quantities that vary together need equally many values, but {numbers}"
            )
        if not self.together and (len(lengths) > MOST_AXES or self.count > MOST_CASES):
            raise ScenarioError(
                f"each of {len(lengths)} quantities with each makes {self.count:.3g} cases; at "
                f"most {MOST_AXES} quantities and {MOST_CASES:.0e} cases can be computed; let "
                "them vary together, or draw them at random"
            )

    @cached_property
    def shape(self) -> tuple[int, ...]:
        """How many cases along each axis; the last quantity changes fastest."""
        lengths = tuple(len(each) for each in self.values)
        return lengths[:1] if self.together else lengths

    @property
    def count(self) -> int:
        """Number of cases."""
        return math.prod(self.shape)

    def columns(self, start: int, count: int) -> list[Array]:
        """Give a run of cases.

        Parameters
        ----------
        start : int
            The first case.
        count : int
            How many.

        Returns
        -------
        list of ndarray of shape (count,)
            Values of each quantity, in the unit shown.
        """
        cases = np.arange(start, start + count)
        if self.together:
            return [values[cases] for values in self.values]
        places = np.unravel_index(cases, self.shape)
        return [values[k] for values, k in zip(self.values, places, strict=True)]

    def sample(self) -> list[Array]:
        """Give some of the cases, at most `SAMPLE`, as columns."""
        if self.count <= SAMPLE:
            return self.columns(0, self.count)
        cases = np.sort(np.random.default_rng(0).choice(self.count, SAMPLE, replace=False))
        each = [self.columns(k, 1) for k in cases.tolist()]
        return [np.concatenate(parts) for parts in zip(*each, strict=True)]

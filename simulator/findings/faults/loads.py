"""A load that keeps its shape but not its size and power factor."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import SimulatorError
from simulator.installation.motor import Motor

if TYPE_CHECKING:
    import numpy.typing as npt

    from simulator.findings.result import Result
    from simulator.installation.loads import Load
    from simulator.scenario.build import Measurement

Span = tuple[float, float]


@dataclass(frozen=True)
class LoadSpan:
    """Between which bounds the load is known; what is not given is as the scenario says.

    Attributes
    ----------
    phi : tuple of float or None
        Smallest and largest angle of the loads' power together, positive for lag [deg].
    current : tuple of float or None
        Smallest and largest value of the largest line current, rms [A].
    """

    phi: Span | None = None
    current: Span | None = None


@dataclass(frozen=True)
class Region:
    """Factors on the admittances of all loads, by size and angle.

    Attributes
    ----------
    sizes : tuple of float
        Smallest and largest magnitude.
    angles : tuple of float
        Smallest and largest angle [rad]; positive makes the load more capacitive.
    """

    sizes: Span = (1.0, 1.0)
    angles: Span = (0.0, 0.0)

    @property
    def is_point(self) -> bool:
        """Whether it holds a single load."""
        return self.sizes[0] == self.sizes[1] and self.angles[0] == self.angles[1]

    @property
    def middle(self) -> complex:
        """The factor in its middle."""
        return cmath.rect(sum(self.sizes) / 2, sum(self.angles) / 2)

    @property
    def corners(self) -> tuple[complex, ...]:
        """The factors at its corners, each once."""
        corners = (cmath.rect(s, a) for s in self.sizes for a in self.angles)
        return tuple(dict.fromkeys(corners))


def load_of(result: Result) -> complex:
    """Give the complex power that all loads take together.

    Parameters
    ----------
    result : Result
        A solved measurement.

    Returns
    -------
    complex
        P + jQ at its first station [VA].
    """
    return result.first.true


def load_current(result: Result) -> float:
    """Give the current that stands for the size of the load.

    Parameters
    ----------
    result : Result
        A solved measurement.

    Returns
    -------
    float
        The largest line current at its first station, rms [A].
    """
    return float(np.abs(result.first.line_currents).max())


def region_of(span: LoadSpan | None, result: Result) -> Region:
    """Turn a span into factors on a scenario's loads.

    Parameters
    ----------
    span : LoadSpan or None
        The bounds; None for the load as the scenario says.
    result : Result
        The scenario, solved.

    Returns
    -------
    Region
        The factors.

    Raises
    ------
    SimulatorError
        If the loads take nothing that could be fitted.
    """
    if span is None:
        return Region()
    power, current = load_of(result), load_current(result)
    if not power or not current:
        raise SimulatorError("the load takes no power, so a span of it means nothing")
    phi = math.degrees(cmath.phase(power))
    low, high = span.phi or (phi, phi)
    sizes = span.current or (current, current)
    return Region(
        (sizes[0] / current, sizes[1] / current),
        (math.radians(phi - high), math.radians(phi - low)),
    )


def with_load(measurement: Measurement, factor: complex) -> Measurement:
    """Multiply the admittances of all loads.

    Parameters
    ----------
    measurement : Measurement
        What is measured.
    factor : complex
        The factor; its magnitude changes the size, its angle the power factor.

    Returns
    -------
    Measurement
        The same with other loads; leads and separate impedances stay.
    """
    if factor == 1:
        return measurement
    stations = {
        number: replace(a, loads=tuple(_scaled(load, factor) for load in a.loads))
        for number, a in measurement.stations.items()
    }
    return replace(measurement, stations=stations)


def _scaled(load: Load, factor: complex) -> Load:
    branches = (
        b if math.isinf(b.impedance.real) else replace(b, impedance=b.impedance / factor)
        for b in load.branches
    )
    motor = load.motor and _ScaledMotor(**vars(load.motor), factor=factor)
    return replace(load, branches=tuple(branches), motor=motor)


@dataclass(frozen=True)
class _ScaledMotor(Motor):
    """A motor whose whole admittance is multiplied."""

    factor: complex = 1 + 0j

    def admittance(self, sequence: int) -> npt.NDArray[np.complex128]:
        return super().admittance(sequence) * self.factor

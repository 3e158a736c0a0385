"""A load by its rating: from power, power factor and voltage to a constant impedance.

The numbers may be arrays of many cases; what is impossible in one of them is refused for all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np

from simulator.errors import ScenarioError


@dataclass(frozen=True)
class Rating:
    """What a nameplate says; exactly two of the first five.

    Attributes
    ----------
    power : float or None
        Active power [W].
    apparent_power : float or None
        Apparent power [VA].
    reactive_power : float or None
        Reactive power, positive for an inductive load [var].
    current : float or None
        Current, rms [A].
    power_factor : float or None
        Power factor, 0 to 1.
    sense : str or None
        "lag" or "lead", where the power factor says it.
    """

    power: float | None = None
    apparent_power: float | None = None
    reactive_power: float | None = None
    current: float | None = None
    power_factor: float | None = None
    sense: str | None = None

    @property
    def assumes_lag(self) -> bool:
        """Whether the sense of the reactive power is not stated and is taken as lagging."""
        known = self.reactive_power is not None or self.sense is not None
        return not known and bool(np.any(self.power_factor != 1))

    def complex_power(self, volt_amperes_per_ampere: float) -> complex:
        """Work out the complex power.

        Parameters
        ----------
        volt_amperes_per_ampere : float
            Factor from current to apparent power: U for one branch, √3·U for a whole load [V].

        Returns
        -------
        complex
            P + jQ [VA].

        Raises
        ------
        ScenarioError
            If the two given quantities contradict each other, or are too few or too many.
        """
        given = [
            f.name for f in fields(self) if f.name != "sense" and getattr(self, f.name) is not None
        ]
        if len(given) != 2 or {"apparent_power", "current"} == set(given):
            raise ScenarioError(
                "expected exactly two of power, apparent_power, reactive_power, current and "
                f"power_factor that fix the load, got {' and '.join(given) or 'none'}"
            )
        p, q, s = self.power, self.reactive_power, self.apparent_power
        if self.current is not None:
            s = self.current * volt_amperes_per_ampere
        if self.power_factor is not None:
            s, p = self._with_power_factor(self.power_factor, s, p, q)
        if p is None and s is not None and q is not None:
            p = _other_side(s, q, "reactive_power")
        assert p is not None  # noqa: S101  (two of the five always give a power)
        if q is None:
            assert s is not None  # noqa: S101
            q = _other_side(s, p, "power") * (-1 if self.sense == "lead" else 1)
        return p + 1j * q

    def _with_power_factor(
        self, pf: float, s: float | None, p: float | None, q: float | None
    ) -> tuple[float, float]:
        """Apparent and active power from a power factor and one more quantity."""
        if q is not None:
            if np.any((q == 0) & (pf == 1)):
                raise ScenarioError(
                    "a power factor of 1 and no reactive power do not fix a load: "
                    "give the power or the current instead"
                )
            turned = self.sense is not None and (q < 0) != (self.sense == "lead")
            if np.any((q == 0) | (pf == 1) | turned):
                raise ScenarioError(
                    f"a reactive power of {q:g} var contradicts the power factor {pf:g} "
                    f"{self.sense or ''}".rstrip()
                )
            s = abs(q) / (1 - pf**2) ** 0.5
        elif p is not None:
            if np.any(pf == 0):
                raise ScenarioError(
                    "a power factor of 0 and an active power do not fix a load: "
                    "give the reactive_power or the current instead"
                )
            if np.any((p == 0) & (pf < 1)):
                raise ScenarioError(f"a power of 0 W contradicts the power factor {pf:g}")
            s = p / pf
        assert s is not None  # noqa: S101  (the second quantity was one of the three)
        return s, s * pf


def _other_side(hypotenuse: float, side: float, name: str) -> float:
    """Solve the power triangle for its other side."""
    if np.any(abs(side) > hypotenuse * (1 + 1e-12)):
        raise ScenarioError(
            f"the {name} of {side:g} is larger than the apparent power of {hypotenuse:g} VA"
        )
    square = hypotenuse**2 - side**2
    other: float = (square * (square > 0)) ** 0.5
    return other


def branch_impedance(power: complex, voltage: float) -> complex:
    """Give the impedance that takes a complex power at a voltage.

    Parameters
    ----------
    power : complex
        P + jQ [VA].
    voltage : float
        Voltage across it, rms [V].

    Returns
    -------
    complex
        Impedance [ohm]; infinite for no power at all.
    """
    if np.all(power == 0):
        return complex(math.inf)
    return voltage**2 / power.conjugate()

"""Instruments: what a meter's circuits put into the network, and how it forms its reading."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from simulator.metering.accuracy import fiducial_value, wattmeter_limit
from simulator.phasors import polar


class Kind(StrEnum):
    """How a wattmeter forms its reading."""

    ELECTRODYNAMIC = "electrodynamic"
    ELECTRONIC = "electronic"


@dataclass(frozen=True)
class Instrument:
    """A wattmeter, voltmeter or ammeter as a thing with two circuits.

    Attributes
    ----------
    current_circuit : complex
        Impedance of the current circuit [ohm]; 0 for an ideal one.
    voltage_circuit : complex
        Impedance of the voltage circuit at the supply's frequency [ohm]; infinite for an
        ideal one, which only senses.
    kind : Kind
        The reading rule.
    gain_error : float
        Relative gain error of an electronic wattmeter.
    phase_error : float
        Angle by which an electronic wattmeter's voltage channel leads [deg].
    current_range, voltage_range : float or None
        Rated current [A] and voltage [V], as chosen.
    current_ranges, voltage_ranges : tuple of float
        All the ranges there are [A], [V]; empty where that is not known.
    rated_power_factor : float
        Power factor at which rated current and voltage give full scale.
    divisions : float or None
        Divisions of the scale at full scale.
    accuracy_class : float or None
        Accuracy class on the fiducial value.
    compensated : bool
        Whether the current of the voltage circuit also passes a winding that opposes the current
        circuit, so that it cancels there (Golding & Widdis; MEM, high).
    """

    current_circuit: complex = 0j
    voltage_circuit: complex = complex(math.inf)
    kind: Kind = Kind.ELECTRODYNAMIC
    gain_error: float = 0.0
    phase_error: float = 0.0
    current_range: float | None = None
    voltage_range: float | None = None
    current_ranges: tuple[float, ...] = ()
    voltage_ranges: tuple[float, ...] = ()
    rated_power_factor: float = 1.0
    divisions: float | None = None
    accuracy_class: float | None = None
    compensated: bool = False

    @property
    def senses_only(self) -> bool:
        """Whether the voltage circuit draws no current at all."""
        return bool(np.all(np.isinf(self.voltage_circuit.real)))  # perhaps of many cases

    @property
    def voltage_factor(self) -> complex:
        """Factor on the voltage phasor in the reading rule ``Re(factor·V·conj(I))``."""
        # An electrodynamic wattmeter's pointer follows the current in its voltage circuit,
        # calibrated on that circuit's resistance: Z_v0·I_v = V·Z_v0/Z_v.
        if self.kind is Kind.ELECTRONIC:
            return polar(1 + self.gain_error, self.phase_error)
        if self.senses_only:
            return 1 + 0j
        return self.voltage_circuit.real / self.voltage_circuit

    @property
    def fiducial(self) -> float | None:
        """Full scale of a wattmeter [W]; None unless both ranges are known."""
        if self.voltage_range is None or self.current_range is None:
            return None
        return fiducial_value(self.voltage_range, self.current_range, self.rated_power_factor)

    @property
    def watts_per_division(self) -> float | None:
        """The wattmeter constant [W]; None unless ranges and divisions are known."""
        if self.fiducial is None or self.divisions is None:
            return None
        return self.fiducial / self.divisions

    @property
    def class_limit(self) -> float | None:
        """Largest error by its accuracy class [W]; None unless class and ranges are known."""
        if self.fiducial is None or self.accuracy_class is None:
            return None
        return wattmeter_limit(self.accuracy_class, self.fiducial)


IDEAL = Instrument()

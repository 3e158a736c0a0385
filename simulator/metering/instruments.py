"""Instruments: what a meter's circuits put into the network, and how it forms its reading."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

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
        Rated current [A] and voltage [V].
    accuracy_class : float or None
        Accuracy class on the fiducial value.
    """

    current_circuit: complex = 0j
    voltage_circuit: complex = complex(math.inf)
    kind: Kind = Kind.ELECTRODYNAMIC
    gain_error: float = 0.0
    phase_error: float = 0.0
    current_range: float | None = None
    voltage_range: float | None = None
    accuracy_class: float | None = None

    @property
    def senses_only(self) -> bool:
        """Whether the voltage circuit draws no current at all."""
        return math.isinf(self.voltage_circuit.real)

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


IDEAL = Instrument()

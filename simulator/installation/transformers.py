"""Current and voltage transformers of ideal coupling, with their errors as a complex factor."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.phasors import polar


@dataclass(frozen=True)
class InstrumentTransformer:
    """A measuring transformer.

    Attributes
    ----------
    name : str
        Its name.
    ratio : float
        Rated primary to rated secondary quantity.
    ratio_error : float
        Relative error of the secondary quantity, positive if too large (IEC 61869).
    phase_displacement : float
        Angle by which the secondary phasor leads the primary one (IEC 61869) [deg].
    """

    name: str
    ratio: float
    ratio_error: float = 0.0
    phase_displacement: float = 0.0

    @property
    def error_factor(self) -> complex:
        """Secondary phasor over what an errorless transformer would give."""
        return polar(1 + self.ratio_error, self.phase_displacement)

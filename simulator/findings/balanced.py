"""The balanced load that readings mean.

On symmetrical sinusoidal voltages two wattmeters with a common line read V·I·cos(30° ± φ), so that
P = W1 + W2, Q = √3·(W2 − W1) and V·I = √(4/3·(W1² + W2² − W1·W2)), where W2 is in the line that
follows the common line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import Literal

ROOT3 = math.sqrt(3)
# Below this part of the readings a sum or a difference of them is nothing but rounding.
ROUND_OFF = 1e-9


@dataclass(frozen=True)
class BalancedLoad:
    """What a balanced load takes.

    Attributes
    ----------
    active : float
        Active power [W].
    reactive : float
        Reactive power, positive for an inductive load [var]; its size where the sense is unknown.
    sense_known : bool
        Whether lag can be told from lead.
    """

    active: float
    reactive: float
    sense_known: bool = True

    @property
    def apparent(self) -> float:
        """Apparent power [VA]."""
        return math.hypot(self.active, self.reactive)

    @property
    def power_factor(self) -> float | None:
        """Power factor, negative where power flows back; None without any power."""
        return self.active / self.apparent if self.apparent else None

    @property
    def phi(self) -> float | None:
        """Angle of the voltage ahead of the current [deg], its size where the sense is unknown."""
        if not self.apparent:
            return None
        return math.degrees(math.atan2(self.reactive, self.active))

    @property
    def sense(self) -> Literal["lag", "lead"] | None:
        """Lag or lead; None where unknown, at power factor 1 and where power flows back."""
        if not self.sense_known or self.active < 0 or not self.reactive:
            return None
        return "lag" if self.reactive > 0 else "lead"


def two_wattmeters(before: float, after: float, sequence: int = 1) -> BalancedLoad:
    """Find the balanced load that two wattmeters with a common line show.

    Parameters
    ----------
    before, after : float
        Readings in the line before the common line and in the line after it, in cyclic label
        order [W].
    sequence : {1, -1}, optional
        Whether the lines peak in label order.

    Returns
    -------
    BalancedLoad
        P = W1 + W2, Q = √3·(W2 − W1), with the other sign for the other sequence.

    Notes
    -----
    From W1 = V·I·cos(30° + φ) and W2 = V·I·cos(30° − φ), derived.
    """
    rounding = ROUND_OFF * max(abs(before), abs(after))
    total, difference = (
        x if abs(x) > rounding else 0.0 for x in (before + after, sequence * (after - before))
    )
    return BalancedLoad(total, ROOT3 * difference)

"""The conductors of an installation: what they are called, and the nodes along each."""

from __future__ import annotations

from dataclasses import dataclass

SUPPLY_STAR_POINT = "supply star point"
EARTH = "PE"


@dataclass(frozen=True)
class Conductors:
    """Names of the conductors (IEC 60445 by default).

    Attributes
    ----------
    lines : tuple of str, shape (3,)
        The three lines.
    neutral : str or None
        The neutral; None on three wires.
    """

    lines: tuple[str, str, str] = ("L1", "L2", "L3")
    neutral: str | None = None

    @property
    def all(self) -> tuple[str, ...]:
        """Names of all conductors, the neutral last."""
        return self.lines if self.neutral is None else (*self.lines, self.neutral)

    @property
    def wires(self) -> int:
        """Number of conductors, 3 or 4."""
        return len(self.all)

    def pair(self, k: int) -> tuple[str, str]:
        """Give the lines between which a delta's branch lies.

        Parameters
        ----------
        k : int
            0, 1 or 2 for the branch that starts at that line.

        Returns
        -------
        tuple of str
            That line and the next one in label order.
        """
        return self.lines[k], self.lines[(k + 1) % 3]

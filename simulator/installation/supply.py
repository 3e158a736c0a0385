"""Three-phase supplies: symmetrical, by phase voltages, or by sequence components."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.installation.conductors import EARTH, SUPPLY_STAR_POINT
from simulator.network.elements import Impedance, Source
from simulator.phasors import from_components, symmetrical_components

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from simulator.installation.conductors import Conductors
    from simulator.network.elements import Element


@dataclass(frozen=True)
class Supply:
    """Three source emfs in star behind line impedances.

    Attributes
    ----------
    emfs : tuple of complex, shape (3,)
        Emf of each line to the supply's star point, rms [V].
    sequence : int
        +1 if the lines peak in label order, −1 if in the opposite order.
    frequency : float
        Frequency [Hz].
    line_impedances : tuple of complex, shape (3,)
        Impedance of each line between source and meters [ohm].
    neutral_impedance : complex
        Impedance of the neutral between source and meters [ohm]; infinite for a lost neutral.
    earthed : str or None
        The conductor that is earthed at the source, if any.
    nominal_voltage : float or None
        Line-to-line voltage that ratings without one of their own refer to, rms [V].
    """

    emfs: tuple[complex, complex, complex]
    sequence: int
    frequency: float = 50.0
    line_impedances: tuple[complex, complex, complex] = (0j, 0j, 0j)
    neutral_impedance: complex = 0j
    earthed: str | None = None
    nominal_voltage: float | None = None

    def elements(
        self, conductors: Conductors, supply_side: Mapping[str, str]
    ) -> Iterator[tuple[str, Element]]:
        """Build the supply's part of the network.

        Parameters
        ----------
        conductors : Conductors
            Their names.
        supply_side : mapping of str to str
            For each conductor, its node on the supply side of the meters.

        Yields
        ------
        role : str
            "source", "line" or "earth".
        element : Element
            The element.
        """
        terminal = {}
        for line, emf, z in zip(conductors.lines, self.emfs, self.line_impedances, strict=True):
            terminal[line] = supply_side[line] if z == 0 else f"{line} source terminal"
            yield "source", Source(f"source {line}", (terminal[line], SUPPLY_STAR_POINT), emf)
            if z != 0:
                yield "line", Impedance(f"line {line}", (terminal[line], supply_side[line]), z)
        if conductors.neutral is not None:
            terminal[conductors.neutral] = SUPPLY_STAR_POINT
            yield (
                "line",
                Impedance(
                    f"neutral {conductors.neutral}",
                    (SUPPLY_STAR_POINT, supply_side[conductors.neutral]),
                    self.neutral_impedance,
                ),
            )
        if self.earthed is not None:
            yield "earth", Impedance("earthing of the supply", (EARTH, terminal[self.earthed]), 0j)


def symmetrical_emfs(line_voltage: float, sequence: int) -> tuple[complex, complex, complex]:
    """Give the emfs of a symmetrical supply, the first line's at 0°.

    Parameters
    ----------
    line_voltage : float
        Line-to-line voltage, rms [V].
    sequence : int
        +1 for label order, −1 for the opposite.

    Returns
    -------
    tuple of complex, shape (3,)
        Emf of each line to the star point [V].
    """
    return emfs_from_components(line_voltage / 3**0.5, 0, 0, sequence)


def emfs_from_components(
    positive: complex, negative: complex, zero: complex, sequence: int
) -> tuple[complex, complex, complex]:
    """Give the emfs whose symmetrical components are given, as phasors of the first line.

    Parameters
    ----------
    positive, negative, zero : complex
        Components, rms [V]; the positive one rotates in the supply's sequence.
    sequence : int
        +1 for label order, −1 for the opposite.

    Returns
    -------
    tuple of complex, shape (3,)
        Emf of each line to the star point [V].
    """
    emfs = from_components(positive, negative, zero, sequence)
    if emfs.ndim > 1:  # of many cases at once
        first, second, third = np.moveaxis(emfs, -1, 0)
        return first, second, third
    first, second, third = emfs.tolist()
    return first, second, third


def sequence_of(emfs: tuple[complex, complex, complex]) -> int:
    """Tell in which order unsymmetrical voltages peak.

    Parameters
    ----------
    emfs : tuple of complex, shape (3,)
        Emf of each line to the star point [V].

    Returns
    -------
    int
        +1 where the component in label order is at least as large as the other, else −1.
    """
    positive, negative, _ = symmetrical_components(emfs)
    return 1 if abs(positive) >= abs(negative) * (1 - 1e-12) else -1

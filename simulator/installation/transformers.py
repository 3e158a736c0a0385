"""Current and voltage transformers: of ideal coupling with given errors, or as a network.

The marks P1 and S1 (IEC 61869; H1 and X1, K and k on others) are positive at the same instant. A
transformer whose S2 is connected for S1 reads the same as one whose meter's circuit is connected
the other way round, so that is how a scenario says it: ``reversed = ["current"]``.

Every secondary is earthed at S2, which here is the network's reference node.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from simulator.errors import NetworkError
from simulator.installation.conductors import SUPPLY_STAR_POINT
from simulator.network.elements import IdealTransformer, Impedance
from simulator.phasors import polar

Part = IdealTransformer | Impedance
Ends = tuple[str, str]
OPEN_CIRCUIT = complex(math.inf)


class Secondary(StrEnum):
    """What is connected to a secondary."""

    CONNECTED = "connected"
    OPEN = "open"
    SHORTED = "shorted"


@dataclass(frozen=True)
class InstrumentTransformer:
    """A measuring transformer; impedances are those of the secondary side.

    Attributes
    ----------
    name : str
        Its name.
    ratio : float
        Rated primary to rated secondary quantity.
    ratio_error : float
        Relative error of the secondary quantity, positive if too large (IEC 61869).
    phase_displacement : float
        Angle by which the secondary phasor leads the primary one (IEC 61869; MEM, high) [deg].
    rated_secondary : float or None
        Rated secondary current [A] or voltage [V].
    accuracy_class : str or None
        Accuracy class: limits only, the expected errors are none.
    magnetising : complex
        Magnetising impedance referred to the secondary [ohm]; infinite without errors.
    winding : complex
        Of a current transformer the secondary winding; of a voltage transformer both windings,
        half of it on each side of the magnetising branch [ohm].
    leads : complex
        Leads from the secondary to the meter, there and back [ohm].
    burden : complex or None
        What else is connected: in series with the meter's current circuit, or in parallel with
        its voltage circuit [ohm].
    rated_burden : float or None
        Rated output [VA].
    secondary : Secondary
        Whether the meter is connected, or the secondary open or shorted.
    """

    name: str
    ratio: float
    ratio_error: float = 0.0
    phase_displacement: float = 0.0
    rated_secondary: float | None = None
    accuracy_class: str | None = None
    magnetising: complex = OPEN_CIRCUIT
    winding: complex = 0j
    leads: complex = 0j
    burden: complex | None = None
    rated_burden: float | None = None
    secondary: Secondary = Secondary.CONNECTED

    @property
    def error_factor(self) -> complex:
        """Secondary phasor over what an errorless transformer would give."""
        return polar(1 + self.ratio_error, self.phase_displacement)

    @property
    def rated_primary(self) -> float | None:
        """Rated primary current [A] or voltage [V]."""
        return None if self.rated_secondary is None else self.ratio * self.rated_secondary

    @property
    def magnetises(self) -> bool:
        """Whether it has a magnetising branch."""
        return not math.isinf(self.magnetising.real)

    @property
    def matters_alone(self) -> bool:
        """Whether a meter that only senses feels something else through it than its ratio."""
        return (
            self.magnetises or self.burden is not None or self.secondary is not Secondary.CONNECTED
        )

    def seen_from_primary(self, circuit: complex) -> complex:
        """Give what a voltage transformer with a voltage circuit is between its primary ends.

        Parameters
        ----------
        circuit : complex
            Impedance of the voltage circuit at its secondary [ohm]; infinite if it only senses.

        Returns
        -------
        complex
            The impedance [ohm]; infinite where no current flows.
        """
        if self.secondary is Secondary.OPEN:
            end = OPEN_CIRCUIT
        elif self.secondary is Secondary.SHORTED:
            end = 0j
        else:
            burden = OPEN_CIRCUIT if self.burden is None else self.burden
            end = _parallel(burden, self.leads + circuit)
        half = self.winding / 2
        inner = half + _parallel(self.magnetising, half + end)
        return OPEN_CIRCUIT if _is_open(inner) else self.ratio**2 * inner


def _parallel(first: complex, second: complex) -> complex:
    if _is_open(first) or _is_open(second):
        return second if _is_open(first) else first
    return first * second / (first + second)


def _is_open(impedance: complex) -> bool:
    return bool(np.all(np.isinf(impedance.real)))  # perhaps of many cases


@dataclass(frozen=True)
class PlacedTransformer:
    """A transformer's parts in a network.

    Attributes
    ----------
    parts : tuple of IdealTransformer or Impedance
        The parts; the ideal coupling first.
    meter_ends : tuple of str
        Nodes between which the meter's circuit lies.
    """

    parts: tuple[Part, ...]
    meter_ends: Ends


def place_current_transformer(
    transformer: InstrumentTransformer, where: str, primary: Ends
) -> PlacedTransformer:
    """Give the parts of a current transformer.

    Parameters
    ----------
    transformer : InstrumentTransformer
        The transformer.
    where : str
        Meter and conductor, for the names of the parts.
    primary : tuple of str
        Nodes P1 and P2.

    Returns
    -------
    PlacedTransformer
        Its parts.

    Raises
    ------
    NetworkError
        If its secondary is open and nothing limits the voltage there.
    """
    chain = _Chain(f"current transformer of {where}", where)
    chain.couple(primary, 1 / transformer.ratio)
    chain.shunt("magnetising branch", transformer.magnetising)
    if transformer.secondary is Secondary.CONNECTED:
        chain.series("winding", transformer.winding)
        chain.series("leads", transformer.leads)
        chain.series("burden", transformer.burden or 0j)
        return chain.placed()
    if transformer.secondary is Secondary.SHORTED:
        chain.short(transformer.winding)
    elif not transformer.magnetises:
        raise NetworkError(
            f"the secondary of the current transformer '{transformer.name}' of {where} is open and "
            "without a magnetising branch nothing limits its voltage; short it, connect it, or "
            'give its magnetising impedance (for example magnetising = "60j ohm"). Never open a '
            "secondary in service"
        )
    return chain.placed(f"{where} without connection")


def place_voltage_transformer(
    transformer: InstrumentTransformer, where: str, primary: Ends
) -> PlacedTransformer:
    """Give the parts of a voltage transformer.

    Parameters
    ----------
    transformer : InstrumentTransformer
        The transformer.
    where : str
        The meter, for the names of the parts.
    primary : tuple of str
        Primary nodes, the marked one first.

    Returns
    -------
    PlacedTransformer
        Its parts.

    Raises
    ------
    NetworkError
        If its secondary is shorted and nothing limits the current there.
    """
    chain = _Chain(f"voltage transformer of {where}", where)
    if transformer.secondary is Secondary.OPEN and not transformer.magnetises:
        return chain.placed(SUPPLY_STAR_POINT)
    if transformer.secondary is Secondary.SHORTED and not transformer.winding:
        raise NetworkError(
            f"the secondary of the voltage transformer '{transformer.name}' of {where} is shorted "
            "and without a winding impedance nothing limits the current; open it, connect it, or "
            'give its winding (for example winding = "0.5+0.5j ohm")'
        )
    chain.couple(primary, transformer.ratio)
    chain.series("first half of the winding", transformer.winding / 2)
    chain.shunt("magnetising branch", transformer.magnetising)
    if transformer.secondary is Secondary.SHORTED:
        chain.short(transformer.winding / 2)
    if transformer.secondary is not Secondary.CONNECTED:
        return chain.placed(SUPPLY_STAR_POINT)
    chain.series("winding", transformer.winding / 2)
    chain.shunt("burden", OPEN_CIRCUIT if transformer.burden is None else transformer.burden)
    chain.series("leads", transformer.leads)
    return chain.placed()


class _Chain:
    """A secondary as a ladder from the ideal coupling to the meter."""

    def __init__(self, name: str, where: str) -> None:
        self.name, self.where = name, where
        self.node = f"{where} S1" if name.startswith("current") else f"{where} secondary"
        self.parts: list[Part] = []

    def couple(self, primary: Ends, turns: float) -> None:
        secondary = (self.node, SUPPLY_STAR_POINT)
        self.parts.append(IdealTransformer(self.name, primary, secondary, turns))

    def series(self, what: str, impedance: complex) -> None:
        if impedance:
            after = f"{self.node} after {what}"
            self.parts.append(Impedance(f"{what} of {self.name}", (self.node, after), impedance))
            self.node = after

    def shunt(self, what: str, impedance: complex) -> None:
        if not math.isinf(impedance.real):
            ends = (self.node, SUPPLY_STAR_POINT)
            self.parts.append(Impedance(f"{what} of {self.name}", ends, impedance))

    def short(self, impedance: complex) -> None:
        ends = (self.node, SUPPLY_STAR_POINT)
        self.parts.append(Impedance(f"short of {self.name}", ends, impedance))

    def placed(self, node: str | None = None) -> PlacedTransformer:
        return PlacedTransformer(tuple(self.parts), (node or self.node, SUPPLY_STAR_POINT))

"""Meters as they are connected: which conductor, between which nodes, which way round."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from simulator.metering.instruments import IDEAL

if TYPE_CHECKING:
    from simulator.installation.transformers import InstrumentTransformer
    from simulator.metering.instruments import Instrument


class Side(StrEnum):
    """Side of the current circuits, seen from the meters."""

    SUPPLY = "supply"
    LOAD = "load"


@dataclass(frozen=True)
class Winding:
    """One winding of a current circuit.

    Attributes
    ----------
    conductor : str
        The conductor it is in.
    sign : int
        +1 if it counts the current from supply to load, −1 the other way.
    """

    conductor: str
    sign: int = 1


@dataclass(frozen=True)
class Wattmeter:
    """A wattmeter in the installation.

    Attributes
    ----------
    name : str
        Its name.
    windings : tuple of Winding
        Where its current circuit lies; several windings sense the signed sum.
    voltage : tuple of str
        Conductors or nodes between which its voltage circuit lies, the marked terminal first.
    instrument : Instrument
        Its two circuits and its reading rule.
    tap : Side
        On which side of the current circuits its ends on conductors sit.
    current_reversed, voltage_reversed : bool
        Whether a circuit is connected the other way round.
    station : int or None
        The station at which this is the position of a wattmeter that is moved.
    current_transformer, voltage_transformer : InstrumentTransformer or None
        Transformers that feed it.
    """

    name: str
    windings: tuple[Winding, ...]
    voltage: tuple[str, str]
    instrument: Instrument = IDEAL
    tap: Side = Side.SUPPLY
    current_reversed: bool = False
    voltage_reversed: bool = False
    station: int | None = None
    current_transformer: InstrumentTransformer | None = None
    voltage_transformer: InstrumentTransformer | None = None

    @property
    def ratio(self) -> float:
        """Primary watts per watt at the instrument."""
        both = (self.current_transformer, self.voltage_transformer)
        ratio = 1.0
        for transformer in both:
            ratio *= transformer.ratio if transformer else 1.0
        return ratio

    @property
    def voltage_impedance(self) -> complex:
        """What lies between the ends of its voltage circuit, transformer included [ohm]."""
        circuit = self.instrument.voltage_circuit
        transformer = self.voltage_transformer
        return transformer.seen_from_primary(circuit) if transformer else circuit

    @property
    def current_text(self) -> str:
        """What its current circuit senses, as one would write it."""
        text = ""
        for k, winding in enumerate(self.windings):
            sign = "− " if winding.sign < 0 else "+ "
            text += f" {sign}{winding.conductor}" if k else sign.strip("+ ") + winding.conductor
        return text


@dataclass(frozen=True)
class Voltmeter:
    """A voltmeter between two nodes.

    Attributes
    ----------
    name : str
        Its name.
    between : tuple of str
        Conductors or nodes.
    instrument : Instrument
        Its voltage circuit.
    side : Side
        Side of the current circuits on which its ends on conductors sit.
    """

    name: str
    between: tuple[str, str]
    instrument: Instrument = IDEAL
    side: Side = Side.LOAD


@dataclass(frozen=True)
class Ammeter:
    """An ammeter in a conductor, between the wattmeters and the loads.

    Attributes
    ----------
    name : str
        Its name.
    conductor : str
        The conductor.
    instrument : Instrument
        Its current circuit.
    """

    name: str
    conductor: str
    instrument: Instrument = IDEAL


@dataclass(frozen=True)
class SeparateImpedance:
    """An impedance that belongs to no load and no meter.

    Attributes
    ----------
    name : str
        Its name.
    between : tuple of str
        Conductors or nodes.
    impedance : complex
        Its value [ohm].
    side : Side
        Side of the current circuits on which its ends on conductors sit.
    """

    name: str
    between: tuple[str, str]
    impedance: complex
    side: Side = Side.LOAD

    @property
    def element_name(self) -> str:
        """Name of its network element."""
        return f"impedance {self.name}"

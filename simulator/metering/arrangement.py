"""An arrangement: installation and meters together, as one network.

Along every conductor k lie, from source to load: the source, the supply's impedance, the node
"k (supply side)", the current circuits in file order, the node "k", the loads. Where no current
circuit is in a conductor the two nodes are one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from simulator.errors import NetworkError
from simulator.installation.conductors import SUPPLY_STAR_POINT, Conductors
from simulator.installation.transformers import (
    place_current_transformer,
    place_voltage_transformer,
)
from simulator.metering.meters import Ammeter, Side, Voltmeter, Wattmeter
from simulator.network.elements import Impedance
from simulator.network.netlist import Netlist

if TYPE_CHECKING:
    from collections.abc import Iterable

    from simulator.installation.loads import Load
    from simulator.installation.supply import Supply
    from simulator.metering.meters import SeparateImpedance
    from simulator.network.elements import Element


@dataclass(frozen=True)
class Wired:
    """Where one meter's circuits ended up in the network.

    Attributes
    ----------
    ends : tuple of str or None
        Nodes between which its voltage circuit (or its transformer's primary) lies.
    current_circuits : tuple of str
        Elements that are its current circuit's windings.
    felt : tuple of str or None
        Nodes whose voltage its voltage circuit feels behind a transformer; None without one in
        the network.
    """

    ends: tuple[str, str] | None
    current_circuits: tuple[str, ...]
    felt: tuple[str, str] | None = None


@dataclass(frozen=True)
class Arrangement:
    """One network of supply, loads and meters, and which part of it is what.

    Attributes
    ----------
    conductors : Conductors
        Names of the conductors.
    supply : Supply
        The supply.
    loads : tuple of Load
        The loads.
    wattmeters, voltmeters, ammeters : tuple
        The meters in circuit together.
    impedances : tuple of SeparateImpedance
        What belongs to no load and no meter.
    """

    conductors: Conductors
    supply: Supply
    loads: tuple[Load, ...]
    wattmeters: tuple[Wattmeter, ...] = ()
    voltmeters: tuple[Voltmeter, ...] = ()
    ammeters: tuple[Ammeter, ...] = ()
    impedances: tuple[SeparateImpedance, ...] = ()


@dataclass(frozen=True)
class WiredArrangement:
    """An arrangement and its network.

    Attributes
    ----------
    arrangement : Arrangement
        What it was made from.
    netlist : Netlist
        The network.
    roles : dict of str to str
        What each element is: source, line, lead, load, earth, impedance, current circuit, voltage
        circuit or transformer.
    wired : dict of str to Wired
        Where each meter's circuits are.
    """

    arrangement: Arrangement
    netlist: Netlist
    roles: dict[str, str]
    wired: dict[str, Wired]


def wire(arrangement: Arrangement) -> WiredArrangement:
    """Connect an arrangement into a network.

    Parameters
    ----------
    arrangement : Arrangement
        Supply, loads and meters.

    Returns
    -------
    WiredArrangement
        The network, and which part of it is what.

    Raises
    ------
    NetworkError
        If a meter senses a node whose potential nothing sets.
    """
    wiring = _Wiring(arrangement)
    supply_side = {k: chain[0] for k, chain in wiring.chains.items()}
    wiring.extend(arrangement.supply.elements(arrangement.conductors, supply_side))
    for wattmeter in arrangement.wattmeters:
        wiring.add_current_circuits(wattmeter)
        wiring.add_voltage_circuit(wattmeter)
    for ammeter in arrangement.ammeters:
        wiring.add_current_circuits(ammeter)
    for voltmeter in arrangement.voltmeters:
        wiring.add_voltage_circuit(voltmeter)
    for part in arrangement.impedances:
        ends = wiring.ends(part.between, part.side)
        wiring.add("impedance", Impedance(part.element_name, ends, part.impedance))
    for load in arrangement.loads:
        wiring.extend(load.elements(arrangement.conductors, arrangement.supply.sequence))
    return wiring.finish()


@dataclass
class _Wiring:
    """The network while it grows."""

    arrangement: Arrangement
    elements: list[Element] = field(default_factory=list)
    roles: dict[str, str] = field(default_factory=dict)
    current_circuits: dict[str, tuple[str, ...]] = field(default_factory=dict)
    voltage_ends: dict[str, tuple[str, str]] = field(default_factory=dict)
    felt: dict[str, tuple[str, str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.places: dict[str, list[str]] = {k: [] for k in self.arrangement.conductors.all}
        for wattmeter in self.arrangement.wattmeters:
            for winding in wattmeter.windings:
                self.places[winding.conductor].append(wattmeter.name)
        for ammeter in self.arrangement.ammeters:
            self.places[ammeter.conductor].append(ammeter.name)
        self.chains = {
            k: [f"{k} (supply side)", *(f"{k} after {m}" for m in meters[:-1]), k]
            if meters
            else [k]
            for k, meters in self.places.items()
        }

    def add(self, role: str, element: Element) -> None:
        self.elements.append(element)
        self.roles[element.name] = role

    def extend(self, parts: Iterable[tuple[str, Element]]) -> None:
        for role, element in parts:
            self.add(role, element)

    def around(self, meter: str, conductor: str) -> tuple[str, str]:
        """Nodes before and after a meter's winding in a conductor."""
        k = self.places[conductor].index(meter)
        return self.chains[conductor][k], self.chains[conductor][k + 1]

    def ends(self, nodes: tuple[str, str], side: Side, own: str = "") -> tuple[str, str]:
        """Nodes where ends on conductors sit; on a meter's own conductor, at its own winding."""
        found = []
        for node in nodes:
            if own in self.places.get(node, ()):
                found.append(self.around(own, node)[side is Side.LOAD])
            elif node in self.chains:
                found.append(self.chains[node][-1 if side is Side.LOAD else 0])
            else:
                found.append(node)
        return found[0], found[1]

    def add_current_circuits(self, meter: Wattmeter | Ammeter) -> None:
        if isinstance(meter, Ammeter):
            conductors, transformer = [meter.conductor], None
        else:
            conductors = [w.conductor for w in meter.windings]
            transformer = meter.current_transformer
        names = []
        for conductor in conductors:
            where = f"{meter.name} in {conductor}"
            nodes = self.around(meter.name, conductor)
            if transformer:
                placed = place_current_transformer(transformer, where, nodes)
                self.extend(("transformer", part) for part in placed.parts)
                nodes = placed.meter_ends
            names.append(f"current circuit of {where}")
            impedance = meter.instrument.current_circuit
            self.add("current circuit", Impedance(names[-1], nodes, impedance))
        self.current_circuits[meter.name] = tuple(names)

    def add_voltage_circuit(self, meter: Wattmeter | Voltmeter) -> None:
        if isinstance(meter, Voltmeter):
            ends, transformer = self.ends(meter.between, meter.side), None
        else:
            ends = self.ends(meter.voltage, meter.tap, meter.name)
            transformer = meter.voltage_transformer
        self.voltage_ends[meter.name] = ends
        ideal = meter.instrument.senses_only
        if ends[0] == ends[1] or (ideal and not (transformer and transformer.matters_alone)):
            return
        if transformer:
            placed = place_voltage_transformer(transformer, meter.name, ends)
            self.extend(("transformer", part) for part in placed.parts)
            self.felt[meter.name] = ends = placed.meter_ends
        if not ideal:
            name = f"voltage circuit of {meter.name}"
            self.add("voltage circuit", Impedance(name, ends, meter.instrument.voltage_circuit))

    def finish(self) -> WiredArrangement:
        netlist = Netlist(tuple(self.elements), SUPPLY_STAR_POINT)
        for node in dict.fromkeys(n for ends in self.voltage_ends.values() for n in ends):
            if node not in netlist.nodes:
                raise NetworkError(_nothing_sets(node, self.voltage_ends))
        names = dict.fromkeys((*self.current_circuits, *self.voltage_ends))
        wired = {
            name: Wired(
                self.voltage_ends.get(name),
                self.current_circuits.get(name, ()),
                self.felt.get(name),
            )
            for name in names
        }
        return WiredArrangement(self.arrangement, netlist, self.roles, wired)


def _nothing_sets(node: str, voltage_ends: dict[str, tuple[str, str]]) -> str:
    meters = [name for name, ends in voltage_ends.items() if node in ends]
    return (
        f"nothing sets the potential of '{node}': only the voltage circuits of "
        f"{', '.join(meters)} meet there, and they are ideal, so no current flows in them and the "
        f"point floats. Give these meters an instrument with a voltage_circuit (for example "
        f"\"20 kohm\"), or connect '{node}' by an [[impedance]]"
    )

"""From the tables of a scenario to its meters, instruments and separate impedances."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from simulator.errors import ScenarioError
from simulator.formatting import format_impedance
from simulator.installation.transformers import InstrumentTransformer, Secondary
from simulator.metering.catalogue import METHODS, expand
from simulator.metering.instruments import IDEAL, Instrument
from simulator.metering.meters import (
    Ammeter,
    SeparateImpedance,
    Side,
    Voltmeter,
    Wattmeter,
    Winding,
)
from simulator.quantities import OPEN
from simulator.scenario.fields import LINES, NEUTRAL
from simulator.scenario.words import called, near, shown

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.installation.conductors import Conductors
    from simulator.metering.catalogue import Method
    from simulator.metering.catalogue import Table as PlainTable
    from simulator.scenario.instrument_models import (
        CurrentTransformerTable,
        InstrumentTable,
        VoltageTransformerTable,
    )
    from simulator.scenario.models import MethodTable, Scenario, WattmeterTable

T = TypeVar("T")


def lookup(name: str, table: Mapping[str, T], what: str, place: str) -> T:
    """Find what a name refers to.

    Parameters
    ----------
    name : str
        The name.
    table : mapping of str
        What there is.
    what : str
        What the name should be of, for the message.
    place : str
        Where the name stands.

    Returns
    -------
    object
        What it refers to.

    Raises
    ------
    ScenarioError
        If there is nothing of that name; it names the nearest.
    """
    if name not in table:
        raise ScenarioError(f"there is no {what} {shown(name)}; {near(name, table)}", place)
    return table[name]


class MeterBuilder:
    """Builds the meters of one scenario.

    Parameters
    ----------
    scenario : Scenario
        The scenario, with plain wattmeters (a method already written out).
    conductors : Conductors
        Names of its conductors.
    frequency : float
        Frequency of its supply [Hz].
    """

    def __init__(self, scenario: Scenario, conductors: Conductors, frequency: float) -> None:
        self.scenario = scenario
        self.own_names = dict(zip((*LINES, NEUTRAL), conductors.all, strict=False))
        self.instruments = {
            name: _instrument(table, frequency) for name, table in scenario.instrument.items()
        }
        self.current_transformers = _transformers(scenario.current_transformer)
        self.voltage_transformers = _transformers(scenario.voltage_transformer)

    def conductor(self, name: str, place: str) -> str:
        """Find a conductor by its default name.

        Parameters
        ----------
        name : str
            The name.
        place : str
            Where it stands.

        Returns
        -------
        str
            Its own name.

        Raises
        ------
        ScenarioError
            If there is no such conductor.
        """
        self._need_neutral(name, place)
        if name not in self.own_names:
            raise ScenarioError(
                f"expected a conductor ({', '.join(self.own_names.values())}), got '{name}'", place
            )
        return self.own_names[name]

    def _need_neutral(self, name: str, place: str) -> None:
        if name == NEUTRAL and name not in self.own_names:
            raise ScenarioError("there is no neutral on 3 wires", place)

    def nodes(self, given: list[str], place: str) -> tuple[str, str]:
        """Name the two nodes of a pair.

        Parameters
        ----------
        given : list of str, shape (2,)
            Conductors by their default names, or other nodes.
        place : str
            Where they stand.

        Returns
        -------
        tuple of str
            The nodes.

        Raises
        ------
        ScenarioError
            If one is the neutral and there is none.
        """
        for node in given:
            self._need_neutral(node, place)
        first, second = (self.own_names.get(node, node) for node in given)
        return first, second

    def instrument(self, name: str | None, place: str) -> Instrument:
        """Find an instrument.

        Parameters
        ----------
        name : str or None
            Its name; None for an ideal one.
        place : str
            Where the name stands.

        Returns
        -------
        Instrument
            The instrument.
        """
        if name is None:
            return IDEAL
        return lookup(name, self.instruments, "instrument", place)

    def wattmeters(self) -> tuple[Wattmeter, ...]:
        """Build the wattmeters.

        Returns
        -------
        tuple of Wattmeter
            In file order.
        """
        meters = []
        for table in self.scenario.wattmeter:
            place = f"wattmeter '{table.name}'"
            windings = tuple(
                Winding(
                    self.conductor(text.removeprefix("-"), f"{place}, current"),
                    -1 if text.startswith("-") else 1,
                )
                for text in table.current
            )
            twice = [c for c, n in Counter(w.conductor for w in windings).items() if n > 1]
            if twice:
                raise ScenarioError(f"'{twice[0]}' stands more than once", f"{place}, current")
            meter = Wattmeter(
                name=table.name,
                windings=windings,
                voltage=self.nodes(table.voltage, f"{place}, voltage"),
                instrument=self.instrument(table.instrument, f"{place}, instrument"),
                tap=table.voltage_tap,
                current_reversed="current" in table.reversed,
                voltage_reversed="voltage" in table.reversed,
                station=table.station,
                **self._transformers_of(table, place),
            )
            _check_compensation(meter, table.instrument, place)
            meters.append(meter)
        return tuple(meters)

    def _transformers_of(
        self, table: WattmeterTable, place: str
    ) -> dict[str, InstrumentTransformer | None]:
        found: dict[str, InstrumentTransformer | None] = {}
        for key, known in (
            ("current_transformer", self.current_transformers),
            ("voltage_transformer", self.voltage_transformers),
        ):
            name = getattr(table, key)
            what, where = key.replace("_", " "), f"{place}, {key}"
            found[key] = None if name is None else lookup(name, known, what, where)
        return found

    def voltmeters(self) -> tuple[Voltmeter, ...]:
        """Build the voltmeters.

        Returns
        -------
        tuple of Voltmeter
            In file order.
        """
        meters = []
        for table in self.scenario.voltmeter:
            place = f"voltmeter '{table.name}'"
            nodes = self.nodes(table.between, f"{place}, between")
            instrument = self.instrument(table.instrument, f"{place}, instrument")
            meters.append(Voltmeter(table.name, nodes, instrument, table.side))
        return tuple(meters)

    def ammeters(self) -> tuple[Ammeter, ...]:
        """Build the ammeters.

        Returns
        -------
        tuple of Ammeter
            In file order.
        """
        meters = []
        for table in self.scenario.ammeter:
            place = f"ammeter '{table.name}'"
            conductor = self.conductor(table.conductor, f"{place}, in")
            instrument = self.instrument(table.instrument, f"{place}, instrument")
            meters.append(Ammeter(table.name, conductor, instrument))
        return tuple(meters)

    def impedances(self) -> tuple[SeparateImpedance, ...]:
        """Build the separate impedances.

        Returns
        -------
        tuple of SeparateImpedance
            In file order.
        """
        built = []
        for k, table in enumerate(self.scenario.impedance, 1):
            name = table.name or f"impedance {k}"
            nodes = self.nodes(table.between, f"{called('impedance', name)}, between")
            built.append(SeparateImpedance(name, nodes, table.value, table.side))
        return tuple(built)


def _check_compensation(meter: Wattmeter, instrument: str | None, place: str) -> None:
    """Refuse a compensated wattmeter whose voltage circuit's current it does not carry."""
    if not meter.instrument.compensated:
        return
    why = f"the instrument {shown(instrument)} is compensated"
    if meter.tap is not Side.LOAD:
        raise ScenarioError(
            f"{why}: the current of its voltage circuit passes its current circuit only with "
            'voltage_tap = "load"',
            f"{place}, voltage_tap",
        )
    if len(meter.windings) > 1 or meter.windings[0].conductor not in meter.voltage:
        raise ScenarioError(
            f"{why}: its current circuit must be in one conductor, and an end of its voltage "
            "circuit on the same",
            f"{place}, current",
        )
    if meter.current_transformer or meter.voltage_transformer:
        raise ScenarioError(f"{why}, which works only without transformers", place)


def _instrument(table: InstrumentTable, frequency: float) -> Instrument:
    impedance, inductance = table.voltage_circuit
    return Instrument(
        current_circuit=table.current_circuit,
        voltage_circuit=impedance + 2j * math.pi * frequency * inductance,
        kind=table.kind,
        gain_error=table.gain_error,
        phase_error=table.phase_error,
        current_range=table.current_range,
        voltage_range=table.voltage_range,
        current_ranges=tuple(table.current_ranges),
        voltage_ranges=tuple(table.voltage_ranges),
        rated_power_factor=table.rated_power_factor,
        divisions=table.divisions,
        accuracy_class=table.accuracy_class,
        compensated=table.compensated,
    )


def _transformers(
    tables: Mapping[str, CurrentTransformerTable] | Mapping[str, VoltageTransformerTable],
) -> dict[str, InstrumentTransformer]:
    return {name: _transformer(name, table) for name, table in tables.items()}


def _transformer(
    name: str, table: CurrentTransformerTable | VoltageTransformerTable
) -> InstrumentTransformer:
    primary, secondary = table.ratio
    burden = table.burden
    if burden is not None and np.all(np.isinf(burden)):
        burden = None
    return InstrumentTransformer(
        name=name,
        ratio=primary / secondary,
        ratio_error=0.0 if table.ratio_error is None else table.ratio_error,
        phase_displacement=0.0 if table.phase_displacement is None else table.phase_displacement,
        rated_secondary=secondary,
        accuracy_class=table.accuracy_class,
        magnetising=OPEN if table.magnetising is None else table.magnetising,
        winding=0j if table.winding is None else table.winding,
        leads=table.leads,
        burden=burden,
        rated_burden=table.rated_burden,
        secondary=Secondary(table.secondary or "connected"),
    )


def write_out(table: MethodTable, scenario: Scenario, conductors: Conductors) -> PlainTable:
    """Write a method of the catalogue out as plain tables.

    Parameters
    ----------
    table : MethodTable
        The table ``[method]``.
    scenario : Scenario
        The scenario it stands in.
    conductors : Conductors
        Names to use for the conductors.

    Returns
    -------
    dict
        Tables "wattmeter", "total" and perhaps "impedance", as a file would have them.

    Raises
    ------
    ScenarioError
        If the method does not fit the supply or lacks something it needs.
    """
    method = lookup(table.name, METHODS, "method", "method, name")
    if scenario.supply.wires not in method.wires:
        wires = " or ".join(str(n) for n in method.wires)
        raise ScenarioError(
            f"'{method.name}' is for {wires} wires, but the supply has {scenario.supply.wires}",
            "method",
        )
    common_keys = ("instrument", "current_transformer", "voltage_transformer", "voltage_tap")
    given = table.model_dump(exclude_none=True, exclude={"name"}, mode="json")
    for key in given:
        if key not in (*common_keys, *method.options):
            allowed = ", ".join((*method.options, *common_keys))
            raise ScenarioError(
                f"'{method.name}' has no key '{key}'; it understands {allowed}", "method"
            )
    instruments = _instruments_of(table, method)
    for name in instruments:
        lookup(name, scenario.instrument, "instrument", "method, instrument")
    for key in ("current_transformer", "voltage_transformer"):
        if key in given:
            lookup(given[key], getattr(scenario, key), key.replace("_", " "), f"method, {key}")
    if method.needs_voltage_circuit:
        _need_voltage_circuits(method, instruments, scenario)
    own = dict(zip(LINES, conductors.lines, strict=True))
    options = {key: own.get(v, v) if isinstance(v, str) else v for key, v in given.items()}
    resistors: list[str] = []
    if "resistors" in method.options:
        resistors = table.resistors or 2 * [
            format_impedance(equal_resistor(table, instruments[0], scenario), digits=None)
        ]
    return expand(method, conductors, options, instruments, resistors)


def _instruments_of(table: MethodTable, method: Method) -> list[str]:
    given = table.instrument
    if given is None:
        return []
    if isinstance(given, str):
        return [given] * method.n_wattmeters
    if len(given) != method.n_wattmeters:
        raise ScenarioError(
            f"expected one name or {method.n_wattmeters}, one for each wattmeter, got {len(given)}",
            "method, instrument",
        )
    return given


def _need_voltage_circuits(method: Method, instruments: list[str], scenario: Scenario) -> None:
    if not instruments:
        raise ScenarioError(
            f"'{method.name}' needs an instrument with a voltage_circuit (for example "
            '"20 kohm"): its star point exists only through the currents in the voltage circuits',
            "method, instrument",
        )
    for name in instruments:
        if math.isinf(scenario.instrument[name].voltage_circuit[0].real):
            raise ScenarioError(
                f"'{method.name}' needs it (for example \"20 kohm\"): its star point exists only "
                "through the currents in the voltage circuits",
                f"instrument '{name}', voltage_circuit",
            )


def equal_resistor(table: MethodTable, instrument: str, scenario: Scenario) -> complex:
    """Give the impedance of a voltage circuit, seen from the primary of its transformer.

    Parameters
    ----------
    table : MethodTable
        A method whose external resistors are equal to the voltage circuit.
    instrument : str
        The instrument it belongs to.
    scenario : Scenario
        The scenario; its numbers may be arrays of many cases.

    Returns
    -------
    complex
        The impedance [ohm].
    """
    impedance, inductance = scenario.instrument[instrument].voltage_circuit
    impedance += 2j * math.pi * scenario.supply.frequency * inductance
    if table.voltage_transformer:
        name = table.voltage_transformer
        transformer = _transformer(name, scenario.voltage_transformer[name])
        impedance = transformer.seen_from_primary(impedance)
    return impedance

"""From values of quantities to an arrangement, by the same code that converts a scenario file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from simulator.scenario.build import build, expand_method
from simulator.scenario.to_installation import load_of, supply_of
from simulator.scenario.to_meters import MeterBuilder, equal_resistor

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from simulator.metering.arrangement import Arrangement
    from simulator.metering.meters import SeparateImpedance
    from simulator.scenario.build import Measurement
    from simulator.scenario.models import Scenario
    from simulator.studies.kinds import Value
    from simulator.studies.paths import Address, Quantity

    Array = npt.NDArray[Any]


def whole_of(measurement: Measurement) -> Arrangement:
    """Put the meters of all stations into one arrangement.

    Parameters
    ----------
    measurement : Measurement
        The measurement.

    Returns
    -------
    Arrangement
        Everything there is.
    """
    first = next(iter(measurement.stations.values()))
    return replace(first, wattmeters=measurement.wattmeters)


@dataclass(frozen=True)
class Conversion:
    """A scenario, and which of its quantities are to have other values.

    Attributes
    ----------
    scenario : Scenario
        The scenario.
    quantities : tuple of Quantity
        The quantities, in the order of the values.
    """

    scenario: Scenario
    quantities: tuple[Quantity, ...]

    @cached_property
    def plain(self) -> Scenario:
        """The scenario with its method written out."""
        return expand_method(self.scenario)

    @cached_property
    def whole(self) -> Arrangement:
        """What the scenario itself describes."""
        return whole_of(build(self.scenario))

    def arrangement(self, values: Sequence[Value | Array]) -> Arrangement:
        """Convert one case, or many.

        Parameters
        ----------
        values : sequence of complex or float, or of ndarray of shape (n,)
            A value for each quantity, in the unit shown.

        Returns
        -------
        Arrangement
            What the scenario would describe with these values.

        Raises
        ------
        ScenarioError
            If the values contradict each other or the scenario.
        TypeError, ValueError
            If arrays hold cases that have to be converted apart.
        """
        scenario = self.plain
        for quantity, value in zip(self.quantities, values, strict=True):
            if quantity.address:
                scenario = put(scenario, quantity.address, quantity.kind.stored(value))
        whole = self.whole if scenario is self.plain else self._rebuilt(scenario)
        for quantity, value in zip(self.quantities, values, strict=True):
            if quantity.place:
                whole = quantity.place(whole, value)
        return whole

    def _rebuilt(self, scenario: Scenario) -> Arrangement:
        """Convert anew what can have changed."""
        old, whole = self.plain, self.whole
        conductors, supply = whole.conductors, whole.supply
        if scenario.supply is not old.supply:
            supply = supply_of(scenario.supply, conductors)
        loads = tuple(
            load
            if table is before and supply is whole.supply
            else load_of(table, load.name, conductors, supply)[0]
            for load, table, before in zip(whole.loads, scenario.load, old.load, strict=True)
        )
        meters = MeterBuilder(scenario, conductors, supply.frequency)
        return replace(
            whole,
            supply=supply,
            loads=loads,
            wattmeters=meters.wattmeters(),
            voltmeters=meters.voltmeters(),
            ammeters=meters.ammeters(),
            impedances=self._impedances(scenario),
        )

    def _impedances(self, scenario: Scenario) -> tuple[SeparateImpedance, ...]:
        """Let the resistors of a method follow the voltage circuit that they are equal to."""
        given, method = self.whole.impedances, self.scenario.method
        n = len(given) - len(self.scenario.impedance)
        if method is None or method.resistors or not n:
            return given
        Z = equal_resistor(method, scenario.wattmeter[0].instrument or "", scenario)
        return given[:-n] + tuple(replace(each, impedance=Z) for each in given[-n:])


def put(table: Any, address: Address, value: Any) -> Any:
    """Put a value into tables, without checking them anew.

    Parameters
    ----------
    table : Table or list or dict
        Where the address starts.
    address : tuple of str or int
        Names of keys and places in lists.
    value : object
        What the last of them is to hold.

    Returns
    -------
    Table or list or dict
        A copy that shares what is unchanged.
    """
    key, *rest = address
    if isinstance(table, list):
        copy = list(table)
        copy[key] = put(table[key], tuple(rest), value) if rest else value  # type: ignore[index]
        return copy
    if isinstance(table, dict):
        return {**table, key: put(table[key], tuple(rest), value) if rest else value}
    inner = getattr(table, str(key))
    return table.model_copy(update={key: put(inner, tuple(rest), value) if rest else value})

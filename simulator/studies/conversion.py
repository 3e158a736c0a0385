"""From values of quantities to an arrangement, by the same code that converts a scenario file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from simulator.metering.catalogue import METHODS
from simulator.scenario.build import build, expand_method
from simulator.scenario.to_installation import load_of, supply_of
from simulator.scenario.to_meters import MeterBuilder

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.metering.arrangement import Arrangement
    from simulator.scenario.build import Measurement
    from simulator.scenario.models import Scenario
    from simulator.studies.kinds import Value
    from simulator.studies.paths import Address, Quantity


def plain(scenario: Scenario) -> Scenario:
    """Write out a scenario's method, unless what it expands to depends on its quantities.

    Parameters
    ----------
    scenario : Scenario
        Any scenario.

    Returns
    -------
    Scenario
        The same measurement.
    """
    method = scenario.method
    if method is None:
        return scenario
    equal = method.resistors is None and "resistors" in getattr(
        METHODS.get(method.name), "options", ()
    )
    return scenario if equal else expand_method(scenario)


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
        The scenario, as `plain` gives it.
    quantities : tuple of Quantity
        The quantities, in the order of the values.
    """

    scenario: Scenario
    quantities: tuple[Quantity, ...]

    @cached_property
    def whole(self) -> Arrangement:
        """What the scenario itself describes."""
        return whole_of(build(self.scenario))

    def arrangement(self, values: Sequence[Value]) -> Arrangement:
        """Convert one case.

        Parameters
        ----------
        values : sequence of complex or float
            A value for each quantity, in the unit shown.

        Returns
        -------
        Arrangement
            What the scenario would describe with these values.

        Raises
        ------
        ScenarioError
            If the values contradict each other or the scenario.
        """
        scenario = self.scenario
        for quantity, value in zip(self.quantities, values, strict=True):
            if quantity.address:
                scenario = put(scenario, quantity.address, quantity.kind.stored(value))
        whole = self.whole if scenario is self.scenario else self._rebuilt(scenario)
        for quantity, value in zip(self.quantities, values, strict=True):
            if quantity.place:
                whole = quantity.place(whole, value)
        return whole

    def _rebuilt(self, scenario: Scenario) -> Arrangement:
        """Convert anew what can have changed."""
        if scenario.method is not None:
            return whole_of(build(scenario))
        old, whole = self.scenario, self.whole
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
        )


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

"""The circuit of a problem: an installation and a method, as a scenario and in words."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from simulator.findings.result import Result, solve
from simulator.installation.conductors import Conductors
from simulator.metering.catalogue import METHODS, expand
from simulator.reports.practice.installations import Installation, balanced, unbalanced
from simulator.scenario.reader import scenario_from

if TYPE_CHECKING:
    from random import Random

    from simulator.reports.practice.problem import Level

Tables = dict[str, Any]
KILOHMS = (10, 20, 30, 40)


@dataclass(frozen=True)
class Circuit:
    """What is measured, and how.

    Attributes
    ----------
    installation : Installation
        Supply and load.
    method : str
        The method of the catalogue.
    meters : dict
        Its tables: instruments, wattmeters, total.
    told : tuple of str
        Where the wattmeters are, in words.
    """

    installation: Installation
    method: str
    meters: Tables
    told: tuple[str, ...]

    @cached_property
    def tables(self) -> Tables:
        """The whole scenario."""
        return {"title": f"Practice: {self.method}"} | self.installation.tables | self.meters

    @cached_property
    def result(self) -> Result:
        """The scenario, solved."""
        return solve(scenario_from(self.tables))

    @property
    def all_told(self) -> tuple[str, ...]:
        """Supply, load and wattmeters in words."""
        return (*self.installation.told, *self.told)

    def with_other(self, **changed: Any) -> Result:
        """Solve the circuit with other tables.

        Parameters
        ----------
        **changed
            Tables that take the place of those with the same names.

        Returns
        -------
        Result
            Its result.
        """
        return solve(scenario_from(self.tables | changed))


ALWAYS_BALANCED = (
    "one wattmeter with artificial neutral",
    "one wattmeter for reactive power",
    "two wattmeters for reactive power",
)
"""Methods whose problems are about balanced loads."""
UNBALANCED_FROM = {
    "one wattmeter to neutral": 2,
    "one wattmeter, two positions": 3,
    "two wattmeters": 3,
    "three wattmeters to neutral": 1,
    "three wattmeters to a floating star point": 2,
    "three wattmeters to a line": 3,
    "one wattmeter moved in turn": 1,
    "three wattmeters for reactive power": 2,
    "two elements, difference currents": 2,
}
"""Level from which on the problems of a method are about unbalanced loads."""


def any_circuit(shape: Random, random: Random, method: str, level: Level) -> Circuit:
    """Draw a circuit for a method.

    Parameters
    ----------
    shape, random : Random
        Where the kind of circuit and its numbers come from.
    method : str
        A method of the catalogue.
    level : int
        1 to 3.

    Returns
    -------
    Circuit
        Its supply, load and wattmeters.
    """
    wires = METHODS[method].wires[0]
    if len(METHODS[method].wires) > 1 and level > 1:
        wires = shape.choice(METHODS[method].wires)
    if method == "two wattmeters" and level == 3:
        wires = shape.choice((3, 4))  # where it is wrong
    skewed = level >= UNBALANCED_FROM.get(method, 4)
    installation = (unbalanced if skewed else balanced)(shape, random, wires, level)
    return circuit(shape, random, installation, method, level)


def circuit(  # noqa: PLR0913  (what is measured, and how)
    shape: Random,
    random: Random,
    installation: Installation,
    method: str,
    level: Level,
    *,
    equal: bool = False,
) -> Circuit:
    """Put the wattmeters of a method before an installation.

    Parameters
    ----------
    shape, random : Random
        Where the kind of circuit and its numbers come from.
    installation : Installation
        Supply and load.
    method : str
        A method of the catalogue, on any number of wires: its use may be wrong.
    level : int
        From 2 on the line or the common line varies; at 3 voltage circuits may be unequal.
    equal : bool, optional
        Whether voltage circuits that make a star point are equal at any level.

    Returns
    -------
    Circuit
        The whole.
    """
    how = METHODS[method]
    wires = installation.tables["supply"]["wires"]
    conductors = Conductors(neutral="N" if wires == 4 else None)
    options: Tables = {}
    if level > 1 and how.options:
        key = "common" if "common" in how.options else "line"
        options[key] = shape.choice(conductors.lines)
    values = _kilohms(random, method, unequal=level == 3 and not equal)
    instruments = {f"r{value}": {"voltage_circuit": f"{value} kohm"} for value in values}
    single = how.n_wattmeters == 1
    names = [f"r{value}" for value in values[:1] if single] or [f"r{value}" for value in values]
    resistors = [f"{value} kohm" for value in values[1:] if single]
    meters = expand(how, conductors, options, names, resistors)
    if values:
        meters["instrument"] = {name: instruments[name] for name in names}
    told = (_placed(method, meters), *_star_point(values, single=single))
    return Circuit(installation, method, meters, told)


def _placed(method: str, meters: Tables) -> str:
    """Say where the wattmeters are."""
    places = []
    for table in meters["wattmeter"]:
        current = table["current"]
        if isinstance(current, list):
            current = " − ".join(part.strip("-") for part in current)
        turn = f" (position {table['station']})" if "station" in table else ""
        start, end = table["voltage"]
        places.append(f"{table['name']}{turn} with I {current} and V {start}-{end}")
    return f"{method[0].upper()}{method[1:]}: {'; '.join(places)}."


def _kilohms(random: Random, method: str, *, unequal: bool) -> list[int]:
    """Draw the resistances [kohm] that make a star point, the wattmeter's own first."""
    if not METHODS[method].needs_voltage_circuit:
        return []
    values = [20, 20, 20]
    while unequal and len(set(values)) == 1:
        values = [random.choice(KILOHMS) for _ in values]
    return values


def _star_point(values: list[int], *, single: bool) -> tuple[str, ...]:
    """Say what a star point is made of."""
    if not values:
        return ()
    first, second, third = (f"{value} kΩ" for value in values)
    same = len(set(values)) == 1
    if single:
        two = (
            f"two resistors of {second}" if second == third else f"resistors of {second} from the "
        )
        two += "" if second == third else f"next line in cyclic order and {third} from the last"
        return (f"P is a star point made of the voltage circuit, {first}, and {two}.",)
    each = f"each {first}" if same else f"{first}, {second} and {third}"
    return (f"P is where the voltage circuits meet, {each}.",)

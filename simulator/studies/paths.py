"""The quantities of a scenario that can vary, by the words of the file: ``"ovens: L2"``.

A quantity that the file has a key for is changed in the scenario's tables and goes through the
same conversion as the file; one that it may say in several ways is put into the arrangement.
"""

from __future__ import annotations

import cmath
import difflib
import math
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from simulator.errors import QuantityError, ScenarioError
from simulator.quantities import PowerFactor
from simulator.scenario.fields import LINES
from simulator.scenario.models import Parts, RatingTable
from simulator.scenario.words import shown
from simulator.studies import kinds, places

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from simulator.installation.loads import Load
    from simulator.metering.arrangement import Arrangement
    from simulator.scenario.models import LoadTable, Scenario
    from simulator.studies.kinds import Kind, Value

Address = tuple[str | int, ...]


@dataclass(frozen=True)
class Quantity:
    """A quantity that can vary.

    Attributes
    ----------
    path : str
        Its name, in the words of the file.
    kind : Kind
        What values it has.
    base : complex or float or None
        Its value in the scenario; None where that is no single one.
    address : tuple
        Where it stands in the scenario's tables; empty if it is put into the arrangement.
    place : callable or None
        What puts it into an arrangement.
    frequency : float
        Frequency at which an inductance is an impedance [Hz].
    is_emf : bool
        Whether it is the emf of one line.
    """

    path: str
    kind: Kind
    base: Value | None
    address: Address = ()
    place: Callable[[Arrangement, Any], Arrangement] | None = None
    frequency: float = 0.0
    is_emf: bool = False

    def read(self, text: object) -> Value:
        """Read one of its values.

        Parameters
        ----------
        text : object
            The value as one writes it in the file.

        Returns
        -------
        complex or float
            The value, in the unit shown.

        Raises
        ------
        QuantityError
            If it is none.
        """
        try:
            value = self.kind.read(text)
        except QuantityError as error:
            raise QuantityError(error.message, self.path) from error
        if isinstance(value, tuple):  # a voltage circuit with its inductance
            value = value[0] + 2j * math.pi * self.frequency * value[1]
        if self.kind is kinds.PHASOR and isinstance(text, str) and self.base is not None:
            alone = not any(sign in text for sign in "@∠j")
            if alone:  # a voltage without an angle keeps that of the scenario
                value = abs(value) * kinds.direction_of(self.base)
        found: Value = value
        return found


def quantities_of(scenario: Scenario, whole: Arrangement) -> dict[str, Quantity]:
    """List everything that can vary.

    Parameters
    ----------
    scenario : Scenario
        The scenario, with plain wattmeters.
    whole : Arrangement
        What it describes, with the meters of all stations.

    Returns
    -------
    dict of str to Quantity
        By path.
    """
    found = [*_of_supply(scenario, whole)]
    for k, (table, load) in enumerate(zip(scenario.load, whole.loads, strict=True)):
        found += _of_load(k, table, load, whole)
    for z in whole.impedances:
        place = partial(places.put_impedance, name=z.name)
        name = z.name if z.name.startswith("impedance ") else f"impedance {z.name}"
        found.append(Quantity(f"{name}: value", kinds.PASSIVE, z.impedance, place=place))
    found += [*_of_instruments(scenario), *_of_transformers(scenario)]
    known: dict[str, Quantity] = {}
    for quantity in found:
        path = quantity.path
        if path in known:  # a load that is called "supply"
            path = f"load {path}"
        known[path] = replace(quantity, path=path)
    return known


def find_quantity(path: str, known: Mapping[str, Quantity]) -> Quantity:
    """Find a quantity by its path.

    Parameters
    ----------
    path : str
        The path; the word before a load's or an impedance's name may be there or not.
    known : mapping of str to Quantity
        All quantities by path.

    Returns
    -------
    Quantity
        The quantity.

    Raises
    ------
    ScenarioError
        If there is none; it names the nearest.
    """
    name, _, key = (part.strip() for part in path.rpartition(":"))
    backwards = "-".join(reversed(key.split("-")))
    for start in (name, name.removeprefix("load "), f"impedance {name}"):
        for end in (key, backwards):
            if f"{start}: {end}" in known:
                return known[f"{start}: {end}"]
    nearest = difflib.get_close_matches(path, known, n=1, cutoff=0.5)
    hint = f"did you mean '{nearest[0]}'?" if nearest else "'blondel vary FILE' lists what there is"
    raise ScenarioError(f"there is no quantity {shown(path)} to vary; {hint}")


# What the words of the file are called, and of which kind they are.
_SEQUENCE = ("positive", "negative", "zero")
_RATING = {
    "power": kinds.ACTIVE_POWER,
    "apparent_power": kinds.APPARENT_POWER,
    "reactive_power": kinds.REACTIVE_POWER,
    "current": kinds.CURRENT,
    "power_factor": kinds.POWER_FACTOR,
    "at": kinds.VOLTAGE,
}
_PARTS = {
    "resistance": kinds.RESISTANCE,
    "inductance": kinds.INDUCTANCE,
    "capacitance": kinds.CAPACITANCE,
}
_CIRCUIT = {
    "R1": kinds.REACTANCE,
    "X1": kinds.REACTANCE,
    "R2": kinds.SOME_OHMS,
    "X2": kinds.REACTANCE,
    "Xm": kinds.SOME_OHMS,
}
_CHANNEL = {"gain_error": kinds.ERROR, "phase_error": kinds.DISPLACEMENT}
_ERRORS = {"ratio_error": kinds.ERROR, "phase_displacement": kinds.DISPLACEMENT}
_PHYSICAL = {"magnetising": kinds.NONZERO, "winding": kinds.CLOSED}
_BURDEN = {"current_transformer": kinds.CLOSED, "voltage_transformer": kinds.NONZERO}


def _of_supply(scenario: Scenario, whole: Arrangement) -> Iterator[Quantity]:
    table, supply, conductors = scenario.supply, whole.supply, whole.conductors
    if table.voltage is not None:
        yield Quantity("supply: voltage", kinds.VOLTAGE, table.voltage, ("supply", "voltage"))
    if table.sequence_voltages:
        for key in _SEQUENCE:
            address = ("supply", "sequence_voltages", key)
            value = getattr(table.sequence_voltages, key)
            yield Quantity(f"supply: {key}", kinds.PHASOR, value, address)
    for k, line in enumerate(conductors.lines):
        place = partial(places.put_emf, line=k)
        yield Quantity(f"supply: {line}", kinds.PHASOR, supply.emfs[k], (), place, is_emf=True)
    for k, line in enumerate(conductors.lines):
        place = partial(places.scale_emf, line=k)
        yield Quantity(f"supply: unbalance {line}", kinds.UNBALANCE, 0.0, (), place, is_emf=True)
    yield Quantity("supply: frequency", kinds.FREQUENCY, table.frequency, ("supply", "frequency"))
    groups: dict[str, tuple[int, ...]] = {"line_impedance": (0, 1, 2)}
    groups |= {f"line_impedance {line}": (k,) for k, line in enumerate(conductors.lines)}
    for key, lines in groups.items():
        place = partial(places.put_line_impedance, lines=lines)
        base = _common(supply.line_impedances[k] for k in lines)
        yield Quantity(f"supply: {key}", kinds.PASSIVE, base, place=place)
    if conductors.neutral:
        yield Quantity(
            "supply: neutral_impedance",
            kinds.PASSIVE,
            supply.neutral_impedance,
            place=places.put_neutral_impedance,
        )


def _of_load(k: int, table: LoadTable, load: Load, whole: Arrangement) -> Iterator[Quantity]:
    name, address = load.name, ("load", k)
    kind = kinds.ACTIVE if table.active else kinds.PASSIVE
    for branch in load.branches:
        place = partial(places.put_branches, load=name, branches=(branch.name,))
        yield Quantity(f"{name}: {branch.name}", kind, branch.impedance, place=place)
    if load.branches:
        every = tuple(branch.name for branch in load.branches)
        Z = [branch.impedance for branch in load.branches]
        place = partial(places.put_branches, load=name, branches=every)
        yield Quantity(f"{name}: each", kind, _common(Z), place=place)
        phi = _common(round(math.degrees(cmath.phase(z)), 9) for z in Z if cmath.isfinite(z))
        factor = None if phi is None else math.copysign(math.cos(math.radians(phi)), phi)
        place = partial(places.set_power_factor, load=name)
        yield Quantity(f"{name}: power_factor", kinds.POWER_FACTOR, factor, place=place)
        place = partial(places.turn_branches, load=name)
        yield Quantity(f"{name}: angle", kinds.ANGLE, phi, place=place)
        for branch in load.branches:
            place = partial(places.unbalance_branch, load=name, branch=branch.name)
            yield Quantity(f"{name}: unbalance {branch.name}", kinds.UNBALANCE, 0.0, place=place)
    yield from _by_rating_or_parts(name, address, table, whole)
    if table.slip is not None:
        kind = kinds.ACTIVE_SLIP if table.active else kinds.SLIP
        yield Quantity(f"{name}: slip", kind, table.slip, (*address, "slip"))
        for key, kind in _CIRCUIT.items():
            base = getattr(table.circuit, key)
            yield Quantity(f"{name}: circuit {key}", kind, base, (*address, "circuit", key))
    lines, neutral = whole.conductors.lines, whole.conductors.neutral
    groups = {"lead_impedance": lines} | {f"lead_impedance {line}": (line,) for line in lines}
    if neutral and neutral in {end for b in load.branches for end in (b.start, b.end)}:
        groups["neutral_lead"] = (neutral,)
    for key, conductors in groups.items():
        place = partial(places.put_leads, load=name, conductors=conductors)
        base = _common(load.leads.get(c, 0j) for c in conductors)
        yield Quantity(f"{name}: {key}", kinds.PASSIVE, base, place=place)


def _by_rating_or_parts(
    name: str, address: Address, table: LoadTable, whole: Arrangement
) -> Iterator[Quantity]:
    """Yield the keys of a rating or of parts, under ``each``, ``total`` or their branch."""
    given = {"each": table.each, "total": table.total} | table.given_lines() | table.given_pairs()
    own = dict(zip(LINES, whole.conductors.lines, strict=True))
    for key, value in given.items():
        if not isinstance(value, RatingTable | Parts):
            continue
        known = _RATING if isinstance(value, RatingTable) else _PARTS
        words = "-".join(own.get(part, part) for part in key.split("-"))
        field = _field_of(table, key)
        for part, kind in known.items():
            base = getattr(value, part)
            if base is None:
                continue
            if isinstance(base, PowerFactor):
                base = -base.value if base.sense == "lead" else base.value
            yield Quantity(f"{name}: {words} {part}", kind, base, (*address, field, part))


def _field_of(table: LoadTable, key: str) -> str:
    """Find under which name a branch stands in the table: a pair may be written either way."""
    both = key.replace("-", "_"), "_".join(reversed(key.split("-")))
    return next(name for name in both if getattr(table, name) is not None)


def _of_instruments(scenario: Scenario) -> Iterator[Quantity]:
    frequency = scenario.supply.frequency
    for name, instrument in scenario.instrument.items():
        known = {
            "current_circuit": kinds.CLOSED,
            "voltage_circuit": kinds.COMPENSATED_CIRCUIT
            if instrument.compensated
            else kinds.VOLTAGE_CIRCUIT,
        }
        for key, kind in (known | (_CHANNEL if instrument.kind == "electronic" else {})).items():
            base = getattr(instrument, key)
            if isinstance(base, tuple):
                base = base[0] + 2j * math.pi * frequency * base[1]
            if kind is kinds.ERROR:
                base *= 100
            path, address = f"instrument {name}: {key}", ("instrument", name, key)
            yield Quantity(path, kind, base, address, frequency=frequency)


def _of_transformers(scenario: Scenario) -> Iterator[Quantity]:
    for group in ("current_transformer", "voltage_transformer"):
        for name, transformer in getattr(scenario, group).items():
            physical = transformer.magnetising is not None or transformer.winding is not None
            own = _PHYSICAL if physical else _ERRORS
            for key, kind in (own | {"leads": kinds.CLOSED, "burden": _BURDEN[group]}).items():
                base = getattr(transformer, key)
                if kind is kinds.ERROR:
                    base = 100 * (base or 0.0)
                elif kind is kinds.DISPLACEMENT:
                    base = base or 0.0
                yield Quantity(f"{group} {name}: {key}", kind, base, (group, name, key))


def _common(values: Any) -> Any:
    """Give the one value that all have, or None."""
    different = list(dict.fromkeys(values))
    return different[0] if len(different) == 1 else None

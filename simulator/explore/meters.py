"""Meters as the controls have left them: method, voltage circuits, reversed circuits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.errors import ScenarioError
from simulator.explore.circuit import DIGITS
from simulator.explore.controls import OWN
from simulator.explore.state import CIRCUITS
from simulator.formatting import format_impedance
from simulator.installation.conductors import EARTH
from simulator.metering.catalogue import METHODS, STAR_POINT
from simulator.quantities import OPEN, parse_impedance, parse_voltage_circuit
from simulator.scenario.reader import scenario_from
from simulator.scenario.to_installation import conductors_of
from simulator.scenario.to_meters import write_out

if TYPE_CHECKING:
    from simulator.explore.base import Base, Tables
    from simulator.explore.controls import Control
    from simulator.explore.state import Reversals, State

_COILS = ("coil1", "coil2", "coil3")
_TRANSFORMERS = ("current_transformer", "voltage_transformer")
_FEEDING = (*_TRANSFORMERS, "voltage_tap")
_PORTABLE = {"voltage_circuit": "20 kohm"}


@dataclass(frozen=True)
class Meters:
    """Meters of a situation.

    Attributes
    ----------
    tables : dict
        The tables "instrument", "impedance", "wattmeter" and "total", or "method".
    coils : tuple of str
        What makes up the star point of voltage circuits, in words; empty without one.
    reversals : frozenset of (str, str)
        Wattmeter and circuit, for each reversed circuit.
    line_means : str
        What the chosen line is in this method; empty if there is none to choose.
    """

    tables: Tables
    coils: tuple[str, ...]
    reversals: Reversals
    line_means: str


def changed_meters(base: Base, controls: dict[str, Control], state: State) -> Meters:
    """Write the meters.

    Parameters
    ----------
    base : Base
        What the page started from.
    controls : dict of str to Control
        What can be moved.
    state : State
        Where the controls stand.

    Returns
    -------
    Meters
        Their tables, and what the controls act on.

    Raises
    ------
    ScenarioError
        If the method does not fit the supply or the file.
    """
    name = state.value(controls["method"])
    short = _as_given(base, name, state, controls)
    plain = short if name == OWN else _written_out(base, short)
    branches = _star_branches(plain, base)
    own = _reversals(plain)
    reversals = own if state.reversals is None else state.reversals
    scales = [1 + state.number(controls[coil]) / 100 for coil in _COILS][: len(branches)]
    same = all(scale == 1 for scale in scales) and reversals == own
    if same and (name == OWN or base.conductors.wires in METHODS[name].wires):
        tables = short
    else:
        tables = _reverse(_scale(plain, branches, scales), reversals)
    options = () if name == OWN else METHODS[name].options
    means = {"common": "Common line", "line": "Line of the current circuit"}
    return Meters(
        tables,
        tuple(_called(kind, table) for kind, table in branches[:3]),
        reversals,
        next((means[option] for option in options if option in means), ""),
    )


def _as_given(base: Base, name: str, state: State, controls: dict[str, Control]) -> Tables:
    """Give the meters as a person would write them: the file's own, or a method by its name."""
    document = base.document
    kept: Tables = {key: document[key] for key in ("instrument", "impedance") if key in document}
    if name == OWN:
        return kept | {key: document[key] for key in ("wattmeter", "total") if key in document}
    if name == base.method:
        table = dict(document["method"])
    else:
        kept, table = _fresh(base, name, kept)
    for option in ("line", "common"):
        if option in METHODS[name].options and (name != base.method or state.moves("line")):
            table[option] = state.value(controls["line"])
    return kept | {"method": table}


def _fresh(base: Base, name: str, kept: Tables) -> tuple[Tables, Tables]:
    """Write a method that the file does not have, with the instruments and transformers it has."""
    own = _own(base)
    mine = [table for kind, table in _star_branches(own, base) if kind == "impedance"]
    kept = dict(kept)
    kept["impedance"] = [table for table in kept.get("impedance", []) if table not in mine]
    first: Tables = next(iter(own.get("wattmeter", [])), {})
    table: Tables = {"name": name} | {key: first[key] for key in _FEEDING if key in first}
    instrument = first.get("instrument")
    if METHODS[name].needs_voltage_circuit:
        _check_star_point(base, kept)
        if instrument is None or not _has_circuit(kept["instrument"][instrument]):
            instrument = "portable of the page" if base.is_file else "portable"
            kept["instrument"] = kept.get("instrument", {}) | {instrument: _PORTABLE}
    if instrument is not None:
        table["instrument"] = instrument
    return {key: value for key, value in kept.items() if value}, table


def _own(base: Base) -> Tables:
    """Give the file's meters as plain wattmeters."""
    if base.method:
        return _written_out(base, base.document)
    return base.document


def _check_star_point(base: Base, kept: Tables) -> None:
    used = {load.star_point for load in base.loads}
    for key in ("impedance", "voltmeter"):
        tables: list[Tables] = (kept if key in kept else base.document).get(key, [])
        used |= {node for table in tables for node in table["between"]}
    if STAR_POINT in used:
        raise ScenarioError(
            f"this method makes a star point '{STAR_POINT}', but the file calls a node so already",
            "method",
        )


def _written_out(base: Base, tables: Tables) -> Tables:
    """Write a method out as wattmeters; one for three wires also where there are four."""
    allowed = METHODS[tables["method"]["name"]].wires
    wires = 3 if base.conductors.wires == 4 and 4 not in allowed else base.conductors.wires
    document: Tables = {
        "title": "the meters alone",
        "labels": list(base.labels),
        "supply": {
            "wires": wires,
            "voltage": "400 V",
            "frequency": f"{base.supply.frequency!r} Hz",
        },
        **{key: base.document[key] for key in _TRANSFORMERS if key in base.document},
        **{key: tables[key] for key in ("instrument", "method") if key in tables},
    }
    scenario = scenario_from(document)
    assert scenario.method is not None  # noqa: S101  (it has just been written)
    plain = write_out(scenario.method, scenario, conductors_of(base.labels, wires))
    impedances = [*tables.get("impedance", []), *plain.pop("impedance", [])]
    kept = {"instrument": tables["instrument"]} if "instrument" in tables else {}
    return kept | ({"impedance": impedances} if impedances else {}) | plain


def _has_circuit(instrument: Tables) -> bool:
    return parse_voltage_circuit(instrument.get("voltage_circuit", "open"))[0] != OPEN


def _star_branches(plain: Tables, base: Base) -> list[tuple[str, Tables]]:
    """Find the voltage circuits and impedances that meet at a star point of the meters."""
    fixed = {*base.labels, EARTH, "neutral"} | {load.star_point for load in base.loads}
    instruments = plain.get("instrument", {})
    meters = plain.get("wattmeter", [])
    points = {node for table in meters for node in table["voltage"]} - fixed
    circuits = [
        ("wattmeter", table)
        for table in meters
        if points & set(table["voltage"])
        and _has_circuit(instruments.get(table.get("instrument"), {}))
    ]
    impedances = [
        ("impedance", table)
        for table in plain.get("impedance", [])
        if points & set(table["between"])
    ]
    return circuits + impedances


def _called(kind: str, table: Tables) -> str:
    if kind == "wattmeter":
        return f"Ohms in {table['name']}'s voltage circuit"
    name = table.get("name", "impedance")
    return f"{name} from {' to '.join(table['between'])}"


def _scale(plain: Tables, branches: list[tuple[str, Tables]], scales: list[float]) -> Tables:
    """Scale what makes up the star point; a wattmeter gets an instrument of its own for that."""
    instruments = dict(plain.get("instrument", {}))
    new: dict[int, Tables] = {}
    for (kind, table), scale in zip(branches, scales, strict=False):
        if scale == 1:
            continue
        if kind == "impedance":
            value = parse_impedance(table["value"])
            text = "open" if value == OPEN else format_impedance(value * scale, DIGITS)
            new[id(table)] = table | {"value": text}
            continue
        old = instruments[table["instrument"]]
        impedance, inductance = parse_voltage_circuit(old["voltage_circuit"])
        text = format_impedance(impedance * scale, DIGITS)
        text += f", {inductance!r} H" if inductance else ""
        name = f"{table['instrument'][:40]} of {table['name'][:16]}"
        instruments[name] = old | {"voltage_circuit": text}
        new[id(table)] = table | {"instrument": name}
    changed = dict(plain)
    if instruments:
        changed["instrument"] = instruments
    for key in ("wattmeter", "impedance"):
        if key in plain:
            changed[key] = [new.get(id(table), table) for table in plain[key]]
    return changed


def _reversals(plain: Tables) -> Reversals:
    return frozenset(
        (table["name"], circuit)
        for table in plain.get("wattmeter", [])
        for circuit in table.get("reversed", [])
    )


def _reverse(plain: Tables, reversals: Reversals) -> Tables:
    wattmeters = []
    for table in plain.get("wattmeter", []):
        circuits = [c for c in CIRCUITS if (table["name"], c) in reversals]
        others = {key: value for key, value in table.items() if key != "reversed"}
        wattmeters.append(others | ({"reversed": circuits} if circuits else {}))
    return plain | ({"wattmeter": wattmeters} if wattmeters else {})

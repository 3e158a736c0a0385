"""The catalogue of methods as text, as an object, written out, and as a first file to edit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator.metering.catalogue import METHODS
from simulator.scenario.reader import scenario_from
from simulator.scenario.to_installation import conductors_of
from simulator.scenario.to_meters import lookup, write_out
from simulator.scenario.writer import to_toml

if TYPE_CHECKING:
    from simulator.metering.catalogue import Method

Document = dict[str, Any]

_INSTRUMENT = {
    "portable": {
        "current_circuit": "0.03+0.01j ohm",
        "voltage_circuit": "20 kohm",
        "current_range": "5 A",
        "voltage_range": "480 V",
        "accuracy_class": 0.5,
    }
}


def catalogue_text(name: str | None, *, expand: bool) -> str:
    """Write the catalogue, or one method of it, for a person.

    Parameters
    ----------
    name : str or None
        The method; None for all.
    expand : bool
        Whether to write out the wattmeters and the formula it stands for.

    Returns
    -------
    str
        The text.

    Raises
    ------
    ScenarioError
        If there is no such method.
    """
    if expand and name is not None:
        return to_toml(written_out(_method(name)))
    methods = METHODS.values() if name is None else [_method(name)]
    return "\n".join(
        f"{m.name}\n  {' or '.join(str(n) for n in m.wires)} wires; {m.meters}\n"
        f"  {'reactive ' if m.reactive else ''}total {m.total}"
        + (f"; chosen by {' and '.join(m.options)}" if m.options else "")
        + "\n"
        for m in methods
    )


def catalogue_object(name: str | None, *, expand: bool) -> Document:
    """Turn the catalogue, or one method of it, into the object that ``--json`` prints.

    Parameters
    ----------
    name : str or None
        The method; None for all.
    expand : bool
        Whether to write out the wattmeters and the formula it stands for.

    Returns
    -------
    dict
        The object.

    Raises
    ------
    ScenarioError
        If there is no such method.
    """
    if name is None:
        return {"methods": [_object(m) for m in METHODS.values()]}
    method = _method(name)
    return _object(method) | (written_out(method) if expand else {})


def starter_text(name: str) -> str:
    """Write a first scenario file for a method, to be edited.

    Parameters
    ----------
    name : str
        The method.

    Returns
    -------
    str
        The file's text, with comments.

    Raises
    ------
    ScenarioError
        If there is no such method.
    """
    method = _method(name)
    lines = to_toml(_starter(method)).splitlines()
    commented = [line + _COMMENTS.get(line.split(" = ")[0], "") for line in lines]
    head = [
        f"# A first scenario: {method.name}. Change what differs at your place, then run",
        "#     blondel read FILE",
    ]
    return "\n".join([*head, *commented]) + "\n"


def written_out(method: Method) -> Document:
    """Write out the wattmeters and the formula that a method stands for.

    Parameters
    ----------
    method : Method
        The method.

    Returns
    -------
    dict
        Tables as a file would have them.
    """
    document = _starter(method)
    if not method.needs_voltage_circuit:
        del document["instrument"], document["method"]["instrument"]
    scenario = scenario_from(document)
    assert scenario.method is not None  # noqa: S101  (a starter has one)
    conductors = conductors_of(("L1", "L2", "L3", "N"), scenario.supply.wires)
    tables = write_out(scenario.method, scenario, conductors)
    return {key: document[key] for key in ("instrument",) if key in document} | tables


def _method(name: str) -> Method:
    return lookup(name, METHODS, "method", "")


def _object(method: Method) -> Document:
    return {
        "name": method.name,
        "wires": list(method.wires),
        "meters": method.meters,
        "quantity": "reactive power" if method.reactive else "active power",
        "total": method.total,
        "options": list(method.options),
        "needs_voltage_circuit": method.needs_voltage_circuit,
    }


def _starter(method: Method) -> Document:
    wires = method.wires[0]
    load: Document = {
        "name": "ovens",
        "connection": "star",
        "L1": "25 ohm",
        "L2": "25+10j ohm",
        "L3": "40 ohm @ 30 deg",
    }
    if wires == 4:
        load["star_point"] = "neutral"
    return {
        "title": f"My measurement: {method.name}",
        "supply": {
            "wires": wires,
            "voltage": "400 V",
            "frequency": "50 Hz",
            "sequence": "L1-L2-L3",
        },
        "load": [load],
        "instrument": _INSTRUMENT,
        "method": {"name": method.name, **_choices(method), "instrument": "portable"},
    }


def _choices(method: Method) -> Document:
    defaults = {"line": "L1", "common": "L2"}
    return {key: defaults[key] for key in method.options if key in defaults}


_COMMENTS = {
    "wires": "  # 3 or 4",
    "voltage": "  # line to line, rms",
    "sequence": '  # or "L3-L2-L1"',
    "connection": "  # star, delta, line-to-line, line-to-neutral or motor",
    "star_point": '  # or "isolated"',
    "L3": '  # also "50 ohm, 0.6 lag", "30+40j ohm", "open"',
    "voltage_circuit": '  # with an inductance: "20 kohm, 12 mH"',
    "accuracy_class": "  # percent of the fiducial value",
    "line": "  # the line whose current is measured",
    "common": "  # the line without a current circuit",
}

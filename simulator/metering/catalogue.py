"""The catalogue of measuring methods; each expands to plain wattmeters and a formula.

The expansion is what a person could have written by hand, in the words of the scenario file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from simulator.installation.conductors import Conductors

Table = dict[str, Any]
STAR_POINT = "P"


@dataclass(frozen=True)
class Method:
    """A method of the catalogue.

    Attributes
    ----------
    name : str
        Its name.
    wires : tuple of int
        Numbers of wires it may be used on.
    meters : str
        Which wattmeters go where, in words.
    total : str
        How the total is formed.
    options : tuple of str
        Keys of ``[method]`` that it understands, beside those common to all.
    place : Callable
        Places the wattmeters for given conductors and options.
    needs_voltage_circuit : bool
        Whether its star point exists only through currents in the voltage circuits.
    reactive : bool
        Whether the total is a reactive power.
    n_wattmeters : int
        Number of wattmeters (or positions of one).
    """

    name: str
    wires: tuple[int, ...]
    meters: str
    total: str
    place: Callable[[Conductors, Table], list[Table]]
    options: tuple[str, ...] = ()
    needs_voltage_circuit: bool = False
    reactive: bool = False
    n_wattmeters: int = 1


def _meter(name: str, current: str | list[str], start: str, end: str, station: int = 0) -> Table:
    table: Table = {"name": name, "current": current, "voltage": [start, end]}
    return table | ({"station": station} if station else {})


def _others(conductors: Conductors, line: str) -> tuple[str, str]:
    """Give the two other lines, in cyclic label order after a line."""
    k = conductors.lines.index(line)
    return conductors.lines[(k + 1) % 3], conductors.lines[(k + 2) % 3]


def _to_neutral(conductors: Conductors, options: Table) -> list[Table]:
    line = options.get("line", conductors.lines[0])
    return [_meter("W", line, line, str(conductors.neutral))]


def _artificial_neutral(conductors: Conductors, options: Table) -> list[Table]:
    line = options.get("line", conductors.lines[0])
    return [_meter("W", line, line, STAR_POINT)]


def _two_positions(conductors: Conductors, options: Table) -> list[Table]:
    line = options.get("line", conductors.lines[0])
    others = _others(conductors, line)
    return [_meter(f"W{k}", line, line, other, station=k) for k, other in enumerate(others, 1)]


def _two(conductors: Conductors, options: Table) -> list[Table]:
    common = options.get("common", conductors.lines[1])
    after, before = _others(conductors, common)
    return [_meter("W1", before, before, common), _meter("W2", after, after, common)]


def _three_to(conductors: Conductors, end: str, *, stations: bool = False) -> list[Table]:
    return [
        _meter(f"W{k}", line, line, end, station=k if stations else 0)
        for k, line in enumerate(conductors.lines, 1)
    ]


def _reactive_one(conductors: Conductors, options: Table) -> list[Table]:
    line = options.get("line", conductors.lines[0])
    return [_meter("W", line, *_others(conductors, line))]


def _reactive_three(conductors: Conductors, _: Table) -> list[Table]:
    return [
        _meter(f"W{k}", line, *_others(conductors, line))
        for k, line in enumerate(conductors.lines, 1)
    ]


def _difference(conductors: Conductors, _: Table) -> list[Table]:
    first, second, third = conductors.lines
    neutral = str(conductors.neutral)
    return [
        _meter("W1", [first, f"-{second}"], first, neutral),
        _meter("W2", [third, f"-{second}"], third, neutral),
    ]


_SUM3 = "W1 + W2 + W3"
METHODS: dict[str, Method] = {
    m.name: m
    for m in (
        Method(
            "one wattmeter to neutral",
            (4,),
            "current in one line, voltage from that line to the neutral",
            "3*W",
            _to_neutral,
            ("line",),
        ),
        Method(
            "one wattmeter with artificial neutral",
            (3,),
            "current in one line; its voltage circuit and two external resistors make a star point",
            "3*W",
            _artificial_neutral,
            ("line", "resistors"),
            needs_voltage_circuit=True,
        ),
        Method(
            "one wattmeter, two positions",
            (3,),
            "current in one line, voltage to each of the other lines in turn",
            "W1 + W2",
            _two_positions,
            ("line",),
            n_wattmeters=2,
        ),
        Method(
            "two wattmeters",
            (3,),
            "currents in two lines, voltages from each of them to the third",
            "W1 + W2",
            _two,
            ("common",),
            n_wattmeters=2,
        ),
        Method(
            "three wattmeters to neutral",
            (4,),
            "one in each line, voltages to the neutral",
            _SUM3,
            lambda c, _: _three_to(c, str(c.neutral)),
            n_wattmeters=3,
        ),
        Method(
            "three wattmeters to a floating star point",
            (3, 4),
            "one in each line, the voltage circuits joined in a star of their own",
            _SUM3,
            lambda c, _: _three_to(c, STAR_POINT),
            needs_voltage_circuit=True,
            n_wattmeters=3,
        ),
        Method(
            "three wattmeters to a line",
            (3,),
            "one in each line, the voltage circuits' common point on one of the lines",
            _SUM3,
            lambda c, options: _three_to(c, options.get("common", c.lines[1])),
            ("common",),
            n_wattmeters=3,
        ),
        Method(
            "one wattmeter moved in turn",
            (4,),
            "one wattmeter to neutral, moved from line to line",
            _SUM3,
            lambda c, _: _three_to(c, str(c.neutral), stations=True),
            n_wattmeters=3,
        ),
        Method(
            "one wattmeter for reactive power",
            (3,),
            "current in one line, voltage across the other two",
            "sqrt(3)*W",
            _reactive_one,
            ("line",),
            reactive=True,
        ),
        Method(
            "two wattmeters for reactive power",
            (3,),
            "as two wattmeters",
            "sqrt(3)*(W2 - W1)",
            _two,
            ("common",),
            reactive=True,
            n_wattmeters=2,
        ),
        Method(
            "three wattmeters for reactive power",
            (3, 4),
            "one in each line, each voltage circuit across the other two lines",
            "(W1 + W2 + W3)/sqrt(3)",
            _reactive_three,
            reactive=True,
            n_wattmeters=3,
        ),
        Method(
            "two elements, difference currents",
            (4,),
            "voltages from two lines to the neutral, each with its line's current less the third's",
            "W1 + W2",
            _difference,
            n_wattmeters=2,
        ),
    )
}


def expand(
    method: Method,
    conductors: Conductors,
    options: Table,
    instruments: Sequence[str] = (),
    resistors: Sequence[str] = (),
) -> Table:
    """Write a method out as plain wattmeters and a formula.

    Parameters
    ----------
    method : Method
        The method.
    conductors : Conductors
        Names of the conductors.
    options : dict
        The keys of ``[method]`` that were given, without its name.
    instruments : sequence of str
        Name of the instrument of each wattmeter; empty for ideal ones.
    resistors : sequence of str, shape (2,)
        Values of the external resistors of an artificial neutral, as the file writes them.

    Returns
    -------
    dict
        Tables "wattmeter" and "total", and "impedance" if there are external resistors.
    """
    wattmeters = method.place(conductors, options)
    passed_on = ("current_transformer", "voltage_transformer", "voltage_tap")
    for k, table in enumerate(wattmeters):
        if instruments:
            table["instrument"] = instruments[k]
        table |= {key: options[key] for key in passed_on if key in options}
    expansion: Table = {}
    if resistors:
        lines = _others(conductors, wattmeters[0]["current"])
        side = options.get("voltage_tap", "supply")
        expansion["impedance"] = [
            {"name": f"R{k}", "between": [line, STAR_POINT], "value": value, "side": side}
            for k, (line, value) in enumerate(zip(lines, resistors, strict=True), 1)
        ]
    quantity = "reactive_power" if method.reactive else "power"
    return expansion | {"wattmeter": wattmeters, "total": {quantity: method.total}}

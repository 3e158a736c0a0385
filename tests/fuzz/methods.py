"""The methods of the catalogue, by hand from the table of shared design page scenario.md."""

from __future__ import annotations

import math
from typing import Any

Tables = dict[str, Any]

# current, voltage from, voltage to; x, y, z are the chosen line and the two after it, 1, 2, 3 the
# lines as labelled, N the neutral, P the star point of the voltage circuits.
METERS: dict[str, tuple[str, ...]] = {
    "one wattmeter to neutral": ("x x N",),
    "one wattmeter with artificial neutral": ("x x P",),
    "one wattmeter, two positions": ("x x y", "x x z"),
    "two wattmeters": ("z z x", "y y x"),
    "three wattmeters to neutral": ("1 1 N", "2 2 N", "3 3 N"),
    "three wattmeters to a floating star point": ("1 1 P", "2 2 P", "3 3 P"),
    "three wattmeters to a line": ("1 1 x", "2 2 x", "3 3 x"),
    "one wattmeter moved in turn": ("1 1 N", "2 2 N", "3 3 N"),
    "one wattmeter for reactive power": ("x y z",),
    "two wattmeters for reactive power": ("z z x", "y y x"),
    "three wattmeters for reactive power": ("1 2 3", "2 3 1", "3 1 2"),
    "two elements, difference currents": ("1-2 1 N", "3-2 3 N"),
}
MOVED = ("one wattmeter, two positions", "one wattmeter moved in turn")
TOTALS = {
    "one wattmeter to neutral": {"W": 3},
    "one wattmeter with artificial neutral": {"W": 3},
    "one wattmeter for reactive power": {"W": math.sqrt(3)},
    "two wattmeters for reactive power": {"W2": math.sqrt(3), "W1": -math.sqrt(3)},
    "three wattmeters for reactive power": dict.fromkeys(("W1", "W2", "W3"), 1 / math.sqrt(3)),
}


def written_out(tables: Tables) -> Tables:
    """Write a method's wattmeters and resistors out."""
    method = tables.get("method")
    if method is None:
        return tables
    lines = [*tables.get("labels", ("L1", "L2", "L3"))][:3]
    neutral = [*tables.get("labels", ()), "N"][3] if "labels" in tables else "N"
    # common line: L2 unless given; line: L1 unless given
    by_default = lines[0] if method["name"].startswith("one") else lines[1]
    k = lines.index(method.get("line", method.get("common", by_default)))
    names = {"1": lines[0], "2": lines[1], "3": lines[2], "N": neutral, "P": "P"}
    names |= {"x": lines[k], "y": lines[(k + 1) % 3], "z": lines[(k + 2) % 3]}
    rows = METERS[method["name"]]
    instruments = method.get("instrument", [])
    if isinstance(instruments, str):
        instruments = [instruments] * len(rows)
    passed_on = ("current_transformer", "voltage_transformer", "voltage_tap")
    meters = []
    for number, row in enumerate(rows, 1):
        current, start, end = row.split()
        plus, _, minus = current.partition("-")
        meter: Tables = {
            "name": "W" if len(rows) == 1 else f"W{number}",
            "current": [names[plus], f"-{names[minus]}"] if minus else names[plus],
            "voltage": [names[start], names[end]],
        } | {key: method[key] for key in passed_on if key in method}
        if instruments:
            meter["instrument"] = instruments[number - 1]
        if method["name"] in MOVED:
            meter["station"] = number
        meters.append(meter)
    found = {key: table for key, table in tables.items() if key != "method"}
    found |= {"wattmeter": meters, "weights": TOTALS.get(method["name"])}
    if found["weights"] is None:
        found["weights"] = {meter["name"]: 1 for meter in meters}
    if method["name"] == "one wattmeter with artificial neutral":
        found["impedance"] = [*tables.get("impedance", []), *_resistors(method, names)]
    return found


def _resistors(method: Tables, names: dict[str, str]) -> list[Tables]:
    side = method.get("voltage_tap", "supply")
    values = method.get("resistors", [None, None])  # None: equal to the voltage circuit
    return [
        {"between": [names[line], "P"], "value": value, "side": side}
        for line, value in zip("yz", values, strict=True)
    ]

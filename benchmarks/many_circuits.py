"""Circuits of the benchmark of many cases, and how a person would solve them without us."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

import simulator
from simulator.network.elements import IdealTransformer, Source

if TYPE_CHECKING:
    from simulator.findings.station import Station

Table = dict[str, Any]
INSTRUMENTS = {"portable": {"voltage_circuit": "20 kohm", "current_circuit": "0.05 ohm"}}


def star(name: str, factor: float = 1.0, **more: str) -> Table:
    branches = {"L1": f"{20 * factor} ohm @ 25 deg", "L2": f"{31 * factor} ohm @ 40 deg"}
    branches["L3"] = f"{26 * factor} ohm @ -10 deg"
    return {"name": name, "connection": "star", "star_point": "isolated"} | branches | more


def meter(name: str, line: str, end: str, **more: str) -> Table:
    table = {"name": name, "current": line, "voltage": [line, end], "voltage_tap": "load"}
    return table | {"instrument": "portable"} | more


def scenario(supply: Table, loads: list[Table], meters: list[Table]) -> Table:
    return {
        "title": "Benchmark",
        "supply": {"voltage": "400 V"} | supply,
        "load": loads,
        "instrument": INSTRUMENTS,
        "current_transformer": {"ct": {"ratio": "100/5 A"}},
        "voltage_transformer": {"vt": {"ratio": "400/100 V"}},
        "wattmeter": meters,
        "total": {"power": " + ".join(m["name"] for m in meters)},
    }


THREE = {"L1": "W1", "L2": "W2", "L3": "W3"}
DELTA = {"L1-L2": "12 ohm @ 30 deg", "L2-L3": "15 ohm @ 20 deg", "L3-L1": "11 ohm @ 35 deg"}
CABLE = {"line_impedance": "0.03 ohm @ 50 deg"}
THROUGH = {"current_transformer": "ct", "voltage_transformer": "vt"}
SCENARIOS = [
    # two wattmeters, two loads
    scenario(
        {"wires": 3},
        [star("press"), star("lathe", 1.7)],
        [meter("W1", "L1", "L2"), meter("W2", "L3", "L2")],
    ),
    # three wattmeters with real coils to a floating star
    scenario(
        {"wires": 3, "line_impedance": "0.3 ohm @ 20 deg"},
        [star("press", star_point="S")],
        [meter(name, line, "S") for line, name in THREE.items()],
    ),
    # a site with current transformers, the voltage circuits in star
    scenario(
        {"wires": 3} | CABLE,
        [star("pump", 0.2), star("fan", 0.4), {"name": "ovens", "connection": "delta"} | DELTA],
        [meter(name, line, "P", current_transformer="ct") for line, name in THREE.items()],
    ),
    # a larger site on four wires: three meters through transformers, two more directly
    scenario(
        {"wires": 4} | CABLE,
        [
            star("pump", 0.2, lead_impedance="0.05 ohm"),
            *(star(name, 0.4) for name in ("fan", "mill", "crane")),
            {"name": "ovens", "connection": "delta"} | DELTA,
        ],
        [
            *(meter(name, line, "N", **THROUGH) for line, name in THREE.items()),
            meter("W4", "L1", "L2"),
            meter("W5", "L3", "L2"),
        ],
    ),
]


@dataclass
class Circuit:
    """What a loop stamps, of one scenario.

    Attributes
    ----------
    station : Station
        The solved scenario.
    elements : dict
        Of each element its kind, its nodes (−1 for the reference), for a transformer its ratio,
        and the number of its unknown current if it has one.
    size : int
        Number of unknowns.
    readings : list of tuple
        Of each wattmeter the nodes of its voltage, the number of its current, and a factor.
    """

    station: Station
    elements: dict[str, tuple[Any, ...]]
    size: int
    readings: list[tuple[int, int, int, float]]

    @property
    def varied(self) -> list[str]:
        """Names of the impedances; links stay links."""
        found = self.station.wired.netlist.elements
        return [e.name for e in found if getattr(e, "impedance", 0) != 0]

    @property
    def sources(self) -> list[str]:
        """Names of the sources."""
        return [e.name for e in self.station.wired.netlist.elements if isinstance(e, Source)]


def circuit_of(table: Table) -> Circuit:
    """Wire a scenario and number its unknowns: nodes, then currents nobody writes as V/Z."""
    station = simulator.solve(simulator.scenario_from(table)).first
    netlist, roles = station.wired.netlist, station.wired.roles
    node = {n: k for k, n in enumerate(n for n in netlist.nodes if n != netlist.reference)}
    size = len(node)
    node[netlist.reference] = -1
    elements: dict[str, tuple[Any, ...]] = {}
    for e in netlist.elements:
        if isinstance(e, IdealTransformer):
            ends = [node[n] for n in e.primary + e.secondary]
            elements[e.name] = ("transformer", *ends, e.turns_ratio, size)
        elif isinstance(e, Source) or roles[e.name] == "current circuit" or e.impedance == 0:
            kind = "source" if isinstance(e, Source) else "coil"
            elements[e.name] = (kind, *(node[n] for n in e.terminals), size)
        else:
            elements[e.name] = ("impedance", *(node[n] for n in e.terminals))
            continue
        size += 1
    readings = []
    for meter in station.arrangement.wattmeters:
        place = station.wired.wired[meter.name]
        (coil,) = place.current_circuits
        factor = 1 / meter.voltage_transformer.ratio if meter.voltage_transformer else 1.0
        readings.append((*(node[n] for n in place.ends), elements[coil][-1], factor))
    return Circuit(station, elements, size, readings)


def loop(circuit: Circuit, names: tuple[str, ...], values: np.ndarray) -> np.ndarray:
    """Read the wattmeters in every case as a person would write it."""
    found = np.empty((len(circuit.readings), values.shape[1]))
    for case in range(values.shape[1]):
        value = dict(zip(names, values[:, case].tolist(), strict=True))
        x = solve_one(circuit, value)
        for k, (start, end, coil, factor) in enumerate(circuit.readings):
            V = (x[start] if start >= 0 else 0) - (x[end] if end >= 0 else 0)
            found[k, case] = factor * (V * x[coil].conjugate()).real
    return found


def solve_one(circuit: Circuit, value: dict[str, complex]) -> np.ndarray:  # noqa: C901, PLR0912
    """Stamp one case as it would be written by hand, without calls that cost time."""
    A = np.zeros((circuit.size, circuit.size), dtype=complex)
    b = np.zeros(circuit.size, dtype=complex)
    for name, (kind, *at) in circuit.elements.items():
        if kind == "impedance":
            i, j = at
            y = 1 / value[name]
            if i >= 0:
                A[i, i] += y
            if j >= 0:
                A[j, j] += y
            if i >= 0 and j >= 0:
                A[i, j] -= y
                A[j, i] -= y
        elif kind == "transformer":
            *ends, n, k = at
            for end, turns in zip(ends, (1, -1, -n, n), strict=True):
                if end >= 0:
                    A[end, k] += turns
                    A[k, end] += turns
        else:
            i, j, k = at
            if i >= 0:
                A[i, k] += 1
                A[k, i] += 1
            if j >= 0:
                A[j, k] -= 1
                A[k, j] -= 1
            if kind == "source":
                b[k] = value[name]
            else:
                A[k, k] -= value.get(name, 0)
    return np.linalg.solve(A, b)


class Stack:
    """All cases of a circuit as a stack of matrices, as a person who knows numpy writes it."""

    def __init__(self, circuit: Circuit, names: tuple[str, ...]) -> None:
        self.circuit, self.names = circuit, names
        self.number = {name: k for k, name in enumerate(names)}
        self.constant = np.zeros((circuit.size, circuit.size), dtype=complex)
        for kind, *at in circuit.elements.values():
            if kind == "transformer":
                *ends, n, k = at
                for end, turns in zip(ends, (1, -1, -n, n), strict=True):
                    if end >= 0:
                        self.constant[end, k] += turns
                        self.constant[k, end] += turns
            elif kind != "impedance":
                i, j, k = at
                for end, sign in ((i, 1), (j, -1)):
                    if end >= 0:
                        self.constant[end, k] += sign
                        self.constant[k, end] += sign

    def read(self, values: np.ndarray, chunk: int = 512) -> np.ndarray:
        """Read the wattmeters in every case."""
        found = np.empty((len(self.circuit.readings), values.shape[1]))
        for first in range(0, values.shape[1], chunk):
            part = slice(first, first + chunk)
            x = np.linalg.solve(*self.assemble(values[:, part]))[..., 0]
            for out, (start, end, coil, factor) in zip(found, self.circuit.readings, strict=True):
                V = (x[:, start] if start >= 0 else 0) - (x[:, end] if end >= 0 else 0)
                out[part] = factor * (V * x[:, coil].conj()).real
        return found

    def assemble(self, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        n, cases = self.circuit.size, values.shape[1]
        A = np.repeat(self.constant[None], cases, axis=0)
        b = np.zeros((cases, n, 1), dtype=complex)
        for name, number in self.number.items():
            kind, *at = self.circuit.elements[name]
            if kind == "source":
                b[:, at[-1], 0] = values[number]
            elif kind == "coil":
                A[:, at[-1], at[-1]] -= values[number]
            else:
                i, j = at
                y = 1 / values[number]
                if i >= 0:
                    A[:, i, i] += y
                if j >= 0:
                    A[:, j, j] += y
                if i >= 0 and j >= 0:
                    A[:, i, j] -= y
                    A[:, j, i] -= y
        return A, b

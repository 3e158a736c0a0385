"""A second reader of scenario files: from their tables to what every meter shows, in 40 digits.

It shares no code with the program: quantities by `literals`, formulas by `test_formulas`, circuits
by `installation` and below, as equations, which are eliminated as in
`tests.reference_solver`. It reads only what the program has accepted, so it refuses nothing.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from mpmath import mp, mpc, mpf

from tests.fuzz import literals
from tests.fuzz.installation import (
    OPEN,
    REFERENCE,
    Installation,
    Tables,
    divided,
    listed,
    parallel,
    series,
    times,
)
from tests.fuzz.methods import written_out
from tests.reference_solver import DIGITS, GUARD, _eliminate

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.reference_solver import Unknown

GENERIC = Path(__file__).parents[2] / "simulator" / "data" / "generic_instruments.toml"


class Reading(NamedTuple):
    """Watts at the primary, transformers' ratios, and the |V| and |I| that reach the meter."""

    watts: mpf
    ratio: mpf
    volts: mpf
    amperes: mpf


@dataclass
class Shown:
    """What the meters show, and the loads take."""

    wattmeters: dict[str, Reading] = field(default_factory=dict)
    voltmeters: dict[str, mpf] = field(default_factory=dict)
    ammeters: dict[str, mpf] = field(default_factory=dict)
    taken: mpc = field(default_factory=mpc)  # by the loads, mean over the stations
    flows: mpf = field(default_factory=mpf)  # sum of |V||I| over the loads
    volts: mpf = field(default_factory=mpf)  # the largest potential
    amperes: mpf = field(default_factory=mpf)  # the largest current


@mp.workdps(DIGITS + GUARD)
def shown_by(document: Tables, rounded: Callable[[mpc], mpc] = lambda z: z) -> Shown:
    """Work out what the meters of a scenario show; `rounded` is put upon every impedance."""
    tables = written_out(_with_shared(document))
    numbers = sorted({w["station"] for w in tables.get("wattmeter", []) if "station" in w})
    shown = Shown()
    for number in numbers or [None]:
        circuit = Circuit(tables, number, rounded)
        circuit.connect()
        circuit.read(shown, len(numbers) or 1)
    return shown


def _with_shared(document: Tables) -> Tables:
    if document.get("instruments_from") != "generic":
        return document
    shared = tomllib.loads(GENERIC.read_text(encoding="utf-8"))
    return document | {key: shared[key] | document.get(key, {}) for key in shared}


class Circuit(Installation):
    """The equations of one station, with its meters."""

    def connect(self) -> None:
        self.connect_supply()
        self.sensed: dict[str, tuple[str, str]] = {}
        for meter in self.wattmeters:
            self.connect_wattmeter(meter)
        for meter in self.tables.get("ammeter", []):
            Z = self.impedance(self.instrument(meter).get("current_circuit", "0 ohm"))
            k = self.places[meter["in"]].index(meter["name"])
            ends = self.node(meter["in"], k), self.node(meter["in"], k + 1)
            self.law(f"{meter['name']} in {meter['in']}", *ends, Z)
        for meter in self.tables.get("voltmeter", []):
            start, end = (self.end(n, meter.get("side", "load")) for n in meter["between"])
            self.sensed[meter["name"]] = start, end
            if start != end:
                Z = self.voltage_circuit(self.instrument(meter))
                self.law(f"circuit of {meter['name']}", start, end, Z)
        for k, table in enumerate(self.tables.get("impedance", [])):
            start, end = (self.end(n, table.get("side", "load")) for n in table["between"])
            own = table["value"] is None  # equal to the voltage circuit that it stands beside
            Z = self.seen(self.wattmeters[0]) if own else self.impedance(table["value"])
            self.law(f"impedance {k}", start, end, Z)
        for k, table in enumerate(self.tables.get("load", [])):
            self.connect_load(f"load {k}", table)

    def instrument(self, meter: Tables) -> Tables:
        found: Tables = (
            self.tables["instrument"][meter["instrument"]] if "instrument" in meter else {}
        )
        return found

    def transformer(self, meter: Tables, kind: str) -> Tables | None:
        name = meter.get(f"{kind}_transformer")
        return None if name is None else self.tables[f"{kind}_transformer"][name]

    # Meters

    def connect_wattmeter(self, meter: Tables) -> None:
        coil = self.impedance(self.instrument(meter).get("current_circuit", "0 ohm"))
        for conductor in (text.removeprefix("-") for text in listed(meter["current"])):
            k = self.places[conductor].index(meter["name"])
            Z = coil
            if transformer := self.transformer(meter, "current"):
                Z = self.current_ladder(transformer, coil)[0]
            ends = self.node(conductor, k), self.node(conductor, k + 1)
            self.law(f"{meter['name']} in {conductor}", *ends, Z)
        tap = meter.get("voltage_tap", "supply")
        start, end = (self.end(n, tap, meter["name"]) for n in meter["voltage"])
        self.sensed[meter["name"]] = start, end
        if start != end:
            self.law(f"circuit of {meter['name']}", start, end, self.seen(meter))

    def seen(self, meter: Tables) -> mpc:
        """Give what a meter's voltage circuit is between its ends, its transformer included."""
        Z = self.voltage_circuit(self.instrument(meter))
        transformer = self.transformer(meter, "voltage")
        return self.voltage_ladder(transformer, Z)[0] if transformer else Z

    def ratio(self, transformer: Tables, unit: str) -> mpf:
        found = literals.ratio(literals.spelt(transformer["ratio"]), unit)
        assert found is not None
        return literals.exact(found[0]) / literals.exact(found[1])

    def part(self, transformer: Tables, key: str, otherwise: mpc) -> mpc:
        return self.impedance(transformer[key]) if key in transformer else otherwise

    def current_ladder(self, transformer: Tables, coil: mpc) -> tuple[mpc, mpc]:
        """Give the impedance in the conductor, and the meter's current over the conductor's."""
        n, shunt = self.ratio(transformer, "A"), self.part(transformer, "magnetising", OPEN)
        state = transformer.get("secondary")
        winding = self.part(transformer, "winding", mpc(0))
        if state == "open":
            return shunt / n**2, mpc(0)
        if state == "shorted":
            return parallel(shunt, winding) / n**2, mpc(0)
        loop = winding + coil
        loop += self.part(transformer, "leads", mpc(0)) + self.part(transformer, "burden", mpc(0))
        share = mpc(1) if mp.isinf(shunt.real) else shunt / (shunt + loop)
        return parallel(shunt, loop) / n**2, share / n

    def voltage_ladder(self, transformer: Tables, circuit: mpc) -> tuple[mpc, mpc]:
        """Give the impedance between the ends, and the meter's voltage over theirs."""
        n, shunt = self.ratio(transformer, "V"), self.part(transformer, "magnetising", OPEN)
        half = self.part(transformer, "winding", mpc(0)) / 2
        leads = self.part(transformer, "leads", mpc(0))
        state = transformer.get("secondary")
        burden = self.part(transformer, "burden", OPEN)
        behind = parallel(burden, series(leads, circuit))
        behind = {"open": OPEN, "shorted": mpc(0)}.get(state, behind)
        inner = parallel(shunt, series(half, behind))
        whole = series(half, inner)
        share = divided(inner, whole) * divided(behind, series(half, behind))
        share *= 0 if state else divided(circuit, series(leads, circuit))
        return times(whole, n**2), share / n

    # Reading

    def read(self, shown: Shown, stations: int) -> None:
        rows = [*self.rows, {("V", REFERENCE): mpc(1)}]
        rows += [row for node, row in self.into.items() if node != REFERENCE]
        found = _eliminate(rows)
        found = {unknown: found.get(unknown, mpc(0)) for unknown in found}
        V = {node: found["V", node] for node in self.into}
        shown.volts = max(shown.volts, *(abs(v) for v in V.values()))
        currents = [abs(x) for unknown, x in found.items() if unknown[:1] == ("I",)]
        shown.amperes = max(shown.amperes, *currents)
        for start, end, current in self.loads:
            S = (V[start] - V[end]) * mp.conj(found[current])
            shown.taken += S / stations
            shown.flows += abs(S)
        for meter in self.wattmeters:
            if meter["name"] not in shown.wattmeters:
                shown.wattmeters[meter["name"]] = self.watts(meter, V, found)
        for meter in self.tables.get("voltmeter", []):
            start, end = self.sensed[meter["name"]]
            shown.voltmeters.setdefault(meter["name"], abs(V[start] - V[end]))
        for meter in self.tables.get("ammeter", []):
            current = found["I", f"{meter['name']} in {meter['in']}"]
            shown.ammeters.setdefault(meter["name"], abs(current))

    def watts(self, meter: Tables, V: dict[str, mpc], found: dict[Unknown, mpc]) -> Reading:
        instrument = self.instrument(meter)
        circuit = self.voltage_circuit(instrument)
        start, end = self.sensed[meter["name"]]
        voltage, current, scale = V[start] - V[end], mpc(0), mpf(1)
        for text in listed(meter["current"]):
            conductor = text.removeprefix("-")
            sign = -1 if text.startswith("-") else 1
            current += sign * found["I", f"{meter['name']} in {conductor}"]
        if transformer := self.transformer(meter, "current"):
            coil = self.impedance(instrument.get("current_circuit", "0 ohm"))
            current *= self.current_ladder(transformer, coil)[1] * _errors(transformer)
            scale *= self.ratio(transformer, "A")
        if transformer := self.transformer(meter, "voltage"):
            voltage *= self.voltage_ladder(transformer, circuit)[1] * _errors(transformer)
            scale *= self.ratio(transformer, "V")
        if "voltage" in meter.get("reversed", []):
            voltage = -voltage
        if "current" in meter.get("reversed", []):
            current = -current
        if instrument.get("compensated"):
            current -= voltage / circuit
        factor = mpc(1)
        if instrument.get("kind") == "electronic":
            factor = _errors(instrument, "gain_error", "phase_error")
        elif not mp.isinf(circuit.real):
            factor = circuit.real / circuit
        shown = (factor * voltage * mp.conj(current)).real
        return Reading(scale * shown, scale, abs(voltage), abs(current))


def _errors(table: Tables, size: str = "ratio_error", turn: str = "phase_displacement") -> mpc:
    part = literals.percent(literals.spelt(table.get(size, "0 %")))
    angle = literals.angle(literals.spelt(table.get(turn, "0 deg")))
    assert part is not None
    assert angle is not None
    return (1 + literals.exact(part)) * mp.expjpi(literals.exact(angle % 360 / 180))

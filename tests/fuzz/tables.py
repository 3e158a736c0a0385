"""A second reader of scenario files: from their tables to what every meter shows, in 40 digits.

It shares no code with the program: quantities by `literals`, formulas by `test_formulas`, circuits
written as equations from shared design pages scenario.md and physics.md, and eliminated as in
`tests.reference_solver`. It reads only what the program has accepted, so it refuses nothing.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from mpmath import mp, mpc, mpf

from tests.fuzz import literals
from tests.fuzz.methods import written_out
from tests.reference_solver import DIGITS, GUARD, ONE, Row, Unknown, _eliminate

if TYPE_CHECKING:
    from collections.abc import Callable
    from fractions import Fraction

Tables = dict[str, Any]
GENERIC = Path(__file__).parents[2] / "simulator" / "data" / "generic_instruments.toml"
REFERENCE = "star point of the supply"
OPEN = mpc(mp.inf)


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


class Circuit:
    """The equations of one station."""

    def __init__(self, tables: Tables, station: int | None, rounded: Any) -> None:
        self.tables, self.rounded = tables, rounded
        names = [*tables.get("labels", ("L1", "L2", "L3", "N")), "N"][:4]
        self.supply = tables["supply"]
        self.lines = names[:3]
        self.neutral = names[3] if self.supply["wires"] == 4 else None
        self.omega = (
            2 * mp.pi * literals.exact(self.real(self.supply.get("frequency", "50 Hz"), "Hz"))
        )
        every = tables.get("wattmeter", [])
        self.wattmeters = [w for w in every if w.get("station") in (None, station)]
        self.rows: list[Row] = []
        self.into: dict[str, Row] = {}
        self.places: dict[str, list[str]] = {k: [] for k in (*self.lines, self.neutral) if k}
        for meter in self.wattmeters:
            for conductor in _list(meter["current"]):
                self.places[conductor.removeprefix("-")].append(meter["name"])
        for meter in tables.get("ammeter", []):
            self.places[meter["in"]].append(meter["name"])
        self.branches: dict[str, tuple[str, str, list[tuple[Unknown, mpc]]]] = {}
        self.loads: list[tuple[str, str, Unknown]] = []

    # Quantities

    @staticmethod
    def real(text: str, unit: str) -> Fraction:
        value = literals.real(literals.spelt(text), unit)
        assert value is not None, text
        return value

    def number(self, text: str, unit: str) -> mpf:
        return literals.exact(self.real(text, unit))

    def impedance(self, text: str) -> mpc:
        Z = literals.impedance(literals.spelt(text))
        assert Z is not None, text
        return self.rounded(Z)

    def voltage_circuit(self, instrument: Tables) -> mpc:
        found = literals.voltage_circuit(literals.spelt(instrument.get("voltage_circuit", "open")))
        assert found is not None
        Z, L = found
        return OPEN if mp.isinf(Z.real) else self.rounded(Z + 1j * self.omega * literals.exact(L))

    def phasor(self, text: str) -> mpc:
        V = literals.phasor(literals.spelt(text), "V")
        assert V is not None, text
        return V

    # Equations

    def node(self, conductor: str, k: int) -> str:
        """Name the k-th node along a conductor, 0 before its first current circuit."""
        return f"{conductor} {k}"

    def end(self, name: str, side: str, own: str = "") -> str:
        meters = self.places.get(name)
        if meters is None:
            return name
        if own in meters:
            return self.node(name, meters.index(own) + (side == "load"))
        return self.node(name, len(meters) if side == "load" else 0)

    def law(self, name: str, start: str, end: str, Z: mpc, emf: mpc | None = None) -> Unknown:
        """Add a branch: V_start - V_end - Z·I = emf, or no current if it is open."""
        current: Unknown = ("I", name)
        for node, sign in ((start, 1), (end, -1)):
            row = self.into.setdefault(node, {})
            row[current] = row.get(current, mpc(0)) + sign
        if mp.isinf(Z.real):
            self.rows.append({current: mpc(1)})
        else:
            row = {current: -Z, ONE: -(emf or mpc(0))}
            for node, sign in ((start, 1), (end, -1)):
                row["V", node] = row.get(("V", node), mpc(0)) + sign
            self.rows.append(row)
        return current

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

    def connect_supply(self) -> None:
        supply, a = self.supply, mp.expjpi(mpf(2) / 3)
        turn = self.sequence()
        if "voltage" in supply:
            emfs = [
                self.number(supply["voltage"], "V") / mp.sqrt(3) * a ** (-turn * k)
                for k in range(3)
            ]
        elif "phase_voltages" in supply:
            emfs = [self.phasor(supply["phase_voltages"][line]) for line in self.lines]
        else:
            parts = supply["sequence_voltages"]
            p, n, z = (self.phasor(parts.get(k, "0 V")) for k in ("positive", "negative", "zero"))
            emfs = [p * a ** (-turn * k) + n * a ** (turn * k) + z for k in range(3)]
        for line, emf in zip(self.lines, emfs, strict=True):
            Z = self.of_line(supply.get("line_impedance", "0 ohm"), line)
            self.law(f"source {line}", f"{line} terminal", REFERENCE, mpc(0), emf)
            self.law(f"line {line}", f"{line} terminal", self.node(line, 0), Z)
        if self.neutral:
            Z = self.impedance(supply.get("neutral_impedance", "0 ohm"))
            self.law("neutral", REFERENCE, self.node(self.neutral, 0), Z)
        if "earthed" in supply:
            earthed = supply["earthed"]
            terminal = REFERENCE if earthed == self.neutral else f"{earthed} terminal"
            self.law("earth", "PE", terminal, mpc(0))

    def sequence(self) -> int:
        """Tell the sequence: +1 for that of the labels."""
        if "phase_voltages" in self.supply:
            a = mp.expjpi(mpf(2) / 3)
            V = [self.phasor(self.supply["phase_voltages"][line]) for line in self.lines]
            forward, backward = V[0] + a * V[1] + a**2 * V[2], V[0] + a**2 * V[1] + a * V[2]
            return 1 if abs(forward) >= abs(backward) * (1 - mpf(10) ** -12) else -1
        order = [
            self.lines.index(x)
            for x in self.supply.get("sequence", "-".join(self.lines)).split("-")
        ]
        return 1 if (order[1] - order[0]) % 3 == 1 else -1

    def of_line(self, given: str | Tables, line: str) -> mpc:
        return self.impedance(given.get(line, "0 ohm") if isinstance(given, dict) else given)

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
        for conductor in (text.removeprefix("-") for text in _list(meter["current"])):
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
            return _parallel(shunt, winding) / n**2, mpc(0)
        loop = winding + coil
        loop += self.part(transformer, "leads", mpc(0)) + self.part(transformer, "burden", mpc(0))
        share = mpc(1) if mp.isinf(shunt.real) else shunt / (shunt + loop)
        return _parallel(shunt, loop) / n**2, share / n

    def voltage_ladder(self, transformer: Tables, circuit: mpc) -> tuple[mpc, mpc]:
        """Give the impedance between the ends, and the meter's voltage over theirs."""
        n, shunt = self.ratio(transformer, "V"), self.part(transformer, "magnetising", OPEN)
        half = self.part(transformer, "winding", mpc(0)) / 2
        leads = self.part(transformer, "leads", mpc(0))
        state = transformer.get("secondary")
        burden = self.part(transformer, "burden", OPEN)
        behind = _parallel(burden, _series(leads, circuit))
        behind = {"open": OPEN, "shorted": mpc(0)}.get(state, behind)
        inner = _parallel(shunt, _series(half, behind))
        whole = _series(half, inner)
        share = _divided(inner, whole) * _divided(behind, _series(half, behind))
        share *= 0 if state else _divided(circuit, _series(leads, circuit))
        return _times(whole, n**2), share / n

    # Loads

    def connect_load(self, name: str, table: Tables) -> None:
        kind, leads = table["connection"], table.get("lead_impedance", "0 ohm")
        point = table.get("star_point", "isolated")
        by_line = kind in ("star", "line-to-neutral")
        if kind == "line-to-neutral" or (self.neutral and point in ("neutral", self.neutral)):
            point = str(self.neutral)
        elif point == "isolated":
            point = f"star point of {name}"
        pairs = {f"{x}-{y}": (x, y) for x in self.lines for y in self.lines if x != y}
        around = [f"{self.lines[k]}-{self.lines[(k + 1) % 3]}" for k in range(3)]
        ways = {x: (x, point) for x in self.lines} if by_line else pairs
        usual = list(ways) if by_line else around
        given = {key: table[key] for key in ways if key in table}
        for whole in ("each", "total"):
            if whole in table:
                given = dict.fromkeys(usual, table[whole])
        used = set(self.lines if kind == "motor" else [x for key in given for x in ways[key]])
        inside = {}
        for conductor in used:
            if conductor not in self.places:
                inside[conductor] = conductor
                continue
            Z = self.of_line(leads, conductor)
            if conductor == self.neutral:
                Z = self.impedance(table.get("neutral_lead", "0 ohm"))
            inside[conductor] = f"{conductor} of {name}"
            self.law(
                f"lead {conductor} of {name}", self.end(conductor, "load"), inside[conductor], Z
            )
        for key, value in given.items():
            start, end = (inside[x] for x in ways[key])
            Z = self.branch(value, star=by_line, whole="total" in table)
            self.loads.append((start, end, self.law(f"{name} {key}", start, end, Z)))
        if kind == "motor":
            self.connect_motor(name, table, [inside[line] for line in self.lines])

    def branch(self, value: str | Tables, *, star: bool, whole: bool) -> mpc:
        if isinstance(value, str):
            return self.impedance(value)
        if set(value) & {"resistance", "inductance", "capacitance"}:
            parts = []
            if "resistance" in value:
                parts.append(mpc(self.number(value["resistance"], "ohm")))
            if "inductance" in value:
                parts.append(1j * self.omega * self.number(value["inductance"], "H"))
            if "capacitance" in value:
                parts.append(1 / (1j * self.omega * self.number(value["capacitance"], "F")))
            parts = [self.rounded(part) for part in parts]
            if not value.get("parallel"):
                return sum(parts, mpc(0))
            return mpc(0) if 0 in parts else 1 / sum((1 / part for part in parts), mpc(0))
        return self.rounded(self.rated(value, star=star, whole=whole))

    def rated(self, value: Tables, *, star: bool, whole: bool) -> mpc:
        if "at" in value:
            U = self.number(value["at"], "V")
        else:
            parts = self.supply.get("sequence_voltages", {})
            given = self.supply.get("voltage")
            U = (
                self.number(given, "V")
                if given
                else mp.sqrt(3) * abs(self.phasor(parts["positive"]))
            )
            U /= mp.sqrt(3) if star and not whole else 1
        found = {"power": "W", "apparent_power": "VA", "reactive_power": "var", "current": "A"}
        P, S, Q, I = (self.number(value[k], u) if k in value else None for k, u in found.items())
        sense = "lag"
        if I is not None:
            S = I * U * (mp.sqrt(3) if whole else 1)
        if "power_factor" in value:
            factor = literals.power_factor(literals.spelt(value["power_factor"]))
            assert factor is not None
            cosine, sense = literals.exact(factor[0]), factor[1]
            if S is None:
                S = P / cosine if Q is None else abs(Q) / mp.sqrt(1 - cosine**2)
            P = S * cosine
        if P is None:
            P = mp.sqrt(max(S**2 - Q**2, mpf(0)))
        if Q is None:
            Q = mp.sqrt(max(S**2 - P**2, mpf(0))) * (-1 if sense == "lead" else 1)
        if P == 0 and Q == 0:
            return OPEN
        return U**2 / mpc(P, -Q) * (3 if whole and not star else 1)

    def connect_motor(self, name: str, table: Tables, nodes: list[str]) -> None:
        """Add its laws for both rotating fields, and that its currents sum to zero."""
        R1, X1, R2, X2, Xm = (
            self.number(table["circuit"][k], "ohm") for k in ("R1", "X1", "R2", "X2", "Xm")
        )
        Rc = self.impedance(table["circuit"].get("Rc", "open"))
        slip, a = mpf(table["slip"]), mp.expjpi(mpf(2) / 3)
        currents: list[Unknown] = [("I", f"{name} {k}") for k in range(3)]
        for node, current in zip(nodes, currents, strict=True):
            self.into.setdefault(node, {})[current] = mpc(1)
            self.loads.append((node, REFERENCE, current))
        self.rows.append(dict.fromkeys(currents, mpc(1)))
        for turn, s in ((self.sequence(), slip), (-self.sequence(), 2 - slip)):
            rotor = 1j * X2 + R2 / s if s else OPEN
            Z = R1 + 1j * X1 + _parallel(_parallel(1j * Xm, Rc), rotor)
            Z, row = self.rounded(Z), {}
            for k, (node, current) in enumerate(zip(nodes, currents, strict=True)):
                row["V", node] = row.get(("V", node), mpc(0)) + a ** (turn * k)
                row[current] = -Z * a ** (turn * k)
            self.rows.append(row)

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
        for text in _list(meter["current"]):
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


def _list(given: str | list[str]) -> list[str]:
    return [given] if isinstance(given, str) else given


def _series(a: mpc, b: mpc) -> mpc:
    return OPEN if mp.isinf(a.real) or mp.isinf(b.real) else a + b


def _parallel(a: mpc, b: mpc) -> mpc:
    if mp.isinf(a.real) or mp.isinf(b.real):
        return b if mp.isinf(a.real) else a
    return mpc(0) if a == 0 or b == 0 else a * b / (a + b)


def _times(a: mpc, n: mpf) -> mpc:
    return OPEN if mp.isinf(a.real) else a * n


def _divided(part: mpc, whole: mpc) -> mpc:
    """Give a voltage divider's share, also of an open circuit, which takes it all."""
    return mpc(1) if mp.isinf(whole.real) else part / whole if whole else mpc(0)

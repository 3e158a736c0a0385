"""The equations of an installation, for the second reader: conductors, supply and loads.

Quantities by `literals`, laws from shared design pages scenario.md and physics.md; no code of the
program.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from mpmath import mp, mpc, mpf

from tests.fuzz import literals
from tests.reference_solver import ONE

if TYPE_CHECKING:
    from fractions import Fraction

    from tests.reference_solver import Row, Unknown

Tables = dict[str, Any]
REFERENCE = "star point of the supply"
OPEN = mpc(mp.inf)


class Installation:
    """The equations of supply and loads, with the meters of one station in their places."""

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
            for conductor in listed(meter["current"]):
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
            Z = R1 + 1j * X1 + parallel(parallel(1j * Xm, Rc), rotor)
            Z, row = self.rounded(Z), {}
            for k, (node, current) in enumerate(zip(nodes, currents, strict=True)):
                row["V", node] = row.get(("V", node), mpc(0)) + a ** (turn * k)
                row[current] = -Z * a ** (turn * k)
            self.rows.append(row)


def listed(given: str | list[str]) -> list[str]:
    return [given] if isinstance(given, str) else given


def series(a: mpc, b: mpc) -> mpc:
    return OPEN if mp.isinf(a.real) or mp.isinf(b.real) else a + b


def parallel(a: mpc, b: mpc) -> mpc:
    if mp.isinf(a.real) or mp.isinf(b.real):
        return b if mp.isinf(a.real) else a
    return mpc(0) if a == 0 or b == 0 else a * b / (a + b)


def times(a: mpc, n: mpf) -> mpc:
    return OPEN if mp.isinf(a.real) else a * n


def divided(part: mpc, whole: mpc) -> mpc:
    """Give a voltage divider's share, also of an open circuit, which takes it all."""
    return mpc(1) if mp.isinf(whole.real) else part / whole if whole else mpc(0)

"""Random scenarios, values for their quantities, and the documents that hold such a value.

Nothing here uses `simulator.studies`: a document is changed as a person would rewrite the file.
"""

from __future__ import annotations

import cmath
import copy
import math
from functools import partial
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import random
    from collections.abc import Callable

    # The unit, as below, and what rewrites a document with another value.
    Quantity = tuple[str, Callable[["Document", Any], "Document"]]

Document = dict[str, Any]
LINES = ("L1", "L2", "L3")
PAIRS = ("L1-L2", "L2-L3", "L3-L1")
OPEN = complex(math.inf)


def ohms(Z: complex) -> str:
    return "open" if cmath.isinf(Z) else f"{Z.real!r}{Z.imag:+.17g}j ohm"


def volts(V: complex) -> str:
    return f"{abs(V)!r} V @ {math.degrees(cmath.phase(V))!r} deg"


def parsed(text: str) -> complex:
    return OPEN if text == "open" else complex(text.removesuffix(" ohm"))


IMPEDANCES = ("ohm", "closed", "above zero", "voltage circuit", "compensated")


def text_of(value: complex, unit: str) -> str:
    """Write a value as one writes it in the file."""
    if unit in IMPEDANCES:
        return ohms(complex(value))
    if unit == "phasor":
        return volts(complex(value))
    if unit == "power factor":
        return f"{abs(value)!r} {'lead' if math.copysign(1, value.real) < 0 else 'lag'}"
    names = {"ohms": "ohm", "error": "%", "angle": "deg", "slip": ""}
    return f"{value!r} {names.get(unit, unit)}".rstrip()


class Maker:
    """Makes one random scenario."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng

    def some(self, low: float = 4, high: float = 60) -> complex:
        return cmath.rect(self.rng.uniform(low, high), self.rng.uniform(-1.5, 1.5))

    def branch(self) -> Any:
        rng = self.rng
        form = rng.choice(("impedance", "impedance", "rating", "parts"))
        if form == "impedance":
            return ohms(self.some())
        if form == "parts":
            parts = {
                "resistance": f"{rng.uniform(5, 50)!r} ohm",
                "inductance": f"{rng.uniform(0.02, 0.2)!r} H",
                "capacitance": f"{rng.uniform(2e-5, 2e-4)!r} F",
            }
            kept = {key: parts[key] for key in rng.sample(sorted(parts), rng.randint(1, 3))}
            return kept | {"parallel": rng.random() < 0.5}
        return self.rating() | {"at": f"{rng.uniform(200, 260)!r} V"}

    def rating(self) -> Document:
        rng = self.rng
        S, phi = rng.uniform(500, 3000), rng.uniform(0.1, 1.4) * rng.choice((-1, 1))
        factor = text_of(math.copysign(math.cos(phi), phi), "power factor")
        P, Q = f"{S * math.cos(phi)!r} W", f"{S * math.sin(phi)!r} var"
        return rng.choice(
            (
                {"power": P, "power_factor": factor},
                {"apparent_power": f"{S!r} VA", "power_factor": factor},
                {"power": P, "reactive_power": Q},
                {"apparent_power": f"{S!r} VA", "reactive_power": Q},
                {"apparent_power": f"{S!r} VA", "power": P},
                {"reactive_power": Q, "power_factor": factor},
                {"current": f"{rng.uniform(1, 5)!r} A", "power_factor": factor},
            )
        )

    def load(self, wires: int, number: int) -> Document:
        rng = self.rng
        kinds = ["star", "delta", "line-to-line", "motor"]
        kinds += ["line-to-neutral"] if wires == 4 else []
        kind = rng.choice(kinds)
        load: Document = {"name": f"load {number}", "connection": kind}
        if kind == "motor":
            load["slip"] = rng.uniform(0.01, 0.9)
            load["circuit"] = {
                "R1": f"{rng.uniform(0.2, 1)!r} ohm",
                "X1": f"{rng.uniform(0.5, 2)!r} ohm",
                "R2": f"{rng.uniform(0.2, 1)!r} ohm",
                "X2": f"{rng.uniform(0.5, 2)!r} ohm",
                "Xm": f"{rng.uniform(15, 40)!r} ohm",
            }
        elif kind in ("star", "delta") and rng.random() < 0.4:
            whole = rng.choice(("each", "total"))
            each = self.branch() if whole == "each" else self.rating() | {"at": "400 V"}
            load[whole] = each
        else:
            keys = LINES if kind in ("star", "line-to-neutral") else PAIRS
            least = 3 if kind in ("star", "delta") else 1
            load |= {key: self.branch() for key in rng.sample(keys, rng.randint(least, 3))}
        if kind == "star":
            points = ["isolated", "neutral"] if wires == 4 else ["isolated"]
            load["star_point"] = rng.choice(points)
        if rng.random() < 0.4:
            load["lead_impedance"] = ohms(self.some(0.1, 1))
        if kind == "line-to-neutral" and rng.random() < 0.5:
            load["neutral_lead"] = ohms(self.some(0.1, 1))
        return load

    def supply(self, wires: int) -> Document:
        rng = self.rng
        supply: Document = {"wires": wires, "frequency": "50 Hz"}
        way = rng.choice(("voltage", "phase_voltages", "sequence_voltages"))
        if way == "voltage":
            supply["voltage"] = "400 V"
        elif way == "phase_voltages":
            emfs = [cmath.rect(rng.uniform(190, 260), -2.1 * k + rng.gauss(0, 0.1)) for k in (0, 1)]
            emfs.append(cmath.rect(rng.uniform(190, 260), 2.1 + rng.gauss(0, 0.1)))
            supply[way] = dict(zip(LINES, map(volts, emfs), strict=True))
        else:
            supply[way] = {"positive": "230 V", "negative": volts(self.some(1, 20))}
            supply[way]["zero"] = volts(self.some(1, 20))
        if rng.random() < 0.6:
            supply["line_impedance"] = ohms(self.some(0.05, 0.5))
        if wires == 4 and rng.random() < 0.6:
            supply["neutral_impedance"] = ohms(self.some(0.1, 3))
        return supply

    def meter(self, name: str, line: str, wires: int, document: Document) -> Document:
        rng = self.rng
        ends = [end for end in LINES if end != line] + (["N"] * 2 if wires == 4 else [])
        meter: Document = {"name": name, "current": line, "voltage": [line, rng.choice(ends)]}
        instrument = rng.choice(["plain", "static", "corrected", None])
        if instrument == "corrected":
            return meter | {"instrument": instrument, "voltage_tap": "load"}
        if instrument:
            meter["instrument"] = instrument
        for kind in ("current_transformer", "voltage_transformer"):
            if rng.random() < 0.4:
                meter[kind] = rng.choice(sorted(document[kind]))
        turned = rng.sample(("current", "voltage"), rng.randint(0, 2))
        return meter | {"reversed": turned, "voltage_tap": rng.choice(("supply", "load"))}

    def document(self) -> Document:
        """Make a scenario with all kinds of tables."""
        rng = self.rng
        wires = rng.choice((3, 4))
        document: Document = {
            "title": "Random",
            "supply": self.supply(wires),
            "load": [self.load(wires, k + 1) for k in range(rng.randint(1, 3))],
            "instrument": {
                "plain": {
                    "current_circuit": ohms(self.some(0.01, 0.1)),
                    "voltage_circuit": rng.choice(("5000.0+0j ohm", "5 kohm, 1 H")),
                },
                "static": {
                    "kind": "electronic",
                    "voltage_circuit": "1 Mohm",
                    "gain_error": "0.4 %",
                    "phase_error": "0.2 deg",
                },
                "corrected": {
                    "compensated": True,
                    "current_circuit": ohms(self.some(0.01, 0.1)),
                    "voltage_circuit": "8000.0+0j ohm",
                },
            },
            "current_transformer": {
                "stated": {"ratio": "50/5 A", "ratio_error": "-0.3 %"},
                "built": {
                    "ratio": "50/5 A",
                    "magnetising": "10+40j ohm",
                    "winding": "0.1 ohm",
                    "leads": "0.2 ohm",
                    "burden": "0.3+0.1j ohm",
                },
            },
            "voltage_transformer": {
                "stated": {"ratio": "400/100 V", "phase_displacement": "0.4 deg"},
                "built": {
                    "ratio": "400/100 V",
                    "magnetising": "5+50j kohm",
                    "winding": "20+8j ohm",
                    "burden": "4 kohm",
                },
            },
        }
        if rng.random() < 0.5:
            between = rng.sample(["L1", "L2", "L3", "N"][:wires], 2)
            side = rng.choice(("supply", "load"))
            value = ohms(self.some(100, 900))
            document["impedance"] = [
                {"name": "extra", "between": between, "value": value, "side": side}
            ]
        lines = rng.sample(LINES, rng.randint(1, 3))
        meters = [f"W{k}" for k, _ in enumerate(lines, 1)]
        document["wattmeter"] = [
            self.meter(name, line, wires, document)
            for name, line in zip(meters, lines, strict=True)
        ]
        document["voltmeter"] = [{"name": "V", "between": ["L1", "L2"], "instrument": "plain"}]
        document["ammeter"] = [{"name": "A", "in": "L2", "instrument": "plain"}]
        kind = rng.choice(("power", "reactive_power"))
        document["total"] = {kind: " + ".join(meters)}
        return document


# What a value of each quantity may be, and the file that has it --------------------------------


def quantities(document: Document) -> dict[str, Quantity]:
    """List quantities by path."""
    found = of_supply(document["supply"])
    for k, load in enumerate(document["load"]):
        keys = {f"{load['name']}: {path}": of for path, of in of_load(k, load).items()}
        found |= keys
    if "impedance" in document:
        found["impedance extra: value"] = at("ohm", "impedance", 0, "value")
    for name, part, unit in (
        ("plain", "current_circuit", "closed"),
        ("plain", "voltage_circuit", "voltage circuit"),
        ("static", "gain_error", "error"),
        ("static", "phase_error", "deg"),
        ("corrected", "voltage_circuit", "compensated"),
        ("corrected", "current_circuit", "closed"),
    ):
        found[f"instrument {name}: {part}"] = at(unit, "instrument", name, part)
    for kind, burden in (("current", "closed"), ("voltage", "above zero")):
        group = f"{kind}_transformer"
        for name, part, unit in (
            ("stated", "ratio_error", "error"),
            ("stated", "phase_displacement", "deg"),
            ("built", "magnetising", "above zero"),
            ("built", "winding", "closed"),
            ("built", "leads", "closed"),
            ("built", "burden", burden),
        ):
            found[f"{group} {name}: {part}"] = at(unit, group, name, part)
    return found


def at(unit: str, *address: str | int) -> Quantity:
    return unit, lambda document, value: put(document, value, *address)


def of_supply(supply: Document) -> dict[str, Quantity]:
    found = {"supply: frequency": at("Hz", "supply", "frequency")}
    if "voltage" in supply:
        found["supply: voltage"] = at("V", "supply", "voltage")
    for name in supply.get("sequence_voltages", ()):
        found[f"supply: {name}"] = at("phasor", "supply", "sequence_voltages", name)
    for line in supply.get("phase_voltages", ()):
        found[f"supply: {line}"] = at("phasor", "supply", "phase_voltages", line)
        found[f"supply: unbalance {line}"] = "%", partial(scaled_emf, line=line)
    found["supply: line_impedance"] = at("ohm", "supply", "line_impedance")
    for line in LINES:
        found[f"supply: line_impedance {line}"] = "ohm", partial(one_line, line=line)
    if supply["wires"] == 4:
        found["supply: neutral_impedance"] = at("ohm", "supply", "neutral_impedance")
    return found


PARTS = {"power": "W", "apparent_power": "VA", "reactive_power": "var", "current": "A"}
PARTS |= {"power_factor": "power factor", "at": "V"}
PARTS |= {"resistance": "ohms", "inductance": "H", "capacitance": "F"}


def of_load(k: int, load: Document) -> dict[str, Quantity]:
    found = {"lead_impedance": at("ohm", "load", k, "lead_impedance")}
    if load["connection"] == "motor":
        circuit = {f"circuit {x}": at("ohms", "load", k, "circuit", x) for x in load["circuit"]}
        return found | circuit | {"slip": at("slip", "load", k, "slip")}
    branches = [b for b in (*LINES, *PAIRS) if b in load]
    found |= {b: at("ohm", "load", k, b) for b in branches}
    for branch in ("each", "total", *branches):
        given = load.get(branch)
        if isinstance(given, dict):
            parts = sorted(given.keys() - {"parallel"})
            found |= {f"{branch} {x}": at(PARTS[x], "load", k, branch, x) for x in parts}
    if "neutral_lead" in load:
        found["neutral_lead"] = at("ohm", "load", k, "neutral_lead")
    if load["connection"] in ("star", "delta"):
        found["each"] = "ohm", partial(each, k)
    if branches and all(isinstance(load[b], str) for b in branches):
        found["angle"] = "angle", lambda d, v: turned(d, k, float(v.removesuffix(" deg")))
        found["power_factor"] = "power factor", lambda d, v: turned(d, k, phi_of(v))
        found |= {f"unbalance {b}": ("%", partial(unbalanced, k, b)) for b in branches}
    return found


def put(document: Document, value: Any, *address: str | int) -> Document:
    document = copy.deepcopy(document)
    table: Any = document
    for part in address[:-1]:
        table = table[part]
    table[address[-1]] = value
    return document


def scaled_emf(document: Document, value: str, line: str) -> Document:
    size, angle = document["supply"]["phase_voltages"][line].split(" V @ ")
    emf = f"{float(size) * (1 + float(value[:-1]) / 100)!r} V @ {angle}"
    return put(document, emf, "supply", "phase_voltages", line)


def one_line(document: Document, value: str, line: str) -> Document:
    given = document["supply"].get("line_impedance", "0 ohm")
    table = given if isinstance(given, dict) else dict.fromkeys(LINES, given)
    return put(document, table | {line: value}, "supply", "line_impedance")


def each(k: int, document: Document, value: str) -> Document:
    document = copy.deepcopy(document)
    load = document["load"][k]
    for name in ("total", *LINES, *PAIRS):
        load.pop(name, None)
    load["each"] = value
    return document


def phi_of(text: str) -> float:
    factor, sense = text.split()
    if float(factor) > 1:
        return 180.0  # no load either
    return math.degrees(math.acos(float(factor))) * (-1 if sense == "lead" else 1)


def on_branches(document: Document, k: int, change: Any) -> Document:
    document = copy.deepcopy(document)
    load = document["load"][k]
    for b in (*LINES, *PAIRS):
        if b in load:
            load[b] = ohms(change(b, parsed(load[b])))
    return document


def turned(document: Document, k: int, phi: float) -> Document:
    def turn(_: str, Z: complex) -> complex:
        R = abs(Z) * math.cos(math.radians(phi)) if abs(phi) != 90 else 0.0
        return Z if cmath.isinf(Z) else complex(R, abs(Z) * math.sin(math.radians(phi)))

    return on_branches(document, k, turn)


def unbalanced(k: int, branch: str, document: Document, value: str) -> Document:
    factor = 1 + float(value.removesuffix(" %")) / 100
    return on_branches(document, k, lambda b, Z: Z / factor if b == branch else Z)


# Values ---------------------------------------------------------------------------------------


def usual_value(rng: random.Random, unit: str) -> complex:
    Z = cmath.rect(rng.uniform(2, 90), rng.uniform(-1.4, 1.4))
    return {
        "ohm": Z,
        "closed": Z / 500,
        "above zero": Z,
        "voltage circuit": Z * 200,
        "compensated": Z * 200,
        "ohms": rng.uniform(0.3, 30),
        "phasor": cmath.rect(rng.uniform(100, 300), rng.uniform(-3, 3)),
        "V": rng.uniform(200, 450),
        "A": rng.uniform(0.5, 9),
        "W": rng.uniform(100, 3000),
        "VA": rng.uniform(500, 4000),
        "var": rng.uniform(-2000, 2000),
        "Hz": rng.uniform(20, 400),
        "H": rng.uniform(0.01, 0.4),
        "F": rng.uniform(1e-5, 4e-4),
        "%": rng.uniform(-20, 20),
        "error": rng.uniform(-20, 20),
        "deg": rng.uniform(-5, 5),
        "angle": rng.uniform(-80, 80),
        "power factor": rng.uniform(0.1, 0.99) * rng.choice((-1, 1)),
        "slip": rng.uniform(0.01, 1.9),
    }[unit]


RARE: dict[str, list[complex]] = {
    "ohm": [0j, OPEN, 1e-9 + 0j, 1e9 + 0j, 30j, -30j, 1e-3j, complex(1e-4, 1e4)],
    "closed": [0j, 1e-9 + 0j, 5j, 3 + 4j],
    "above zero": [OPEN, 1e-6 + 0j, 1e9 + 0j, 40j, -40j],
    "voltage circuit": [OPEN, 1 + 0j, 1e9 + 0j, 100 + 9000j, 100 - 9000j],
    "compensated": [1 + 0j, 1e9 + 0j, 100 + 9000j, 100 - 9000j],
    "ohms": [1e-6, 1e6],
    "phasor": [0j, -230 + 0j, 1e-6 + 0j, 1e4j],
    "V": [1e-3, 1e5],
    "A": [1e-6, 1e4],
    "W": [0.0, 1e-6, 1e6],
    "VA": [0.0, 1.0, 1e6],
    "var": [0.0, -1e6, 1e6, -1.0],
    "Hz": [1e-3, 1e5],
    "H": [0.0, 1e-9, 1e3],
    "F": [1e-12, 1e3],
    "%": [0.0, -99.9, 1e4],
    "error": [0.0, -99.9, -130.0, 1e4],
    "deg": [0.0, 179.0, -90.0],
    "angle": [0.0, 90.0, -90.0, 1e-9],
    "power factor": [0.0, -0.0, 1.0, 0.999999, -1e-6],
    "slip": [0.0, 1.0, 2.0, 1e-9],
}

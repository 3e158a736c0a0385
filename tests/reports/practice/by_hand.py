"""A second way to the answers: from the words of a sheet alone, by Ohm, Kirchhoff and Millman.

It shares no code with the simulator: it reads what a student reads, and calculates with phasors as
a student does.
"""

from __future__ import annotations

import cmath
import math
import re

LINES = ("L1", "L2", "L3")
PREFIX = {"": 1.0, "k": 1e3, "M": 1e6, "m": 1e-3}


def quantity(text: str, unit: str) -> float:
    """Read "1.05 kW" and the like."""
    found = re.fullmatch(rf"([−-]?[\d.]+) ?([kMm]?){unit}", text.strip())
    assert found, text
    return float(found[1].replace("−", "-")) * PREFIX[found[2]]


def _polar(size: float, degrees: float) -> complex:
    return cmath.rect(size, math.radians(degrees))


def _ohms(text: str) -> complex:
    size, _, angle = text.partition(" ∠")
    return _polar(quantity(size, "Ω"), float(angle.rstrip("°").replace("−", "-") or 0))


def phase_voltages(words: str) -> dict[str, complex]:
    """Voltages of the lines to the star point of a symmetrical supply."""
    found = re.match(r"(Three|Four) wires, ([\d.]+ k?V) .*sequence (L\d)-(L\d)-(L\d)\.", words)
    assert found, words
    volts = quantity(found[2], "V") / (math.sqrt(3) if found[1] == "Three" else 1)
    order = found[3], found[4], found[5]
    turned = 120 * order.index("L1")  # L1 at 0°, each line 120° behind the one before it
    return {line: _polar(volts, turned - 120 * k) for k, line in enumerate(order)}


def power_factor_angle(words: str) -> float:
    """Angle of "power factor 0.8 lag", "power factor 0.866 lead" or "power factor 1"."""
    found = re.search(r"power factor ([\d.]+) ?(lag|lead)?", words)
    assert found, words
    angle = math.degrees(math.acos(float(found[1].rstrip("."))))
    return -angle if found[2] == "lead" else angle


def line_currents(V: dict[str, complex], words: str) -> dict[str, complex]:
    """Currents from supply to load."""
    if found := re.search(r"takes ([\d.]+ m?A) in each line", words):
        amperes, phi = quantity(found[1], "A"), power_factor_angle(words)
        return {k: _polar(amperes, math.degrees(cmath.phase(v)) - phi) for k, v in V.items()}
    if found := re.search(r"in (star|delta), each branch (.*)\.$", words):
        Z = _ohms(found[2]) / (3 if found[1] == "delta" else 1)
        return {k: v / Z for k, v in V.items()}
    if found := re.search(r"star to the neutral, each branch (.*)\.$", words):
        return {k: v / _ohms(found[1]) for k, v in V.items()}
    listed = dict(re.findall(r"(L\d(?: to L\d)?): ([^;]*?)(?:;|\.$)", words))
    Z = {name: _ohms(text) for name, text in listed.items()}
    if "in delta" in words:
        branch = {}
        for name, z in Z.items():
            start, end = name.split(" to ")
            branch[start, end] = (V[start] - V[end]) / z
        return {
            k: sum(i for (a, _), i in branch.items() if a == k)
            - sum(i for (_, b), i in branch.items() if b == k)
            for k in LINES
        }
    star = 0j
    if "isolated" in words:  # Millman
        star = sum(V[k] / Z[k] for k in LINES) / sum(1 / Z[k] for k in LINES)
    return {k: (V[k] - star) / Z[k] for k in LINES}


def star_point(V: dict[str, complex], told: tuple[str, ...], meters: list[str]) -> complex:
    """Potential of the star point P of voltage circuits, by Millman."""
    (words,) = [t for t in told if t.startswith("P is")]
    kilohms = [float(x) for x in re.findall(r"([\d.]+) kΩ", words)]
    if "two resistors" in words or "resistors of" in words:
        own = LINES.index(re.search(r"I (L\d)", meters[0])[1])
        lines = [LINES[(own + k) % 3] for k in range(3)]
    else:
        lines = list(LINES)
    branches = kilohms if len(kilohms) == 3 else [kilohms[0], kilohms[-1], kilohms[-1]]
    above = sum(V[line] / r for line, r in zip(lines, branches, strict=True))
    return above / sum(1 / r for r in branches)


def felt(told: tuple[str, ...]) -> dict[str, tuple[complex, complex]]:
    """Voltage and current that each wattmeter feels, by its name."""
    V = phase_voltages(told[0])
    I = line_currents(V, told[1])
    (words,) = [t for t in told if re.search(r"W\d? (\(position \d\) )?with I ", t)]
    meters = re.findall(r"(W\d?) (?:\(position \d\) )?with I ([^;]*?) and V (\w+)-(\w+)", words)
    nodes = V | {"N": 0j}
    if any("P" in meter for meter in meters):
        nodes["P"] = star_point(V, told, [words])
    found = {}
    for name, current, start, end in meters:
        plus, _, minus = current.partition(" − ")
        amperes = I[plus] - (I[minus] if minus else 0)
        found[name] = nodes[start] - nodes[end], amperes
    return found


def readings(told: tuple[str, ...]) -> dict[str, float]:
    """What each wattmeter reads [W]."""
    return {name: (v * i.conjugate()).real for name, (v, i) in felt(told).items()}


def neutral_current(told: tuple[str, ...]) -> float:
    """Size of the sum of the line currents [A]."""
    return abs(sum(line_currents(phase_voltages(told[0]), told[1]).values()))


def load_power(told: tuple[str, ...]) -> complex:
    """P + jQ of the loads [VA]: V·I* of every line, to any one point (here the neutral's)."""
    V = phase_voltages(told[0])
    return sum(V[k] * i.conjugate() for k, i in line_currents(V, told[1]).items())


def total(formula: str, watts: dict[str, float]) -> float:
    """Form a total as the question writes it."""
    text = re.sub(r"\bW\d?\b", lambda m: f"({watts[m[0]]!r})", formula)
    text = text.replace("√3", str(math.sqrt(3))).replace("·", "*").replace("−", "-")
    assert re.fullmatch(r"[\d.e()*/+\- ]+", text), text
    return float(eval(text))  # noqa: S307  (digits and signs only, see the line above)

"""Published worked examples: the records in data/, and what the simulator makes of them.

A record has a source (data/sources.toml) and cases; a case is a scenario in the words of the
scenario file, with the source's own labels. Its values stand in three tables. `printed` are the
source's, and the tolerance is half a unit of each number's last printed digit; `rounded` marks a
value that the source got from rounded intermediates: 0.5 %, and the record's note says so. `trap`
marks a printed value that is wrong: the simulator must not give it, and must give the one that
test_traps.py works out another way. `given` are inputs of the source that must come out again.
`derived` are not published: they come from an independent solver or a closed form, cut to the
digits that stand there. The source's angles stay its own: `first_emf` is the angle its first
line's voltage to the star point has there; ours is 0, so our phasors are turned by it.
A record marked SEEN was read where its source says; MEM is from memory of the named book.
"""

from __future__ import annotations

import cmath
import math
import re
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import simulator

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.findings.result import Result

DATA = Path(__file__).parent / "data"
RECORDS = (
    "unbalanced_loads",
    "four_wires",
    "balanced_loads",
    "from_readings",
    "instruments",
    "from_memory",
)
KINDS = ("printed", "given", "derived")
COMPONENTS = ("positive", "negative", "zero")
SCALES = {"kW": 1e3, "MW": 1e6, "kvar": 1e3, "uF": 1e-6}
NUMBER = r"[+-]?\d+(?:\.\d+)?"


@cache
def read_data(name: str) -> dict[str, Any]:
    """Read a data file."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Printed:
    """A number or phasor as it stands in print, with half a unit of its last digits."""

    value: complex
    halves: tuple[float, ...]
    form: str

    @classmethod
    def parse(cls, text: str) -> Printed:
        """Read 31.63, 76.38/_-42.5 (degrees) or 24.392-15.856j."""
        for form, pattern in (
            ("real", f"({NUMBER})"),
            ("polar", f"({NUMBER})/_({NUMBER})"),
            ("rectangular", f"({NUMBER})([+-]{NUMBER.removeprefix('[+-]?')})j"),
        ):
            if match := re.fullmatch(pattern, text):
                numbers = [float(x) for x in match.groups()]
                halves = tuple(0.5 / 10 ** len(x.partition(".")[2]) for x in match.groups())
                if form == "polar":
                    return cls(cmath.rect(numbers[0], math.radians(numbers[1])), halves, form)
                return cls(complex(*numbers), halves, form)
        raise ValueError(text)

    def distance(self, ours: complex) -> float:
        """Compare with our value: 1 is just within the printed digits."""
        if self.form == "polar":
            apart = [abs(ours) - abs(self.value), math.degrees(cmath.phase(ours / self.value))]
        elif self.form == "rectangular":
            apart = [(ours - self.value).real, (ours - self.value).imag]
        else:
            apart = [ours.real - self.value.real]
        return max(abs(x) / half for x, half in zip(apart, self.halves, strict=True))


@dataclass(frozen=True, eq=False)
class Check:
    """One value of one case of one record."""

    record: dict[str, Any]
    case: dict[str, Any]
    kind: str
    name: str

    @property
    def entry(self) -> dict[str, Any]:
        """The value's own table: value, unit, where to find it, and marks."""
        found: dict[str, Any] = self.case[self.kind][self.name]
        return found

    @property
    def printed(self) -> Printed:
        """The expected value."""
        return Printed.parse(self.entry["value"])

    @property
    def ours(self) -> complex:
        """The simulator's value, in the source's unit and frame of reference."""
        found = look_up(solved(self.record["id"], self.case.get("name", "")), self.entry["at"])
        if self.printed.form == "real":  # of a phasor the source prints the magnitude
            found = abs(found) if isinstance(found, complex) else found
        else:
            found *= cmath.rect(1, math.radians(self.record.get("first_emf", 0)))
        return complex(found / SCALES.get(self.entry.get("unit", ""), 1))

    @property
    def distance(self) -> float:
        """How far ours is from the expected value, in half units of its last digits."""
        return self.printed.distance(self.ours)

    @property
    def relative(self) -> float:
        """How far ours is from the expected value, relative to it."""
        return abs(self.ours - self.printed.value) / abs(self.printed.value)

    def __str__(self) -> str:
        parts = (self.record["id"], self.record["name"], self.case.get("name"), self.name)
        return " ".join(part for part in parts if part)


def scenario_table(record: dict[str, Any], case: dict[str, Any]) -> dict[str, Any]:
    """Write a case as a scenario file."""
    table = {k: v for k, v in case.items() if k not in ("name", "readings", *KINDS)}
    if "readings" in case:
        table |= load_from_readings(case["readings"])
    return {"title": record["id"]} | table


def load_from_readings(given: dict[str, str]) -> dict[str, Any]:
    """Rebuild the balanced load on which two wattmeters read this.

    P = low + high and Q = √3·(high − low), from W = V·I·cos(30° ± φ).
    """
    low, high = (float(given[k].removesuffix(" W")) for k in ("low", "high"))
    total = {"power": f"{low + high} W", "reactive_power": f"{math.sqrt(3) * (high - low)} var"}
    return {
        "supply": {"wires": 3, "voltage": given["at"]},
        "load": [{"connection": "star", "total": total}],
    }


@cache
def solved(record_id: str, case_name: str) -> Result:
    """Solve a case."""
    record = next(r for name in RECORDS for r in read_data(name)["record"] if r["id"] == record_id)
    case = next(c for c in record["case"] if c.get("name", "") == case_name)
    return simulator.solve(simulator.scenario_from(scenario_table(record, case)))


def look_up(result: Result, path: str) -> Any:
    """Find a quantity by its words, such as `line R` or `branch a-b current`."""
    what, *words = path.split()
    return QUANTITIES[what](result, *words)


def _line(result: Result, *words: str) -> complex:
    station = result.first
    values = station.line_potentials if words[0] == "potential" else station.line_currents
    return complex(values[result.measurement.conductors.lines.index(words[-1])])


def _branch(result: Result, name: str, what: str) -> Any:
    branch = next(b for load in result.first.loads for b in load.branches if b.name == name)
    if what in ("voltage", "current"):
        return getattr(branch, what)
    if what == "power":
        return branch.power.real
    impedance = branch.voltage / branch.current
    omega = 2 * math.pi * result.measurement.supply.frequency
    return {
        "impedance": abs(impedance),
        "resistance": impedance.real,
        "reactance": abs(impedance.imag),
        "capacitance": -1 / (omega * impedance.imag),
    }[what]


def _neutral(result: Result, what: str = "") -> complex:
    if what == "shift":
        return complex(result.first.solution.potentials["N"])
    return result.first.neutral_current * (-1 if what == "return" else 1)


def _behind(result: Result, line: str, line_ohms: str, neutral_ohms: str) -> complex:
    """Find the emf behind the resistances of a line and of the neutral."""
    drop = float(line_ohms) * _line(result, line) + float(neutral_ohms) * _neutral(result)
    return _line(result, "potential", line) + drop


QUANTITIES: dict[str, Callable[..., Any]] = {
    "reading": lambda r, meter: r[meter].watts,
    "dial": lambda r, meter: r[meter].at_instrument,
    "multiplier": lambda r, meter: r[meter].watts / r[meter].at_instrument,
    "indicated": lambda r: r.total.indicated,
    "error_percent": lambda r: r.total.error_percent,
    "power": lambda r: r.first.true.real,
    "reactive_power": lambda r: r.first.true.imag,
    "power_factor": lambda r: r.first.plane.power_factor.vector,
    "angle": lambda r: math.degrees(cmath.phase(r.first.true)),
    "line": _line,
    "neutral": _neutral,
    "behind": _behind,
    "branch": _branch,
    "terminals": lambda r, a, b: _branch(r, a, "voltage") - _branch(r, b, "voltage"),
    "star_point": lambda r: r.first.loads[0].star_point,
    "component": lambda r, what, which: r.first.components[what][COMPONENTS.index(which)],
}


def checks() -> list[Check]:
    """List every value of every case of every record."""
    return [
        Check(record, case, kind, name)
        for file in RECORDS
        for record in read_data(file)["record"]
        for case in record["case"]
        for kind in KINDS
        for name in case.get(kind, {})
    ]


def kind_of(check: Check) -> str:
    """Tell which test a value is for."""
    return next((mark for mark in ("trap", "rounded") if check.entry.get(mark)), check.kind)

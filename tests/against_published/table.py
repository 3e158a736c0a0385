"""The README's table: what is checked against which source, and how closely it agrees.

To renew it: python -m tests.against_published.table
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from tests.against_published.records import Printed, checks, kind_of, read_data
from tests.against_published.test_motors import MOTORS, quantities
from tests.against_published.test_worked_examples import SOURCE_ROUNDING
from tests.against_published.test_wrong_connections import ANGLES, TABLE, entries

if TYPE_CHECKING:
    from tests.against_published.records import Check

README = Path(__file__).parents[2] / "README.md"
START, END = "<!-- published -->\n", "<!-- /published -->\n"
GROUPED = {
    "anonymous notes (public repository)": "course notes and a laboratory report, no authors given",
    "web page / Q&A": "questions with answers on web pages",
}
FEW = 2  # values; textbooks with no more share a row
QUANTITIES = {
    "reading": "readings",
    "dial": "readings",
    "multiplier": "multiplying factor",
    "indicated": "total",
    "error_percent": "error",
    "power": "power",
    "reactive_power": "reactive power",
    "power_factor": "power factor",
    "angle": "angle",
    "line": "line currents",
    "neutral": "neutral current",
    "behind": "emf behind a feeder",
    "branch": "branch values",
    "terminals": "line voltages",
    "star_point": "star-point shift",
    "component": "sequence components",
}
METERED = ("reading", "dial", "multiplier", "indicated", "error_percent")
HEAD = """\
## How closely it agrees with print

| source | seen | what is checked | values | to their digits | within 0.5 % | wrong | largest deviation |
|---|---|---|--:|--:|--:|--:|--:|
"""  # noqa: E501
LEGEND = """
*to their digits*: within half a unit of the last printed digit, so the largest deviation is
mostly the print's. *within 0.5 %*: the source rounded on the way. *wrong*: a misprint or slip of
the source or of memory; the record says which, and the right value is worked out another way and
met. *SEEN*: read on the page. *companion*: read in a public notebook that goes with the book, not
in the book. *MEM*: from memory, to be looked up. *CALC*: not published; worked out outside this
program. The records are in `tests/against_published/data/`. Blondel's theorem and definitions and
limits of standards are tested where they are used, with the same marks (`pytest -m reference`).

"""


@dataclass(frozen=True)
class Value:
    """A published or calculated value and how far ours is from it."""

    distance: float  # in half units of its last digit
    relative: float
    what: str
    method: str = ""
    wrong: bool = False


@dataclass
class Row:
    """One source, or a group of small ones."""

    source: str
    seen: str
    values: list[Value] = field(default_factory=list)

    def __str__(self) -> str:
        checked: dict[str, dict[str, None]] = {}
        for value in sorted(self.values, key=lambda value: value.method):
            checked.setdefault(value.method, {})[value.what] = None
        words = "; ".join(
            f"{method}: {', '.join(what)}" if method else ", ".join(what)
            for method, what in checked.items()
        )
        right = [value for value in self.values if not value.wrong]
        digits = sum(value.distance <= 1 for value in right)
        rounded = sum(value.distance > 1 and value.relative <= SOURCE_ROUNDING for value in right)
        counts = [len(self.values), digits, rounded, len(self.values) - len(right)]
        percent = 100 * max(value.relative for value in right)
        deviation = "< 0.001 %" if percent < 1e-3 else f"{percent:.2g} %"
        cells = [self.source, self.seen, words, *(count or "" for count in counts), deviation]
        return f"| {' | '.join(map(str, cells))} |\n"


def relative(ours: complex, expected: complex) -> float:
    """Compare with the expected value; a printed 0 has no relative deviation."""
    return abs(ours - expected) / abs(expected) if expected else 0.0


def value_of(check: Check) -> Value:
    """Run a check; the method counts where a quantity was metered."""
    quantity = check.entry["at"].split()[0]
    method = check.case.get("method", {}).get("name", "") if quantity in METERED else ""
    return Value(
        check.distance,
        relative(check.ours, check.printed.value),
        QUANTITIES[quantity],
        method,
        kind_of(check) == "trap",
    )


@cache
def published() -> list[Row]:
    """Run the records, and put the values of each source together."""
    rows: dict[str, Row] = {}
    for check in (check for check in checks() if check.kind == "printed"):
        source = read_data("sources")[check.record["source"]]
        seen = "companion" if "companion" in source["authority"] else check.record["confidence"]
        name = GROUPED.get(source["authority"], f"{source.get('author')}, *{source['title']}*")
        rows.setdefault(name, Row(name, seen)).values.append(value_of(check))
    few = [row for row in rows.values() if len(row.values) <= FEW]
    authors = sorted(row.source.partition(", *")[0] for row in few)
    values = [value for row in few for value in row.values]
    return [
        *(row for row in rows.values() if row not in few),
        Row(f"{len(few)} more: {'; '.join(authors)}", "companion", values),
    ]


def motors(kind: str) -> list[Value]:
    """Run the induction motors."""
    values = []
    for motor in MOTORS:
        ours = quantities(motor)
        for name, text in motor.get(kind, {}).items():
            expected = Printed.parse(text)
            deviation = relative(ours[name], expected.value)
            values.append(Value(expected.distance(ours[name]), deviation, name.replace("_", " ")))
    return values


@cache
def others() -> list[Row]:
    """Run the motors and connections, and what is worked out beside the published values."""
    derived = [value_of(check) for check in checks() if check.kind == "derived"]
    connections = TABLE["two_element"] + TABLE["three_element"]
    apart = [abs(ours - ratio) for row in connections for ours, ratio in entries(row)]  # of V·I
    return [
        Row("Chapman, *Electric Machinery Fundamentals*", "MEM", motors("printed")),
        Row("what the examples leave out", "CALC", derived),
        Row(f"{len(MOTORS)} induction motors of textbooks", "CALC", motors("calculated")),
        Row(
            f"{len(connections)} right and wrong connections, at {len(ANGLES)} angles",
            "CALC",
            [Value(x / 1e-9, x, "readings, total") for x in apart],
        ),
    ]


def section() -> str:
    """Write the README's section."""
    order = ("companion", "SEEN", "MEM", "CALC")
    rows = sorted(published() + others(), key=lambda row: (order.index(row.seen), -len(row.values)))
    return HEAD + "".join(map(str, rows)) + LEGEND


def renew(text: str) -> str:
    """Put the section between the README's marks."""
    before, rest = text.split(START)
    return before + START + section() + END + rest.split(END)[1]


if __name__ == "__main__":
    README.write_text(renew(README.read_text(encoding="utf-8")), encoding="utf-8")

"""One sentence: why a total is right or wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.findings.conditions import conditions_of
from simulator.findings.error_terms import error_terms
from simulator.findings.exactness import exactness_table
from simulator.findings.sensing import sense_total

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.findings.error_terms import Term
    from simulator.findings.station import Station
    from simulator.scenario.build import Measurement

# A total is called right when its error is below this part of the apparent power.
RIGHT = 1e-9
# A term is mentioned when it is at least this part of the largest one.
WORTH_SAYING = 0.02
# A formula up to this length is said in the sentence; `explain` writes any.
SHORT = 40


def reason_for(measurement: Measurement, stations: Sequence[Station], indicated: float) -> str:
    """Say why a total is right, or which term makes it wrong.

    Parameters
    ----------
    measurement : Measurement
        What is measured; it forms a total.
    stations : sequence of Station
        The solved networks.
    indicated : float
        What the formula gives [W or var].

    Returns
    -------
    str
        One sentence.
    """
    total = measurement.total
    unit = "var" if total and total.reactive else "W"
    scale = RIGHT * float(stations[0].plane.apparent.arithmetic)
    terms = error_terms(measurement, stations, indicated)
    error = sum(term.value for term in terms)
    if abs(error) <= scale:
        return _why_right(measurement, stations[0], terms[0])
    largest = max(abs(term.value) for term in terms)
    wrong = sorted(
        (t for t in terms if abs(t.value) >= WORTH_SAYING * largest), key=lambda t: -abs(t.value)
    )
    what = f"The total is {amount(abs(error), unit)} too {'high' if error > 0 else 'low'}"
    return f"{what}: {'; and '.join(_said(term, unit, what) for term in wrong)}."


def _said(term: Term, unit: str, what: str) -> str:
    """Give the cause of a term, with its formula where that is short, and its value if new."""
    short = len(term.expression) <= SHORT and "(" in term.expression
    if not short and f" {amount(abs(term.value), unit)} too" in what:
        return term.cause
    makes = f"{term.expression} =" if short else "which makes"
    return f"{term.cause} ({makes} {amount(term.value, unit)})"


def _why_right(measurement: Measurement, station: Station, method: Term) -> str:
    """Say for which whole class the total is right that holds this scenario."""
    total = measurement.total
    if method.expression == "0" or total is None:
        return f"The total is right: {method.cause}."
    sensed, _ = sense_total(measurement, total)
    conditions = conditions_of(station)
    rows = exactness_table(sensed, measurement.supply.sequence)
    widest = next((row for row in rows if row.exact and conditions.fits(row)), None)
    if widest is None:
        return "The total is right here by coincidence, not by the method."
    return (
        f"The total is right: it is for {LOAD_WORDS[widest.load]} on {SUPPLY_WORDS[widest.supply]}."
    )


LOAD_WORDS = {
    "any": "any load",
    "no neutral current": "any load without neutral current",
    "balanced": "any balanced load",
    "balanced resistive": "any balanced resistive load",
}
SUPPLY_WORDS = {
    "any": "any supply",
    "zero-sum": "voltages that sum to zero",
    "symmetrical": "symmetrical voltages",
}


def amount(value: float, unit: str) -> str:
    """Write a value with its unit to four digits.

    Parameters
    ----------
    value : float
        The value.
    unit : str
        Its unit.

    Returns
    -------
    str
        For example "−76.85 W".
    """
    size = abs(value)
    text = f"{size:.1f}".removesuffix(".0") if size >= 1000 else f"{size:.4g}"
    return f"{'−' if value < 0 else ''}{text} {unit}"

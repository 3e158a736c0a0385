"""One sentence: why a total is right or wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.findings.conditions import conditions_of
from simulator.findings.error_terms import error_terms

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.findings.station import Station
    from simulator.scenario.build import Measurement

# A total is called right when its error is below this part of the apparent power.
RIGHT = 1e-9
# A term is mentioned when it is at least this part of the largest one.
WORTH_SAYING = 0.02


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
        method = terms[0]
        if method.expression == "0":
            return f"The total is right: {method.cause}."
        words = conditions_of(stations[0]).words
        return f"The total is right here, with {words}; what could make it wrong is zero."
    largest = max(abs(term.value) for term in terms)
    wrong = sorted(
        (t for t in terms if abs(t.value) >= WORTH_SAYING * largest), key=lambda t: -abs(t.value)
    )
    what = f"The total is {amount(abs(error), unit)} too {'high' if error > 0 else 'low'}"
    parts = [f"{t.cause} ({t.expression} = {amount(t.value, unit)})" for t in wrong]
    return f"{what}: {'; and '.join(parts)}."


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
    text = f"{size:.1f}" if size >= 1000 else f"{size:.4g}"
    return f"{'−' if value < 0 else ''}{text} {unit}"

"""One sentence: why a total is right or wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.findings.error_terms import error_terms

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.findings.station import Station
    from simulator.scenario.build import Measurement

# A total is called right when its error is below this part of the apparent power.
RIGHT = 1e-9


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
    assert total is not None  # noqa: S101  (the caller has one)
    unit = "var" if total.reactive else "W"
    scale = RIGHT * float(stations[0].plane.apparent.arithmetic)
    terms = error_terms(measurement, stations, indicated)
    method = terms[0]
    error = sum(term.value for term in terms)
    wrong = sorted(
        (term for term in terms if abs(term.value) > max(scale, 1e-3 * abs(error))),
        key=lambda term: -abs(term.value),
    )
    if abs(error) <= scale or not wrong:
        if method.expression.startswith("none"):
            return f"The total is right: {method.cause}."
        return f"The total is right here, though not always: {method.expression} is zero."
    what = f"The total is {_amount(abs(error), unit)} too {'high' if error > 0 else 'low'}"
    parts = [f"{term.cause} ({term.expression} = {_amount(term.value, unit)})" for term in wrong]
    return f"{what}: {'; and '.join(parts)}."


def _amount(value: float, unit: str) -> str:
    return f"{value:.4g} {unit}".replace("-", "−")

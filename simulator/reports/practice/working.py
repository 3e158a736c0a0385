"""The way to the answers as on a board, every number taken from the solved circuit."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.figures.words import angle_between, quantity
from simulator.phasors import angle_deg
from simulator.reports.practice.problem import ROUND_OFF, number, polar

if TYPE_CHECKING:
    from simulator.findings.result import Result
    from simulator.findings.station import BranchResult, Station
    from simulator.metering.readings import Reading
    from simulator.quantities import Unit
    from simulator.reports.practice.installations import Given


def circuit_steps(result: Result, given: Given, station: Station | None = None) -> list[str]:
    """Write how the line currents follow from the supply and the load.

    Parameters
    ----------
    result : Result
        The solved circuit; it has one load.
    given : str
        How the load is told.
    station : Station, optional
        Whose circuit; the first if not given.

    Returns
    -------
    list of str
        The lines.
    """
    station = station or result.first
    lines = station.arrangement.conductors.lines
    potentials = dict(zip(lines, station.line_potentials.tolist(), strict=True))
    currents = dict(zip(lines, station.line_currents.tolist(), strict=True))
    (load,) = station.loads
    branches = {b.name: b for b in load.branches}
    steps = ["Phase voltages: " + _listed({f"V {k}": v for k, v in potentials.items()}, "V")]
    if given == "current":
        phi = round(_angle(branches[lines[0]]), 6)
        side = "behind" if phi > 0 else "ahead of"
        turned = f", each {number(abs(phi))}° {side} its phase voltage" if phi else ""
        steps.append(f"Currents{turned}: {_listed(_named('I', currents), 'A')}")
    elif given == "delta":
        steps.append(
            "Voltages across the branches: "
            + _listed({f"V {k}": b.voltage for k, b in branches.items()}, "V")
        )
        steps += [_ohm(f"I {k}", f"V {k}", b) for k, b in branches.items()]
        first, second, third = branches
        for line, out, back in zip(
            lines, (first, second, third), (third, first, second), strict=True
        ):
            steps.append(f"I {line} = I {out} − I {back} = {polar(currents[line], 'A')}")
    else:
        if given == "isolated" and load.star_point:
            terms = " + ".join(f"V {k}/Z {k}" for k in lines)
            below = " + ".join(f"1/Z {k}" for k in lines)
            steps.append(
                f"Star point S: V S = ({terms}) / ({below}) = {polar(load.star_point, 'V')}"
            )
            across = {f"V {k} − V S": b.voltage for k, b in branches.items()}
            steps.append("Voltages across the branches: " + _listed(across, "V"))
        steps += [_ohm(f"I {k}", "V", b) for k, b in branches.items()]
    return steps


def neutral_step(station: Station) -> str:
    """Write how the neutral's current follows from those of the lines.

    Parameters
    ----------
    station : Station
        A solved circuit with a neutral.

    Returns
    -------
    str
        A line.
    """
    lines = station.arrangement.conductors.lines
    terms = " + ".join(f"I {k}" for k in lines)
    parts = " + ".join(polar(i, "A") for i in station.line_currents.tolist())
    total = polar(station.neutral_current, "A")
    return f"I {station.neutral} = {terms} = {parts} = {total}, as phasors"


def meter_steps(result: Result) -> list[str]:
    """Write what each wattmeter feels and reads.

    Parameters
    ----------
    result : Result
        The solved circuit.

    Returns
    -------
    list of str
        A line for each wattmeter, and one before for a star point that the meters make.
    """
    steps = []
    for node, potential in result.first.nodes.items():
        station = result.first
        steps.append(
            f"Star point {node} of the voltage circuits: V {node} = Σ(V/R)/Σ(1/R) = "
            f"{polar(potential, 'V')} to the supply's neutral"
            if abs(potential) > 1e-9 * abs(station.line_potentials[0])
            else f"Star point {node} of equal voltage circuits: it lies on the supply's neutral"
        )
    return steps + [meter_step(reading) for reading in result.readings.values()]


def meter_step(reading: Reading) -> str:
    """Write how a reading follows from its voltage and its current.

    Parameters
    ----------
    reading : Reading
        The reading.

    Returns
    -------
    str
        A line.
    """
    meter = reading.meter
    felt = f"{meter.name}: V {meter.voltage[0]}-{meter.voltage[1]} = {polar(reading.voltage, 'V')}"
    felt += f", I {meter.current_text} = {polar(reading.current, 'A')}"
    angle = angle_between(reading)
    if math.isnan(angle):
        return f"{felt}; nothing to multiply, {meter.name} = 0 W"
    product = f"{quantity(abs(reading.voltage), 'V')} × {quantity(abs(reading.current), 'A')}"
    return f"{felt}; {meter.name} = {product} × cos {number(abs(angle))}° = {watts_text(reading)}"


def watts_text(reading: Reading) -> str:
    """Write a reading to four digits.

    Parameters
    ----------
    reading : Reading
        The reading.

    Returns
    -------
    str
        For example "−868.6 W".
    """
    return quantity(0.0 if reading.direction == "zero" else reading.watts, "W")


def total_step(result: Result) -> str:
    """Write how the total is formed.

    Parameters
    ----------
    result : Result
        The solved circuit; it forms a total.

    Returns
    -------
    str
        A line.
    """
    total = result.total
    assert total is not None  # noqa: S101  (every method of the catalogue forms one)
    unit: Unit = "var" if total.reactive else "W"
    inserted = formula = formula_text(total.formula)
    for name, reading in result.readings.items():
        watts = watts_text(reading)
        inserted = inserted.replace(name, f"({watts})" if watts.startswith("−") else watts)
    return f"Total: {formula} = {inserted} = {quantity(total.indicated, unit)}"


def reactive_steps(result: Result) -> list[str]:
    """Write how reactive power and power factor follow where the readings do not tell them.

    Parameters
    ----------
    result : Result
        The solved circuit; it has one load.

    Returns
    -------
    list of str
        The lines.
    """
    S = result.first.true
    (load,) = result.first.loads
    vars_ = [branch.power.imag for branch in load.branches]
    parts = [quantity(Q if abs(Q) > ROUND_OFF * abs(S) else 0.0, "var") for Q in vars_]
    terms = " + ".join(f"({part})" if part.startswith("−") else part for part in parts)
    factor = f"power factor = P/√(P² + Q²) = {number(S.real / abs(S))}"
    return [
        f"Q = Σ I²·X of the branches = {terms} = {quantity(S.imag, 'var')}",
        f"{factor}; the load is not balanced, so √3·(W2 − W1) is not Q",
    ]


def formula_text(formula: str) -> str:
    """Write the formula of a total as on a board.

    Parameters
    ----------
    formula : str
        The formula of a scenario file.

    Returns
    -------
    str
        For example "√3·(W2 − W1)".
    """
    return formula.replace("sqrt(3)", "√3").replace("*", "·").replace("-", "−")


def _named(symbol: str, phasors: dict[str, complex]) -> dict[str, complex]:
    return {f"{symbol} {name}": value for name, value in phasors.items()}


def _listed(phasors: dict[str, complex], unit: Unit) -> str:
    return "; ".join(f"{name} = {polar(value, unit)}" for name, value in phasors.items())


def _angle(branch: BranchResult) -> float:
    return float(angle_deg(branch.voltage * branch.current.conjugate(), 1e-9))


def _ohm(current: str, voltage: str, branch: BranchResult) -> str:
    """Write Ohm's law for a branch."""
    Z = branch.voltage / branch.current
    angle = round(float(angle_deg(Z)), 6)
    impedance = quantity(abs(Z), "ohm").replace("ohm", "Ω") + (
        f" ∠{number(angle)}°" if angle else ""
    )
    return (
        f"{current} = {voltage}/Z = ({polar(branch.voltage, 'V')})/({impedance}) = "
        f"{polar(branch.current, 'A')}"
    )

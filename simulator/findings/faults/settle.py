"""The extra test that tells apart wirings which read the same.

The outcome of each test is predicted for each wiring, and the fewest, simplest tests are chosen
that separate all that can be separated.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import NetworkError
from simulator.findings.faults.parts import with_burden
from simulator.findings.faults.wiring import rewired, with_meter
from simulator.findings.result import solve
from simulator.phasors import angle_deg, wrap_deg

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from simulator.findings.faults.hypotheses import Faults, Hypothesis
    from simulator.findings.result import Result

    Maker = Callable[[Faults, Sequence[Hypothesis]], "ExtraTest | None"]

# Outcomes differ where they do by this part of the largest one of the kind (5.7° of an angle).
TELLING = 0.1
# Below this part of the largest one a phasor has no angle worth measuring.
DEAD = 0.02


@dataclass(frozen=True)
class ExtraTest:
    """A measurement that may tell wirings apart.

    Attributes
    ----------
    name : str
        What is done.
    quantity, unit : str
        What it shows, in which unit: A, V, W, °; no unit for a sense of rotation.
    shows : tuple of dict of str to float
        For each wiring what it shows at each place; NaN where there is no angle.
    """

    name: str
    quantity: str
    unit: str
    shows: tuple[dict[str, float], ...]


@dataclass(frozen=True)
class Settlement:
    """How to settle which of several wirings it is.

    Attributes
    ----------
    wirings : tuple of Hypothesis
        The wirings.
    tests : tuple of ExtraTest
        The tests to make; empty if none separates anything.
    left : tuple of tuple of Hypothesis
        Wirings that no test here tells apart, of several each.
    """

    wirings: tuple[Hypothesis, ...]
    tests: tuple[ExtraTest, ...]
    left: tuple[tuple[Hypothesis, ...], ...]


def settle(faults: Faults, wirings: Sequence[Hypothesis]) -> Settlement:
    """Choose the tests that tell wirings apart.

    Parameters
    ----------
    faults : Faults
        What they belong to.
    wirings : sequence of Hypothesis
        The wirings in doubt.

    Returns
    -------
    Settlement
        Fewest tests that separate all that can be, the simplest among equals.
    """
    tests = [_made(make, faults, wirings) for make in _TESTS]
    known = [test for test in tests if test is not None]
    different = [_different(test) for test in known]
    n = len(wirings)
    all_told = np.logical_or.reduce([*different, np.zeros((n, n), dtype=bool)])
    chosen: tuple[int, ...] = ()
    for chosen in _by_size(len(known)):
        told = np.logical_or.reduce([np.zeros((n, n), dtype=bool), *(different[k] for k in chosen)])
        if (told == all_told).all():
            break
    return Settlement(tuple(wirings), tuple(known[k] for k in chosen), _left(wirings, all_told))


def _made(make: Maker, faults: Faults, wirings: Sequence[Hypothesis]) -> ExtraTest | None:
    """Predict a test, unless there is a wiring with which it cannot be made."""
    try:
        return make(faults, wirings)
    except NetworkError:
        return None


def _by_size(n: int) -> Iterable[tuple[int, ...]]:
    return (chosen for size in range(n + 1) for chosen in itertools.combinations(range(n), size))


def _left(wirings: Sequence[Hypothesis], told: np.ndarray) -> tuple[tuple[Hypothesis, ...], ...]:
    """Collect what stays together."""
    left: dict[int, list[Hypothesis]] = {}
    for k, wiring in enumerate(wirings):
        first = int(np.flatnonzero(~told[k])[0])
        left.setdefault(first, []).append(wiring)
    return tuple(tuple(members) for members in left.values() if len(members) > 1)


def _different(test: ExtraTest) -> np.ndarray:
    """Tell for each two wirings whether a test shows something else."""
    values = np.array([list(shown.values()) for shown in test.shows])
    if test.unit == "°":
        phasors = np.where(np.isnan(values), 0, np.exp(1j * np.radians(np.nan_to_num(values))))
        return np.asarray(abs(phasors[:, None] - phasors).max(axis=2) > TELLING)
    scale = abs(values).max() or 1.0
    return np.asarray(abs(values[:, None] - values).max(axis=2) > TELLING * scale)


def _phasors(result: Result, kind: str) -> dict[str, complex]:
    return {name: getattr(reading, kind) for name, reading in result.readings.items()}


def _line_currents(_: Faults, wirings: Sequence[Hypothesis]) -> ExtraTest:
    shows = []
    for wiring in wirings:
        station = wiring.explaining.first
        lines = station.arrangement.conductors.lines
        currents = np.abs(station.line_currents).tolist()
        shows.append(dict(zip(lines, currents, strict=True)))
    return ExtraTest("ammeter in each line", "I", "A", tuple(shows))


def _sizes(kind: str, name: str, quantity: str, unit: str) -> Maker:
    def test(_: Faults, wirings: Sequence[Hypothesis]) -> ExtraTest:
        shows = (
            {key: abs(value) for key, value in _phasors(w.explaining, kind).items()}
            for w in wirings
        )
        return ExtraTest(name, quantity, unit, tuple(shows))

    return test


def _angles(kind: str, quantity: str) -> Maker:
    def test(faults: Faults, wirings: Sequence[Hypothesis]) -> ExtraTest:
        shows = []
        conductors = faults.right.result.measurement.conductors
        end = conductors.neutral or conductors.lines[1]
        for wiring in wirings:
            found = _phasors(wiring.explaining, kind)
            floor = DEAD * max(abs(value) for value in found.values())
            reference = wiring.explaining.first.solution.voltage(conductors.lines[0], end)
            turned = {k: wrap_deg(angle_deg(v) - angle_deg(reference)) for k, v in found.items()}
            shows.append(
                {k: float(a) if abs(found[k]) > floor else np.nan for k, a in turned.items()}
            )
        name = f"angle of each {kind} circuit against the voltage {conductors.lines[0]} to {end}"
        return ExtraTest(name, f"∠{quantity}", "°", tuple(shows))

    return test


def _sequence(_: Faults, wirings: Sequence[Hypothesis]) -> ExtraTest:
    """Show the sense of rotation of the lines."""
    shows = ({"lines": float(w.wiring.measurement.supply.sequence)} for w in wirings)
    return ExtraTest("phase-sequence indicator on the lines", "rotation", "", tuple(shows))


def _lead_test(faults: Faults, wirings: Sequence[Hypothesis]) -> ExtraTest | None:
    """Move the low meter's voltage lead from the common line to the other meter's line."""
    measurement = faults.right.result.measurement
    meters = measurement.wattmeters
    ends = {meter.voltage[1] for meter in meters}
    if len(meters) != 2 or len(ends) > 1 or not ends <= set(measurement.conductors.lines):
        return None
    read = {
        m.name: (faults.measured or {}).get(m.name, faults.right.result[m.name].watts)
        for m in meters
    }
    low, high = sorted(read, key=lambda name: abs(read[name]))
    name = f"voltage lead of {low} moved from the common line to the line of {high}"
    shows = []
    for wiring in wirings:
        wired = wiring.explaining.measurement
        starts = {meter.name: meter.voltage[0] for meter in wired.wattmeters}
        ends_moved = (starts[low], starts[high])
        moved = with_meter(wired, low, partial(replace, voltage=ends_moved))
        shows.append({low: solve(moved)[low].watts})
    return ExtraTest(name, "with moved lead", "W", tuple(shows))


def _pulled_lead(_: Faults, wirings: Sequence[Hypothesis]) -> ExtraTest | None:
    """Take a voltage lead off one meter; the others keep their readings if their ends are fixed."""
    first, *others = wirings[0].wiring.measurement.wattmeters
    if not others:
        return None
    line = wirings[0].wiring.measurement.conductors.lines[0]
    shows = []
    for wiring in wirings:
        burdened = rewired(wiring.explaining.measurement, with_burden)
        # Without one of its leads a voltage circuit has no voltage and draws nothing.
        result = solve(with_meter(burdened, first.name, partial(replace, voltage=(line, line))))
        shows.append({meter.name: result[meter.name].watts for meter in others})
    name = f"marked voltage lead taken off {first.name} and the other wattmeters watched"
    return ExtraTest(name, "with lead off", "W", tuple(shows))


# The simplest first.
_TESTS: tuple[Maker, ...] = (
    _line_currents,
    _sizes("voltage", "voltmeter across each voltage circuit", "U", "V"),
    _sizes("current", "ammeter in each current circuit", "I", "A"),
    _sequence,
    _lead_test,
    _pulled_lead,
    _angles("voltage", "U"),
    _angles("current", "I"),
)

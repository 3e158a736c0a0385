"""Laws that hold for any supply, any loads and any circuits of the meters.

Each property is one function of a random installation. It runs a few times by default, always on
the same examples, and many times on fresh ones with ``-m heavy``.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from simulator.findings.station import Station, solve_station
from simulator.installation.conductors import Conductors
from simulator.installation.loads import Branch, Connection, Load
from simulator.installation.motor import Motor
from simulator.installation.supply import Supply, sequence_of
from simulator.metering.arrangement import Arrangement
from simulator.metering.instruments import IDEAL, Instrument, Kind
from simulator.metering.meters import SeparateImpedance, Side, Wattmeter, Winding

if TYPE_CHECKING:
    from collections.abc import Callable

LINES = ("L1", "L2", "L3")
# What is left of sums of products of volts and amperes, over their largest possible value.
ROUNDING = 1e-10


# Random installations -----------------------------------------------------------------------


def polar(size: float, degrees: float) -> complex:
    return cmath.rect(size, math.radians(degrees))


def phasors(smallest: float, largest: float, turn: float = 180.0) -> st.SearchStrategy[complex]:
    return st.builds(polar, st.floats(smallest, largest), st.floats(-turn, turn))


impedances = phasors(1, 200, 85)
small = st.one_of(st.just(0j), phasors(0.01, 1, 85))
voltage_circuits = st.floats(1e3, 1e5).map(complex)
current_circuits = st.one_of(st.just(0j), phasors(0.001, 0.5, 80))
resistive = st.builds(Instrument, current_circuits, voltage_circuits)
electronic = st.builds(
    lambda coil, R, X: Instrument(coil, complex(R, X), Kind.ELECTRONIC),
    current_circuits,
    st.floats(1e3, 1e5),
    st.floats(-1e5, 1e5),
)
exact_instruments = st.one_of(resistive, electronic)
inductive = st.builds(
    lambda coil, R, X: Instrument(coil, complex(R, X)),
    current_circuits,
    st.floats(1e3, 1e5),
    st.floats(10, 1e4),
)
any_instruments = st.one_of(st.just(IDEAL), resistive, electronic, inductive)


@dataclass(frozen=True)
class Installation:
    conductors: Conductors
    supply: Supply
    loads: tuple[Load, ...]

    @property
    def wires(self) -> int:
        return self.conductors.wires

    def read(self, *meters: Wattmeter, **other: Any) -> Station:
        arrangement = Arrangement(self.conductors, self.supply, self.loads, meters, **other)
        return solve_station(None, arrangement)


def supplies(wires: int) -> st.SearchStrategy[Supply]:
    """Draw emfs of either sequence, a little or wholly unsymmetrical, behind impedances."""
    near = st.builds(
        lambda size, turn, errors: tuple(
            size * polar(1, turn * k) * (1 + e) for k, e in enumerate(errors)
        ),
        st.floats(100, 400),
        st.sampled_from([-120.0, 120.0]),
        st.tuples(*[phasors(0, 0.1)] * 3),
    )
    emfs = st.one_of(near, st.tuples(*[phasors(50, 400)] * 3))
    return st.builds(
        lambda e, lines, neutral: Supply(
            e, sequence_of(e), line_impedances=lines, neutral_impedance=neutral
        ),
        emfs,
        st.tuples(small, small, small),
        small if wires == 4 else st.just(0j),
    )


def star(name: str, point: str, Z: tuple[complex, ...], leads: tuple[complex, ...]) -> Load:
    branches = tuple(Branch(k, k, point, z) for k, z in zip(LINES, Z, strict=True))
    names = (*LINES, "N")[: len(leads)]
    return Load(name, Connection.STAR, branches, point, dict(zip(names, leads, strict=True)))


def delta(name: str, Z: tuple[complex, ...]) -> Load:
    pairs = [("L1", "L2"), ("L2", "L3"), ("L3", "L1")]
    branches = tuple(Branch(f"{a}-{b}", a, b, z) for (a, b), z in zip(pairs, Z, strict=True))
    return Load(name, Connection.DELTA, branches, None, {})


def loads(name: str, wires: int) -> st.SearchStrategy[Load]:
    three, three_small = st.tuples(*[impedances] * 3), st.tuples(*[small] * 3)
    kinds = [
        st.builds(lambda z, leads: star(name, f"star {name}", z, leads), three, three_small),
        three.map(lambda z: delta(name, z)),
        st.builds(
            lambda k, z: Load(
                name, Connection.LINE_TO_LINE, (delta(name, (z, z, z)).branches[k],), None, {}
            ),
            st.integers(0, 2),
            impedances,
        ),
        st.floats(0.005, 1.5).map(
            lambda slip: Load(
                name, Connection.MOTOR, (), None, {},
                Motor(R1=0.6, X1=1.1, R2=0.3, X2=0.5, Xm=26, Rc=300, slip=slip),
            )
        ),
    ]  # fmt: skip
    if wires == 4:
        kinds.append(
            st.builds(lambda z, leads: star(name, "N", z, leads), three, st.tuples(*[small] * 4))
        )
        kinds.append(
            st.builds(
                lambda line, z: Load(
                    name, Connection.LINE_TO_NEUTRAL, (Branch(line, line, "N", z),), None, {}
                ),
                st.sampled_from(LINES),
                impedances,
            )
        )
    return st.one_of(kinds)


def installations(wires: int) -> st.SearchStrategy[Installation]:
    return st.builds(
        lambda supply, first, second: Installation(
            Conductors(neutral="N" if wires == 4 else None),
            supply,
            (first,) if second is None else (first, second),
        ),
        supplies(wires),
        loads("a", wires),
        st.one_of(st.none(), loads("b", wires)),
    )


three_wires, four_wires = installations(3), installations(4)
any_wires = st.one_of(three_wires, four_wires)
sides = st.sampled_from(Side)


# Meters and what they give ------------------------------------------------------------------


def in_line(
    line: str, end: str, instrument: Instrument = IDEAL, tap: Side = Side.SUPPLY
) -> Wattmeter:
    return Wattmeter(f"W{line[1]}", (Winding(line),), (line, end), instrument, tap)


def to_common(line: str, instrument: Instrument = IDEAL) -> list[Wattmeter]:
    return [in_line(k, line, instrument) for k in LINES if k != line]


def watts(station: Station) -> list[float]:
    return [reading.watts for reading in station.readings]


def scale(station: Station) -> float:
    """Largest power that the circuit's voltages and currents could make.

    Where emfs in phase with each other drive no current at all, that of the largest impedance.
    """
    emfs = np.abs(station.arrangement.supply.emfs).sum()
    currents = max(np.abs(i).max() for i in station.solution.currents.values())
    return float(emfs * max(currents, emfs / 200))


def same(found: float, expected: float, station: Station) -> None:
    assert found == pytest.approx(expected, abs=ROUNDING * scale(station), rel=0)


def absorbed(station: Station, role: str) -> complex:
    roles = station.wired.roles
    return sum((p for k, p in station.solution.powers.items() if roles[k] == role), 0j)


# The runner ---------------------------------------------------------------------------------

PROPERTIES: dict[str, tuple[Callable[..., None], tuple[st.SearchStrategy[Any], ...]]] = {}


def for_all(*strategies: st.SearchStrategy[Any]) -> Callable[[Callable[..., None]], None]:
    def register(check: Callable[..., None]) -> None:
        PROPERTIES[check.__name__] = (check, strategies)

    return register


def run(name: str, examples: int, *, fresh: bool) -> None:
    check, strategies = PROPERTIES[name]
    slow = [HealthCheck.too_slow, HealthCheck.data_too_large]
    options = settings(
        max_examples=examples, derandomize=not fresh, deadline=None, suppress_health_check=slow
    )
    options(given(*strategies)(check))()


# Properties ---------------------------------------------------------------------------------


@for_all(any_wires, any_instruments, sides)
def power_balance(plant: Installation, instrument: Instrument, tap: Side) -> None:
    """What the sources give is what everything else takes (Tellegen)."""
    end = plant.conductors.neutral or "L2"
    station = plant.read(*(in_line(k, end, instrument, tap) for k in ("L1", "L3")))
    assert station.solution.residual < 1e-11
    given_off = -absorbed(station, "source")
    taken = station.true + sum(station.losses.values())
    same(given_off.real, taken.real, station)
    # and every element's power is V·I* of its own terminals
    for load in station.loads:
        for branch in load.branches:
            power = branch.voltage * branch.current.conjugate()
            same(branch.power.real, power.real, station)
            same(branch.power.imag, power.imag, station)


@for_all(three_wires, st.sampled_from(LINES), st.sampled_from([IDEAL, Instrument(0j, 5e3 + 0j)]))
def two_wattmeters_are_exact_on_three_wires(
    plant: Installation, common: str, instrument: Instrument
) -> None:
    """Blondel: n − 1 wattmeters on n wires, whichever wire is the common one."""
    station = plant.read(*to_common(common, instrument))
    same(sum(watts(station)), station.crossing.real, station)
    same(station.line_currents.sum().real, 0, station)


@for_all(three_wires, st.tuples(*[exact_instruments] * 3), sides)
def three_on_a_floating_star_point_are_exact_on_three_wires(
    plant: Installation, instruments: tuple[Instrument, ...], tap: Side
) -> None:
    """Σ I = 0 makes Σ (V_k − V_P)·I_k* independent of P, whatever the voltage circuits.

    What the meters measure is what passes their current circuits at the side of their taps: on
    the supply side the current circuits' own power along with it, on the load side that of the
    voltage circuits.
    """
    meters = [in_line(k, "P", m, tap) for k, m in zip(LINES, instruments, strict=True)]
    station = plant.read(*meters)
    own = "current circuit" if tap is Side.SUPPLY else "voltage circuit"
    same(sum(watts(station)), (station.crossing + absorbed(station, own)).real, station)


@for_all(four_wires, st.tuples(*[exact_instruments] * 3))
def a_floating_star_point_on_four_wires_misses_the_neutral_current(
    plant: Installation, instruments: tuple[Instrument, ...]
) -> None:
    """The same sum is off by Re((V_N − V_P)·I_N*)."""
    ideal = [replace(m, current_circuit=0j) for m in instruments]
    station = plant.read(*(in_line(k, "P", m) for k, m in zip(LINES, ideal, strict=True)))
    displaced = station.solution.voltage("N", "P")
    error = (displaced * station.neutral_current.conjugate()).real
    same(sum(watts(station)) - station.crossing.real, error, station)


@for_all(four_wires)
def three_to_the_neutral_are_exact(plant: Installation) -> None:
    station = plant.read(*(in_line(k, "N") for k in LINES))
    same(sum(watts(station)), station.crossing.real, station)


@for_all(four_wires, st.sampled_from(LINES))
def two_wattmeters_on_four_wires_miss_the_neutral_current(plant: Installation, common: str) -> None:
    station = plant.read(*to_common(common))
    error = (station.solution.voltage("N", common) * station.neutral_current.conjugate()).real
    same(sum(watts(station)) - station.crossing.real, error, station)


@for_all(four_wires)
def difference_currents_miss_the_sum_of_the_voltages(plant: Installation) -> None:
    """V1·(I1 − I2)* + V3·(I3 − I2)* leaves out (V1 + V2 + V3)·I2*."""
    meters = [Wattmeter(f"W{k}", (Winding(k), Winding("L2", -1)), (k, "N")) for k in ("L1", "L3")]
    station = plant.read(*meters)
    error = -(station.line_potentials.sum() * station.line_currents[1].conj()).real
    same(sum(watts(station)) - station.crossing.real, float(error), station)


@for_all(any_wires, any_instruments, sides, st.booleans(), st.booleans())
def reversing_one_circuit_turns_one_sign(
    plant: Installation, instrument: Instrument, tap: Side, current: bool, voltage: bool
) -> None:
    """It turns this meter's sign and no other; reversing both turns none."""
    first, second = in_line("L1", "L2", instrument, tap), in_line("L3", "L2", instrument, tap)
    turned = replace(first, current_reversed=current, voltage_reversed=voltage)
    plain, other = plant.read(first, second), plant.read(turned, second)
    sign = -1 if current != voltage else 1
    same(other.readings[0].watts, sign * plain.readings[0].watts, plain)
    same(other.readings[1].watts, plain.readings[1].watts, plain)


def relabelled(plant: Installation, new: dict[str, str]) -> Installation:
    """Give each line's source, impedance and branches to another line."""
    place = [LINES.index(new[k]) for k in LINES]  # where line k goes

    def moved(values: tuple[complex, ...]) -> tuple[complex, ...]:
        return tuple(values[place.index(k)] for k in range(3))

    supply = plant.supply
    emfs = moved(supply.emfs)
    changed = [
        replace(
            load,
            branches=tuple(
                replace(b, start=new.get(b.start, b.start), end=new.get(b.end, b.end))
                for b in load.branches
            ),
            leads={new.get(k, k): z for k, z in load.leads.items()},
        )
        for load in plant.loads
    ]
    return replace(
        plant,
        supply=replace(
            supply,
            emfs=emfs,
            # an exchange of two lines turns the order of the peaks in the label's order
            sequence=supply.sequence * round(np.linalg.det(np.eye(3)[place])),
            line_impedances=moved(supply.line_impedances),
        ),
        loads=tuple(changed),
    )


@for_all(any_wires, st.permutations(LINES), st.tuples(*[any_instruments] * 2), sides)
def relabelling_the_lines_permutes_the_readings(
    plant: Installation, order: list[str], instruments: tuple[Instrument, ...], tap: Side
) -> None:
    new = dict(zip(LINES, order, strict=True))
    meters = [in_line(k, "L2", m, tap) for k, m in zip(("L1", "L3"), instruments, strict=True)]
    moved = [
        replace(m, windings=(Winding(new[m.windings[0].conductor]),),
                voltage=(new[m.voltage[0]], new[m.voltage[1]]))
        for m in meters
    ]  # fmt: skip
    before, after = plant.read(*meters), relabelled(plant, new).read(*moved)
    for found, expected in zip(watts(after), watts(before), strict=True):
        same(found, expected, before)
    same(after.true.real, before.true.real, before)
    same(after.true.imag, before.true.imag, before)


@for_all(any_wires, any_instruments, sides, phasors(0.1, 10))
def scaling_and_turning_all_emfs(
    plant: Installation, instrument: Instrument, tap: Side, factor: complex
) -> None:
    """Watts go with the square of the size and not at all with the angle of reference."""
    meters = [in_line(k, "L2", instrument, tap) for k in ("L1", "L3")]
    before = plant.read(*meters)
    emfs = tuple(factor * e for e in plant.supply.emfs)
    after = replace(plant, supply=replace(plant.supply, emfs=emfs)).read(*meters)
    for found, expected in zip(watts(after), watts(before), strict=True):
        same(found, abs(factor) ** 2 * expected, after)
    same(after.crossing.real, abs(factor) ** 2 * before.crossing.real, after)


@for_all(any_wires, st.tuples(*[impedances] * 3), any_instruments, sides)
def a_star_reads_as_its_equivalent_delta(
    plant: Installation, Z: tuple[complex, ...], instrument: Instrument, tap: Side
) -> None:
    """Kennelly: Z12 = (Z1·Z2 + Z2·Z3 + Z3·Z1)/Z3, and round."""
    pairs = Z[0] * Z[1] + Z[1] * Z[2] + Z[2] * Z[0]
    sides_of_delta = (pairs / Z[2], pairs / Z[0], pairs / Z[1])
    if min(abs(z) for z in sides_of_delta) < 1e-2:
        return  # nearly a resonance between lines: the equivalence is exact, its rounding is not
    meters = [in_line(k, "L2", instrument, tap) for k in ("L1", "L3")]
    one = replace(plant, loads=(*plant.loads, star("c", "star c", Z, (0j, 0j, 0j)))).read(*meters)
    other = replace(plant, loads=(*plant.loads, delta("c", sides_of_delta))).read(*meters)
    for found, expected in zip(watts(one), watts(other), strict=True):
        assert found == pytest.approx(expected, abs=1e-8 * scale(one), rel=0)


@for_all(any_wires, resistive, st.sampled_from(LINES), sides)
def a_reading_is_the_mean_of_v_times_i(
    plant: Installation, instrument: Instrument, line: str, tap: Side
) -> None:
    """Average v(t)·i(t) over a period in 32 samples, which is exact for sinusoids.

    v and i are waveforms of the meter's own elements: i in its current circuit, v the drop that
    the current in its voltage circuit makes on its resistance.
    """
    end = "L2" if line != "L2" else "L3"
    station = plant.read(in_line(line, end, instrument, tap))
    name = f"W{line[1]}"
    t = np.arange(32) / 32

    def wave(phasor: complex) -> np.ndarray:
        return (math.sqrt(2) * phasor * np.exp(2j * np.pi * t)).real

    i = wave(station.solution.current(f"current circuit of {name} in {line}"))
    v = instrument.voltage_circuit.real * wave(
        station.solution.current(f"voltage circuit of {name}")
    )
    same(station.readings[0].watts, float(np.mean(v * i)), station)


@for_all(any_wires, st.tuples(*[voltage_circuits] * 3), st.tuples(*[st.booleans()] * 3), sides)
def a_star_point_lies_where_millman_says(
    plant: Installation, R: tuple[complex, ...], metered: tuple[bool, ...], side: Side
) -> None:
    """V_P = Σ y·V / Σ y over voltage circuits and external resistors alike."""
    meters = [
        in_line(k, "P", Instrument(0j, z) if own else IDEAL)
        for k, z, own in zip(LINES, R, metered, strict=True)
    ]
    resistors = tuple(
        SeparateImpedance(f"R{k}", (k, "P"), z, side)
        for k, z, own in zip(LINES, R, metered, strict=True)
        if not own
    )
    station = plant.read(*meters, impedances=resistors)
    V = np.array([station.solution.potentials[k] for k in LINES])
    y = 1 / np.array(R)
    expected = complex(V @ y / y.sum())
    size = sum(abs(e) for e in plant.supply.emfs)
    assert station.nodes["P"] == pytest.approx(expected, abs=1e-9 * size, rel=0)


@for_all(four_wires, impedances)
def a_neutral_current_is_the_sum_of_the_lines(plant: Installation, Z: complex) -> None:
    """What an ammeter's place in the neutral carries, counted back to the supply."""
    extra = Load("d", Connection.LINE_TO_NEUTRAL, (Branch("L2", "L2", "N", Z),), None, {})
    meter = Wattmeter("W", (Winding("N"),), ("L1", "N"))
    station = replace(plant, loads=(*plant.loads, extra)).read(meter)
    I_N = station.solution.current("current circuit of W in N")
    size = max(np.abs(i).max() for i in station.solution.currents.values())
    assert station.neutral_current == pytest.approx(-I_N, abs=ROUNDING * size, rel=0)


# The tests ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PROPERTIES)
def test_property(name: str) -> None:
    run(name, 60, fresh=False)


@pytest.mark.heavy
@pytest.mark.parametrize("name", PROPERTIES)
def test_property_at_length(name: str) -> None:
    run(name, 2000, fresh=True)

"""Star points of voltage circuits: where they lie, and when they do not exist."""

from __future__ import annotations

import cmath
import math

import pytest

from simulator.errors import NetworkError
from simulator.installation.conductors import Conductors
from simulator.installation.loads import Branch, Connection, Load
from simulator.installation.motor import Motor
from simulator.installation.supply import Supply
from simulator.metering.arrangement import Arrangement, wire
from simulator.metering.instruments import IDEAL, Instrument
from simulator.metering.meters import SeparateImpedance, Side, Voltmeter, Wattmeter, Winding
from simulator.network.nodal import solve

THREE = Conductors()
# Far from symmetrical, so that no two lines can be mistaken.
EMFS = (230 + 0j, -100 - 210j, -130 + 190j)
STAR = tuple(Branch(k, k, "S", z) for k, z in (("L1", 20), ("L2", 35 + 9j), ("L3", 50 - 8j)))
LOAD = Load("load", Connection.STAR, STAR, "S", {})


def arrangement(*meters: Wattmeter, **other: object) -> Arrangement:
    return Arrangement(THREE, Supply(EMFS, 1), (LOAD,), meters, **other)  # type: ignore[arg-type]


def to_star_point(line: str, instrument: Instrument = IDEAL, tap: Side = Side.SUPPLY) -> Wattmeter:
    return Wattmeter(f"W{line[1]}", (Winding(line),), (line, "P"), instrument, tap)


def millman(branches: dict[int, complex]) -> complex:
    """Give the potential at which branches from the emfs meet: Σ V·y / Σ y."""
    y = {k: 1 / z for k, z in branches.items()}
    return sum(EMFS[k] * y[k] for k in y) / sum(y.values())


def test_ideal_voltage_circuits_make_no_star_point() -> None:
    with pytest.raises(NetworkError) as caught:
        wire(arrangement(*(to_star_point(line) for line in THREE.lines)))
    message = str(caught.value)
    assert message.startswith("nothing sets the potential of 'P': only the voltage circuits of ")
    for part in (
        "W1, W2, W3 meet there",
        "they are ideal, so no current flows in them and the point floats",
        'an instrument with a voltage_circuit (for example "20 kohm")',
        "connect 'P' by an [[impedance]]",
    ):
        assert part in message


def test_an_ideal_voltmeter_makes_no_star_point_either_and_is_named() -> None:
    with pytest.raises(NetworkError, match="only the voltage circuits of W1, V meet there"):
        wire(
            arrangement(to_star_point("L1"), voltmeters=(Voltmeter("V", ("P", "L2")),)),
        )


@pytest.mark.parametrize(
    "circuits",
    [
        {0: 20e3, 1: 20e3, 2: 20e3},
        {0: 20e3, 1: 10e3 + 3e3j, 2: 47e3},
        {0: 20e3, 2: 5e3},  # one wattmeter ideal: its voltage circuit only senses
    ],
)
def test_star_point_of_voltage_circuits(circuits: dict[int, complex]) -> None:
    meters = [
        to_star_point(line, Instrument(voltage_circuit=circuits[k]) if k in circuits else IDEAL)
        for k, line in enumerate(THREE.lines)
    ]
    solution = solve(wire(arrangement(*meters)).netlist)
    assert solution.potentials["P"] == pytest.approx(millman(circuits), rel=1e-12)


@pytest.mark.parametrize("side", Side)
def test_external_resistors_and_one_voltage_circuit(side: Side) -> None:
    # A current circuit of 2 ohm in each line tells the sides apart: on the load side the lines are
    # lower by 2 ohm times their currents, the star point's own draw included.
    coil = 2.0
    meters = [to_star_point("L1", Instrument(coil, 20e3), side)]
    meters += [
        Wattmeter(f"W{k}", (Winding(f"L{k}"),), (f"L{k}", "L1"), Instrument(current_circuit=coil))
        for k in (2, 3)
    ]
    resistors = tuple(
        SeparateImpedance(f"R{k}", (f"L{k}", "P"), 10e3 * k + 0j, side) for k in (2, 3)
    )
    solution = solve(wire(arrangement(*meters, impedances=resistors)).netlist)
    if side is Side.SUPPLY:
        expected = millman({0: 20e3, 1: 20e3, 2: 30e3})
    else:
        V = [solution.potentials[line] for line in THREE.lines]
        y = [1 / 20e3, 1 / 20e3, 1 / 30e3]
        expected = sum(v * k for v, k in zip(V, y, strict=True)) / sum(y)
        assert abs(V[0] - EMFS[0]) > 1
    assert solution.potentials["P"] == pytest.approx(expected, rel=1e-11)


def test_a_voltage_circuit_to_the_loads_own_star_point() -> None:
    at_load = Wattmeter("W1", (Winding("L1"),), ("L1", "S"), Instrument(voltage_circuit=20e3))
    solution = solve(wire(arrangement(at_load)).netlist)
    y = [1 / b.impedance for b in STAR]
    y[0] += 1 / 20e3
    expected = sum(v * k for v, k in zip(EMFS, y, strict=True)) / sum(y)
    assert solution.potentials["S"] == pytest.approx(expected, rel=1e-12)


def test_a_voltage_circuit_from_a_line_to_itself_draws_nothing() -> None:
    # derived: three wattmeters to line L2; W2's ends share a node unless its own coil is between
    def to_L2(line: str, coil: float, tap: Side) -> Wattmeter:
        return Wattmeter(f"W{line[1]}", (Winding(line),), (line, "L2"), Instrument(coil, 20e3), tap)

    meters = [to_L2(line, 0.1, Side.SUPPLY) for line in THREE.lines]
    wired = wire(arrangement(*meters))
    assert "voltage circuit of W2" not in [e.name for e in wired.netlist.elements]
    assert wired.wired["W2"].ends == ("L2 (supply side)", "L2 (supply side)")


def test_what_stands_on_the_supply_side_is_not_measured() -> None:
    # derived: 40 ohm from L1 to L2 takes (E1 − E2)/40 from line L1, before or beyond the meter
    def current(side: Side) -> complex:
        meter = Wattmeter("W1", (Winding("L1"),), ("L1", "L2"))
        extra = SeparateImpedance("R", ("L1", "L2"), 40 + 0j, side)
        wired = wire(arrangement(meter, impedances=(extra,)))
        return solve(wired.netlist).current("current circuit of W1 in L1")

    extra = (EMFS[0] - EMFS[1]) / 40
    assert current(Side.LOAD) - current(Side.SUPPLY) == pytest.approx(extra, rel=1e-12)


def test_each_part_is_called_what_it_is() -> None:
    meter = Wattmeter("W1", (Winding("L1"),), ("L1", "L2"), Instrument(0.1, 20e3))
    extra = SeparateImpedance("R", ("L1", "L2"), 40 + 0j)
    roles = wire(arrangement(meter, impedances=(extra,))).roles
    assert roles[extra.element_name] == "impedance"
    assert roles["current circuit of W1 in L1"] == "current circuit"
    assert roles["voltage circuit of W1"] == "voltage circuit"
    assert roles["source L1"] == "source"
    assert roles[LOAD.element_name("L1")] == "load"


@pytest.mark.parametrize("sequence", [1, -1])
def test_a_motor_turns_with_the_supply(sequence: int) -> None:
    # derived: without slip no current is induced by the field it turns with, so the rotor is open:
    # R1 + j(X1 + Xm) in each phase
    motor = Motor(R1=0.641, X1=1.106, R2=0.332, X2=0.464, Xm=26.3, Rc=math.inf, slip=0)
    load = Load("motor", Connection.MOTOR, (), None, {}, motor)
    emfs = tuple(cmath.rect(230, -sequence * k * math.tau / 3) for k in range(3))
    meter = Wattmeter("W1", (Winding("L1"),), ("L1", "L2"))
    wired = wire(Arrangement(THREE, Supply(emfs, sequence), (load,), (meter,)))
    current = solve(wired.netlist).current("current circuit of W1 in L1")
    assert current == pytest.approx(230 / (0.641 + 27.406j), rel=1e-12)


def test_only_an_infinite_voltage_circuit_senses_without_drawing() -> None:
    assert Instrument(voltage_circuit=complex(math.inf)).senses_only
    assert not Instrument(voltage_circuit=1e12).senses_only

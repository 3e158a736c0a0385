"""Compensated wattmeters: the voltage circuit's current cancels, on the load side only."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import pytest

from simulator.installation.conductors import Conductors
from simulator.installation.loads import Branch, Connection, Load
from simulator.installation.supply import Supply, symmetrical_emfs
from simulator.metering.arrangement import Arrangement, wire
from simulator.metering.instruments import Instrument
from simulator.metering.meters import Side, Wattmeter, Winding
from simulator.metering.readings import Reading, read_wattmeter
from simulator.network.nodal import solve

# needs.md, row 26: 220 V, 20 A, pf 0.6, current circuit 0.03 ohm, voltage circuit 6000 ohm
I_LOAD = cmath.rect(20, -math.acos(0.6))
PLAIN = Instrument(0.03 + 0j, 6000 + 0j)
METER = Wattmeter("W", (Winding("L1"),), ("L1", "N"), PLAIN, Side.LOAD)


def read(meter: Wattmeter) -> Reading:
    """Read a load that gets its 220 V, whatever the meter takes on the load side."""
    I = I_LOAD + 220 / meter.instrument.voltage_circuit
    emf = 220 + meter.instrument.current_circuit * I
    load = Load(
        "load",
        Connection.LINE_TO_NEUTRAL,
        (Branch("L1", "L1", "N", 220 / I_LOAD),),
        None,
        {},
    )
    supply = Supply((emf, *symmetrical_emfs(380, 1)[1:]), 1)
    wired = wire(Arrangement(Conductors(neutral="N"), supply, (load,), (meter,)))
    return read_wattmeter(meter, wired, solve(wired.netlist))


def compensated(**other: object) -> Wattmeter:
    return replace(METER, instrument=replace(PLAIN, compensated=True, **other))  # type: ignore[arg-type]


def test_what_the_voltage_circuit_draws_cancels() -> None:
    # needs.md, row 26 (derived there): +8.07 W plain; Golding & Widdis (MEM, high): none left
    assert read(METER).watts - 2640 == pytest.approx(8.07, abs=0.005)
    assert read(compensated()).watts == pytest.approx(2640, rel=1e-12)
    assert read(compensated()).current == pytest.approx(I_LOAD, rel=1e-12)


def test_an_inductive_voltage_circuit_still_turns_the_angle() -> None:
    # derived: V·I·cosβ·cos(φ − β) of the load's own current, β the angle of the voltage circuit
    meter = compensated(voltage_circuit=6000 + 60j)
    beta = math.atan(0.01)
    expected = 220 * 20 * math.cos(beta) * math.cos(math.acos(0.6) - beta)
    assert read(meter).watts == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("circuit", ["current_reversed", "voltage_reversed"])
def test_with_one_circuit_reversed_the_two_currents_add_instead(circuit: str) -> None:
    # derived: −(V·I of the line) and once more V²/R, for the winding now aids
    found = read(replace(compensated(), **{circuit: True}))  # type: ignore[arg-type]
    assert found.watts == pytest.approx(-2640 - 2 * 220**2 / 6000, rel=1e-12)


def test_with_both_reversed_it_is_right_again() -> None:
    both = replace(compensated(), current_reversed=True, voltage_reversed=True)
    assert read(both).watts == pytest.approx(2640, rel=1e-12)


def test_written_the_other_way_round_it_aids_too() -> None:
    # voltage from N to L1 with the current of L1: as good as a reversed voltage circuit
    found = read(replace(compensated(), voltage=("N", "L1")))
    assert found.watts == pytest.approx(-2640 - 2 * 220**2 / 6000, rel=1e-12)

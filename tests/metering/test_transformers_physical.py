"""Transformers as a network: magnetising branch, windings, leads, burden, open and shorted."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import pytest

from simulator.errors import NetworkError
from simulator.findings.station import Station, solve_station
from simulator.installation.conductors import Conductors
from simulator.installation.loads import Branch, Connection, Load
from simulator.installation.supply import Supply, symmetrical_emfs
from simulator.installation.transformers import InstrumentTransformer, Secondary
from simulator.metering.arrangement import Arrangement
from simulator.metering.instruments import IDEAL, Instrument
from simulator.metering.meters import Wattmeter, Winding
from simulator.metering.transformer_use import TransformerUse, transformers_in_use

SUPPLY = Supply(symmetrical_emfs(math.sqrt(3) * 230, 1), 1)
# 0.4 ohm at power factor 0.8 lagging
BURDEN = 0.32 + 0.24j
CT = InstrumentTransformer("ct", 20, rated_secondary=5, magnetising=60j, winding=0.05)
VT = InstrumentTransformer("vt", 2.3, rated_secondary=100, winding=1 + 2j, magnetising=900 + 4000j)


def through(
    Z: complex = 2.3,
    instrument: Instrument = IDEAL,
    current: InstrumentTransformer | None = None,
    voltage: InstrumentTransformer | None = None,
) -> Station:
    """Measure one load between L1 and N through transformers."""
    load = Load("load", Connection.LINE_TO_NEUTRAL, (Branch("L1", "L1", "N", Z),), None, {})
    meter = Wattmeter(
        "W",
        (Winding("L1"),),
        ("L1", "N"),
        instrument,
        current_transformer=current,
        voltage_transformer=voltage,
    )
    return solve_station(None, Arrangement(Conductors(neutral="N"), SUPPLY, (load,), (meter,)))


def use(station: Station) -> TransformerUse:
    (found,) = transformers_in_use(
        station.arrangement.wattmeters[0], station.wired, station.solution
    )
    return found


# Current transformers -----------------------------------------------------------------------


@pytest.mark.reference
@pytest.mark.parametrize("where", ["burden", "current circuit", "leads"])
def test_errors_of_a_plain_current_transformer(where: str) -> None:
    # standards.md, section 1.3, CALC: 100/5, j60 ohm magnetising, 0.4 ohm at pf 0.8, winding
    # 0.05 ohm: −0.400 %, +21.1′ (so many digits printed); negative ratio error, leading secondary
    transformer = CT if where == "current circuit" else replace(CT, **{where: BURDEN})
    instrument = Instrument(current_circuit=BURDEN if where == "current circuit" else 0j)
    found = use(through(instrument=instrument, current=transformer))
    assert found.ratio_error is not None
    assert found.phase_displacement is not None
    assert 100 * found.ratio_error == pytest.approx(-0.400, abs=5e-4)
    assert 60 * found.phase_displacement == pytest.approx(21.1, abs=0.05)
    assert found.burden == pytest.approx(0.4 * 25, rel=1e-12)  # 10 VA at 5 A


def test_the_reading_has_these_errors() -> None:
    # derived: the current divides between 60j and 0.37 + 0.24j ohm; what the line sees of both,
    # over 20², stands in it beside 2.3 ohm at 60° lag
    Z = cmath.rect(2.3, math.pi / 3)
    inner = 0.37 + 0.24j
    seen = 60j * inner / (60j + inner) / 400
    I = 230 / (Z + seen)
    I_s = I / 20 * 60j / (60j + inner)
    reading = through(Z, current=replace(CT, burden=BURDEN)).readings[0]
    assert reading.current == pytest.approx(I_s, rel=1e-12)
    assert reading.at_instrument == pytest.approx((230 * I_s.conjugate()).real, rel=1e-12)
    assert reading.watts == pytest.approx(20 * reading.at_instrument, rel=1e-12)


def test_without_a_magnetising_branch_there_are_no_errors_but_the_burden_is_seen() -> None:
    # derived: 0.05 + 0.3 + 0.15 ohm behind 100/5 A are 0.5/400 ohm in the line
    ideal = InstrumentTransformer("ct", 20, winding=0.05, leads=0.3, burden=0.15)
    reading = through(current=ideal).readings[0]
    assert reading.current == pytest.approx(230 / (2.3 + 0.5 / 400) / 20, rel=1e-12)
    assert use(through(current=ideal)).percent_of_rated is None  # nobody said what is rated


def test_an_open_secondary_has_a_large_voltage_and_the_meter_reads_zero() -> None:
    # derived: all of the primary current magnetises; 60j/400 ohm stand in the line
    station = through(current=replace(CT, burden=BURDEN, secondary=Secondary.OPEN))
    I = 230 / (2.3 + 0.15j)
    reading = station.readings[0]
    assert (reading.watts, reading.direction, reading.current) == (0, "zero", 0)
    across = station.solution.voltage("W in L1 S1", "supply star point")
    assert abs(across) == pytest.approx(60 * abs(I) / 20, rel=1e-12)
    assert abs(across) > 250
    assert use(station).ratio_error == -1
    assert use(station).phase_displacement is None


def test_an_ideal_one_with_an_open_secondary_is_refused_in_plain_words() -> None:
    ideal = InstrumentTransformer("ct", 20, secondary=Secondary.OPEN)
    with pytest.raises(
        NetworkError, match=r"secondary .*'ct' of W in L1 is open.*limits its voltage"
    ):
        through(current=ideal)


@pytest.mark.parametrize("magnetising", [60j, complex(math.inf)])
def test_a_shorted_secondary_reads_zero_and_is_hardly_seen(magnetising: complex) -> None:
    short = replace(CT, magnetising=magnetising, secondary=Secondary.SHORTED)
    station = through(instrument=Instrument(current_circuit=0.1), current=short)
    assert (station.readings[0].watts, station.readings[0].current) == (0, 0)
    # derived: only the winding, in parallel with the magnetising branch, stands in the line
    seen = 0.05 if math.isinf(magnetising.real) else 60j * 0.05 / (60j + 0.05)
    current = station.solution.current("current transformer of W in L1")
    assert current == pytest.approx(230 / (2.3 + seen / 400), rel=1e-12)


def test_a_shorted_secondary_without_any_impedance() -> None:
    short = InstrumentTransformer("ct", 20, secondary=Secondary.SHORTED)
    station = through(current=short)
    assert station.readings[0].watts == 0
    assert station.loads[0].branches[0].current == pytest.approx(100, rel=1e-12)


def test_what_a_transformer_takes_is_a_loss_of_transformers() -> None:
    # derived: power through the primary less what the load takes
    station = through(current=replace(CT, burden=BURDEN, magnetising=30 + 60j))
    I = station.loads[0].branches[0].current
    supplied = (230 * I.conjugate()).real
    taken = supplied - 2.3 * abs(I) ** 2
    assert station.losses["transformers"] == pytest.approx(taken, rel=1e-9)
    assert taken > 0.5


# Voltage transformers -----------------------------------------------------------------------


@pytest.mark.parametrize("instrument", [IDEAL, Instrument(voltage_circuit=8000 + 0j)])
@pytest.mark.parametrize("burden", [None, 500 + 300j])
def test_errors_of_a_voltage_transformer(instrument: Instrument, burden: complex | None) -> None:
    # derived, by chain matrices: half of the winding, the magnetising branch, the other half,
    # then burden and voltage circuit in parallel
    series, shunt = 0.5 + 1j, 1 / (900 + 4000j)
    load = (1 / burden if burden else 0) + 1 / instrument.voltage_circuit
    a = 1 + series * shunt  # chain matrix of the T: U1 = a·U2 + b·I2
    b = series * (2 + series * shunt)
    U2 = 100 / (a + b * load)
    station = through(instrument=instrument, voltage=replace(VT, burden=burden))
    assert station.readings[0].voltage == pytest.approx(U2, rel=1e-12)
    found = use(station)
    assert found.ratio_error == pytest.approx(abs(U2) / 100 - 1, rel=1e-9)
    assert found.phase_displacement == pytest.approx(math.degrees(cmath.phase(U2)), rel=1e-9)
    assert found.percent_of_rated == pytest.approx(100, rel=1e-12)
    assert found.burden == pytest.approx(1e4 * abs(load), rel=1e-12)


def test_what_a_voltage_transformer_takes_is_a_loss_of_transformers_too() -> None:
    # derived: 100 V on half of the winding and the magnetising branch in series
    series = 0.5 + 1j + 900 + 4000j
    station = through(voltage=VT)
    assert station.losses["transformers"] == pytest.approx(1e4 * (1 / series).real, rel=1e-9)


def test_leads_of_a_voltage_circuit_divide_its_voltage() -> None:
    vt = InstrumentTransformer("vt", 2.3, leads=10)
    station = through(instrument=Instrument(voltage_circuit=990 + 0j), voltage=vt)
    assert station.readings[0].voltage == pytest.approx(99, rel=1e-12)


@pytest.mark.parametrize("vt", [VT, InstrumentTransformer("vt", 2.3)])
@pytest.mark.parametrize("instrument", [IDEAL, Instrument(voltage_circuit=8000 + 0j)])
def test_an_open_secondary_of_a_voltage_transformer_reads_zero(
    vt: InstrumentTransformer, instrument: Instrument
) -> None:
    station = through(instrument=instrument, voltage=replace(vt, secondary=Secondary.OPEN))
    assert (station.readings[0].watts, station.readings[0].voltage) == (0, 0)
    assert station.loads[0].branches[0].current == pytest.approx(100, rel=1e-12)


def test_a_shorted_secondary_of_a_voltage_transformer() -> None:
    # derived: without magnetising branch, 100 V on 1 + 2j ohm
    short = replace(VT, magnetising=complex(math.inf), secondary=Secondary.SHORTED)
    station = through(voltage=short)
    assert (station.readings[0].watts, station.readings[0].voltage) == (0, 0)
    current = station.solution.current("short of voltage transformer of W")
    assert current == pytest.approx(100 / (1 + 2j), rel=1e-12)
    with pytest.raises(NetworkError, match=r"'vt' of W is shorted.*nothing limits the current"):
        through(voltage=replace(short, winding=0j))


# Two circuits in one meter, and both kinds of errors -------------------------------------------


def test_given_errors_are_those_in_use() -> None:
    ct = InstrumentTransformer("ct", 20, -0.002, 0.2, rated_secondary=5)
    found = use(through(instrument=Instrument(current_circuit=0.1), current=ct))
    assert found.ratio_error == pytest.approx(-0.002, rel=1e-9)
    assert found.phase_displacement == pytest.approx(0.2, rel=1e-9)
    assert found.percent_of_rated == pytest.approx(100, rel=1e-3)
    assert found.limits is None


def test_limits_of_the_class_at_the_current_in_use() -> None:
    # IEC 61869-2 (SEEN), class 0.5: 0.75 % and 45′ at 20 %
    ct = InstrumentTransformer("ct", 20, rated_secondary=5, accuracy_class="0.5")
    limits = use(through(11.5, current=ct)).limits
    assert limits is not None
    assert (limits.ratio_error, limits.phase_displacement) == pytest.approx((0.0075, 0.75))


def test_a_transformer_for_each_winding_and_one_for_the_voltage() -> None:
    branches = (Branch("L1", "L1", "N", 2.3), Branch("L2", "L2", "N", 4.6))
    load = Load("load", Connection.LINE_TO_NEUTRAL, branches, None, {})
    windings = (Winding("L1"), Winding("L2", -1))
    meter = Wattmeter("W", windings, ("L1", "N"), current_transformer=CT, voltage_transformer=VT)
    arrangement = Arrangement(Conductors(neutral="N"), SUPPLY, (load,), (meter,))
    station = solve_station(None, arrangement)
    found = transformers_in_use(meter, station.wired, station.solution)
    assert [(u.kind, u.conductor) for u in found] == [
        ("current", "L1"), ("current", "L2"), ("voltage", ""),
    ]  # fmt: skip
    assert [u.percent_of_rated for u in found] == pytest.approx([100, 50, 100], rel=1e-3)


def test_what_is_connected_is_meter_leads_and_burden_together() -> None:
    # derived: a current transformer's are in series, 0.1 + 0.21 + 0.11 + 0.24j ohm at 5 A; of a
    # voltage transformer meter and leads are in series, the burden beside them, at 100 V
    instrument = Instrument(current_circuit=0.1, voltage_circuit=8000 + 0j)
    ct = replace(CT, leads=0.21, burden=0.11 + 0.24j, rated_burden=10)
    found = use(through(instrument=instrument, current=ct))
    assert (found.meter, found.kind, found.conductor) == ("W", "current", "L1")
    assert found.burden == pytest.approx(25 * math.hypot(0.42, 0.24), rel=1e-12)
    assert found.burden_percent == pytest.approx(250 * math.hypot(0.42, 0.24), rel=1e-12)
    vt = replace(VT, leads=30, burden=500 + 300j)
    found = use(through(instrument=instrument, voltage=vt))
    assert (found.meter, found.kind, found.conductor) == ("W", "voltage", "")
    assert found.burden == pytest.approx(1e4 * abs(1 / 8030 + 1 / (500 + 300j)), rel=1e-12)
    assert found.burden_percent is None  # nobody said what is rated
    for unrated in (replace(vt, rated_secondary=None), replace(ct, rated_secondary=None)):
        kind = "voltage" if unrated.name == "vt" else "current"
        assert use(through(instrument=instrument, **{kind: unrated})).burden is None


@pytest.mark.parametrize("instrument", [IDEAL, Instrument(voltage_circuit=8000 + 0j)])
def test_given_errors_of_a_voltage_transformer_whatever_the_meter_draws(
    instrument: Instrument,
) -> None:
    # derived: 230 V through 2.3:1 with +1 % and 0.5°, on a load of 60° lag and 100 A
    vt = InstrumentTransformer("vt", 2.3, 0.01, 0.5)
    reading = through(cmath.rect(2.3, math.pi / 3), instrument, voltage=vt).readings[0]
    expected = 101 * 100 * math.cos(math.radians(60.5))
    assert reading.at_instrument == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("secondary", Secondary)
@pytest.mark.parametrize("magnetising", [VT.magnetising, complex(math.inf)])
@pytest.mark.parametrize("burden", [None, 300 + 200j])
def test_what_the_primary_sees_is_what_flows_in_the_network(
    secondary: Secondary, magnetising: complex, burden: complex | None
) -> None:
    vt = replace(VT, secondary=secondary, magnetising=magnetising, burden=burden, leads=3)
    station = through(instrument=Instrument(voltage_circuit=8000 + 500j), voltage=vt)
    # the part of the source's current that the load does not take
    drawn = station.solution.current("current circuit of W in L1") - 100
    source = station.solution.current("source L1")
    taken = -source - station.loads[0].branches[0].current
    assert drawn == pytest.approx(0, abs=1e-9)  # tapped before the current circuit
    seen = vt.seen_from_primary(8000 + 500j)
    expected = 0 if math.isinf(seen.real) else 230 / seen
    assert taken == pytest.approx(expected, rel=1e-9, abs=1e-12)

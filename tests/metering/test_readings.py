"""What a wattmeter shows: reading rules, polarity, taps, transformers."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest

from simulator.installation.conductors import Conductors
from simulator.installation.loads import Branch, Connection, Load
from simulator.installation.supply import Supply, symmetrical_emfs
from simulator.installation.transformers import InstrumentTransformer
from simulator.metering.arrangement import Arrangement, WiredArrangement, wire
from simulator.metering.instruments import IDEAL, Instrument, Kind
from simulator.metering.meters import Ammeter, Side, Voltmeter, Wattmeter, Winding
from simulator.metering.readings import Reading, read_wattmeter, wattmeter_reading
from simulator.network.nodal import Solution, solve

FOUR = Conductors(neutral="N")
EMFS = symmetrical_emfs(math.sqrt(3) * 230, 1)
OPEN = complex(math.inf)
# Angles of a load, lag positive: inductive, resistive, capacitive.
PHI = [-75.0, -30.0, 0.0, 20.0, 60.0, 85.0]


def single(Z: complex, line: str = "L1") -> Load:
    branch = Branch(line, line, "N", Z)
    return Load("load", Connection.LINE_TO_NEUTRAL, (branch,), None, {})


def meter(instrument: Instrument = IDEAL, **other: object) -> Wattmeter:
    plain = Wattmeter("W", (Winding("L1"),), ("L1", "N"), instrument)
    return replace(plain, **other)  # type: ignore[arg-type]


def solved(*meters: Wattmeter, load: Load, **other: object) -> tuple[WiredArrangement, Solution]:
    arrangement = Arrangement(FOUR, Supply(EMFS, 1), (load,), meters, **other)  # type: ignore[arg-type]
    wired = wire(arrangement)
    return wired, solve(wired.netlist)


def read(*meters: Wattmeter, load: Load) -> list[Reading]:
    wired, solution = solved(*meters, load=load)
    return [read_wattmeter(m, wired, solution) for m in meters]


def mean_product(a: complex, b: complex) -> float:
    """Average the product of two sinusoids over a period, in samples; rms phasors."""
    angle = 2 * np.pi * np.arange(64) / 64
    wave = [np.sqrt(2) * abs(z) * np.cos(angle + np.angle(z)) for z in (a, b)]
    return float(np.mean(wave[0] * wave[1]))


# Reading rules ------------------------------------------------------------------------------


@pytest.mark.parametrize("phi", PHI)
def test_an_ideal_wattmeter_averages_v_times_i(phi: float) -> None:
    Z = cmath.rect(23, math.radians(phi))
    (reading,) = read(meter(), load=single(Z))
    # the sampled mean is exact for sinusoids, up to rounding of V·I
    assert reading.watts == pytest.approx(mean_product(230, 230 / Z), abs=1e-9)
    assert reading.watts == pytest.approx(2300 * math.cos(math.radians(phi)), abs=1e-9)
    assert reading.at_instrument == reading.watts


@pytest.mark.parametrize("beta", [0.1, 2.0, 30.0])
@pytest.mark.parametrize("phi", PHI)
def test_an_inductive_voltage_circuit_turns_the_angle(phi: float, beta: float) -> None:
    # derived: the mean product of the two circuits' currents on the scale of R_v is
    # V·I·cos β·cos(φ − β), β the angle of the voltage circuit; its ratio to V·I·cos φ is the
    # correction factor of every textbook (from memory)
    Z, b = cmath.rect(23, math.radians(phi)), math.radians(beta)
    R_v = 20e3
    instrument = Instrument(voltage_circuit=complex(R_v, R_v * math.tan(b)))
    (reading,) = read(meter(instrument), load=single(Z))
    assert reading.watts == pytest.approx(
        2300 * math.cos(b) * math.cos(math.radians(phi) - b), abs=1e-9
    )
    I_v = 230 / instrument.voltage_circuit
    assert reading.watts == pytest.approx(R_v * mean_product(I_v, 230 / Z), abs=1e-9)


def test_an_inductive_voltage_circuit_reads_high_on_lag_and_low_on_lead() -> None:
    instrument = Instrument(voltage_circuit=20e3 + 100j)
    lag, lead = (
        read(meter(instrument), load=single(cmath.rect(23, phi)))[0].watts for phi in (1.2, -1.2)
    )
    assert lead < 2300 * math.cos(1.2) < lag


@pytest.mark.parametrize("delta", [-1.0, 0.05, 10.0])
@pytest.mark.parametrize("phi", PHI)
def test_an_electronic_wattmeter_has_gain_and_a_leading_voltage_channel(
    phi: float, delta: float
) -> None:
    # physics.md, section 1: W = (1 + ε)·Re(V·I*·e^{jδ}), so the angle becomes φ + δ
    instrument = Instrument(kind=Kind.ELECTRONIC, gain_error=0.004, phase_error=delta)
    (reading,) = read(meter(instrument), load=single(cmath.rect(23, math.radians(phi))))
    expected = 1.004 * 2300 * math.cos(math.radians(phi + delta))
    assert reading.watts == pytest.approx(expected, abs=1e-9)


def test_a_leading_voltage_channel_reads_low_on_lag() -> None:
    instrument = Instrument(kind=Kind.ELECTRONIC, phase_error=0.5)
    (reading,) = read(meter(instrument), load=single(cmath.rect(23, 1.2)))
    assert reading.watts < 2300 * math.cos(1.2)


def test_the_inputs_of_an_electronic_wattmeter_load_the_network_but_turn_no_angle() -> None:
    # derived: 23 ohm behind a current input of 1 + 0.5j ohm, tapped before it; the voltage input
    # of 1 kΩ and 1 kΩ of reactance takes 230²/(1000 − 1000j) VA beside it and reads true
    instrument = Instrument(1 + 0.5j, 1000 + 1000j, Kind.ELECTRONIC)
    wired, solution = solved(meter(instrument), load=single(23))
    reading = read_wattmeter(meter(instrument), wired, solution)
    I = 230 / (24 + 0.5j)
    assert reading.watts == pytest.approx((230 * I.conjugate()).real, rel=1e-12)
    taken = solution.powers["voltage circuit of W"]
    assert taken == pytest.approx(230**2 / (1000 - 1000j), rel=1e-12)


@pytest.mark.parametrize(
    ("instrument", "factor"),
    [
        (IDEAL, 1),
        (Instrument(voltage_circuit=20e3 + 0j), 1),
        (Instrument(voltage_circuit=3e3 + 4e3j), 0.36 - 0.48j),  # 3/(3 + 4j)
        (Instrument(voltage_circuit=3e3 + 4e3j, kind=Kind.ELECTRONIC), 1),
        (Instrument(kind=Kind.ELECTRONIC, gain_error=0.5, phase_error=90), 1.5j),
    ],
)
def test_voltage_factor(instrument: Instrument, factor: complex) -> None:
    assert instrument.voltage_factor == pytest.approx(factor, rel=1e-12)


# Polarity -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("current", "voltage", "sign"), [(False, True, -1), (True, False, -1), (True, True, 1)]
)
def test_reversed_circuits(current: bool, voltage: bool, sign: int) -> None:
    # needs.md, row 22 (derived): reversing one circuit changes the sign only, both change nothing
    instrument = Instrument(0.5 + 0.1j, 1e3 + 200j)
    plain = meter(instrument)
    turned = replace(plain, current_reversed=current, voltage_reversed=voltage)
    (right,), (other,) = read(plain, load=single(20 + 9j)), read(turned, load=single(20 + 9j))
    assert other.watts == pytest.approx(sign * right.watts, rel=1e-12)
    assert other.current == pytest.approx(-right.current if current else right.current, rel=1e-12)
    assert other.voltage == pytest.approx(-right.voltage if voltage else right.voltage, rel=1e-12)


def test_difference_windings_sense_the_signed_sum_and_stand_in_both_conductors() -> None:
    # derived: two loads of their own on L1 and L2, each behind one winding of 1 ohm
    branches = (Branch("L1", "L1", "N", 22 + 0j), Branch("L2", "L2", "N", 10 + 9j))
    load = Load("load", Connection.LINE_TO_NEUTRAL, branches, None, {})
    both = meter(Instrument(current_circuit=1), windings=(Winding("L1"), Winding("L2", -1)))
    wired, solution = solved(both, load=load)
    I1, I2 = EMFS[0] / 23, EMFS[1] / (11 + 9j)
    reading = read_wattmeter(both, wired, solution)
    assert reading.current == pytest.approx(I1 - I2, rel=1e-12)
    assert reading.watts == pytest.approx((EMFS[0] * (I1 - I2).conjugate()).real, rel=1e-12)
    lost = [solution.powers[name] for name in wired.wired["W"].current_circuits]
    assert lost == pytest.approx([abs(I1) ** 2, abs(I2) ** 2], rel=1e-12)
    assert both.current_text == "L1 − L2"


@pytest.mark.parametrize(
    ("windings", "text"),
    [
        ((Winding("L3"),), "L3"),
        ((Winding("L3", -1),), "−L3"),
        ((Winding("L1"), Winding("N")), "L1 + N"),
        ((Winding("L1", -1), Winding("L2", -1)), "−L1 − L2"),
    ],
)
def test_current_as_one_would_write_it(windings: tuple[Winding, ...], text: str) -> None:
    assert meter(windings=windings).current_text == text


@pytest.mark.parametrize(
    ("watts", "direction"),
    [(0.0, "zero"), (2e-9, "zero"), (-2e-9, "zero"), (3e-9, "upscale"), (-3e-9, "downscale")],
)
def test_a_pointer_at_rest_is_one_within_1e_9_of_the_volt_amperes(
    watts: float, direction: str
) -> None:
    assert Reading(meter(), watts, watts, 2j, 1 + 0j).direction == direction


def test_a_reading_of_nothing_is_zero() -> None:
    (reading,) = read(meter(), load=single(OPEN))
    assert (reading.watts, reading.direction) == (0, "zero")
    # and no minus stands in front of nothing
    assert [str(w) for w in wattmeter_reading(-115 - 199j, 0j, 1 + 0j, 20.0)] == ["0.0", "0.0"]
    # a voltage at right angles to the current, nothing but rounding left
    (reading,) = read(meter(), load=single(17j))
    assert reading.direction == "zero"
    assert abs(reading.current) == pytest.approx(230 / 17, rel=1e-12)


def test_reading_rule_alone() -> None:
    # 10 V, 2 A, 60° apart: 10 W; behind 20:1 transformers 200 W at the primary
    watts, shown = wattmeter_reading(10 + 0j, cmath.rect(2, math.pi / 3), 1 + 0j, 20.0)
    assert (watts, shown) == (pytest.approx(200, rel=1e-12), pytest.approx(10, rel=1e-12))


# Taps ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("tap", "own"), [(Side.SUPPLY, 12.0), (Side.LOAD, 220**2 / 6000)])
def test_the_tap_decides_which_own_circuit_is_measured_along(tap: Side, own: float) -> None:
    # needs.md, row 26 (derived): a load of 220 V, 20 A, pf 0.6; current circuit 0.03 ohm, voltage
    # circuit 6000 ohm: +12.0 W (20²·0.03) or +8.07 W (220²/6000). The supply is raised so that the
    # load gets its 220 V.
    I_load = cmath.rect(20, -math.acos(0.6))
    I = I_load + (220 / 6000 if tap is Side.LOAD else 0)
    supply = Supply((220 + 0.03 * I, *EMFS[1:]), 1)
    wattmeter = meter(Instrument(0.03 + 0j, 6000 + 0j), tap=tap)
    arrangement = Arrangement(FOUR, supply, (single(220 / I_load),), (wattmeter,))
    wired = wire(arrangement)
    solution = solve(wired.netlist)
    true = solution.powers["load load L1"].real
    assert true == pytest.approx(2640, rel=1e-12)
    reading = read_wattmeter(wattmeter, wired, solution)
    assert reading.watts - true == pytest.approx(own, rel=1e-9)


@pytest.mark.parametrize("tap", Side)
def test_taps_with_several_current_circuits_in_a_conductor(tap: Side) -> None:
    # scenario.md: an end on its own conductor sits at its own current circuit, an end on another
    # conductor at that conductor's node on the named side.
    # derived: drops of 1, 2 and 4 ohm along L1 at 10 A, of 3 ohm in the neutral.
    def in_line(name: str, ohms: float, conductor: str = "L1") -> Wattmeter:
        return Wattmeter(
            name, (Winding(conductor),), ("L1", "N"), Instrument(current_circuit=ohms), tap
        )

    meters = [in_line("A", 1), in_line("B", 2), in_line("C", 4), in_line("D", 3, "N")]
    readings = read(*meters, load=single(13))
    V_N = 30.0  # 10 A back through the 3 ohm
    along_L1 = {Side.SUPPLY: [230, 220, 200], Side.LOAD: [220, 200, 160]}[tap]
    far_N = {Side.SUPPLY: 0.0, Side.LOAD: V_N}[tap]
    for reading, V in zip(readings, along_L1, strict=False):
        assert reading.voltage == pytest.approx(V - far_N, rel=1e-12)
    # D's own conductor is N; its current, counted from supply to load, is −10 A
    D = readings[3]
    assert D.current == pytest.approx(-10, rel=1e-12)
    V_L1 = {Side.SUPPLY: 230, Side.LOAD: 160}[tap]
    assert D.voltage == pytest.approx(V_L1 - far_N, rel=1e-12)


def test_a_meter_between_two_others_in_its_return_conductor_taps_at_itself() -> None:
    # derived: three windings in N, that of the middle meter from 20 V to 10 V: on the supply side
    # its marked end is at 10 V
    def in_neutral(name: str, ohms: float) -> Wattmeter:
        return Wattmeter(name, (Winding("N"),), ("N", "L1"), Instrument(current_circuit=ohms))

    # from the supply: 1 ohm, 1 ohm, 1 ohm; the potentials rise by 10 V towards the load
    readings = read(*(in_neutral(name, 1) for name in "ABC"), load=single(20))
    assert [r.voltage for r in readings] == pytest.approx([0 - 230, 10 - 230, 20 - 230], rel=1e-12)


def test_order_along_a_conductor_and_what_each_element_is() -> None:
    first = meter(Instrument(1, 1e4), name="W1")
    second = meter(Instrument(2, OPEN), name="W2")
    wired, _ = solved(
        first,
        second,
        load=single(20),
        ammeters=(Ammeter("A", "L1", Instrument(current_circuit=0.5)),),
        voltmeters=(Voltmeter("V", ("L1", "N"), Instrument(voltage_circuit=1e5)),),
    )
    places = {e.name: getattr(e, "terminals", None) for e in wired.netlist.elements}
    assert places["source L1"][0] == "L1 (supply side)"
    assert places["current circuit of W1 in L1"] == ("L1 (supply side)", "L1 after W1")
    assert places["current circuit of W2 in L1"] == ("L1 after W1", "L1 after W2")
    assert places["current circuit of A in L1"] == ("L1 after W2", "L1")
    assert places["voltage circuit of W1"] == ("L1 (supply side)", "N")
    assert places["voltage circuit of V"] == ("L1", "N")  # load side unless stated
    assert "voltage circuit of W2" not in places  # it only senses
    assert places["source L2"][0] == "L2"  # no current circuit: one node
    assert set(wired.roles.values()) == {
        "source", "line", "current circuit", "voltage circuit", "load",
    }  # fmt: skip
    assert wired.wired["W2"].ends == ("L1 after W1", "N")
    assert wired.wired["A"].ends is None
    assert wired.wired["V"].current_circuits == ()


# Transformers -------------------------------------------------------------------------------


def test_a_burden_seen_through_a_current_transformer() -> None:
    # derived: 0.2 ohm behind 100/5 A is 0.2·(5/100)² = 0.0005 ohm in the line
    ct = InstrumentTransformer("ct", 20)
    through = meter(Instrument(current_circuit=0.2), current_transformer=ct)
    (reading,) = read(through, load=single(2.2995))
    assert reading.current == pytest.approx(5, rel=1e-12)  # 230/2.3 = 100 A
    assert reading.at_instrument == pytest.approx(230 * 5, rel=1e-12)
    assert reading.watts == pytest.approx(230 * 100, rel=1e-12)
    direct = meter(Instrument(current_circuit=0.0005))
    assert read(direct, load=single(2.2995))[0].watts == pytest.approx(23000, rel=1e-12)


def test_a_voltage_circuit_seen_through_a_voltage_transformer() -> None:
    # derived: 1 kΩ behind 400/100 V draws like 1·4² = 16 kΩ, on the load side of a 1 ohm coil
    vt = InstrumentTransformer("vt", 4)
    instrument = Instrument(1 + 0j, 1000 + 0j)
    through = meter(instrument, voltage_transformer=vt, tap=Side.LOAD)
    wired, solution = solved(through, load=single(OPEN))
    reading = read_wattmeter(through, wired, solution)
    I = 230 / 16001
    assert reading.current == pytest.approx(I, rel=1e-12)
    assert reading.voltage == pytest.approx(16000 * I / 4, rel=1e-12)
    assert reading.watts == pytest.approx(16000 * I**2, rel=1e-12)
    assert reading.at_instrument == pytest.approx(16000 * I**2 / 4, rel=1e-12)
    assert solution.powers["voltage circuit of W"].real == pytest.approx(16000 * I**2, rel=1e-12)
    assert solution.powers["voltage transformer of W"] == 0


@pytest.mark.parametrize("phi", PHI)
def test_transformer_errors_turn_the_angle_each_its_own_way(phi: float) -> None:
    # derived: a secondary current that leads by β makes the angle φ − β, a secondary voltage that
    # leads by α makes it φ + α; ratio errors multiply
    ct = InstrumentTransformer("ct", 20, ratio_error=0.01, phase_displacement=0.5)
    vt = InstrumentTransformer("vt", 4, ratio_error=-0.02, phase_displacement=0.2)
    through = meter(current_transformer=ct, voltage_transformer=vt)
    (reading,) = read(through, load=single(cmath.rect(23, math.radians(phi))))
    expected = 2300 * 1.01 * 0.98 * math.cos(math.radians(phi - 0.5 + 0.2))
    assert reading.watts == pytest.approx(expected, abs=1e-9)
    assert reading.at_instrument == pytest.approx(expected / 80, abs=1e-9)
    assert through.ratio == 80


@pytest.mark.parametrize(("pf", "percent"), [(0.8, 0.65), (0.5, 1.51), (0.2, 4.27), (0.1, 8.68)])
def test_angle_error_of_a_current_transformer(pf: float, percent: float) -> None:
    # needs.md, row 14 (derived there): 30 min of displacement, printed to 0.01 %
    ct = InstrumentTransformer("ct", 20, phase_displacement=0.5)
    load = single(cmath.rect(23, math.acos(pf)))
    (reading,) = read(meter(current_transformer=ct), load=load)
    assert 100 * (reading.watts / (2300 * pf) - 1) == pytest.approx(percent, abs=0.005)


def test_difference_windings_through_current_transformers() -> None:
    # derived: each winding behind its own transformer; the secondaries add
    ct = InstrumentTransformer("ct", 20)
    branches = (Branch("L1", "L1", "N", 23 + 0j), Branch("L2", "L2", "N", 10 + 9j))
    load = Load("load", Connection.LINE_TO_NEUTRAL, branches, None, {})
    windings = (Winding("L1"), Winding("L2", -1))
    (reading,) = read(meter(windings=windings, current_transformer=ct), load=load)
    I = EMFS[0] / 23 - EMFS[1] / (10 + 9j)
    assert reading.current == pytest.approx(I / 20, rel=1e-12)
    assert reading.watts == pytest.approx((EMFS[0] * I.conjugate()).real, rel=1e-12)

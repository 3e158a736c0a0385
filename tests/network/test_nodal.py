"""Nodal analysis against closed forms, and its own checks against planted faults."""

from __future__ import annotations

import math
import warnings
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from simulator.errors import NetworkError
from simulator.network import nodal
from simulator.network.elements import (
    AdmittanceBlock,
    Element,
    IdealTransformer,
    Impedance,
    Source,
)
from simulator.network.netlist import Netlist, terminals
from simulator.network.nodal import Solution, solve

OPEN = complex(math.inf)
# Sums of a few products in double precision.
EXACT = {"rel": 1e-12}


def source(name: str, a: str, b: str, emf: complex, z: complex = 0j) -> Source:
    return Source(name, (a, b), emf, z)


def impedance(name: str, a: str, b: str, z: complex) -> Impedance:
    return Impedance(name, (a, b), z)


def solved(*elements: Element) -> Solution:
    return solve(Netlist(elements, "0"))


# Closed forms -------------------------------------------------------------------------------


def test_divider() -> None:
    # derived: 100 V over 3 + 4j and 5 − 10j ohm in series, V = E·Z2/(Z1 + Z2)
    z1, z2 = 3 + 4j, 5 - 10j
    found = solved(
        source("E", "1", "0", 100), impedance("a", "1", "2", z1), impedance("b", "2", "0", z2)
    )
    assert found.potentials["2"] == pytest.approx(100 * z2 / (z1 + z2), **EXACT)
    assert found.voltage("1", "2") == pytest.approx(100 * z1 / (z1 + z2), **EXACT)
    # load reference: the source's current runs from its plus node into it, so it is negative
    assert found.current("a") == pytest.approx(100 / (z1 + z2), **EXACT)
    assert found.current("E") == pytest.approx(-100 / (z1 + z2), **EXACT)
    assert found.powers["E"] == pytest.approx(-(100**2) / (z1 + z2).conjugate(), **EXACT)


def test_source_behind_its_impedance() -> None:
    # derived: 230 V behind 0.5 + 0.2j ohm into 22.5 − 0.2j ohm carries 10 A
    found = solved(source("E", "1", "0", 230, 0.5 + 0.2j), impedance("Z", "1", "0", 22.5 - 0.2j))
    assert found.current("Z") == pytest.approx(10, **EXACT)
    assert found.potentials["1"] == pytest.approx(225 - 2j, **EXACT)
    # it gives 2300 VA from its emf and keeps 50 + 20j VA: absorbs −2250 + 20j
    assert found.powers["E"] == pytest.approx(-2250 + 20j, **EXACT)


@pytest.mark.parametrize("r4", [7.0, 4.2, 0.0])
def test_bridge(r4: float) -> None:
    # derived: Thévenin at the detector, V = E·(r2/(r1+r2) − r4/(r3+r4)), R = r1∥r2 + r3∥r4
    E, r1, r2, r3, rg = 12.0, 10.0, 7.0, 6.0, 3.0
    found = solved(
        source("E", "1", "0", E),
        impedance("r1", "1", "2", r1),
        impedance("r2", "2", "0", r2),
        impedance("r3", "1", "3", r3),
        impedance("r4", "3", "0", r4),
        impedance("detector", "2", "3", rg),
    )
    V = E * (r2 / (r1 + r2) - r4 / (r3 + r4))
    R = r1 * r2 / (r1 + r2) + r3 * r4 / (r3 + r4)
    assert found.current("detector") == pytest.approx(V / (R + rg), rel=1e-12, abs=1e-15)


def test_a_balanced_bridge_has_no_detector_current_even_in_a_zero_ohm_detector() -> None:
    found = solved(
        source("E", "1", "0", 12),
        impedance("r1", "1", "2", 10),
        impedance("r2", "2", "0", 7),
        impedance("r3", "1", "3", 20),
        impedance("r4", "3", "0", 14),
        impedance("detector", "2", "3", 0j),
    )
    assert found.rounded_current(found.current("detector")) == 0
    assert found.rounded_voltage(found.voltage("2", "3")) == 0


def test_ideal_transformer() -> None:
    # derived: seen from the primary a burden Z is n²·Z. 50 V behind 2 ohm, n = 1/5, Z = 75 + 50j:
    # n²·Z = 3 + 2j, I1 = 50/(5 + 2j), V2 = V1/n, and the burden carries n·I1
    n, burden = 0.2, 75 + 50j
    found = solved(
        source("E", "1", "0", 50, 2),
        IdealTransformer("T", ("1", "0"), ("s", "g"), n),
        impedance("burden", "s", "g", burden),
        impedance("earth", "g", "0", 1e3),
    )
    I1 = 50 / (2 + n**2 * burden)
    assert found.currents["T"] == pytest.approx(I1 * np.array([1, -1, -n, n]), **EXACT)
    assert found.current("burden") == pytest.approx(n * I1, **EXACT)
    assert found.voltage("s", "g") == pytest.approx(found.potentials["1"] / n, **EXACT)
    assert found.powers["T"] == 0
    assert found.current("earth") == pytest.approx(0, abs=1e-14)


def test_transformer_without_burden_passes_voltage_and_no_current() -> None:
    found = solved(
        source("E", "1", "0", 100, 1),
        IdealTransformer("T", ("1", "0"), ("2", "0"), 4.0),
        impedance("left open", "2", "0", OPEN),
    )
    assert found.potentials["2"] == pytest.approx(25, **EXACT)
    assert found.current("T") == pytest.approx(0, abs=1e-14)


def test_admittance_block_is_the_t_network_it_was_made_from() -> None:
    # derived: the impedance parameters of a T are z11 = za + zc, z12 = zc, z22 = zb + zc; its
    # admittance matrix with the common terminal is Kᵀ·z⁻¹·K, K the voltages to that terminal
    za, zb, zc = 2 + 1j, 3 - 2j, 4 + 5j
    K = np.array([[1, 0, -1], [0, 1, -1]])
    Y = K.T @ np.linalg.inv(np.array([[za + zc, zc], [zc, zb + zc]])) @ K
    around = (
        source("E", "1", "0", 100 + 20j, 1),
        impedance("load", "2", "0", 6j),
        impedance("foot", "3", "0", 2),
    )
    block = solved(*around, AdmittanceBlock("T", ("1", "2", "3"), Y))
    parts = solved(
        *around,
        impedance("a", "1", "m", za),
        impedance("b", "2", "m", zb),
        impedance("c", "3", "m", zc),
    )
    for node in "123":
        assert block.potentials[node] == pytest.approx(parts.potentials[node], **EXACT)
    assert block.currents["T"] == pytest.approx([parts.current(k) for k in "abc"], **EXACT)
    assert block.powers["T"] == pytest.approx(sum(parts.powers[k] for k in "abc"), **EXACT)


def test_a_block_may_touch_the_reference_and_take_two_terminals_to_one_node() -> None:
    # derived: 4 S from '1' to the reference, written as a block whose third terminal is idle
    Y = np.array([[4, -4, 0], [-4, 4, 0], [0, 0, 0]], dtype=complex)
    found = solved(source("E", "1", "0", 3, 1), AdmittanceBlock("B", ("1", "0", "1"), Y))
    assert found.potentials["1"] == pytest.approx(3 * 0.25 / 1.25, **EXACT)
    assert found.currents["B"] == pytest.approx([2.4, -2.4, 0], **EXACT)


def test_the_condition_is_that_of_the_1_norm() -> None:
    # derived by hand: 1 V on 1 ohm needs no scaling. The columns of V, I_E and I_Z hold 0 1 1,
    # 1 0 0 and 1 0 −1, the columns of the inverse 0 1 0, 1 −1 1 and 0 1 −1: 2 times 3.
    found = solved(source("E", "1", "0", 1), impedance("Z", "1", "0", 1))
    assert found.condition == 6


# Limits -------------------------------------------------------------------------------------


def test_a_circuit_without_any_emf_rests() -> None:
    found = solved(
        source("E", "1", "0", 0), impedance("Z", "1", "2", 5), impedance("link", "2", "0", 0j)
    )
    assert set(found.potentials.values()) == {0}
    assert all(not np.any(i) for i in found.currents.values())
    assert found.residual == 0
    assert found.rounded_voltage(0j) == 0
    assert found.rounded_current(0j) == 0


def test_dangling_branches_carry_nothing_and_hand_the_potential_on() -> None:
    found = solved(
        source("E", "1", "0", 230, 1),
        impedance("load", "1", "0", 22),
        impedance("stub", "1", "2", 1e6),
        impedance("link", "2", "3", 0j),
        impedance("switch", "1", "0", OPEN),
        source("battery", "4", "3", 5, 0.1),
    )
    for name in ("stub", "link", "switch", "battery"):
        assert found.current(name) == pytest.approx(0, abs=1e-13)
    assert found.potentials["3"] == pytest.approx(220, **EXACT)
    assert found.potentials["4"] == pytest.approx(225, **EXACT)
    assert found.powers["switch"] == 0


@pytest.mark.parametrize("coil", [0.0, 1e-9, 1e-3])
@pytest.mark.parametrize("shunt", [1e12, 1e9, 1e3])
@pytest.mark.parametrize("load", [1e-9, 10.0, 1e12])
def test_widely_different_values_cost_no_digits(coil: float, shunt: float, load: float) -> None:
    # derived: E behind 1 ohm, then a coil, then shunt and load in parallel; exact fractions
    found = solved(
        source("E", "1", "0", 230, 1),
        impedance("coil", "1", "2", coil),
        impedance("shunt", "2", "0", shunt),
        impedance("load", "2", "0", load),
    )
    c, s, z = Fraction(coil), Fraction(shunt), Fraction(load)
    total = 230 / (1 + c + s * z / (s + z))
    assert found.current("coil") == pytest.approx(float(total), rel=1e-14)
    assert found.current("shunt") == pytest.approx(float(total * z / (s + z)), rel=1e-14)
    assert found.current("load") == pytest.approx(float(total * s / (s + z)), rel=1e-14)
    # what the coil takes is known to full digits, not as a difference of two large voltages
    assert found.powers["coil"].real == pytest.approx(float(c * total**2), rel=1e-14)
    assert found.condition < 1e3


@pytest.mark.parametrize("short", [0.0, 1e-12, 1e-9, 1e-6])
@pytest.mark.parametrize("back", [0.0, 1e-9, 0.5])
def test_a_dead_short_is_solved_and_not_refused_for_its_rounding(short: float, back: float) -> None:
    # Three sources of random emf and impedance, shorted at one node: voltages that are nothing,
    # or nearly so, beside large currents. Expected from Millman's theorem, in exact fractions.
    rng = np.random.default_rng(7)
    for _ in range(20):
        emfs = rng.integers(-300, 300, 3)
        inner = rng.integers(1, 90, 3) / 64
        elements: list[Element] = []
        for k in range(3):
            elements.append(source(f"E{k}", f"a{k}", "0", int(emfs[k]), float(inner[k])))
            elements.append(impedance(f"coil {k}", f"a{k}", f"b{k}", 0j))
            elements.append(impedance(f"short {k}", f"b{k}", "s", short))
            elements.append(impedance(f"shunt {k}", f"b{k}", "p", 2e4))
        found = solved(*elements, impedance("back", "s", "0", back))
        assert found.residual < 1e-14
        if back:
            # the shunts carry next to nothing: at most 1e-8 of the rest
            branches = [Fraction(z) + Fraction(short) for z in inner]
            currents = sum(int(e) / z for e, z in zip(emfs, branches, strict=True))
            V = currents / (1 / Fraction(back) + sum(1 / z for z in branches))
            assert found.potentials["s"].real == pytest.approx(float(V), rel=1e-6)


def test_rounding_is_taken_for_nothing_but_a_small_value_is_kept() -> None:
    found = solved(source("E", "1", "0", 100), impedance("Z", "1", "0", 50))
    assert found.rounded_voltage(1e-11 + 0j) == 0
    assert found.rounded_voltage(1e-9j) == 1e-9j
    assert found.rounded_current(1e-13 + 0j) == 0
    assert found.rounded_current(1e-11j) == 1e-11j


@pytest.mark.parametrize(
    "elements",
    [
        # a tank of +10j and −10j beside a source, and the same in series with an ideal one
        (
            source("E", "1", "0", 10, 1),
            impedance("L", "1", "2", 10j),
            impedance("C", "2", "1", -10j),
        ),
        (source("E", "1", "0", 10), impedance("L", "1", "2", 10j), impedance("C", "2", "0", -10j)),
    ],
)
def test_a_resonance_without_losses_is_named(elements: tuple[Element, ...]) -> None:
    with pytest.raises(NetworkError, match="resonance without losses") as caught:
        solved(*elements)
    assert "current in 'L' and the current in 'C'" in str(caught.value)


def test_of_many_unknowns_that_are_free_together_six_are_named() -> None:
    # A ring of +1j and −1j ohm: one current around it is free, and with it every second potential.
    ring = [impedance(f"X{k}", f"{k + 1}", f"{(k + 1) % 8 + 1}", (-1) ** k * 1j) for k in range(8)]
    with pytest.raises(NetworkError, match="does not determine") as caught:
        solved(source("E", "1", "0", 10, 1), *ring)
    assert str(caught.value).split(":")[0].count("the potential of") == 4
    assert str(caught.value).split(":")[0].count("the current in") == 2


def test_values_whose_sum_is_no_number_are_refused_as_such() -> None:
    blocks = [
        AdmittanceBlock(name, ("1", "0"), 1e308 * np.array([[1, -1], [-1, 1]], dtype=complex))
        for name in "AB"
    ]
    message = "^the element values are too large or too small to be solved together$"
    with pytest.raises(NetworkError, match=message):
        solved(source("E", "1", "0", 10, 1), *blocks)


def test_transformers_with_nothing_connected_in_one_conductor_are_named() -> None:
    # Only the sum of their two voltages is determined.
    with pytest.raises(NetworkError, match="transformer with nothing connected") as caught:
        solved(
            source("E", "1", "0", 10),
            IdealTransformer("T1", ("1", "2"), ("a", "0"), 0.05),
            IdealTransformer("T2", ("2", "3"), ("b", "0"), 0.05),
            impedance("Z", "3", "0", 5),
        )
    assert "'a'" in str(caught.value)
    assert "'b'" in str(caught.value)


def test_a_transformer_that_shorts_an_ideal_source_is_refused() -> None:
    with pytest.raises(NetworkError, match="in a loop without impedance"):
        solved(
            source("E", "1", "0", 10),
            IdealTransformer("T", ("1", "0"), ("s", "0"), 0.05),
            impedance("burden", "s", "0", 0j),
        )


@pytest.mark.parametrize("size", [1e-320, 1e-308, 1e-200, 1e-30, 1e30, 1e200, 1e308])
@pytest.mark.parametrize("what", ["emf", "inner", "coil", "load", "turns"])
def test_extreme_values_are_solved_or_refused_without_a_warning(what: str, size: float) -> None:
    value = {"emf": 230.0, "inner": 1.0, "coil": 1e-3, "load": 22.0, "turns": 10.0} | {what: size}
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            found = solved(
                source("E", "1", "0", value["emf"], value["inner"]),
                impedance("coil", "1", "2", value["coil"]),
                impedance("load", "2", "0", value["load"]),
                IdealTransformer("T", ("2", "0"), ("s", "0"), value["turns"]),
                impedance("burden", "s", "0", 1e3),
            )
        except NetworkError:
            assert not 1e-30 <= size <= 1e30 or what in ("inner", "turns")
            return
    assert found.residual <= 1e-9
    everything = [*found.potentials.values(), *found.powers.values()]
    assert np.all(np.isfinite(everything))


def test_a_reference_at_the_end_of_a_branch_without_current_meets_only_rounding() -> None:
    # The loop of sources is tied to the reference by one branch, which carries nothing.
    rng = np.random.default_rng(3)
    for _ in range(50):
        emfs, z = rng.integers(-9, 9, (2, 4)), rng.integers(1, 5, (2, 4))
        loop = [
            source(f"E{k}", str(k + 1), str((k + 1) % 4 + 1), emf, inner)
            for k, (emf, inner) in enumerate(
                zip((emfs[0] + 1j * emfs[1]).tolist(), (z[0] - 1j * z[1]).tolist(), strict=True)
            )
        ]
        found = solved(
            *loop, impedance("cross", "1", "3", 1 + 2j), impedance("tie", "2", "0", 3 + 4j)
        )
        assert found.residual < 1e-12
        assert found.current("tie") == pytest.approx(0, abs=1e-13)


def test_a_circuit_under_voltage_in_which_nothing_flows() -> None:
    # No current is the largest; what is left of rounding is not judged by itself.
    Y = np.array([[1.25 + 0.25j, -0.25 - 0.25j, -1], [-0.25 - 0.25j, 0, 0], [-1, 0, 0]])
    Y[1, 1:] = 0.55 + 0.15j, -0.3 + 0.1j
    Y[2, 1:] = -0.3 + 0.1j, 1.3 - 0.1j
    found = solved(
        impedance("open", "0", "1", OPEN),
        impedance("a", "4", "3", 3 - 2j),
        source("E", "2", "1", -7 + 2j),
        impedance("b", "1", "4", 2 + 1j),
        AdmittanceBlock("B", ("4", "1", "3"), Y),
        impedance("c", "0", "1", 3 - 3j),
    )
    assert found.potentials["2"] == pytest.approx(-7 + 2j, rel=1e-12)
    assert found.residual < 1e-9


# The checks themselves ----------------------------------------------------------------------

# A delta of 1, 2j and 3 S: what flows in at one terminal flows out at the others.
Y_BLOCK = np.array([[4, -1, -3], [-1, 1 + 2j, -2j], [-3, -2j, 3 + 2j]], dtype=complex) / 7
EVERY_KIND = (
    source("ideal", "1", "0", 230),
    source("real", "2", "0", 100j, 1 + 1j),
    impedance("Z", "1", "3", 5 + 2j),
    impedance("link", "3", "4", 0j),
    impedance("open 1", "1", "4", OPEN),
    impedance("open 2", "1", "4", OPEN),
    IdealTransformer("T", ("4", "0"), ("5", "0"), 3.0),
    impedance("burden", "5", "0", 2),
    AdmittanceBlock("B", ("1", "2", "4"), Y_BLOCK),
)
N_UNKNOWNS = 5 + 8


def test_every_absorbed_power_is_v_times_conjugate_i_and_they_balance() -> None:
    # Tellegen: the sum over all elements of V·conj(I) is nothing; V and I from the solution alone.
    found = solved(*EVERY_KIND)
    total = 0j
    for e in EVERY_KIND:
        V = np.array([found.potentials[node] for node in terminals(e)])
        power = complex(V @ found.currents[e.name].conj())
        assert found.powers[e.name] == pytest.approx(power, rel=1e-12, abs=1e-9)
        total += power
    assert total == pytest.approx(0, abs=1e-9)
    assert abs(found.powers["burden"]) > 1


@pytest.mark.parametrize("unknown", range(N_UNKNOWNS))
def test_a_wrong_unknown_is_noticed(monkeypatch: pytest.MonkeyPatch, unknown: int) -> None:
    right = nodal._solve_equilibrated

    def wrong(system: nodal._System) -> tuple[nodal.Complex, float]:
        x, condition = right(system)
        assert len(x) == N_UNKNOWNS
        x[unknown] += 1e-6 * np.abs(x).max()
        return x, condition

    solved(*EVERY_KIND)
    monkeypatch.setattr(nodal, "_solve_equilibrated", wrong)
    with pytest.raises(NetworkError, match="does not satisfy the circuit's laws"):
        solved(*EVERY_KIND)


def test_opposite_currents_in_two_opens_are_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    # They obey Kirchhoff's laws and take no power; only the law of an open refuses them.
    right = nodal._solve_equilibrated

    def wrong(system: nodal._System) -> tuple[nodal.Complex, float]:
        x, condition = right(system)
        for name, current in (("open 1", 1), ("open 2", -1)):
            x[len(system.nodes) + [b.name for b in system.branches].index(name)] = current
        return x, condition

    monkeypatch.setattr(nodal, "_solve_equilibrated", wrong)
    with pytest.raises(NetworkError, match="does not satisfy the circuit's laws"):
        solved(*EVERY_KIND)


@pytest.mark.parametrize("name", ["ideal", "real", "Z", "link", "open 1", "T", "burden", "B"])
def test_a_wrong_law_is_noticed(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Assemble the system with one element slightly off, but check the laws with the right one."""

    def off(e: Element) -> Element:
        match e:
            case IdealTransformer():
                return replace(e, turns_ratio=e.turns_ratio * (1 + 1e-6))
            case AdmittanceBlock():
                return replace(e, admittance=e.admittance * (1 + 1e-6))
            case Source():
                return replace(e, emf=e.emf * (1 + 1e-6))
        return replace(e, impedance=1e6 if e.is_open else e.impedance * (1 + 1e-6) + 1e-6)

    wrong = Netlist(tuple(off(e) if e.name == name else e for e in EVERY_KIND), "0")
    laws = nodal.laws_of(wrong)
    monkeypatch.setattr(nodal, "laws_of", lambda _: laws)
    with pytest.raises(NetworkError, match="does not satisfy the circuit's laws"):
        solved(*EVERY_KIND)


def test_a_wrong_power_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    right = nodal._power
    monkeypatch.setattr(nodal, "_power", lambda *args: right(*args) * (1 + 1e-6j))
    solved(*EVERY_KIND)  # a common factor leaves a balance
    monkeypatch.setattr(nodal, "_power", lambda e, *args: right(e, *args) * (e.name != "burden"))
    with pytest.raises(NetworkError, match="does not satisfy the circuit's laws"):
        solved(*EVERY_KIND)


def test_a_solution_that_is_no_number_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    right = nodal._power
    monkeypatch.setattr(nodal, "_power", lambda e, *a: math.nan if e.name == "Z" else right(e, *a))
    with pytest.raises(NetworkError, match="does not satisfy the circuit's laws"):
        solved(*EVERY_KIND)

"""Very many cases: closed forms, both routes, failures that stay where they are.

`few` leaves all cases to LAPACK, `many` compiles an elimination.
"""

from __future__ import annotations

import math
import pickle
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from simulator.errors import NetworkError
from simulator.network.elements import AdmittanceBlock, IdealTransformer, Impedance, Source
from simulator.network.many import Current, Program, Term, Voltage, compile_network
from simulator.network.netlist import Netlist
from simulator.network.nodal import solve
from simulator.network.topology import FloatingPartError, FreeLoopError

OPEN = complex(math.inf)
ROUTES = pytest.mark.parametrize("cases", [100, None], ids=["few", "many"])
TOLERANCE = 1e-13  # the circuits below are well conditioned

# E behind z1, then z2 and z3 in parallel
LADDER = Netlist(
    (
        Source("E", ("a", "0"), 100 + 0j),
        Impedance("z1", ("a", "b"), 3 + 1j),
        Impedance("z2", ("b", "0"), 5 + 2j),
        Impedance("z3", ("b", "0"), 8 - 6j),
    ),
    "0",
)
LADDER_WANTED = (Voltage("b", "0"), Current("z1"), Current("z3"), Current("z3", 1))


def ladder(cases: int | None) -> Program:
    program = compile_network(
        LADDER, varied=["z1", "z2", "z3"], sources=["E"], wanted=LADDER_WANTED, cases=cases
    )
    assert (program.tape is None) == (cases is not None)
    return program


def spread(nominal: list[complex], cases: int, seed: int = 1) -> np.ndarray:
    rng = np.random.default_rng(seed)
    factors = 1 + 0.3 * (rng.uniform(-1, 1, (2, len(nominal), cases)))
    return np.array(nominal)[:, None] * (factors[0] + 0.3j * (factors[1] - 1))


def ladder_by_hand(values: np.ndarray) -> np.ndarray:
    """Derived: current divider, with y3 = 1/z3 and so on."""
    z1, z2, z3, E = values
    V = E * z2 * z3 / (z1 * z2 + z1 * z3 + z2 * z3)
    return np.array([V, (E - V) / z1, V / z3, -V / z3])


def close(found: np.ndarray, expected: np.ndarray, tolerance: float = TOLERANCE) -> None:
    scale = np.abs(expected).max(axis=-1, keepdims=True)
    assert np.all(np.abs(found - expected) <= tolerance * scale)


@ROUTES
def test_ladder_against_the_current_divider(cases: int | None) -> None:
    values = spread([3 + 1j, 5 + 2j, 8 - 6j, 100], 5000)
    found = ladder(cases).run(values)
    close(found.values, ladder_by_hand(values))
    assert not found.failed


@ROUTES
def test_shorts_and_opens_are_cases_like_others(cases: int | None) -> None:
    values = np.repeat(np.array([3 + 1j, 5 + 2j, 8 - 6j, 100])[:, None], 6, axis=1)
    values[0, 1], values[1, 2], values[2, 3], values[0, 4], values[1, 5] = 0, OPEN, OPEN, OPEN, 0
    found = ladder(cases).run(values)
    # derived: Ohm's law
    expected = [
        100,  # z1 = 0: all of E
        100 * (8 - 6j) / (11 - 5j),  # z2 open: z1 and z3 in series
        100 * (5 + 2j) / (8 + 3j),  # z3 open
        0,  # z1 open
        0,  # z2 = 0
    ]
    close(found.values[0, 1:], np.array(expected))
    assert not found.failed


@ROUTES
def test_star_against_millman(cases: int | None) -> None:
    """Derived: potential of a star point, V = Σ y·E / Σ y."""
    emfs = [230, 230 * np.exp(-2j), 210 * np.exp(2.2j), 20j]
    netlist = Netlist(
        tuple(Source(f"E{k}", (f"a{k}", "0"), complex(E)) for k, E in enumerate(emfs))
        + tuple(Impedance(f"z{k}", (f"a{k}", "s"), 10 + 1j * k) for k in range(4)),
        "0",
    )
    program = compile_network(
        netlist,
        varied=[f"z{k}" for k in range(4)],
        sources=["E1", "E3"],
        wanted=[Voltage("s", "0"), *(Current(f"z{k}") for k in range(4))],
        cases=cases,
    )
    values = spread([10, 10 + 1j, 10 + 2j, 10 + 3j, emfs[1], emfs[3]], 3000)
    E = np.array([np.full(3000, emfs[0]), values[4], np.full(3000, emfs[2]), values[5]])
    y = 1 / values[:4]
    V = (y * E).sum(axis=0) / y.sum(axis=0)
    close(program.run(values).values, np.array([V, *(y * (E - V))]))


@ROUTES
def test_transformers_and_blocks_are_constants(cases: int | None) -> None:
    """Derived: n² times the impedance behind a transformer; a block [[y, −y], [−y, y]] is 1/y."""
    y = 0.02 - 0.01j
    netlist = Netlist(
        (
            Source("E", ("a", "0"), 50 + 0j),
            Impedance("z1", ("a", "b"), 2 + 0j),
            IdealTransformer("t", ("b", "0"), ("c", "0"), 3.0),
            Impedance("z2", ("c", "d"), 1 + 1j),
            AdmittanceBlock("block", ("d", "0"), np.array([[y, -y], [-y, y]])),
        ),
        "0",
    )
    wanted = (Voltage("c", "d"), Current("t"), Current("t", 2), Current("block"))
    program = compile_network(netlist, varied=["z1", "z2"], wanted=wanted, cases=cases)
    values = spread([2, 1 + 1j], 2000)
    I = 50 / (values[0] + 9 * (values[1] + 1 / y))
    expected = np.array([3 * I * values[1], I, -3 * I, 3 * I])
    close(program.run(values).values, expected)


@ROUTES
@pytest.mark.parametrize("coil", [1e-9, 1e-5, 1e-3])
def test_small_impedances_cost_no_digits(cases: int | None, coil: float) -> None:
    """Derived: Ohm's law for the ladder with a coil in series with z3."""
    network = Netlist(
        (*LADDER.elements[:3], Impedance("coil", ("b", "c"), coil), Impedance("z3", ("c", "0"), 8)),
        "0",
    )
    names = ["z1", "z2", "coil", "z3"]
    wanted = (Voltage("c", "0"), Voltage("a", "b"))
    program = compile_network(network, varied=names, wanted=wanted, cases=cases)
    values = spread([3 + 1j, 5 + 2j, coil, 8], 2000)
    z1, z2, z, z3 = values
    V = ladder_by_hand(np.array([z1, z2, z + z3, np.full(2000, 100)]))[0]
    close(program.run(values).values, np.array([V * z3 / (z + z3), 100 - V]))


@ROUTES
def test_only_emfs_vary(cases: int | None) -> None:
    program = compile_network(LADDER, sources=["E"], wanted=LADDER_WANTED, cases=cases)
    E = spread([100], 3000)
    constants = np.broadcast_to(np.array([3 + 1j, 5 + 2j, 8 - 6j])[:, None], (3, 3000))
    close(program.run(E).values, ladder_by_hand(np.vstack([constants, E])))


@ROUTES
@pytest.mark.parametrize("varied", [["z1"], ["z2", "z3"], ["E"]])
def test_few_things_vary(cases: int | None, varied: list[str]) -> None:
    """An internal impedance of a source varies like any other."""
    elements = (Source("E", ("a", "0"), 100 + 0j, 1 + 0j), *LADDER.elements[1:])
    program = compile_network(
        Netlist(elements, "0"), varied=varied, wanted=LADDER_WANTED[1:], cases=cases
    )
    all_values = np.repeat(np.array([3 + 1j, 5 + 2j, 8 - 6j, 100])[:, None], 2000, axis=1)
    usual = {"E": 1, "z1": 3 + 1j, "z2": 5 + 2j, "z3": 8 - 6j}
    values = spread([usual[name] for name in varied], 2000)
    inner = values[0] if varied == ["E"] else 1
    for name, row in zip(varied, values, strict=True):
        if name != "E":
            all_values[int(name[1]) - 1] = row
    all_values[0] += inner  # in series with z1
    close(program.run(values).values, ladder_by_hand(all_values)[1:])


@ROUTES
def test_products_are_those_of_the_phasors(cases: int | None) -> None:
    values = spread([3 + 1j, 5 + 2j, 8 - 6j, 100], 5000)
    V, I1, I3, _ = ladder_by_hand(values)
    weight = 0.2 - 0.9j
    terms = [
        [Term(0, 1)],
        [Term(0, 1, -2), Term(0, 2, weight)],
        [Term(0, 0, 0.5)],
        [Term(0, 1, 1j), Term(0, 2, 2)],
    ]
    found = ladder(cases).products(values, terms)
    expected = [
        (V * I1.conj()).real,
        (-2 * V * I1.conj() + weight * V * I3.conj()).real,
        0.5 * np.abs(V) ** 2,
        (1j * V * I1.conj() + 2 * V * I3.conj()).real,
    ]
    close(found.values, np.array(expected))


@ROUTES
def test_a_case_without_solution_is_named_and_spoils_no_other(cases: int | None) -> None:
    values = spread([3 + 1j, 5 + 2j, 8 - 6j, 100], 3000)
    sound = ladder(cases).run(values)
    bad = {7: [0, 0, 8 - 6j, 100], 2500: [OPEN, OPEN, OPEN, 100], 2999: [1, math.nan, 1, 100]}
    mixed = values.copy()
    for case, column in bad.items():
        mixed[:, case] = column
    found = ladder(cases).run(mixed)
    others = [k for k in range(3000) if k not in bad]
    assert np.array_equal(found.values[:, others], sound.values[:, others])
    assert np.isnan(found.values[:, list(bad)]).all()
    assert set(found.failed) == set(bad)
    with pytest.raises(FreeLoopError, match="'z1'") as loop:
        solve(with_impedances(bad[7]))
    with pytest.raises(FloatingPartError) as floating:
        solve(with_impedances(bad[2500]))
    assert found.failed[7] == str(loop.value)
    assert found.failed[2500] == str(floating.value)
    assert "'z2'" in found.failed[2999]
    products = ladder(cases).products(mixed, [[Term(0, 1)]])
    assert products.failed == found.failed
    assert np.flatnonzero(np.isnan(products.values[0])).tolist() == list(bad)


def with_impedances(column: list[complex]) -> Netlist:
    named = dict(zip(("z1", "z2", "z3"), column, strict=False))
    elements = [replace(e, impedance=named.get(e.name, e.impedance)) for e in LADDER.elements]
    return Netlist(tuple(elements), "0")


@ROUTES
def test_all_cases_without_solution(cases: int | None) -> None:
    values = np.repeat(np.array([0, 0, 1, 100], dtype=complex)[:, None], 1500, axis=1)
    assert len(ladder(cases).run(values).failed) == 1500


@ROUTES
def test_a_lossless_resonance_is_named(cases: int | None) -> None:
    """Derived: z2 ∥ z3 with z3 = −z2 takes no current, so with z1 open V is not determined."""
    values = spread([3 + 1j, 5j, 8 - 6j, 100], 2000)
    values[1:3, 1200] = 5j, -5j
    values[0, 1200] = OPEN
    values[1:3, 700] = 5j, -5j  # with z1 closed it is: V = E, and no current in z1
    found = ladder(cases).run(values)
    assert list(found.failed) == [1200]
    assert "does not determine" in found.failed[1200]
    E = values[3, 700]
    close(found.values[:, 700], np.array([E, 0, E / -5j, E / 5j]))


@ROUTES
def test_a_resonance_that_rounding_hides_is_named(cases: int | None) -> None:
    """Derived: where 1/x + 1/y − 1/z = 0 no current is needed; floats leave some 1e-17 of it."""
    branches = [Impedance(f"z{k}", ("b", "0"), 4j) for k in (2, 3, 4)]
    network = Netlist((*LADDER.elements[:2], *branches), "0")
    names = ["z1", "z2", "z3", "z4"]
    program = compile_network(network, varied=names, wanted=LADDER_WANTED[:1], cases=cases)
    values = spread([3 + 1j, 3j, 6j, -2j], 2000)
    resonant = range(1000, 1040)
    x, y = np.random.default_rng(2).uniform(2, 7, (2, len(resonant)))
    values[1:, resonant] = 1j * np.array([x, y, -1 / (1 / x + 1 / y)])
    values[0, resonant[::2]] = OPEN
    values[0, resonant[1::2]] = 1e3  # V = E
    found = program.run(values)
    assert list(found.failed) == list(resonant[::2])
    close(found.values[0, resonant[1::2]], np.full(20, 100), 1e-10)


@ROUTES
@pytest.mark.parametrize("varied", [["across"], ["across", "z1"]])
def test_a_short_across_a_source_is_named_even_if_nobody_looks(
    cases: int | None, varied: list[str]
) -> None:
    elements = (*LADDER.elements, Impedance("across", ("a", "0"), 7 + 0j))
    program = compile_network(
        Netlist(elements, "0"), varied=varied, wanted=LADDER_WANTED[:2], cases=cases
    )
    values = spread([7, 3 + 1j][: len(varied)], 2000)
    values[0, 1500] = 0
    found = program.run(values)
    assert list(found.failed) == [1500]
    assert "'across'" in found.failed[1500]


def test_same_bits_however_the_cases_are_cut() -> None:
    values = spread([3 + 1j, 5 + 2j, 8 - 6j, 100], 9001)
    values[1, ::500] = 1e9  # some are solved by LAPACK
    values[0, ::700] = 0
    program = ladder(None)
    whole = program.run(values).values
    for size in (1, 7, 1000, 4096, 8999):
        parts = [program.run(values[:, k : k + size]).values for k in range(0, 2000, size)]
        found = np.hstack(parts)[:, :9001]
        assert np.array_equal(found, whole[:, : found.shape[1]])


def test_a_program_can_be_shipped() -> None:
    program = ladder(None)
    values = spread([3 + 1j, 5 + 2j, 8 - 6j, 100], 5000)
    before = program.run(values).values
    shipped = pickle.loads(pickle.dumps(program))  # noqa: S301
    assert np.array_equal(shipped.run(values).values, before)
    assert len(pickle.dumps(program)) < 20_000  # registers stay at home


def test_no_cases_at_all() -> None:
    for cases in (100, None):
        assert ladder(cases).run(np.empty((4, 0))).values.shape == (4, 0)


def test_the_audit_condemns_a_wrong_program() -> None:
    program = ladder(None)
    tape = program.tape
    assert tape is not None
    values = spread([3 + 1j, 5 + 2j, 8 - 6j, 100], 5000)
    wrong = 0
    for k, operation in enumerate(tape.operations):
        if operation.kind not in ("add", "subtract"):
            continue
        other = replace(
            tape,
            operations=(
                *tape.operations[:k],
                operation._replace(kind="subtract" if operation.kind == "add" else "add"),
                *tape.operations[k + 1 :],
            ),
            bounds=np.full(len(tape.bounds), np.inf),  # so that only the audit can tell
        )
        found = replace(program, tape=other, _idle=[])
        V, I, *_ = ladder_by_hand(values)
        close(found.run(values).values[:2], np.array([V, I]))
        products = found.products(values, [[Term(0, 1)]])
        close(products.values[0], (V * I.conj()).real)
        wrong += 1
    assert wrong > 3


def test_the_audit_lets_a_right_program_be(monkeypatch: pytest.MonkeyPatch) -> None:
    # A case without a solution is among those compared: it is doubted, and condemns nothing.
    def never(*_: object) -> None:
        pytest.fail("the elimination was condemned")

    monkeypatch.setattr(Program, "_solve_by_lapack", never)
    values = spread([3 + 1j, 5 + 2j, 8 - 6j, 100], 5000)
    values[:, 0] = [0, 0, 8 - 6j, 100]
    found = ladder(None).run(values)
    assert set(found.failed) == {0}
    close(found.values[:, 1:], ladder_by_hand(values[:, 1:]))


def test_unknown_names_are_refused() -> None:
    for what in (
        {"varied": ["z9"], "wanted": []},
        {"sources": ["z1"], "wanted": []},
        {"varied": ["z1", "z1"], "wanted": []},
        {"wanted": [Voltage("a", "nowhere")]},
        {"wanted": [Current("z9")]},
        {"wanted": [Current("z1", 2)]},
    ):
        with pytest.raises(NetworkError, match=r"z9|z1|nowhere"):
            compile_network(LADDER, **what)


@pytest.mark.parametrize(
    ("what", "message"),
    [
        (
            {"varied": ["z9"], "wanted": []},
            "expected the name of an element with an impedance, got 'z9'",
        ),
        ({"sources": ["z1"], "wanted": []}, "expected the name of a source, got 'z1'"),
        ({"varied": ["z1", "z2", "z1"], "wanted": []}, "an element is named twice in z1, z2, z1"),
        ({"wanted": [Voltage("b", "z")]}, "there is no node 'z' in the network"),
        ({"wanted": [Current("z9")]}, "there is no terminal 0 of an element 'z9'"),
        ({"wanted": [Current("z1", 2)]}, "there is no terminal 2 of an element 'z1'"),
        ({"wanted": [Current("z1", -1)]}, "there is no terminal -1 of an element 'z1'"),
    ],
)
def test_refusals_in_full(what: dict[str, Any], message: str) -> None:
    with pytest.raises(NetworkError) as caught:
        compile_network(LADDER, **what)
    assert str(caught.value) == message


@ROUTES
def test_currents_into_every_terminal_of_a_transformer(cases: int | None) -> None:
    # derived: 8 ohm behind n = 1/2 look like 2 ohm; 10 V on z + 2 ohm, and n times it on the left
    netlist = Netlist(
        (
            Source("E", ("1", "0"), 10 + 0j, 1 + 0j),
            IdealTransformer("T", ("1", "0"), ("2", "0"), 0.5),
            Impedance("burden", ("2", "0"), 8 + 0j),
        ),
        "0",
    )
    wanted = [Current("T", k) for k in range(4)]
    z = np.linspace(0.5, 4, 1200)[None] + 0j
    found = compile_network(netlist, varied=["E"], wanted=wanted, cases=cases).run(z)
    close(found.values, np.outer([1, -1, -0.5, 0.5], 10 / (z[0] + 2)))


@ROUTES
def test_currents_into_a_block_with_two_terminals_at_one_node(cases: int | None) -> None:
    # derived: terminals 1 and 3 are one node, so from there to the reference lie 4 + 1 S; 3 V on z
    # and 0.2 ohm in series, and the currents by the rows of Y
    Y = np.array([[4, -4, 0], [-4, 5, -1], [0, -1, 1]], dtype=complex)
    netlist = Netlist(
        (Source("E", ("1", "0"), 3 + 0j, 1 + 0j), AdmittanceBlock("B", ("1", "0", "1"), Y)), "0"
    )
    wanted = [Current("B", k) for k in range(3)]
    z = np.linspace(0.5, 4, 1200)[None] + 0j
    found = compile_network(netlist, varied=["E"], wanted=wanted, cases=cases).run(z)
    close(found.values, np.outer([4, -5, 1], 3 * 0.2 / (z[0] + 0.2)))


def test_values_of_another_shape_are_refused() -> None:
    for values in (np.ones(4), np.ones((3, 10))):
        with pytest.raises(ValueError, match=r"expected values of shape \(4, n_cases\)"):
            ladder(None).run(values)


def test_what_no_values_can_mend_is_refused_at_once() -> None:
    island = (*LADDER.elements, Impedance("x", ("p", "q"), 1 + 0j))
    with pytest.raises(FloatingPartError):
        compile_network(Netlist(island, "0"), varied=["z1"], wanted=LADDER_WANTED)


def test_an_open_or_a_short_in_the_netlist_may_be_what_varies() -> None:
    for given in (0j, OPEN):
        elements = tuple(
            replace(e, impedance=given) if e.name == "z2" else e for e in LADDER.elements
        )
        program = compile_network(
            Netlist(elements, "0"),
            varied=["z2"],
            wanted=LADDER_WANTED,
            samples=[[5 + 2j, 6 + 0j]],
        )
        assert program.tape is not None
        values = np.repeat(np.array([3 + 1j, 0, 8 - 6j, 100])[:, None], 1500, axis=1)
        values[1] = spread([5 + 2j], 1500)
        close(program.run(values[1:2]).values, ladder_by_hand(values))

"""Parts of the many-case kernel by themselves."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.network.elements import Impedance, Source
from simulator.network.many import compiler
from simulator.network.many.careful import equilibrate, solve_carefully
from simulator.network.many.elimination import (
    FILL,
    KNOWN,
    NEEDED,
    Equations,
    NoOrderError,
    _Elimination,
    eliminate,
)
from simulator.network.many.equations import port_equations, sparse_equations
from simulator.network.many.expressions import CONSTANT, UNIT, VARYING, Expressions
from simulator.network.many.recorder import record
from simulator.network.many.stack import stack_of
from simulator.network.many.system import Current, System, Voltage, system_of
from simulator.network.many.tape import Player, Tape
from simulator.network.netlist import Netlist

# Expressions --------------------------------------------------------------------------------


@pytest.fixture
def x() -> Expressions:
    return Expressions()


SAMPLES = np.array([2 + 1j, 3 - 1j, -1 + 0j])


def test_constants_are_folded(x: Expressions) -> None:
    two, three = x.constant(2), x.constant(3)
    assert x.value(x.add(two, three)) == 5
    assert x.value(x.multiply(two, -three)) == -6
    assert x.value(x.reciprocal(-two)) == -0.5
    assert x.constant(-2) == -two
    assert x.add(two, -two) == 0
    assert [x.grades[abs(ref)] for ref in (x.constant(-1), two)] == [UNIT, CONSTANT]


def test_rounding_of_constants_is_nothing_but_small_differences_are_something(
    x: Expressions,
) -> None:
    assert x.add(x.constant(0.1 + 0.2), -x.constant(0.3)) == 0
    assert x.value(x.add(x.constant(1), -x.constant(1 - 1e-9))) == pytest.approx(1e-9)


def test_signs_units_and_repetitions_cost_nothing(x: Expressions) -> None:
    z, w = x.input(0, SAMPLES), x.input(1, SAMPLES**2)
    assert x.grades[z] == VARYING
    assert x.multiply(x.constant(-1), z) == -z
    assert x.multiply(-z, -w) == x.multiply(w, z)
    assert x.add(-z, w) == -x.add(z, -w)
    assert x.add(z, -z) == 0
    assert x.reciprocal(-z) == -x.reciprocal(z)
    assert x.multiply(z, 0) == 0
    both = x.add(x.multiply(z, w), x.reciprocal(x.multiply(w, z)))
    assert x.cost([both, -both]) == pytest.approx(1 + 0.85 + 4)


def test_chains_of_constants_are_merged(x: Expressions) -> None:
    z = x.input(0, SAMPLES)
    scaled = x.multiply(x.constant(2), x.multiply(x.constant(3j), z))
    shifted = x.add(x.constant(2), -x.add(x.constant(5), -z))
    np.testing.assert_allclose(x.in_samples(scaled), 6j * SAMPLES)
    np.testing.assert_allclose(x.in_samples(shifted), SAMPLES - 3)
    assert x.cost([scaled]) == 1
    assert x.cost([shifted]) == pytest.approx(0.85)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("outer", [1, -1])
@pytest.mark.parametrize("inner", [1, -1])
def test_constants_of_a_sum_meet_whatever_its_signs(
    x: Expressions, sign: int, outer: int, inner: int
) -> None:
    # derived: 2 ± (±(5 ± z)) has one constant, so it costs one addition
    z = x.input(0, SAMPLES)
    within = sign * x.add(x.constant(5), inner * z)
    total = x.add(x.constant(2), outer * within)
    expected = 2 + outer * sign * (5 + inner * SAMPLES)
    np.testing.assert_array_equal(x.in_samples(total), expected)
    assert x.cost([total]) == pytest.approx(0.85)


# Elimination --------------------------------------------------------------------------------


def equations(x: Expressions, matrix: list[list[complex]], right: list[complex]) -> Equations:
    rows = [
        {j: x.constant(a) for j, a in enumerate(row) if a} | {KNOWN: x.constant(b)}
        for row, b in zip(matrix, right, strict=True)
    ]
    wanted = [{j: x.constant(1)} for j in range(len(rows))]
    return Equations(rows, np.ones((len(rows), 1)), wanted)


def test_elimination_of_constants_is_the_solution(x: Expressions) -> None:
    matrix, solution = [[0, 2, 1], [1, 1, 0], [3, 0, 5]], [2, -1, 4]  # made up
    right = [sum(a * b for a, b in zip(row, solution, strict=True)) for row in matrix]
    outputs, _ = eliminate(x, equations(x, matrix, right), 0.1)
    assert [x.value(ref) for ref in outputs] == pytest.approx(solution)


@pytest.mark.parametrize("threshold", compiler.THRESHOLDS)
def test_no_pivot_is_small_beside_its_column(x: Expressions, threshold: float) -> None:
    matrix = [[1e-9, 1], [1, 1]]
    outputs, pivots = eliminate(x, equations(x, matrix, [1, 2]), threshold)
    assert all(abs(x.value(pivot.ref)) > 0.5 for pivot in pivots)
    # derived: x = 1/(1 − 1e-9), y = 1 − 1e-9·x
    assert [x.value(ref) for ref in outputs] == pytest.approx([1 + 1e-9, 1 - 1e-9], rel=1e-15)


def test_dependent_equations_have_no_order(x: Expressions) -> None:
    with pytest.raises(NoOrderError):
        eliminate(x, equations(x, [[1, 2], [2, 4]], [1, 2]), 0.1)


def test_the_work_of_a_pivot_counted_by_hand(x: Expressions) -> None:
    # A reciprocal takes 4, an addition 0.85, a product 1. Of pivot (i, j): its reciprocal if it
    # varies; the division of the shorter of its column and its row, entries that are 1 free; then
    # for each other row in the column what changes in it.
    z, w, unit, two, three = (
        x.input(0, SAMPLES), x.input(1, SAMPLES**2), x.constant(1), x.constant(2), x.constant(3),
    )  # fmt: skip
    rows = [
        {0: z, 1: unit, 2: two, KNOWN: three},
        {0: unit, 1: three, KNOWN: w},
        {0: two, 2: w},
        {3: z, 0: unit},
        {4: two},
    ]
    work = _Elimination(x, rows, np.ones((5, 1)), 0.1)
    # (0, 0) varies: reciprocal; column: 2 of row 2 alone, beside itself. The products 2 and KNOWN
    # for three other rows; these have 2, 1 and 0 of its three columns, and get 1, 2 and 3 new ones.
    assert work.scalings(0, 0) == (1, 2)
    assert work.cost(0, 0) == pytest.approx(4 + 1 + 3 * 2 + 3 * 0.85 + 6 * FILL)
    # (1, 0) is 1: nothing to divide. Row 0 takes it z times: both entries; row 2 twice: only what
    # varies is work, and is new there; row 3 once: the same, without a product.
    assert work.scalings(1, 0) == (0, 0)
    assert work.cost(1, 0) == pytest.approx(2 + 2 * 0.85 + 1 + FILL + FILL)
    # (1, 1) is 3, a constant: dividing costs only what varies, in the row KNOWN. In row 0 then one
    # product and one addition to KNOWN.
    assert work.scalings(1, 1) == (0, 1)
    assert work.cost(1, 1) == pytest.approx(1 + 0.85)
    # (2, 2) varies: 4; beside it nothing varies in row 0 but 2 is to be multiplied down or 2 along
    assert work.scalings(2, 2) == (1, 1)
    assert work.cost(2, 2) == pytest.approx(4 + 1 + 1 + 0.85)
    # alone in their columns: what is wanted may need the reciprocal, a constant costs nothing
    assert work.cost(3, 3) == NEEDED * 4
    assert work.cost(4, 4) == 0
    # the fill that may come: other entries of the row times other entries of the column
    assert {place: fill for place, (_, fill) in work.costs.items()} == {
        (0, 0): 3 * 3, (1, 0): 2 * 3, (2, 0): 1 * 3, (3, 0): 1 * 3, (0, 1): 3, (1, 1): 2,
        (0, 2): 3, (2, 2): 1, (3, 3): 0, (4, 4): 0,
    }  # fmt: skip


def test_the_cheapest_pivot_is_taken_first_and_little_fill_before_much(x: Expressions) -> None:
    z = x.input(0, SAMPLES)
    one = x.constant(1)
    # derived: of equal work, none, the 1 of column 1 fills one place, those of column 0 four
    rows = [{0: one, 1: one, 2: one}, {0: one, 2: z}, {0: one, 1: z}]
    work = _Elimination(x, rows, np.ones((3, 1)), 0.1)
    first = min(work.costs.values())
    chosen = work.choose()
    assert work.costs[chosen.row, chosen.column] == first
    assert chosen.good.all()


def parallel(far: complex) -> System:
    """Two impedances that vary, in parallel, behind one that does not."""
    netlist = Netlist(
        (
            Source("E", ("a", "0"), 10 + 0j),
            Impedance("far", ("a", "b"), far),
            Impedance("z1", ("b", "0"), 0.001 + 0.002j),
            Impedance("z2", ("b", "0"), 0.003 + 0j),
        ),
        "0",
    )
    return system_of(netlist, ["z1", "z2"], [], [Voltage("b", "0"), Current("z1")])


def test_errors_are_compared_with_the_largest_of_their_kind_in_their_case() -> None:
    # by hand: of each case the largest potential or emf, and the largest current, or what an
    # open of 1e12 ohm would let flow
    netlist = Netlist(
        (
            Source("E", ("a", "0"), 0.1 + 0j),
            Impedance("z", ("a", "b"), 1),
            Impedance("r", ("b", "0"), 1),
        ),
        "0",
    )
    system = system_of(netlist, ["z"], [], [Voltage("b", "0"), Current("z")])
    potentials = [[0.1, 0.1, 0], [0.02, 30, 0]]
    currents = [[-0.05, -7, 0], [0.04, 2, 0], [0.03, 1, 0]]
    found = system.scales(np.array([*potentials, *currents], dtype=complex))
    np.testing.assert_allclose(found, [[0.1, 30, 0.1], [0.05, 7, 1e-13]], rtol=1e-15)


@pytest.mark.parametrize("far", [0.01, 1e5])
def test_ports_of_parallel_branches(far: float) -> None:
    system = parallel(far)
    samples = system.nominal[:, None] * np.linspace(0.9, 1.1, 8)
    matrices = np.repeat(system.matrix[None], 8, axis=0)
    matrices[:, system.impedances, system.impedances] = -samples.T
    rows, columns = equilibrate(matrices)
    x = Expressions()
    inputs = [x.input(k, row) for k, row in enumerate(samples)]
    (reduced,) = port_equations(x, system, inputs, rows.T, columns.T)
    assert len(reduced.rows) == 2
    outputs, _ = eliminate(x, reduced, 0.1)
    y1, y2 = 1 / samples
    V = 10 / far / (1 / far + y1 + y2)  # derived: current divider
    np.testing.assert_allclose([x.in_samples(ref) for ref in outputs], [V, V * y1], rtol=1e-13)


@pytest.mark.parametrize(("spoiled", "compiled"), [([0.1], True), ([0.1, 0.5], False)])
def test_what_is_not_accurate_in_the_samples_is_not_used(
    monkeypatch: pytest.MonkeyPatch, spoiled: list[float], compiled: bool
) -> None:
    def spoil(x: Expressions, given: Equations, threshold: float) -> object:
        outputs, pivots = eliminate(x, given, threshold)
        if threshold in spoiled:
            outputs = [x.multiply(x.constant(1 + 1e-9), ref) for ref in outputs]
        return outputs, pivots

    monkeypatch.setattr(compiler, "eliminate", spoil)
    system = parallel(0.01)
    samples = system.nominal[:, None] * np.linspace(0.9, 1.1, 8)
    tape = compiler.compile_tape(system, samples)
    assert (tape is not None) == compiled
    if tape is not None:
        out = np.empty((2, 8), dtype=complex)
        assert Player(tape).play(samples, out) is None
        y1, y2 = 1 / samples
        V = 1000 / (100 + y1 + y2)  # derived: current divider
        np.testing.assert_allclose(out, [V, V * y1], rtol=1e-13)


def test_emfs_behind_varying_impedances_reach_the_ports() -> None:
    netlist = Netlist(
        (Source("E", ("a", "0"), 10 + 0j, 1 + 0j), Impedance("z", ("a", "0"), 4 + 0j)), "0"
    )
    system = system_of(netlist, ["E", "z"], ["E"], [Voltage("a", "0"), Current("z")])
    samples = np.array([[1, 2, 3], [4, 5, 6], [10, 11, 12]], dtype=complex)
    for formulate in (sparse_equations, port_equations):
        x = Expressions()
        inputs = [x.input(k, row) for k, row in enumerate(samples)]
        ones = np.ones((len(system.matrix), 3))
        made = formulate(x, system, inputs, *([ones] * (1 + (formulate is port_equations))))
        outputs, _ = eliminate(x, made[0] if isinstance(made, list) else made, 0.1)
        current = samples[2] / (samples[0] + samples[1])  # derived: two impedances in series
        expected = [samples[1] * current, current]
        np.testing.assert_allclose([x.in_samples(r) for r in outputs], expected, rtol=1e-14)


# Tape ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("part", [9, -9, 9j, -9j, np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("watched", ["value", "pivot"])
def test_any_part_of_a_number_beyond_its_limit_is_doubted(part: complex, watched: str) -> None:
    limit, none = np.array([8.0]), np.array([np.finfo(float).max])
    tape = Tape(
        constants=(0j, 1 + 0j),
        limits=limit if watched == "value" else none,
        n_outputs=0,
        bounds=limit,
        n_registers=0,
        unused=(),
        operations=(),
    )
    player = Player(tape)
    player.guarded[:] = 1
    values = np.ones((1, 20), dtype=complex)
    target = values if watched == "value" else player.guarded
    outputs = np.empty((0, 20), dtype=complex)
    target[0, :20] = 7.9 - 7.9j
    assert player.play(values, outputs) is None
    target[0, 13] = part
    doubted = player.play(values, outputs)
    assert doubted is not None
    assert np.flatnonzero(doubted).tolist() == [13]


def test_a_tape_can_be_read() -> None:
    netlist = Netlist((Source("E", ("a", "0"), 10 + 0j), Impedance("z", ("a", "0"), 4 + 0j)), "0")
    system = system_of(netlist, ["z"], [], [Current("z"), Current("E")])
    tape = compiler.compile_tape(system, np.array([[4, 5]], dtype=complex))
    assert str(tape).splitlines() == ["g0 = 1+0j / x0", "y0 = 10+0j · g0", "y1 = 0+0j − y0"]


def played(tape: Tape, *values: np.ndarray) -> np.ndarray:
    out = np.empty((tape.n_outputs, len(values[0])), dtype=complex)
    assert Player(tape).play(np.array(values), out) is None
    return out


LARGE = np.full(2, 1e9)


def test_a_negative_difference_has_its_operands_changed_where_nobody_else_needs_it(
    x: Expressions,
) -> None:
    z, w = SAMPLES, SAMPLES**2 - 4
    first, second = x.input(0, z), x.input(1, w)
    difference = x.add(first, -second)
    product = x.multiply(difference, first)
    for outputs, lines, values in (
        ([-difference], ["y0 = x1 − x0"], [w - z]),
        ([difference], ["y0 = x0 − x1"], [z - w]),
        ([difference, -difference], ["y0 = x0 − x1", "y1 = 0+0j − y0"], [z - w, w - z]),
        ([product, -difference], None, [(z - w) * z, w - z]),
    ):
        tape = record(x, LARGE, outputs, [], ())
        assert lines in (None, str(tape).splitlines())
        np.testing.assert_allclose(played(tape, z, w), values, rtol=1e-15)


def test_registers_are_used_again(x: Expressions) -> None:
    # Never more than two values are still needed: a and b, then d and one of those made of it.
    z, w = SAMPLES, SAMPLES**2 - 4
    first, second = x.input(0, z), x.input(1, w)
    c = x.multiply(x.add(first, second), x.multiply(first, second))
    d = x.multiply(c, c)
    tape = record(x, LARGE, [x.multiply(x.add(d, first), x.multiply(d, second))], [], ())
    assert tape.n_registers == 2
    d_expected = ((z + w) * z * w) ** 2
    np.testing.assert_allclose(played(tape, z, w)[0], (d_expected + z) * d_expected * w, rtol=1e-13)


# Careful ------------------------------------------------------------------------------------


def test_one_singular_matrix_does_not_take_the_stack_with_it() -> None:
    """`np.linalg.solve` raises for a whole stack."""
    netlist = Netlist(
        (Source("E", ("a", "0"), 10 + 0j, 1 + 0j), Impedance("z", ("a", "0"), 4 + 0j)), "0"
    )
    system = system_of(netlist, ["E", "z"], [], [Voltage("a", "0")])
    values = np.array([[1, 0, 2, 1], [4, 0, 3, -1]], dtype=complex)
    unknowns, failed = solve_carefully(system, values)
    assert set(failed) == {1, 3}
    np.testing.assert_allclose(unknowns[0, [0, 2]], [8, 6], rtol=1e-15)  # derived: divider


def test_what_is_nearly_singular_is_solved_by_itself_and_what_has_no_solution_is_no_number() -> (
    None
):
    netlist = Netlist(
        (Source("E", ("a", "0"), 10 + 0j, 1 + 0j), Impedance("z", ("a", "0"), 4 + 0j)), "0"
    )
    system = system_of(netlist, ["E", "z"], ["E"], [Voltage("a", "0")])
    near = -1 + 2.0**-30
    values = np.array([[1, 1, 1, np.nan], [4, near, -1, 4], [10, 10, 10, 10]], dtype=complex)
    unknowns, failed = solve_carefully(system, values)
    assert set(failed) == {2, 3}
    assert failed[3] == "expected a number for 'E', got nan+0j"
    assert np.isnan(unknowns[:, [2, 3]]).all()
    # derived: divider, 10 V·z/(1 + z) = −10·(2³⁰ − 1) V; the condition 2³⁰ may cost nine digits
    assert unknowns[0, 1] == pytest.approx(-10 * (2**30 - 1), rel=1e-6)
    assert list(system.branches.values()) == ["E", "z"]
    assert unknowns[1:, 1] == pytest.approx([-10 * 2**30, 10 * 2**30], rel=1e-6)


# Stack --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wanted", "unknowns", "given"),
    [([], 1, [0, 0, 5]), ([Current("z3")], 2, [0, 0, 5]), ([Current("E2")], 3, [0, 0])],
)
def test_only_what_a_person_would_solve_for_is_left(
    wanted: list[Current], unknowns: int, given: list[float]
) -> None:
    # derived: a, a2 and c are given by the sources one after the other, found in no handy order,
    # so one node is left; a wanted current of z3 is an unknown more, and so is that of E2, without
    # which c is given by nothing
    netlist = Netlist(
        (
            Source("E2", ("c", "a2"), 5 + 0j),
            Impedance("link", ("a", "a2"), 0j),
            Source("E1", ("a", "0"), 10 + 0j),
            Impedance("z1", ("a2", "b"), 4 + 1j),
            Impedance("z2", ("b", "0"), 3 + 0j),
            Impedance("z3", ("c", "b"), 2 - 1j),
        ),
        "0",
    )
    system = system_of(netlist, ["z1", "z2", "z3"], ["E1"], [Voltage("b", "0"), *wanted])
    rng = np.random.default_rng(5)
    values = np.repeat(system.nominal[:, None], 40, axis=1) * rng.uniform(0.9, 1.1, (4, 40))
    stack = stack_of(system, values)
    assert len(stack.probe) == unknowns
    # what is known is linear in (1, E1): each follows E1 whole, c lies 5 V above
    np.testing.assert_allclose(stack.known, [[constant, 1] for constant in given], atol=1e-15)
    z1, z2, z3, E = values
    V = (E / z1 + (E + 5) / z3) / (1 / z1 + 1 / z2 + 1 / z3)  # Millman
    I = (E + 5 - V) / z3
    found, doubtful = stack.solve(values)
    assert not doubtful.any()
    expected = [V, *({"z3": I, "E2": -I}[w.element] for w in wanted)]
    np.testing.assert_allclose(found, expected, rtol=1e-13)
    # a value far from the usual ones is doubted, and it alone
    values[1, 7] = values[2, 11] = 1e9
    _, doubtful = stack.solve(values)
    assert np.flatnonzero(doubtful).tolist() == [7, 11]

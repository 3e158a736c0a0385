"""Random topologies, many cases: against 40-digit arithmetic, and cases made to break programs.

The reference is the tableau of `test_random_networks`, which shares nothing with the code here.
"""

from __future__ import annotations

import cmath
import random
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from simulator.errors import NetworkError
from simulator.network.elements import AdmittanceBlock, Impedance, Source
from simulator.network.many import Current, Voltage, compile_network, program
from simulator.network.many.careful import solve_carefully
from simulator.network.many.stack import stack_of
from simulator.network.many.tape import Player
from simulator.network.nodal import solve
from tests.network.test_random_networks import many_decades, netlists, solve_in_40_digits

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from simulator.network.many import Program
    from simulator.network.netlist import Netlist

    Draw = Callable[[random.Random], complex]

CONDITION = 1e3
ERROR = 1e-12


@dataclass
class Problem:
    netlist: Netlist
    varied: list[str]
    sources: list[str]
    program: Program
    nominal: np.ndarray
    rng: np.random.Generator

    def values(self, cases: int, spread: float) -> np.ndarray:
        """Values up to exp(±spread) times those of the netlist, and turned a little."""
        shape = len(self.nominal), cases
        exponents = self.rng.uniform(-spread, spread, shape)
        return self.nominal[:, None] * np.exp(exponents + 0.3j * self.rng.uniform(-1, 1, shape))


def few_decades(rng: random.Random) -> complex:
    return cmath.rect(10 ** rng.uniform(-1, 1.5), rng.uniform(-1.5, 1.5))


def problems(seed: int, count: int, draw: Draw, spread: float | None = None) -> Iterator[Problem]:
    """Compile random networks in which some elements vary, with samples of a given spread."""
    choice = random.Random(seed)  # noqa: S311
    for number, netlist in enumerate(netlists(seed, 10**6, draw)):
        try:
            condition = solve(netlist).condition
        except NetworkError:
            continue
        impedances = [e for e in netlist.elements if isinstance(e, Impedance) and not e.is_open]
        sources = [e for e in netlist.elements if isinstance(e, Source)]
        if condition > CONDITION or not impedances or not sources:
            continue
        varied = choice.sample(impedances, choice.randint(1, len(impedances)))
        driven = choice.sample(sources, choice.randint(0, len(sources)))
        nodes = [node for node in netlist.nodes if node != netlist.reference]
        wanted = [Voltage(node, netlist.reference) for node in nodes]
        wanted += [Current(e.name) for e in impedances + sources]
        nominal = np.array([e.impedance for e in varied] + [e.emf for e in driven])
        names = [e.name for e in varied], [e.name for e in driven]
        found = Problem(netlist, *names, None, nominal, np.random.default_rng(number))
        found.program = compile_network(
            netlist,
            varied=names[0],
            sources=names[1],
            wanted=wanted,
            samples=None if spread is None else found.values(24, spread),
        )
        yield found
        count -= 1
        if not count:
            return


def errors(problem: Problem, case: Netlist, phasors: np.ndarray) -> tuple[float, float]:
    """Errors against 40 digits: over the largest of the kind, and of readings over |V||I|.

    Of the voltages' kind are the emfs too, of the currents' kind the terms Y·V of a block. A
    reading counts where its V and I are no less than a hundredth of the largest.
    """
    exact = solve_in_40_digits(case)
    nodes = [node for node in case.nodes if node != case.reference]
    V = np.array([exact["V", node, 0] for node in nodes])
    names = [
        e for e in case.elements if isinstance(e, Impedance) and not nominally_open(problem, e)
    ]
    names += [e for e in case.elements if isinstance(e, Source)]
    I = np.array([exact["I", e.name, 0] for e in names])
    largest_V = max(np.abs(V).max(), *(abs(e.emf) for e in names if isinstance(e, Source)))
    terms = [
        (np.abs(e.admittance) @ [abs(exact["V", node, 0]) for node in e.terminals]).max()
        for e in case.elements
        if isinstance(e, AdmittanceBlock)
    ]
    largest_I = max([np.abs(I).max(), *terms]) or 1.0
    V_found, I_found = phasors[: len(V)], phasors[len(V) :]
    kind = max(np.abs(V_found - V).max() / largest_V, np.abs(I_found - I).max() / largest_I)
    V_read, I_read = (np.abs(x) > 1e-3 * most for x, most in ((V, largest_V), (I, largest_I)))
    watts = np.outer(V, I.conj()).real[np.ix_(V_read, I_read)]
    found = np.outer(V_found, I_found.conj()).real[np.ix_(V_read, I_read)]
    size = np.abs(np.outer(V, I))[np.ix_(V_read, I_read)]
    return float(kind), float((np.abs(found - watts) / size).max(initial=0))


def nominally_open(problem: Problem, element: Impedance) -> bool:
    return next(e for e in problem.netlist.elements if e.name == element.name).is_open


def compare(problem: Problem, values: np.ndarray) -> Iterator[tuple[float, float]]:
    """Run cases and give the errors of those that are well conditioned."""
    found = problem.program.run(values)
    for k, phasors in enumerate(found.values.T):
        case = problem.program.system.with_values(values[:, k])
        said, condition = "", 0.0
        try:
            condition = solve(case).condition
        except NetworkError as error:
            said = str(error)
        assert found.failed.get(k, "") == said
        if not said and condition <= CONDITION:
            yield errors(problem, case, phasors)


@pytest.mark.parametrize(
    ("seed", "draw", "spread", "samples"),
    [
        (1, few_decades, 0.2, None),  # tolerances
        (2, few_decades, 3.0, None),  # far beyond the samples
        (3, few_decades, 3.0, 3.0),  # a sweep over decades, announced
        (4, many_decades, 0.5, None),
    ],
    ids=["tolerances", "far", "decades", "extremes"],
)
def test_readings_to_twelve_digits(
    seed: int, draw: Draw, spread: float, samples: float | None
) -> None:
    compared, compiled = 0, 0
    for problem in problems(seed, 15, draw, samples):
        compiled += problem.program.tape is not None
        for kind, reading in compare(problem, problem.values(3, spread)):
            assert kind < ERROR, problem
            assert reading < ERROR, problem
            compared += 1
    assert compared > 30
    assert compiled > 11  # or else LAPACK was tested, not the elimination


def test_few_cases_to_twelve_digits_however_far(monkeypatch: pytest.MonkeyPatch) -> None:
    """The equations for LAPACK are scaled for usual values; far ones must be solved by themselves.

    Only two phasors are wanted, so that most branches enter as admittances.
    """
    monkeypatch.setattr(program, "compile_tape", lambda *_: None)
    compared = 0
    for problem in problems(8, 40, few_decades):
        system = problem.program.system
        few = [0, len(system.wanted) - 1]
        system = replace(
            system, wanted=system.wanted[few], is_voltage=np.array(system.is_voltage)[few]
        )
        stack = stack_of(system, problem.nominal[:, None])
        own = replace(problem.program, system=system, stack=stack, usual=np.zeros((2, 1)))
        values = np.hstack([*extremes(problem)])[:, ::3]
        values = np.ascontiguousarray(values[:, np.isfinite(values).all(axis=0)])
        found = own.run(values)
        for k, phasors in enumerate(found.values.T):
            if k in found.failed:
                continue
            solution = solve(system.with_values(values[:, k]))
            if solution.condition > CONDITION:
                continue
            unknowns = [solution.potentials[node] for node in system.nodes]
            unknowns += [solution.current(name) for name in system.branches.values()]
            column = np.array(unknowns)[:, None]
            if not np.any(np.abs(column[len(system.nodes) :]) > 1e-12):  # where no current flows
                continue
            error = np.abs(phasors[:, None] - system.wanted @ column) / system.scales(column)
            assert error.max() < ERROR, (problem, values[:, k])
            compared += 1
    assert compared > 500


# Cases made to break programs -----------------------------------------------------------------


def roots(problem: Problem) -> Iterator[np.ndarray]:
    """Find values with which a pivot vanishes though the circuit is sound: resonances inside it.

    The reciprocals of the pivots are what a tape watches; each pivot is a quotient of two
    expressions linear in any one impedance, so that the secant method finds its root.
    """
    tape = problem.program.tape
    player = Player(tape)
    start = problem.values(4, 0.2)
    outputs = np.empty((tape.n_outputs, 4), dtype=complex)

    def pivots(values: np.ndarray) -> np.ndarray:
        player.play(values, outputs)
        with np.errstate(all="ignore"):
            return 1 / player.guarded[:, : values.shape[1]]

    for j in range(len(problem.varied)):
        for k in range(len(tape.bounds)):
            values, before = start.copy(), start.copy()
            values[j] *= 1.3
            for _ in range(12):
                with np.errstate(all="ignore"):
                    p, q = pivots(values)[k], pivots(before)[k]
                    step = p * (values[j] - before[j]) / (p - q)
                before = values.copy()
                values[j] -= np.where(np.isfinite(step), step, 0)
            yield from (root_near(values, j, d) for d in (0, 1e-14, 1e-11, 1e-8, 1e-5, 1e-3, 0.1))


def root_near(values: np.ndarray, j: int, distance: float) -> np.ndarray:
    near = values.copy()
    near[j] *= 1 + distance * np.exp(2j)
    return near


def extremes(problem: Problem) -> Iterator[np.ndarray]:
    """Let each value become very small and very large, pass through zero, and open."""
    start = problem.values(2, 0.2)
    for j in range(len(problem.varied)):
        for factor in (0, 1e-12, 1e-8, 1e-5, 1e-3, 1e-2, -1e-6, 1e2, 1e3, 1e5, 1e8, 1e12):
            values = start.copy()
            values[j] *= factor
            yield values


@dataclass
class Tally:
    """What cases made to break programs came to."""

    cases: int = 0
    spoiled: int = 0
    missed: int = 0


def bare(problem: Problem, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Give what the elimination alone finds, and which cases it doubts."""
    tape = problem.program.tape
    player = Player(tape)
    found = np.empty((tape.n_outputs, values.shape[1]), dtype=complex)
    doubted = np.zeros(values.shape[1], dtype=bool)
    for first in range(0, values.shape[1], tape.chunk):
        part = slice(first, first + tape.chunk)
        mask = player.play(values[:, part], found[:, part])
        doubted[part] = False if mask is None else mask
    return found, doubted


def tally(seed: int, count: int, draw: Draw, samples: float) -> Tally:
    """Count the cases that the bare elimination spoils, and those of them it does not doubt."""
    result = Tally()
    for problem in problems(seed, count, draw, samples):
        if problem.program.tape is None:
            continue
        values = np.hstack([*extremes(problem), *roots(problem)])
        values = np.ascontiguousarray(values[:, np.isfinite(values).all(axis=0)])
        found, doubted = bare(problem, values)
        result.cases += values.shape[1]
        # to save time, only what a stack of matrices finds different is looked at
        system = problem.program.system
        unknowns, failed = solve_carefully(system, values)
        same = np.abs(found - system.wanted @ unknowns) < 0.1 * ERROR * system.scales(unknowns)
        for k in np.flatnonzero(~same.all(axis=0)).tolist():
            if k not in failed and is_spoiled(problem, values[:, k], found[:, [k]]):
                result.spoiled += 1
                result.missed += not doubted[k]
    return result


def is_spoiled(problem: Problem, values: np.ndarray, found: np.ndarray) -> bool:
    system = problem.program.system
    try:
        solution = solve(system.with_values(values))
    except NetworkError:
        return False
    if solution.condition > CONDITION:
        return False
    unknowns = [solution.potentials[node] for node in system.nodes]
    unknowns += [solution.current(name) for name in system.branches.values()]
    column = np.array(unknowns)[:, None]
    return not np.all(np.abs(found - system.wanted @ column) < ERROR * system.scales(column))


@pytest.mark.parametrize("samples", [0.2, 2.0], ids=["tolerances", "decades"])
def test_what_spoils_the_elimination_is_doubted(samples: float) -> None:
    """Reference: `nodal.solve`, itself tested against 40 digits."""
    found = tally(7, 40, few_decades, samples)
    assert found.cases > 5_000
    assert found.spoiled > 100
    assert found.missed == 0


@pytest.mark.heavy
@pytest.mark.parametrize("samples", [0.2, 3.0])
@pytest.mark.parametrize("draw", [few_decades, many_decades])
def test_what_spoils_the_elimination_is_doubted_at_length(draw: Draw, samples: float) -> None:
    found = tally(100, 200, draw, samples)
    assert found.spoiled > 100
    assert found.missed <= found.spoiled / 200  # none in 1150 when this was written


@pytest.mark.heavy
@pytest.mark.parametrize("seed", range(20, 30))
def test_many_random_problems(seed: int) -> None:
    for problem in problems(seed, 60, few_decades):
        for kind, reading in compare(problem, problem.values(3, 0.3)):
            assert kind < ERROR, problem
            assert reading < ERROR, problem

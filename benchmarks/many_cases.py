"""How many cases of one circuit go by while a hand-written loop does one.

Three ways in one warmed process and in turn: a loop that stamps a dict of elements and calls
`np.linalg.solve` for each case, a stack of matrices for LAPACK, and a compiled network. The
circuits are real scenarios (`many_circuits`), and every element differs in every case, sources
included. What the three read is compared before they are timed. Each ratio is the median over
rounds: what slows one way for a while slows the others too.

A study draws a normal number for the real and one for the imaginary part of each value, and
keeps the sums of the readings and of their squares. The same by `blondel vary --statistics`
draws size and angle of each quantity of the scenario, and also finds the total, the true power,
the error, and the extremes and quantiles of all of them.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
from many_circuits import SCENARIOS, Stack, circuit_of, loop
from startup import read_over_import_numpy

import simulator
from simulator.network.many import Current, Program, Term, Voltage, compile_network
from simulator.studies.prepared import known_quantities, prepare_draws

if TYPE_CHECKING:
    from collections.abc import Callable

    from many_circuits import Circuit, Table

    from simulator.studies.prepared import Prepared

    Ways = dict[str, tuple[Callable[[], object], int]]

ROUNDS = 9
LOOP_CASES, STACK_CASES, CASES = 200, 2_000, 102_400
CHUNK, CHUNKS = 16_384, 6  # of a study
FEW = (10, 100, 300, 999)
SPREAD = 0.02  # standard deviation of each resistance, reactance and part of an emf
REPORTED = (12, 24, 40)  # sizes in the JSON object
MEANING = {
    "kernel_over_naive": "compiled network against the loop, times as fast",
    "kernel_over_stacked": "compiled network against the stack",
    "sweep_over_naive": "sweep of one impedance against the loop",
    "end_to_end_over_naive": "study in one process against a loop that draws, too",
    "two_processes_over_naive": "study in two processes against that loop",
    "vary_over_naive": "study by 'vary --statistics' against that loop",
    "end_to_end_over_random": "time of a study over that of its random numbers alone",
}


class Draw:
    """Draws chunks of normal values, each chunk from a seed of its own."""

    def __init__(self, nominal: np.ndarray, cases: int) -> None:
        self.values = np.empty((len(nominal), cases), dtype=complex)
        self.rows = list(self.values.view(float))
        self.centers = nominal.tolist()
        self.spreads = SPREAD * np.tile(nominal.view(float).reshape(-1, 2), (1, 128))

    def numbers(self, chunk: int) -> None:
        """Draw the random numbers alone."""
        seed = np.random.SeedSequence(1, spawn_key=(chunk,))
        rng = np.random.Generator(np.random.SFC64(seed))
        for row in self.rows:
            rng.standard_normal(out=row)

    def __call__(self, chunk: int) -> np.ndarray:
        seed = np.random.SeedSequence(1, spawn_key=(chunk,))
        rng = np.random.Generator(np.random.SFC64(seed))
        for row, center, spread in zip(self.rows, self.centers, self.spreads, strict=True):
            rng.standard_normal(out=row)
            parts, values = row.reshape(-1, len(spread)), row.view(complex)
            np.multiply(parts, spread, out=parts)
            np.add(values, center, out=values)
        return self.values


def study(program: Program, terms: list[list[Term]], chunks: range) -> np.ndarray:
    """Draw cases, read the wattmeters, keep sums."""
    draw = Draw(program.system.nominal, CHUNK)
    sums = np.zeros((2, len(terms)))
    for chunk in chunks:
        watts = program.products(draw(chunk), terms).values
        sums += watts.sum(axis=1), np.einsum("ij,ij->i", watts, watts)
    return sums


def study_by_loop(circuit: Circuit, names: tuple[str, ...], nominal: np.ndarray) -> np.ndarray:
    """Do the same case by case."""
    rng = np.random.default_rng(1)
    sums = np.zeros((2, len(circuit.readings)))
    for _ in range(LOOP_CASES):
        parts = rng.standard_normal(2 * len(nominal)).view(complex)
        values = nominal + SPREAD * (nominal.real * parts.real + 1j * nominal.imag * parts.imag)
        watts = loop(circuit, names, values[:, None])[:, 0]
        sums += watts, watts * watts
    return sums


def compiled(circuit: Circuit, varied: list[str], sources: list[str], cases: int) -> Program:
    """Compile a circuit for what its wattmeters sense."""
    wanted: list[Voltage | Current] = []
    for meter in circuit.station.arrangement.wattmeters:
        place = circuit.station.wired.wired[meter.name]
        wanted += [Voltage(*place.ends), Current(place.current_circuits[0])]
    netlist = circuit.station.wired.netlist
    return compile_network(netlist, varied=varied, sources=sources, wanted=wanted, cases=cases)


def study_of_all(table: Table) -> Prepared:
    """Prepare a study in which every element of a scenario is drawn by itself.

    A voltage circuit stays a resistance, for its angle is one of the reading rule too.
    """
    scenario = simulator.scenario_from(table)
    texts = [
        f"{path} normal 2 %" + (", 1 deg" if "voltage_circuit" not in path else "")
        for path, quantity in known_quantities(scenario).items()
        if quantity.kind.is_complex and quantity.base and np.isfinite(quantity.base)
        if not path.endswith((": each", ": line_impedance", ": lead_impedance"))
    ]
    return prepare_draws(scenario, texts, cases=CASES)


def agrees_with_stack(prepared: Prepared, circuit: Circuit, stack: Stack, nominal) -> None:
    """Compare a study's cases with the stack, whose values are those of the network's elements."""
    columns = [values[:STACK_CASES] for values in prepared.cases.columns(0, CHUNK)]
    numbers, _ = prepared.model.dependence.entries(columns)
    values = np.repeat(nominal[:, None], STACK_CASES, axis=1)
    for name, row in zip(prepared.model.dependence.names, numbers, strict=True):
        if name in stack.number:
            values[stack.number[name]] = row
    meters = circuit.station.arrangement.wattmeters
    truth = stack.read(values) * np.array([[meter.ratio] for meter in meters])
    agree(truth, prepared.model.evaluate(columns)[0][: len(meters)])


def ways_of(circuit: Circuit, table: Table, pool: ProcessPoolExecutor) -> Ways:
    """Give all that is timed, with the number of its cases."""
    program = compiled(circuit, circuit.varied, circuit.sources, CASES)
    names, nominal = program.system.names, program.system.nominal
    terms = [[Term(2 * k, 2 * k + 1, r[-1])] for k, r in enumerate(circuit.readings)]
    values, stack = Draw(nominal, CASES)(0), Stack(circuit, names)

    load = next(k for k, name in enumerate(names) if name.startswith("load"))
    swept = np.repeat(nominal[:, None], CASES, axis=1)
    swept[load] *= np.linspace(0.5, 2, CASES)
    sweep, one = compiled(circuit, [names[load]], [], CASES), swept[[load]]

    own = np.array([[reading.at_instrument] for reading in circuit.station.readings])
    agree(own, loop(circuit, names, nominal[:, None]))
    truth = stack.read(values[:, :STACK_CASES])
    agree(truth[:, :LOOP_CASES], loop(circuit, names, values[:, :LOOP_CASES]))
    agree(truth, program.products(values, terms).values[:, :STACK_CASES])
    agree(stack.read(swept[:, ::64]), sweep.products(one, terms).values[:, ::64])

    prepared = study_of_all(table)
    agrees_with_stack(prepared, circuit, stack, nominal)
    draw, halves = Draw(nominal, CHUNK), (range(CHUNKS), range(CHUNKS, 2 * CHUNKS))
    few = compiled(circuit, circuit.varied, circuit.sources, FEW[-1])
    ways: Ways = {
        "loop": (lambda: loop(circuit, names, values[:, :LOOP_CASES]), LOOP_CASES),
        "stack": (lambda: stack.read(values[:, :STACK_CASES]), STACK_CASES),
        "kernel": (lambda: program.products(values, terms), CASES),
        "sweep by loop": (lambda: loop(circuit, names, swept[:, :LOOP_CASES]), LOOP_CASES),
        "sweep": (lambda: sweep.products(one, terms), CASES),
        "study by loop": (lambda: study_by_loop(circuit, names, nominal), LOOP_CASES),
        "random": (lambda: [draw.numbers(k) for k in halves[0]], CHUNK * CHUNKS),
        "study": (lambda: study(program, terms, halves[0]), CHUNK * CHUNKS),
        "two": (
            lambda: list(pool.map(study, [program] * 2, [terms] * 2, halves)),
            2 * CHUNK * CHUNKS,
        ),
        "vary": (lambda: prepared.statistics(prepared.chunks(statistics=True)), CASES),
    }
    for cases in FEW:
        some, times = values[:, :cases].copy(), range(2_000 // cases)
        ways[f"few {cases}"] = (
            lambda some=some, times=times: [few.products(some, terms) for _ in times],
            cases * len(times),
        )
        ways[f"few {cases} by stack"] = (
            lambda some=some, times=times: [stack.read(some) for _ in times],
            cases * len(times),
        )
    return ways


def agree(truth: np.ndarray, found: np.ndarray) -> None:
    np.testing.assert_allclose(found, truth, rtol=1e-9)


def time_in_turn(ways: Ways) -> dict[str, list[float]]:
    """Time each way once in every round; seconds per case."""
    seconds: dict[str, list[float]] = {name: [] for name in ways}
    for counted in (False, *(True,) * ROUNDS):
        for name, (do, cases) in ways.items():
            start = time.perf_counter()
            do()
            if counted:
                seconds[name].append((time.perf_counter() - start) / cases)
    return seconds


def ratios_of(seconds: dict[str, list[float]]) -> dict[str, float]:
    def ratio(a: str, b: str) -> float:
        return statistics.median(x / y for x, y in zip(seconds[a], seconds[b], strict=True))

    return {
        "kernel_over_naive": ratio("loop", "kernel"),
        "kernel_over_stacked": ratio("stack", "kernel"),
        "sweep_over_naive": ratio("sweep by loop", "sweep"),
        "end_to_end_over_naive": ratio("study by loop", "study"),
        "two_processes_over_naive": ratio("study by loop", "two"),
        "vary_over_naive": ratio("study by loop", "vary"),
        "end_to_end_over_random": ratio("study", "random"),
    } | {f"few_{cases}": ratio(f"few {cases}", f"few {cases} by stack") for cases in FEW}


def print_table(found: dict[int, dict[str, float]], nanoseconds: dict[int, list[float]]) -> None:
    def line(name: str, numbers: list[float], digits: int) -> None:
        print(f"{name:55}", *(f"{number:9.{digits}f}" for number in numbers))

    line("unknowns of the matrix the loop solves", list(found), 0)
    for key, meaning in MEANING.items():
        line(meaning, [row[key] for row in found.values()], 2 if "random" in key else 0)
    for cases in FEW:
        name = f"time of {cases} cases, not compiled, over that of the stack"
        line(name, [row[f"few_{cases}"] for row in found.values()], 2)
    for k, name in enumerate(("loop", "stack", "kernel", "study")):
        line(f"least time of a case, {name} [ns]", [row[k] for row in nanoseconds.values()], 0)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    as_json = parser.parse_args().json
    found, nanoseconds = {}, {}
    with ProcessPoolExecutor(2) as pool:
        for scenario in SCENARIOS:
            circuit = circuit_of(scenario)
            seconds = time_in_turn(ways_of(circuit, scenario, pool))
            found[circuit.size] = ratios_of(seconds)
            ways = ("loop", "stack", "kernel", "study")
            nanoseconds[circuit.size] = [1e9 * min(seconds[way]) for way in ways]
    if not as_json:
        print_table(found, nanoseconds)
        return
    result: dict[str, object] = {
        key: {str(size): found[size][key] for size in REPORTED} for key in MEANING
    }
    print(json.dumps(result | {"read_over_import_numpy": read_over_import_numpy()}))


if __name__ == "__main__":
    # Alone, one of these two misleads the library behind matrix products; and small matrices
    # gain nothing from threads.
    environment = {
        k: v for k, v in os.environ.items() if k not in ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE")
    }
    environment["OPENBLAS_NUM_THREADS"] = "1"
    if environment != dict(os.environ):
        os.execve(sys.executable, [sys.executable, *sys.argv], environment)  # noqa: S606
    main()

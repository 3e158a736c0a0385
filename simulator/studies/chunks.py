"""Cases cut into chunks and computed by whoever is there, the results in their order."""

from __future__ import annotations

import signal
from concurrent.futures import FIRST_COMPLETED, wait
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.studies.draws import BLOCK
from simulator.studies.statistics import Summary, summarise

if TYPE_CHECKING:
    from collections.abc import Iterator
    from concurrent.futures import Executor, Future

    import numpy.typing as npt

    from simulator.studies.draws import Draws
    from simulator.studies.keep import Keep
    from simulator.studies.model import Model
    from simulator.studies.statistics import Pilot
    from simulator.studies.sweep import Sweep

    Float = npt.NDArray[np.float64]

CHUNK = (131072 // BLOCK) * BLOCK
"""Cases in a chunk: what is in flight at once, and what is kept as one file."""
IN_FLIGHT = 32
"""Chunks handed to an executor, or finished and not yet taken from here."""
MESSAGES = 20
"""Failed cases of a chunk whose messages are kept where only statistics are."""


@dataclass(frozen=True, eq=False)
class Chunk:
    """A run of computed cases.

    Attributes
    ----------
    start : int
        The first case.
    count : int
        Number of cases.
    outputs : ndarray of float, shape (n_outputs, count), or None
        What was computed; None where only statistics are kept.
    summary : Summary or None
        Its share in the statistics, where they are asked for.
    n_failed : int
        Number of cases that are impossible or without a unique solution.
    failed : dict of int to str
        By case, what is wrong with those.
    """

    start: int
    count: int
    outputs: Float | None
    summary: Summary | None
    n_failed: int
    failed: dict[int, str]


def ignore_interrupts() -> None:
    """Leave it to the first process to stop when Ctrl-C is pressed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def n_chunks(count: int) -> int:
    """Give the number of chunks.

    Parameters
    ----------
    count : int
        Number of cases.

    Returns
    -------
    int
        The number.
    """
    return -(-count // CHUNK)


def compute(model: Model, cases: Sweep | Draws, index: int, pilot: Pilot | None) -> Chunk:
    """Compute a chunk.

    Parameters
    ----------
    model : Model
        What is computed.
    cases : Sweep or Draws
        All cases.
    index : int
        Which chunk.
    pilot : Pilot or None
        Where the values lie, to keep only their statistics.

    Returns
    -------
    Chunk
        The chunk; the same bits in every process.
    """
    first = index * CHUNK
    last = min(first + CHUNK, cases.count)
    outputs = np.empty((len(model.outputs), last - first))
    failed: dict[int, str] = {}
    for start in range(first, last, BLOCK):
        count = min(BLOCK, last - start)
        part = slice(start - first, start - first + count)
        outputs[:, part], wrong = model.evaluate(cases.columns(start, count))
        failed |= {start + k: message for k, message in wrong.items()}
    if pilot is None:
        return Chunk(first, last - first, outputs, None, len(failed), failed)
    some = {case: failed[case] for case in sorted(failed)[:MESSAGES]}
    return Chunk(first, last - first, None, summarise(outputs, pilot), len(failed), some)


def run(
    model: Model,
    cases: Sweep | Draws,
    *,
    executor: Executor | None = None,
    keep: Keep | None = None,
    pilot: Pilot | None = None,
) -> Iterator[Chunk]:
    """Compute all cases.

    Parameters
    ----------
    model : Model
        What is computed.
    cases : Sweep or Draws
        The cases.
    executor : Executor, optional
        Who computes the chunks; this process, one after the other, if not given.
    keep : Keep, optional
        Where finished chunks are kept, and found again.
    pilot : Pilot, optional
        Where the values lie, to keep only their statistics.

    Yields
    ------
    Chunk
        The chunks in their order.
    """
    every = range(n_chunks(cases.count))
    if executor is None:
        for index in every:
            yield _kept(keep, index) or _keep(keep, index, compute(model, cases, index, pilot))
        return
    running: dict[Future[Chunk], int] = {}
    ready: dict[int, Chunk] = {}
    begun = 0
    try:
        for index in every:
            while begun < min(index + IN_FLIGHT, len(every)):
                if found := _kept(keep, begun):
                    ready[begun] = found
                else:
                    running[executor.submit(compute, model, cases, begun, pilot)] = begun
                begun += 1
            while index not in ready or any(future.done() for future in running):
                for future in wait(running, return_when=FIRST_COMPLETED).done:
                    # kept as soon as it is finished, whichever is to come next
                    done = running.pop(future)
                    ready[done] = _keep(keep, done, future.result())
            yield ready.pop(index)
    finally:
        for future in running:
            future.cancel()


def _kept(keep: Keep | None, index: int) -> Chunk | None:
    return None if keep is None else keep.load(index)


def _keep(keep: Keep | None, index: int, chunk: Chunk) -> Chunk:
    if keep is not None:
        keep.save(index, chunk)
    return chunk

"""How far a long study is: a bar with rate and time left, where somebody watches."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from simulator.studies.chunks import Chunk

PATIENCE = 1.0
"""No bar for what takes less [s]."""


def with_bar(chunks: Iterable[Chunk], count: int) -> Iterator[Chunk]:
    """Show on the standard error stream how far a study is, if that is a terminal.

    Parameters
    ----------
    chunks : iterable of Chunk
        The chunks as they are finished.
    count : int
        Number of cases of all chunks.

    Yields
    ------
    Chunk
        The chunks.
    """
    if sys.stderr is None or not sys.stderr.isatty():
        yield from chunks
        return
    from tqdm import tqdm  # noqa: PLC0415

    with tqdm(
        total=count, unit=" cases", unit_scale=True, delay=PATIENCE, leave=False, file=sys.stderr
    ) as bar:
        for chunk in chunks:
            yield chunk
            bar.update(chunk.count)

"""Files: written whole or not at all, and never over another unasked; lines of a CSV file."""

from __future__ import annotations

import csv
import io
import os
from typing import TYPE_CHECKING

from simulator.errors import ScenarioError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

LARGEST_CSV = 100_000  # bytes
LONGEST_CSV_LINE = 200  # characters, and so a message can show a line


def write_whole(path: Path, content: str | bytes, *, overwrite: bool) -> None:
    """Write a file.

    Parameters
    ----------
    path : Path
        The file.
    content : str or bytes
        Its content; a text is written in UTF-8.
    overwrite : bool
        Whether a file that exists may be replaced.

    Raises
    ------
    ScenarioError
        If the file exists, or cannot be written.
    """
    if path.exists() and not overwrite:
        raise ScenarioError("the file exists; --overwrite replaces it", str(path))
    part = path.parent / f".{path.name}.{os.getpid()}.part"
    try:
        part.write_bytes(content.encode() if isinstance(content, str) else content)
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise ScenarioError(f"cannot write it: {error.strerror}", str(path)) from error


def csv_lines(
    data: bytes, header: Sequence[str], needed: int, hint: str
) -> Iterator[tuple[int, list[str]]]:
    """Read the lines of a small CSV file with a header.

    Parameters
    ----------
    data : bytes
        Its content, UTF-8.
    header : sequence of str
        The names of its columns.
    needed : int
        How many of them must be there.
    hint : str
        What a line with too many values is told.

    Yields
    ------
    line : int
        The number of a line that is neither the header nor empty.
    cells : list of str
        What stands in it, as many as there are names; empty where a column is left out.

    Raises
    ------
    ScenarioError
        If it is no such file; it names the line.
    """
    if len(data) > LARGEST_CSV:
        raise ScenarioError(f"expected a file of at most {LARGEST_CSV // 1000} kB")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ScenarioError("expected a text file in UTF-8") from error
    rows = csv.reader(io.StringIO(text, newline=""), strict=True)
    width = 0
    try:
        for row in rows:
            cells = [cell.strip() for cell in row]
            place = f"line {rows.line_num}"
            if not any(cells):
                continue
            if (length := len(",".join(cells))) > LONGEST_CSV_LINE:
                raise ScenarioError(
                    f"expected at most {LONGEST_CSV_LINE} characters, got {length}", place
                )
            if not width:
                width = len(cells)
                _check_header(cells, header, needed, place)
                continue
            if len(cells) != width:
                raise ScenarioError(
                    f"expected {','.join(header[:width])}, got {len(cells)} values: "
                    f"'{','.join(cells)}' {hint}",
                    place,
                )
            yield rows.line_num, [*cells, *[""] * (len(header) - width)]
    except csv.Error as error:
        raise ScenarioError(f"expected CSV: {error}", f"line {rows.line_num}") from error
    if not width:
        raise ScenarioError(f"expected the header {_headers(header, needed)}, got nothing")


def _check_header(cells: list[str], header: Sequence[str], needed: int, place: str) -> None:
    if len(cells) >= needed and [cell.lower() for cell in cells] == list(header[: len(cells)]):
        return
    got, other = ",".join(cells), len(cells) == 1 and any(mark in cells[0] for mark in ";\t")
    hint = " (commas between the values, decimals with a point)" if other else ""
    raise ScenarioError(f"expected the header {_headers(header, needed)}, got '{got}'{hint}", place)


def _headers(header: Sequence[str], needed: int) -> str:
    return " or ".join(",".join(header[:n]) for n in range(needed, len(header) + 1))

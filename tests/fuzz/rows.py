"""A second reader of CSV files, character by character (RFC 4180), and files to try it on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.fuzz.seeds import with_slips

if TYPE_CHECKING:
    from collections.abc import Sequence
    from random import Random

CHARACTERS = "0123456789.-+,;\"' \t\r\n\x00WVAkmvar%°eäÄ²³totalN"


def rows_of(data: bytes) -> list[list[str]] | None:
    """Read the rows that are not empty, cells without blanks around them; None if it is no CSV."""
    try:
        text = data.decode().removeprefix("\ufeff")
    except UnicodeDecodeError:
        return None
    rows: list[list[str]] = [[]]
    k = 0
    while k <= len(text):
        cell, k = _cell_from(text, k)
        if cell is None:
            return None
        rows[-1].append(cell.strip())
        if text[k : k + 1] in ("\r", "\n"):
            rows.append([])
        k += 1
    return [row for row in rows if any(row)]


def _cell_from(text: str, k: int) -> tuple[str | None, int]:
    """Read one cell, and tell where its comma or the end of its line stands."""
    if text[k : k + 1] != '"':
        end = next((j for j in range(k, len(text)) if text[j] in ",\r\n"), len(text))
        return text[k:end], end
    cell, k = "", k + 1
    while (end := text.find('"', k)) >= 0:
        cell, k = cell + text[k:end], end + 1
        if text[k : k + 1] != '"':
            return (cell if text[k : k + 1] in ("", ",", "\r", "\n") else None), k
        cell, k = cell + '"', k + 1
    return None, k


def table_of(data: bytes, header: tuple[str, ...], needed: int) -> list[list[str]] | None:
    """Read what stands below the header, filled up to its width; None if it is no such table."""
    rows = rows_of(data) if len(data) <= 100_000 else None
    if not rows:
        return None
    width = len(rows[0])
    if width < needed or tuple(cell.lower() for cell in rows[0]) != header[:width]:
        return None
    if any(len(row) != width or len(",".join(row)) > 200 for row in rows):
        return None
    return [[*row, *[""] * (len(header) - width)] for row in rows[1:]]


def written(rows: Sequence[Sequence[str]], random: Random) -> bytes:
    """Write rows as CSV in one of its forms, some of them with slips of the pen."""
    end = random.choice(("\n", "\n", "\r\n", "\r"))
    text = "".join(",".join(_written(cell, random) for cell in row) + end for row in rows)
    if random.random() < 0.4:
        text = with_slips(text, random, CHARACTERS)
    data = text.encode("utf-8-sig" if random.random() < 0.2 else "utf-8")
    if random.random() < 0.03:
        k = random.randrange(len(data) + 1)
        return data[:k] + random.randbytes(3) + data[k:]
    return random.randbytes(random.randrange(99)) if random.random() < 0.01 else data


def _written(text: str, random: Random) -> str:
    choice = random.random()
    if choice < 0.1:
        return '"' + text.replace('"', '""') + '"'
    return f" {text} " if choice < 0.2 else text

"""A document as Markdown, with its pictures as files beside it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from simulator.figures.words import printable
from simulator.reports.document import (
    Blanks,
    Heading,
    Items,
    Picture,
    Space,
    Table,
    Text,
    Together,
    Working,
    svg,
)

if TYPE_CHECKING:
    from simulator.reports.document import Block, Document


def markdown_of(document: Document, stem: str) -> tuple[str, dict[str, bytes]]:
    """Write a document as Markdown.

    Parameters
    ----------
    document : Document
        The document.
    stem : str
        The file's name without its ending; pictures are called after it.

    Returns
    -------
    text : str
        The Markdown.
    pictures : dict of str to bytes
        The SVG files it refers to, by name.
    """
    pictures: dict[str, bytes] = {}
    parts = [f"# {_text(document.title)}"]
    if document.subtitle:
        parts.append(_text(document.subtitle))
    parts += [_block(block, stem, pictures) for block in document.blocks]
    if document.foot:
        parts.append(_text(document.foot))
    return "\n\n".join(parts) + "\n", pictures


def _text(text: str) -> str:
    """Escape what Markdown would take for markup."""
    return re.sub(r"([\\`*_\[\]<>|#~&])", r"\\\1", printable(text))


def _line(text: str) -> str:
    """Escape a text that starts a line: it must not become a list or a heading."""
    return re.sub(r"^(\d+)([.)])|^([-+=])", r"\1\\\2\3", _text(text))


def _block(block: Block, stem: str, pictures: dict[str, bytes]) -> str:  # noqa: PLR0911  (one case for each kind)
    match block:
        case Heading(text):
            return f"## {_text(text)}"
        case Text(text, lead):
            return f"**{_text(lead)}** {_text(text)}" if lead else _line(text)
        case Items(texts, mark):
            signs = {"dot": "-", "box": "- [ ]", "plain": "-"}
            return "\n".join(
                f"{signs.get(mark, f'{n}.')} {_text(text)}" for n, text in enumerate(texts, 1)
            )
        case Working(lines):
            return "\n".join(f"    {printable(line)}" for line in lines)
        case Table():
            return _table(block)
        case Picture():
            name = f"{stem}-figure-{len(pictures) + 1}.svg"
            pictures[name] = svg(block.figure, block.says)
            return f"![{_text(block.says)}](<{name}>)"
        case Blanks(names):
            return "   ".join(f"{_text(name)}: \\_\\_\\_\\_\\_\\_\\_\\_\\_\\_" for name in names)
        case Space(lines):
            return "\n\n".join(["&nbsp;"] * (lines or 8))
        case Together(blocks):
            return "\n\n".join(_block(b, stem, pictures) for b in blocks)


def _table(table: Table) -> str:
    rows = [table.headings, *table.rows]
    rule = "|".join("---:" if letter == "r" else ":---" for letter in table.align)
    lines = ["| " + " | ".join(_text(cell) for cell in row) + " |" for row in rows]
    caption = f"{_line(table.caption)}\n\n" if table.caption else ""
    return caption + "\n".join([lines[0], f"|{rule}|", *lines[1:]])

"""A document as one self-contained HTML file that prints well on A4."""

from __future__ import annotations

import re
from base64 import b64encode
from html import escape
from importlib.resources import files
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

_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>
{style}
@page {{ @bottom-left {{ content: "{foot}"; }} }}
</style>
</head>
<body>
<header>
<h1>{title}</h1>
{subtitle}</header>
<main>
{body}
</main>
</body>
</html>
"""


def html_of(document: Document) -> str:
    """Write a document as HTML.

    Parameters
    ----------
    document : Document
        The document.

    Returns
    -------
    str
        A page that needs no other file: its style and pictures are inside.
    """
    subtitle = f"<p>{_text(document.subtitle)}</p>\n" if document.subtitle else ""
    return _PAGE.format(
        title=_text(document.title),
        style=files("simulator").joinpath("data", "print.css").read_text("utf-8"),
        foot=_css_string(document.foot or document.title),
        subtitle=subtitle,
        body="\n".join(_block(block) for block in document.blocks),
    )


def _text(text: str) -> str:
    """Escape a text, and keep units and angles with their numbers, indices with their letters."""
    for pattern, kept in _KEPT:
        text = pattern.sub(kept, text)
    return escape("".join(c if c.isprintable() or c == _SPACE else " " for c in text).strip())


LONG = 12
"""A table of more rows may go on over the page, under its headings again."""
_SPACE, _HYPHEN = "\u00a0", "\u2011"
_KEPT = (
    (re.compile(r"(?<=\d) (?=[kMm]?(?:Ω|(?:ohm|VA|var|[VAW])\b))| (?=∠)"), _SPACE),
    (re.compile(r"\b([VIZRWQ]) (?=[LN]\d?\b|[PS]\b)"), rf"\1{_SPACE}"),
    (re.compile(r"(?<=\bL\d)-(?=[LNP])"), _HYPHEN),
)


def _css_string(text: str) -> str:
    """Write a text for a style sheet: nothing in it may end the string, the line or the element."""
    return "".join(c if c.isalnum() or c in " ,.:-" else f"\\{ord(c):x} " for c in printable(text))


def _block(block: Block) -> str:  # noqa: C901, PLR0911  (one case for each kind)
    match block:
        case Heading(text):
            return f"<h2>{_text(text)}</h2>"
        case Text():
            return _paragraph(block)
        case Items(texts, mark):
            tag = "ol" if mark == "number" else "ul"
            points = "".join(f"<li>{_text(text)}</li>" for text in texts)
            return f'<{tag} class="{mark}">{points}</{tag}>'
        case Working(lines):
            return f'<div class="working">{"".join(f"<p>{_text(x)}</p>" for x in lines)}</div>'
        case Table():
            return _table(block)
        case Picture():
            return _picture(block)
        case Blanks(names):
            cells = "".join(f"<span>{_text(name)}</span>" for name in names)
            return f'<div class="blanks">{cells}</div>'
        case Space(0, height):
            return f'<div class="squared" style="height: {height:g}mm"></div>'
        case Space(lines):
            return f'<div class="ruled">{"<div></div>" * lines}</div>'
        case Together(blocks):
            return f"<section>\n{chr(10).join(_block(b) for b in blocks)}\n</section>"


def _paragraph(block: Text) -> str:
    lead = f"<b>{_text(block.lead)}</b> " if block.lead else ""
    kind = ' class="caution"' if block.caution else ""
    return f"<p{kind}>{lead}{_text(block.text)}</p>"


def _table(table: Table) -> str:
    kinds = ["number" if letter == "r" else "words" for letter in table.align]
    caption = f"<caption>{_text(table.caption)}</caption>" if table.caption else ""
    blank = [
        "" if any(row[k] for row in table.rows) else " blank" for k in range(len(table.headings))
    ]
    head = "".join(
        f'<th scope="col" class="{kind}{room}">{_text(heading)}</th>'
        for kind, room, heading in zip(kinds, blank, table.headings, strict=True)
    )
    rows = "\n".join(
        "<tr>"
        + "".join(
            f'<td class="{kind}">{_text(cell)}</td>' for kind, cell in zip(kinds, row, strict=True)
        )
        + "</tr>"
        for row in table.rows
    )
    kind = ' class="long"' if len(table.rows) > LONG else ""
    return (
        f"<table{kind}>{caption}<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}\n</tbody></table>"
    )


def _picture(picture: Picture) -> str:
    data = b64encode(svg(picture.figure, picture.says)).decode()
    kind = ' class="landscape"' if picture.landscape else ""
    source = f"data:image/svg+xml;base64,{data}"
    return f'<figure{kind}><img src="{source}" alt="{_text(picture.says)}"></figure>'

"""A sheet of paper as blocks, whatever it is written to: heading, text, table, picture, blanks."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from io import BytesIO
from typing import TYPE_CHECKING, Literal

from simulator.errors import ScenarioError
from simulator.files import write_whole

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Heading:
    """A heading inside the sheet.

    Attributes
    ----------
    text : str
        Its words.
    """

    text: str


@dataclass(frozen=True)
class Text:
    """A paragraph.

    Attributes
    ----------
    text : str
        Its words.
    lead : str
        Words in bold before them.
    caution : bool
        Whether it warns of a danger.
    """

    text: str
    lead: str = ""
    caution: bool = False


@dataclass(frozen=True)
class Items:
    """A list.

    Attributes
    ----------
    texts : tuple of str
        Its points.
    mark : {"dot", "number", "box", "plain"}
        What stands before each; a box is there to be ticked, plain is nothing.
    """

    texts: tuple[str, ...]
    mark: Literal["dot", "number", "box", "plain"] = "dot"


@dataclass(frozen=True)
class Working:
    """Lines of a calculation, one below the other as on a board.

    Attributes
    ----------
    lines : tuple of str
        The lines.
    """

    lines: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A table; an empty cell is a blank to fill in.

    Attributes
    ----------
    headings : tuple of str
        Heading of each column, its unit included.
    rows : tuple of tuple of str
        The cells.
    align : str
        A letter for each column: l or r.
    caption : str
        A line above it.
    """

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    align: str
    caption: str = ""


@dataclass(frozen=True)
class Picture:
    """A figure.

    Attributes
    ----------
    figure : Figure
        The figure.
    says : str
        What it shows, for those who cannot see it.
    landscape : bool
        Whether it gets a page of its own, turned.
    """

    figure: Figure
    says: str
    landscape: bool = False


@dataclass(frozen=True)
class Blanks:
    """Things to fill in on one line.

    Attributes
    ----------
    names : tuple of str
        What goes there.
    """

    names: tuple[str, ...]


@dataclass(frozen=True)
class Space:
    """Room to write or draw.

    Attributes
    ----------
    lines : int
        Number of ruled lines; 0 for squared paper.
    height : float
        Height of squared paper [mm].
    """

    lines: int = 0
    height: float = 90.0


@dataclass(frozen=True)
class Together:
    """Blocks that stay on one page where they fit on one.

    Attributes
    ----------
    blocks : tuple of Block
        The blocks.
    """

    blocks: tuple[Block, ...]


Block = Heading | Text | Items | Working | Table | Picture | Blanks | Space | Together
"""What a document is made of."""


@dataclass(frozen=True)
class Document:
    """A sheet.

    Attributes
    ----------
    title : str
        Its title.
    subtitle : str
        A line below the title.
    blocks : list of Block
        What stands on it.
    foot : str
        A line at the foot of every page.
    """

    title: str
    subtitle: str = ""
    blocks: list[Block] = field(default_factory=list)
    foot: str = ""


def svg(figure: Figure, title: str) -> bytes:
    """Write a figure as SVG that looks the same wherever it is opened.

    Parameters
    ----------
    figure : Figure
        The figure.
    title : str
        Its title.

    Returns
    -------
    bytes
        The SVG without white edges; its letters are outlines.
    """
    import matplotlib as mpl  # noqa: PLC0415

    from simulator.figures.style import settings  # noqa: PLC0415

    content = BytesIO()
    metadata = {"Title": title, "Creator": "Blondel", "Date": None}
    with settings(), mpl.rc_context({"svg.fonttype": "path"}):
        figure.savefig(content, format="svg", metadata=metadata)
        drawn = figure.get_tightbbox().padded(MARGIN)
    # Cropped here: matplotlib's own cropping leaves behind what is placed in inches.
    width, height = (72 * side for side in (drawn.width, drawn.height))
    left, top = 72 * drawn.x0, 72 * (figure.get_figheight() - drawn.y1)
    seen = (
        f'width="{width:g}pt" height="{height:g}pt" viewBox="{left:g} {top:g} {width:g} {height:g}"'
    )
    return _SIZE.sub(seen.encode(), content.getvalue(), count=1)


MARGIN = 0.05
"""White around a figure on a sheet [in]."""
_SIZE = re.compile(rb'width="[^"]*" height="[^"]*" viewBox="[^"]*"')


PAGE_WIDTH = 6.9
"""Width of a printed page without its margins [in]."""
SMALLEST_TEXT = 5.5
"""Below this size lettering is hard to read in print [pt]."""


def fitted(figure: Figure, says: str) -> Picture:
    """Place a wide figure on a page of its own where its lettering would become too small.

    Parameters
    ----------
    figure : Figure
        The figure.
    says : str
        What it shows.

    Returns
    -------
    Picture
        The figure across the page, or turned.
    """
    width, height = figure.get_size_inches()
    sizes = [t.get_fontsize() for axes in figure.axes for t in axes.texts if t.get_text()]
    smallest = min(sizes, default=SMALLEST_TEXT) * min(PAGE_WIDTH / width, 1)
    return Picture(figure, says, landscape=bool(width > height and smallest < SMALLEST_TEXT))


ENDINGS = (".html", ".md")
"""Endings of the files that a document is written to."""


def write_document(document: Document, path: Path, *, overwrite: bool = False) -> list[Path]:
    """Write a document to a file, in the format its ending names.

    Parameters
    ----------
    document : Document
        The document.
    path : Path
        The file, ending in .html (one self-contained file) or .md (its pictures beside it, as
        ``SHEET-figure-1.svg`` and so on).
    overwrite : bool, optional
        Whether files that exist may be replaced.

    Returns
    -------
    list of Path
        The files.

    Raises
    ------
    ScenarioError
        If the ending is another one, or a file exists or cannot be written. No file is written if
        one exists.
    """
    return write_documents({path: document}, overwrite=overwrite)


def write_documents(documents: Mapping[Path, Document], *, overwrite: bool = False) -> list[Path]:
    """Write several documents, or none of them if one may not be.

    Parameters
    ----------
    documents : mapping of Path to Document
        The documents by their files, as in `write_document`.
    overwrite : bool, optional
        Whether files that exist may be replaced.

    Returns
    -------
    list of Path
        The files.

    Raises
    ------
    ScenarioError
        If an ending is neither .html nor .md, or a file exists or cannot be written.
    """
    for path in documents:
        check_ending(path)
        _refuse_existing(path, overwrite=overwrite)
    files: dict[Path, str | bytes] = {}
    for path, document in documents.items():
        files |= _files(document, path)
    for path in files:
        _refuse_existing(path, overwrite=overwrite)
    for path, content in files.items():
        write_whole(path, content, overwrite=overwrite)
    return list(files)


def _files(document: Document, path: Path) -> dict[Path, str | bytes]:
    """Render a document into its files."""
    if path.suffix.lower() == ".html":
        from simulator.reports.html import html_of  # noqa: PLC0415

        return {path: html_of(document)}
    from simulator.reports.markdown import markdown_of  # noqa: PLC0415

    text, pictures = markdown_of(document, path.stem)
    return {path: text} | {path.with_name(name): svg for name, svg in pictures.items()}


def _refuse_existing(path: Path, *, overwrite: bool) -> None:
    if path.exists() and not overwrite:
        raise ScenarioError("the file exists; --overwrite replaces it", str(path))


def check_ending(path: Path) -> None:
    """Refuse a file that is neither HTML nor Markdown.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    ScenarioError
        If its ending is neither .html nor .md.
    """
    if path.suffix.lower() not in ENDINGS:
        raise ScenarioError("expected a file that ends in .html or .md", str(path))

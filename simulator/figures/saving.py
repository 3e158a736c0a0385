"""Figures to files: whole or not at all, the same bytes for the same figure."""

from __future__ import annotations

import os
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.errors import ScenarioError
from simulator.figures.style import settings
from simulator.figures.words import printable

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DPI = 150
"""Resolution of a png file [dots per inch]."""


def _metadata(title: str) -> dict[str, dict[str, Any]]:
    return {
        ".svg": {"Title": title, "Creator": "Blondel", "Date": None},
        ".png": {"Title": title, "Software": "Blondel"},
        ".pdf": {"Title": title, "Creator": "Blondel", "CreationDate": None},
    }


def save(figure: Figure, path: str | Path, title: str, *, overwrite: bool = False) -> None:
    """Write a figure to a file, in the format its ending names.

    Parameters
    ----------
    figure : Figure
        The figure.
    path : str or Path
        The file, ending in .svg, .png or .pdf.
    title : str
        The scenario's title, embedded in the file.
    overwrite : bool, optional
        Whether a file that exists may be replaced.

    Raises
    ------
    ScenarioError
        If the ending is another one, the file exists, or it cannot be written.
    """
    path = Path(path)
    metadata = _metadata(printable(title))
    ending = path.suffix.lower()
    if ending not in metadata:
        raise ScenarioError("expected a file that ends in .svg, .png or .pdf", str(path))
    if path.exists() and not overwrite:
        raise ScenarioError("the file exists; --overwrite replaces it", str(path))
    content = BytesIO()
    with settings():
        figure.savefig(content, format=ending[1:], dpi=DPI, metadata=metadata[ending])
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(content.getvalue())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise ScenarioError(f"cannot write it: {error.strerror}", str(path)) from error

"""Writing files: whole or not at all, and never over another without being asked."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from simulator.errors import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path


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

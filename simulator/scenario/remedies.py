"""What to do about a file that cannot be read as one."""

from __future__ import annotations

import difflib
import re
from contextlib import suppress
from typing import TYPE_CHECKING

from simulator.scenario.words import shown

if TYPE_CHECKING:
    from pathlib import Path

_CURLY = "“”„‟«»‘’‚"


def near_file(path: Path) -> str:
    """Suggest a file beside one that is not there.

    Parameters
    ----------
    path : Path
        What was given.

    Returns
    -------
    str
        The end of an error message; empty where no file has a similar name.
    """
    there: list[str] = []
    with suppress(OSError):
        there = [each.name for each in path.parent.iterdir() if each.is_file()]
    found = difflib.get_close_matches(path.name, there, n=1)
    return f"; did you mean {shown(found[0])}?" if found else ""


def not_utf8(error: UnicodeDecodeError) -> str:
    """Say that a file is in another encoding.

    Parameters
    ----------
    error : UnicodeDecodeError
        What was found.

    Returns
    -------
    str
        The message, with the line.
    """
    line = error.object[: error.start].count(b"\n") + 1
    return f"expected a text file in UTF-8, line {line} is not; save it as UTF-8 in the editor"


def toml_remedy(text: str, error: ValueError) -> str:
    """Say what the usual reason is why a line is no TOML.

    Parameters
    ----------
    text : str
        The file.
    error : ValueError
        What `tomllib` says, with the line.

    Returns
    -------
    str
        The end of an error message; empty where the reason is not a usual one.

    Examples
    --------
    >>> toml_remedy("L1 = 20 ohm", ValueError("Invalid (at line 1, column 8)"))
    '; texts and quantities stand in quotation marks, as in "20 ohm"'
    """
    at = re.search(r"\(at line (\d+)", str(error))
    lines = text.split("\n")
    line = lines[int(at[1]) - 1] if at and int(at[1]) <= len(lines) else ""
    value = line.partition("=")[2].partition("#")[0].strip()
    if any(mark in line for mark in _CURLY):
        return '; quotation marks must be straight, as in "400 V"'
    if line.count('"') % 2:
        return "; a quotation mark is missing"
    if re.fullmatch(r"\d+,\d+", value):
        return "; a decimal point, no comma"
    if re.fullmatch(r"[\w.,@+ -]*[^\W\d_][\w.,@+ -]*", value):
        return f'; texts and quantities stand in quotation marks, as in "{value[:40]}"'
    return "; this key stands there twice" if "overwrite" in str(error) else ""

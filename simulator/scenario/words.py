"""How messages say what was given, and what may have been meant."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection

_LONGEST = 62  # a name of 60 characters and its quotes


def shown(given: object) -> str:
    """Show what was given, in one short line whatever it contains.

    Parameters
    ----------
    given : object
        A value of a file.

    Returns
    -------
    str
        As Python writes it, so that no control character reaches a terminal.
    """
    try:
        text = repr(given)
    except (ValueError, RecursionError):  # thousands of digits, or of brackets
        return "something too long to show"
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"


def named(kind: str, table: object, number: int) -> str:
    """Say which of several tables is meant: ``load 'ovens'``, or ``load 2`` without a name.

    Parameters
    ----------
    kind : str
        Name of the tables.
    table : object
        The table, if it is one.
    number : int
        Its place among them, counted from 1.

    Returns
    -------
    str
        The table's place for an error message.
    """
    name = table.get("name") if isinstance(table, dict) else None
    return f"{kind} {shown(name) if name and isinstance(name, str) else number}"


def called(kind: str, name: str) -> str:
    """Say which part is meant: ``load 'ovens'``, or ``load 2`` where that is all its name.

    Parameters
    ----------
    kind : str
        What it is.
    name : str
        Its name, which begins with the kind if the file gives none.

    Returns
    -------
    str
        The part's place for an error message.
    """
    return name if name.startswith(f"{kind} ") else f"{kind} '{name}'"


def near(name: str, known: Collection[str]) -> str:
    """Suggest the nearest known name, whether in upper or lower case.

    Parameters
    ----------
    name : str
        What was given.
    known : collection of str
        What there is.

    Returns
    -------
    str
        The end of an error message.
    """
    if not known:
        return "there are none"
    folded = {k.casefold(): k for k in known}
    found = difflib.get_close_matches(name[:_LONGEST].casefold(), folded, n=1, cutoff=0.5)
    return f"did you mean '{folded[found[0]]}'?" if found else f"known are {', '.join(known)}"

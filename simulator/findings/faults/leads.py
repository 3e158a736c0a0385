"""Leads on other places than their own: every order, and how one says it."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

# What is not in its own place, and where it is instead.
Moved = dict[str, str]
# More leads than these are not confused at one time.
MOST = 3


def orders(own: Sequence[str], places: Sequence[str]) -> Iterator[Moved]:
    """Put leads on places in every order that moves no more than three of them.

    Parameters
    ----------
    own : sequence of str
        Places where the leads belong.
    places : sequence of str
        Places where they may be put, each for one lead.

    Yields
    ------
    dict of str to str
        For each lead that is not in its own place, where it is; the right order first.
    """
    found = (
        {a: b for a, b in zip(own, chosen, strict=True) if a != b}
        for chosen in itertools.permutations(places, len(own))
    )
    yield from sorted((moved for moved in found if len(moved) <= MOST), key=slips)


def is_closed(moved: Moved) -> bool:
    """Tell whether leads are only exchanged among themselves.

    Parameters
    ----------
    moved : dict of str to str
        What is where.

    Returns
    -------
    bool
        False if one is in a place where none belongs.
    """
    return set(moved) == set(moved.values())


def slips(moved: Moved) -> int:
    """Count the slips that an order takes.

    Parameters
    ----------
    moved : dict of str to str
        What is where.

    Returns
    -------
    int
        One for an exchange or for a roll (begun at the wrong lead), else one for each lead.
    """
    return min(len(moved), 1) if is_closed(moved) else len(moved)


def voltage_words(moved: Moved) -> str:
    """Say how voltage leads are connected.

    Parameters
    ----------
    moved : dict of str to str
        What is where.

    Returns
    -------
    str
        For example "voltage leads L1 and L2 exchanged"; empty if all are right.
    """
    if not is_closed(moved):
        return " and ".join(f"voltage lead of {a} on {b}" for a, b in moved.items())
    return _words(moved, "voltage leads", dict(zip(moved, moved, strict=True)), "on")


def current_words(moved: Moved, named: dict[str, str], what: str) -> str:
    """Say in which conductors current circuits lie.

    Parameters
    ----------
    moved : dict of str to str
        What is where.
    named : dict of str to str
        The wattmeter whose circuit belongs in a conductor.
    what : str
        "current circuit" or "current transformer".

    Returns
    -------
    str
        For example "current circuits of W1 and W2 exchanged"; empty if all are right.
    """
    if not is_closed(moved):
        places = (f"{what} of {named[a]} in {b} instead of {a}" for a, b in moved.items())
        return " and ".join(places)
    return _words(moved, f"{what}s of", named, "in")


def _words(moved: Moved, what: str, named: dict[str, str], where: str) -> str:
    if len(moved) == 2:
        return f"{what} {' and '.join(named[a] for a in moved)} exchanged"
    rolled = ", ".join(f"{named[a]} {where} {b}" for a, b in moved.items())
    return f"{what.removesuffix(' of')} rolled: {rolled}" if moved else ""

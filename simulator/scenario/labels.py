"""Labels of the user's own: from a file's names for the conductors to the default ones.

Inside the models conductors are always L1, L2, L3 and N. This is the only place where a file's
own labels are translated into them; `simulator.scenario.build` gives them back to the network,
so that everything a person sees has the file's names.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from simulator.errors import ScenarioError
from simulator.scenario.fields import LINES, NEUTRAL
from simulator.scenario.models import LoadTable
from simulator.scenario.words import named, shown

DEFAULT = (*LINES, NEUTRAL)
Document = Mapping[str, Any]

# Where a file's tables hold names of conductors: as keys, and as values of these keys.
_TABLES_BY_CONDUCTOR = ("phase_voltages", "line_impedance", "lead_impedance")
_LISTS = ("load", "impedance", "wattmeter", "voltmeter", "ammeter")
_CONDUCTOR_VALUES = {
    "earthed",
    "star_point",
    "current",
    "voltage",
    "between",
    "in",
    "line",
    "common",
}


def labels_of(document: Document) -> tuple[str, ...]:
    """Find what a file calls its conductors.

    Parameters
    ----------
    document : mapping
        The file as tables.

    Returns
    -------
    tuple of str, shape (4,)
        Names of the three lines and the neutral.

    Raises
    ------
    ScenarioError
        If the labels cannot serve as names.
    """
    labels = document.get("labels")
    if labels is None:
        return DEFAULT
    usable = isinstance(labels, list) and len(labels) in (3, 4)
    if not usable or not all(isinstance(x, str) and re.fullmatch(r"\w{1,12}", x) for x in labels):
        raise ScenarioError(
            "expected three or four short names without spaces or signs, "
            f'for example ["A", "B", "C", "N"], got {shown(labels)}',
            "labels",
        )
    names = tuple(labels) if len(labels) == 4 else (*labels, NEUTRAL)
    taken = {"PE", "neutral", "isolated"} | {
        key for key in LoadTable.model_fields if not re.fullmatch(r"L\d(_L\d)?", key)
    }
    for name in names:
        if names.count(name) > 1 or name in taken:
            why = "stands twice" if names.count(name) > 1 else "has another meaning in this file"
            raise ScenarioError(f"the label '{name}' {why}; choose another", "labels")
    return names


def to_default(document: Document, labels: tuple[str, ...]) -> dict[str, Any]:
    """Rename a file's conductors to L1, L2, L3 and N.

    Parameters
    ----------
    document : mapping
        The file as tables.
    labels : tuple of str, shape (4,)
        What it calls its conductors.

    Returns
    -------
    dict
        The same tables in default names.

    Raises
    ------
    ScenarioError
        If the file uses a default name beside labels of its own.
    """
    if labels == DEFAULT:
        return dict(document)
    names = dict(zip(labels, DEFAULT, strict=True))
    translated = {}
    for key, table in document.items():
        if key == "supply" and isinstance(table, dict):
            translated[key] = _Translator(names, key).supply(table)
        elif key in _LISTS and isinstance(table, list):
            translated[key] = [
                _Translator(names, named(key, t, k)).table(t, renames_keys=key == "load")
                for k, t in enumerate(table, 1)
            ]
        elif key == "method":
            translated[key] = _Translator(names, key).table(table)
        else:
            translated[key] = table
    return translated


def to_own(text: str, labels: tuple[str, ...]) -> str:
    """Put a file's own names into a message that has the default ones.

    Parameters
    ----------
    text : str
        The message.
    labels : tuple of str, shape (4,)
        What the file calls its conductors.

    Returns
    -------
    str
        The message in the file's words.
    """
    own = dict(zip(DEFAULT, labels, strict=True))
    return re.sub(r"\bL[123]\b|(?<=')N(?=')", lambda match: own[match.group()], text)


class _Translator:
    def __init__(self, names: Mapping[str, str], place: str) -> None:
        self.names, self.place = names, place

    def word(self, text: object) -> object:
        """Translate a name, a signed name or a chain of names such as A-B; others pass."""
        if not isinstance(text, str):
            return text
        parts = text.split("-")
        if len(parts) > 1 and not any(part in self.names or part in DEFAULT for part in parts):
            return text
        for part in parts:
            if part in DEFAULT and part not in self.names:
                raise ScenarioError(
                    f"'{part}' is not a conductor here: the labels of this file are "
                    f"{', '.join(self.names)}",
                    self.place,
                )
        return "-".join(self.names.get(part, part) for part in parts)

    def keys(self, table: object) -> object:
        if not isinstance(table, dict):
            return table
        return {self.word(key): value for key, value in table.items()}

    def table(self, table: object, *, renames_keys: bool = False) -> object:
        if not isinstance(table, dict):
            return table
        translated: dict[Any, object] = {}
        for key, value in table.items():
            new = self.word(key) if renames_keys else key
            if key in _TABLES_BY_CONDUCTOR:
                translated[new] = self.keys(value)
            elif key in _CONDUCTOR_VALUES and isinstance(value, list):
                translated[new] = [self.word(v) for v in value]
            elif key in _CONDUCTOR_VALUES:
                translated[new] = self.word(value)
            else:
                translated[new] = value
        return translated

    def supply(self, table: dict[str, Any]) -> object:
        translated = self.table(table)
        assert isinstance(translated, dict)  # noqa: S101  (a table stays one)
        if "sequence" in translated:
            translated["sequence"] = self.word(translated["sequence"])
        # "voltage" is a quantity in [supply], not a pair of nodes
        return translated | {key: table[key] for key in ("voltage",) if key in table}

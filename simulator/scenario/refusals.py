"""What is wrong with a document, in the words of the file and with its place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator.errors import QuantityError, ScenarioError
from simulator.scenario.labels import to_own
from simulator.scenario.models import BRANCH_FORMS
from simulator.scenario.words import named, shown

if TYPE_CHECKING:
    from simulator.scenario.labels import Document

# What the types of pydantic's errors ask for, in the words of the trade.
_WISHES = {
    "string_type": "a text in quotes",
    "list_type": "a list",
    "dict_type": "tables with names",
    "bool_type": "true or false",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number without quotes",
    "finite_number": "a finite number",
    "greater_than": "a number above {gt:g}",
    "greater_than_equal": "a number of at least {ge:g}",
    "less_than_equal": "a number of at most {le:g}",
    "int_parsing_size": "a smaller number",
    "too_short": "a list of at least {min_length}",
    "too_long": "a list of at most {max_length}",
    "literal_error": "{expected}",
    "enum": "{expected}",
}


def explained(error: Any, document: Document, labels: tuple[str, ...]) -> ScenarioError:
    """Say in the file's words where an error is, what was expected and what was given.

    Parameters
    ----------
    error : dict
        One of pydantic's errors.
    document : mapping
        The tables it is in, as the file has them.
    labels : tuple of str, shape (4,)
        What the file calls its conductors.

    Returns
    -------
    ScenarioError
        The error to raise.
    """
    kind, loc, context = error["type"], error["loc"], error.get("ctx", {})
    if kind == "missing":
        message = f"'{to_own(loc[-1], labels)}' is missing"
        return ScenarioError(message, _found(loc[:-1], document, labels)[0])
    place, given = _found(loc, document, labels)
    if kind == "value_error":
        cause = context["error"]
        message = str(cause)
        return ScenarioError(
            message if isinstance(cause, QuantityError) else to_own(message, labels), place
        )
    wish = _WISHES.get(kind, "another value").format(**context)
    if kind == "list_type" and isinstance(given, dict) and len(loc) == 1:
        wish = f"[[{place}]] in double brackets"
    if kind == "dict_type":
        wish = f"[{place}.NAME]"
    return ScenarioError(f"expected {to_own(wish, labels)}, got {shown(given)}", place)


def _found(
    loc: tuple[str | int, ...], document: Document, labels: tuple[str, ...]
) -> tuple[str, object]:
    """Follow an error to its place in the file, ``load 'ovens', L2``, and to what stands there."""
    parts: list[str] = []
    node: Any = document
    for k, step in enumerate(loc):
        if k and step in (*BRANCH_FORMS, "per line", "[key]"):
            continue
        if isinstance(step, int):
            if isinstance(node, list):  # else a single text stands for a list of one
                node = node[step]
                parts[-1] = named(parts[-1], node, step + 1)
        elif k == 1 and loc[0] in ("instrument", "current_transformer", "voltage_transformer"):
            parts[-1] += f" {shown(step)}"
            node = node[step]
        else:
            key = to_own(step, labels)
            parts.append(key)
            node = node.get(key) if isinstance(node, dict) else None
    return ", ".join(parts), node

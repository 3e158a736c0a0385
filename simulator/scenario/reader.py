"""Reading a scenario file: from text to checked models, with one clear message if it is wrong."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from simulator.errors import QuantityError, ScenarioError
from simulator.scenario.labels import labels_of, to_default, to_own
from simulator.scenario.models import BRANCH_FORMS, Scenario
from simulator.scenario.words import named, shown

if TYPE_CHECKING:
    from simulator.scenario.labels import Document

LARGEST_FILE = 100_000
LONGEST_LINE = 4_000  # a key of many parts takes the square of its length to read


def read_scenario(path: str | Path) -> Scenario:
    """Read a scenario file.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    Scenario
        Its checked contents.

    Raises
    ------
    ScenarioError
        If the file cannot be read or says something impossible; it names the place.
    """
    try:
        return parse_scenario(read_bytes(path))
    except ScenarioError as error:
        place = f"{path}: {error.place}" if error.place else str(path)
        raise ScenarioError(error.message, place) from error


def read_bytes(path: str | Path) -> bytes:
    """Read a file that should be a scenario, without looking into it.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    bytes
        Its content; one byte more than allowed of a file that is too large.

    Raises
    ------
    ScenarioError
        If it cannot be read.
    """
    try:
        with Path(path).open("rb") as file:
            return file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:  # a ValueError for a zero character in the path
        raise ScenarioError(f"cannot read it: {getattr(error, 'strerror', error)}") from error


def parse_scenario(data: str | bytes) -> Scenario:
    """Read a scenario from TOML text.

    Parameters
    ----------
    data : str or bytes
        The text, UTF-8 if bytes.

    Returns
    -------
    Scenario
        Its checked contents.

    Raises
    ------
    ScenarioError
        If it is no TOML or says something impossible; it names the place.
    """
    if len(data) > LARGEST_FILE:
        raise ScenarioError(f"expected a scenario of at most {LARGEST_FILE // 1000} kB")
    try:
        text = data if isinstance(data, str) else data.decode()
    except UnicodeDecodeError as error:
        raise ScenarioError("expected a text file in UTF-8") from error
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LONGEST_LINE:
            message = f"expected lines of at most {LONGEST_LINE} characters, got {len(line)}"
            raise ScenarioError(message, f"line {number}")
    try:
        document = tomllib.loads(text.removeprefix("\ufeff"))  # a mark that some editors write
    except ValueError as error:  # TOMLDecodeError, or a number too long for an int
        raise ScenarioError(f"expected TOML: {error}") from error
    except RecursionError as error:
        raise ScenarioError("its tables are nested too deeply") from error
    return scenario_from(document)


def scenario_from(document: Document) -> Scenario:
    """Check a scenario given as tables, as `tomllib` returns them.

    Parameters
    ----------
    document : mapping
        The tables of a scenario file.

    Returns
    -------
    Scenario
        Its checked contents.

    Raises
    ------
    ScenarioError
        If it says something impossible; it names the place.
    """
    labels = labels_of(document)
    default = to_default(document, labels)
    try:
        return Scenario.model_validate(default).from_document(dict(document))
    except ValidationError as error:
        raise _explained(error.errors(include_url=False)[0], document, labels) from error
    except RecursionError as error:
        raise ScenarioError("its tables are nested too deeply") from error


# What the types of pydantic's errors ask for, in the words of the trade.
_WISHES = {
    "string_type": "a text",
    "list_type": "a list",
    "dict_type": "tables with names",
    "bool_type": "true or false",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
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


def _explained(error: Any, document: Document, labels: tuple[str, ...]) -> ScenarioError:
    """Say in the file's words where an error is, what was expected and what was given."""
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

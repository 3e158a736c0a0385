"""Reading a scenario file: from text to checked models, with one clear message if it is wrong."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from simulator.errors import ScenarioError
from simulator.scenario.labels import labels_of, to_default, to_own
from simulator.scenario.models import BRANCH_FORMS, Scenario

if TYPE_CHECKING:
    from simulator.scenario.labels import Document

LARGEST_FILE = 1_000_000


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
    except OSError as error:
        raise ScenarioError(f"cannot read it: {error.strerror}") from error


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
        document = tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise ScenarioError("expected a text file in UTF-8") from error
    except RecursionError as error:
        raise ScenarioError("its tables are nested too deeply") from error
    except ValueError as error:  # TOMLDecodeError, or a number too long for an int
        raise ScenarioError(f"expected TOML: {error}") from error
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
        first = error.errors(include_url=False)[0]
        loc = first["loc"][:-1] if first["type"] == "missing" else first["loc"]
        place = to_own(_place(loc, default), labels)
        raise ScenarioError(to_own(_message(first), labels), place) from error
    except RecursionError as error:
        raise ScenarioError("its tables are nested too deeply") from error


def _message(error: Any) -> str:
    if error["type"] == "value_error":
        return str(error["ctx"]["error"])
    if error["type"] == "missing":
        return f"'{error['loc'][-1]}' is missing"
    given = repr(error["input"])
    given = given if len(given) <= 60 else f"{given[:57]}..."
    wish = error["msg"][0].lower() + error["msg"][1:]
    return f"{wish}, got {given}"


def _place(loc: tuple[str | int, ...], document: Document) -> str:
    """Say in the file's words where an error is: ``load 'ovens', L2``."""
    parts: list[str] = []
    node: Any = document
    for k, step in enumerate(loc):
        if k and step in (*BRANCH_FORMS, "per line"):
            continue
        node = _child(node, step)
        if isinstance(step, int):
            name = node.get("name") if isinstance(node, dict) else None
            parts[-1] += f" '{name}'" if isinstance(name, str) else f" {step + 1}"
        elif k == 1 and loc[0] in ("instrument", "current_transformer", "voltage_transformer"):
            parts[-1] += f" '{step}'"
        else:
            parts.append(step)
    return ", ".join(parts)


def _child(node: Any, step: str | int) -> Any:
    try:
        return node[step]
    except (KeyError, IndexError, TypeError):
        return None

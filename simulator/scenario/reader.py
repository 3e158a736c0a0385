"""Reading a scenario file: from text to checked models, with one clear message if it is wrong."""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import ValidationError

from simulator.errors import ScenarioError
from simulator.scenario.fields import Table
from simulator.scenario.instrument_models import InstrumentFile
from simulator.scenario.labels import DEFAULT, labels_of, to_default
from simulator.scenario.models import Scenario
from simulator.scenario.refusals import explained
from simulator.scenario.remedies import near_file, not_utf8, toml_remedy
from simulator.scenario.words import shown

if TYPE_CHECKING:
    from simulator.scenario.labels import Document

T = TypeVar("T", bound=Table)
GENERIC = resources.files("simulator") / "data" / "generic_instruments.toml"
LARGEST_FILE = 100_000
LONGEST_LINE = 2_000  # a key of many parts takes the square of its length to read


def read_scenario(path: str | Path) -> Scenario:
    r"""Read a scenario file.

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

    Examples
    --------
    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> import simulator
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "heaters.toml"
    ...     _ = file.write_text('title = "Heaters"\nsupply = { wires = 4, voltage = "400 V" }\n')
    ...     simulator.read_scenario(file).title
    'Heaters'
    """
    try:
        return parse_scenario(read_bytes(path), Path(path).parent)
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
        found = near_file(Path(path)) if isinstance(error, FileNotFoundError) else ""
        reason = getattr(error, "strerror", error)
        raise ScenarioError(f"cannot read it: {reason}{found}") from error


def parse_scenario(data: str | bytes, folder: str | Path = "") -> Scenario:
    """Read a scenario from TOML text.

    Parameters
    ----------
    data : str or bytes
        The text, UTF-8 if bytes.
    folder : str or Path
        Where a file of instruments that it names is looked for; the working directory by default.

    Returns
    -------
    Scenario
        Its checked contents.

    Raises
    ------
    ScenarioError
        If it is no TOML or says something impossible; it names the place.

    Examples
    --------
    >>> import simulator
    >>> simulator.parse_scenario("title = 'Heaters'")
    Traceback (most recent call last):
        ...
    simulator.errors.ScenarioError: 'supply' is missing
    """
    return scenario_from(_tables(data), folder)


def _tables(data: str | bytes, what: str = "a scenario") -> dict[str, Any]:
    if len(data) > LARGEST_FILE:
        raise ScenarioError(f"expected {what} of at most {LARGEST_FILE // 1000} kB")
    try:
        text = data if isinstance(data, str) else data.decode()
    except UnicodeDecodeError as error:
        raise ScenarioError(not_utf8(error)) from error
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LONGEST_LINE:
            message = f"expected lines of at most {LONGEST_LINE} characters, got {len(line)}"
            raise ScenarioError(message, f"line {number}")
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))  # a mark that some editors write
    except ValueError as error:  # TOMLDecodeError, or a number too long for an int
        raise ScenarioError(f"expected TOML: {error}{toml_remedy(text, error)}") from error
    except RecursionError as error:
        raise ScenarioError("its tables are nested too deeply") from error


def scenario_from(document: Document, folder: str | Path = "") -> Scenario:
    """Check a scenario given as tables, as `tomllib` returns them.

    Parameters
    ----------
    document : mapping
        The tables of a scenario file.
    folder : str or Path
        Where a file of instruments that it names is looked for; the working directory by default.

    Returns
    -------
    Scenario
        Its checked contents.

    Raises
    ------
    ScenarioError
        If it says something impossible; it names the place.

    Examples
    --------
    >>> import simulator
    >>> supply = {"wires": 4, "voltage": "400 V"}
    >>> simulator.scenario_from({"title": "Heaters", "supply": supply}).supply.wires
    4
    """
    document, shared = _with_shared(document, Path(folder))
    labels = labels_of(document)
    scenario = _checked(Scenario, to_default(document, labels), document, labels)
    return scenario.from_document(_without(document, shared - _named_in(scenario)))


def _checked(
    model: type[T], tables: Document, document: Document, labels: tuple[str, ...] = DEFAULT
) -> T:
    try:
        return model.model_validate(tables)
    except ValidationError as error:
        raise explained(error.errors(include_url=False)[0], document, labels) from error
    except RecursionError as error:
        raise ScenarioError("its tables are nested too deeply") from error


def _with_shared(document: Document, folder: Path) -> tuple[Document, set[tuple[str, str]]]:
    """Add the instruments of the file that a scenario names; say which they are."""
    name = document.get("instruments_from")
    if not isinstance(name, str):  # none, or nothing that could be one: the models say so
        return document, set()
    try:
        data = GENERIC.read_bytes() if name == "generic" else read_bytes(folder / name)
        tables = _tables(data, "a file of instruments")
        _checked(InstrumentFile, tables, tables)
    except ScenarioError as error:
        place = f"instruments_from {shown(name)}"
        raise ScenarioError(
            error.message, f"{place}, {error.place}" if error.place else place
        ) from error
    merged = {key: table for key, table in document.items() if key != "instruments_from"}
    for key, shared in tables.items():
        own = document.get(key, {})
        if not isinstance(own, dict):  # as above
            continue
        for twice in own.keys() & shared.keys():
            raise ScenarioError(
                f"it stands in {shown(name)} too; give one of the two another name",
                f"{key} {shown(twice)}",
            )
        merged[key] = {**shared, **own}
    return merged, {(key, each) for key, table in tables.items() for each in table}


def _named_in(scenario: Scenario) -> set[tuple[str, str]]:
    """Collect the instruments and transformers that meters or a method name."""
    users = [*scenario.wattmeter, *scenario.voltmeter, *scenario.ammeter, scenario.method]
    found = set()
    for key in InstrumentFile.model_fields:
        for user in users:
            names = getattr(user, key, None) or []
            found |= {(key, name) for name in ([names] if isinstance(names, str) else names)}
    return found


def _without(document: Document, unused: set[tuple[str, str]]) -> dict[str, Any]:
    kept = dict(document)
    for key in {key for key, _ in unused}:
        kept[key] = {name: t for name, t in kept[key].items() if (key, name) not in unused}
    return {key: table for key, table in kept.items() if table != {}}

"""What several commands share: their usual arguments, reading FILE, printing JSON."""

from __future__ import annotations

import json
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from simulator.errors import NetworkError, QuantityError, ScenarioError, SimulatorError

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator

    from simulator.scenario.models import Scenario

WRONG_INPUT, NO_SOLUTION = 2, 3
T = TypeVar("T")


def one_line(text: str) -> str:
    """Make a text safe for a terminal, whatever the names in it contain.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    str
        The text with line ends and control characters written as escapes.
    """
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


def complain(error: SimulatorError) -> int:
    """Say on the standard error stream what is wrong.

    Parameters
    ----------
    error : SimulatorError
        The error.

    Returns
    -------
    int
        Exit status: 3 for a network without a unique solution, 2 for anything else.
    """
    print(f"blondel: {one_line(str(error))}", file=sys.stderr)
    return NO_SOLUTION if isinstance(error, NetworkError) else WRONG_INPUT


def add_command(commands: Any, name: str, purpose: str, examples: str) -> argparse.ArgumentParser:
    """Add a command, with one way to say what it is for.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    name : str
        Its name.
    purpose : str
        What it gives, in a line of the list of commands.
    examples : str
        What its help ends with: what must be known, and calls to copy.

    Returns
    -------
    ArgumentParser
        The command's parser.
    """
    from argparse import RawDescriptionHelpFormatter

    parser: argparse.ArgumentParser = commands.add_parser(
        name,
        help=purpose,
        description=f"{purpose[0].upper()}{purpose[1:]}.",
        epilog=examples,
        formatter_class=RawDescriptionHelpFormatter,
    )
    return parser


def add_file(parser: argparse.ArgumentParser) -> None:
    """Add the argument FILE.

    Parameters
    ----------
    parser : ArgumentParser
        The command's parser.
    """
    parser.add_argument("file", metavar="FILE", help="a scenario file, or - for standard input")


def add_json(parser: argparse.ArgumentParser) -> None:
    """Add the option ``--json``.

    Parameters
    ----------
    parser : ArgumentParser
        The command's parser.
    """
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def add_seed(parser: argparse.ArgumentParser) -> None:
    """Add the option ``--seed``.

    Parameters
    ----------
    parser : ArgumentParser
        The command's parser.
    """
    parser.add_argument(
        "--seed", type=_seed, default=1, metavar="N", help="of the random draws (default: 1)"
    )


def _seed(text: str) -> int:
    from argparse import ArgumentTypeError

    if not (text.isascii() and text.isdigit() and len(text) <= 18):
        raise ArgumentTypeError(f"expected a whole number from 0, got {text[:30]!r}")
    return int(text)


def quantity_at(place: str, text: str, parse: Callable[[str], T]) -> T:
    """Read a quantity from the command line, and say where it stands if it is none.

    Parameters
    ----------
    place : str
        The option or argument.
    text : str
        What it holds.
    parse : Callable
        A parser of `simulator.quantities`.

    Returns
    -------
    object
        What the parser gives.

    Raises
    ------
    QuantityError
        If the text is no such quantity.
    """
    try:
        return parse(text)
    except QuantityError as error:
        raise QuantityError(error.message, place) from error


def tolerance_of(options: argparse.Namespace) -> float:
    """Read ``--tolerance``, a percentage.

    Parameters
    ----------
    options : Namespace
        The command's options.

    Returns
    -------
    float
        The tolerance as a fraction.

    Raises
    ------
    SimulatorError
        If it is no percentage between 0 and 100.
    """
    from simulator.quantities import parse_percent

    tolerance = quantity_at("--tolerance", options.tolerance, parse_percent)
    if not 0 < tolerance < 1:
        raise SimulatorError(
            f"expected more than 0 % and less than 100 %, got '{options.tolerance}'", "--tolerance"
        )
    return tolerance


def add_overwrite(parser: argparse.ArgumentParser) -> None:
    """Add the option ``--overwrite``.

    Parameters
    ----------
    parser : ArgumentParser
        The command's parser.
    """
    parser.add_argument("--overwrite", action="store_true", help="replace an existing file")


def print_json(value: object) -> None:
    """Print a result for machines.

    Parameters
    ----------
    value : object
        Plain Python values.
    """
    escaped = "utf" not in (sys.stdout.encoding or "").lower()
    print(json.dumps(value, ensure_ascii=escaped, indent=2, allow_nan=False))


def _standard_input() -> bytes:
    from simulator.scenario.reader import LARGEST_FILE

    if sys.stdin is None:  # as after a shell's <&-
        raise ScenarioError("it is closed")
    return sys.stdin.buffer.read(LARGEST_FILE + 1)


@contextmanager
def scenario_at(name: str) -> Iterator[Scenario]:
    """Read a scenario, and put its file's name before every error found while it is used.

    Parameters
    ----------
    name : str
        The file, or - for standard input.

    Yields
    ------
    Scenario
        The scenario.

    Raises
    ------
    ScenarioError
        If it cannot be read or says something impossible.
    NetworkError
        If its network has no unique solution.
    """
    from simulator.scenario.reader import parse_scenario, read_bytes

    place = "standard input" if name == "-" else name
    try:
        if name == "-":
            yield parse_scenario(_standard_input())
        else:
            yield parse_scenario(read_bytes(name), Path(name).parent)
    except SimulatorError as error:
        kind = NetworkError if isinstance(error, NetworkError) else ScenarioError
        raise kind(error.message, f"{place}: {error.place}".rstrip(": ")) from error

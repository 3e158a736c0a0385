"""``blondel compare``: measured readings beside predicted ones."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from simulator.commands.common import (
    add_command,
    add_file,
    add_json,
    print_json,
    scenario_at,
    tolerance_of,
)
from simulator.commands.faults import add_limits, span_of
from simulator.errors import ScenarioError

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

OUT_OF_TOLERANCE = 1
EXAMPLES = """\
  blondel compare FILE readings.csv
  blondel compare FILE readings.csv --tolerance "1 %" --power-factor "0.75 lag..0.9 lag"
"""


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = add_command(commands, "compare", "measured readings beside predicted ones", EXAMPLES)
    add_file(parser)
    parser.add_argument(
        "readings",
        metavar="READINGS.csv",
        help="name,value,unit[,station] with that header, one line for each meter; wattmeters "
        "referred to the primary of their transformers",
    )
    add_limits(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    options : Namespace
        Its options.

    Returns
    -------
    int
        Exit status: 1 if a reading is out of tolerance.
    """
    from simulator.findings.comparison import compare
    from simulator.findings.readings_csv import parse_readings
    from simulator.findings.result import solve
    from simulator.reports.comparison import comparison_object, comparison_text
    from simulator.scenario.reader import read_bytes

    tolerance, span = tolerance_of(options), span_of(options)
    with scenario_at(options.file) as scenario:
        result = solve(scenario)
    with _readings_at(options.readings):
        entries = parse_readings(read_bytes(options.readings))
        comparison = compare(result, entries, tolerance=tolerance, span=span)
    if options.json:
        print_json(comparison_object(comparison))
    else:
        print(comparison_text(comparison), end="")
    return 0 if comparison.within else OUT_OF_TOLERANCE


@contextmanager
def _readings_at(name: str) -> Iterator[None]:
    """Put the file's name before every error found in it."""
    try:
        yield
    except ScenarioError as error:
        raise ScenarioError(error.message, f"{name}: {error.place}".rstrip(": ")) from error

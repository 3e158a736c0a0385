"""``blondel explain``: for which supplies and loads a total is right, and what makes it wrong."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.common import (
    add_command,
    add_file,
    add_json,
    add_overwrite,
    print_json,
    scenario_at,
)
from simulator.files import write_whole

if TYPE_CHECKING:
    import argparse

EXAMPLES = """\
  blondel explain FILE
  blondel explain FILE --counterexample small-load.toml
"""


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = add_command(
        commands, "explain", "when the total is right, and which term is wrong", EXAMPLES
    )
    add_file(parser)
    parser.add_argument(
        "--counterexample", metavar="OUT", help="write the small load that shows it as a scenario"
    )
    add_overwrite(parser)
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
        Exit status.
    """
    from simulator.findings.explanation import explain
    from simulator.reports.explanation import explanation_object, explanation_text

    with scenario_at(options.file) as scenario:
        explanation = explain(scenario)
        found = explanation.counterexample
    if options.counterexample and found:
        write_whole(Path(options.counterexample), found.toml, overwrite=options.overwrite)
    elif options.counterexample:
        print("blondel: the total is always right, so there is no counterexample", file=sys.stderr)
    if options.json:
        print_json(explanation_object(explanation))
    else:
        print(explanation_text(explanation), end="")
    return 0

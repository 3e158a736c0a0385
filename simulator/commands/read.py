"""``blondel read``: what every meter reads, the total, and why it is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator.commands.common import add_file, add_json, print_json, scenario_at

if TYPE_CHECKING:
    import argparse


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = commands.add_parser("read", help="what every meter reads, the total, and its error")
    add_file(parser)
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
    from simulator.findings.result import solve

    with scenario_at(options.file) as scenario:
        result = solve(scenario)
    if options.json:
        from simulator.reports.machine import result_object

        print_json(result_object(result))
    else:
        from simulator.reports.text import result_text

        print(result_text(result), end="")
    return 0

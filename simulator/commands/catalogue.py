"""``blondel methods`` and ``blondel starter``: the catalogue, and a first file to edit."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.common import add_command, add_json, add_overwrite, print_json
from simulator.errors import ScenarioError
from simulator.files import write_whole

if TYPE_CHECKING:
    import argparse

METHODS_EXAMPLES = """\
  blondel methods
  blondel methods "two wattmeters" --expand
"""
STARTER_EXAMPLES = """\
  blondel starter "two wattmeters" --out mine.toml
"""


def add(commands: Any) -> None:
    """Add both commands to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add them.
    """
    methods = add_command(
        commands, "methods", "the catalogue of measuring methods", METHODS_EXAMPLES
    )
    methods.add_argument("name", metavar="METHOD", nargs="?", help="one method")
    methods.add_argument(
        "--expand", action="store_true", help="print the wattmeters and formula it stands for"
    )
    add_json(methods)
    methods.set_defaults(run=run_methods)

    starter = add_command(commands, "starter", "a first scenario file to edit", STARTER_EXAMPLES)
    starter.add_argument("method", metavar="METHOD", help="a method of the catalogue")
    starter.add_argument("--out", metavar="FILE", help="write it here, not to standard output")
    add_overwrite(starter)
    starter.set_defaults(run=run_starter)


def run_methods(options: argparse.Namespace) -> int:
    """Run ``blondel methods``.

    Parameters
    ----------
    options : Namespace
        Its options.

    Returns
    -------
    int
        Exit status.
    """
    from simulator.reports.catalogue import catalogue_object, catalogue_text

    if options.expand and options.name is None:
        raise ScenarioError("--expand needs the name of a method")
    if options.json:
        print_json(catalogue_object(options.name, expand=options.expand))
    else:
        print(catalogue_text(options.name, expand=options.expand), end="")
    return 0


def run_starter(options: argparse.Namespace) -> int:
    """Run ``blondel starter``.

    Parameters
    ----------
    options : Namespace
        Its options.

    Returns
    -------
    int
        Exit status.
    """
    from simulator.reports.catalogue import starter_text

    text = starter_text(options.method)
    if options.out is None:
        print(text, end="")
    else:
        write_whole(Path(options.out), text, overwrite=options.overwrite)
    return 0

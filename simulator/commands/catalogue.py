"""``blondel methods`` and ``blondel starter``: the catalogue, and a first file to edit."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.common import add_json, add_overwrite, print_json
from simulator.errors import ScenarioError
from simulator.files import write_whole

if TYPE_CHECKING:
    import argparse


def add(commands: Any) -> None:
    """Add both commands to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add them.
    """
    methods = commands.add_parser("methods", help="the catalogue of measuring methods")
    methods.add_argument("name", metavar="METHOD", nargs="?", help="one method")
    methods.add_argument(
        "--expand", action="store_true", help="print the wattmeters and formula it stands for"
    )
    add_json(methods)
    methods.set_defaults(run=run_methods)

    starter = commands.add_parser("starter", help="a first scenario file to edit")
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

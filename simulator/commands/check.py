"""``blondel check`` and ``blondel schema``: whether files can be solved; what editors complete."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator.commands.common import (
    add_command,
    add_json,
    complain,
    one_line,
    print_json,
    scenario_at,
)
from simulator.errors import SimulatorError

if TYPE_CHECKING:
    import argparse

CHECK_EXAMPLES = """\
  blondel check mine.toml scenarios/*.toml
"""
SCHEMA_EXAMPLES = """\
  blondel schema > scenario.schema.json
"""


def add(commands: Any) -> None:
    """Add both commands to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add them.
    """
    check = add_command(commands, "check", "whether scenario files can be solved", CHECK_EXAMPLES)
    check.add_argument("files", metavar="FILE", nargs="+", help="scenario files")
    add_json(check)
    check.set_defaults(run=run_check, several="files")
    schema = add_command(
        commands, "schema", "JSON Schema of the scenario file, for editors", SCHEMA_EXAMPLES
    )
    schema.set_defaults(run=run_schema)


def run_check(options: argparse.Namespace) -> int:
    """Run ``blondel check``.

    Parameters
    ----------
    options : Namespace
        Its options.

    Returns
    -------
    int
        The highest exit status of its files.
    """
    from simulator.findings.result import solve

    worst, right = 0, []
    for name in options.files:
        try:
            with scenario_at(name) as scenario:
                solve(scenario)
        except SimulatorError as error:
            worst = max(worst, complain(error))
        else:
            right.append(name)
    if not options.json:
        for name in right:
            print(f"{one_line(name)}: can be solved")
    elif not worst:
        print_json({"files": [{"file": name, "ok": True} for name in right]})
    return worst


def run_schema(_: argparse.Namespace) -> int:
    """Run ``blondel schema``.

    Parameters
    ----------
    _ : Namespace
        It has no options.

    Returns
    -------
    int
        Exit status.
    """
    from simulator.scenario.schema import scenario_schema

    print_json(scenario_schema())
    return 0

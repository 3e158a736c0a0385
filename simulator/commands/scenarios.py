"""``blondel scenarios``: the shipped scenarios, each one lesson."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.common import add_command, add_json, add_overwrite, print_json
from simulator.errors import ScenarioError
from simulator.files import write_whole

if TYPE_CHECKING:
    import argparse

    from simulator.shipped import Shipped

EXAMPLES = """\
  blondel scenarios
  blondel scenarios a-first-measurement --out first.toml
"""


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = add_command(
        commands, "scenarios", "the shipped scenarios, and what each shows", EXAMPLES
    )
    parser.add_argument("name", metavar="NAME", nargs="?", help="print this one's file")
    parser.add_argument("--out", metavar="FILE", help="write it here, not to standard output")
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

    Raises
    ------
    ScenarioError
        If there is no such scenario, or options do not fit together.
    """
    from simulator.shipped import shipped_scenario, shipped_scenarios

    if options.out and options.name is None:
        raise ScenarioError("it needs the name of a scenario", "--out")
    if options.out and options.json:
        raise ScenarioError("leave --json out: a scenario is written as it is", "--out")
    if options.name is None:
        _list(shipped_scenarios(), as_json=options.json)
        return 0
    scenario = shipped_scenario(options.name)
    if options.json:
        print_json(_object(scenario) | {"toml": scenario.text})
    elif options.out:
        write_whole(Path(options.out), scenario.text, overwrite=options.overwrite)
    else:
        print(scenario.text, end="")
    return 0


def _list(scenarios: list[Shipped], *, as_json: bool) -> None:
    from textwrap import TextWrapper

    if as_json:
        print_json({"scenarios": [_object(scenario) for scenario in scenarios]})
        return
    wrap = TextWrapper(98, "  ", "  ", break_on_hyphens=False)
    for scenario in scenarios:
        print(scenario.name, wrap.fill(scenario.look_for), sep="\n")


def _object(scenario: Shipped) -> dict[str, str]:
    return {"name": scenario.name, "title": scenario.title, "look_for": scenario.look_for}

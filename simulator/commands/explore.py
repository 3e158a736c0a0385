"""``blondel explore``: a local page on which one moves one thing at a time."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

from simulator.commands.common import add_command, scenario_at
from simulator.errors import ScenarioError

if TYPE_CHECKING:
    import argparse

EXAMPLES = """\
  blondel explore --open
  blondel explore FILE --port 8000
"""


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = add_command(
        commands, "explore", "a local page: move one thing, see what changes", EXAMPLES
    )
    parser.add_argument(
        "file",
        metavar="FILE",
        nargs="?",
        help="a scenario file to start from, or - for standard input (default: 400 V, 10 A)",
    )
    parser.add_argument("--port", type=_port, default=0, help="the port (default: a free one)")
    parser.add_argument("--open", action="store_true", help="open the page in the browser")
    parser.set_defaults(run=run)


def _port(text: str) -> int:
    from argparse import ArgumentTypeError

    if not (text.isascii() and text.isdigit() and len(text) <= 5 and int(text) <= 65535):
        raise ArgumentTypeError(f"expected a port from 0 to 65535, got {text[:30]!r}")
    return int(text)


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
    try:
        from simulator.explore.server import serve
    except ModuleNotFoundError as error:
        raise ScenarioError(
            f"it needs {error.name}, which is not installed: "
            f"{sys.executable} -m pip install starlette uvicorn",
            "explore",
        ) from error

    def ready(address: str) -> None:
        print(f"The page is at {address} (this machine only). Ctrl+C ends it.", flush=True)
        if options.open:
            import webbrowser

            webbrowser.open(address)

    if options.file is None:
        scenario = None
    else:
        from simulator.scenario.build import build

        with scenario_at(options.file) as scenario:
            build(scenario)  # a file that makes no sense is refused here, with its name
    try:
        serve(scenario, options.port, ready)
    except KeyboardInterrupt:  # the usual end
        print()
    return 0

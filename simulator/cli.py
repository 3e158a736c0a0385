"""The command ``blondel``: its commands, and what becomes of errors.

Exit status: 0 done; 1 the answer is no (out of tolerance, nothing fits); 2 wrong input or usage;
3 the network has no unique solution.
"""

from __future__ import annotations

import argparse
import gc
import io
import os
import sys
from typing import TYPE_CHECKING, Any, NoReturn

from simulator import __version__
from simulator.commands import (
    catalogue,
    check,
    compare,
    completion,
    draw,
    explain,
    explore,
    faults,
    infer,
    labsheet,
    plan,
    practice,
    read,
    scenarios,
    vary,
)
from simulator.commands.common import WRONG_INPUT, complain, one_line
from simulator.errors import ScenarioError, SimulatorError

if TYPE_CHECKING:
    from collections.abc import Sequence

COMMANDS = (
    read,
    draw,
    explain,
    faults,
    compare,
    infer,
    vary,
    plan,
    labsheet,
    practice,
    explore,
    scenarios,
    catalogue,
    check,
    completion,
)
PURPOSE = "Predicts what each wattmeter in a three-phase circuit will read, and why."
BEGIN = "Begin with 'blondel scenarios'. 'blondel COMMAND --help' ends with examples."
CAUTION = (
    "A prediction is not a permit: work dead, never open the secondary of a current transformer "
    "in service, mind the measurement category, leave connections to licensed persons. Local "
    "rules prevail."
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : sequence of str, optional
        Its arguments; those of the process if not given.

    Returns
    -------
    int
        Exit status.
    """
    # Most of a short command is imports, and most of what they make lives on: collect less often.
    gc.set_threshold(50_000)
    # Looking for pydantic's plugins among all installed packages takes longer than solving.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    options = _parser().parse_args(arguments)
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")  # a terminal without ∠ or Ω
    try:
        status: int = options.run(options)
        sys.stdout.flush()
    except SimulatorError as error:
        return complain(error)
    except BrokenPipeError:  # the reader of our output has left; nothing to say to anyone
        sys.stderr.close()
        return 0
    except OSError as error:  # a full disk, or a path that cannot even be looked at
        place = error.filename or "standard output"
        return complain(ScenarioError(f"cannot write it: {error.strerror}", str(place)))
    except KeyboardInterrupt:
        return 130  # as shells say it
    return status


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, and where to read on; takes no shortened options."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(allow_abbrev=False, **settings)

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> tuple[Any, list[str]]:
        """Let the command itself refuse what it does not know, and name its own help."""
        options, rest = super().parse_known_args(args, namespace)
        if several := getattr(options, "several", ""):  # argparse sees them only side by side
            getattr(options, several).extend(text for text in rest if not text.startswith("-"))
            rest = [text for text in rest if text.startswith("-")]
        if rest:
            self.error(f"unrecognized arguments: {' '.join(rest)}")
        return options, rest

    def error(self, message: str) -> NoReturn:
        self.exit(WRONG_INPUT, f"{self.prog}: {one_line(message)}; see '{self.prog} --help'\n")


class _Columns(argparse.HelpFormatter):
    """Makes room for the longest name of a command, which the standard one forgets to indent."""

    def add_argument(self, action: argparse.Action) -> None:
        super().add_argument(action)
        self._action_max_length = max(self._action_max_length, self._longest(action))

    def _longest(self, action: argparse.Action) -> int:
        names = action.choices if isinstance(action.choices, dict) else ()
        return max(map(len, names), default=0) + 2 * self._indent_increment


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="blondel", description=f"{PURPOSE} {BEGIN}", epilog=CAUTION, formatter_class=_Columns
    )
    parser.add_argument("--version", action="version", version=f"blondel {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND", parser_class=_Parser)
    for command in COMMANDS:
        command.add(commands)
    return parser


if __name__ == "__main__":
    sys.exit(main())

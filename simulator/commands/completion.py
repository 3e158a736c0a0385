"""``blondel completion``: what a shell completes, as a script that needs no Python to run."""

from __future__ import annotations

import shlex
from functools import partial
from typing import TYPE_CHECKING, Any

from simulator.commands.common import add_command

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterable, Iterator, Mapping

    Parsers = Mapping[str, argparse.ArgumentParser]

EXAMPLES = """\
In ~/.bashrc, or with zsh for bash in ~/.zshrc; file names complete wherever nothing else does:

  eval "$(blondel completion bash)"
"""

# zsh runs it in its emulation of bash. Words come one a line, since names of methods have blanks.
SCRIPT = r"""_blondel() {
    local typed="${COMP_WORDS[COMP_CWORD]}" list= quoting=%q one IFS=$'\n'
    local word="${typed//[\\\"\']/}"
    [[ $typed == [\"\']* ]] && quoting=%s
    case "$COMP_CWORD ${COMP_WORDS[1]} ${COMP_WORDS[COMP_CWORD-1]} $word" in
CASES
    esac
    COMPREPLY=()
    for one in $(compgen -W "$list" -- "$word"); do
        COMPREPLY+=("$(printf $quoting "$one")")
    done
}
complete -o default -F _blondel blondel
"""
ZSH = "autoload -U +X compinit bashcompinit && compinit && bashcompinit\n"


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it, and whose words it completes.
    """
    parser = add_command(
        commands,
        "completion",
        "a script with which bash or zsh completes commands",
        EXAMPLES,
    )
    parser.add_argument("shell", choices=("bash", "zsh"), help="for which shell")
    parser.set_defaults(run=partial(run, commands.choices))


def run(parsers: Parsers, options: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    parsers : mapping of str to ArgumentParser
        Every command.
    options : Namespace
        Its options.

    Returns
    -------
    int
        Exit status.
    """
    cases = "\n".join(
        f"    {pattern}) list={shlex.quote(chr(10).join(words))} ;;"
        for pattern, words in _cases(parsers)
    )
    print((ZSH if options.shell == "zsh" else "") + SCRIPT.replace("CASES", cases), end="")
    return 0


def _cases(parsers: Parsers) -> Iterator[tuple[str, Iterable[str]]]:
    """Give shell patterns of "place command previous-word word", each with its words."""
    from simulator.metering.catalogue import METHODS
    from simulator.shipped import shipped_scenarios

    yield "1\\ *", [*parsers, "--help", "--version"]
    for command, parser in parsers.items():
        actions = parser._actions  # noqa: SLF001 (argparse has no public list)
        for action in actions:
            if action.choices and action.option_strings:
                yield f"*\\ {command}\\ {action.option_strings[-1]}\\ *", action.choices
        options = [name for a in actions for name in a.option_strings if name.startswith("--")]
        yield f"*\\ {command}\\ *\\ -*", options
        for action in actions:
            if action.choices and not action.option_strings:
                yield f"2\\ {command}\\ *", action.choices
    yield "2\\ methods\\ *|2\\ starter\\ *", METHODS
    yield "2\\ scenarios\\ *", [scenario.name for scenario in shipped_scenarios()]

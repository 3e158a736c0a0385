"""Every command's help: it can be shown, and says what each argument is for."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

import pytest

from simulator import cli

if TYPE_CHECKING:
    import argparse


def parsers() -> dict[str, argparse.ArgumentParser]:
    choices = (action.choices for action in cli._parser()._actions)
    return next(c for c in choices if isinstance(c, dict))


@pytest.mark.parametrize("name", parsers())
def test_every_argument_is_explained(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        cli.main([name, "--help"])
    assert stop.value.code == 0
    assert capsys.readouterr().out.startswith(f"usage: blondel {name} ")
    assert not [a.option_strings or a.dest for a in parsers()[name]._actions if not a.help]


@pytest.mark.parametrize("name", parsers())
def test_the_help_ends_with_calls_that_can_be_copied(name: str) -> None:
    parser = parsers()[name]
    assert parser.description
    assert parser.description.endswith(".")
    calls = [line for line in (parser.epilog or "").splitlines() if "  blondel " in line]
    assert calls or "$(blondel completion bash)" in (parser.epilog or "")
    for call in calls:
        words = shlex.split(call.partition(" > ")[0])
        assert words[:2] == ["blondel", name]
        assert callable(cli._parser().parse_args(words[1:]).run)


def test_every_command_stands_on_one_line_with_what_it_gives(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit):
        cli.main(["--help"])
    lines = capsys.readouterr().out.splitlines()
    for name in parsers():
        (line,) = (line for line in lines if line.startswith(f"    {name} "))
        assert len(line.split()) > 2

"""Every command's help: it can be shown, and says what each argument is for."""

from __future__ import annotations

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

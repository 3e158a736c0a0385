"""What tests of more than one room share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from simulator import cli

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.fixture
def blondel(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Give the command as a person calls it: exit status, standard output, standard error."""

    def run(*arguments: object) -> tuple[int, str, str]:
        try:
            status = cli.main([str(argument) for argument in arguments])
        except SystemExit as stop:
            status = int(stop.code or 0)
        return status, *capsys.readouterr()

    return run

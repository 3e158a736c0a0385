"""`blondel completion`: its script, run by the shells themselves."""

from __future__ import annotations

import argparse
import shlex
import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest

from simulator.commands import catalogue, check, completion, draw, scenarios

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.fixture
def script(capsys: pytest.CaptureFixture[str]) -> Callable[[str], str]:
    def script(shell: str) -> str:
        parser = argparse.ArgumentParser()
        commands = parser.add_subparsers()
        for command in (draw, catalogue, check, scenarios, completion):
            command.add(commands)
        options = parser.parse_args(["completion", shell])
        assert options.run(options) == 0
        return capsys.readouterr().out

    return script


def completed(shell: str, script: str, words: list[str]) -> list[str]:
    """Complete the last word, without a terminal, as the shell would do on Tab."""
    if shutil.which(shell) is None:
        pytest.skip(f"there is no {shell} here")
    commands = [
        script,
        "setopt KSH_ARRAYS" if shell == "zsh" else "",  # as its completion system does
        f"COMP_WORDS=({shlex.join(words)}); COMP_CWORD={len(words) - 1}",
        "_blondel",
        'printf "%s\\n" "${COMPREPLY[@]}"',
    ]
    asked = subprocess.run(
        [shell, "-f"], input="\n".join(commands), capture_output=True, text=True, check=True
    )
    assert asked.stderr == ""
    return asked.stdout.split("\n")[:-1]


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        (["s"], ["starter", "schema", "scenarios"]),
        (["--v"], ["--version"]),
        (["draw", "a.toml", "--mark", ""], ["star", "dot", "plus-minus"]),
        (["draw", "a.toml", "--m"], ["--meter", "--mark"]),
        (["draw", "a.toml", "--out", ""], [""]),  # nothing: the shell completes files
        (["check", "a.toml", "read"], [""]),
        (["completion", ""], ["bash", "zsh"]),
        (["scenarios", "lost"], ["lost-neutral"]),
        (["scenarios", "lost-neutral", "--o"], ["--out", "--overwrite"]),
        (["starter", "two\\ el"], [r"two\ elements\,\ difference\ currents"]),
        (["starter", "'two el"], ["two elements, difference currents"]),
        (["methods", "--"], ["--help", "--expand", "--json"]),
    ],
)
def test_bash(typed: list[str], expected: list[str], script: Callable[[str], str]) -> None:
    assert completed("bash", script("bash"), ["blondel", *typed]) == expected


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        (["scenarios", "lost"], "lost-neutral"),
        (["starter", "two\\ wa"], r"two\ wattmeters"),
        (["draw", "a.toml", "--mark", ""], "plus-minus"),
    ],
)
def test_zsh(typed: list[str], expected: str, script: Callable[[str], str]) -> None:
    assert expected in completed("zsh", script("zsh"), ["blondel", *typed])  # zsh narrows it down

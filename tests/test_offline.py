"""No command needs a network: each one runs while no socket can be made."""

from __future__ import annotations

import socket
from pathlib import Path
from typing import Any, NoReturn

import pytest

from simulator import cli

FILE = str(Path(__file__).parents[1] / "scenarios/a-first-measurement.toml")
FIGURES = [f"--figure={name}" for name in ("phasors", "connections", "waveforms", "curves")]
ARGUMENTS = {
    "read": [FILE, "--uncertainty"],
    "draw": [FILE, *FIGURES, "--out", "figure.svg"],
    "explain": [FILE],
    "vary": [FILE, "--quantity", "belt drive: each", "--values", "20 ohm, 30 ohm", "--curve=c.svg"],
    "plan": [FILE, "--out", "plan.html"],
    "faults": [FILE],
    "compare": [FILE, "readings.csv"],
    "infer": ["W1=2kW", "W2=4kW", "--voltage", "400V"],
    "labsheet": [FILE, "--out", "lab.html"],
    "practice": ["--out", "sheet.html"],
    "methods": [],
    "scenarios": [],
    "starter": ["two wattmeters"],
    "check": [FILE],
    "schema": [],
    "completion": ["bash"],
}
SERVES = {"explore"}  # a page, to this machine only: its own tests watch where it listens


class Refused(socket.socket):
    """A socket that nobody gets."""

    def __init__(self, *_: Any, **__: Any) -> None:
        raise AssertionError("a socket was asked for")


def refuse(*_: Any, **__: Any) -> NoReturn:
    raise AssertionError("an address was looked up")


def commands() -> list[str]:
    choices = (action.choices for action in cli._parser()._actions)
    return sorted(set(next(c for c in choices if isinstance(c, dict))) - SERVES)


@pytest.fixture
def offline(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("readings.csv").write_text("name,value,unit\nW1,2,kW\nW2,4,kW\n")
    monkeypatch.setattr(socket, "socket", Refused)
    for name in ("getaddrinfo", "gethostbyname", "create_connection"):
        monkeypatch.setattr(socket, name, refuse)


@pytest.mark.usefixtures("offline")
@pytest.mark.parametrize("command", commands())
def test_runs_without_a_network(command: str) -> None:
    assert command in ARGUMENTS, f"give ARGUMENTS a row for '{command}'"
    assert cli.main([command, *ARGUMENTS[command]]) == 0

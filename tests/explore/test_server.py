"""The server as a process: this machine only, a free port, an orderly end; and the command."""

from __future__ import annotations

import argparse
import json
import os
import signal
import socket
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.request import urlopen

import pytest

import simulator
from simulator.commands import explore
from tests.explore.files import UNBALANCED

if TYPE_CHECKING:
    from collections.abc import Iterator

RUN = """
import argparse, sys
from simulator.commands import explore
parser = argparse.ArgumentParser()
explore.add(parser.add_subparsers())
options = parser.parse_args(["explore", *sys.argv[1:]])
sys.exit(options.run(options))
"""


def options(*arguments: str) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    explore.add(parser.add_subparsers())
    return parser.parse_args(["explore", *arguments])


@contextmanager
def served(*arguments: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Run the command in a process of its own; give the address that it prints."""
    with subprocess.Popen(
        [sys.executable, "-c", RUN, *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            assert process.stdout
            line = process.stdout.readline()
            assert line.startswith("The page is at http://127.0.0.1:"), process.communicate()
            yield line.split()[4], process
        finally:
            process.kill()


def test_this_machine_only_and_an_orderly_end(tmp_path: Path) -> None:
    file = tmp_path / "u.toml"
    file.write_text(UNBALANCED)
    with served(str(file)) as (address, process):
        with urlopen(f"{address}readings") as response:  # noqa: S310  (http, on this machine)
            answer = json.load(response)
            assert "server" not in response.headers
        assert [r["watts"] for r in answer["readings"]] == pytest.approx([2300, 1150, 1150])
        port = int(address.rsplit(":", 1)[1].strip("/"))
        assert listening_on(port) == {"127.0.0.1"}
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=10)
    assert (process.returncode, err) == (0, ""), out


def listening_on(port: int) -> set[str]:
    """Look up in the kernel's own table on which addresses a port listens."""
    found = set()
    for table in ("/proc/net/tcp", "/proc/net/tcp6"):
        for line in Path(table).read_text().splitlines()[1:]:
            address, number = line.split()[1].split(":")
            if line.split()[3] == "0A" and int(number, 16) == port:
                packed = bytes.fromhex(address)[::-1]
                found.add(socket.inet_ntoa(packed) if len(packed) == 4 else address)
    return found


def test_a_port_that_is_taken() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        chosen = options("--port", str(port))
        with pytest.raises(simulator.ScenarioError, match=rf"--port: port {port} cannot be had"):
            chosen.run(chosen)


@pytest.mark.parametrize("port", ["70000", "-1", "abc", "8_0"])
def test_no_port(port: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        options(f"--port={port}")
    assert stop.value.code == 2
    assert f"--port: expected a port from 0 to 65535, got '{port}'" in capsys.readouterr().err


def test_a_file_that_makes_no_sense(tmp_path: Path) -> None:
    file = tmp_path / "u.toml"
    file.write_text(UNBALANCED.replace("three wattmeters to neutral", "guessing"))
    chosen = options(str(file))
    with pytest.raises(simulator.ScenarioError, match=r"u\.toml: .*there is no method 'guessing'"):
        chosen.run(chosen)


def test_without_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    monkeypatch.delitem(sys.modules, "simulator.explore.server", raising=False)
    chosen = options()
    with pytest.raises(simulator.ScenarioError, match=r"uvicorn.*-m pip install starlette uvicorn"):
        chosen.run(chosen)


def test_opens_only_when_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)
    monkeypatch.setattr(
        "simulator.explore.server.serve", lambda _scenario, _port, ready: ready("http://here/")
    )
    for arguments in ([], ["--open"]):
        chosen = options(*arguments)
        assert chosen.run(chosen) == 0
    assert opened == ["http://here/"]


def test_page_stays_unloaded_until_wanted() -> None:
    code = "import sys, simulator.commands.explore; print('starlette' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ
    )
    assert done.stdout == "False\n"

"""Every command and every line of output the README prints is what the program says now.

To renew the printed output after a deliberate change: python tests/test_readme.py
"""

from __future__ import annotations

import contextlib
import doctest
import io
import os
import re
import runpy
import shlex
import tomllib
from pathlib import Path

import pytest

from simulator.cli import main

ROOT = Path(__file__).resolve().parents[1]
README = ROOT / "README.md"
BLOCK = re.compile(r"```console\n\$ (blondel .*)\n((?:.*\n)*?)```\n")


def output(command: str) -> str:
    printed = io.StringIO()
    with contextlib.chdir(ROOT), contextlib.redirect_stdout(printed):
        main(shlex.split(command)[1:])
    return "".join(f"{line.rstrip()}\n" for line in printed.getvalue().splitlines())


@pytest.mark.parametrize(("command", "printed"), BLOCK.findall(README.read_text()))
def test_printed_output_is_true(command: str, printed: str) -> None:
    assert printed == output(command)


def test_there_are_blocks_to_test() -> None:
    assert len(BLOCK.findall(README.read_text())) >= 3


def test_first_scenario_is_the_shipped_one() -> None:
    shown = re.search(r"```toml\n((?:.*\n)*?)```", README.read_text())
    assert shown is not None
    document = tomllib.loads((ROOT / "scenarios/a-first-measurement.toml").read_text())
    del document["description"]
    assert tomllib.loads(shown[1]) == document


def test_python_example(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert doctest.testfile(str(README), module_relative=False).failed == 0


def test_exactly_one_test_command() -> None:
    commands = re.findall(r"^python3 -m venv .*pytest -n auto$", README.read_text(), re.MULTILINE)
    assert len(commands) == 1


def texts(svg: Path) -> list[str]:
    return re.findall(r"<text[^>]*>(.*?)</text>", svg.read_text(), re.DOTALL)


def test_pictures_are_what_the_program_draws(tmp_path: Path) -> None:
    """By their words: the bytes may differ between versions of matplotlib."""
    script = runpy.run_path(str(ROOT / ".readme/draw.py"))
    script["draw"](tmp_path)
    drawn = {svg.name: texts(svg) for svg in tmp_path.glob("*.svg")}
    assert drawn == {svg.name: texts(svg) for svg in (ROOT / ".readme").glob("*.svg")}
    assert all(f"(.readme/{name})" in README.read_text() for name in drawn)
    assert len(drawn) == 4


if __name__ == "__main__":
    os.environ.setdefault("COLUMNS", "80")
    text = README.read_text()
    README.write_text(BLOCK.sub(lambda m: f"```console\n$ {m[1]}\n{output(m[1])}```\n", text))

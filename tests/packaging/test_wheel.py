"""What `bash .ci/wheel` installed is whole, and works without the checkout."""

from __future__ import annotations

import shutil
import subprocess
import sys
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path

import pytest

import simulator

pytestmark = pytest.mark.packaging

HERE = Path(__file__).parents[2]  # where `.ci/wheel` laid tests, scenarios and the list of files
PACKAGE = Path(simulator.__file__).parent
COMPLETES = """eval "$(blondel completion bash)"
COMP_WORDS=(blondel scenarios lost); COMP_CWORD=2; _blondel; printf '%s\\n' "${COMPREPLY[@]}"
"""


def blondel(*arguments: str, folder: Path) -> str:
    command = [str(Path(sys.executable).parent / "blondel"), *arguments]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    assert done.stderr == ""
    return done.stdout


def test_the_wheel_is_tested_not_a_checkout() -> None:
    assert PACKAGE.parent.name == "site-packages"
    assert PACKAGE.is_relative_to(sys.prefix)


def test_every_tracked_file_is_in_it() -> None:
    tracked = (HERE / "tracked").read_text().splitlines()
    places = [
        PACKAGE / "data" / name if name.startswith("scenarios/") else PACKAGE.parent / name
        for name in tracked
    ]
    assert len(places) > 100
    assert not [place for place in places if not place.is_file()]


def test_version_is_that_of_the_distribution(tmp_path: Path) -> None:
    assert blondel("--version", folder=tmp_path) == f"blondel {version('blondel')}\n"


def test_from_the_list_to_a_reading_a_picture_and_a_page(tmp_path: Path) -> None:
    assert "\nlost-neutral\n" in blondel("scenarios", folder=tmp_path)
    blondel("scenarios", "lost-neutral", "--out", "mine.toml", folder=tmp_path)
    mine, source = tmp_path / "mine.toml", HERE / "scenarios/lost-neutral.toml"
    assert mine.read_bytes() == source.read_bytes()
    assert "5265.8 W" in blondel("read", "mine.toml", folder=tmp_path)  # as its own comment says
    blondel("draw", "mine.toml", "--out", "mine.svg", folder=tmp_path)
    assert (tmp_path / "mine.svg").stat().st_size > 0
    blondel("practice", "--out", "sheet.html", folder=tmp_path)
    assert "<style>" in (tmp_path / "sheet.html").read_text(encoding="utf-8")


def test_module_is_the_command(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "simulator", "methods"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout == blondel("methods", folder=tmp_path)


def test_a_shell_completes_it() -> None:
    asked = subprocess.run(
        [str(shutil.which("bash")), "-c", COMPLETES],
        env={"PATH": f"{Path(sys.executable).parent}:/usr/bin:/bin"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert (asked.stdout, asked.stderr) == ("lost-neutral\n", "")


def test_the_page_says_which_extra_it_lacks(tmp_path: Path) -> None:
    assert find_spec("starlette") is None  # the wheel is installed without extras
    done = subprocess.run(
        [sys.executable, "-m", "simulator", "explore"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (2, "")
    (message,) = done.stderr.splitlines()
    assert message.endswith(
        f"which is not installed: {sys.executable} -m pip install starlette uvicorn"
    )

"""The shipped scenarios by name, and `blondel scenarios`."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from simulator.commands import scenarios
from simulator.errors import ScenarioError
from simulator.shipped import shipped_scenario, shipped_scenarios

if TYPE_CHECKING:
    from collections.abc import Callable

FOLDER = Path(__file__).parents[1] / "scenarios"
NAME = "lost-neutral"
TEXT = (FOLDER / f"{NAME}.toml").read_text(encoding="utf-8")

Run = tuple[int, str]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., Run]:
    parser = argparse.ArgumentParser()
    scenarios.add(parser.add_subparsers())

    def run(*arguments: str | Path) -> Run:
        options = parser.parse_args(["scenarios", *map(str, arguments)])
        return options.run(options), capsys.readouterr().out

    return run


def test_all_of_the_folder_in_order() -> None:
    names = [scenario.name for scenario in shipped_scenarios()]
    assert names == sorted(path.stem for path in FOLDER.glob("*.toml"))
    assert len(names) >= 14  # what issue 2 asks for


def test_list_says_what_to_look_for(run: Callable[..., Run]) -> None:
    status, out = run()
    assert status == 0
    words = " ".join(out.split())
    for path in FOLDER.glob("*.toml"):
        first, second = path.read_text(encoding="utf-8").splitlines()[:2]
        assert f"{path.stem} {first.strip('# ')} {second.strip('# ')}" in words
    assert max(map(len, out.splitlines())) <= 100


def test_list_for_machines(run: Callable[..., Run]) -> None:
    listed = json.loads(run("--json")[1])["scenarios"]
    assert {row["name"] for row in listed} == {path.stem for path in FOLDER.glob("*.toml")}
    assert all(row["look_for"].startswith("Look ") and row["title"] for row in listed)


@pytest.mark.parametrize("name", [NAME, f"{NAME}.toml"])
def test_one_is_printed_as_it_is(name: str, run: Callable[..., Run]) -> None:
    assert run(name) == (0, TEXT)
    assert json.loads(run(name, "--json")[1])["toml"] == TEXT


def test_one_is_written_but_not_over_another(run: Callable[..., Run], tmp_path: Path) -> None:
    out = tmp_path / "mine.toml"
    assert run(NAME, "--out", out) == (0, "")
    assert out.read_text(encoding="utf-8") == TEXT
    out.write_text("edited")
    with pytest.raises(ScenarioError, match=r"mine\.toml: the file exists; --overwrite"):
        run(NAME, "--out", out)
    assert out.read_text() == "edited"
    assert run(NAME, "--out", out, "--overwrite")[0] == 0
    assert out.read_text(encoding="utf-8") == TEXT


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("lost-nutral", "did you mean 'lost-neutral'?"),
        ("quite other", "'blondel scenarios' lists them"),
        ("../lost-neutral", "did you mean 'lost-neutral'?"),
        ("", "'blondel scenarios' lists them"),
    ],
)
def test_unknown_name(name: str, hint: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        shipped_scenario(name)
    assert str(caught.value) == f"there is no shipped scenario '{name}'; {hint}"


@pytest.mark.parametrize("arguments", [["--out", "x"], [NAME, "--out", "x", "--json"]])
def test_options_that_do_not_fit(arguments: list[str], run: Callable[..., Run]) -> None:
    with pytest.raises(ScenarioError, match="--out"):
        run(*arguments)

"""``blondel read --uncertainty``."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from simulator.cli import main

FILE = str(Path(__file__).parents[1] / "scenarios/a-first-measurement.toml")


def test_text(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["read", FILE, "--uncertainty"]) == 0
    out = capsys.readouterr().out
    assert "budget of total W" in out
    # derived: class 0.5 of 480 V · 10 A is ±24 W, u = 24/√3 = 13.9 W each, 19.6 W in the sum
    assert "±24 W" in out


def test_json(capsys: pytest.CaptureFixture[str]) -> None:
    tolerance = ["--tolerance", "supply: voltage = 1 %", "--seed", "7"]
    assert main(["read", FILE, "--uncertainty", "--json", *tolerance]) == 0
    first = json.loads(capsys.readouterr().out)["uncertainty"]
    main(["read", FILE, "--uncertainty", "--json", *tolerance])
    assert json.loads(capsys.readouterr().out)["uncertainty"] == first


@pytest.mark.parametrize(
    "wrong",
    [
        ["--tolerance", "supply: voltage = 1 %"],
        ["--uncertainty", "--tolerance", "supply voltage"],
        ["--uncertainty", "--tolerance", "belt: L1 = 1 %"],
        ["--uncertainty", "--shared", "nobody"],
    ],
)
def test_refusals(wrong: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["read", FILE, *wrong]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("blondel: ")
    assert err.count("\n") == 1


@pytest.mark.parametrize("seed", ["-1", "x", "1e3", "9" * 30])
def test_seed(seed: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["read", FILE, "--seed", seed])
    assert stop.value.code == 2
    assert "whole number" in capsys.readouterr().err

"""``blondel plan`` from the command line: options, files, exit status, one clear message."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import pytest

from tests.reports.plan.base import MOTOR

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def run(blondel):
    return partial(blondel, "plan")


@pytest.fixture
def motor(tmp_path: Path) -> Path:
    path = tmp_path / "motor.toml"
    path.write_text(MOTOR, encoding="utf-8")
    return path


def test_need_3_from_scenario_and_options(run, motor, tmp_path) -> None:
    """The numbers of need 3 (design/needs.md), to its digits, in the file that is taken along."""
    out = tmp_path / "plan.md"
    options = ("--power-factor", "0.79 lag..0.85 lag", "--no-load", "35 %, 0.15 lag")
    assert run(motor, "--out", out, *options) == (0, "", "")
    names = {p.name for p in tmp_path.iterdir()}
    assert names == {"motor.toml", "plan.md", "plan-figure-1.svg", "plan-figure-2.svg"}
    rows = {}
    for line in out.read_text("utf-8").replace("\\", "").splitlines():
        first, *cells = (cell.strip() for cell in line.strip("| ").split("|"))
        rows.setdefault(first, [c.replace("−", "-") for c in cells])
    read = {
        "W1, 10 × shown, W": (4574, 4948, 5322),
        "W2, 10 × shown, W": (12001, 11627, 11253),
        "W1 + W2, W": (16575, 16575, 16575),
    }
    for label, values in read.items():
        assert [float(c) for c in rows[label][:3]] == pytest.approx(values, abs=0.51)
    amperes = [float(c) for c in rows["current in L1, A"][:3]]
    assert amperes == pytest.approx((30.28, 29.17, 28.15), abs=0.0051)
    assert [rows[f"W{k} reading, W"][1] for k in (1, 2)] == ["494.8", "1162.7"]
    assert rows["W1 current, A"][1] == "2.917"
    text = out.read_text("utf-8")
    idle = text[text.index("at no load") :].splitlines()[2:4]
    watts = [float(line.split("|")[2].strip().replace("−", "-")) for line in idle]
    assert watts == pytest.approx((-1489, 2550), abs=0.51)


def test_html_and_overwrite(run, motor, tmp_path) -> None:
    out = tmp_path / "plan.html"
    assert run(motor, "--out", out)[0] == 0
    first = out.read_text("utf-8")
    status, text, error = run(motor, "--out", out)
    assert (status, text) == (2, "")
    assert "the file exists; --overwrite replaces it" in error
    assert out.read_text("utf-8") == first
    out.write_text("an old plan", encoding="utf-8")
    assert run(motor, "--out", out, "--overwrite")[0] == 0
    assert out.read_text("utf-8") == first
    assert {p.name for p in tmp_path.iterdir()} == {"motor.toml", "plan.html"}


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--out", "plan.txt"], "plan.txt: expected a file that ends in .html or .md"),
        (["--span", "wide"], "--span: expected a number between 0 and 1, got 'wide'"),
        (["--span", "nan"], "--span: expected a number between 0 and 1, got 'nan'"),
        (["--span", "0.9"], "--span: 0.9 below the load's own power factor of 0.82 leaves nothing"),
        (["--power-factor", "0.9 lag..0.95 lag"], "does not lie within power factor 0.9 lag to"),
        (["--power-factor", "high"], "--power-factor: expected a power factor"),
        (["--power-factor", "0.8 lag..0.9 lag..1"], "--power-factor: expected two values"),
        (["--power-factor", "0 lag..0.9 lag"], "must be above 0"),
        (["--no-load", "35 %"], "--no-load: expected a share above 0 %"),
        (["--no-load", "-1 %, 0.15 lag"], "--no-load: expected a share above 0 %"),
        (["--no-load", "35 %, low"], "--no-load: expected a power factor"),
        (["--span", "0.1", "--power-factor", "0.7 lag..0.9 lag"], "not allowed with argument"),
    ],
)
def test_refused(run, motor, tmp_path, options: list[str], message: str) -> None:
    given = options if "--out" in options else [*options, "--out", str(tmp_path / "plan.html")]
    status, text, error = run(motor, *given)
    assert (status, text) == (2, "")
    assert message in error
    assert error.count("\n") == 1
    assert [p.name for p in tmp_path.iterdir()] == ["motor.toml"]


def test_out_is_asked_for(run, motor) -> None:
    status, _, error = run(motor)
    assert status == 2
    assert "--out" in error


def test_no_wattmeter_names_the_file(run, tmp_path) -> None:
    path = tmp_path / "bare.toml"
    path.write_text(MOTOR[: MOTOR.index("[method]")].replace("[instrument", "[instrument"))
    status, _, error = run(path, "--out", tmp_path / "plan.html")
    assert status == 2
    assert error.startswith(f"blondel: {path}: wattmeter: there is no wattmeter")

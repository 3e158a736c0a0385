"""``blondel infer`` from the command line: options, exit status, one clear message."""

from __future__ import annotations

import io
import json
import sys
from functools import partial
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from pathlib import Path

SCENARIO = """
title = "Heater"
supply = {{ wires = 3, voltage = "400 V" }}
load = [ {{ connection = "line-to-line", "L1-L2" = "40 ohm" }} ]
method = {{ name = "two wattmeters", common = "{common}" }}
"""


@pytest.fixture
def run(blondel):
    return partial(blondel, "infer")


@pytest.fixture
def result(run):
    def run_json(*arguments: str) -> dict[str, Any]:
        status, out, err = run(*arguments, "--json")
        assert (status, err) == (0, "")
        found: dict[str, Any] = json.loads(out)
        return found

    return run_json


@pytest.fixture
def heater(tmp_path: Path):
    def write(common: str = "L2") -> str:
        path = tmp_path / f"heater-{common}.toml"
        path.write_text(SCENARIO.format(common=common), encoding="utf-8")
        return str(path)

    return write


def test_the_example_of_the_manual(result) -> None:
    # needs.md row 8 (CALC): readings in the ratio 1 : 2 mean power factor 0.866 lag
    found = result("W1=2kW", "W2=4kW")
    assert found["active_w"] == 6000
    assert found["power_factor"] == pytest.approx(0.866, abs=5e-5)
    assert found["sense"] == "lag"
    assert found["impedance_ohm"] is None


def test_all_options_reach_the_inference(result) -> None:
    # base case B, needs.md (CALC): 0.8 lag, 23.09 ohm, 10 A; in the other sequence exchanged
    options = ("--voltage", "400V", "--current", "10A", "--tolerance", "1 %", "--common", "L1")
    found = result("W2=1571.3W", "W1=3971.3W", "--sequence", "L3-L2-L1", *options)
    assert (found["power_factor"], found["sense"]) == (pytest.approx(0.8, abs=1e-4), "lag")
    assert found["impedance_ohm"]["star"]["im"] == pytest.approx(13.86, abs=0.005)
    assert all(check["holds"] for check in found["checks"])
    assert any("common line L1 in the sequence L3-L2-L1" in step for step in found["steps"])
    tight = result("W1=1571.3W", "W2=3971.3W", "--voltage", "400V", "--current", "10.15A")
    assert tight["refused"] is None
    tight = result("W1=1571.3W", "W2=3971.3W", *options[:2], "--current", "10.15A", *options[4:6])
    assert tight["refused"] is not None


def test_one_and_three_readings(result) -> None:
    # the issue's own example: 1600 W on a balanced 400 V star: 4.8 kW, about 33 ohm per phase
    found = result("W=1600W", "--voltage", "400V", "--power-factor", "1")
    assert found["active_w"] == 4800
    assert found["impedance_ohm"]["star"]["re"] == pytest.approx(33.3, abs=0.05)
    found = result("W1=1kW", "W2=2kW", "W3=3kW")
    assert (found["active_w"], found["power_factor"]) == (6000, None)


def test_unbalanced_is_refused_with_the_total(result, run) -> None:
    found = result("W1=2kW", "W2=4kW", "--unbalanced")
    assert found["active_w"] == 6000
    assert found["reactive_var"] is found["power_factor"] is found["impedance_ohm"] is None
    assert found["refused"].startswith("The load is unbalanced")
    status, out, _ = run("W1=2kW", "W2=4kW", "--unbalanced")
    assert status == 0
    assert found["refused"] in out


def test_scenario(result, heater) -> None:
    # needs.md row 7, R (CALC): claims 0.5, 0.5, 1.0; vector 1.000, arithmetic 0.866
    for common, claimed in (("L1", 0.5), ("L2", 0.5), ("L3", 1.0)):
        found = result("--scenario", heater(common))
        assert found["active_w"] == pytest.approx(4000)
        assert found["power_factor"] is None
        assert found["would_have_claimed"]["power_factor"] == pytest.approx(claimed)
        assert found["true"]["power_factor"]["arithmetic"] == pytest.approx(0.866, abs=5e-4)
    replaced = result("--scenario", heater(), "W2=1kW")
    assert replaced["active_w"] == pytest.approx(5000)


def test_text_is_a_working(run) -> None:
    status, out, err = run("W1=-694.6W", "W2=3064.2W", "--voltage", "400V")
    assert (status, err) == (0, "")
    assert out.startswith("Working\n  P = W1 + W2 = (−694.6 W) + 3064.2 W = 2369.6 W\n")
    assert "Lead test" in out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "got none"),
        (["W1=2kW"], "expected the readings W, or W1 and W2, or W1, W2 and W3"),
        (["W1=2kW", "W3=2kW"], "got W1 and W3"),
        (["A=2kW", "B=2kW"], "got A and B"),
        (
            ["2kW"],
            "expected each reading as NAME=READING without spaces, for example 'W1=-2kW W2=4kW'",
        ),
        (
            ["W1=-1.04", "kW", "W2=2.83", "kW"],
            "without spaces, for example 'W1=-2kW W2=4kW', got 'kW'",
        ),
        (["W1=1kW,W2=2kW"], "W2=4kW', got 'W1=1kW,W2=2kW'"),
        (["W1=2kW", "W1=3kW"], "W1: this reading is given twice"),
        (["W1=2kV", "W2=4kW"], "W1: expected an active power, for example '1.6 kW', got '2kV'"),
        (["W1=nan", "W2=4kW"], "W1: expected an active power"),
        (["W1=2kW", "W2=4kW", "--voltage", "4A"], "--voltage: expected a voltage above 0 V"),
        (["W1=2kW", "W2=4kW", "--current", "0A"], "--current: expected a current above 0 A"),
        (["W=2kW", "--power-factor", "0.8"], "--power-factor: expected a power factor from 0 to 1"),
        (["W1=2kW", "W2=4kW", "--tolerance", "2"], "--tolerance: expected a percentage"),
        (["W1=2kW", "W2=4kW", "--tolerance", "0 %"], "--tolerance: expected more than 0 %"),
        (["W1=2kW", "W2=4kW", "--tolerance", "100 %"], "--tolerance: expected more than 0 %"),
        (["W=2kW", "--common", "L1"], "--common and --sequence belong to two wattmeters"),
        (["W1=2kW", "W2=4kW", "--power-factor", "1"], "two readings already say it"),
        (["W=2kW", "--unbalanced", "--power-factor", "1"], "an unbalanced load has none"),
        (["W1=2kW", "W2=4kW", "--common", "L4"], "L4"),
        (["W1=2kW", "W2=4kW", "--sequence", "ABC"], "ABC"),
        (["--scenario", "missing.toml"], "missing.toml: cannot read it"),
    ],
)
@pytest.mark.parametrize("more", [[], ["--json"]])
def test_wrong_usage(run, arguments, message, more) -> None:
    status, out, err = run(*arguments, *more)
    assert (status, out) == (2, "")
    assert message in err
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_wrong_usage_with_a_scenario(run, heater) -> None:
    file = heater()
    status, out, err = run("--scenario", file, "W9=1kW")
    assert (status, out) == (2, "")
    assert f"{file}: W9: no such reading counts, expected W1 or W2" in err
    for option in (["--common", "L2"], ["--unbalanced"], ["--power-factor", "1"]):
        status, _, err = run("--scenario", file, *option)
        assert status == 2
        assert f"leave {option[0]} out: the scenario says it" in err


def test_no_solution(run, tmp_path) -> None:
    path = tmp_path / "floating.toml"
    text = SCENARIO.format(common="L2").replace('"L1-L2" = "40 ohm"', '"L1-L2" = "0 ohm"')
    path.write_text(text, encoding="utf-8")
    status, out, err = run("--scenario", str(path))
    assert (status, out) == (3, "")
    assert err.startswith(f"blondel: {path}: ")


def test_standard_input(result, monkeypatch) -> None:
    text = SCENARIO.format(common="L3").encode()
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text)))
    found = result("--scenario", "-")
    assert found["would_have_claimed"]["power_factor"] == pytest.approx(1)

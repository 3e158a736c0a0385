"""``blondel vary`` from the command line: table, JSON, CSV, curves, one clear message."""

from __future__ import annotations

import csv
import fcntl
import io
import json
import math
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import simulator
from simulator.studies.chunks import CHUNK

ROOT = Path(__file__).parents[1]
SCENARIO = """
title = "Ovens"
[supply]
wires = 4
voltage = "400 V"
[[load]]
name = "ovens"
connection = "star"
star_point = "neutral"
L1 = "20 ohm"
L2 = "40 ohm"
L3 = "20 ohm"
[[wattmeter]]
name = "W1"
current = "L1"
voltage = ["L1", "L2"]
[[wattmeter]]
name = "W2"
current = "L3"
voltage = ["L3", "L2"]
[total]
power = "W1 + W2"
"""


@pytest.fixture
def run(blondel):
    return partial(blondel, "vary")


@pytest.fixture
def result(run):
    def run_json(*arguments: str) -> dict[str, Any]:
        status, out, err = run(*arguments, "--json")
        assert (status, err) == (0, "")
        found: dict[str, Any] = json.loads(out)
        return found

    return run_json


@pytest.fixture
def refused(run):
    def run_refused(*arguments: str, status: int = 2) -> str:
        code, out, err = run(*arguments)
        assert (code, out) == (status, "")
        assert err.startswith("blondel")
        assert err.count("\n") == 1
        message: str = err
        return message

    return run_refused


@pytest.fixture
def ovens(tmp_path: Path) -> str:
    path = tmp_path / "ovens.toml"
    path.write_text(SCENARIO, encoding="utf-8")
    return str(path)


def w1(ohm: float) -> float:
    return 400 * 400 / 2 / ohm  # U·V·cos 30°/Z with V = U/√3


def test_a_list_of_values_is_a_table(run, ovens: str) -> None:
    values = ("--quantity", "ovens: L1", "--values", "10 ohm, 20 ohm, open")
    status, out, err = run(ovens, *values)
    assert (status, err) == (0, "")
    lines = [line.split() for line in out.splitlines()]
    assert out.startswith("Ovens\n3 cases: ovens: L1\n")
    # 8000, 4000 and no watts; the true power is 16000/3·10/... : V²/Z of each branch
    V2 = 400**2 / 3
    for shown, (ohm, true) in zip(
        lines[-3:], [(10, V2 * 0.175), (20, V2 * 0.125), (math.inf, V2 * 0.075)], strict=True
    ):
        own = 0.0 if math.isinf(ohm) else w1(ohm)
        numbers = [float(x) for x in shown if x not in ("open", "10", "20", "ohm")]
        assert numbers[:4] == pytest.approx([own, 4000, own + 4000, true], abs=0.06)
        assert numbers[5] == pytest.approx(100 * (own + 4000 - true) / true, abs=6e-4)
    assert "open" in lines[-1]


def test_several_quantities_are_a_grid_or_go_together(result, ovens: str) -> None:
    quantities = ("--quantity", "ovens: L1", "--values", "10 ohm, 20 ohm")
    quantities += ("--quantity", "ovens: L3", "--from", "10 ohm", "--to", "40 ohm", "--steps", "2")
    grid = result(ovens, *quantities)
    assert [column["name"] for column in grid["columns"][:4]] == [
        "ovens: L1",
        "ovens: L3",
        "W1",
        "W2",
    ]
    assert [column["unit"] for column in grid["columns"]] == [
        "ohm",
        "ohm",
        "W",
        "W",
        "W",
        "W",
        "W",
        "%",
    ]
    pairs = [(10, 10), (10, 40), (20, 10), (20, 40)]
    assert [tuple(row[:2]) for row in grid["rows"]] == pairs
    for (one, other), row in zip(pairs, grid["rows"], strict=True):
        assert row[2:4] == pytest.approx([w1(one), w1(other)], rel=1e-12)
    together = result(ovens, *quantities, "--together")
    assert [tuple(row[:2]) for row in together["rows"]] == [(10, 10), (20, 40)]
    assert (together["cases"], together["seed"], together["failed"]) == (2, None, 0)


def test_logarithmic_steps_and_complex_values(result, ovens: str) -> None:
    steps = ("--from", "1 ohm", "--to", "100 ohm", "--steps", "3", "--logarithmic")
    found = result(ovens, "--quantity", "ovens: L1", *steps)
    assert [row[0] for row in found["rows"]] == pytest.approx([1, 10, 100])
    found = result(ovens, "--quantity", "ovens: L1", "--values", "50 ohm, 0.8 lag; 3+4j ohm")
    headings = [(column["name"], column["unit"]) for column in found["columns"][:2]]
    assert headings == [("ovens: L1, resistance", "ohm"), ("ovens: L1, reactance", "ohm")]
    assert [row[:2] for row in found["rows"]] == [pytest.approx([40, 30]), [3, 4]]
    found = result(ovens, "--quantity", "supply: L2", "--values", "200 V")
    assert found["rows"][0][:2] == pytest.approx([200, -120])
    found = result(ovens, "--quantity", "ovens: power_factor", "--values", "0.5 lead, 1")
    assert found["columns"][0]["unit"] == "lead negative"
    assert [row[0] for row in found["rows"]] == [-0.5, 1]


def test_csv_has_a_row_for_each_case_and_units_in_the_header(run, ovens, tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    values = ("--quantity", "ovens: L1", "--values", "10 ohm, open", "--csv", str(out))
    assert run(ovens, *values)[0] == 0
    rows = list(csv.reader(io.StringIO(out.read_text(encoding="utf-8"))))
    assert rows[0] == [
        "case",
        "ovens: L1 [ohm]",
        "W1 [W]",
        "W2 [W]",
        "indicated total [W]",
        "true power [W]",
        "error of the total [W]",
        "error of the total [%]",
        "remark",
    ]
    assert [row[:2] for row in rows[1:]] == [["1", "10.0"], ["2", "open"]]
    assert float(rows[1][2]) == pytest.approx(8000, rel=1e-12)
    assert run(ovens, *values)[2].endswith("out.csv: the file exists; --overwrite replaces it\n")
    assert run(ovens, *values, "--overwrite")[0] == 0
    study = simulator.parse_scenario(SCENARIO)
    from simulator.studies.run import vary as api  # noqa: PLC0415

    assert api(study, {"ovens: L1": ["10 ohm", "open"]}).to_csv() == out.read_text(encoding="utf-8")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out.csv", "ovens.toml"]


def test_a_long_table_shows_its_ends(run, ovens: str) -> None:
    steps = ("--from", "1 ohm", "--to", "100 ohm", "--steps", "100")
    out = run(ovens, "--quantity", "ovens: L1", *steps)[1]
    lines = out.splitlines()[3:]
    shown = [line.split()[0] for line in lines if line.strip().endswith(tuple("0123456789"))]
    assert shown == [str(k) for k in (*range(1, 13), *range(89, 101))]
    assert any(line.split() == ["…"] * 7 for line in lines)


def test_monte_carlo_says_mean_spread_and_extremes(run, result, ovens: str) -> None:
    draw = ("--monte-carlo", "20000", "--draw", "ovens: L1 normal 2 %", "--seed", "3")
    status, out, _ = run(ovens, *draw)
    assert status == 0
    assert "20000 cases drawn at random, seed 3: ovens: L1" in out
    row = next(line.split() for line in out.splitlines() if line.startswith("W1 W"))
    # derived: E(1/(1 + x)) ≈ 1 + σ², standard deviation ≈ σ, ends at ±1.96 σ (1 ∓ 1.96 σ)
    mean, deviation, low, high = (float(x) for x in row[2:6])
    assert mean == pytest.approx(4000 * 1.0004, abs=4 * 80 / math.sqrt(20000))
    assert deviation == pytest.approx(80, rel=0.03)
    assert low == pytest.approx(4000 / (1 + 1.96 * 0.02), abs=10)
    assert high == pytest.approx(4000 / (1 - 1.96 * 0.02), abs=10)
    found = result(ovens, *draw)
    assert len(found["rows"]) == 20000
    W1 = np.array([row[1] for row in found["rows"]])
    (statistics,) = (s for s in found["statistics"] if s["name"] == "W1")
    assert statistics["mean"] == pytest.approx(W1.mean(), rel=1e-12)
    assert statistics["standard_deviation"] == pytest.approx(W1.std(ddof=1), rel=1e-9)
    assert [statistics["smallest"], statistics["largest"]] == [W1.min(), W1.max()]
    assert statistics["interval_95"] == pytest.approx(np.quantile(W1, [0.025, 0.975]), abs=0.2)
    assert found["seed"] == 3
    again = result(ovens, *draw, "--statistics")
    assert "rows" not in again
    assert again["statistics"] == found["statistics"]


def test_correlated_draws(result, ovens: str) -> None:
    draw = ("--monte-carlo", "5000", "--draw", "ovens: L1 normal 2 %")
    draw += ("--draw", "ovens: L3 normal 2 %", "--correlation", "ovens: L1 and ovens: L3 = 0.9")
    rows = np.array([row[:2] for row in result(ovens, *draw)["rows"]])
    assert np.corrcoef(rows.T)[0, 1] == pytest.approx(0.9, abs=0.02)


def test_a_rating_that_follows_the_voltage_is_noted(run, result, tmp_path: Path) -> None:
    rated = SCENARIO.split("star_point", maxsplit=1)[0].replace("star", "delta")
    rated += (
        'total = { power = "4 kW", power_factor = "1" }\n[[watt' + SCENARIO.split("[[watt", 1)[1]
    )
    path = tmp_path / "rated.toml"
    path.write_text(rated, encoding="utf-8")
    voltage = ("--quantity", "supply: voltage", "--values", "380 V, 420 V")
    assert "Note: load 'ovens' is rated at the supply's voltage" in run(str(path), *voltage)[1]
    found = result(str(path), *voltage)
    assert len(found["notes"]) == 1
    true = [column["name"] for column in found["columns"]].index("true power")
    assert [row[true] for row in found["rows"]] == pytest.approx([4000, 4000], rel=1e-12)
    path.write_text(rated.replace('"1" }', '"1", at = "400 V" }'), encoding="utf-8")
    found = result(str(path), *voltage)
    assert found["notes"] == []
    # derived: an impedance takes power as the square of the voltage
    watts = [4000 * (380 / 400) ** 2, 4000 * (420 / 400) ** 2]
    assert [row[true] for row in found["rows"]] == pytest.approx(watts, rel=1e-12)


def test_without_a_quantity_it_lists_what_can_vary(run, result, ovens: str) -> None:
    status, out, _ = run(ovens)
    assert status == 0
    assert ["ovens:", "L2", "40", "ohm"] in [line.split() for line in out.splitlines()]
    listed = {q["name"]: q for q in result(ovens)["quantities"]}
    assert listed["ovens: L2"] == {"name": "ovens: L2", "unit": "ohm", "value": "40 ohm"}
    assert listed["ovens: each"]["value"] is None


def test_curves_go_to_a_file(run, ovens: str, tmp_path: Path) -> None:
    out = tmp_path / "curve.svg"
    steps = ("--from", "1 ohm", "--to", "100 ohm", "--steps", "30", "--curve", str(out))
    assert run(ovens, "--quantity", "ovens: L1", *steps)[0] == 0
    assert "readings-curve-W1" in out.read_text(encoding="utf-8")
    assert "the file exists" in run(ovens, "--quantity", "ovens: L1", *steps)[2]


def test_cases_without_a_solution_are_named(run, result, tmp_path: Path) -> None:
    path = tmp_path / "isolated.toml"
    text = SCENARIO.replace('"neutral"', '"isolated"').replace('L2 = "40 ohm"', 'L2 = "open"')
    path.write_text(text, encoding="utf-8")
    both: list[str] = []
    for line in ("L1", "L3"):
        both += ["--quantity", f"ovens: {line}", "--values", "20 ohm, open"]
    status, out, _ = run(str(path), *both)
    assert status == 0
    assert "Case 4 has no results: nothing fixes the potential of 'star point of ovens'" in out
    found = result(str(path), *both)
    assert found["failed"] == 1
    assert found["messages"][0]["case"] == 4
    assert found["rows"][3] == ["open", "open", None, None, None, None, None, None]
    assert None not in found["rows"][0]
    alone = ["--quantity", "ovens: L1", "--values", "open", "--quantity", "ovens: L3"]
    status, out, err = run(str(path), *alone, "--values", "open", "--json")
    assert (status, out) == (3, "")
    assert "no case has results; the first one: nothing fixes the potential" in err


QUANTITY = ("--quantity", "ovens: L1")
LIST = (*QUANTITY, "--values", "1 ohm, 2 ohm")
LONG = ("--from", "1 ohm", "--to", "9 ohm", "--steps", "1000000")
QUANTITY_2 = ("--quantity", "ovens: L2")
DRAW = ("--monte-carlo", "10", "--draw", "ovens: L1 normal 2 %")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--values", "1 ohm"), "--values belongs to a --quantity, which must stand before it"),
        ((*LIST, "--values", "3 ohm"), "--values is given twice for the quantity 'ovens: L1'"),
        (QUANTITY, "ovens: L1: --values, or --from, --to and --steps must follow it"),
        ((*QUANTITY, "--from", "1 ohm"), "ovens: L1: --to and --steps must follow it"),
        ((*LIST, "--from", "1 ohm"), "give either --values or --from"),
        ((*LIST, *LIST), "ovens: L1: it is given twice"),
        ((*QUANTITY, "--values", "1 V"), "expected an impedance, for example '33.1 ohm'"),
        ((*QUANTITY, "--values", ""), "expected an impedance, for example '33.1 ohm', got ''"),
        ((*QUANTITY, "--values", "1 ohm,,2 ohm"), "got ''"),
        (
            (*QUANTITY, "--from", "1 ohm", "--to", "2 ohm", "--steps", "one"),
            "ovens: L1, --steps: expected a whole number of at least 2, got 'one'",
        ),
        (
            (*QUANTITY, "--from", "0 ohm", "--to", "2 ohm", "--steps", "3", "--logarithmic"),
            "there are no logarithmic steps from '0 ohm' to '2 ohm'",
        ),
        (("--quantity", "oven: L1", "--values", "1 ohm"), "did you mean 'ovens: L1'?"),
        (("--draw", "ovens: L1 normal 2 %"), "--draw: it belongs to --monte-carlo"),
        (("--seed", "3"), "--seed: it belongs to --monte-carlo"),
        (("--correlation", "x"), "--correlation: it belongs to --monte-carlo"),
        (("--monte-carlo", "10"), "say what is drawn, for example --draw"),
        ((*DRAW, *LIST), "what is drawn at random is said by --draw"),
        ((*DRAW, "--curve", "x.svg"), "curves need quantities that vary step by step"),
        ((*DRAW, "--together"), "it belongs to quantities that vary step by step"),
        ((*DRAW, "--seed", "-1"), "--seed: expected a whole number of at least 0, got '-1'"),
        (("--monte-carlo", "0", *DRAW[2:]), "expected a whole number of at least 1, got '0'"),
        ((*DRAW, "--draw", "ovens: L3 wide"), "expected a quantity, 'normal' or 'uniform'"),
        ((*DRAW, "--correlation", "ovens: L1 and ovens: L2 = 1"), "drawn are ovens: L1"),
        ((*DRAW, "--workers", "0"), "--workers: expected a whole number of at least 1"),
        ((*DRAW, "--statistics", "--csv", "x.csv"), "--statistics keeps no cases"),
        ((*LIST, "--csv", "/nowhere/x.csv"), "/nowhere/x.csv: cannot write it: No such file"),
        ((*LIST, "--curve", "x.gif"), "expected a file that ends in .svg, .png or .pdf"),
        (
            (*QUANTITY, *LONG, *QUANTITY_2, *LONG, "--curve", "x.svg"),
            "--curve: at most 6 curves of 20000 points can be drawn, not 1000000000000 cases",
        ),
        ((*LIST, "--keep", "/dev/null/x"), "/dev/null/x: cannot use it: Not a directory"),
    ],
)
def test_every_slip_gets_one_clear_message(refused, ovens: str, arguments, said: str) -> None:
    assert said in refused(ovens, *arguments)


def test_a_kept_study_goes_on_and_another_is_refused(run, refused, ovens: str, tmp_path) -> None:
    keep = ("--keep", str(tmp_path / "kept"))
    first = run(ovens, *DRAW, *keep)
    assert first == run(ovens, *DRAW, *keep)
    message = refused(ovens, *DRAW[:-1], "ovens: L1 normal 3 %", *keep)
    assert "it holds another study (different: distributions)" in message


def started(*arguments: str, **settings: Any) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "simulator", "vary", "ovens.toml", *arguments], text=True, **settings
    )


@pytest.fixture
def folder(ovens: str) -> Path:
    return Path(ovens).parent


def test_workers_give_the_same_bytes(folder: Path) -> None:
    draw = ("--monte-carlo", str(3 * CHUNK + 9), "--draw", "ovens: L1 normal 2 %", "--json")
    found = []
    for more in ((), ("--workers", "2")):
        process = started(*draw, "--statistics", *more, cwd=folder, stdout=subprocess.PIPE)
        found.append(process.communicate(timeout=60)[0])
        assert process.returncode == 0
    assert found[0] == found[1]
    assert json.loads(found[0])["statistics"][0]["count"] == 3 * CHUNK + 9


def test_a_terminal_sees_a_bar_and_an_interrupt_says_how_to_go_on(folder: Path) -> None:
    controller, terminal = pty.openpty()
    fcntl.ioctl(controller, termios.TIOCSWINSZ, struct.pack("HHHH", 25, 100, 0, 0))
    draw = ("--monte-carlo", "1000000000", "--draw", "ovens: L1 normal 2 %", "--statistics")
    more = ("--keep", "kept", "--json")
    process = started(*draw, *more, cwd=folder, stdout=subprocess.PIPE, stderr=terminal)
    os.close(terminal)
    seen, deadline = b"", time.monotonic() + 60

    def read_until(words: bytes) -> None:
        nonlocal seen
        while words not in seen:
            ready, _, _ = select.select([controller], [], [], deadline - time.monotonic())
            assert ready, f"no {words!r} in {seen!r}"
            seen += os.read(controller, 4096)

    try:
        read_until(b"cases/s")
        process.send_signal(signal.SIGINT)
        out, _ = process.communicate(timeout=30)
        read_until(b"goes on")
    finally:
        process.kill()
        process.wait()
        os.close(controller)
    assert process.returncode == 130
    assert out == ""
    text = seen.decode()
    assert "0%" in text
    assert "stopped; what is finished is in kept: the same command goes on" in text
    assert "Traceback" not in text
    assert list((folder / "kept").glob("chunk-*.npz"))


def test_a_killed_worker_is_told_and_nothing_half_written(folder: Path) -> None:
    draw = ("--monte-carlo", "1000000000", "--draw", "ovens: L1 normal 2 %", "--statistics")
    more = ("--keep", "kept", "--json", "--workers", "2")
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    process = started(*draw, *more, cwd=folder, **pipes)
    try:
        deadline = time.monotonic() + 60
        while not [*(folder / "kept").glob("chunk-*.npz")]:
            assert time.monotonic() < deadline
            time.sleep(0.05)
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
        for child in map(int, children):
            if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes():
                os.kill(child, signal.SIGKILL)
        out, err = process.communicate(timeout=60)
    finally:
        process.kill()
        process.wait()
    assert (process.returncode, out) == (2, "")
    assert "a worker process has been killed; the same command goes on" in err.splitlines()[-1]
    assert "Traceback" not in err


def test_a_pipe_sees_no_bar(folder: Path) -> None:
    draw = ("--monte-carlo", str(6 * CHUNK), "--draw", "ovens: L1 normal 2 %", "--statistics")
    process = started(*draw, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, "")
    assert "W1 W" in out

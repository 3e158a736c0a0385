"""The reference: sources in the README, examples in the docstrings, claims of the theory page."""

from __future__ import annotations

import cmath
import doctest
import math
import re
import runpy
from pathlib import Path

import numpy as np
import pytest

import simulator
from simulator.findings.exactness import LOADS, SUPPLIES, exactness_table, sense
from simulator.findings.worst_case import worst_case, worst_over
from tests.against_published.records import read_data
from tests.against_published.table import README, others, published, renew
from tests.against_published.test_worked_examples import SOURCE_ROUNDING

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / ".reference" / "theory.md"
TEXT = PAGE.read_text(encoding="utf-8")
EXAMPLE = ROOT / "scenarios" / "unequal-coils-four-wires.toml"
RNG = np.random.default_rng(1893)
ALPHA = cmath.rect(1, 2 * math.pi / 3)
SEQUENCE = np.array([1, ALPHA**2, ALPHA])
ONES, UNIT = np.ones((3, 3)), np.eye(3)
PI = UNIT - ONES / 3
W = np.array([1 / 4, 1 / 2, 1 / 4])  # 20, 10, 20 kΩ
V = 240 * SEQUENCE
I = V / np.array([20, 40, 40])


def normal(*shape: int) -> np.ndarray:
    return RNG.normal(size=shape) + 1j * RNG.normal(size=shape)


# ---------------------------------------------------------------- the README's table


def test_table_of_the_readme_is_the_generated_one() -> None:
    text = README.read_text(encoding="utf-8")
    assert text == renew(text)


def test_no_value_is_left_out_of_the_table() -> None:
    rows = published()
    assert sum(len(row.values) for row in rows) == sum(map(len, read_data("index").values()))
    assert len(rows + others()) <= 25


def test_every_value_of_the_table_is_in_one_column() -> None:
    for value in (value for row in published() + others() for value in row.values):
        agrees = value.distance <= 1 or (value.relative <= SOURCE_ROUNDING and not value.wrong)
        assert agrees != value.wrong, value


# ---------------------------------------------------------------- examples in the docstrings


@pytest.mark.parametrize("name", [n for n in simulator.__all__ if n[0].islower()])
def test_every_public_function_has_an_example(name: str) -> None:
    assert ">>>" in getattr(simulator, name).__doc__  # pytest --doctest-modules runs it


# ---------------------------------------------------------------- the theory page


def table(heading: str) -> list[list[str]]:
    """Cells of the page's table under a heading that begins so."""
    lines = TEXT[TEXT.index(f"\n| {heading}") :].strip().split("\n\n")[0].splitlines()
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def phasor(text: str) -> complex:
    rms, _, angle = text.partition(" ∠")
    degrees = float(angle.removesuffix("°").replace("−", "-") or 0)
    return cmath.rect(float(rms.split()[0]), math.radians(degrees))


def test_its_session() -> None:
    flags = doctest.NORMALIZE_WHITESPACE
    found = doctest.testfile(str(PAGE), module_relative=False, optionflags=flags)
    assert (found.failed, found.attempted > 5) == (0, True)


def test_its_figures_are_drawn(tmp_path: Path) -> None:
    runpy.run_path(str(ROOT / ".reference" / "build.py"))["draw"](tmp_path)
    assert {f.name for f in tmp_path.iterdir()} == set(re.findall(r"!\[.*?\]\((.*?)\)", TEXT))


def test_its_example_by_hand_and_by_the_program() -> None:
    # derived: Ohm's law, Millman's weights and W = Re(v·i*)
    V_P = W @ V
    by_hand = [
        [*V, sum(V)],
        [*I, sum(I)],
        [*W, 1],
        [*(V * I.conj()), V @ I.conj()],
        [*((V - V_P) * I.conj()).real, ((V - V_P) @ I.conj()).real],
    ]
    rows = table("line")
    printed = [[phasor(row[column]) for row in rows] for column in range(1, 6)]
    assert np.allclose(printed, by_hand, rtol=1e-12, atol=1e-9)

    result = simulator.solve(simulator.read_scenario(EXAMPLE))
    readings = [reading.watts for reading in result.readings.values()]
    assert readings == pytest.approx([float(row[5].split()[0]) for row in rows[:3]], rel=1e-9)
    assert result.total.indicated - result.total.true == pytest.approx(180, rel=1e-6)
    assert result.first.neutral_current == pytest.approx(6, rel=1e-6)
    assert result.first.nodes["P"] == pytest.approx(phasor("60 V ∠−120°"), rel=1e-6)


ARRANGEMENTS = {
    "three wattmeters to P, weights w": [(1, e - W, e) for e in UNIT],
    "two wattmeters, L1 to L2 and L3 to L2": [
        (1, UNIT[0] - UNIT[1], UNIT[0]),
        (1, UNIT[2] - UNIT[1], UNIT[2]),
    ],
    "one wattmeter, L1 to N, times three": [(3, UNIT[0], UNIT[0])],
}


@pytest.mark.parametrize("row", table("arrangement"), ids=lambda row: row[0])
def test_its_matrices(row: list[str]) -> None:
    meters = ARRANGEMENTS[row[0]]
    words = row[1].replace("−", "-").replace("/", "").split()
    named = {f"-w{'₁₂₃'[k]}": -w for k, w in enumerate(W)}
    D = np.reshape([named.get(word) or float(word) for word in words], (3, 3))
    assert np.allclose(D, sense(4, "active", meters).departure)
    v, i = normal(3), normal(3)
    shown = sum(c * ((a @ v) * (b @ i).conj()).real for c, a, b in meters)  # reading by reading
    assert (v @ D @ i.conj()).real == pytest.approx(shown - (v @ i.conj()).real)
    assert np.allclose(D @ PI, 0) == (len(meters) > 1)


def test_its_second_rule() -> None:
    A, x = normal(3, 3), normal(3)
    B = A - A.conj().T  # B + Bᴴ = 0
    assert abs((x @ B @ x.conj()).real) < 1e-12
    assert abs((1j * x @ B @ x.conj()).real) > 1e-3
    assert 2 * (x @ A @ x.conj()).real == pytest.approx((x @ (A + A.conj().T) @ x.conj()).real)


def test_its_balanced_loads() -> None:
    # derived: the current law at the star point, and branch by branch in the delta
    v, y, y_N = normal(3), 2 + 1j, 0.5 - 0.3j
    u = y * sum(v) / (3 * y + y_N)
    assert u == pytest.approx(3 * y / (3 * y + y_N) * v.mean())
    assert np.allclose(y * (v - v.mean()), y * PI @ v)
    branch = y * (v - np.roll(v, -1))
    assert np.allclose(branch - np.roll(branch, 1), 3 * y * PI @ v)


def test_its_reactive_wattmeter() -> None:
    M = math.sqrt(3) * np.outer([0, 1, -1], UNIT[0])
    for sequence, number in ((SEQUENCE, -3j), (SEQUENCE.conj(), 3j)):
        assert sequence @ M @ sequence.conj() == pytest.approx(number)
    sensed = sense(3, "reactive", [(math.sqrt(3), [0, 1, -1], [1, 0, 0])])
    row = next(
        r for r in exactness_table(sensed) if (r.supply, r.load) == ("symmetrical", LOADS[2])
    )
    assert (row.exact, row.either_sequence) == (True, False)


def test_its_classes() -> None:
    rows = table("| any load")
    found = exactness_table(sense(4, "active", ARRANGEMENTS["three wattmeters to P, weights w"]))
    assert [cell == "right" for row in rows for cell in row[1:]] == [row.exact for row in found]
    assert [row[0].split()[0] for row in rows] == list(SUPPLIES)
    # one wattmeter times three
    found = exactness_table(sense(4, "active", ARRANGEMENTS["one wattmeter, L1 to N, times three"]))
    right = [(row.supply, row.load, row.either_sequence) for row in found if row.exact]
    assert right == [("symmetrical", load, True) for load in LOADS[2:]]


def test_its_worst_case() -> None:
    sensed = sense(4, "active", ARRANGEMENTS["three wattmeters to P, weights w"])
    share, worst = worst_case(sensed, V)
    assert share == pytest.approx(0.25)
    assert np.allclose(worst, cmath.rect(1 / math.sqrt(3), math.pi / 3))
    error = (V @ -np.outer(W, [1, 1, 1]) @ worst.conj()).real
    assert error == pytest.approx(math.sqrt(3) * 60)  # at ‖I‖ = 1 A
    assert [f"{worst_over(sensed, supply):.3f}" for supply in SUPPLIES] == [
        f"{math.sqrt(3) * np.linalg.norm(W):.3f}",
        f"{math.sqrt(3) * np.linalg.norm(PI @ W):.3f}",
        f"{abs(SEQUENCE @ W):.3f}",
    ]
    assert "(106 % in the example)" in TEXT


def test_its_small_load() -> None:
    # derived: as on the page, V² = 400²/3
    squared = 400**2 / 3
    assert squared * (1 / 40 + 1 / 10 + 1 / 40) == pytest.approx(8000)
    assert -squared / 4 * 3 / 40 == pytest.approx(-1000)
    found = simulator.explain(simulator.read_scenario(EXAMPLE)).counterexample
    assert (found.true, found.indicated) == (pytest.approx(8000), pytest.approx(7000, rel=1e-6))
    ohms = {"L1": 40, "L2": 10, "L3": 40}
    assert all(f'{line} = "{value} ohm"' in found.toml for line, value in ohms.items())

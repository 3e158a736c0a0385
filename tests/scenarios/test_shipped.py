"""Every shipped scenario: it can be solved, it is solved right, and its lesson holds."""

from __future__ import annotations

import math
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import simulator
from simulator import cli
from simulator.metering.catalogue import METHODS
from simulator.phasors import angle_deg, wrap_deg
from tests.scenarios.expected import LESSONS, PRINTED, SQRT3

if TYPE_CHECKING:
    from simulator.findings.result import Result

FILES = {path.stem: path for path in sorted(Path(__file__).parents[2].glob("scenarios/*.toml"))}
each_file = pytest.mark.parametrize("name", FILES)


@cache
def solved(name: str) -> Result:
    return simulator.solve(simulator.read_scenario(FILES[name]))


def text_of(name: str) -> str:
    return FILES[name].read_text(encoding="utf-8")


def comments(name: str) -> str:
    return "\n".join(text_of(name).splitlines()[:2])


def numbers_of(result: Result) -> dict[str, tuple[float, str]]:
    """Give every number that `expected` speaks of, with its unit."""
    total, station = result.total, result.first
    found = {name: (volts, "V") for name, volts in station.voltmeters.items()}
    found |= {f"node {name}": (abs(v), "V") for name, v in station.nodes.items()}
    found["neutral"] = abs(station.neutral_current), "A"
    found["power factor"] = station.plane.power_factor.vector, ""
    found["lost in leads"] = station.losses["leads"], "W"
    if total:
        found |= {
            "total": (total.indicated, total.unit),
            "true": (total.true, total.unit),
            "error": (total.error, total.unit),
            "percent": (total.error_percent, "%"),
        }
    for load in station.loads:
        if load.star_point is not None:
            found[f"star {load.name}"] = abs(load.star_point), "V"
        for branch in load.branches:
            found[f"branch {load.name} {branch.name}"] = branch.power.real, "W"
            found[f"branch {load.name} {branch.name} current"] = abs(branch.current), "A"
    for name, reading in result.readings.items():
        angle = angle_deg(reading.voltage) - angle_deg(reading.current)
        found |= {
            name: (reading.watts, "W"),
            f"{name} shows": (reading.at_instrument, "W"),
            f"{name} voltage": (abs(reading.voltage), "V"),
            f"{name} current": (abs(reading.current), "A"),
            f"{name} angle": (wrap_deg(angle), "degrees"),
        }
    return found


def check_numbers(result: Result, numbers: dict[str, float]) -> None:
    found = numbers_of(result)
    shown = {name: found[name][0] for name in numbers}
    # Both sides are floats; 1e-11 of the apparent power leaves nothing but their rounding.
    rounding = 1e-11 * float(result.first.plane.apparent.arithmetic)
    assert shown == pytest.approx(numbers, rel=1e-11, abs=rounding)


def test_there_are_enough_and_the_first_is_typical() -> None:
    assert len(FILES) >= 16
    first = simulator.read_scenario(next(iter(FILES.values())))
    assert first.supply.wires == 3
    assert first.method is not None
    assert first.method.name == "two wattmeters"
    assert first.instrument


def test_check_passes(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["check", *map(str, FILES.values())]) == 0
    shown = capsys.readouterr()
    assert len(shown.out.splitlines()) == len(FILES)
    assert not shown.err


@each_file
def test_residual(name: str) -> None:
    assert solved(name).residual <= 1e-12


@each_file
def test_head(name: str) -> None:
    lines = text_of(name).splitlines()
    assert [line[:2] for line in lines[:3]] == ["# ", "# ", "ti"]
    assert lines[0].startswith("# Look ")
    assert max(map(len, lines)) <= 106
    assert len(lines) <= 50
    scenario = simulator.read_scenario(FILES[name])
    assert scenario.title
    assert scenario.description
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", name)


def test_titles_differ() -> None:
    assert len({simulator.read_scenario(path).title for path in FILES.values()}) == len(FILES)


def test_every_method_and_both_ways_of_writing_are_used() -> None:
    scenarios = [simulator.read_scenario(path) for path in FILES.values()]
    assert {s.method.name for s in scenarios if s.method} == set(METHODS)
    assert sum(1 for s in scenarios if s.wattmeter and s.total) >= 4
    assert {tuple(s.labels) for s in scenarios if s.labels} >= {
        ("A", "B", "C", "N"),
        ("R", "Y", "B"),
    }


def test_every_file_has_a_lesson() -> None:
    assert set(LESSONS) == set(FILES)
    assert set(PRINTED) <= set(FILES)


@each_file
def test_lesson(name: str) -> None:
    check_numbers(solved(name), LESSONS[name].numbers)


@each_file
def test_every_reading_and_total_has_its_number(name: str) -> None:
    expected, result = LESSONS[name].numbers, solved(name)
    assert set(result.readings) <= set(expected)
    assert (result.total is None) == ("total" not in expected)
    assert ("true" in expected) == ("total" in expected)


@pytest.mark.parametrize(
    ("name", "k"), [(name, k) for name in LESSONS for k in range(len(LESSONS[name].variants))]
)
def test_what_the_comments_say_happens_otherwise(name: str, k: int) -> None:
    variant, text = LESSONS[name].variants[k], text_of(name)
    assert text.count(variant.old) == 1
    changed = simulator.parse_scenario(text.replace(variant.old, variant.new))
    check_numbers(simulator.solve(changed), variant.numbers)


@pytest.mark.parametrize("name", PRINTED)
def test_numbers_printed_in_the_design(name: str) -> None:
    found = numbers_of(solved(name))
    for key, printed in PRINTED[name].items():
        assert found[key][0] == pytest.approx(float(printed), abs=half_unit(printed))


def half_unit(printed: str) -> float:
    return 0.5 * 10.0 ** -len(printed.partition(".")[2]) * (1 + 1e-6)


NUMBER = re.compile(r"([+-]?\d+(?:\.\d+)?) (W|var|V|A|%|kohm|degrees)(?!\w)")


@each_file
def test_numbers_in_the_comments(name: str) -> None:
    lesson, found = LESSONS[name], numbers_of(solved(name))
    known = [(value, key.rpartition(" ")[2]) for key, value in lesson.quoted.items()]
    for numbers in (lesson.numbers, *(variant.numbers for variant in lesson.variants)):
        known += [(value, found[key][1]) for key, value in numbers.items()]
    given = text_of(name).removeprefix(comments(name))
    quoted = NUMBER.findall(comments(name).replace("\n#", ""))
    assert quoted
    for number, unit in quoted:
        near = [v for v, u in known if u == unit and abs(v - float(number)) <= half_unit(number)]
        assert near or f"{number} {unit}" in given, f"{number} {unit} is nowhere derived"


# The lessons in words.


def test_sum_survives_on_three_wires_and_fails_on_four() -> None:
    three, four = solved("unequal-coils-three-wires"), solved("unequal-coils-four-wires")
    branches = [b.power.real for b in three.first.loads[0].branches]
    assert all(
        abs(r.watts - p) > 100 for r, p in zip(three.readings.values(), branches, strict=True)
    )
    assert three.total.is_right
    assert not four.total.is_right
    instruments = [
        [m.instrument for m in result.measurement.wattmeters] for result in (three, four)
    ]
    assert instruments[0] == instruments[1]


def test_error_is_the_common_voltage_times_the_neutral_current() -> None:
    # design/needs.md, row 1: −Re(V_common,N·I_N*), from the voltage as a voltmeter would find it.
    station = solved("two-meters-with-a-neutral").first
    common = station.solution.voltage("L2", "N")
    error = -(common * station.neutral_current.conjugate()).real
    assert solved("two-meters-with-a-neutral").total.error == pytest.approx(error, rel=1e-12)


def test_pointers() -> None:
    directions = {
        name: [r.direction for r in solved(name).readings.values()]
        for name in (
            "half-power-factor-one-reads-zero",
            "idle-motor-reads-below-zero",
            "corner-earthed-delta",
            "one-heater-between-two-lines",
            "reversed-current-circuit",
            "three-meters-to-a-line",
        )
    }
    assert directions == {
        "half-power-factor-one-reads-zero": ["zero", "upscale"],
        "idle-motor-reads-below-zero": ["downscale", "upscale"],
        "corner-earthed-delta": ["upscale", "zero", "upscale"],
        "one-heater-between-two-lines": ["upscale", "zero"],
        "reversed-current-circuit": ["upscale", "upscale", "downscale"],
        "three-meters-to-a-line": ["upscale", "zero", "upscale"],
    }


@each_file
def test_total_is_right_where_the_lesson_says_so(name: str) -> None:
    expected, total = LESSONS[name].numbers, solved(name).total
    if total is not None:
        assert total.is_right == math.isclose(expected["total"], expected["true"], rel_tol=1e-9)


def test_power_factor_rule_on_an_unbalanced_load() -> None:
    # tan φ = √3·(W2 − W1)/(W2 + W1) gives 60°, power factor 0.5 (design/needs.md, row 7).
    result = solved("one-heater-between-two-lines")
    w1, w2 = (r.watts for r in result.readings.values())
    assert math.cos(math.atan(SQRT3 * (w2 - w1) / (w2 + w1))) == pytest.approx(0.5)
    assert result.first.plane.power_factor.vector == pytest.approx(1)


def test_lost_neutral_puts_loads_out_of_band() -> None:
    # design/needs.md, row 34: 159 % and 69 % of 230 V.
    volts = solved("lost-neutral").first.voltmeters
    assert volts["V2"] / 230 == pytest.approx(1.59, abs=0.005)
    assert volts["V1"] / 230 == pytest.approx(0.69, abs=0.005)


def test_the_tap_that_counts_less() -> None:
    # Behind the current circuits the voltage circuits are counted, U²/R_v; before them I²·R_c.
    supply, load = solved("self-consumption-supply-tap"), solved("self-consumption-load-tap")
    assert load.total.error < supply.total.error
    assert (220**2 / 6000 < 20**2 * 0.03) == (load.total.error < supply.total.error)


def test_one_cross_connected_wattmeter_would_be_far_out() -> None:
    # design/needs.md, row 25: single × √3 = 0, 0 or 5975.6.
    readings = [SQRT3 * r.watts for r in solved("reactive-power-three-meters").readings.values()]
    assert readings == pytest.approx([0, 0, 5975.6], abs=0.05)

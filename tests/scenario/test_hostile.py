"""Texts that are no scenarios, or try to be too much: refused quickly, in one printable line."""

from __future__ import annotations

import time
import tomllib
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import simulator
from simulator.errors import NetworkError, ScenarioError
from tests.scenario.test_labels import FOUR_WIRE_FILE, THREE_WIRE_FILE
from tests.scenario.texts import STAR, THREE, THREE_WIRES, TOTAL, W1, W2, replaced

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


def refusal(text: str | bytes) -> str:
    start = time.process_time()
    with pytest.raises(ScenarioError) as caught:
        simulator.solve(simulator.parse_scenario(text))
    assert time.process_time() - start < 1
    assert str(caught.value).isprintable(), "control characters, or more than one line"
    assert len(str(caught.value)) < 500
    return str(caught.value)


def with_branch(value: str) -> str:
    return replaced(THREE_WIRES, '"25 ohm"', value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (THREE_WIRES.encode("utf-16"), "expected a text file in UTF-8"),
        (THREE_WIRES.replace("ovens", "öfen").encode("latin-1"), "expected a text file in UTF-8"),
        (b"\x89PNG\r\n\x1a\n\x00", "expected a text file in UTF-8"),
        ("import os\n", "expected TOML: Expected '=' after a key in a key/value pair (at line 1"),
        ('{"title": "t"}', "expected TOML: Invalid statement (at line 1, column 1)"),
        ("\x00", "expected TOML: Invalid statement (at line 1, column 1)"),
        (THREE_WIRES.replace("\n", "\r"), "expected TOML: "),
        (THREE_WIRES + "wires = \x1b[31m", "expected TOML: "),
        (THREE_WIRES + 'x = "\x1b[31m"', "expected TOML: Illegal character '\\x1b' (at line "),
        (replaced(THREE_WIRES, '"400 V"', '"400 V'), "expected TOML: Illegal character '\\n'"),
        (replaced(THREE_WIRES, "wires = 3", "wires = 3\nwires = 4"), "expected TOML: "),
        (THREE_WIRES + "[supply]\n", "expected TOML: Cannot declare ('supply',) twice"),
        (replaced(THREE_WIRES, '"t"', '"\\ud800"'), "expected TOML: "),
        (replaced(THREE_WIRES, "wires = 3", "wires = 03"), "expected TOML: "),
        (THREE_WIRES + "#" * 100_000, "expected a scenario of at most 100 kB"),
        (
            THREE_WIRES + "#" * 2_001,
            "line 21: expected lines of at most 2000 characters, got 2001",
        ),
    ],
)  # fmt: skip
def test_no_scenario_at_all(text: str | bytes, message: str) -> None:
    assert refusal(text).startswith(message)


# As deep or as long as fits: each took seconds, or more memory than there is, without a limit.
@pytest.mark.parametrize(
    ("text", "message"),
    [
        (THREE_WIRES + "x = " + "[" * 1_900, "its tables are nested too deeply"),
        (
            with_branch("[" * 200 + "]" * 200),
            "load 'ovens', L1: expected an impedance, for example '33.1 ohm', got [[[[",
        ),
        (
            with_branch("{ a = " * 200 + "1" + "}" * 200),
            "load 'ovens', L1: unknown key 'a'; did you mean 'at'?",
        ),
        (f"[{'a.' * 950}a]\n" + THREE_WIRES, "unknown key 'a'; known are title, description, "),
        (
            "".join(f"{'a.' * 950}b{k} = 1\n" for k in range(45)) + THREE_WIRES,
            "unknown key 'a'; known are title, description, ",
        ),
        (
            THREE_WIRES + "".join(f"k{i} = 1\n" for i in range(8_000)),
            "total: unknown key 'k0'; known are power, reactive_power",
        ),
        (
            with_branch(f'"{"9" * 1_500} ohm"'),
            "load 'ovens', L1: expected an impedance, for example '33.1 ohm', got '999",
        ),
        (with_branch("9" * 1_900), "load 'ovens', L1: expected an impedance, "),
        (
            replaced(THREE_WIRES, "wires = 3", f"wires = {'9' * 1_900}"),
            "supply, wires: expected a smaller number, got 999",
        ),
        (
            replaced(THREE_WIRES, '"W1 + W2"', f'"{"(" * 900}W1{")" * 90}"'),
            "total, power: formula '((((",
        ),
        (replaced(THREE_WIRES, '"W1 + W2"', f'"{"W1 + " * 300}W2"'), "total, power: a formula may"),
        (
            replaced(THREE_WIRES, '"ovens"', f'"{"x" * 1_900}"'),
            f"load '{'x' * 60}…, name: expected a name of 1 to 60 characters in one line, got 'xxx",
        ),
        (
            f'"{"x" * 1_900}" = 1\n' + THREE_WIRES,
            f"unknown key '{'x' * 60}…; known are title, description, ",
        ),
        (
            replaced(THREE_WIRES, '"t"', f'"{"x" * 201}"'),
            "title: expected one line of at most 200 characters, got 'xxx",
        ),
        (
            THREE + "".join(STAR.replace("ovens", f"oven {k}") for k in range(101)),
            "load: expected a list of at most 100, got [{'name': 'oven 0', ",
        ),
        (
            THREE + STAR + "".join(W1.replace("W1", f"W{k}") for k in range(101)),
            "wattmeter: expected a list of at most 100, got [{'name': 'W0', ",
        ),
    ],
)  # fmt: skip
def test_too_much_of_something(text: str, message: str) -> None:
    assert refusal(text).startswith(message)


def test_as_much_as_allowed_is_solved() -> None:
    text = THREE + "".join(STAR.replace("ovens", f"oven {k}") for k in range(100)) + W1
    one = simulator.solve(simulator.parse_scenario(THREE + STAR + W1))
    # derived: a hundred equal loads take a hundred times the power
    assert simulator.solve(simulator.parse_scenario(text))["W1"].watts == pytest.approx(
        100 * one["W1"].watts, rel=1e-9
    )


# What could move a cursor, colour a line, turn it round or hide in it; as TOML escapes.
SLY = ["\\n", "\\r", "\\t", "\\u001b[31m", "\\u0000", "\\u007f", "\\u009b", "\\u202e", "\\u200b",
       "\\u2028", "\\ufeff"]  # fmt: skip


def sly_texts() -> Iterator[tuple[str, str]]:
    for sly in SLY:
        for place in ('title = "t', 'name = "ovens', 'name = "W1', 'current = "L1', '["L1', '"W1 '):
            old = place
            yield f"{old[-8:]}, {sly}", THREE_WIRES.replace(old, f"{old}{sly}", 1)
        yield f"key, {sly}", f'"tit{sly}le" = 1\n{THREE_WIRES}'
        yield f"table, {sly}", THREE_WIRES + f'[instrument."p{sly}"]\nvoltage_circuit = "1 kohm"\n'
        yield f"unknown table, {sly}", THREE_WIRES + f'["p{sly}"]\n'
        yield f"branch, {sly}", with_branch(f'"25{sly}hm"')
        yield f"label, {sly}", f'labels = ["A{sly}", "B", "C"]\n{THREE_WIRES}'
        yield (
            f"instrument, {sly}",
            THREE_WIRES.replace('name = "W1"', f'name = "W1"\ninstrument = "p{sly}"'),
        )
        yield f"method, {sly}", THREE + STAR + f'[method]\nname = "two{sly} wattmeters"\n'
        yield f"star point, {sly}", THREE + STAR + f'star_point = "P{sly}"\n' + W1 + W2 + TOTAL
        yield (
            f"sequence, {sly}",
            replaced(THREE_WIRES, "wires = 3", f'wires = 3\nsequence = "L1-L2-L3{sly}"'),
        )


@pytest.mark.parametrize("text", [pytest.param(text, id=name) for name, text in sly_texts()])
def test_control_characters_never_reach_a_terminal(text: str) -> None:
    refusal(text)


@pytest.mark.parametrize("text", ["üñïçødé", "Печь", "炉 1", "🔥 oven", "a'b", 'a\\"b', "%s {0}"])
def test_any_printable_name_is_allowed(text: str) -> None:
    scenario = simulator.parse_scenario(
        replaced(THREE_WIRES, '"ovens"', f'"{text}"').replace('"t"', f'"{text}"')
    )
    result = simulator.solve(scenario)
    name = text.replace("\\", "")
    assert result.measurement.title == name
    assert result.first.loads[0].name == name
    assert name in simulator.result_text(result)
    refusal(replaced(THREE_WIRES, '"ovens"', f'"{text}"').replace('"25 ohm"', '"25 V"'))


@pytest.mark.parametrize("name", ["Ä", "W_1", "瓦", "_", "e1", "sqrt", "L1", "None", "true"])
def test_any_identifier_is_a_meter_s_name(name: str) -> None:
    text = THREE_WIRES.replace('"W1"', f'"{name}"').replace('"W1 + W2"', f'"{name} + W2"')
    result = simulator.solve(simulator.parse_scenario(text))
    plain = simulator.solve(simulator.parse_scenario(THREE_WIRES))
    assert result[name].watts == plain["W1"].watts
    assert result.total is not None
    assert result.total.is_right


# Tables as Python gives them, which no TOML file can hold.
@pytest.mark.parametrize(
    "change",
    [
        {"title": None},
        {"title": b"t"},
        {"supply": {"wires": 3, "voltage": float("nan")}},
        {"load": ({"connection": "star"},)},
        {"load": [None]},
        {"labels": ("A", "B", "C")},
        {"supply": {1: 2}},
        {3: 4},
        {"description": object},
        {"total": {"power": "\ud800"}},
        {"title": "\ud800"},
        {"wattmeter": [{"name": "W", "current": "L1", "voltage": ("L1", "L2")}]},
        {"wattmeter": [{"name": "W", "current": "L1", "voltage": ["L1", "L2"], "station": 10**9}]},
    ],
)  # fmt: skip
def test_tables_from_python(change: dict[object, object]) -> None:
    document = {"title": "t", "supply": {"wires": 3, "voltage": "400 V"}} | change
    with pytest.raises(ScenarioError) as caught:
        simulator.solve(simulator.scenario_from(document))
    assert str(caught.value).isprintable()


def test_tables_nested_without_end() -> None:
    endless: dict[str, object] = {}
    endless["a"] = endless
    for change in ({"supply": endless}, {"load": [endless]}, {"instrument": {"p": endless}}):
        with pytest.raises(ScenarioError):
            simulator.scenario_from({"title": "t", **change})


# Whatever stands at any place of a file: numbers, dates, lists and tables where texts are wanted,
# and the reverse.
ODD = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(),
        st.floats(),
        st.text(max_size=9),
        st.dates(),
        st.sampled_from(["L1", "N", "P", "open", "0 ohm", "1 V", "neutral", "W1", "star"]),
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=5,
)


def places(value: object, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    items = value.items() if isinstance(value, dict) else enumerate(value)  # type: ignore[call-overload]
    for key, part in items:
        yield (*path, key)
        if isinstance(part, dict | list):
            yield from places(part, (*path, key))


@given(st.data())
@settings(max_examples=300)
def test_anything_at_any_place(data: st.DataObject) -> None:
    document = tomllib.loads(data.draw(st.sampled_from([FOUR_WIRE_FILE, THREE_WIRE_FILE])))
    *way, last = data.draw(st.sampled_from(sorted(places(document), key=str)))
    table: Any = document
    for step in way:
        table = table[step]
    table[last] = data.draw(ODD)
    with suppress(ScenarioError, NetworkError):
        result = simulator.solve(simulator.scenario_from(document))
        assert result.residual <= 1e-9


# Files


def test_no_such_file(tmp_path: Path) -> None:
    path = tmp_path / "none.toml"
    with pytest.raises(ScenarioError) as caught:
        simulator.read_scenario(path)
    assert str(caught.value) == f"{path}: cannot read it: No such file or directory"


def test_a_folder(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        simulator.read_scenario(tmp_path)
    assert str(caught.value) == f"{tmp_path}: cannot read it: Is a directory"


def test_a_path_that_cannot_be() -> None:
    for path in ("a\0b", "x" * 5_000):
        with pytest.raises(ScenarioError, match="cannot read it"):
            simulator.read_scenario(path)


def test_the_file_stands_before_the_place(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_text(replaced(THREE_WIRES, '"25 ohm"', '"25 V"'))
    with pytest.raises(ScenarioError) as caught:
        simulator.read_scenario(path)
    assert str(caught.value).startswith(f"{path}: load 'ovens', L1: expected an impedance")
    path.write_bytes(b"\xff")
    with pytest.raises(ScenarioError) as caught:
        simulator.read_scenario(path)
    assert str(caught.value).startswith(f"{path}: expected a text file in UTF-8, line 1 is not")


def test_a_large_file_is_not_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    with path.open("wb") as file:
        file.truncate(10**12)  # a sparse file: no disk holds it
    with pytest.raises(ScenarioError) as caught:
        simulator.read_scenario(path)
    assert str(caught.value) == f"{path}: expected a scenario of at most 100 kB"


def test_a_load_named_like_a_part_of_another_stays_apart() -> None:
    # derived: 20 ohm stars on 400 V behind 1 ohm leads; each load alone and both together
    def loads(*names: str) -> list[dict[str, object]]:
        return [
            {"name": n, "connection": "star", "each": "20 ohm", "lead_impedance": "1 ohm"}
            for n in names
        ]

    for first, second in (
        ("star point of x", "x terminal L1"),
        ("x", "x lead"),
        ("x", "x L1"),
        ("x", "lead L1 of x"),
    ):
        document = {
            "title": "t",
            "supply": {"wires": 3, "voltage": "400 V"},
            "load": loads(first, second),
            "method": {"name": "two wattmeters"},
        }
        total = simulator.solve(simulator.scenario_from(document)).total
        assert total is not None
        assert total.indicated == pytest.approx(2 * 400**2 / 21, rel=1e-12)


def test_a_method_keeps_its_star_point_to_itself() -> None:
    document = {
        "title": "t",
        "supply": {"wires": 3, "voltage": "400 V"},
        "load": [{"name": "x", "connection": "star", "each": "20 ohm", "star_point": "P"}],
        "instrument": {"p": {"voltage_circuit": "20 kohm"}},
        "method": {"name": "three wattmeters to a floating star point", "instrument": "p"},
    }
    with pytest.raises(simulator.ScenarioError, match="load 'x', star_point: the method's own"):
        simulator.solve(simulator.scenario_from(document))


def test_a_total_in_which_all_readings_cancel_is_refused() -> None:
    document = {
        "title": "t",
        "supply": {"wires": 3, "voltage": "400 V"},
        "load": [{"connection": "star", "each": "20 ohm"}],
        "wattmeter": [{"name": "W1", "current": "L1", "voltage": ["L1", "L2"]}],
        "total": {"power": "W1 - W1"},
    }
    with pytest.raises(simulator.ScenarioError, match="the readings cancel"):
        simulator.solve(simulator.scenario_from(document))

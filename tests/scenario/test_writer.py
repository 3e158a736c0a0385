"""Writing a scenario: what was written is read back as the same tables."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import simulator
from simulator.scenario.writer import to_toml
from tests.scenario.texts import FOUR, FOUR_WIRES, MOTOR, THREE_WIRES

Document = dict[str, Any]
SHIPPED = sorted(Path(__file__).parents[2].glob("scenarios/*.toml"))

characters = st.characters(exclude_categories=["Cs"])  # TOML is UTF-8: no lone surrogates
texts = st.text(characters, max_size=20)
keys = st.one_of(st.sampled_from(["a", "L1-L2", "power", "", "a.b", 'a"b', "ä", "\n", "1"]), texts)
scalars = st.one_of(
    texts,
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),  # what TOML promises to hold
    st.floats(allow_nan=False, allow_infinity=False),
)
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3),
    max_leaves=8,
)
tables = st.dictionaries(keys, values, max_size=4)
documents = st.dictionaries(
    keys,
    st.one_of(
        values, tables, st.lists(tables, max_size=3), st.dictionaries(keys, tables, max_size=3)
    ),
    max_size=5,
)


def same(a: object, b: object) -> bool:
    """Compare with types and signs of zero, which `==` takes for the same."""
    if isinstance(a, dict) and isinstance(b, dict):
        return list(a) == list(b) and all(same(a[k], b[k]) for k in a)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(map(same, a, b))
    if isinstance(a, float) and isinstance(b, float):
        return a == b and math.copysign(1, a) == math.copysign(1, b)
    return type(a) is type(b) and a == b


def in_order(document: Document, found: Document) -> Document:
    """Put the keys of a file in the document's order: tables must stand after values."""
    return {key: found[key] for key in document if key in found} | found


@example({"a": {}})
@example({"a": []})
@example({"a": [{}]})
@example({"a": {"b": {}}})
@example({"a": {"b": {}, "c": 1}})
@example({"a": {"b": {"c": {"d": [{"e": 1}, 2]}}}, "f": 1})
@example({"a": "\x7f\x00\x1b\u2028\U0001f525"})
@example({"a": -0.0, "b": 1e16, "c": 5e-324, "d": 1.7976931348623157e308})
@given(documents)
@settings(max_examples=300)
def test_round_trip(document: Document) -> None:
    found = tomllib.loads(to_toml(document))
    assert same(in_order(document, found), document)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_scenarios(path: Path) -> None:
    document = tomllib.loads(path.read_text(encoding="utf-8"))
    written = to_toml(document)
    assert tomllib.loads(written) == document
    assert simulator.parse_scenario(written) == simulator.read_scenario(path)


def test_reads_like_one_written_by_hand() -> None:
    text = THREE_WIRES + MOTOR
    document = tomllib.loads(text)
    written = to_toml(document)
    assert "\n\n[supply]\nwires = 3\n" in written
    assert '\n\n[[load]]\nname = "ovens"\nconnection = "star"\nL1 = "25 ohm"\n' in written
    assert 'circuit = { R1 = "0.641 ohm", X1 = ' in written
    assert 'voltage = ["L1", "L2"]' in written


@pytest.mark.parametrize("text", [THREE_WIRES, FOUR_WIRES, 'labels = ["A", "B", "L1"]\n' + FOUR])
def test_a_scenario_remembers_the_tables_it_was_read_from(text: str) -> None:
    scenario = simulator.parse_scenario(text)
    assert scenario.document == tomllib.loads(text)
    assert simulator.parse_scenario(to_toml(scenario.document)) == scenario

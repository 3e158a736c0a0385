"""Labels of one's own: the same circuit under other names, everywhere a person sees them."""

from __future__ import annotations

import re
from typing import Any

import pytest

import simulator
from simulator.errors import ScenarioError
from tests.scenario.texts import FOUR_WIRES, STAR, THREE, THREE_WIRES, W1, W2, replaced

DEFAULT = ("L1", "L2", "L3", "N")
# Four at random, three, and sets that permute or reuse the default names.
SETS = [
    ["A", "B", "C", "N"],
    ["R", "S", "T"],
    ["Phase_1", "Phase_2", "Phase_3", "Mp"],
    ["1", "2", "3", "0"],
    ["L2", "L3", "L1", "N"],
    ["L3", "L2", "L1", "N"],
    ["N", "L2", "L3", "L1"],
    ["U", "N", "W", "L1"],
    ["voltage", "current", "wires"],
]
FOUR_WIRE_FILE = """
title = "t"
[supply]
wires = 4
phase_voltages = { L1 = "231 V", L2 = "222 V @ -121 deg", L3 = "236 V @ 119 deg" }
line_impedance = { L1 = "0.1 ohm", L3 = "0.2 ohm" }
neutral_impedance = "0.3 ohm"
earthed = "N"
[[load]]
connection = "star"
L1 = "25 ohm"
L2 = "25+10j ohm"
L3 = "open"
star_point = "N"
lead_impedance = { L2 = "0.5 ohm" }
[[load]]
connection = "delta"
"L1-L2" = "60 ohm"
"L3-L2" = "70 ohm"
"L3-L1" = "80 ohm"
[[load]]
connection = "line-to-line"
"L1-L3" = "90 ohm"
[[load]]
connection = "line-to-neutral"
"L3" = "100 ohm, 0.6 lag"
[[impedance]]
name = "leak"
between = ["L2", "PE"]
value = "10 kohm"
[[impedance]]
between = ["L2", "P"]
value = "1 kohm"
[[impedance]]
between = ["P", "N"]
value = "2 kohm"
[[wattmeter]]
name = "W1"
current = ["L1", "-L2"]
voltage = ["L1", "N"]
[[wattmeter]]
name = "W2"
current = "-N"
voltage = ["P", "L3"]
[[voltmeter]]
name = "V"
between = ["L2", "P"]
[[ammeter]]
name = "A"
in = "N"
[total]
power = "W1 + W2"
"""
THREE_WIRE_FILE = """
title = "t"
[supply]
wires = 3
voltage = "400 V"
sequence = "L3-L2-L1"
[[load]]
connection = "star"
"L1" = { power = "1 kW", current = "9 A" }
"L2" = "25 ohm"
"L3" = "30 ohm"
[method]
name = "two wattmeters"
common = "L3"
"""
NAME = re.compile(r"(?<![A-Za-z0-9])(L[123]|N)(?![A-Za-z0-9])")


def relabelled(value: Any, labels: list[str], pattern: re.Pattern[str] = NAME) -> Any:
    """Rename the conductors in every text of a value, its keys as well."""
    own = dict(zip(DEFAULT, [*labels, "N"], strict=False))
    if isinstance(value, str):
        return pattern.sub(lambda match: own[match.group()], value)
    if isinstance(value, list):
        return [relabelled(v, labels, pattern) for v in value]
    if isinstance(value, dict):
        return {relabelled(k, labels): relabelled(v, labels) for k, v in value.items()}
    return value


def leaves(value: Any, path: str = "") -> dict[str, Any]:
    """List the numbers and texts of a result with their paths, but for its rounding."""
    if isinstance(value, dict):
        items = {k: v for k, v in value.items() if k not in ("residual", "condition")}.items()
    elif isinstance(value, list):
        items = dict(enumerate(value)).items()
    else:
        return {path: value}
    return {k: v for key, part in items for k, v in leaves(part, f"{path}/{key}").items()}


def numbers(found: dict[str, Any]) -> dict[str, float]:
    return {k: v for k, v in found.items() if isinstance(v, float)}


def texts(found: dict[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in found.items() if not isinstance(v, float)}


def own_file(text: str, labels: list[str]) -> str:
    # only whole words in quotes, and keys of a table in braces, are conductors in these files
    pattern = re.compile(r"\b(?:L[123]|N)\b")
    return f"labels = {labels!r}\n" + relabelled(text, labels, pattern)


def solved(text: str) -> dict[str, Any]:
    return simulator.result_object(simulator.solve(simulator.parse_scenario(text)))


@pytest.mark.parametrize("labels", SETS, ids="-".join)
@pytest.mark.parametrize(
    "text",
    [FOUR_WIRE_FILE, THREE_WIRE_FILE, THREE_WIRES, FOUR_WIRES],
    ids=["rich, four wires", "method, three wires", "three wires", "four wires"],
)
def test_the_same_result_under_other_names(text: str, labels: list[str]) -> None:
    found = leaves(solved(own_file(text, labels)))
    expected = leaves(relabelled(solved(text), labels))
    assert texts(found) == texts(expected)
    # sums in another order round differently
    assert numbers(found) == pytest.approx(numbers(expected), rel=1e-12, abs=1e-9)


def test_the_last_label_may_be_left_out() -> None:
    named = own_file(FOUR_WIRE_FILE, ["A", "B", "C"])
    assert solved(named) == solved(named.replace("['A', 'B', 'C']", "['A', 'B', 'C', 'N']"))


def test_default_labels_may_be_written() -> None:
    assert solved(f"labels = {list(DEFAULT)!r}\n{FOUR_WIRE_FILE}") == solved(FOUR_WIRE_FILE)


def message(text: str) -> str:
    with pytest.raises(ScenarioError) as caught:
        simulator.solve(simulator.parse_scenario(text))
    assert str(caught.value).isprintable()
    return str(caught.value)


A_LIST = (
    "labels: expected three or four short names without spaces or signs, for example "
    '["A", "B", "C", "N"]'
)


@pytest.mark.parametrize(
    ("labels", "expected"),
    [
        ('["A", "B"]', f"{A_LIST}, got ['A', 'B']"),
        ('["A", "B", "C", "D", "E"]', f"{A_LIST}, got ['A', 'B', 'C', 'D', 'E']"),
        ("[1, 2, 3]", f"{A_LIST}, got [1, 2, 3]"),
        ('"ABC"', f"{A_LIST}, got 'ABC'"),
        ('["A b", "B", "C"]', f"{A_LIST}, got ['A b', 'B', 'C']"),
        ('["A-b", "B", "C"]', f"{A_LIST}, got ['A-b', 'B', 'C']"),
        ('["", "B", "C"]', f"{A_LIST}, got ['', 'B', 'C']"),
        ('["A\\u001b", "B", "C"]', f"{A_LIST}, got ['A\\x1b', 'B', 'C']"),
        ('[["A"], "B", "C"]', f"{A_LIST}, got [['A'], 'B', 'C']"),
        ('["A", "B", "A"]', "labels: the label 'A' stands twice; choose another"),
        ('["N", "B", "C"]', "labels: the label 'N' stands twice; choose another"),
        ('["A", "B", "C", "PE"]', "labels: the label 'PE' has another meaning in this file; "),
        ('["each", "B", "C"]', "labels: the label 'each' has another meaning in this file; "),
        ('["A", "B", "C", "neutral"]', "labels: the label 'neutral' has another meaning in this"),
    ],
)
def test_labels_that_cannot_serve(labels: str, expected: str) -> None:
    assert message(f"labels = {labels}\n{THREE_WIRES}").startswith(expected)


RST = ["R", "S", "T", "Mp"]


@pytest.mark.parametrize(
    ("text", "old", "new", "expected"),
    [
        pytest.param(text, old, new, expected, id=expected[:40])
        for text, old, new, expected in [
            (
                THREE_WIRES,
                '"25+10j ohm"',
                '"25 V"',
                "load 'ovens', S: expected an impedance, for example '33.1 ohm', got '25 V'",
            ),
            (
                THREE_WIRES,
                'S = "25+10j ohm"\n',
                "",
                (
                    "load 'ovens': a star needs R, S, T: 'S' is missing "
                    '(write "open" for a missing branch)'
                ),
            ),
            (
                THREE_WIRES,
                "wires = 3",
                'wires = 3\nsequence = "R-S"',
                (
                    "supply, sequence: expected 'R-S-T', 'S-T-R', 'T-R-S', 'T-S-R', 'S-R-T' or "
                    "'R-T-S', got 'R-S'"
                ),
            ),
            (
                THREE_WIRES,
                "wires = 3",
                'wires = 3\nearthed = "X"',
                "supply, earthed: expected 'R', 'S', 'T' or 'Mp', got 'X'",
            ),
            (
                FOUR_WIRES,
                '"neutral"',
                '"R"',
                (
                    'load \'ovens\', star_point: expected "neutral", "isolated" or a name of its '
                    "own, got 'R'"
                ),
            ),
            (
                FOUR_WIRES,
                '["R", "S"]',
                '["R", "neutral"]',
                (
                    "wattmeter 'W1', voltage 2: 'neutral' is a word of star_point and no node: "
                    "write 'Mp' for the neutral, or give the star point a name"
                ),
            ),
            (
                THREE_WIRES,
                'current = "R"',
                'current = "Mp"',
                "wattmeter 'W1', current: there is no neutral on 3 wires",
            ),
            (
                THREE_WIRES,
                'current = "R"',
                'current = "X"',
                "wattmeter 'W1', current: expected a conductor (R, S, T), got 'X'",
            ),
            (
                THREE_WIRES,
                '["R", "S"]',
                '["R", "s"]',
                (
                    "wattmeter 'W1', voltage: 's' and 'S' differ only in upper and lower case; "
                    "did you mean 'S'?"
                ),
            ),
            # default names are no conductors here, and no other nodes either
            (
                THREE_WIRES,
                '["R", "S"]',
                '["R", "L2"]',
                (
                    "wattmeter 'W1': 'L2' is not a conductor here: the labels of this file are "
                    "R, S, T, Mp"
                ),
            ),
            (
                THREE_WIRES,
                'S = "25+10j ohm"',
                'L2 = "25+10j ohm"',
                (
                    "load 'ovens': 'L2' is not a conductor here: the labels of this file are "
                    "R, S, T, Mp"
                ),
            ),
            (
                FOUR_WIRES,
                '"neutral"',
                '"N"',
                (
                    "load 'ovens': 'N' is not a conductor here: the labels of this file are "
                    "R, S, T, Mp"
                ),
            ),
        ]
    ],
)
def test_messages_have_the_file_s_labels(text: str, old: str, new: str, expected: str) -> None:
    assert message(replaced(own_file(text, RST), old, new)) == expected


def test_messages_leave_names_and_inputs_alone() -> None:
    # a load called L1, and an input that contains L2, are no conductors
    text = own_file(THREE_WIRES, RST).replace('"ovens"', '"L1"').replace('"25 ohm"', '"L2 25"')
    expected = "load 'L1', R: expected an impedance, for example '33.1 ohm', got 'L2 25'"
    assert message(text) == expected
    text = own_file(THREE_WIRES, RST) + '[instrument.L3]\nvoltage_circuit = "L3"\n'
    assert message(text).startswith("instrument 'L3', voltage_circuit: ")
    assert message(text).endswith("got 'L3'")


def test_a_meter_may_be_called_like_a_default_conductor() -> None:
    text = (own_file(THREE + STAR + W1 + W2, RST) + '[total]\npower = "L1 + L3"\n').replace(
        '"W1"', '"L1"'
    )
    result = simulator.solve(simulator.parse_scenario(text.replace('"W2"', '"L3"')))
    assert list(result.readings) == ["L1", "L3"]

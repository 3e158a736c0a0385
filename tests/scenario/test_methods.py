"""Methods of the catalogue: what each stands for, written by hand from the table of scenario.md."""

from __future__ import annotations

import tomllib
from typing import NamedTuple

import pytest

import simulator
from simulator.errors import ScenarioError
from simulator.metering.catalogue import METHODS
from simulator.reports.catalogue import catalogue_text
from tests.scenario.texts import FOUR, STAR, THREE, TOTAL, W1, replaced

TOOLS = (
    '[instrument.portable]\ncurrent_circuit = "0.1 ohm"\nvoltage_circuit = "20 kohm, 12 mH"\n'
    '[instrument.other]\nvoltage_circuit = "15 kohm"\n'
    '[instrument.clamp]\ncurrent_circuit = "0.2 ohm"\n'
    '[current_transformer.ct]\nratio = "100/5 A"\nratio_error = "0.5 %"\n'
    '[voltage_transformer.vt]\nratio = "400/100 V"\nphase_displacement = "10 min"\n'
)
SUPPLIES = {3: THREE + STAR + TOOLS, 4: FOUR + STAR + 'star_point = "neutral"\n' + TOOLS}
SUM = "W1 + W2 + W3"
Ends = tuple[str, str, str, str]  # of a wattmeter: its name, current, voltage from, voltage to
TO_N: list[Ends] = [("W1", "L1", "L1", "N"), ("W2", "L2", "L2", "N"), ("W3", "L3", "L3", "N")]
TO_P: list[Ends] = [("W1", "L1", "L1", "P"), ("W2", "L2", "L2", "P"), ("W3", "L3", "L3", "P")]
CROSS: list[Ends] = [("W1", "L1", "L2", "L3"), ("W2", "L2", "L3", "L1"), ("W3", "L3", "L1", "L2")]
REAL = 'instrument = "portable"\n'


class Case(NamedTuple):
    """A method, and the meters and the total that stand for it."""

    name: str
    wires: int
    options: str
    meters: list[Ends]
    formula: str
    quantity: str = "power"


def two(before: str, after: str, common: str) -> list[Ends]:
    return [("W1", before, before, common), ("W2", after, after, common)]


# scenario.md: W1 is in the line before the common line, W2 in the one after it.
TWO = {
    "": two("L1", "L3", "L2"),
    'common = "L2"': two("L1", "L3", "L2"),
    'common = "L1"': two("L3", "L2", "L1"),
    'common = "L3"': two("L2", "L1", "L3"),
}
FLOATING, REACTIVE = "three wattmeters to a floating star point", "reactive_power"
CASES = [
    Case("one wattmeter to neutral", 4, "", [("W", "L1", "L1", "N")], "3*W"),
    Case("one wattmeter to neutral", 4, 'line = "L2"', [("W", "L2", "L2", "N")], "3*W"),
    Case("one wattmeter to neutral", 4, 'line = "L3"', [("W", "L3", "L3", "N")], "3*W"),
    *(Case("two wattmeters", 3, option, meters, "W1 + W2") for option, meters in TWO.items()),
    *(
        Case("two wattmeters for reactive power", 3, option, meters, "sqrt(3)*(W2 - W1)", REACTIVE)
        for option, meters in TWO.items()
    ),
    Case("three wattmeters to neutral", 4, "", TO_N, SUM),
    Case(FLOATING, 3, "", TO_P, SUM),
    Case(FLOATING, 4, "", TO_P, SUM),
    *(
        Case("three wattmeters to a line", 3, option, [(m, k, k, end) for m, k, _, _ in TO_N], SUM)
        for option, end in (("", "L2"), ('common = "L1"', "L1"), ('common = "L3"', "L3"))
    ),
    *(
        Case("one wattmeter for reactive power", 3, option, [("W", *ends)], "sqrt(3)*W", REACTIVE)
        for option, (_, *ends) in zip(("", 'line = "L2"', 'line = "L3"'), CROSS, strict=True)
    ),
    Case("three wattmeters for reactive power", 3, "", CROSS, f"({SUM})/sqrt(3)", REACTIVE),
    Case("three wattmeters for reactive power", 4, "", CROSS, f"({SUM})/sqrt(3)", REACTIVE),
]


def wattmeters(meters: list[Ends], lines: str = "") -> str:
    return "".join(
        f'[[wattmeter]]\nname = "{name}"\nvoltage = ["{start}", "{end}"]\n'
        f"current = {current if '[' in current else repr(current)}\n{lines}\n"
        for name, current, start, end in meters
    )


def by_method(name: str, wires: int, lines: str) -> simulator.Result:
    text = f'{SUPPLIES[wires]}[method]\nname = "{name}"\n{lines}\n'
    return simulator.solve(simulator.parse_scenario(text))


def by_hand(wires: int, meters: str, formula: str, quantity: str = "power") -> simulator.Result:
    text = f'{SUPPLIES[wires]}{meters}[total]\n{quantity} = "{formula}"\n'
    return simulator.solve(simulator.parse_scenario(text))


def watts(result: simulator.Result) -> dict[str, float]:
    return {name: reading.watts for name, reading in result.readings.items()}


def assert_same(found: simulator.Result, expected: simulator.Result) -> None:
    assert watts(found) == watts(expected)  # the same circuit, so the same numbers to the last bit
    assert found.total is not None
    assert expected.total is not None
    assert found.total.indicated == expected.total.indicated
    assert found.total.reactive == expected.total.reactive


@pytest.mark.parametrize(
    ("case", "tools"),
    [
        pytest.param(case, tools, id=f"{case.name}, {case.wires}, {case.options}, {kind}")
        for case in CASES
        for kind, tools in (("ideal", ""), ("real", REAL))
        if tools or case.name != FLOATING  # whose star point only real meters make
    ],
)
def test_a_method_is_what_one_would_write(case: Case, tools: str) -> None:
    found = by_method(case.name, case.wires, f"{case.options}\n{tools}")
    meters = wattmeters(case.meters, tools)
    assert_same(found, by_hand(case.wires, meters, case.formula, case.quantity))


@pytest.mark.parametrize("line", ["L1", "L2", "L3"])
def test_one_wattmeter_two_positions(line: str) -> None:
    first, second = {"L1": ("L2", "L3"), "L2": ("L3", "L1"), "L3": ("L1", "L2")}[line]
    meters = wattmeters([("W1", line, line, first)], REAL + "station = 1")
    meters += wattmeters([("W2", line, line, second)], REAL + "station = 2")
    found = by_method("one wattmeter, two positions", 3, f'{REAL}line = "{line}"')
    assert_same(found, by_hand(3, meters, "W1 + W2"))


def test_one_wattmeter_moved_in_turn() -> None:
    meters = "".join(wattmeters([m], f"{REAL}station = {k}") for k, m in enumerate(TO_N, 1))
    assert_same(by_method("one wattmeter moved in turn", 4, REAL), by_hand(4, meters, SUM))


def test_difference_currents() -> None:
    # scenario.md: L1-N with I1 − I2, L3-N with I3 − I2
    meters = [("W1", '["L1", "-L2"]', "L1", "N"), ("W2", '["L3", "-L2"]', "L3", "N")]
    found = by_method("two elements, difference currents", 4, REAL)
    assert_same(found, by_hand(4, wattmeters(meters, REAL), "W1 + W2"))


def resistors(first: str, second: str, lines: tuple[str, str], side: str = "supply") -> str:
    return "".join(
        f'[[impedance]]\nname = "R{k}"\nbetween = ["{line}", "P"]\nvalue = "{value}"\n'
        f'side = "{side}"\n'
        for k, (line, value) in enumerate(zip(lines, (first, second), strict=True), 1)
    )


# The external resistors equal the voltage circuit unless given: 20 kohm and 12 mH at 50 Hz are
# 20000 + j·1.2π ohm (derived).
@pytest.mark.parametrize(
    ("lines", "values", "others", "meter"),
    [
        (REAL, ("20000+3.769911184307752j ohm",) * 2, ("L2", "L3"), REAL),
        (
            REAL + 'line = "L3"\nresistors = ["18 kohm", "open"]',
            ("18 kohm", "open"),
            ("L1", "L2"),
            REAL,
        ),
        ('instrument = "other"', ("15 kohm", "15 kohm"), ("L2", "L3"), 'instrument = "other"'),
        # seen from the primary of a transformer 400/100: sixteen times the 15 kohm
        (
            'instrument = "other"\nvoltage_transformer = "vt"',
            ("240 kohm", "240 kohm"),
            ("L2", "L3"),
            'instrument = "other"\nvoltage_transformer = "vt"',
        ),
    ],
)
def test_artificial_neutral(
    lines: str, values: tuple[str, str], others: tuple[str, str], meter: str
) -> None:
    line = "L3" if "L3" not in others else "L1"
    meters = wattmeters([("W", line, line, "P")], meter) + resistors(*values, others)
    found = by_method("one wattmeter with artificial neutral", 3, lines)
    expected = by_hand(3, meters, "3*W")
    assert watts(found) == pytest.approx(watts(expected), rel=1e-12)


def test_artificial_neutral_on_the_load_side() -> None:
    lines = 'instrument = "other"\nvoltage_tap = "load"\n'
    meters = wattmeters([("W", "L1", "L1", "P")], lines)
    meters += resistors("15 kohm", "15 kohm", ("L2", "L3"), "load")
    found = by_method("one wattmeter with artificial neutral", 3, lines)
    assert_same(found, by_hand(3, meters, "3*W"))


@pytest.mark.parametrize("name", METHODS)
def test_transformers_and_tap_go_to_every_wattmeter(name: str) -> None:
    method = METHODS[name]
    lines = REAL + 'current_transformer = "ct"\nvoltage_transformer = "vt"\nvoltage_tap = "load"'
    meters = by_method(name, method.wires[0], lines).measurement.wattmeters
    assert len(meters) == method.n_wattmeters
    for meter in meters:
        assert meter.current_transformer is not None
        assert meter.voltage_transformer is not None
        assert meter.ratio == pytest.approx(80)  # 100/5 times 400/100
        assert meter.tap == "load"
        assert meter.instrument.current_circuit == 0.1


def test_an_instrument_for_each_wattmeter() -> None:
    lines = 'instrument = ["portable", "other"]'
    meters = by_method("two wattmeters", 3, lines).measurement.wattmeters
    assert [m.instrument.current_circuit for m in meters] == [0.1, 0]


@pytest.mark.parametrize("name", METHODS)
def test_a_reading_is_the_same_written_out(name: str) -> None:
    """`blondel methods NAME --expand` prints tables that give the same readings."""
    method = METHODS[name]
    supply = SUPPLIES[method.wires[0]].replace(TOOLS, "")
    tools, lines = "", ""
    if method.needs_voltage_circuit:
        tools = '[instrument.portable]\ncurrent_circuit = "0.03+0.01j ohm"\n'
        tools += 'voltage_circuit = "20 kohm"\n'
        lines = REAL
    expanded = catalogue_text(name, expand=True)
    assert not {"method", "supply", "load"} & tomllib.loads(expanded).keys()
    found = simulator.solve(simulator.parse_scenario(supply + expanded))
    text = f'{supply}{tools}[method]\nname = "{name}"\n{lines}'
    assert_same(found, simulator.solve(simulator.parse_scenario(text)))


# Refusals


def refusal(wires: int, lines: str) -> str:
    with pytest.raises(ScenarioError) as caught:
        simulator.solve(simulator.parse_scenario(SUPPLIES[wires] + lines))
    assert str(caught.value).isprintable()
    return str(caught.value)


# From the column "wires" of the table in scenario.md.
WIRES = {
    "one wattmeter to neutral": [4],
    "one wattmeter with artificial neutral": [3],
    "one wattmeter, two positions": [3],
    "two wattmeters": [3],
    "three wattmeters to neutral": [4],
    "three wattmeters to a floating star point": [3, 4],
    "three wattmeters to a line": [3],
    "one wattmeter moved in turn": [4],
    "one wattmeter for reactive power": [3],
    "two wattmeters for reactive power": [3],
    "three wattmeters for reactive power": [3, 4],
    "two elements, difference currents": [4],
}


def test_the_catalogue_is_the_table() -> None:
    assert {m.name: list(m.wires) for m in METHODS.values()} == WIRES


@pytest.mark.parametrize(
    ("name", "wires"),
    [(name, 7 - wires[0]) for name, wires in WIRES.items() if len(wires) == 1],
)
def test_methods_on_wrong_wires(name: str, wires: int) -> None:
    message = refusal(wires, f'[method]\nname = "{name}"\n{REAL}')
    assert message == (f"method: '{name}' is for {7 - wires} wires, but the supply has {wires}")


# scenario.md: the artificial neutral and the floating star point need an instrument with a finite
# `voltage_circuit`: otherwise an error that names the key.
@pytest.mark.parametrize(
    "name", ["one wattmeter with artificial neutral", "three wattmeters to a floating star point"]
)
def test_methods_that_need_a_voltage_circuit(name: str) -> None:
    why = "its star point exists only through the currents in the voltage circuits"
    assert refusal(3, f'[method]\nname = "{name}"\n') == (
        f"method, instrument: '{name}' needs an instrument with a voltage_circuit (for example "
        f'"20 kohm"): {why}'
    )
    assert refusal(3, f'[method]\nname = "{name}"\ninstrument = "clamp"\n') == (
        f"instrument 'clamp', voltage_circuit: '{name}' needs it (for example \"20 kohm\"): {why}"
    )


@pytest.mark.parametrize(
    ("name", "key", "value"),
    [
        ("one wattmeter to neutral", "common", '"L1"'),
        ("two wattmeters", "line", '"L1"'),
        ("two wattmeters", "resistors", '["1 kohm", "1 kohm"]'),
        ("three wattmeters to neutral", "line", '"L1"'),
        ("three wattmeters for reactive power", "common", '"L1"'),
    ],
)
def test_a_key_that_the_method_does_not_understand(name: str, key: str, value: str) -> None:
    wires = METHODS[name].wires[0]
    message = refusal(wires, f'[method]\nname = "{name}"\n{key} = {value}\n')
    assert message.startswith(f"method: '{name}' has no key '{key}'; it understands ")


AN_IMPEDANCE = "expected an impedance, for example '33.1 ohm'"
NEUTRAL_POINT = f'name = "one wattmeter with artificial neutral"\n{REAL}'


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ("", "method: 'name' is missing"),
        (
            'name = "two watmeters"',
            "method, name: there is no method 'two watmeters'; did you mean 'two wattmeters'?",
        ),
        (
            'name = "Two Wattmeters"',
            "method, name: there is no method 'Two Wattmeters'; did you mean 'two wattmeters'?",
        ),
        (
            'name = "two wattmeters"\ncomon = "L1"',
            "method: unknown key 'comon'; did you mean 'common'?",
        ),
        (
            'name = "two wattmeters"\ncommon = "N"',
            "method, common: expected 'L1', 'L2' or 'L3', got 'N'",
        ),
        (
            'name = "two wattmeters"\ninstrument = "portible"',
            "method, instrument: there is no instrument 'portible'; did you mean 'portable'?",
        ),
        (
            'name = "two wattmeters"\ninstrument = ["portable", "Other"]',
            "method, instrument: there is no instrument 'Other'; did you mean 'other'?",
        ),
        (
            'name = "two wattmeters"\ninstrument = ["portable"]',
            "method, instrument: expected one name or 2, one for each wattmeter, got 1",
        ),
        (
            'name = "two wattmeters"\ninstrument = []',
            "method, instrument: expected one name or 2, one for each wattmeter, got 0",
        ),
        (
            'name = "two wattmeters"\ncurrent_transformer = "tc"',
            ("method, current_transformer: there is no current transformer 'tc'; did you mean "
            "'ct'?"),
        ),
        (
            'name = "two wattmeters"\nvoltage_transformer = ""',
            "method, voltage_transformer: there is no voltage transformer ''; known are vt",
        ),
        (
            'name = "two wattmeters"\nvoltage_tap = "both"',
            "method, voltage_tap: expected 'supply' or 'load', got 'both'",
        ),
        (
            NEUTRAL_POINT + 'resistors = "20 kohm"',
            "method, resistors: expected a list, got '20 kohm'",
        ),
        (
            NEUTRAL_POINT + 'resistors = ["20 kohm"]',
            "method, resistors: expected a list of at least 2, got ['20 kohm']",
        ),
        (
            NEUTRAL_POINT + 'resistors = ["20 kohm", "20 V"]',
            f"method, resistors 2: {AN_IMPEDANCE}, got '20 V'",
        ),
        (
            NEUTRAL_POINT + 'resistors = ["-20 kohm", "20 kohm"]',
            ("method, resistors 1: expected an impedance without negative resistance, got "
            "'-20 kohm'"),
        ),
        (
            NEUTRAL_POINT + "resistors = [20, 20]",
            (f"method, resistors 1: {AN_IMPEDANCE}, got 20; write it as a text with its unit, as "
            'in "33.1 ohm"'),
        ),
    ],
)  # fmt: skip
def test_refusals(lines: str, message: str) -> None:
    assert refusal(3, f"[method]\n{lines}\n") == message


def test_an_external_resistor_equal_to_an_absurd_voltage_circuit() -> None:
    tools = replaced(TOOLS, "12 mH", "1e30 H")
    text = f"{THREE}{STAR}{tools}[method]\n{NEUTRAL_POINT}"
    with pytest.raises(ScenarioError) as caught:
        simulator.solve(simulator.parse_scenario(text))
    # derived: 2·pi·50 Hz·1e30 H, beyond the 1e30 ohm that an impedance may have
    assert str(caught.value) == (
        f"impedance 'R1', value: {AN_IMPEDANCE}, got '20000+3.1415926535897933e+32j ohm'"
    )


@pytest.mark.parametrize(("tables", "key"), [(W1, "[[wattmeter]]"), (TOTAL, "[total]")])
def test_a_method_stands_alone(tables: str, key: str) -> None:
    assert refusal(3, f'{tables}[method]\nname = "two wattmeters"\n') == (
        f"method: [method] already says what {key} would say; leave one out"
    )


def test_names_of_a_method_s_meters_are_taken() -> None:
    probe = '[[voltmeter]]\nname = "W2"\nbetween = ["L1", "L2"]\n'
    method = '[method]\nname = "two wattmeters"\n'
    assert refusal(3, probe + method) == "names: two meters are called 'W2'; rename one of them"
    renamed = replaced(SUPPLIES[3], '"ovens"', '"R1"')
    with pytest.raises(ScenarioError, match="two loads or impedances are called 'R1'"):
        simulator.solve(simulator.parse_scenario(f"{renamed}[method]\n{NEUTRAL_POINT}"))

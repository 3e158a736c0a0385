"""Bad input: one message in one line that says where, what was expected and what was given."""

from __future__ import annotations

import pytest

import simulator
from simulator.errors import NetworkError, ScenarioError, SimulatorError
from tests.scenario.texts import (
    FOUR,
    FOUR_WIRES,
    MOTOR,
    STAR,
    THREE,
    THREE_WIRES,
    TOTAL,
    W1,
    W2,
    load,
    meter,
    replaced,
)

SENSE = '[[wattmeter]]\nname = "W9"\ncurrent = "L1"\nvoltage = ["L1", "L2"]\n'
PLAIN = 'current = "L1"\nvoltage = ["L1", "L2"]'
AN_IMPEDANCE = "expected an impedance, for example '33.1 ohm'"
AS_TEXT = 'write it as a text with its unit, as in "33.1 ohm"'
CONNECTIONS = "expected 'star', 'delta', 'line-to-line', 'line-to-neutral' or 'motor'"
RATINGS = "power, apparent_power, reactive_power, current and power_factor that fix the load"
A_FACTOR = "expected a power factor from 0 to 1 with 'lag' or 'lead' (only 1 needs neither)"


def top(old: str, new: str) -> str:
    return replaced(THREE_WIRES, old, new)


def supply(line: str) -> str:
    return top("wires = 3\n", f"wires = 3\n{line}\n")


def emf(line: str) -> str:
    return top('voltage = "400 V"\n', f"{line}\n")


def instrument(lines: str) -> str:
    return meter(f'{PLAIN}\ninstrument = "p"', f"[instrument.p]\n{lines}\n")


def current_transformer(lines: str) -> str:
    rest = f"[current_transformer.ct]\n{lines}\n"
    return meter(f'{PLAIN}\ncurrent_transformer = "ct"', rest)


def refusal(text: str | bytes) -> SimulatorError:
    with pytest.raises(SimulatorError) as caught:
        simulator.solve(simulator.parse_scenario(text))
    assert str(caught.value).isprintable(), "control characters, or more than one line"
    return caught.value


# The text, and the whole message.
TOP = {
    "empty file": ("", "'title' is missing"),
    "no title": (top('title = "t"\n', ""), "'title' is missing"),
    "no supply": ('title = "t"\n', "'supply' is missing"),
    "empty supply": ('title = "t"\n[supply]\n', "supply: 'wires' is missing"),
    "misspelt table": (
        top("[supply]", "[suply]"),
        "unknown key 'suply'; did you mean 'supply'?",
    ),
    "misspelt key, upper case": (
        top('title = "t"', 'Title = "t"'),
        "unknown key 'Title'; did you mean 'title'?",
    ),
    "title is a number": (top('"t"', "5"), "title: expected a text in quotes, got 5"),
    "title is blank": (
        top('"t"', '"  "'),
        "title: expected one line of at most 200 characters, got '  '",
    ),
    "title is a date": (
        top('"t"', "1979-05-27"),
        "title: expected a text in quotes, got datetime.date(1979, 5, 27)",
    ),
    "description is a list": (
        top('title = "t"', 'title = "t"\ndescription = ["a"]'),
        "description: expected a text in quotes, got ['a']",
    ),
    "supply is a text": (
        'title = "t"\nsupply = "x"\n',
        "supply: expected a table of keys and values, got 'x'",
    ),
    "supply in double brackets": (
        'title = "t"\n[[supply]]\nwires = 3\n',
        "supply: expected a table of keys and values, got [{'wires': 3}]",
    ),
    "load in single brackets": (
        THREE + "[load]\nL1 = 3\n",
        "load: expected [[load]] in double brackets, got {'L1': 3}",
    ),
    "load is a number": (
        "load = 5\n" + THREE,
        "load: expected a list, got 5",
    ),
    "load holds a text": (
        'load = ["x"]\n' + THREE,
        "load 1: expected a table of keys and values, got 'x'",
    ),
    "instrument in double brackets": (
        THREE + "[[instrument]]\nx = 1\n",
        "instrument: expected [instrument.NAME], got [{'x': 1}]",
    ),
    "instrument without a name": (
        THREE + '[instrument]\nvoltage_circuit = "1 kohm"\n',
        "instrument 'voltage_circuit': expected a table of keys and values, got '1 kohm'",
    ),
    "method is a text": (
        'method = "two wattmeters"\n' + THREE,
        "method: expected a table of keys and values, got 'two wattmeters'",
    ),
}
SUPPLY = {
    "wires as a text": (top("wires = 3", 'wires = "3"'), "supply, wires: expected 3 or 4, got '3'"),
    "wires true": (top("wires = 3", "wires = true"), "supply, wires: expected 3 or 4, got True"),
    "five wires": (top("wires = 3", "wires = 5"), "supply, wires: expected 3 or 4, got 5"),
    "no voltage": (
        emf(""),
        "supply: expected exactly one of voltage, phase_voltages, sequence_voltages, got none",
    ),
    "two voltages": (
        supply('sequence_voltages = { positive = "230 V" }'),
        (
            "supply: expected exactly one of voltage, phase_voltages, sequence_voltages, "
            "got voltage and sequence_voltages"
        ),
    ),
    "voltage is a number": (
        top('"400 V"', "400"),
        (
            "supply, voltage: expected a voltage above 0 V, for example '400 V', got 400; "
            'write it as a text with its unit, as in "400 V"'
        ),
    ),
    "voltage without unit": (
        top('"400 V"', '"400"'),
        (
            "supply, voltage: expected a voltage above 0 V, for example '400 V', got '400' "
            "(its unit is missing)"
        ),
    ),
    "voltage in amperes": (
        top('"400 V"', '"400 A"'),
        "supply, voltage: expected a voltage above 0 V, for example '400 V', got '400 A'",
    ),
    "voltage zero": (
        top('"400 V"', '"0 V"'),
        "supply, voltage: expected a voltage above 0 V, for example '400 V', got '0 V'",
    ),
    "voltage NaN": (
        top('"400 V"', '"nan V"'),
        "supply, voltage: expected a voltage above 0 V, for example '400 V', got 'nan V'",
    ),
    "voltage infinite": (
        top('"400 V"', '"inf V"'),
        "supply, voltage: expected a voltage above 0 V, for example '400 V', got 'inf V'",
    ),
    "voltage overflows": (
        top('"400 V"', '"1e999 V"'),
        "supply, voltage: expected a voltage above 0 V, for example '400 V', got '1e999 V'",
    ),
    "frequency zero": (
        supply('frequency = "0 Hz"'),
        "supply, frequency: expected a frequency above 0 Hz, for example '50 Hz', got '0 Hz'",
    ),
    "frequency negative": (
        supply('frequency = "-50 Hz"'),
        "supply, frequency: expected a frequency above 0 Hz, for example '50 Hz', got '-50 Hz'",
    ),
    "no such sequence": (
        supply('sequence = "L1-L2"'),
        (
            "supply, sequence: expected 'L1-L2-L3', 'L2-L3-L1', 'L3-L1-L2', 'L3-L2-L1', 'L2-L1-L3' "
            "or 'L1-L3-L2', got 'L1-L2'"
        ),
    ),
    "negative line resistance": (
        supply('line_impedance = "-1 ohm"'),
        "supply, line_impedance: expected an impedance without negative resistance, got '-1 ohm'",
    ),
    "line impedance of N": (
        supply('line_impedance = { N = "1 ohm" }'),
        "supply, line_impedance: unknown key 'N'; known are L1, L2, L3",
    ),
    "line impedance as a list": (
        supply('line_impedance = ["1 ohm"]'),
        f"supply, line_impedance: {AN_IMPEDANCE}, got ['1 ohm']; {AS_TEXT}",
    ),
    "one line impedance is a voltage": (
        supply('line_impedance = { L2 = "1 V" }'),
        f"supply, line_impedance, L2: {AN_IMPEDANCE}, got '1 V'",
    ),
    "neutral impedance on three wires": (
        supply('neutral_impedance = "1 ohm"'),
        "supply: neutral_impedance needs a neutral, but there are 3 wires",
    ),
    "earthed neutral on three wires": (
        supply('earthed = "N"'),
        "supply: the neutral cannot be earthed: there are 3 wires",
    ),
    "earthed nothing": (
        supply('earthed = "PE"'),
        "supply, earthed: expected 'L1', 'L2', 'L3' or 'N', got 'PE'",
    ),
    "phase voltage missing": (
        emf('phase_voltages = { L1 = "231 V", L2 = "222 V @ -121 deg" }'),
        "supply, phase_voltages: 'L3' is missing",
    ),
    "phase voltage without unit of angle": (
        emf('phase_voltages = { L1 = "231 V", L2 = "222 V @ -121", L3 = "1 V" }'),
        (
            "supply, phase_voltages, L2: expected a voltage, for example '400 V' or "
            "'400 V @ -120 deg', got '222 V @ -121'"
        ),
    ),
    "phase voltages and a sequence": (
        emf('sequence = "L1-L2-L3"\nphase_voltages = { L1 = "1 V", L2 = "1 V", L3 = "1 V" }'),
        "supply: phase_voltages already say the sequence; leave 'sequence' out",
    ),
    "no positive component": (
        emf('sequence_voltages = { negative = "6 V" }'),
        "supply, sequence_voltages: 'positive' is missing",
    ),
}
LOADS = {
    "no connection": (load('name = "a"'), "load 'a': 'connection' is missing"),
    "no such connection": (
        load('connection = "wye"\neach = "1 ohm"'),
        f"load 1, connection: {CONNECTIONS}, got 'wye'",
    ),
    "wrong kind of unit": (
        top('"25+10j ohm"', '"25 V"'),
        f"load 'ovens', L2: {AN_IMPEDANCE}, got '25 V'",
    ),
    "branch is a number": (
        top('"25+10j ohm"', "25"),
        f"load 'ovens', L2: {AN_IMPEDANCE}, got 25; {AS_TEXT}",
    ),
    "branch is a date": (
        top('"25+10j ohm"', "07:32:00"),
        f"load 'ovens', L2: {AN_IMPEDANCE}, got datetime.time(7, 32); {AS_TEXT}",
    ),
    "branch NaN": (
        top('"25 ohm"', '"nan ohm"'),
        f"load 'ovens', L1: {AN_IMPEDANCE}, got 'nan ohm'",
    ),
    "branch infinite": (
        top('"25 ohm"', '"inf ohm"'),
        f"load 'ovens', L1: {AN_IMPEDANCE}, got 'inf ohm'",
    ),
    "branch negative": (
        top('"25 ohm"', '"-25 ohm"'),
        (
            "load 'ovens', L1: expected an impedance without negative resistance (a load that "
            "generates needs active = true), got '-25 ohm'"
        ),
    ),
    "branch missing": (
        top('L2 = "25+10j ohm"\n', ""),
        (
            "load 'ovens': a star needs L1, L2, L3: 'L2' is missing "
            '(write "open" for a missing branch)'
        ),
    ),
    "branch misspelt": (
        top('L2 = "25+10j ohm"', 'l2 = "25+10j ohm"'),
        "load 'ovens': unknown key 'l2'; did you mean 'L2'?",
    ),
    "branches and each": (
        load('connection = "star"\nL1 = "1 ohm"\neach = "2 ohm"'),
        "load 1: expected either L1, L2, L3, or 'each', or 'total'",
    ),
    "star with a pair": (
        load('connection = "star"\neach = "1 ohm"\nL1-L2 = "1 ohm"'),
        "load 1: 'L1-L2' is no branch of a star load",
    ),
    "delta with a line": (
        load('connection = "delta"\nL1 = "1 ohm"\nL2 = "1 ohm"\nL3 = "1 ohm"'),
        "load 1: 'L1' is no branch of a delta load",
    ),
    "delta branch missing": (
        load('connection = "delta"\nL1-L2 = "1 ohm"\nL2-L3 = "1 ohm"'),
        (
            "load 1: a delta needs L1-L2, L2-L3, L3-L1: 'L3-L1' is missing "
            '(write "open" for a missing branch)'
        ),
    ),
    "delta branch twice": (
        load(
            'connection = "delta"\nL1-L2 = "1 ohm"\nL2-L3 = "1 ohm"\n'
            'L3-L1 = "1 ohm"\nL1-L3 = "1 ohm"'
        ),
        "load 1: 'L3-L1' and 'L1-L3' are the same branch, given twice",
    ),
    "branch to itself": (
        load('connection = "line-to-line"\nL1-L1 = "1 ohm"'),
        "load 1: unknown key 'L1-L1'; did you mean 'L3-L1'?",
    ),
    "no branch": (
        load('connection = "line-to-line"'),
        "load 1: expected at least one of L1-L2, L2-L3, L3-L1",
    ),
    "each between lines": (
        load('connection = "line-to-line"\neach = "1 ohm"'),
        "load 1: 'each' and 'total' belong to a star or a delta",
    ),
    "to a neutral that is not there": (
        load('connection = "line-to-neutral"\nL1 = "1 ohm"'),
        "load 1, connection: a load to the neutral needs a supply with 4 wires",
    ),
    "star point on the missing neutral": (
        load('connection = "star"\neach = "1 ohm"\nstar_point = "N"'),
        "load 1, star_point: there is no neutral on 3 wires",
    ),
    "star point not stated on four wires": (
        load('connection = "star"\neach = "1 ohm"', FOUR),
        (
            "load 1, star_point: on 4 wires say where the star point is: "
            'star_point = "neutral" or "isolated"'
        ),
    ),
    "star point on a line": (
        load('connection = "star"\neach = "1 ohm"\nstar_point = "L1"', FOUR),
        'load 1, star_point: expected "neutral", "isolated" or a name of its own, got \'L1\'',
    ),
    "star point nearly the neutral": (
        load('connection = "star"\neach = "1 ohm"\nstar_point = "Neutral"', FOUR),
        (
            'load 1, star_point: expected "neutral", "isolated" or a name of its own, got '
            "'Neutral'; did you mean 'neutral'?"
        ),
    ),
    "star point nearly isolated": (
        load('connection = "star"\neach = "1 ohm"\nstar_point = "isolatd"', FOUR),
        (
            'load 1, star_point: expected "neutral", "isolated" or a name of its own, got '
            "'isolatd'; did you mean 'isolated'?"
        ),
    ),
    "star point in a small n": (
        load('connection = "star"\neach = "1 ohm"\nstar_point = "n"', FOUR),
        "load 1, star_point: 'n' and 'N' differ only in upper and lower case; did you mean 'N'?",
    ),
    "star point with a blank": (
        load('connection = "star"\neach = "1 ohm"\nstar_point = "P P"'),
        "load 1, star_point: expected a conductor or a name of letters, digits and _, got 'P P'",
    ),
    "star point of a delta": (
        load('connection = "delta"\neach = "1 ohm"\nstar_point = "isolated"'),
        "load 1: 'star_point' belongs to a load with connection = \"star\"",
    ),
    "neutral lead of an isolated star": (
        load(
            'connection = "star"\neach = "1 ohm"\nstar_point = "isolated"\nneutral_lead = "1 ohm"',
            FOUR,
        ),
        "load 1: 'neutral_lead' needs a load that is connected to the neutral",
    ),
    "active as a text": (
        load('connection = "star"\neach = "1 ohm"\nactive = "true"'),
        "load 1, active: expected true or false, got 'true'",
    ),
    "two loads of one name": (
        THREE + STAR + STAR,
        "names: two loads or impedances are called 'ovens'; rename one of them",
    ),
    "slip as a text": (
        THREE + replaced(MOTOR, "slip = 0.022", 'slip = "0.022"'),
        "load 'fan', slip: expected a number without quotes, got '0.022'",
    ),
    "slip true": (
        THREE + replaced(MOTOR, "slip = 0.022", "slip = true"),
        "load 'fan', slip: expected a number without quotes, got True",
    ),
    "slip NaN": (
        THREE + replaced(MOTOR, "slip = 0.022", "slip = nan"),
        "load 'fan', slip: expected a finite number, got nan",
    ),
    "slip negative": (
        THREE + replaced(MOTOR, "slip = 0.022", "slip = -0.02"),
        (
            "load 'fan', slip: expected a slip from 0 to 2, got -0.02 "
            "(a motor that generates needs active = true)"
        ),
    ),
    "motor without circuit": (
        load('connection = "motor"\nslip = 0.02'),
        "load 1: a motor needs 'slip' and 'circuit'",
    ),
    "motor circuit without Xm": (
        THREE + replaced(MOTOR, 'Xm = "26.3 ohm", ', ""),
        "load 'fan', circuit: 'Xm' is missing",
    ),
    "motor circuit in small letters": (
        THREE + replaced(MOTOR, "R1", "r1"),
        "load 'fan', circuit: unknown key 'r1'; did you mean 'R1'?",
    ),
    "reactive iron loss": (
        THREE + replaced(MOTOR, '"open"', '"5+1j ohm"'),
        "load 'fan', circuit: Rc: expected a resistance above zero, or \"open\"",
    ),
    "slip of a star": (
        load('connection = "star"\neach = "1 ohm"\nslip = 0.1'),
        "load 1: 'slip' and 'circuit' belong to a load with connection = \"motor\"",
    ),
}


def each(table: str) -> str:
    return load(f'connection = "star"\neach = {table}')


def total(table: str) -> str:
    return load(f'connection = "star"\ntotal = {table}')


FORMS_OF_LOADS = {
    "misspelt part": (
        each('{ resistence = "1 ohm" }'),
        "load 1, each: unknown key 'resistence'; did you mean 'resistance'?",
    ),
    "misspelt rating": (
        each('{ power_facter = "0.8 lag" }'),
        "load 1, each: unknown key 'power_facter'; did you mean 'power_factor'?",
    ),
    "parts and a rating": (
        each('{ resistance = "1 ohm", power = "1 kW" }'),
        (
            "load 1, each: unknown key 'power'; known are resistance, inductance, capacitance, "
            "parallel"
        ),
    ),
    "no part": (
        each("{ parallel = true }"),
        "load 1, each: expected at least one of resistance, inductance and capacitance",
    ),
    "negative part": (
        each('{ resistance = "-1 ohm" }'),
        (
            "load 1, each: expected an impedance without negative resistance (a load that "
            "generates needs active = true), got '-1 ohm'"
        ),
    ),
    "capacitance zero": (
        each('{ capacitance = "0 F" }'),
        (
            "load 1, each, capacitance: expected a capacitance above 0 F, for example '47 uF', "
            "got '0 F'"
        ),
    ),
    "parallel as a text": (
        each('{ resistance = "1 ohm", parallel = "yes" }'),
        "load 1, each, parallel: expected true or false, got 'yes'",
    ),
    "empty rating": (each("{}"), f"load 1, each: expected exactly two of {RATINGS}, got none"),
    "one quantity": (
        total('{ power = "1 kW" }'),
        f"load 1, total: expected exactly two of {RATINGS}, got power",
    ),
    "three quantities": (
        total('{ power = "1 kW", current = "1 A", power_factor = "0.8 lag" }'),
        f"load 1, total: expected exactly two of {RATINGS}, got power and current and power_factor",
    ),
    "two quantities that say the same": (
        total('{ apparent_power = "1 kVA", current = "1 A" }'),
        f"load 1, total: expected exactly two of {RATINGS}, got apparent_power and current",
    ),
    "power above apparent power": (
        total('{ power = "5 kW", apparent_power = "4 kVA" }'),
        "load 1, total: the power of 5000 is larger than the apparent power of 4000 VA",
    ),
    "power factor above one": (
        total('{ power = "1 kW", power_factor = "1.2 lag" }'),
        f"load 1, total, power_factor: {A_FACTOR}, for example '0.8 lag', got '1.2 lag'",
    ),
    "power factor below zero": (
        total('{ power = "1 kW", power_factor = "-0.2 lag" }'),
        f"load 1, total, power_factor: {A_FACTOR}, for example '0.8 lag', got '-0.2 lag'",
    ),
    "power factor without sense": (
        total('{ power = "1 kW", power_factor = "0.8" }'),
        f"load 1, total, power_factor: {A_FACTOR}, for example '0.8 lag', got '0.8'",
    ),
    "power factor with a decimal comma": (
        total('{ power = "1 kW", power_factor = "0,8 lag" }'),
        (
            f"load 1, total, power_factor: {A_FACTOR}, for example '0.8 lag', got '0,8 lag' "
            "(a decimal point, no comma)"
        ),
    ),
    "shaft power": (
        total('{ power = "75 kW", efficiency = "94 %", power_factor = "0.8 lag" }'),
        (
            "load 1, total: leave 'efficiency' out: power is what the load takes from the supply, "
            "that of a motor's plate divided by the efficiency"
        ),
    ),
    "power factor of an impedance above one": (
        top('"25 ohm"', '"50 ohm, 1.6 lag"'),
        f"load 'ovens', L1: {AN_IMPEDANCE}, got '50 ohm, 1.6 lag'",
    ),
    "rating without a nominal voltage": (
        replaced(
            total('{ power = "1 kW", power_factor = "1" }'),
            'voltage = "400 V"',
            'phase_voltages = { L1 = "230 V", L2 = "230 V @ -120 deg", L3 = "220 V @ 120 deg" }',
        ),
        (
            "load 1, total: the supply has no single nominal voltage, so say which voltage the "
            'rating refers to: at = "230 V"'
        ),
    ),
    "total is an impedance": (
        total('"5 ohm"'),
        "load 1, total: expected a table of keys and values, got '5 ohm'",
    ),
    "each is a list": (
        each('["1 ohm"]'),
        f"load 1, each: {AN_IMPEDANCE}, got ['1 ohm']; {AS_TEXT}",
    ),
}
METERS = {
    "no name": (
        THREE + f"[[wattmeter]]\n{PLAIN}\n",
        "wattmeter 1: 'name' is missing",
    ),
    "name with a blank": (
        replaced(THREE_WIRES, '"W2"', '"W 2"'),
        (
            "wattmeter 'W 2', name: expected a name of letters, digits and _ that starts with a "
            "letter, got 'W 2'"
        ),
    ),
    "no voltage circuit": (meter('current = "L1"'), "wattmeter 'W1': 'voltage' is missing"),
    "no such conductor": (
        meter('current = "L4"\nvoltage = ["L1", "L2"]'),
        "wattmeter 'W1', current: expected a conductor (L1, L2, L3), got 'L4'",
    ),
    "current in the missing neutral": (
        meter('current = "N"\nvoltage = ["L1", "L2"]'),
        "wattmeter 'W1', current: there is no neutral on 3 wires",
    ),
    "voltage to the missing neutral": (
        meter('current = "L1"\nvoltage = ["L1", "N"]'),
        "wattmeter 'W1', voltage: there is no neutral on 3 wires",
    ),
    "both windings in one conductor": (
        meter('current = ["L1", "-L1"]\nvoltage = ["L1", "L2"]'),
        "wattmeter 'W1', current: 'L1' stands more than once",
    ),
    "two minus signs": (
        meter('current = "--L1"\nvoltage = ["L1", "L2"]'),
        "wattmeter 'W1', current: expected a conductor, perhaps with a minus, got '--L1'",
    ),
    "current is a number": (
        meter('current = 1\nvoltage = ["L1", "L2"]'),
        "wattmeter 'W1', current: expected a list, got 1",
    ),
    "one current is a number": (
        meter('current = ["L1", 2]\nvoltage = ["L1", "L2"]'),
        "wattmeter 'W1', current 2: expected a text in quotes, got 2",
    ),
    "no current": (
        meter('current = []\nvoltage = ["L1", "L2"]'),
        "wattmeter 'W1', current: expected a list of at least 1, got []",
    ),
    "voltage is a text": (
        meter('current = "L1"\nvoltage = "L1-L2"'),
        "wattmeter 'W1', voltage: expected a list, got 'L1-L2'",
    ),
    "one end": (
        meter('current = "L1"\nvoltage = ["L1"]'),
        "wattmeter 'W1', voltage: expected a list of at least 2, got ['L1']",
    ),
    "three ends": (
        meter('current = "L1"\nvoltage = ["L1", "L2", "L3"]'),
        "wattmeter 'W1', voltage: expected a list of at most 2, got ['L1', 'L2', 'L3']",
    ),
    "an internal node": (
        meter('current = "L1"\nvoltage = ["L1", "supply star point"]'),
        (
            "wattmeter 'W1', voltage 2: expected a conductor or a name of letters, digits and _, "
            "got 'supply star point'"
        ),
    ),
    "a word of star_point": (
        meter('current = "L1"\nvoltage = ["L1", "neutral"]', supply=FOUR),
        (
            "wattmeter 'W1', voltage 2: 'neutral' is a word of star_point and no node: write 'N' "
            "for the neutral, or give the star point a name"
        ),
    ),
    "a node that nothing else has": (
        meter(
            'current = "L1"\nvoltage = ["L1", "P1"]',
            STAR.replace("ovens", "b") + 'star_point = "P"\n',
        ),
        "wattmeter 'W1', voltage: nothing else is connected to 'P1'; did you mean 'P'?",
    ),
    "a node in a small letter": (
        meter(
            'current = "L1"\nvoltage = ["L1", "p"]',
            STAR.replace("ovens", "b") + 'star_point = "P"\n',
        ),
        (
            "wattmeter 'W1', voltage: 'p' and 'P' differ only in upper and lower case; "
            "did you mean 'P'?"
        ),
    ),
    "a conductor in a small letter, twice": (
        meter('current = "L1"\nvoltage = ["L1", "l2"]', W2.replace('"L2"', '"l2"')),
        (
            "wattmeter 'W1', voltage: 'l2' and 'L2' differ only in upper and lower case; "
            "did you mean 'L2'?"
        ),
    ),
    "a load's name as a node": (
        meter('current = "L1"\nvoltage = ["L1", "ovens"]'),
        "wattmeter 'W1', voltage: nothing else is connected to 'ovens'; known are L1, L2, L3",
    ),
    "earth without an earthed conductor": (
        meter('current = "L1"\nvoltage = ["L1", "PE"]'),
        "wattmeter 'W1', voltage: nothing else is connected to 'PE'; known are L1, L2, L3",
    ),
    "no such tap": (
        meter(f'{PLAIN}\nvoltage_tap = "Load"'),
        "wattmeter 'W1', voltage_tap: expected 'supply' or 'load', got 'Load'",
    ),
    "reversed twice": (
        meter(f'{PLAIN}\nreversed = ["current", "current"]'),
        "wattmeter 'W1', reversed: expected each only once, got ['current', 'current']",
    ),
    "reversed tap": (
        meter(f'{PLAIN}\nreversed = ["tap"]'),
        "wattmeter 'W1', reversed 1: expected 'current' or 'voltage', got 'tap'",
    ),
    "station zero": (
        meter(f"{PLAIN}\nstation = 0"),
        "wattmeter 'W1', station: expected a number of at least 1, got 0",
    ),
    "station true": (
        meter(f"{PLAIN}\nstation = true"),
        "wattmeter 'W1', station: expected a whole number, got True",
    ),
    "station 1.5": (
        meter(f"{PLAIN}\nstation = 1.5"),
        "wattmeter 'W1', station: expected a whole number, got 1.5",
    ),
    "no such instrument": (
        meter(f'{PLAIN}\ninstrument = "Portable"', "[instrument.portable]\n"),
        "wattmeter 'W1', instrument: there is no instrument 'Portable'; did you mean 'portable'?",
    ),
    "no instruments": (
        meter(f'{PLAIN}\ninstrument = ""'),
        "wattmeter 'W1', instrument: there is no instrument ''; there are none",
    ),
    "no such current transformer": (
        meter(f'{PLAIN}\ncurrent_transformer = ""'),
        "wattmeter 'W1', current_transformer: there is no current transformer ''; there are none",
    ),
    "a current transformer for the voltage": (
        meter(
            f'{PLAIN}\nvoltage_transformer = "ct"', '[current_transformer.ct]\nratio = "100/5 A"\n'
        ),
        "wattmeter 'W1', voltage_transformer: there is no voltage transformer 'ct'; there are none",
    ),
    "two meters of one name": (
        THREE_WIRES + SENSE.replace("W9", "W2"),
        "names: two meters are called 'W2'; rename one of them",
    ),
    "a voltmeter of a wattmeter's name": (
        THREE_WIRES + '[[voltmeter]]\nname = "W1"\nbetween = ["L1", "L2"]\n',
        "names: two meters are called 'W1'; rename one of them",
    ),
    "an ammeter in two conductors": (
        THREE_WIRES + '[[ammeter]]\nname = "A"\nin = ["L1", "L2"]\n',
        "ammeter 'A', in: expected 'L1', 'L2', 'L3' or 'N', got ['L1', 'L2']",
    ),
    "an ammeter in the missing neutral": (
        THREE_WIRES + '[[ammeter]]\nname = "A"\nin = "N"\n',
        "ammeter 'A', in: there is no neutral on 3 wires",
    ),
    "an impedance to itself": (
        THREE_WIRES + '[[impedance]]\nbetween = ["L1", "L1"]\nvalue = "1 ohm"\n',
        "impedance 1: both ends are at 'L1'",
    ),
    "a negative impedance": (
        THREE_WIRES + '[[impedance]]\nname = "R"\nbetween = ["L1", "L2"]\nvalue = "-1 ohm"\n',
        "impedance 'R', value: expected an impedance without negative resistance, got '-1 ohm'",
    ),
    "an impedance of a load's name": (
        THREE_WIRES + '[[impedance]]\nname = "ovens"\nbetween = ["L1", "L2"]\nvalue = "1 ohm"\n',
        "names: two loads or impedances are called 'ovens'; rename one of them",
    ),
    "no such side": (
        THREE_WIRES + '[[impedance]]\nbetween = ["L1", "L2"]\nvalue = "1 ohm"\nside = "source"\n',
        "impedance 1, side: expected 'supply' or 'load', got 'source'",
    ),
}
A_VOLTAGE_CIRCUIT = (
    "instrument 'p', voltage_circuit: expected the impedance of a voltage circuit with a "
    "resistance above zero, for example '20 kohm' or '20 kohm, 12 mH'"
)
A_RATIO = "current_transformer 'ct', ratio: expected a ratio of two currents above zero"
INSTRUMENTS = {
    "misspelt key": (
        instrument("acuracy_class = 1"),
        "instrument 'p': unknown key 'acuracy_class'; did you mean 'accuracy_class'?",
    ),
    "open current circuit": (
        instrument('current_circuit = "open"'),
        "instrument 'p', current_circuit: expected an impedance that is not open, got 'open'",
    ),
    "voltage circuit of zero": (
        instrument('voltage_circuit = "0 ohm"'),
        f"{A_VOLTAGE_CIRCUIT}, got '0 ohm'",
    ),
    "voltage circuit of two resistances": (
        instrument('voltage_circuit = "20 kohm, 12 ohm"'),
        f"{A_VOLTAGE_CIRCUIT}, got '20 kohm, 12 ohm'",
    ),
    "no such kind": (
        instrument('kind = "Electronic"'),
        "instrument 'p', kind: expected 'electrodynamic' or 'electronic', got 'Electronic'",
    ),
    "gain error of a pointer": (
        instrument('gain_error = "0.1 %"'),
        (
            "instrument 'p': gain_error and phase_error describe an instrument with kind = "
            '"electronic"'
        ),
    ),
    "gain error as a number": (
        instrument('kind = "electronic"\ngain_error = 0.1'),
        (
            "instrument 'p', gain_error: expected a percentage, for example '-0.2 %', got 0.1; "
            'write it as a text with its unit, as in "-0.2 %"'
        ),
    ),
    "phase error without unit": (
        instrument('kind = "electronic"\nphase_error = "3"'),
        (
            "instrument 'p', phase_error: expected an angle, for example '2 deg' or '15 min', "
            "got '3' (its unit is missing)"
        ),
    ),
    "range of zero": (
        instrument('current_range = "0 A"'),
        "instrument 'p', current_range: expected a current above 0 A, for example '5 A', got '0 A'",
    ),
    "accuracy class as a text": (
        instrument('accuracy_class = "0.5"'),
        "instrument 'p', accuracy_class: expected a number without quotes, got '0.5'",
    ),
    "accuracy class true": (
        instrument("accuracy_class = true"),
        "instrument 'p', accuracy_class: expected a number without quotes, got True",
    ),
    "accuracy class zero": (
        instrument("accuracy_class = 0"),
        "instrument 'p', accuracy_class: expected a number above 0, got 0",
    ),
    "accuracy class NaN": (
        instrument("accuracy_class = nan"),
        "instrument 'p', accuracy_class: expected a number of at most 10, got nan",
    ),
    "ratio without unit": (
        current_transformer('ratio = "100/5"'),
        f"{A_RATIO}, for example '100/5 A', got '100/5'",
    ),
    "ratio in volts": (
        current_transformer('ratio = "100/5 V"'),
        f"{A_RATIO}, for example '100/5 A', got '100/5 V'",
    ),
    "ratio to nothing": (
        current_transformer('ratio = "100/0 A"'),
        f"{A_RATIO}, for example '100/5 A', got '100/0 A'",
    ),
    "no ratio": (current_transformer(""), "current_transformer 'ct': 'ratio' is missing"),
    "ratio error without sign of percent": (
        current_transformer('ratio = "100/5 A"\nratio_error = "-0.2"'),
        (
            "current_transformer 'ct', ratio_error: expected a percentage, for example '-0.2 %', "
            "got '-0.2' (its unit is missing)"
        ),
    ),
}
FORMULA = "expected a number, sqrt(3), the name of a meter or a parenthesis"


def formula(text: str) -> str:
    return replaced(THREE_WIRES, '"W1 + W2"', f'"{text}"')


TOTALS = {
    "neither": (
        THREE_WIRES.replace(TOTAL, "[total]\n"),
        "total: expected exactly one of power and reactive_power",
    ),
    "both": (
        THREE_WIRES + 'reactive_power = "W1"\n',
        "total: expected exactly one of power and reactive_power",
    ),
    "a number": (
        replaced(THREE_WIRES, '"W1 + W2"', "5"),
        "total, power: expected a text in quotes, got 5",
    ),
    "empty": (formula(""), f"total, power: formula '', at character 1, the end: {FORMULA}"),
    "no such meter": (
        formula("W1 + W3"),
        (
            "total, power: formula 'W1 + W3', at character 6, 'W3': no meter has this name, the "
            "nearest is 'W2'"
        ),
    ),
    "a constant": (
        formula("W1 + 3"),
        (
            "total, power: formula 'W1 + 3', at character 4, '+': a number may multiply a reading, "
            "but not be added to one"
        ),
    ),
    "a product": (
        formula("W1*W2"),
        (
            "total, power: formula 'W1*W2', at character 3, '*': a product of two readings is no "
            "weighted sum"
        ),
    ),
    "a control character": (
        formula("W1\\n+ \\u001b[31mW2"),
        "total, power: expected a formula in one line, got 'W1\\n+ \\x1b[31mW2'",
    ),
    "a voltmeter": (
        THREE + STAR + '[[voltmeter]]\nname = "V"\nbetween = ["L1", "L2"]\n[total]\npower = "V"\n',
        (
            "total, power: formula 'V', at character 1, 'V': no meter has this name, "
            "there are no meters"
        ),
    ),
}
GROUPS = {
    "top": TOP,
    "supply": SUPPLY,
    "loads": LOADS,
    "forms of loads": FORMS_OF_LOADS,
    "meters": METERS,
    "instruments": INSTRUMENTS,
    "totals": TOTALS,
}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        pytest.param(text, message, id=f"{group}: {name}")
        for group, cases in GROUPS.items()
        for name, (text, message) in cases.items()
    ],
)
def test_message(text: str, message: str) -> None:
    error = refusal(text)
    assert isinstance(error, ScenarioError)
    assert str(error) == message


# The text, and what the message must name: the parts that float, or the loop.
@pytest.mark.parametrize(
    ("text", "named"),
    [
        pytest.param(
            load('name = "ovens"\nconnection = "star"\neach = "open"'),
            ["'star point of ovens'", "'load ovens L1'", "'load ovens L2'", "'load ovens L3'"],
            id="star with every branch open",
        ),
        pytest.param(
            load(
                'name = "ovens"\nconnection = "star"\neach = { power = "0 W", power_factor = "1" }'
            ),
            ["'star point of ovens'", "'load ovens L1'"],
            id="star rated for no power",
        ),
        pytest.param(
            load('name = "bars"\nconnection = "delta"\neach = "0 ohm"'),
            ["'load bars L1-L2'", "'source L1'", "'source L2'", "400 V"],
            id="dead short between ideal sources",
        ),
        pytest.param(
            load('name = "bars"\nconnection = "delta"\neach = "0 ohm"').replace(
                "wires = 3", 'wires = 3\nline_impedance = "0.1 ohm"'
            ),
            ["'load bars L1-L2'", "'load bars L2-L3'", "'load bars L3-L1'"],
            id="loop of links",
        ),
        pytest.param(
            FOUR_WIRES.replace("wires = 4", 'wires = 4\nline_impedance = "open"').replace(
                '"neutral"', '"isolated"'
            ),
            ["'star point of ovens'", "'line L1'", "'line L2'", "'line L3'"],
            id="all lines open",
        ),
        pytest.param(
            THREE
            + STAR
            + "".join(w.replace('"L2"]', '"P"]') for w in (W1, W2))
            + '[[wattmeter]]\nname = "W3"\ncurrent = "L2"\nvoltage = ["L2", "P"]\n',
            ["'P'", "W1, W2, W3", "voltage_circuit"],
            id="floating star point of ideal voltage circuits",
        ),
    ],
)
def test_no_unique_solution(text: str, named: list[str]) -> None:
    error = refusal(text)
    assert isinstance(error, NetworkError)
    for part in named:
        assert part in str(error)

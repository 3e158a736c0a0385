"""Instruments from a file that several scenarios share: found beside the scenario, or refused."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import simulator
from simulator.errors import ScenarioError
from simulator.scenario.build import build
from tests.scenario.texts import STAR, THREE, W1, replaced

if TYPE_CHECKING:
    from pathlib import Path

USER = THREE + STAR + replaced(W1, '"W1"\n', '"W1"\ninstrument = "p"\n')
FILES = {
    "ok.toml": '[instrument.p]\nvoltage_circuit = "20 kohm"\n[instrument.q]\n',
    "bad.toml": '[instrument.p]\nvoltage_circuit = "20 V"\n',
    "scenario.toml": THREE,
    "nested.toml": 'instruments_from = "ok.toml"\n',
    "empty.toml": "",
    "no.toml": "\x1b[31m",
    "large.toml": "#" * 100_001,
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in FILES.items():
        (tmp_path / name).write_text(text)
    return tmp_path


def scenario(folder: Path, value: str, rest: str = "") -> Path:
    path = folder / "user.toml"
    path.write_text(f"instruments_from = {value}\n{USER}{rest}")
    return path


@pytest.mark.parametrize("value", ['"ok.toml"', '"./ok.toml"', '"no/../ok.toml"'])
def test_found_beside_the_scenario(folder: Path, value: str) -> None:
    (folder / "no").mkdir()
    found = simulator.read_scenario(scenario(folder, value))
    assert build(found).wattmeters[0].instrument.voltage_circuit == 20e3
    text = scenario(folder, value).read_text()
    assert simulator.parse_scenario(text, folder).wattmeter == found.wattmeter


def test_own_instruments_stand_beside_shared_ones(folder: Path) -> None:
    own = '[instrument.mine]\nvoltage_circuit = "1 kohm"\n'
    found = simulator.read_scenario(scenario(folder, '"ok.toml"', own))
    assert set(found.instrument) == {"p", "q", "mine"}


def test_generic_instruments() -> None:
    text = 'instruments_from = "generic"\n' + USER.replace('"p"', '"portable"')
    assert not build(simulator.parse_scenario(text)).wattmeters[0].instrument.senses_only


CANNOT = "cannot read it"


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("5", "instruments_from: expected a text in quotes, got 5"),
        ('["ok.toml"]', "instruments_from: expected a text in quotes, got ['ok.toml']"),
        (
            '"none.toml"',
            (
                f"instruments_from 'none.toml': {CANNOT}: No such file or directory; "
                "did you mean 'no.toml'?"
            ),
        ),
        ('"."', f"instruments_from '.': {CANNOT}: Is a directory"),
        ('""', f"instruments_from '': {CANNOT}: Is a directory"),
        (
            '"a\\n\\u001b"',
            f"instruments_from 'a\\n\\x1b': {CANNOT}: No such file or directory",
        ),
        ('"a\\u0000b"', f"instruments_from 'a\\x00b': {CANNOT}: embedded null byte"),
        (
            f'"{"x" * 300}"',
            f"instruments_from '{'x' * 60}…: {CANNOT}: File name too long",
        ),
        (
            '"bad.toml"',
            (
                "instruments_from 'bad.toml', instrument 'p', voltage_circuit: expected the "
                "impedance of a voltage circuit with a resistance above zero, for example "
                "'20 kohm' or '20 kohm, 12 mH', got '20 V'"
            ),
        ),
        (
            '"scenario.toml"',
            (
                "instruments_from 'scenario.toml': unknown key 'title'; known are instrument, "
                "current_transformer, voltage_transformer"
            ),
        ),
        (
            '"nested.toml"',
            (
                "instruments_from 'nested.toml': unknown key 'instruments_from'; did you mean "
                "'instrument'?"
            ),
        ),
        ('"empty.toml"', "wattmeter 'W1', instrument: there is no instrument 'p'; there are none"),
        (
            '"no.toml"',
            ("instruments_from 'no.toml': expected TOML: Invalid statement (at line 1, column 1)"),
        ),
        (
            '"large.toml"',
            "instruments_from 'large.toml': expected a file of instruments of at most 100 kB",
        ),
    ],
)
def test_refusals(folder: Path, value: str, message: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        simulator.solve(simulator.parse_scenario(scenario(folder, value).read_text(), folder))
    assert str(caught.value) == message
    assert message.isprintable()


def test_a_name_in_both_files(folder: Path) -> None:
    path = scenario(folder, '"ok.toml"', "[instrument.p]\n")
    with pytest.raises(ScenarioError) as caught:
        simulator.read_scenario(path)
    assert str(caught.value) == (
        f"{path}: instrument 'p': it stands in 'ok.toml' too; give one of the two another name"
    )


@pytest.mark.parametrize("rest", ["[[instrument]]\n", ""])
def test_own_instruments_that_are_none(folder: Path, rest: str) -> None:
    text = scenario(folder, '"ok.toml"', rest).read_text()
    text = text if rest else f'instrument = "x"\n{text}'
    with pytest.raises(ScenarioError, match=r"^instrument: expected \[instrument\.NAME\], got "):
        simulator.parse_scenario(text, folder)

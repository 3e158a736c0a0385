"""Keys of instruments and transformers: valid forms, refusals, and files that several share."""

from __future__ import annotations

import io
import json
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import jsonschema
import pytest

import simulator
from simulator import cli
from simulator.errors import NetworkError, ScenarioError
from simulator.installation.transformers import InstrumentTransformer, Secondary
from simulator.scenario.models import Scenario
from tests.scenario.texts import FOUR_WIRES, THREE_WIRES, meter, replaced

if TYPE_CHECKING:
    from simulator.findings.result import Result
    from simulator.metering.instruments import Instrument

PLAIN = 'current = "L1"\nvoltage = ["L1", "L2"]\ninstrument = "p"\n'
CT_FED = 'current = "L1"\nvoltage = ["L1", "L2"]\ncurrent_transformer = "ct"\n'
VT_FED = 'current = "L1"\nvoltage = ["L1", "L2"]\nvoltage_transformer = "vt"\n'


def solved(text: str) -> Result:
    return simulator.solve(simulator.parse_scenario(text))


def instrument(lines: str) -> Instrument:
    return solved(meter(PLAIN, f"[instrument.p]\n{lines}\n"))["W1"].meter.instrument


def ct(lines: str) -> str:
    return meter(CT_FED, f'[current_transformer.ct]\nratio = "100/5 A"\n{lines}\n')


def vt(lines: str) -> str:
    return meter(VT_FED, f'[voltage_transformer.vt]\nratio = "400/100 V"\n{lines}\n')


def current_transformer(lines: str) -> InstrumentTransformer:
    found = solved(ct(lines))["W1"].meter.current_transformer
    assert found is not None
    return found


def refusal(text: str) -> str:
    with pytest.raises(ScenarioError) as caught:
        solved(text)
    return str(caught.value)


# Instruments --------------------------------------------------------------------------------


def test_ranges_and_scale() -> None:
    found = instrument(
        'current_ranges = ["5 A", "0.01 kA"]\nvoltage_ranges = ["240 V", "480 V"]\n'
        'current_range = "10 A"\nvoltage_range = "480 V"\nrated_power_factor = 0.2\n'
        "divisions = 120\naccuracy_class = 0.5"
    )
    assert (found.current_ranges, found.voltage_ranges) == ((5, 10), (240, 480))
    # 10 A × 480 V × 0.2 = 960 W on 120 divisions; class 0.5 of it
    assert found.watts_per_division == pytest.approx(8, rel=1e-12)
    assert found.class_limit == pytest.approx(4.8, rel=1e-12)


def test_ranges_may_be_listed_without_one_chosen() -> None:
    found = instrument('current_ranges = ["5 A", "10 A"]')
    assert (found.current_range, found.fiducial) == (None, None)


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (
            'current_ranges = ["5 A", "10 A"]\ncurrent_range = "8 A"',
            "'p', current_range: expected one of its current_ranges (5 A, 10 A), got '8 A'",
        ),
        (
            'voltage_ranges = ["240 V"]\nvoltage_range = "480 V"',
            "'p', voltage_range: expected one of its voltage_ranges (240 V), got '480 V'",
        ),
        (
            'current_ranges = ["5 V"]',
            "instrument 'p', current_ranges 1: expected a current above 0 A",
        ),
        ("divisions = 150", "instrument 'p': 'divisions' need current_range and voltage_range"),
        ("divisions = 0", "instrument 'p', divisions: expected a number above 0, got 0"),
        (
            "rated_power_factor = 1.2",
            "instrument 'p', rated_power_factor: expected a number of at most 1, got 1.2",
        ),
        ("rated_power_factor = 0", "rated_power_factor: expected a number above 0, got 0"),
        ("compensated = true", "instrument 'p': 'compensated' needs a voltage_circuit"),
        (
            'compensated = true\nvoltage_circuit = "1 Mohm"\nkind = "electronic"',
            "instrument 'p': 'compensated' describes an instrument with kind = \"electrodynamic\"",
        ),
    ],
)
def test_refused_instruments(lines: str, message: str) -> None:
    assert message in refusal(meter(PLAIN, f"[instrument.p]\n{lines}\n"))


# Compensation -------------------------------------------------------------------------------

COMPENSATED = '[instrument.p]\nvoltage_circuit = "20 kohm"\ncompensated = true\n'


def test_a_compensated_wattmeter_on_the_load_side_reads_the_load() -> None:
    # derived: the two meters' voltage circuits take power, but only their own, which cancels
    text = replaced(THREE_WIRES, '"W1"\n', '"W1"\ninstrument = "p"\nvoltage_tap = "load"\n')
    text = replaced(text, '"W2"\n', '"W2"\ninstrument = "p"\nvoltage_tap = "load"\n')
    result = solved(text + COMPENSATED)
    assert result.total is not None
    assert result.total.is_right
    plain = solved(text + COMPENSATED.replace("compensated = true", ""))
    assert plain.total is not None
    assert plain.total.error == pytest.approx(2 * 400**2 / 20e3, rel=1e-3)


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (PLAIN, "wattmeter 'W1', voltage_tap: the instrument 'p' is compensated: the current of"),
        (
            PLAIN.replace('["L1", "L2"]', '["L2", "L3"]') + 'voltage_tap = "load"',
            "wattmeter 'W1', current: the instrument 'p' is compensated: its current circuit",
        ),
        (
            PLAIN.replace('"L1"\n', '["L1", "-L3"]\n') + 'voltage_tap = "load"',
            "wattmeter 'W1', current: the instrument 'p' is compensated: its current circuit",
        ),
        (
            PLAIN + 'voltage_tap = "load"\ncurrent_transformer = "ct"',
            "wattmeter 'W1': the instrument 'p' is compensated, which works only without",
        ),
    ],
)
def test_refused_compensation(lines: str, message: str) -> None:
    rest = COMPENSATED + '[current_transformer.ct]\nratio = "100/5 A"\n'
    assert message in refusal(meter(lines, rest))


# Transformers -------------------------------------------------------------------------------


def test_the_physical_model() -> None:
    found = current_transformer(
        'magnetising = "60j ohm"\nwinding = "50 mohm"\nleads = "0.1 ohm"\n'
        'burden = "0.4 ohm, 0.8 lag"\nrated_burden = "10 VA"'
    )
    assert (found.magnetising, found.winding, found.leads) == (60j, 0.05, 0.1)
    assert found.burden == pytest.approx(0.32 + 0.24j, rel=1e-12)
    assert (found.rated_burden, found.rated_secondary, found.rated_primary) == (10, 5, 100)
    assert found.secondary is Secondary.CONNECTED


def test_a_class_is_a_limit_and_no_expected_error() -> None:
    found = current_transformer('accuracy_class = "0.5S"')
    assert (found.accuracy_class, found.error_factor) == ("0.5S", 1)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            ct('accuracy_class = "0.7"'),
            "'ct', accuracy_class: expected one of 0.1, 0.2, 0.5, 1, 0.2S, 0.5S, 3, 5, 0.15S,",
        ),
        (vt('accuracy_class = "0.2S"'), "voltage_transformer 'vt', accuracy_class: expected one"),
        (ct("accuracy_class = 0.5"), "'ct', accuracy_class: expected a text in quotes, got 0.5"),
        (
            ct('burden = "10 VA"'),
            (
                "'ct', burden: expected the impedance of what is connected beside the meter, got "
                "'10 VA'; the volt-amperes of the plate are 'rated_burden'"
            ),
        ),
        (
            ct('ratio_error = "0.1 %"\naccuracy_class = "0.5"'),
            "current_transformer 'ct': 'ratio_error' and 'accuracy_class' exclude each other: give",
        ),
        (
            ct('phase_displacement = "3 min"\nmagnetising = "60j ohm"'),
            "'phase_displacement' and 'magnetising' exclude each other",
        ),
        (
            vt('accuracy_class = "0.5"\nwinding = "1 ohm"'),
            "'accuracy_class' and 'winding' exclude each other",
        ),
        (ct('magnetising = "0 ohm"'), "magnetising: expected an impedance above zero"),
        (ct('winding = "open"'), "winding: expected an impedance that is not open"),
        (ct('burden = "open"'), "burden: expected an impedance that is not open"),
        (vt('burden = "0 ohm"'), "burden: expected an impedance above zero, got '0 ohm'"),
        (ct('rated_burden = "0 VA"'), "rated_burden: expected an apparent power above 0 VA"),
        (
            ct('secondary = "shortened"'),
            "current_transformer 'ct', secondary: expected 'open' or 'shorted', got 'shortened'",
        ),
    ],
)
def test_refused_transformers(text: str, message: str) -> None:
    assert message in refusal(text)


def test_an_open_burden_of_a_voltage_transformer_is_none() -> None:
    text = vt('burden = "open"\nmagnetising = "open"')
    assert solved(text)["W1"].watts == pytest.approx(solved(vt(""))["W1"].watts, rel=1e-12)


def test_an_open_secondary_without_a_magnetising_branch() -> None:
    with pytest.raises(NetworkError, match=r"'ct' of W1 in L1 is open and without a magnetising"):
        solved(ct('secondary = "open"'))
    assert solved(vt('secondary = "open"'))["W1"].watts == 0
    assert solved(ct('secondary = "shorted"'))["W1"].watts == 0


def test_an_artificial_neutral_is_equal_to_what_the_primary_sees() -> None:
    # derived: through 400/100 V the voltage circuit in parallel with the burden, 2 kohm, is 32 kohm
    text = (
        'title = "t"\n[supply]\nwires = 3\nvoltage = "400 V"\n[[load]]\nconnection = "star"\n'
        'each = "20+9j ohm"\n[instrument.p]\nvoltage_circuit = "4 kohm"\n'
        '[voltage_transformer.vt]\nratio = "400/100 V"\nburden = "4 kohm"\n'
        '[method]\nname = "one wattmeter with artificial neutral"\ninstrument = "p"\n'
        'voltage_transformer = "vt"\n'
    )
    result = solved(text)
    assert {z.impedance for z in result.first.arrangement.impedances} == {32e3}
    assert abs(result.first.nodes["P"]) < 1e-9
    assert result.total is not None
    assert result.total.error_percent == pytest.approx(0, abs=1e-9)


# A file that several scenarios share --------------------------------------------------------

SHARED = (
    '[instrument.p]\nvoltage_circuit = "20 kohm"\n[instrument.unused]\n'
    '[current_transformer.ct]\nratio = "100/5 A"\n'
)
FROM = replaced(
    meter(PLAIN + 'current_transformer = "ct"\n'),
    'title = "t"\n',
    'title = "t"\ninstruments_from = "workshop.toml"\n',
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "workshop.toml").write_text(SHARED)
    (tmp_path / "job.toml").write_text(FROM)
    return tmp_path


def test_the_path_is_relative_to_the_scenario(folder: Path) -> None:
    found = simulator.solve(simulator.read_scenario(folder / "job.toml"))["W1"].meter
    assert found.instrument.voltage_circuit == 20e3
    assert found.ratio == 20
    assert simulator.parse_scenario(FROM, folder).instrument.keys() == {"p", "unused"}


def test_from_python_and_standard_input_it_is_relative_to_the_working_directory(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(ScenarioError, match=r"instruments_from 'workshop\.toml': cannot read it"):
        simulator.parse_scenario(FROM)
    monkeypatch.chdir(folder)
    document = simulator.parse_scenario(FROM).document
    assert simulator.scenario_from(document).instrument.keys() == {"p"}
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(FROM.encode())))
    assert cli.main(["read", "--json", "-"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert shown["readings"][0]["transformers"][0]["name"] == "ct"


def test_the_document_holds_what_is_used_and_needs_the_file_no_more(folder: Path) -> None:
    document = simulator.read_scenario(folder / "job.toml").document
    assert "instruments_from" not in document
    assert document["instrument"].keys() == {"p"}
    again = simulator.solve(simulator.scenario_from(document))["W1"].watts
    assert again == simulator.solve(simulator.read_scenario(folder / "job.toml"))["W1"].watts


def test_own_tables_stand_beside_the_shared_ones(folder: Path) -> None:
    text = FROM.replace('"p"', '"q"') + '[instrument.q]\nvoltage_circuit = "5 kohm"\n'
    scenario = simulator.parse_scenario(text, folder)
    assert simulator.solve(scenario)["W1"].meter.instrument.voltage_circuit == 5e3
    assert scenario.document["instrument"].keys() == {"q"}


@pytest.mark.parametrize(
    ("shared", "message"),
    [
        (
            '[instrument.p]\nvoltage_circuit = "20 kV"\n',
            "instruments_from 'workshop.toml', instrument 'p', voltage_circuit: expected the",
        ),
        ("[instrumnt.p]\n", "unknown key 'instrumnt'; did you mean 'instrument'?"),
        ("[supply]\nwires = 3\n", "instruments_from 'workshop.toml': unknown key 'supply'"),
        ("instrument = 3\n", "'workshop.toml', instrument: expected [instrument.NAME], got 3"),
        ("[instrument\n", "instruments_from 'workshop.toml': expected TOML: "),
        ('instruments_from = "workshop.toml"\n', "unknown key 'instruments_from'"),
        ("#" * 100_001, "expected a file of instruments of at most 100 kB"),
        ("", "wattmeter 'W1', instrument: there is no instrument 'p'; there are none"),
    ],
)
def test_mistakes_in_the_shared_file_name_it(
    folder: Path, shared: str, message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "workshop.toml").write_text(shared)
    job = str(folder / "job.toml")
    assert cli.main(["read", job]) == 2
    printed = capsys.readouterr().err
    assert printed.startswith(f"blondel: {job}: ")
    assert message in printed
    assert "Traceback" not in printed


@pytest.mark.parametrize("name", [".", "nowhere.toml", "a\\u0000b"])
def test_a_file_that_cannot_be_read(folder: Path, name: str) -> None:
    text = FROM.replace("workshop.toml", name)
    with pytest.raises(ScenarioError, match=r"instruments_from '.*': cannot read it: "):
        simulator.parse_scenario(text, folder)


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("3", "expected a text in quotes, got 3"),
        ('""', "instruments_from '': cannot"),
        ("[]", "got []"),
    ],
)
def test_what_is_no_path(value: str, message: str) -> None:
    text = FROM.replace('"workshop.toml"', value)
    assert message in refusal(text)


def test_the_same_name_twice(folder: Path) -> None:
    text = FROM + '[instrument.p]\nvoltage_circuit = "5 kohm"\n'
    with pytest.raises(ScenarioError, match=r"instrument 'p': it stands in 'workshop.toml' too"):
        simulator.parse_scenario(text, folder)


@pytest.mark.parametrize("own", ["instrument = 3\n", "instrument = []\n"])
def test_own_tables_that_are_none(folder: Path, own: str) -> None:
    with pytest.raises(ScenarioError, match=r"expected \[instrument.NAME\], got"):
        simulator.parse_scenario(own + FROM, folder)


def test_generic_instruments_ship() -> None:
    text = FOUR_WIRES.replace('"t"\n', '"t"\ninstruments_from = "generic"\n', 1)
    scenario = simulator.parse_scenario(text)
    assert len(scenario.instrument) >= 3
    assert scenario.current_transformer
    assert scenario.voltage_transformer
    for name in scenario.instrument:
        used = text.replace(
            'name = "W1"\n', f'name = "W1"\ninstrument = "{name}"\nvoltage_tap = "load"\n'
        )
        reading = solved(used)["W1"]
        assert reading.meter.instrument.class_limit is not None


def test_the_schema_knows_the_keys() -> None:
    schema = Scenario.model_json_schema(by_alias=True)
    document = {
        "title": "t",
        "instruments_from": "generic",
        "supply": {"wires": 3, "voltage": "400 V"},
        "instrument": {"p": {"current_ranges": ["5 A"], "divisions": 120, "compensated": True}},
        "current_transformer": {
            "ct": {"ratio": "100/5 A", "magnetising": "60j ohm", "secondary": "open"}
        },
    }
    validator = jsonschema.Draft202012Validator(schema)
    validator.validate(document)
    document["instrument"] = {"p": {"divisions": "many"}}
    assert not validator.is_valid(document)


def test_the_instruments_of_the_readme_are_read() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    tables = re.findall(r"```toml\n((?:.*\n)*?)```", readme)[1]
    text = meter(PLAIN + 'voltage_tap = "load"', tables.replace(".portable]", ".p]"))
    found = solved(text)["W1"].meter.instrument
    assert found.watts_per_division == pytest.approx(4, rel=1e-12)  # 5 A × 480 V × 0.2 over 120
    fed = solved(meter(CT_FED, tables.replace(".board]", ".ct]")))["W1"].meter
    assert fed.current_transformer is not None
    assert fed.current_transformer.magnetises

"""The command: exit statuses, what goes where, and what it needs to start."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
import tomllib
from importlib.metadata import entry_points
from itertools import permutations
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema
import pytest

import simulator
from simulator import cli
from simulator.commands import read
from simulator.metering.catalogue import METHODS
from tests.scenario.test_labels import FOUR_WIRE_FILE, own_file
from tests.scenario.texts import FOUR, STAR, THREE, THREE_WIRES, load, replaced

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

SHIPPED = sorted(Path(__file__).parents[1].glob("scenarios/*.toml"))
BAD = replaced(THREE_WIRES, '"25 ohm"', '"25 V"')
FLOATING = load('connection = "star"\neach = "open"')
OWN_LABELS = own_file(THREE_WIRES, ["A", "B", "C"])
each_method = pytest.mark.parametrize("method", METHODS)

Run = tuple[int, str, str]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., Run]:
    """Run the command in this process: status, standard output, standard error."""

    def run(*arguments: str | Path) -> Run:
        try:
            status = cli.main([str(a) for a in arguments])
        except SystemExit as stop:
            status = int(stop.code or 0)
        return status, *capsys.readouterr()

    return run


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Change into a folder with a good file, a bad one, and one without a solution."""
    monkeypatch.chdir(tmp_path)
    for name, text in (("good", THREE_WIRES), ("bad", BAD), ("floating", FLOATING)):
        (tmp_path / f"{name}.toml").write_text(text)
    return tmp_path


def process(*arguments: str, text: str = "", **settings: Any) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "simulator", *arguments],
        input=text,
        capture_output=True,
        text=True,
        check=False,
        encoding="utf-8",
        **settings,
    )


def is_complaint(text: str) -> bool:
    """Tell whether a text is one printable line that starts with the command's name."""
    return text.startswith("blondel") and text.endswith("\n") and text[:-1].isprintable()


# Exit status


@pytest.mark.parametrize(
    ("arguments", "status", "message"),
    [
        (["read", "bad.toml"], 2, "bad.toml: load 'ovens', L1: expected an impedance"),
        (["read", "none.toml"], 2, "none.toml: cannot read it: No such file or directory"),
        (["read", "."], 2, ".: cannot read it: Is a directory"),
        (["read", "floating.toml"], 3, "floating.toml: nothing fixes the potential of 'star poi"),
        (["check", "bad.toml"], 2, "bad.toml: load 'ovens', L1: expected an impedance"),
        (["check", "floating.toml"], 3, "floating.toml: nothing fixes the potential of "),
        (["methods", "two watmeters"], 2, "there is no method 'two watmeters'; did you mean 'tw"),
        (["methods", "two\nwattmeters"], 2, "there is no method 'two\\nwattmeters'; did you mea"),
        (["methods", "--expand"], 2, "--expand needs the name of a method"),
        (["starter", "Two wattmeters"], 2, "there is no method 'Two wattmeters'; did you mean '"),
        (["starter", "two wattmeters", "--out", "good.toml"], 2, "good.toml: the file exists; --"),
        (["starter", "two wattmeters", "--out", "no/x"], 2, "no/x: cannot write it: No such fil"),
    ],
)
@pytest.mark.usefixtures("files")
def test_failures(run: Callable[..., Run], arguments: list[str], status: int, message: str) -> None:
    found, out, err = run(*arguments)
    assert (found, out) == (status, "")
    assert is_complaint(err)
    assert err.startswith(f"blondel: {message}")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "blondel: the following arguments are required: COMMAND; see 'blondel --help'\n"),
        (["red"], "blondel: argument COMMAND: invalid choice: 'red'"),
        (["red\n\x1b[31m"], "blondel: argument COMMAND: invalid choice: 'red\\n\\x1b[31m'"),
        (["read"], "blondel read: the following arguments are required: FILE; see 'blondel read"),
        (
            ["read", "a", "b"],
            "blondel read: unrecognized arguments: b; see 'blondel read --help'\n",
        ),
        (["read", "a", "b\nc"], "blondel read: unrecognized arguments: b\\nc; see 'blondel read"),
        (["infer", "-1.04kW", "2.83kW"], "blondel infer: unrecognized arguments: -1.04kW; see"),
        (["--jsn", "read", "a"], "blondel: unrecognized arguments: --jsn; see 'blondel --help'\n"),
        (["read", "--jsn", "a"], "blondel read: unrecognized arguments: --jsn; see"),
        (["read", "--js", "a"], "blondel read: unrecognized arguments: --js; see"),
        (["check"], "blondel check: the following arguments are required: FILE; see"),
        (["starter"], "blondel starter: the following arguments are required: METHOD; see"),
        (["schema", "--json"], "blondel schema: unrecognized arguments: --json; see"),
    ],
)
def test_usage(run: Callable[..., Run], arguments: list[str], message: str) -> None:
    status, out, err = run(*arguments)
    assert (status, out) == (2, "")
    assert is_complaint(err)
    assert err.startswith(message)


@pytest.mark.usefixtures("files")
def test_success(run: Callable[..., Run]) -> None:
    for arguments in (
        ["read", "good.toml"],
        ["read", "good.toml", "--json"],
        ["check", "good.toml"],
        ["check", "--json", "good.toml", "good.toml"],
        ["methods"],
        ["methods", "--json"],
        ["schema"],
    ):
        status, out, err = run(*arguments)
        assert (status, err) == (0, "")
        assert out.endswith("\n")


@pytest.mark.parametrize("name", ["bad", "floating", "none"])
@pytest.mark.usefixtures("files")
def test_json_leaves_the_output_empty_on_failure(run: Callable[..., Run], name: str) -> None:
    for command in ("read", "check", "explain"):
        status, out, err = run(command, "--json", f"{name}.toml")
        assert (status, out) == (3 if name == "floating" else 2, "")
        assert is_complaint(err)
    status, out, err = run("check", "--json", "good.toml", f"{name}.toml")
    assert (status, out) == (3 if name == "floating" else 2, "")
    status, out, _ = run("methods", "--json", "nothing")
    assert (status, out) == (2, "")


# Checking several


@pytest.mark.parametrize("names", list(permutations(["good", "bad", "floating"])), ids="-".join)
@pytest.mark.usefixtures("files")
def test_check_returns_the_highest_status(run: Callable[..., Run], names: tuple[str, ...]) -> None:
    worst = {"good": 0, "bad": 2, "floating": 3}
    for n in (1, 2, 3):
        status, out, err = run("check", *(f"{name}.toml" for name in names[:n]))
        assert status == max(worst[name] for name in names[:n])
        assert ("good.toml: can be solved\n" in out) == ("good" in names[:n])
        for name in ("bad", "floating"):
            assert err.count(f"blondel: {name}.toml: ") == (name in names[:n])


def test_check_names_a_file_whose_name_begins_like_a_place(
    run: Callable[..., Run], files: Path
) -> None:
    for name in ("load", "l", "star", "wattmeter 'W1'"):
        (files / name).write_text(BAD)
        assert run("check", name)[2].startswith(f"blondel: {name}: load 'ovens', L1: ")
        assert run("read", name)[2].startswith(f"blondel: {name}: load 'ovens', L1: ")


# Standard input


class _Input:
    def __init__(self, data: bytes) -> None:
        self.buffer = io.BytesIO(data)


def give(monkeypatch: pytest.MonkeyPatch, text: str | bytes) -> None:
    data = text.encode() if isinstance(text, str) else text
    monkeypatch.setattr(sys, "stdin", _Input(data))


def test_standard_input(run: Callable[..., Run], monkeypatch: pytest.MonkeyPatch) -> None:
    give(monkeypatch, THREE_WIRES.replace("ovens", "Öfen"))
    status, out, err = run("read", "-", "--json")
    assert (status, err) == (0, "")
    assert json.loads(out)["loads"][0]["name"] == "Öfen"
    give(monkeypatch, BAD)
    status, out, err = run("read", "-")
    assert (status, out) == (2, "")
    assert err.startswith("blondel: standard input: load 'ovens', L1: expected an impedance")
    give(monkeypatch, FLOATING)
    assert run("check", "-")[0] == 3


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ("", "'title' is missing"),
        (
            b"\xff\xfe",
            "expected a text file in UTF-8, line 1 is not; save it as UTF-8 in the editor",
        ),
        ("#" * 200_000, "expected a scenario of at most 100 kB"),
    ],
)
def test_bad_standard_input(
    run: Callable[..., Run], monkeypatch: pytest.MonkeyPatch, given: str | bytes, message: str
) -> None:
    give(monkeypatch, given)
    assert run("read", "-") == (2, "", f"blondel: standard input: {message}\n")


def test_endless_standard_input_is_not_read_to_its_end() -> None:
    with Path("/dev/zero").open() as zeros:
        found = subprocess.run(
            [sys.executable, "-m", "simulator", "read", "-"],
            stdin=zeros,
            capture_output=True,
            check=False,
            timeout=20,
        )
    assert found.returncode == 2
    assert b"expected a scenario of at most 100 kB" in found.stderr


def test_closed_standard_input(run: Callable[..., Run], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    assert run("read", "-") == (2, "", "blondel: standard input: it is closed\n")


# Writing


@pytest.mark.usefixtures("files")
def test_out_writes_what_would_be_printed(run: Callable[..., Run]) -> None:
    path = Path("new.toml")
    assert run("starter", "two wattmeters", "--out", path) == (0, "", "")
    assert path.read_text(encoding="utf-8") == run("starter", "two wattmeters")[1]
    assert run("read", path)[0] == 0


@pytest.mark.usefixtures("files")
def test_out_replaces_only_when_asked(run: Callable[..., Run]) -> None:
    path = Path("good.toml")
    status, out, err = run("starter", "two wattmeters", "--out", path)
    assert (status, out) == (2, "")
    assert err == "blondel: good.toml: the file exists; --overwrite replaces it\n"
    assert path.read_text() == THREE_WIRES
    assert run("starter", "two wattmeters", "--out", path, "--overwrite") == (0, "", "")
    assert path.read_text().startswith("# A first scenario: two wattmeters.")


@pytest.mark.parametrize("step", ["write_bytes", "replace"])
def test_a_failed_write_leaves_everything_as_it_was(
    run: Callable[..., Run], files: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, step, fail)
    before = sorted(files.iterdir())
    status, out, err = run("starter", "two wattmeters", "--out", "good.toml", "--overwrite")
    monkeypatch.undo()
    assert (status, out) == (2, "")
    assert err == "blondel: good.toml: cannot write it: No space left on device\n"
    assert sorted(files.iterdir()) == before
    assert (files / "good.toml").read_text() == THREE_WIRES


@pytest.mark.parametrize("name", ["", ".", "/", "..", "x" * 300, "good.toml/x"])
def test_out_where_no_file_can_be(run: Callable[..., Run], files: Path, name: str) -> None:
    before = sorted(files.iterdir())
    status, out, err = run("starter", "two wattmeters", "--out", name, "--overwrite")
    assert (status, out) == (2, "")
    assert is_complaint(err)
    assert "cannot write it" in err
    assert sorted(files.iterdir()) == before


# The catalogue


@each_method
def test_every_starter_can_be_read(
    run: Callable[..., Run], monkeypatch: pytest.MonkeyPatch, method: str
) -> None:
    status, text, err = run("starter", method)
    assert (status, err) == (0, "")
    give(monkeypatch, text)
    status, out, err = run("read", "-", "--json")
    assert (status, err) == (0, "")
    found = json.loads(out)
    assert found["method"] == method
    assert len(found["readings"]) == METHODS[method].n_wattmeters
    assert all(reading["rms_v"] > 0 for reading in (r["voltage"] for r in found["readings"]) if
               method != "three wattmeters to a line")  # fmt: skip


@each_method
def test_every_method_can_be_shown_and_written_out(run: Callable[..., Run], method: str) -> None:
    status, out, err = run("methods", method)
    assert (status, err) == (0, "")
    assert out.startswith(f"{method}\n")
    status, out, err = run("methods", method, "--expand")
    assert (status, err) == (0, "")
    tables = tomllib.loads(out)
    assert {"wattmeter", "total"} <= tables.keys()
    assert len(tables["wattmeter"]) == METHODS[method].n_wattmeters
    shown = json.loads(run("methods", method, "--json", "--expand")[1])
    assert {key: shown[key] for key in tables} == tables
    assert shown["name"] == method


def test_the_whole_catalogue(run: Callable[..., Run]) -> None:
    out = run("methods")[1]
    assert [line for line in out.splitlines() if line and line[0] != " "] == list(METHODS)
    assert [m["name"] for m in json.loads(run("methods", "--json")[1])["methods"]] == list(METHODS)


# The schema


@pytest.fixture(scope="module")
def validator() -> Iterator[jsonschema.Draft202012Validator]:
    """The schema as the command prints it, as an editor uses it."""
    found = process("schema")
    schema = json.loads(found.stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_schema_accepts_shipped_scenarios(
    validator: jsonschema.Draft202012Validator, path: Path
) -> None:
    validator.validate(tomllib.loads(path.read_text(encoding="utf-8")))


def test_schema_accepts_labels(validator: jsonschema.Draft202012Validator) -> None:
    validator.validate(tomllib.loads(OWN_LABELS))
    validator.validate(tomllib.loads(own_file(FOUR_WIRE_FILE, ["U", "V", "W", "Mp"])))


@each_method
def test_schema_accepts_starters(
    validator: jsonschema.Draft202012Validator, run: Callable[..., Run], method: str
) -> None:
    validator.validate(tomllib.loads(run("starter", method)[1]))


def test_defaults_of_the_schema_are_what_a_file_may_say(
    validator: jsonschema.Draft202012Validator,
) -> None:
    def defaults(node: Any) -> Iterator[tuple[Any, Any]]:
        if isinstance(node, dict):
            if node.get("default") is not None:
                yield node, node["default"]
            node = list(node.values())
        if isinstance(node, list):
            for part in node:
                yield from defaults(part)

    found = list(defaults(validator.schema))
    assert "electrodynamic" in [value for _, value in found]
    for node, value in found:
        assert validator.evolve(schema=node).is_valid(value), f"{node} forbids {value!r}"
        assert "j" not in str(value), "a complex number is no text of the file"


@pytest.mark.parametrize(
    "text",
    [
        replaced(THREE_WIRES, "[supply]", "[suply]"),
        replaced(THREE_WIRES, "wires = 3", "wire = 3"),
        replaced(THREE_WIRES, "wires = 3", "wires = 5"),
        replaced(THREE_WIRES, 'voltage = "400 V"', "voltage = 400"),
        replaced(THREE_WIRES, 'connection = "star"', 'conection = "star"'),
        replaced(THREE_WIRES, 'connection = "star"', 'connection = "wye"'),
        replaced(THREE_WIRES, 'L2 = "25+10j ohm"', "L2 = 25"),
        replaced(THREE_WIRES, 'L2 = "25+10j ohm"', 'L4 = "25 ohm"'),
        replaced(THREE_WIRES, 'voltage = ["L1", "L2"]', 'voltage = ["L1", "L2", "L3"]'),
        replaced(THREE_WIRES, 'voltage = ["L1", "L2"]', 'voltage = "L1-L2"'),
        replaced(THREE_WIRES, 'name = "W1"', 'name = "W 1"'),
        replaced(THREE_WIRES, "[total]", '[total]\nenergy = "W1"'),
        THREE_WIRES + "[instrument.p]\nacuracy_class = 1\n",
        THREE_WIRES + '[instrument.p]\naccuracy_class = "1"\n',
        THREE_WIRES + '[current_transformer.ct]\nratoi = "100/5 A"\n',
        THREE_WIRES + '[current_transformer.ct]\nratio = "100/5 A"\naccuracy_class = "0.7"\n',
        THREE + STAR + '[method]\nname = "two wattmeters"\ncomon = "L1"\n',
        THREE + STAR + '[method]\nname = "2 wattmeters"\n',
        'title = "t"\n',
        # labels of one's own may be anything, but nothing else may
        replaced(OWN_LABELS, "[supply]", "[suply]"),
        replaced(OWN_LABELS, 'connection = "star"', 'conection = "star"'),
        replaced(OWN_LABELS, 'B = "25+10j ohm"', "B = 25"),
        replaced(OWN_LABELS, 'voltage = ["A", "B"]', 'voltage = "A-B"'),
    ],
)  # fmt: skip
def test_schema_rejects(validator: jsonschema.Draft202012Validator, text: str) -> None:
    assert not validator.is_valid(tomllib.loads(text))


# Starting


def test_version_and_help(run: Callable[..., Run]) -> None:
    assert run("--version") == (0, f"blondel {simulator.__version__}\n", "")
    status, out, err = run("--help")
    assert (status, err) == (0, "")
    commands = re.findall(r"^    (\w+) ", out, re.MULTILINE)
    assert {"read", "explain", "check", "methods", "starter", "schema"} <= set(commands)
    for command in commands:
        status, described, err = run(command, "--help")
        assert (status, err) == (0, "")
        assert described.startswith(f"usage: blondel {command} ")
    assert "never open the secondary of a current transformer" in " ".join(out.split())


def test_the_module_is_the_command() -> None:
    (script,) = entry_points(group="console_scripts", name="blondel")
    assert script.load() is cli.main
    found = process("read", "-", text=THREE_WIRES)
    assert (found.returncode, found.stderr) == (0, "")
    expected = simulator.result_text(simulator.solve(simulator.parse_scenario(THREE_WIRES)))
    assert found.stdout == expected
    assert process("read", "-", text=FLOATING).returncode == 3
    assert process("--version").stdout == f"blondel {simulator.__version__}\n"


# commands.md: what `read` starts without; the list of modules is printed to the error stream.
LOADED = (
    "import sys\nfrom simulator import cli\n"
    "try:\n    status = cli.main({arguments!r})\n"
    "except SystemExit as stop:\n    status = stop.code\n"
    "print(*sys.modules, file=sys.stderr)\nsys.exit(status)\n"
)


def modules(*arguments: str, text: str = "") -> set[str]:
    found = subprocess.run(
        [sys.executable, "-c", LOADED.format(arguments=list(arguments))],
        input=text,
        capture_output=True,
        text=True,
        check=True,
    )
    return set(found.stderr.split())


@pytest.mark.parametrize("options", [[], ["--json"]], ids=["text", "json"])
def test_read_needs_no_heavy_library(options: list[str]) -> None:
    text = FOUR + STAR + 'star_point = "neutral"\n[method]\nname = "three wattmeters to neutral"\n'
    loaded = modules("read", "-", *options, text=text)
    assert "numpy" in loaded
    assert not {"matplotlib", "scipy", "networkx", "jsonschema", "hypothesis"} & loaded


@pytest.mark.parametrize("arguments", [["--help"], ["read", "--help"], ["--version"]])
def test_help_needs_no_numpy(arguments: list[str]) -> None:
    loaded = modules(*arguments)
    assert "simulator.cli" in loaded
    assert not {"numpy", "pydantic", "matplotlib", "scipy", "networkx"} & loaded


# The terminal


def test_a_reader_that_leaves_early() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "simulator", "read", "-"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as found:
        assert found.stdin
        assert found.stdout
        assert found.stderr
        found.stdout.close()
        found.stdin.write(THREE_WIRES.encode())
        found.stdin.close()
        assert found.stderr.read() == b""
        assert found.wait() == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk() -> None:
    with Path("/dev/full").open("w") as full:
        found = subprocess.run(
            [sys.executable, "-m", "simulator", "methods"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert found.returncode == 2
    assert found.stderr == "blondel: standard output: cannot write it: No space left on device\n"


def test_a_terminal_without_the_signs() -> None:
    text = THREE_WIRES.replace('"t"', '"Öfen 🔥"')
    environment = {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    found = process("read", "-", text=text, env=environment)
    assert (found.returncode, found.stderr) == (0, "")
    assert found.stdout.startswith("\\xd6fen \\U0001f525\n")
    found = process("read", "-", "--json", text=text, env=environment)
    assert json.loads(found.stdout)["title"] == "Öfen 🔥"


def test_interrupted(run: Callable[..., Run], monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(_: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(read, "run", interrupt)
    assert run("read", "good.toml") == (130, "", "")


@pytest.mark.parametrize("name", ["a\nb.toml", "\x1b[31mred.toml", "\u202etxt", "\udcff.toml"])
def test_names_of_files_do_not_reach_the_terminal_raw(
    run: Callable[..., Run], files: Path, name: str
) -> None:
    for command in ("read", "check"):
        status, out, err = run(command, name)
        assert (status, out) == (2, "")
        assert is_complaint(err)
    (files / name).write_text(THREE_WIRES)
    status, out, err = run("check", name)
    assert (status, err) == (0, "")
    assert out[:-1].isprintable()
    (files / name).write_text(FLOATING)
    status, out, err = run("read", name)
    assert (status, out) == (3, "")
    assert is_complaint(err)

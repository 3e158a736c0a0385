"""The command ``blondel``: a thin skin over the public API, with a meaningful exit status.

0 done; 1 the answer is no (out of tolerance, nothing fits); 2 wrong input or usage; 3 the network
has no unique solution.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from simulator import __version__
from simulator.errors import NetworkError, ScenarioError, SimulatorError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.scenario.models import Scenario

WRONG_INPUT, NO_SOLUTION = 2, 3


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : sequence of str, optional
        Its arguments; those of the process if not given.

    Returns
    -------
    int
        Exit status.
    """
    options = _parser().parse_args(arguments)
    try:
        status: int = options.run(options)
    except SimulatorError as error:
        print(f"blondel: {error}", file=sys.stderr)
        return NO_SOLUTION if isinstance(error, NetworkError) else WRONG_INPUT
    except BrokenPipeError:  # the reader of our output has left; nothing to say to anyone
        sys.stderr.close()
        return 0
    return status


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, and where to read on."""

    def error(self, message: str) -> NoReturn:
        self.exit(WRONG_INPUT, f"{self.prog}: {message}; see '{self.prog} --help'\n")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="blondel", description=_PURPOSE, epilog=_CAUTION)
    parser.add_argument("--version", action="version", version=f"blondel {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND", parser_class=_Parser)

    read = commands.add_parser(
        "read", help="what every meter reads, the total, and why it is wrong"
    )
    read.add_argument("file", metavar="FILE", help="a scenario file, or - for standard input")
    _add_json(read)
    read.set_defaults(run=_read)

    methods = commands.add_parser("methods", help="the catalogue of measuring methods")
    methods.add_argument("name", metavar="METHOD", nargs="?", help="one method")
    methods.add_argument(
        "--expand", action="store_true", help="print the wattmeters and formula it stands for"
    )
    _add_json(methods)
    methods.set_defaults(run=_methods)

    starter = commands.add_parser("starter", help="a first scenario file to edit")
    starter.add_argument("method", metavar="METHOD", help="a method of the catalogue")
    starter.add_argument("--out", metavar="FILE", help="write it here, not to standard output")
    starter.add_argument("--overwrite", action="store_true", help="replace an existing file")
    starter.set_defaults(run=_starter)

    check = commands.add_parser("check", help="whether scenario files can be solved")
    check.add_argument("files", metavar="FILE", nargs="+", help="scenario files")
    _add_json(check)
    check.set_defaults(run=_check)

    schema = commands.add_parser("schema", help="JSON Schema of the scenario file, for editors")
    schema.set_defaults(run=_schema)
    return parser


_PURPOSE = "Predicts what each wattmeter in a three-phase circuit will read, and why."
_CAUTION = (
    "A prediction is not a permit: work dead, never open the secondary of a current transformer "
    "in service, mind the measurement category, leave connections to licensed persons. Local "
    "rules prevail."
)


def _add_json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def _print_json(value: object) -> None:
    print(json.dumps(value, ensure_ascii=False, indent=2, allow_nan=False))


def _scenario(name: str) -> Scenario:
    from simulator.scenario.reader import parse_scenario, read_scenario  # noqa: PLC0415

    if name != "-":
        return read_scenario(name)
    try:
        return parse_scenario(sys.stdin.buffer.read())
    except ScenarioError as error:
        raise ScenarioError(error.message, f"standard input: {error.place}".rstrip(": ")) from error


def _read(options: argparse.Namespace) -> int:
    from simulator.findings.result import solve  # noqa: PLC0415  (help starts without numpy)

    scenario = _scenario(options.file)
    try:
        result = solve(scenario)
    except SimulatorError as error:
        raise _placed(error, options.file) from error
    if options.json:
        from simulator.reports.machine import result_object  # noqa: PLC0415

        _print_json(result_object(result))
    else:
        from simulator.reports.text import result_text  # noqa: PLC0415

        print(result_text(result), end="")
    return 0


def _placed(error: SimulatorError, file: str) -> SimulatorError:
    """Put the file's name before an error that was found after reading it."""
    name = "standard input" if file == "-" else file
    kind = NetworkError if isinstance(error, NetworkError) else ScenarioError
    return kind(error.message, f"{name}: {error.place}".rstrip(": "))


def _methods(options: argparse.Namespace) -> int:
    from simulator.reports.catalogue import catalogue_object, catalogue_text  # noqa: PLC0415

    if options.expand and options.name is None:
        raise ScenarioError("--expand needs the name of a method")
    if options.json:
        _print_json(catalogue_object(options.name, expand=options.expand))
    else:
        print(catalogue_text(options.name, expand=options.expand), end="")
    return 0


def _starter(options: argparse.Namespace) -> int:
    from simulator.reports.catalogue import starter_text  # noqa: PLC0415

    text = starter_text(options.method)
    if options.out is None:
        print(text, end="")
    else:
        _write(Path(options.out), text, overwrite=options.overwrite)
    return 0


def _write(path: Path, text: str, *, overwrite: bool) -> None:
    """Write a file whole or not at all; never over another without being asked."""
    import os  # noqa: PLC0415
    import tempfile  # noqa: PLC0415

    if path.exists() and not overwrite:
        raise ScenarioError("the file exists; --overwrite replaces it", str(path))
    try:
        with tempfile.NamedTemporaryFile(
            "w", dir=path.parent, prefix=f".{path.name}.", encoding="utf-8", delete=False
        ) as file:
            file.write(text)
        os.replace(file.name, path)  # noqa: PTH105
    except OSError as error:
        raise ScenarioError(f"cannot write it: {error.strerror}", str(path)) from error


def _check(options: argparse.Namespace) -> int:
    from simulator.findings.result import solve  # noqa: PLC0415

    worst, outcomes = 0, []
    for name in options.files:
        try:
            try:
                scenario = _scenario(name)
                solve(scenario)
            except SimulatorError as error:
                if not error.place.startswith(("standard input", name)):
                    raise _placed(error, name) from error
                raise
        except SimulatorError as error:
            status = NO_SOLUTION if isinstance(error, NetworkError) else WRONG_INPUT
            print(f"blondel: {error}", file=sys.stderr)
            outcomes.append({"file": name, "ok": False, "error": str(error)})
            worst = max(worst, status)
        else:
            outcomes.append({"file": name, "ok": True, "error": None})
    if not options.json:
        for outcome in outcomes:
            if outcome["ok"]:
                print(f"{outcome['file']}: right")
    elif not worst:
        _print_json(outcomes)
    return worst


def _schema(_: argparse.Namespace) -> int:
    from simulator.scenario.models import Scenario  # noqa: PLC0415

    _print_json(Scenario.model_json_schema(by_alias=True))
    return 0


if __name__ == "__main__":
    sys.exit(main())

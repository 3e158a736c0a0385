"""``blondel practice``: practice sheets with a key apart, and marking of given answers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.common import add_command, add_json, add_overwrite, print_json
from simulator.errors import ScenarioError

if TYPE_CHECKING:
    import argparse

    from simulator.reports.practice.generate import Sheet
    from simulator.reports.practice.problem import Problem

EXAMPLES = """\
The same --seed, --problems, --level, --kinds and --methods make the same sheet again, for marking.

  blondel practice --out sheet.html --seed 7 --level 2
  blondel practice --mark answers.csv --seed 7 --level 2
"""


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = add_command(
        commands, "practice", "practice sheets with a key; marking answers", EXAMPLES
    )
    parser.add_argument("--seed", metavar="N", default="1", help="the same problems for the same N")
    parser.add_argument("--problems", metavar="N", default="6", help="how many (default: 6)")
    parser.add_argument("--level", metavar="1..3", default="1", help="how hard (default: 1)")
    parser.add_argument(
        "--kinds",
        metavar="KIND,…",
        help="some of predict, infer, find-fault, choose-method, draw-phasors (default: all)",
    )
    parser.add_argument(
        "--methods", metavar="METHOD;…", help="some of 'blondel methods', with ; between them"
    )
    parser.add_argument(
        "--out", metavar="SHEET", help="the sheet, .html or .md; the key goes to SHEET-key"
    )
    parser.add_argument(
        "--mark", metavar="ANSWERS.csv", help="mark answers: problem,answer[,unit] with that header"
    )
    add_overwrite(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    options : Namespace
        Its options.

    Returns
    -------
    int
        Exit status.
    """
    from simulator.reports.practice.generate import problems_of

    if not (options.out or options.mark):
        raise ScenarioError("say where to with --out SHEET, or mark answers with --mark")
    if options.json and not options.mark:
        raise ScenarioError("--json belongs to --mark")
    sheet = _sheet(options)
    out = _checked(options)
    answers = _answers(options.mark) if options.mark else None
    problems = problems_of(sheet)
    if out:
        _write(sheet, problems, out, overwrite=options.overwrite)
    if answers is not None:
        from simulator.reports.practice.marking import mark, marks_object, marks_text
        from simulator.reports.practice.sheet import options_of

        try:
            marks = mark(problems, answers)
        except ScenarioError as error:
            raise _in_file(options.mark, error) from error
        if options.json:
            print_json(marks_object(sheet.seed, marks))
        else:
            print(f"Marked as the sheet of {options_of(sheet)}\n")
            print(marks_text(marks), end="")
    return 0


def _checked(options: argparse.Namespace) -> Path | None:
    """Refuse a wrong ending before any problem is drawn."""
    from simulator.reports.document import check_ending

    if not options.out:
        return None
    check_ending(Path(options.out))
    return Path(options.out)


def _write(sheet: Sheet, problems: list[Problem], out: Path, *, overwrite: bool) -> None:
    from simulator.reports.document import write_documents
    from simulator.reports.practice.sheet import answer_key, question_sheet

    key = out.with_stem(f"{out.stem}-key")
    documents = {out: question_sheet(sheet, problems), key: answer_key(sheet, problems)}
    write_documents(documents, overwrite=overwrite)


def _sheet(options: argparse.Namespace) -> Sheet:
    from simulator.reports.practice.generate import Sheet

    given: dict[str, Any] = {
        k: _whole(getattr(options, k), f"--{k}") for k in ("seed", "problems", "level")
    }
    if options.kinds is not None:
        given["kinds"] = _listed(options.kinds, ",")
    if options.methods is not None:
        given["methods"] = _listed(options.methods, ";")
    try:
        return Sheet(**given)
    except ScenarioError as error:
        raise ScenarioError(error.message, f"--{error.place}") from error


def _listed(text: str, separator: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(part.strip() for part in text.split(separator) if part.strip()))


def _whole(text: str, option: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise ScenarioError(f"expected a whole number, got '{text}'", option) from None


def _answers(name: str) -> Any:
    from simulator.reports.practice.marking import parse_answers
    from simulator.scenario.reader import read_bytes

    try:
        return parse_answers(read_bytes(name))
    except ScenarioError as error:
        raise _in_file(name, error) from error


def _in_file(name: str, error: ScenarioError) -> ScenarioError:
    return ScenarioError(error.message, f"{name}: {error.place}".rstrip(": "))

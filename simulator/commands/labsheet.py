"""``blondel labsheet``: a sheet for the lab with blanks for what is measured, and its key."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.common import add_command, add_file, add_overwrite, scenario_at
from simulator.errors import ScenarioError

if TYPE_CHECKING:
    import argparse

    from simulator.findings.result import Result

EXAMPLES = """\
  blondel labsheet FILE --out sheet.html --key
  blondel labsheet FILE --out filled.html --measured readings.csv
"""


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = add_command(
        commands, "labsheet", "a sheet for the lab: predicted and measured", EXAMPLES
    )
    add_file(parser)
    parser.add_argument("--out", metavar="SHEET", required=True, help="the sheet, .html or .md")
    parser.add_argument(
        "--key", action="store_true", help="write SHEET-key too, with the predicted values"
    )
    parser.add_argument(
        "--measured",
        metavar="READINGS.csv",
        help="fill in measured values: name,value,unit[,station], as for 'compare'",
    )
    add_overwrite(parser)
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
    from simulator.findings.result import solve
    from simulator.reports.document import check_ending, write_documents
    from simulator.reports.labsheet import lab_sheet

    out = Path(options.out)
    check_ending(out)
    with scenario_at(options.file) as scenario:
        result = solve(scenario)
    measured = _measured(options.measured, result) if options.measured else {}
    documents = {out: lab_sheet(result, measured=measured)}
    if options.key:
        documents[out.with_stem(f"{out.stem}-key")] = lab_sheet(result, key=True, measured=measured)
    write_documents(documents, overwrite=options.overwrite)
    return 0


def _measured(name: str, result: Result) -> dict[tuple[str, int | None], float]:
    """Read measured values; a total that is not among them is formed from the readings."""
    from simulator.findings.comparison import compare
    from simulator.findings.readings_csv import parse_readings
    from simulator.reports.labsheet import TOTAL
    from simulator.scenario.reader import read_bytes

    try:
        comparison = compare(result, parse_readings(read_bytes(name)))
    except ScenarioError as error:
        raise ScenarioError(error.message, f"{name}: {error.place}".rstrip(": ")) from error
    found = {TOTAL: comparison.total.measured} if comparison.total else {}
    return found | {(row.name, row.station): row.measured for row in comparison.readings}

"""``blondel plan``: a measurement plan to take along, on paper."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.common import add_command, add_file, add_overwrite, scenario_at
from simulator.commands.faults import span_of
from simulator.errors import QuantityError, SimulatorError

if TYPE_CHECKING:
    import argparse

    from simulator.quantities import PowerFactor

EXAMPLES = """\
  blondel plan FILE --out plan.html
  blondel plan FILE --out plan.html --power-factor "0.79 lag..0.85 lag"
"""


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = add_command(commands, "plan", "a measurement plan to print and take along", EXAMPLES)
    add_file(parser)
    parser.add_argument(
        "--out", metavar="PLAN", required=True, help="the file, ending in .html or .md"
    )
    span = parser.add_mutually_exclusive_group()
    span.add_argument(
        "--power-factor",
        metavar="SPAN",
        help="the load's power factor lies between these: '0.79 lag..0.85 lag'; its active power "
        "is kept",
    )
    span.add_argument(
        "--span",
        metavar="WIDTH",
        help="or this far around the scenario's, to both sides (default: 0.03)",
    )
    parser.add_argument(
        "--no-load",
        metavar="SHARE,POWER_FACTOR",
        help="what the load takes without its work, of its volt-amperes: '35 %%, 0.15 lag'; a "
        "motor with an equivalent circuit needs none",
    )
    add_overwrite(parser)
    parser.set_defaults(run=run, current=None)


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
    from simulator.reports.document import check_ending, write_document
    from simulator.reports.plan.cases import plan_of
    from simulator.reports.plan.sheet import plan_document

    out = Path(options.out)
    check_ending(out)
    width, idle, span = _width(options.span), _idle(options.no_load), span_of(options)
    with scenario_at(options.file) as scenario:
        plan = plan_of(scenario, angles=span.phi if span else None, width=width, idle=idle)
        document = plan_document(plan)
    write_document(document, out, overwrite=options.overwrite)
    return 0


def _width(text: str | None) -> float | None:
    """Read how far a power factor may lie from another."""
    if text is None:
        return None
    try:
        width = float(text)
    except ValueError:
        width = 0.0
    if not 0 < width < 1:
        raise SimulatorError(f"expected a number between 0 and 1, got '{text}'", "--span")
    return width


def _idle(text: str | None) -> tuple[float, PowerFactor] | None:
    """Read a part of the volt-amperes and a power factor."""
    from simulator.quantities import parse_percent, parse_power_factor

    if text is None:
        return None
    share_text, comma, factor_text = text.partition(",")
    problem = SimulatorError(
        f"expected a share above 0 % and a power factor, like '35 %, 0.15 lag', got '{text}'",
        "--no-load",
    )
    if not comma:
        raise problem
    try:
        share, factor = parse_percent(share_text.strip()), parse_power_factor(factor_text.strip())
    except QuantityError as error:
        raise QuantityError(error.message, "--no-load") from error
    if share <= 0:
        raise problem
    return share, factor

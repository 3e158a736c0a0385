"""``blondel read``: what every meter reads, the total, and why it is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator.commands.common import (
    add_command,
    add_file,
    add_json,
    add_seed,
    print_json,
    scenario_at,
)
from simulator.errors import ScenarioError

if TYPE_CHECKING:
    import argparse

    from simulator.findings.result import Result
    from simulator.findings.uncertainty.evaluation import Uncertainty
    from simulator.scenario.models import Scenario

EXAMPLES = """\
Angles are in degrees, seen from the emf of the first line. "U to I" is the angle between a meter's
voltage and its current: the reading is U times I times its cosine.

  blondel read FILE
  blondel read FILE --uncertainty --tolerance "supply: voltage = 2 %"
"""


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = add_command(
        commands, "read", "what every meter reads, the total, and its error", EXAMPLES
    )
    add_file(parser)
    add_json(parser)
    parser.add_argument(
        "--uncertainty", action="store_true", help="intervals, worst case and error budget too"
    )
    parser.add_argument(
        "--tolerance",
        action="append",
        default=[],
        metavar="TEXT",
        help='of a quantity, as "ovens: L2 = 5 %%, 3 deg"; repeatable; goes with --uncertainty',
    )
    parser.add_argument(
        "--shared",
        action="append",
        default=[],
        metavar="NAME",
        help="an instrument or transformer of which there is only one; repeatable",
    )
    add_seed(parser)
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

    if (options.tolerance or options.shared) and not options.uncertainty:
        raise ScenarioError("--tolerance and --shared go with --uncertainty")
    uncertainty = None
    with scenario_at(options.file) as scenario:
        result = solve(scenario)
        if options.uncertainty:
            uncertainty = _uncertainty(options, scenario, result)
    if options.json:
        from simulator.reports.machine import result_object

        found = result_object(result)
        if uncertainty:
            from simulator.reports.uncertainty import uncertainty_object

            found["uncertainty"] = uncertainty_object(uncertainty)
        print_json(found)
        return 0
    from simulator.reports.text import result_text

    print(result_text(result), end="")
    if uncertainty:
        from simulator.reports.uncertainty import uncertainty_text

        print(f"\n{uncertainty_text(uncertainty)}", end="")
    return 0


def _uncertainty(options: argparse.Namespace, scenario: Scenario, result: Result) -> Uncertainty:
    from simulator.findings.uncertainty.evaluation import evaluate_uncertainty
    from simulator.findings.uncertainty.inputs import parse_tolerances
    from simulator.findings.uncertainty.monte_carlo import Settings

    return evaluate_uncertainty(
        scenario,
        parse_tolerances(options.tolerance),
        shared=tuple(options.shared),
        settings=Settings(seed=options.seed),
        result=result,
    )

"""``blondel vary``: readings as quantities vary step by step, or are drawn at random."""

from __future__ import annotations

import argparse
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.common import (
    add_command,
    add_file,
    add_json,
    add_overwrite,
    print_json,
    scenario_at,
)
from simulator.errors import SimulatorError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from concurrent.futures import Executor

    from simulator.scenario.models import Scenario
    from simulator.studies.prepared import Prepared
    from simulator.studies.steps import Steps

Group = dict[str, Any]
EXAMPLES = """\
A quantity is named by the words of the file; without one, `blondel vary FILE` lists what there is.
Options between one --quantity and the next belong to it:

  blondel vary FILE --quantity "ovens: L2" --values "10 ohm, 20 ohm, open"
  blondel vary FILE --quantity "supply: voltage" --from "380 V" --to "420 V" --steps 9
  blondel vary FILE --monte-carlo 100000 --draw "ovens: L2 normal 2 %"
"""


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = add_command(
        commands, "vary", "readings as quantities vary, or are drawn at random", EXAMPLES
    )
    add_file(parser)
    steps = parser.add_argument_group("step by step")
    steps.add_argument(
        "--quantity", action=_Quantity, metavar="PATH", help='what varies, like "ovens: L2"'
    )
    steps.add_argument(
        "--values",
        action=_OfQuantity,
        metavar="LIST",
        help="its values, between commas, or semicolons if they contain commas",
    )
    steps.add_argument("--from", action=_OfQuantity, metavar="VALUE", help="its first value")
    steps.add_argument("--to", action=_OfQuantity, metavar="VALUE", help="its last value")
    steps.add_argument("--steps", action=_OfQuantity, metavar="N", help="how many values")
    steps.add_argument(
        "--logarithmic", action=_OfQuantity, nargs=0, help="each the same multiple of the last"
    )
    steps.add_argument(
        "--together", action="store_true", help="first with first and so on, not each with each"
    )
    steps.add_argument("--curve", metavar="OUT", help="draw curves: a .svg, .png or .pdf file")
    random = parser.add_argument_group("at random")
    random.add_argument("--monte-carlo", metavar="N", help="draw N cases at random")
    random.add_argument(
        "--draw",
        action="append",
        metavar="DISTRIBUTION",
        help='what is drawn: "ovens: L2 normal 2 %%", "supply: voltage uniform 5 %%"',
    )
    random.add_argument(
        "--correlation",
        action="append",
        metavar="PAIR",
        help='of two quantities drawn: "ovens: L1 and ovens: L2 = 0.8"',
    )
    random.add_argument("--seed", metavar="S", help="which random numbers (default: 0)")
    long = parser.add_argument_group("long studies")
    long.add_argument(
        "--keep", metavar="DIR", help="keep finished parts there; the same command goes on"
    )
    long.add_argument("--workers", metavar="N", help="compute in N processes (default: 1)")
    long.add_argument("--statistics", action="store_true", help="keep only statistics of the cases")
    parser.add_argument("--csv", metavar="FILE", help="write one row for each case")
    add_overwrite(parser)
    add_json(parser)
    parser.set_defaults(run=run, quantity=[])


class _Quantity(argparse.Action):
    """Opens a group of options."""

    def __call__(self, _: Any, namespace: Any, values: Any, option: str | None = None) -> None:  # noqa: ARG002
        namespace.quantity = [*namespace.quantity, {"path": values}]


class _OfQuantity(argparse.Action):
    """Adds an option to the group that the last ``--quantity`` opened."""

    def __call__(self, parser: Any, namespace: Any, values: Any, option: str | None = None) -> None:
        if not namespace.quantity:
            parser.error(f"{option} belongs to a --quantity, which must stand before it")
        group = namespace.quantity[-1]
        if self.dest in group:
            parser.error(f"{option} is given twice for the quantity '{group['path']}'")
        group[self.dest] = values if self.nargs is None else True


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

    Raises
    ------
    SimulatorError
        If options do not fit together, or no case can be computed.
    """
    from simulator.commands.vary_output import write_study

    _check(options)
    with scenario_at(options.file) as scenario:
        if not options.quantity and options.monte_carlo is None:
            return _list(scenario, as_json=options.json)
        prepared = _prepared(scenario, options)
        with _executor(prepared, options.workers) as executor:
            try:
                write_study(prepared, options, executor)
            except KeyboardInterrupt:
                if options.keep:
                    _say(
                        f"stopped; what is finished is in {options.keep}: the same command goes on"
                    )
                raise
    return 0


def _say(text: str) -> None:
    print(f"blondel: {text}", file=sys.stderr)


def _check(options: argparse.Namespace) -> None:
    """Refuse options that do not fit together."""
    drawn = options.monte_carlo is not None
    for name, given, belongs in (
        ("--draw", options.draw, "--monte-carlo"),
        ("--correlation", options.correlation, "--monte-carlo"),
        ("--seed", options.seed, "--monte-carlo"),
    ):
        if given is not None and not drawn:
            raise SimulatorError(f"it belongs to {belongs}", name)
    if drawn and options.quantity:
        raise SimulatorError("what is drawn at random is said by --draw, not --quantity")
    if drawn and not options.draw:
        raise SimulatorError('say what is drawn, for example --draw "ovens: L2 normal 2 %"')
    if drawn and options.curve:
        raise SimulatorError("curves need quantities that vary step by step", "--curve")
    if drawn and options.together:
        raise SimulatorError("it belongs to quantities that vary step by step", "--together")
    if options.statistics and (options.csv or options.curve):
        raise SimulatorError("--statistics keeps no cases that --csv or --curve could show")
    for path in (options.csv, options.curve):
        if path and Path(path).exists() and not options.overwrite:
            raise SimulatorError("the file exists; --overwrite replaces it", path)


def _list(scenario: Scenario, *, as_json: bool) -> int:
    from simulator.reports.studies import quantities_object, quantities_text
    from simulator.studies.prepared import known_quantities

    known = known_quantities(scenario)
    if as_json:
        print_json({"title": scenario.title, "quantities": quantities_object(known)})
    else:
        print(quantities_text(known), end="")
    return 0


def _prepared(scenario: Scenario, options: argparse.Namespace) -> Prepared:
    from simulator.studies.distributions import parse_distribution
    from simulator.studies.draws import parse_correlation
    from simulator.studies.prepared import known_quantities, prepare_draws, prepare_sweep

    if options.monte_carlo is None:
        groups: dict[str, Sequence[str] | Steps] = {}
        for group in options.quantity:
            if group["path"] in groups:
                raise SimulatorError("it is given twice", group["path"])
            groups[group["path"]] = _values(group)
        return prepare_sweep(scenario, groups, together=options.together)
    known = known_quantities(scenario)
    paths = [parse_distribution(text, known).quantity.path for text in options.draw]
    return prepare_draws(
        scenario,
        options.draw,
        cases=_whole(options.monte_carlo, "--monte-carlo", least=1),
        seed=0 if options.seed is None else _whole(options.seed, "--seed", least=0),
        correlations=dict(parse_correlation(text, paths) for text in options.correlation or []),
    )


def _values(group: Group) -> Sequence[str] | Steps:
    """Turn the options of one quantity into its values."""
    from simulator.studies.steps import Steps, split_values

    place, span = group["path"], ("from", "to", "steps")
    given = [f"--{key}" for key in (*span, "logarithmic") if key in group]
    if "values" in group and not given:
        return split_values(group["values"])
    if "values" in group:
        raise SimulatorError(f"give either --values or {', '.join(given)}", place)
    missing = [f"--{key}" for key in span if key not in group]
    if missing:
        wanted = "--values, or --from, --to and --steps" if not given else " and ".join(missing)
        raise SimulatorError(f"{wanted} must follow it", place)
    steps = _whole(group["steps"], f"{place}, --steps", least=2)
    return Steps(group["from"], group["to"], steps, "logarithmic" in group)


def _whole(text: str, place: str, *, least: int) -> int:
    if not text.isdecimal() or len(text) > 15 or int(text) < least:
        raise SimulatorError(f"expected a whole number of at least {least}, got '{text}'", place)
    return int(text)


@contextmanager
def _executor(prepared: Prepared, workers: str | None) -> Iterator[Executor | None]:
    """Start processes where there is something to share."""
    from simulator.studies.chunks import ignore_interrupts, n_chunks

    n = 1 if workers is None else _whole(workers, "--workers", least=1)
    if min(n, n_chunks(prepared.cases.count)) == 1:
        yield None
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    pool = ProcessPoolExecutor(n, get_context("spawn"), initializer=ignore_interrupts)
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)

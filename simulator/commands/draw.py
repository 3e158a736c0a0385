"""``blondel draw``: phasor diagram, connection diagram, curves and waveforms, to files."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.common import add_command, add_file, add_overwrite, scenario_at
from simulator.errors import ScenarioError

if TYPE_CHECKING:
    import argparse

    from simulator.scenario.models import Scenario

EXAMPLES = """\
Several figures go to a file each, named after --out: lesson-phasors.svg, lesson-connections.svg.

  blondel draw FILE --out phasors.svg
  blondel draw FILE --figure phasors --figure connections --out lesson.svg
  blondel draw FILE --text
"""


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = add_command(commands, "draw", "phasors, connections, curves, waveforms", EXAMPLES)
    add_file(parser)
    parser.add_argument(
        "--figure",
        action="append",
        metavar="NAME",
        help="phasors (default), connections, waveforms, curves, or one curve; repeatable",
    )
    parser.add_argument("--out", metavar="OUT", help="the file, ending in .svg, .png or .pdf")
    add_overwrite(parser)
    parser.add_argument("--meter", metavar="NAME", help="whose waveforms (default: the first)")
    parser.add_argument("--black-and-white", action="store_true", help="no colour at all")
    parser.add_argument(
        "--conductor-colours", metavar="SET", help="iec, or another published set of colours"
    )
    parser.add_argument(
        "--labels", metavar="A,B,C,N", help="names for the conductors, instead of the file's"
    )
    parser.add_argument(
        "--mark",
        choices=("star", "dot", "plus-minus"),
        default="star",
        help="polarity marks (default: star)",
    )
    parser.add_argument("--text", action="store_true", help="print the list of connections")
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

    if not (options.out or options.text):
        raise ScenarioError("say where to with --out OUT, or print the connections with --text")
    with scenario_at(options.file) as scenario:
        result = solve(_relabelled(scenario, options.labels))
        if options.text:
            from simulator.figures.connections.listing import connection_text

            print(connection_text(result), end="")
        if not options.out:
            return 0
        from simulator.figures.every import figures_of
        from simulator.figures.style import Style

        figures = figures_of(
            result,
            list(dict.fromkeys(options.figure or ["phasors"])),
            Style(options.black_and_white, options.conductor_colours),
            meter=options.meter,
            mark=options.mark,
        )
    from simulator.figures.saving import save_figures

    save_figures(figures, Path(options.out), result.measurement.title, overwrite=options.overwrite)
    return 0


def _relabelled(scenario: Scenario, labels: str | None) -> Scenario:
    """Give the conductors other names, everywhere."""
    from simulator.scenario.labels import labels_of

    if labels is None:
        return scenario
    new = re.split(r"\s*,\s*", labels.strip())
    names = labels_of({"labels": new})
    clash = scenario.named_nodes() & set(names)
    if clash:
        raise ScenarioError(f"'{clash.pop()}' is a node of this scenario already", "--labels")
    return scenario.model_copy(update={"labels": list(names)})

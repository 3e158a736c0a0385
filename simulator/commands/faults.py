"""``blondel faults``: what wiring faults would read, and which explain given readings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator.commands.common import (
    add_command,
    add_file,
    add_json,
    print_json,
    quantity_at,
    scenario_at,
    tolerance_of,
)
from simulator.errors import SimulatorError

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

    from simulator.findings.faults.loads import LoadSpan

NOTHING_FITS = 1
EXAMPLES = """\
FILE is wired as it should be; what was read on site comes from --measured.

  blondel faults FILE
  blondel faults FILE --measured W1=1840,W2=1840,W3=-1840
"""


def add(commands: Any) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Where to add it.
    """
    parser = add_command(
        commands,
        "faults",
        "what wiring faults would read; which of them fit given readings",
        EXAMPLES,
    )
    add_file(parser)
    parser.add_argument(
        "--measured",
        metavar="READINGS",
        help="a reading of every wattmeter, in watts or with a unit: W1=1840,W2=1.84kW,W3=-1840",
    )
    add_limits(parser)
    parser.add_argument(
        "--slips",
        metavar="N",
        default="1",
        help="without --measured, list wirings that take up to N slips (default: 1)",
    )
    add_json(parser)
    parser.set_defaults(run=run)


def add_limits(parser: argparse.ArgumentParser) -> None:
    """Add the options that say how well readings and load are known.

    Parameters
    ----------
    parser : ArgumentParser
        The command's parser.
    """
    parser.add_argument(
        "--tolerance",
        metavar="PERCENT",
        default="2 %",
        help="how far a reading may be off, of the volt-amperes that its meter carries rightly "
        "wired: errors of range, ratio and angle follow these, not the watts (default: '2 %%')",
    )
    parser.add_argument(
        "--power-factor",
        metavar="SPAN",
        help="the load's power factor lies between these: '0.75 lag..0.9 lag'",
    )
    parser.add_argument(
        "--current",
        metavar="SPAN",
        help="the largest line current lies between these: '8 A..12 A'",
    )


def run(options: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    options : Namespace
        Its options.

    Returns
    -------
    int
        Exit status: 1 if no wiring explains the readings.

    Raises
    ------
    SimulatorError
        If an option is none.
    """
    from simulator.findings.faults.find import find_faults
    from simulator.reports.faults import faults_object
    from simulator.reports.faults_text import faults_text

    measured = None if options.measured is None else readings_of(options.measured)
    tolerance, span = tolerance_of(options), span_of(options)
    if not options.slips.isdecimal():
        raise SimulatorError(f"expected a number of slips, got '{options.slips}'", "--slips")
    with scenario_at(options.file) as scenario:
        faults = find_faults(scenario, measured, tolerance=tolerance, span=span)
    if options.json:
        print_json(faults_object(faults))
    else:
        print(faults_text(faults, int(options.slips)), end="")
    return 0 if measured is None or faults.fitting else NOTHING_FITS


def readings_of(text: str) -> dict[str, float]:
    """Read the readings of ``--measured``.

    Parameters
    ----------
    text : str
        For example "W1=1840,W2=1.84 kW".

    Returns
    -------
    dict of str to float
        Readings by name [W].

    Raises
    ------
    SimulatorError
        If it is none.
    """
    from simulator.quantities import parse_real

    found: dict[str, float] = {}
    for part in text.split(","):
        name, equals, value = (piece.strip() for piece in part.partition("="))
        if not equals or not name:
            raise SimulatorError(
                f"expected NAME=READING, like W1=1840,W2=-275, got '{part.strip()}'", "--measured"
            )
        if name in found:
            raise SimulatorError(f"'{name}' is given twice", "--measured")
        with_unit = value if value[-1:].isalpha() else f"{value} W"
        found[name] = quantity_at(f"--measured, {name}", with_unit, lambda t: parse_real(t, "W"))
    return found


def span_of(options: argparse.Namespace) -> LoadSpan | None:
    """Read ``--power-factor`` and ``--current``.

    Parameters
    ----------
    options : Namespace
        The options.

    Returns
    -------
    LoadSpan or None
        The bounds of the load; None if neither is given.

    Raises
    ------
    SimulatorError
        If one is none.
    """
    from simulator.findings.faults.loads import LoadSpan
    from simulator.quantities import parse_power_factor, parse_real

    if options.power_factor is None and options.current is None:
        return None
    return LoadSpan(
        phi=_span(
            "--power-factor", options.power_factor, lambda t: parse_power_factor(t).angle_deg
        ),
        current=_span("--current", options.current, lambda t: parse_real(t, "A", above=0)),
    )


def _span(place: str, text: str | None, read: Callable[[str], float]) -> tuple[float, float] | None:
    """Read two values with two points between them, in any order, or one."""
    if text is None:
        return None
    values = [quantity_at(place, part.strip(), read) for part in text.split("..")]
    if len(values) > 2:
        raise SimulatorError(f"expected two values, like 'A..B', got '{text}'", place)
    return min(values), max(values)

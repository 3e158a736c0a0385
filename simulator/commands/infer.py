"""``blondel infer``: from readings to total, reactive power, power factor and impedance."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, TypeVar

from simulator.commands.common import (
    add_command,
    add_json,
    print_json,
    quantity_at,
    scenario_at,
    tolerance_of,
)
from simulator.errors import SimulatorError

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Sequence

    from simulator.findings.inference import Inference

T = TypeVar("T")
LINES = ("L1", "L2", "L3")
SEQUENCES = ("L1-L2-L3", "L3-L2-L1")
NAMES = (("W",), ("W1", "W2"), ("W1", "W2", "W3"))
EXAMPLES = """\
No spaces around the =, or quotation marks around it all.

  blondel infer W1=-694.6W W2=3064.2W --voltage 400V --current 10A
  blondel infer W=1.6kW --power-factor "0.8 lag" --voltage 400V
  blondel infer --scenario FILE W1=-700W
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
        "infer",
        "from readings to total, power factor and impedance, with the working",
        EXAMPLES,
    )
    parser.add_argument(
        "readings",
        metavar="NAME=READING",
        nargs="*",
        help="W=1.6kW (one wattmeter to a neutral), W1=2kW W2=4kW (two with a common line: W1 in "
        "the line before it, W2 in the line after it; L1 and L3 for L2), or W1, W2 and W3 (to one "
        "common point)",
    )
    parser.add_argument(
        "--common", choices=LINES, help="common line of two wattmeters (default: L2)"
    )
    parser.add_argument(
        "--sequence", choices=SEQUENCES, help="order in which the lines peak (default: L1-L2-L3)"
    )
    parser.add_argument("--voltage", metavar="V", help="line to line, for example 400V")
    parser.add_argument("--current", metavar="I", help="in a line, for example 10A")
    parser.add_argument(
        "--power-factor", metavar="PF", help="of the load, for one or three wattmeters: '0.8 lag'"
    )
    parser.add_argument(
        "--tolerance",
        metavar="PERCENT",
        default="2 %",
        help="how far two values may differ and count as equal (default: '2 %%')",
    )
    parser.add_argument("--unbalanced", action="store_true", help="the load is known to be so")
    parser.add_argument(
        "--scenario", metavar="FILE", help="take the readings from here; given ones replace them"
    )
    add_json(parser)
    parser.set_defaults(run=run, several="readings")


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
        If the options contradict each other, or a quantity is none.
    """
    from simulator.reports.inference import inference_object, inference_text

    readings = _readings(options.readings)
    draw = _from_readings if options.scenario is None else _from_scenario
    inference = draw(options, readings)
    if options.json:
        print_json(inference_object(inference))
    else:
        print(inference_text(inference), end="")
    return 0


def _from_readings(options: argparse.Namespace, readings: dict[str, float]) -> Inference:
    from simulator.findings.inference import Given, infer
    from simulator.quantities import parse_power_factor

    names = next((names for names in NAMES if set(names) == set(readings)), None)
    if names is None:
        raise SimulatorError(
            "expected the readings W, or W1 and W2, or W1, W2 and W3, for example 'W1=2kW "
            f"W2=4kW', got {' and '.join(readings) or 'none'}"
        )
    if len(names) != 2 and (options.common or options.sequence):
        raise SimulatorError("--common and --sequence belong to two wattmeters, W1 and W2")
    if options.power_factor and (len(names) == 2 or options.unbalanced):
        why = "an unbalanced load has none" if options.unbalanced else "two readings already say it"
        raise SimulatorError(f"leave --power-factor out: {why}")
    return infer(
        Given(
            {name: readings[name] for name in names},
            LINES,
            options.common or LINES[1],
            -1 if options.sequence == SEQUENCES[1] else 1,
            power_factor=_read("--power-factor", options.power_factor, parse_power_factor),
            objection="The load is unbalanced" if options.unbalanced else None,
            **_voltage_and_current(options),
            tolerance=tolerance_of(options),
        )
    )


def _from_scenario(options: argparse.Namespace, readings: dict[str, float]) -> Inference:
    from simulator.findings.inference_from_scenario import infer_scenario

    for name in ("common", "sequence", "unbalanced", "power_factor"):
        if getattr(options, name):
            option = name.replace("_", "-")
            raise SimulatorError(f"leave --{option} out: the scenario says it")
    quantities, tolerance = _voltage_and_current(options), tolerance_of(options)
    with scenario_at(options.scenario) as scenario:
        return infer_scenario(scenario, readings, **quantities, tolerance=tolerance)


def _readings(texts: Sequence[str]) -> dict[str, float]:
    from simulator.quantities import parse_real

    readings: dict[str, float] = {}
    for text in texts:
        if not re.fullmatch("[^=]+=[^=]+", text):
            raise SimulatorError(
                "expected each reading as NAME=READING without spaces, for example 'W1=-2kW "
                f"W2=4kW', got '{text}'"
            )
    for text in texts:
        name, _, value = text.partition("=")
        if name in readings:
            raise SimulatorError("this reading is given twice", name)
        readings[name] = quantity_at(name, value, lambda given: parse_real(given, "W"))
    return readings


def _voltage_and_current(options: argparse.Namespace) -> dict[str, float | None]:
    from simulator.quantities import parse_real

    return {
        "voltage": _read("--voltage", options.voltage, lambda t: parse_real(t, "V", above=0)),
        "current": _read("--current", options.current, lambda t: parse_real(t, "A", above=0)),
    }


def _read(place: str, text: str | None, read: Callable[[str], T]) -> T | None:
    return None if text is None else quantity_at(place, text, read)

"""What the page shows first, as plain objects: what can be moved, and what every meter reads."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from simulator.errors import SimulatorError
from simulator.explore.controls import NO_NEUTRAL, OWN
from simulator.explore.state import CIRCUITS, meter_names
from simulator.findings.reason import RIGHT
from simulator.phasors import angle_deg, wrap_deg
from simulator.reports.text import columns

if TYPE_CHECKING:
    from collections.abc import Iterable

    from simulator.explore.situation import Board, Situation
    from simulator.explore.state import State
    from simulator.findings.result import Result, TotalResult
    from simulator.findings.station import Station

Object = dict[str, Any]

_NO_LINE = "this method leaves no choice of a line"
_NO_STAR_POINT = "only a star point made of voltage circuits feels them: choose such a method"
_PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"))


def controls_object(board: Board) -> Object:
    """Describe what can be moved.

    Parameters
    ----------
    board : Board
        The board.

    Returns
    -------
    dict
        Title and controls, and what addresses call the file; nothing in it depends on where the
        controls stand.
    """
    return {
        "title": board.start.measurement.title if board.start.is_file else "",
        "file": board.start.fingerprint,
        "controls": [
            {
                "name": control.name,
                "group": control.group,
                "label": control.label,
                "slides": control.slides,
                "start": control.start,
                "whyNot": control.why_not,
                "stops": [[stop.value, stop.text, stop.group] for stop in control.stops],
            }
            for control in board.controls.values()
        ],
    }


def readings_object(board: Board, state: State) -> Object:
    """Say what every meter reads, or why there is nothing to read.

    Parameters
    ----------
    board : Board
        The board.
    state : State
        Where the controls stand.

    Returns
    -------
    dict
        Readings and total, or a problem in words; and which controls act on what.
    """
    found: Object = {"query": state.query, "problem": None, "readings": [], "total": None}
    found |= {"others": [], "facts": [], "branches": [], "notes": [], "circumstances": ""}
    try:
        situation = board.situation(state)
    except SimulatorError as error:
        names = meter_names(state.value(board.controls["method"]), board.base(state))
        return found | {"problem": str(error)} | _meters(names, board, state, None)
    found |= _meters(
        meter_names(state.value(board.controls["method"]), situation.base), board, state, situation
    )
    try:
        return found | _read(board.result(state))
    except SimulatorError as error:
        return found | {"problem": str(error)}


def _meters(names: list[str], board: Board, state: State, situation: Situation | None) -> Object:
    """Say which circuits can be reversed, what some controls are, and which do nothing here."""
    coils = situation.meters.coils if situation else ()
    line_means = situation.meters.line_means if situation else ""
    reversals = situation.meters.reversals if situation else state.reversals or frozenset()
    idle: dict[str, str] = {}
    if board.base(state).conductors.neutral is None:
        idle |= {"Nsupply": NO_NEUTRAL, "Nload": NO_NEUTRAL}
    if not line_means:
        own = state.value(board.controls["method"]) == OWN
        idle["line"] = "the file says where its meters are" if own else _NO_LINE
    labels = {"line": line_means or "Line"}
    for k in range(3):
        if k < len(coils):
            labels[f"coil{k + 1}"] = coils[k]
        else:
            idle[f"coil{k + 1}"] = _NO_STAR_POINT if not coils else "no further circuit meets there"
    return {
        "circuits": [
            {
                "name": name,
                "circuit": circuit,
                "value": f"{name}.{circuit}",
                "reversed": (name, circuit) in reversals,
            }
            for name in names
            for circuit in CIRCUITS
        ],
        "labels": labels,
        "idle": idle,
    }


def _read(result: Result) -> Object:
    readings, total = list(result.readings.values()), result.total
    watts = [0.0 if r.direction == "zero" else r.watts for r in readings]
    sums = [total.indicated, total.true, total.error] if total else []
    floor = RIGHT * total.apparent if total else 0.0
    sums = [value if abs(value) > floor else 0.0 for value in sums]
    texts, prefix = _scaled([*watts, *sums])  # what is added stands alike
    first = result.first
    return {
        "circumstances": _circumstances(result),
        "readings": [
            {
                "name": r.name,
                "watts": r.watts,
                "text": text,
                "unit": f"{prefix}W",
                "direction": r.direction,
                "senses": _senses(r.meter.current_text, r.meter.voltage, r.current, r.voltage),
            }
            for r, text in zip(readings, texts, strict=False)
        ],
        "others": [[name, f"{v:.1f} V"] for name, v in first.voltmeters.items()]
        + [[name, f"{v:.3g} A"] for name, v in first.ammeters.items()],
        "total": None if total is None else _total(total, texts[len(readings) :], prefix),
        "facts": _facts(first),
        "branches": _branches(first),
        "notes": list(result.notes),
    }


def _circumstances(result: Result) -> str:
    measurement = result.measurement
    sequence = "-".join(measurement.conductors.lines[:: measurement.supply.sequence])
    wires = "three" if measurement.conductors.wires == 3 else "four"
    return f"{wires} wires, {measurement.supply.frequency:g} Hz, sequence {sequence}"


def _senses(line: str, ends: tuple[str, str], current: complex, voltage: complex) -> str:
    apart = abs(float(wrap_deg(angle_deg(voltage) - angle_deg(current))))
    u, i = f"{abs(voltage):.1f} V, {' to '.join(ends)}", f"{abs(current):.2f} A in {line}"
    return f"{u}; {i}; {apart:.1f}° apart" if current and voltage else f"{u}; {i}"


def _total(total: TotalResult, texts: list[str], prefix: str) -> Object:
    indicated, true, error = texts
    unit = f"{prefix}{total.unit}"
    verdict = "holds"
    if not total.is_right:
        percent = total.error_percent
        share = "" if math.isnan(percent) else f" ({minus(f'{percent:+.2f}')} %)"
        verdict = f"off by {_plus(error)} {unit}{share}"
    return {
        "formula": total.formula.replace("-", "−").replace("*", " × ").replace("sqrt(3)", "√3"),
        "quantity": total.quantity,
        "indicated": total.indicated,
        "true": total.true,
        "texts": [indicated, true],
        "unit": unit,
        "right": total.is_right,
        "verdict": verdict,
        "reason": total.reason,
    }


def _facts(station: Station) -> list[list[str]]:
    """List what stands beside the board: power factor, neutral current, star points."""
    factor = float(station.plane.power_factor.vector)
    sense = "" if factor > 1 - 5e-5 else " lag" if station.true.imag > 0 else " lead"
    facts = []
    if math.isfinite(factor):
        facts.append(["power factor of the load (vector)", f"{factor:.3f}{sense}"])
    if station.neutral:
        facts.append([f"current in {station.neutral}", _phasor(station.neutral_current, "A")])
    points = {
        f"star point of {x.name}": x.star_point for x in station.loads if x.star_point is not None
    }
    own = {load.star_point for load in station.arrangement.loads}
    points |= {f"point {name}": v for name, v in station.nodes.items() if name not in own}
    facts += [[f"{name}, against the supply's", _phasor(v, "V")] for name, v in points.items()]
    return facts


def _branches(station: Station) -> list[list[str]]:
    rows = [(load.name, b) for load in station.loads for b in load.branches]
    u, i, p, q = columns(
        (abs(b.voltage) for _, b in rows),
        (abs(b.current) for _, b in rows),
        (b.power.real for _, b in rows),
        (b.power.imag for _, b in rows),
    )
    return [
        [name, b.name, *map(minus, numbers)]
        for (name, b), *numbers in zip(rows, u, i, p, q, strict=True)
    ]


def _scaled(values: Iterable[float]) -> tuple[list[str], str]:
    """Write powers that stand side by side with one prefix and equally many decimals."""
    given = list(values)
    largest = max((abs(v) for v in given), default=0.0)
    if largest == 0:
        return ["0"] * len(given), ""
    scale, prefix = next(((s, p) for s, p in _PREFIXES if largest >= 100 * s), (1.0, ""))
    return [minus(text) for text in columns([v / scale for v in given])[0]], prefix


def minus(text: str) -> str:
    """Give a number the sign that stands out.

    Parameters
    ----------
    text : str
        A number.

    Returns
    -------
    str
        The same with a true minus instead of a hyphen.
    """
    return text.replace("-", "−")


def _plus(text: str) -> str:
    return text if text.startswith("−") else f"+{text}"


def _phasor(value: complex, unit: str) -> str:
    size = f"{abs(value):.4g} {unit}"
    return f"{size} ∠{minus(f'{angle_deg(value):z.1f}')}°" if abs(value) > 1e-9 else f"0 {unit}"

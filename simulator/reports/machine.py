"""Results as machine-readable objects: the contract of ``--json``.

Keys are stable, more may be added. Every number is in SI units, every angle in degrees in
(−180, 180]; what is undefined is null.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from simulator.metering.ranges import range_use
from simulator.metering.transformer_use import transformers_in_use
from simulator.network.residual import NEGLIGIBLE
from simulator.phasors import angle_deg, wrap_deg

if TYPE_CHECKING:
    from collections.abc import Iterable

    from simulator.findings.result import Result, TotalResult
    from simulator.findings.station import LoadResult, Station
    from simulator.metering.accuracy import TransformerLimits
    from simulator.metering.readings import Reading

Object = dict[str, Any]


def result_object(result: Result) -> Object:
    """Turn a result into the object that ``blondel read --json`` prints.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    dict
        Only plain Python values.

    Examples
    --------
    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [
    ...         {"connection": "line-to-neutral", "L1": "20 ohm", "L2": "40 ohm", "L3": "40 ohm"}
    ...     ],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> found = simulator.result_object(simulator.solve(scenario))
    >>> found["readings"][0]["direction"], round(found["total"]["error"])
    ('upscale', 2667)
    """
    measurement, first = result.measurement, result.first
    moved = first.number is not None
    return {
        "title": measurement.title,
        "method": measurement.method,
        "frequency_hz": measurement.supply.frequency,
        "wires": measurement.conductors.wires,
        "sequence": "-".join(measurement.conductors.lines[:: measurement.supply.sequence]),
        "readings": [_reading(r, result.station_of(name)) for name, r in result.readings.items()],
        "voltmeters": [{"name": k, "volts": v} for k, v in first.voltmeters.items()],
        "ammeters": [{"name": k, "amperes": v} for k, v in first.ammeters.items()],
        "total": _total(result.total) if result.total else None,
        "load": _powers(first),
        **_station(first),
        "neutral_current": _current(first.neutral_current) if first.neutral else None,
        "symmetrical_components": _components(first),
        "stations": [_numbered_station(s) for s in result.stations] if moved else [],
        "condition": max(s.solution.condition for s in result.stations),
        "residual": result.residual,
        "notes": list(result.notes),
    }


def _number(value: float) -> float | None:
    value = float(value)
    return value if math.isfinite(value) else None


def _phasor(value: complex, key: str) -> Object:
    return {key: float(abs(value)), "angle_deg": float(angle_deg(value))}


def _current(value: complex) -> Object:
    return _phasor(value, "rms_a")


def _voltage(value: complex) -> Object:
    return _phasor(value, "rms_v")


def _reading(reading: Reading, station: Station) -> Object:
    meter = reading.meter
    found = {
        "name": reading.name,
        "watts": reading.watts,
        "at_instrument": reading.at_instrument,
        "direction": reading.direction,
        "current": {"line": meter.current_text, **_current(reading.current)},
        "voltage": {"from": meter.voltage[0], "to": meter.voltage[1], **_voltage(reading.voltage)},
        "angle_between_deg": float(
            wrap_deg(angle_deg(reading.voltage) - angle_deg(reading.current))
        ),
    }
    found |= {} if meter.station is None else {"station": meter.station}
    return found | _instrument(reading, station) | _transformers(reading, station)


def _instrument(reading: Reading, station: Station) -> Object:
    """Give what is known of the scale and the ranges."""
    instrument = reading.meter.instrument
    found: Object = {}
    if instrument.watts_per_division is not None:
        found["watts_per_division"] = instrument.watts_per_division
        found["deflection_divisions"] = reading.deflection
    if instrument.class_limit is not None:
        found["class_limit_w"] = instrument.class_limit
    parts = vars(range_use(reading, station.wired, station.solution))
    if any(part is not None for part in parts.values()):
        found["percent_of_range"] = {k: None if v is None else 100 * v for k, v in parts.items()}
    return found


def _transformers(reading: Reading, station: Station) -> Object:
    uses = transformers_in_use(reading.meter, station.wired, station.solution)
    rows = [
        {
            "name": use.transformer.name,
            "kind": use.kind,
            "conductor": use.conductor or None,
            "secondary": use.transformer.secondary.value,
            "percent_of_rated": use.percent_of_rated,
            "ratio_error_percent": None if use.ratio_error is None else 100 * use.ratio_error,
            "phase_displacement_deg": use.phase_displacement,
            "burden_va": use.burden,
            "class_limits": _limits(use.limits),
        }
        for use in uses
    ]
    return {"transformers": rows} if rows else {}


def _limits(limits: TransformerLimits | None) -> Object | None:
    if limits is None:
        return None
    return {
        "ratio_error_percent": 100 * limits.ratio_error,
        "phase_displacement_deg": limits.phase_displacement,
        "phase_displacement_per_ratio_error_deg": limits.skew,
        "assumption": limits.assumption or None,
        "source": limits.source,
        "confidence": limits.confidence,
    }


def _total(total: TotalResult) -> Object:
    return {
        "formula": total.formula,
        "quantity": total.quantity,
        "unit": total.unit,
        "indicated": total.indicated,
        "true": total.true,
        "crossing": total.crossing,
        "error": total.error,
        "method_error": total.method_error,
        "error_percent": _number(total.error_percent),
        "reason": total.reason,
    }


def _powers(station: Station) -> Object:
    plane = station.plane
    return {
        "active_w": station.true.real,
        "reactive_var": station.true.imag,
        "apparent_va": {k: float(v) for k, v in vars(plane.apparent).items()},
        "power_factor": {k: _number(v) for k, v in vars(plane.power_factor).items()},
    }


def _station(station: Station) -> Object:
    lines = zip(station.arrangement.conductors.lines, station.line_currents.tolist(), strict=True)
    return {
        "loads": _loads(station.loads),
        "lines": [{"name": name, "current": _current(i)} for name, i in lines],
        "nodes": {name: _voltage(v) for name, v in station.nodes.items()},
        "losses": {f"{what}_w": float(w) for what, w in station.losses.items()},
    }


def _numbered_station(station: Station) -> Object:
    return {
        "station": station.number,
        "load": _powers(station),
        **_station(station),
        "neutral_current": _current(station.neutral_current) if station.neutral else None,
        "residual": station.solution.residual,
    }


def _loads(loads: Iterable[LoadResult]) -> list[Object]:
    return [
        {
            "name": load.name,
            "active_w": load.power.real,
            "reactive_var": load.power.imag,
            "branches": [
                {
                    "name": branch.name,
                    "current": _current(branch.current),
                    "voltage": _voltage(branch.voltage),
                    "active_w": branch.power.real,
                    "reactive_var": branch.power.imag,
                }
                for branch in load.branches
            ],
            "star_point": None if load.star_point is None else _voltage(load.star_point),
        }
        for load in loads
    ]


def _components(station: Station) -> Object:
    names = ("positive", "negative", "zero")
    found = {}
    for what, values in station.components.items():
        floor = NEGLIGIBLE * max(abs(v) for v in values)
        kept = [v if abs(v) > floor else 0j for v in values]
        write = _voltage if what == "voltage" else _current
        found[what] = {name: write(v) for name, v in zip(names, kept, strict=True)}
    return found

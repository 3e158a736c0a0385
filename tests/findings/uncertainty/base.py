"""Scenarios to evaluate: base case B of design/needs.md, 400 V and 10 A, balanced."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

import simulator

if TYPE_CHECKING:
    from simulator.scenario.models import Scenario

V, I = 400.0, 10.0
Document = dict[str, Any]


def angle_of(power_factor: float) -> float:
    return math.degrees(math.acos(power_factor))


def document(phi: float, instrument: Document | None = None, **tables: Any) -> Document:
    """Two wattmeters with the common line L2 on base case B at an angle φ."""
    method: Document = {"name": "two wattmeters", "common": "L2"}
    if instrument is not None:
        tables["instrument"] = {"portable": instrument}
        method["instrument"] = "portable"
    for kind in ("current_transformer", "voltage_transformer"):
        if kind in tables:
            method[kind] = next(iter(tables[kind]))
    load = {"name": "motor", "connection": "star", "each": f"{V / 3**0.5 / I!r} ohm @ {phi!r} deg"}
    return {
        "title": "base case B",
        "supply": {"wires": 3, "voltage": "400 V"},
        "load": [load],
        "method": method,
        **tables,
    }


def case(phi: float, instrument: Document | None = None, **tables: Any) -> Scenario:
    return simulator.scenario_from(document(phi, instrument, **tables))


ELECTRONIC: Document = {"kind": "electronic"}
# Full scale V·I, as in design/../reference/standards.md, section 8.
CLASS_HALF: Document = {"accuracy_class": 0.5, "current_range": "10 A", "voltage_range": "400 V"}


def readings_of(phi: np.ndarray | float) -> tuple[Any, Any]:
    """V·I·cos(30° ± φ) (design/physics.md, section 5)."""
    turned = np.radians(phi)
    return V * I * np.cos(np.pi / 6 + turned), V * I * np.cos(np.pi / 6 - turned)

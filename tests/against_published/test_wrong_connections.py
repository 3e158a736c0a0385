"""The table of wrong connections: every row through the real network, at eleven angles.

Rows and their confidence stand in data/wrong_connections.toml.
"""

from __future__ import annotations

import cmath
import math
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

import simulator

pytestmark = pytest.mark.reference
TABLE = tomllib.loads(
    (Path(__file__).parent / "data" / "wrong_connections.toml").read_text(encoding="utf-8")
)
ANGLES = (-85, -60, -45, -30, -10, 0, 10, 30, 45, 60, 85)
OHMS, LINE_VOLTS = 20, 400
TWO = {"current": ["A", "C"], "voltage": [["A", "B"], ["C", "B"]], "reversed": [[], []]}
THREE = {
    "current": ["A", "B", "C"],
    "voltage": [["A", "N"], ["B", "N"], ["C", "N"]],
    "reversed": [[], [], []],
}
TERM = re.compile(
    r"(?P<sign>-?)(?P<factor>[\d.]*)(?P<root>(?:sqrt\(3\))?)"
    r"(?P<function>cos|sin)\((?:(?P<angle>\d+)(?P<turn>[+-]))?phi\)"
)


def value(text: str, phi: float) -> float:
    """Evaluate an entry of the table, such as -0.5sqrt(3)cos(60+phi)."""
    if text == "0":
        return 0.0
    term = TERM.fullmatch(text)
    assert term, text
    factor = float(term["factor"] or 1) * (-1 if term["sign"] else 1)
    argument = float(term["angle"] or 0) + (-phi if term["turn"] == "-" else phi)
    function = math.cos if term["function"] == "cos" else math.sin
    return factor * (math.sqrt(3) if term["root"] else 1) * function(math.radians(argument))


def scenario(row: dict[str, Any], wiring: dict[str, Any], phi: float) -> dict[str, Any]:
    """Wire a row: a balanced star, the elements as the row has them, an open fuse if it has one."""
    row = wiring | row
    wires, fuse = len(row["current"]) + 1, row.get("fuse")
    supply = {"wires": wires, "voltage": f"{LINE_VOLTS} V"}
    point = {"star_point": "neutral"} if wires == 4 else {}
    elements = zip(row["current"], row["voltage"], row["reversed"], strict=True)
    wattmeters = [
        {
            "name": f"W{k}",
            "current": current,
            "voltage": [f"{end}_fused" if end == fuse else end for end in voltage],
            "reversed": turned,
            "instrument": "meter",
        }
        for k, (current, voltage, turned) in enumerate(elements, 1)
    ]
    opened = {"between": [fuse, f"{fuse}_fused"], "value": "open", "side": "supply"}
    return {
        "title": row["condition"],
        "labels": ["A", "B", "C", "N"],
        "supply": supply | ({"sequence": row["sequence"]} if "sequence" in row else {}),
        "load": [{"connection": "star", "each": f"{OHMS} ohm @ {phi} deg", **point}],
        "instrument": {"meter": {"voltage_circuit": "20 kohm"}},
        "wattmeter": wattmeters,
        "impedance": [opened] if fuse else [],
        "total": {"power": " + ".join(meter["name"] for meter in wattmeters)},
    }


def entries(row: dict[str, Any]) -> list[tuple[float, float]]:
    """Pair the readings and their sum with what the row has, in its unit, at every angle."""
    names = [name for name in row if re.fullmatch(r"W\d", name)]
    wiring = TWO if len(names) == 2 else THREE
    phase_volts = LINE_VOLTS / math.sqrt(3)
    unit = (LINE_VOLTS if len(names) == 2 else phase_volts) * phase_volts / OHMS
    pairs = []
    for phi in ANGLES:
        result = simulator.solve(simulator.scenario_from(scenario(row, wiring, phi)))
        assert list(result.readings) == names
        assert result.total is not None
        watts = [result[name].watts for name in names] + [result.total.indicated]
        pairs += [
            (w / unit, value(row[name], phi))
            for w, name in zip(watts, [*names, "sum"], strict=True)
        ]
    return pairs


@pytest.mark.parametrize(
    "row",
    TABLE["two_element"] + TABLE["three_element"],
    ids=lambda row: f"{'three' if 'W3' in row else 'two'} elements: {row['condition']}",
)
def test_row(row: dict[str, Any]) -> None:
    ours, expected = zip(*entries(row), strict=True)
    assert ours == pytest.approx(expected, abs=1e-9)


def test_no_row_is_missing() -> None:
    # 16 and 9 rows, two of which speak of a CT or a voltage and stand here once for each
    assert (len(TABLE["two_element"]), len(TABLE["three_element"])) == (18, 9)


@pytest.mark.parametrize("phi", ANGLES)
def test_another_burden_behind_an_open_fuse(phi: float) -> None:
    # Derived: an equal burden from the dead lead to C puts the lead midway between B and C, so
    # element 1 has ½V_CB: Re(½V_CB·I_A*) = −½·V_L·I_L·sin φ (the table's rows are its limit)
    row = next(row for row in TABLE["two_element"] if row.get("fuse") == "A")
    burden = {"between": ["A_fused", "C"], "value": "20 kohm", "side": "supply"}
    table = scenario(row, TWO, phi)
    table["impedance"].append(burden)
    result = simulator.solve(simulator.scenario_from(table))
    unit = LINE_VOLTS * (LINE_VOLTS / math.sqrt(3) / OHMS)
    assert result["W1"].watts / unit == pytest.approx(-0.5 * math.sin(math.radians(phi)), abs=1e-9)


@pytest.mark.parametrize("phi", ANGLES)
def test_cross_connected_meter_shows_reactive_power(phi: float) -> None:
    # One wattmeter with I_A and V_BC reads V_L·I_L·sin φ, so Q = √3·W (CALC)
    table = scenario({"condition": "cross-connected"}, TWO, phi)
    del table["wattmeter"], table["total"]
    table["method"] = {"name": "one wattmeter for reactive power", "line": "A"}
    result = simulator.solve(simulator.scenario_from(table))
    volt_amperes = LINE_VOLTS**2 / OHMS
    reactive = volt_amperes * cmath.rect(1, math.radians(phi)).imag
    assert result["W"].watts == pytest.approx(reactive / math.sqrt(3), abs=1e-6)
    assert result.total is not None
    assert result.total.indicated == pytest.approx(reactive, abs=1e-6)

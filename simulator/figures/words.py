"""Numbers and names as figures write them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.formatting import format_quantity
from simulator.phasors import angle_deg, wrap_deg

if TYPE_CHECKING:
    from simulator.findings.result import Result
    from simulator.metering.readings import Reading
    from simulator.quantities import Unit


def printable(text: str) -> str:
    """Take what no file format can hold out of a text.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The text on one line, a blank for each control character.
    """
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def shortened(name: str, longest: int = 22) -> str:
    """Shorten a name that is too long for a label.

    Parameters
    ----------
    name : str
        The name.
    longest : int, optional
        The most characters a label has room for.

    Returns
    -------
    str
        The name, its end replaced by "…" where it is longer.
    """
    return name if len(name) <= longest else f"{name[: longest - 1]}…"


def quantity(value: float, unit: Unit, digits: int = 4) -> str:
    """Write a quantity.

    Parameters
    ----------
    value : float
        The value [unit].
    unit : Unit
        Its unit.
    digits : int, optional
        Significant digits.

    Returns
    -------
    str
        For example "−868.6 W".
    """
    return format_quantity(value, unit, digits).replace("-", "−")


def degrees(angle: float, places: int = 1) -> str:
    """Write an angle.

    Parameters
    ----------
    angle : float
        The angle [deg].
    places : int, optional
        How many decimal places.

    Returns
    -------
    str
        For example "−36.9°".
    """
    return f"{angle:z.{places}f}°".replace("-", "−")


def power_factor(angle: float) -> str:
    """Write the power factor of an angle.

    Parameters
    ----------
    angle : float
        Angle, positive for lag [deg]; NaN where there is none.

    Returns
    -------
    str
        For example "power factor 0.8 lag".
    """
    if math.isnan(angle) or abs(angle) < 0.05:
        return "power factor 1"
    value = math.cos(math.radians(angle)) + 0.0
    return f"power factor {value:.3g} {'lag' if angle > 0 else 'lead'}"


def phasor(value: complex, unit: Unit) -> str:
    """Write a phasor in polar form.

    Parameters
    ----------
    value : complex
        The phasor, rms [unit].
    unit : Unit
        Its unit.

    Returns
    -------
    str
        For example "230.9 V ∠−120.0°"; the bare zero where there is none.
    """
    if value == 0:
        return f"0 {unit}"
    return f"{quantity(abs(value), unit)} ∠{degrees(float(angle_deg(value)))}"


def angle_between(reading: Reading) -> float:
    """Give the angle from a wattmeter's current to its voltage.

    Parameters
    ----------
    reading : Reading
        What it reads.

    Returns
    -------
    float
        The angle [deg] in (−180, 180]; NaN where one of the two is zero.
    """
    if reading.voltage == 0 or reading.current == 0:
        return math.nan
    return float(wrap_deg(angle_deg(reading.voltage) - angle_deg(reading.current)))


def circumstances(result: Result) -> str:
    """Say on what kind of supply, and how, is measured.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    str
        For example "3 wires, 50 Hz, sequence L1-L2-L3, two wattmeters".
    """
    measurement = result.measurement
    parts = [
        f"{measurement.conductors.wires} wires",
        f"{measurement.supply.frequency:g} Hz",
        f"sequence {sequence(result)}",
    ]
    return ", ".join(parts + ([measurement.method] if measurement.method else []))


def sequence(result: Result) -> str:
    """Give the order in which the lines peak.

    Parameters
    ----------
    result : Result
        The result.

    Returns
    -------
    str
        For example "L1-L2-L3".
    """
    supply, conductors = result.measurement.supply, result.measurement.conductors
    return "-".join(conductors.lines[:: supply.sequence])

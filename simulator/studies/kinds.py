"""Kinds of quantities: how a value is written, which values are possible, how it is shown.

A value is a number in the unit shown: ohm, V, %, degrees. An impedance or a phasor is complex; a
power factor is negative for lead (−0.0 being 0 lead).
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Annotated, Any

import numpy as np
from pydantic import TypeAdapter, ValidationError

from simulator import formatting, quantities
from simulator.errors import QuantityError
from simulator.scenario import fields

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    Array = npt.NDArray[Any]
    Bool = npt.NDArray[np.bool_]

Value = complex | float


@dataclass(frozen=True)
class Kind:
    """A kind of quantity.

    Attributes
    ----------
    name : str
        Its name, which stands for it in other processes.
    unit : str
        The unit it is shown in; empty for a plain number.
    wanted : str
        What a value must be, in words.
    read : callable
        From a text to the value.
    possible : callable
        From an array of values to which of them are possible.
    write : callable
        From a value to a text that a person reads.
    stored : callable
        From a value, or an array of values, to what a table of the scenario holds.
    is_complex : bool
        Whether values may be complex.
    """

    name: str
    unit: str
    wanted: str
    read: Callable[[object], Any]
    possible: Callable[[Array], Bool]
    write: Callable[[Any], str]
    stored: Callable[[Any], Any] = field(default=lambda value: value)
    is_complex: bool = False

    def __reduce__(self) -> tuple[Any, ...]:
        return _named, (self.name,)  # its functions cannot travel


def _named(name: str) -> Kind:
    return KINDS[name]


def _as_file(annotation: Any) -> Callable[[object], Any]:
    """Read a value exactly as the scenario file does."""
    adapter = TypeAdapter(annotation)

    def read(given: object) -> Any:
        try:
            return adapter.validate_python(given)
        except ValidationError as error:
            raise QuantityError(str(error.errors()[0]["ctx"]["error"])) from error

    return read


def _percent(given: object) -> float:
    return 100 * quantities.parse_percent(given)


def _signed_power_factor(given: object) -> float:
    factor = quantities.parse_power_factor(given)
    return -factor.value if factor.sense == "lead" else factor.value


def power_factor_text(value: float) -> str:
    """Write a power factor with its sense.

    Parameters
    ----------
    value : float
        The power factor, negative for lead.

    Returns
    -------
    str
        For example "0.8 lag".
    """
    if abs(value) == 1:
        return "1"
    return f"{abs(value):.6g} {'lead' if np.signbit(value) else 'lag'}"


def _number(given: object) -> float:
    try:
        value = float(given)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        value = math.nan
    if not math.isfinite(value):
        raise QuantityError(f"expected a number, for example '0.022', got {given!r}"[:200])
    return value


def _with_sense(value: Any) -> quantities.PowerFactor:
    lead = np.signbit(value)
    if lead.any() != lead.all():
        raise TypeError("power factors of either sense need a table for each")
    return quantities.PowerFactor(abs(value), "lead" if lead.all() else "lag")


def angle_of_power_factor(values: Array) -> Array:
    """Turn power factors into angles.

    Parameters
    ----------
    values : ndarray of float, any shape
        Power factors, negative for lead.

    Returns
    -------
    ndarray of float, the same shape
        Angles, positive for lag [rad].
    """
    return np.copysign(np.arccos(np.minimum(np.abs(values), 1)), values)


def _finite(values: Array) -> Bool:
    return np.asarray(np.isfinite(values))


def _not_negative(values: Array) -> Bool:
    return np.asarray(values.real >= 0)


def _positive(values: Array) -> Bool:
    return np.asarray(np.isfinite(values) & (values.real > 0))


def _real(unit: Any, annotation: Any, wanted: str, possible: Callable[[Array], Bool]) -> Kind:
    """Describe a real quantity that is read as the file reads it."""
    return Kind(
        name=f"{wanted} [{unit}]",
        unit=unit,
        wanted=wanted,
        read=_as_file(annotation),
        possible=possible,
        write=lambda value: formatting.format_quantity(float(value), unit, 6),
    )


def _impedance(name: str, annotation: Any, wanted: str, possible: Callable[[Array], Bool]) -> Kind:
    return Kind(
        name=name,
        unit="ohm",
        wanted=wanted,
        read=_as_file(annotation),
        possible=possible,
        write=lambda value: formatting.format_impedance(complex(value), 6),
        is_complex=True,
    )


def _in_degrees(name: str, wanted: str, possible: Callable[[Array], Bool]) -> Kind:
    return Kind(
        name=name,
        unit="deg",
        wanted=wanted,
        read=quantities.parse_angle,
        possible=possible,
        write=lambda value: f"{value:.6g} deg",
    )


_NO_NEGATIVE = "an impedance without negative resistance"
PASSIVE = _impedance("impedance", fields.PassiveImpedance, _NO_NEGATIVE, _not_negative)
CLOSED = _impedance(
    "closed impedance",
    fields.ClosedImpedance,
    f"{_NO_NEGATIVE}, not open",
    lambda values: np.isfinite(values) & (values.real >= 0),
)
NONZERO = _impedance(
    "impedance above zero",
    fields.NonzeroImpedance,
    f"{_NO_NEGATIVE}, above zero",
    lambda values: (values.real >= 0) & (values != 0),
)
ACTIVE = _impedance(
    "active impedance", fields.AnyImpedance, "an impedance", lambda values: ~np.isnan(values)
)
VOLTAGE_CIRCUIT = Kind(
    "voltage circuit",
    "ohm",
    "an impedance with a resistance above zero",
    _as_file(fields.VoltageCircuit),
    lambda values: np.asarray(values.real > 0),
    PASSIVE.write,
    lambda value: (value, 0.0),
    is_complex=True,
)
COMPENSATED_CIRCUIT = replace(
    VOLTAGE_CIRCUIT,
    name="compensated voltage circuit",
    wanted="an impedance with a resistance above zero, not open",
    possible=lambda values: np.isfinite(values) & (values.real > 0),
)
VOLTAGE = _real("V", fields.Voltage, "a voltage above zero", _positive)
PHASOR = Kind(
    "phasor",
    "V",
    "a voltage",
    _as_file(fields.VoltagePhasor),
    _finite,
    lambda value: formatting.format_phasor(complex(value), "V", 6),
    is_complex=True,
)
FREQUENCY = _real("Hz", fields.Frequency, "a frequency above zero", _positive)
CURRENT = _real("A", fields.Current, "a current above zero", _positive)
ACTIVE_POWER = _real("W", fields.ActivePower, "a power of at least zero", _not_negative)
APPARENT_POWER = _real("VA", fields.ApparentPower, "a power of at least zero", _not_negative)
REACTIVE_POWER = _real("var", fields.ReactivePower, "a reactive power", _finite)
RESISTANCE = _real("ohm", fields.Resistance, "a resistance", _finite)
REACTANCE = _real("ohm", fields.Reactance, "at least zero", _not_negative)
SOME_OHMS = _real(
    "ohm",
    Annotated[float, *fields.text_by(fields.positive("ohm"), "26.3 ohm")],
    "above zero",
    _positive,
)
INDUCTANCE = _real("H", fields.Inductance, "an inductance of at least zero", _not_negative)
CAPACITANCE = _real("F", fields.Capacitance, "a capacitance above zero", _positive)
POWER_FACTOR = Kind(
    "power factor",
    "",
    "a power factor from 0 to 1",
    _signed_power_factor,
    lambda values: np.abs(values) <= 1,
    power_factor_text,
    _with_sense,
)
ANGLE = _in_degrees(
    "angle of a load", "an angle from -90 to 90 deg", lambda values: np.abs(values) <= 90
)
DISPLACEMENT = _in_degrees("displacement", "an angle", _finite)
ERROR = Kind(
    "error",
    "%",
    "a percentage",
    _percent,
    _finite,
    lambda value: f"{value:.6g} %",
    lambda value: value / 100,
)
UNBALANCE = replace(
    ERROR,
    name="unbalance",
    wanted="a percentage above -100 %",
    possible=lambda values: np.isfinite(values) & (values > -100),
)
SLIP = Kind(
    "slip",
    "",
    "a slip from 0 to 2",
    _number,
    lambda values: (values >= 0) & (values <= 2),
    lambda value: f"{value:.6g}",
)
ACTIVE_SLIP = Kind("active slip", "", "a slip", _number, _finite, SLIP.write)

KINDS: dict[str, Kind] = {
    kind.name: kind for kind in list(globals().values()) if isinstance(kind, Kind)
}
"""All kinds by name."""


def direction_of(value: Value) -> complex:
    """Give the direction of a phasor or an impedance.

    Parameters
    ----------
    value : complex or float
        The value.

    Returns
    -------
    complex
        A number of magnitude 1; 1 for zero.
    """
    return cmath.rect(1, cmath.phase(value)) if value else 1 + 0j

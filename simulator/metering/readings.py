"""From the phasors of a solved network to what each meter shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simulator.metering.arrangement import WiredArrangement
    from simulator.metering.meters import Wattmeter
    from simulator.network.nodal import Solution

# A reading smaller than this part of |V||I| is shown as zero.
ZERO = 1e-9


@dataclass(frozen=True)
class Reading:
    """What a wattmeter shows.

    Attributes
    ----------
    meter : Wattmeter
        The wattmeter.
    watts : float
        Its reading, referred to the primary of its transformers [W].
    at_instrument : float
        What the instrument itself shows [W].
    voltage : complex
        Voltage its voltage circuit feels, as connected, rms [V].
    current : complex
        Current its current circuit feels, as connected, rms [A]; of a compensated wattmeter
        without what its voltage circuit draws.
    """

    meter: Wattmeter
    watts: float
    at_instrument: float
    voltage: complex
    current: complex

    @property
    def name(self) -> str:
        """Name of the wattmeter."""
        return self.meter.name

    @property
    def direction(self) -> str:
        """Which way the pointer goes: upscale, downscale or zero."""
        if abs(self.at_instrument) <= ZERO * abs(self.voltage) * abs(self.current):
            return "zero"
        return "upscale" if self.at_instrument > 0 else "downscale"

    @property
    def deflection(self) -> float | None:
        """Divisions its pointer shows; None unless ranges and divisions are known."""
        constant = self.meter.instrument.watts_per_division
        return None if constant is None else self.at_instrument / constant


def wattmeter_reading(
    voltage: complex, current: complex, voltage_factor: complex, ratio: float
) -> tuple[float, float]:
    """Form a wattmeter's reading from what its circuits feel.

    Parameters
    ----------
    voltage : complex
        Voltage at the voltage circuit, rms [V].
    current : complex
        Current in the current circuit, rms [A].
    voltage_factor : complex
        The instrument's factor on the voltage, see `Instrument.voltage_factor`.
    ratio : float
        Product of its transformers' ratios.

    Returns
    -------
    watts : float
        Reading referred to the primary [W].
    at_instrument : float
        Reading at the instrument [W].
    """
    shown = float((voltage_factor * voltage * current.conjugate()).real) + 0.0  # never "-0.0"
    return ratio * shown, shown


def felt_voltage(meter: Wattmeter, wired: WiredArrangement, solution: Solution) -> complex:
    """Give the voltage that reaches a wattmeter, through its transformer if it has one.

    Parameters
    ----------
    meter : Wattmeter
        The wattmeter.
    wired : WiredArrangement
        The network it is in.
    solution : Solution
        Its phasors.

    Returns
    -------
    complex
        The voltage, before its voltage circuit is perhaps reversed, rms [V].
    """
    place = wired.wired[meter.name]
    assert place.ends is not None  # noqa: S101  (every wattmeter has a voltage circuit)
    transformer = meter.voltage_transformer
    if transformer is None:
        return solution.voltage(*place.ends)
    if place.felt is None:
        return solution.voltage(*place.ends) * transformer.error_factor / transformer.ratio
    return solution.voltage(*place.felt) * transformer.error_factor


def read_wattmeter(meter: Wattmeter, wired: WiredArrangement, solution: Solution) -> Reading:
    """Read one wattmeter in a solved network.

    Parameters
    ----------
    meter : Wattmeter
        The wattmeter.
    wired : WiredArrangement
        The network it is in.
    solution : Solution
        Its phasors.

    Returns
    -------
    Reading
        The reading.
    """
    place = wired.wired[meter.name]
    current = sum(
        w.sign * solution.current(element)
        for w, element in zip(meter.windings, place.current_circuits, strict=True)
    )
    voltage = felt_voltage(meter, wired, solution)
    if meter.current_transformer:
        current *= meter.current_transformer.error_factor
    current *= -1 if meter.current_reversed else 1
    voltage *= -1 if meter.voltage_reversed else 1
    if meter.instrument.compensated:
        current -= voltage / meter.instrument.voltage_circuit
    voltage, current = solution.rounded_voltage(voltage), solution.rounded_current(current)
    watts, shown = wattmeter_reading(voltage, current, meter.instrument.voltage_factor, meter.ratio)
    return Reading(meter, watts, shown, voltage, current)

"""What each transformer of a wattmeter carries, and with which errors, in a solved network."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.metering.accuracy import (
    Kind,
    TransformerLimits,
    current_transformer_limits,
    voltage_transformer_limits,
)
from simulator.metering.readings import felt_voltage
from simulator.phasors import angle_deg

if TYPE_CHECKING:
    from simulator.installation.transformers import InstrumentTransformer
    from simulator.metering.arrangement import WiredArrangement
    from simulator.metering.meters import Wattmeter
    from simulator.network.nodal import Solution


@dataclass(frozen=True)
class TransformerUse:
    """One transformer in use.

    Attributes
    ----------
    transformer : InstrumentTransformer
        What it is.
    kind : {'current', 'voltage'}
        Which circuit it feeds.
    meter : str
        The wattmeter it feeds.
    conductor : str
        The conductor it is in; empty for a voltage transformer.
    primary : complex
        Primary current [A] or voltage [V], rms.
    secondary : complex
        What reaches the meter, with the errors it has, rms [A] or [V].
    burden : float or None
        What is connected at the rated secondary current or voltage [VA].
    """

    transformer: InstrumentTransformer
    kind: Kind
    meter: str
    conductor: str
    primary: complex
    secondary: complex
    burden: float | None

    @property
    def percent_of_rated(self) -> float | None:
        """Primary quantity in percent of the rated one."""
        rated = self.transformer.rated_primary
        return None if rated is None else 100 * abs(self.primary) / rated

    @property
    def ratio_error(self) -> float | None:
        """Ratio error as a fraction, up to the meter; None without a primary quantity."""
        if not self.primary:
            return None
        return self.transformer.ratio * abs(self.secondary) / abs(self.primary) - 1

    @property
    def phase_displacement(self) -> float | None:
        """Phase displacement [deg], up to the meter; None where either phasor is zero."""
        if not (self.primary and self.secondary):
            return None
        return float(angle_deg(self.secondary / self.primary))

    @property
    def limits(self) -> TransformerLimits | None:
        """Limits of its accuracy class at this primary quantity; None without a class."""
        percent, name = self.percent_of_rated, self.transformer.accuracy_class
        if percent is None or name is None:
            return None
        of = current_transformer_limits if self.kind == "current" else voltage_transformer_limits
        return of(name, percent)

    @property
    def burden_percent(self) -> float | None:
        """What is connected, in percent of the rated burden."""
        rated = self.transformer.rated_burden
        return None if rated is None or self.burden is None else 100 * self.burden / rated


def transformers_in_use(
    meter: Wattmeter, wired: WiredArrangement, solution: Solution
) -> tuple[TransformerUse, ...]:
    """Find what each transformer of a wattmeter carries.

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
    tuple of TransformerUse
        A current transformer for each winding of the current circuit, then a voltage transformer.
    """
    found = []
    if meter.current_transformer:
        found += [_current(meter, k, wired, solution) for k in range(len(meter.windings))]
    if meter.voltage_transformer:
        found.append(_voltage(meter, wired, solution))
    return tuple(found)


def _current(
    meter: Wattmeter, k: int, wired: WiredArrangement, solution: Solution
) -> TransformerUse:
    transformer = meter.current_transformer
    assert transformer is not None  # noqa: S101  (asked for only where there is one)
    conductor = meter.windings[k].conductor
    primary = solution.current(f"current transformer of {meter.name} in {conductor}")
    secondary = solution.current(wired.wired[meter.name].current_circuits[k])
    loop = meter.instrument.current_circuit + transformer.leads + (transformer.burden or 0)
    rated = transformer.rated_secondary
    return TransformerUse(
        transformer,
        "current",
        meter.name,
        conductor,
        solution.rounded_current(primary),
        solution.rounded_current(secondary * transformer.error_factor),
        None if rated is None else abs(loop) * rated**2,
    )


def _voltage(meter: Wattmeter, wired: WiredArrangement, solution: Solution) -> TransformerUse:
    transformer, ends = meter.voltage_transformer, wired.wired[meter.name].ends
    assert transformer is not None  # noqa: S101  (asked for only where there is one)
    assert ends is not None  # noqa: S101  (every wattmeter has a voltage circuit)
    admittance = 1 / (meter.instrument.voltage_circuit + transformer.leads)
    if transformer.burden is not None:
        admittance += 1 / transformer.burden
    rated = transformer.rated_secondary
    return TransformerUse(
        transformer,
        "voltage",
        meter.name,
        "",
        solution.rounded_voltage(solution.voltage(*ends)),
        solution.rounded_voltage(felt_voltage(meter, wired, solution)),
        None if rated is None else abs(admittance) * rated**2,
    )

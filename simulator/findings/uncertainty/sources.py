"""Where the uncertainty of a scenario comes from: accuracy classes, and tolerances given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.errors import ScenarioError
from simulator.findings.error_terms import read_at
from simulator.findings.uncertainty.inputs import (
    Deviation,
    Distribution,
    Effect,
    Input,
    InputList,
    PhasorErrors,
)
from simulator.findings.uncertainty.targets import (
    ChannelTarget,
    ElementTarget,
    find_target,
    targets,
)
from simulator.findings.uncertainty.units import Units, units_of
from simulator.metering.instruments import Kind
from simulator.metering.transformer_use import transformers_in_use
from simulator.scenario.words import near, shown

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from simulator.findings.result import Result
    from simulator.findings.station import Station
    from simulator.findings.uncertainty.inputs import Tolerance
    from simulator.metering.accuracy import TransformerLimits
    from simulator.metering.meters import Wattmeter
    from simulator.metering.transformer_use import TransformerUse


@dataclass(frozen=True)
class MeterErrors:
    """What is uncertain between the network and a reading.

    Attributes
    ----------
    currents : tuple of PhasorErrors
        For each winding, its current transformer.
    voltage : PhasorErrors
        The voltage transformer.
    channels : PhasorErrors
        Gain and angle of an electronic instrument.
    offset : tuple of Effect
        Intrinsic error of the instrument [W at the instrument].
    """

    currents: tuple[PhasorErrors, ...]
    voltage: PhasorErrors
    channels: PhasorErrors
    offset: Deviation


@dataclass(frozen=True)
class Sources:
    """All that is uncertain in a scenario.

    Attributes
    ----------
    inputs : tuple of Input
        Input quantities.
    meters : dict of str to MeterErrors
        What they do to each reading.
    elements : dict of str to tuple of PhasorErrors
        What they do to elements of the network: factors.
    notes : tuple of str
        What was assumed or could not be counted.
    """

    inputs: tuple[Input, ...]
    meters: dict[str, MeterErrors]
    elements: dict[str, tuple[PhasorErrors, ...]]
    notes: tuple[str, ...]


def sources_of(
    result: Result,
    instruments: Sequence[str | None],
    tolerances: Mapping[str, Tolerance],
    shared: Collection[str] = (),
) -> Sources:
    """Collect what is uncertain in a scenario.

    Parameters
    ----------
    result : Result
        The solved scenario.
    instruments : sequence of str or None
        Name of the instrument of each wattmeter.
    tolerances : mapping of str to Tolerance
        By quantity; one of an error with a class limit replaces that limit.
    shared : collection of str, optional
        Instruments and transformers of which there is only one.

    Returns
    -------
    Sources
        Inputs and their effects.

    Raises
    ------
    ScenarioError
        If a name or a quantity is unknown, or a tolerance does not fit it.
    """
    _check_names(result, instruments, shared)
    _check_kinds(result, instruments, tolerances)
    units = units_of(result.measurement.wattmeters, instruments, shared)
    known = targets(result, instruments, units)
    collected = InputList()
    channels: dict[tuple[str, str], Tolerance] = {}
    elements: dict[str, tuple[PhasorErrors, ...]] = {}
    for path, tolerance in tolerances.items():
        target = find_target(path, known)
        if isinstance(target, ChannelTarget):
            _check_channel(path, target, tolerance)
            channels[target.name, target.channel] = tolerance
        else:
            _vary(target, tolerance, path, collected, elements)
    names = dict(zip(units, instruments, strict=True))
    meters = {}
    for station, meter in read_at(result.stations):
        collector = _MeterCollector(collected, channels, units[meter.name], names[meter.name])
        meters[meter.name] = collector.errors(meter, station)
    return Sources(tuple(collected.inputs), meters, elements, tuple(collected.notes))


def _check_names(
    result: Result, instruments: Sequence[str | None], shared: Collection[str]
) -> None:
    meters = result.measurement.wattmeters
    transformers = [t for m in meters for t in (m.current_transformer, m.voltage_transformer)]
    known = {name for name in instruments if name} | {t.name for t in transformers if t}
    for name in shared:
        if name not in known:
            raise ScenarioError(
                f"no wattmeter has an instrument or a transformer {shown(name)} that could be one "
                f"unit for several readings; {near(name, sorted(known))}"
            )


def _check_channel(path: str, target: ChannelTarget, tolerance: Tolerance) -> None:
    turns = target.channel in ("phase_error", "phase_displacement")
    fits = (tolerance.angle if turns else tolerance.relative) > 0
    stranger = tolerance.relative if turns else tolerance.angle
    if not fits or stranger:
        expected = "an angle, such as 10 min" if turns else "a percentage, such as 0.5 %"
        raise ScenarioError(f"expected the tolerance to be {expected}", path)


def _check_kinds(
    result: Result,
    instruments: Sequence[str | None],
    tolerances: Mapping[str, Tolerance],
) -> None:
    for meter, name in zip(result.measurement.wattmeters, instruments, strict=True):
        for channel in ("gain_error", "phase_error"):
            path = f"instrument {name}: {channel}"
            if path in tolerances and meter.instrument.kind is Kind.ELECTRODYNAMIC:
                raise ScenarioError(
                    'gain_error and phase_error describe an instrument with kind = "electronic"',
                    path,
                )


def _vary(
    target: ElementTarget,
    tolerance: Tolerance,
    path: str,
    collected: InputList,
    elements: dict[str, tuple[PhasorErrors, ...]],
) -> None:
    """Let elements deviate, each group by one size and one angle."""
    if tolerance.distribution is Distribution.RECTANGULAR and tolerance.relative >= 1:
        raise ScenarioError("expected a tolerance below 100 %", path)
    for label, names in target.groups.items():
        if any(known.name.removeprefix("angle of ") == label for known in collected.inputs):
            raise ScenarioError(f"the tolerance of '{label}' is given twice", path)
        size: Deviation = ()
        angle: Deviation = ()
        if tolerance.relative:
            new = Input(label, tolerance.distribution, 100 * tolerance.relative, "%")
            size = (Effect(collected.add(new), tolerance.relative),)
        if tolerance.angle:
            new = Input(f"angle of {label}", tolerance.distribution, tolerance.angle, "°")
            angle = (Effect(collected.add(new), tolerance.angle),)
        for name in names:
            elements[name] = (*elements.get(name, ()), PhasorErrors(size, angle))


@dataclass
class _MeterCollector:
    """Collects what is uncertain between the network and one reading."""

    collected: InputList
    channels: Mapping[tuple[str, str], Tolerance]
    units: Units
    instrument: str | None

    def errors(self, meter: Wattmeter, station: Station) -> MeterErrors:
        uses = transformers_in_use(meter, station.wired, station.solution)
        currents = [use for use in uses if use.kind == "current"]
        pairs = zip(currents, self.units.current_transformers, strict=True)
        voltage = next((use for use in uses if use.kind == "voltage"), None)
        return MeterErrors(
            tuple(self._transformer(use, unit) for use, unit in pairs)
            or (PhasorErrors(),) * len(meter.windings),
            PhasorErrors()
            if voltage is None
            else self._transformer(voltage, self.units.voltage_transformer),
            PhasorErrors(self._channel("gain_error"), self._channel("phase_error")),
            self._offset(meter),
        )

    def _offset(self, meter: Wattmeter) -> Deviation:
        limit, instrument = meter.instrument.class_limit, meter.instrument
        if limit is None:
            if instrument.accuracy_class is not None:
                self.collected.note(
                    f"The accuracy class of the instrument '{self.instrument}' is not counted: "
                    "it refers to the full scale, and current_range or voltage_range is not given."
                )
            return ()
        name = f"accuracy class {instrument.accuracy_class:g} of {self.units.instrument}"
        return (Effect(self._rectangular(name, meter.ratio * limit, "W"), limit),)

    def _rectangular(self, name: str, size: float, unit: str) -> int:
        return self.collected.add(Input(name, Distribution.RECTANGULAR, size, unit))

    def _channel(self, channel: str) -> Deviation:
        tolerance = self.channels.get((self.instrument or "", channel))
        if tolerance is None:
            return ()
        return self._given(f"{channel.replace('_', ' ')} of {self.units.instrument}", tolerance)

    def _given(self, name: str, tolerance: Tolerance) -> Deviation:
        size, unit = (tolerance.angle, "°") if tolerance.angle else (100 * tolerance.relative, "%")
        index = self.collected.add(Input(name, tolerance.distribution, size, unit))
        return (Effect(index, tolerance.angle or tolerance.relative),)

    def _transformer(self, use: TransformerUse, unit: str) -> PhasorErrors:
        """Take what was given, and else the limits of the class, for each of the two errors."""
        transformer, limits = use.transformer, use.limits
        ratio = self.channels.get((transformer.name, "ratio_error"))
        turn = self.channels.get((transformer.name, "phase_displacement"))
        ratio_name, turn_name = f"ratio error of {unit}", f"phase displacement of {unit}"
        size: Deviation = ()
        angle: Deviation = ()
        if limits is not None and not (ratio and turn):
            self._say(use, limits)
        elif transformer.accuracy_class is not None and limits is None:
            self.collected.note(
                f"The accuracy class of '{transformer.name}' is not counted: its rated current "
                "or voltage is not known."
            )
        if ratio:
            size = self._given(ratio_name, ratio)
        elif limits is not None:
            a = limits.ratio_error
            index = self._rectangular(ratio_name, 100 * a, "%")
            size = (Effect(index, a),)
            if limits.skew:
                angle = (Effect(index, limits.skew * a),)
        if turn:
            angle = self._given(turn_name, turn)
        elif limits is not None and limits.phase_displacement is not None:
            a = limits.phase_displacement
            angle += (Effect(self._rectangular(turn_name, a, "°"), a),)
        return PhasorErrors(size, angle)

    def _say(self, use: TransformerUse, limits: TransformerLimits) -> None:
        """Note where the limits of a class come from, and what they leave open."""
        transformer, note = use.transformer, self.collected.note
        name = f"class {transformer.accuracy_class}"
        note(f"Limits of {name}: {limits.source} ({limits.confidence}).")
        if limits.assumption:
            note(f"{limits.assumption[0].upper()}{limits.assumption[1:]}.")
        if limits.phase_displacement is None:
            note(
                f"No limit of {name} holds for the phase displacement of '{transformer.name}', so "
                "it is not counted: it may make any power wrong."
            )

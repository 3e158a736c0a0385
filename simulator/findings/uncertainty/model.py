"""The measurement model: from deviations of the inputs to readings, total, Q and power factor.

Meters and transformers change phasors after the network is solved; only where elements of the
network deviate is it solved again for each case.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from simulator.findings.balanced import ROOT3, two_wattmeters
from simulator.findings.error_terms import read_at
from simulator.findings.uncertainty.inputs import deviation
from simulator.findings.uncertainty.network import DeviatingNetwork
from simulator.installation.conductors import SUPPLY_STAR_POINT
from simulator.metering.instruments import Kind
from simulator.network.residual import NEGLIGIBLE
from simulator.phasors import wrap_deg

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from simulator.findings.result import Result
    from simulator.findings.station import Station
    from simulator.findings.uncertainty.network import Wanted
    from simulator.findings.uncertainty.sources import MeterErrors, Sources
    from simulator.installation.loads import Load
    from simulator.metering.meters import Wattmeter
    from simulator.phasors import ComplexArray, FloatArray

    Phasors = Mapping[Wanted, ComplexArray]


class Quantity(StrEnum):
    """Kinds of output quantities."""

    READING = "reading"
    TOTAL = "total"
    ERROR = "error"
    REACTIVE = "reactive power"
    ANGLE = "angle"
    POWER_FACTOR = "power factor"


@dataclass(frozen=True)
class Output:
    """An output quantity.

    Attributes
    ----------
    name : str
        What it is.
    kind : Quantity
        Which kind.
    unit : str
        W, var, ° or nothing.
    """

    name: str
    kind: Quantity
    unit: str


@dataclass(frozen=True)
class Model:
    """How the outputs follow from the inputs.

    Attributes
    ----------
    result : Result
        The solved scenario, which stands for no deviations.
    sources : Sources
        What is uncertain, and what it does.
    pair : tuple of str or None
        Readings in the line before and in the line after a common line, where Q and the power
        factor follow from them.
    """

    result: Result
    sources: Sources
    pair: tuple[str, str] | None = None

    @cached_property
    def outputs(self) -> tuple[Output, ...]:
        """The output quantities, in the order of the rows of `evaluate`."""
        found = [Output(name, Quantity.READING, "W") for name in self.result.readings]
        total = self.result.total
        if total:
            found.append(Output("total", Quantity.TOTAL, total.unit))
            found.append(Output("error of the total", Quantity.ERROR, total.unit))
        if self.pair:
            found.append(Output("reactive power", Quantity.REACTIVE, "var"))
            found.append(Output("angle φ", Quantity.ANGLE, "°"))
            found.append(Output("power factor", Quantity.POWER_FACTOR, ""))
        return tuple(found)

    def evaluate(self, z: FloatArray) -> FloatArray:
        """Compute the outputs.

        Parameters
        ----------
        z : ndarray of float, shape (n_inputs, n)
            Deviations of the inputs, one case in each column.

        Returns
        -------
        ndarray of float, shape (n_outputs, n)
            Values of the outputs.

        Raises
        ------
        NetworkError
            If the network has no solution in a case.
        """
        at = {s.number: self._solve(s, z) for s in self.result.stations}
        readings = {
            meter.name: self._read(meter, station, at[station.number], z)
            for station, meter in read_at(self.result.stations)
        }
        total = self.result.measurement.total
        powers = [readings[name] for name in self.result.readings]
        if total:
            none = np.zeros(z.shape[1])
            indicated = sum((c * readings[n] for n, c in total.coefficients.items()), none)
            true = np.mean([self._true(s, at[s.number], z) for s in self.result.stations], axis=0)
            powers += [indicated, indicated - (true.imag if total.reactive else true.real)]
        rounding = NEGLIGIBLE * self.result.first.plane.apparent.arithmetic
        rows = [np.where(np.abs(power) > rounding, power, 0.0) for power in powers]
        if self.pair:
            rows += self._balanced(*(readings[name] for name in self.pair))
        return np.array(rows)

    def _factors(self, names: Iterable[str], z: FloatArray) -> dict[str, ComplexArray]:
        """Multiply up what the impedance or emf of elements is multiplied by."""
        factors = {}
        for name in names:
            if name in self.sources.elements:
                each = [errors.factor(z) for errors in self.sources.elements[name]]
                factors[name] = np.asarray(np.prod(each, axis=0))
        return factors

    def _solve(self, station: Station, z: FloatArray) -> Phasors:
        solution, network = station.solution, self._networks[station.number]
        if network:
            factors = self._factors(self.sources.elements, z)
            ones = np.ones(z.shape[1])
            spread = {name: factor * ones for name, factor in factors.items()}
            return dict(zip(self._wanted[station.number], network.phasors(spread), strict=True))
        return {
            what: np.array(
                [solution.current(what) if isinstance(what, str) else solution.voltage(*what)]
            )
            for what in self._wanted[station.number]
        }

    @cached_property
    def _networks(self) -> dict[int | None, DeviatingNetwork | None]:
        """Networks of the stations in which something deviates."""
        found: dict[int | None, DeviatingNetwork | None] = {}
        for station in self.result.stations:
            netlist, wanted = station.wired.netlist, self._wanted[station.number]
            names = [e.name for e in netlist.elements if e.name in self.sources.elements]
            found[station.number] = DeviatingNetwork(netlist, names, wanted) if names else None
        return found

    @cached_property
    def _wanted(self) -> dict[int | None, list[Wanted]]:
        found: dict[int | None, list[Wanted]] = {}
        for station in self.result.stations:
            wanted: list[Wanted] = []
            for meter in station.arrangement.wattmeters:
                wanted += station.wired.wired[meter.name].current_circuits
                wanted.append(_voltage_ends(meter, station))
            for load in station.arrangement.loads:
                wanted += [load.element_name(branch.name) for branch in load.branches]
                if load.motor:
                    wanted += _motor_ends(load, station)
            found[station.number] = wanted
        return found

    def _read(
        self, meter: Wattmeter, station: Station, phasors: Phasors, z: FloatArray
    ) -> FloatArray:
        """Read a wattmeter as `simulator.metering.readings` does, with its errors."""
        errors: MeterErrors = self.sources.meters[meter.name]
        place, instrument = station.wired.wired[meter.name], meter.instrument
        ct, vt = meter.current_transformer, meter.voltage_transformer
        stated = (1 + ct.ratio_error, ct.phase_displacement) if ct else (1.0, 0.0)
        I = np.zeros(1, np.complex128)
        for winding, element, own in zip(
            meter.windings, place.current_circuits, errors.currents, strict=True
        ):
            I = I + winding.sign * phasors[element] * own.factor(z, *stated)
        V = phasors[_voltage_ends(meter, station)]
        if vt:
            V = V * errors.voltage.factor(z, 1 + vt.ratio_error, vt.phase_displacement)
            V = V if place.felt else V / vt.ratio
        I = -I if meter.current_reversed else I
        V = -V if meter.voltage_reversed else V
        circuit = self._factors([f"voltage circuit of {meter.name}"], z)
        varied = next(iter(circuit.values()), np.ones(1))
        if instrument.compensated:
            I = I - V / (instrument.voltage_circuit * varied)
        # an electrodynamic one's pointer follows the current in the voltage circuit
        factor = np.asarray(instrument.voltage_factor / varied)
        if instrument.kind is Kind.ELECTRONIC:
            gain, angle = 1 + instrument.gain_error, instrument.phase_error
            factor = errors.channels.factor(z, gain, angle)
        offset = deviation(errors.offset, z)
        return np.asarray(meter.ratio * ((factor * V * I.conj()).real + offset))

    def _true(self, station: Station, phasors: Phasors, z: FloatArray) -> ComplexArray:
        """Add up the complex power of the loads."""
        total = np.zeros(z.shape[1], np.complex128)
        for load in station.arrangement.loads:
            names = [load.element_name(branch.name) for branch in load.branches]
            factors = self._factors([*names, load.element_name("")], z)
            for name, branch in zip(names, load.branches, strict=True):
                if not math.isinf(branch.impedance.real):
                    Z = branch.impedance * factors.get(name, np.ones(1))
                    total += Z * np.abs(phasors[name]) ** 2
            if load.motor:
                V = np.array([phasors[ends] for ends in _motor_ends(load, station)])
                Y = load.motor.admittance(station.arrangement.supply.sequence)
                factor = factors.get(load.element_name(""), np.ones(1))
                total += (V * ((Y @ V) / factor).conj()).sum(axis=0)
        return total

    def _balanced(self, before: FloatArray, after: FloatArray) -> list[FloatArray]:
        """Form Q, φ and power factor of a balanced load, as `findings.balanced` does."""
        P = before + after
        Q = ROOT3 * self.result.measurement.supply.sequence * (after - before)
        here = self._phi
        phi = here + wrap_deg(np.degrees(np.arctan2(Q, P)) - here)  # no jump at ±180°
        return [Q, phi, P / np.hypot(P, Q)]

    @cached_property
    def _phi(self) -> float:
        """The angle φ without deviations [deg]."""
        assert self.pair is not None  # noqa: S101  (asked for only where there is one)
        before, after = (self.result.readings[name].watts for name in self.pair)
        return two_wattmeters(before, after, self.result.measurement.supply.sequence).phi or 0.0


def _voltage_ends(meter: Wattmeter, station: Station) -> tuple[str, str]:
    place = station.wired.wired[meter.name]
    ends = place.felt or place.ends
    assert ends is not None  # noqa: S101  (every wattmeter has a voltage circuit)
    return ends


def _motor_ends(load: Load, station: Station) -> list[tuple[str, str]]:
    lines = station.arrangement.conductors.lines
    return [(load.terminal(line), SUPPLY_STAR_POINT) for line in lines]

"""The tables of instruments and transformers, in a scenario or in a file that several share."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from simulator import quantities
from simulator.metering.accuracy import Kind as TransformerKind
from simulator.metering.accuracy import transformer_classes
from simulator.metering.instruments import Kind
from simulator.scenario.fields import (
    Angle,
    ClosedImpedance,
    Current,
    CurrentRatio,
    Name,
    NonzeroImpedance,
    Percent,
    RatedBurden,
    Table,
    Voltage,
    VoltageCircuit,
    VoltageRatio,
)
from simulator.scenario.words import shown

# Ranges that an instrument may have.
_SOME = Field(max_length=20)


class InstrumentTable(Table):
    """The table ``[instrument.NAME]``."""

    current_circuit: ClosedImpedance = 0j
    voltage_circuit: VoltageCircuit = (quantities.OPEN, 0.0)
    kind: Kind = Field(Kind.ELECTRODYNAMIC, strict=False)
    gain_error: Percent = 0.0
    phase_error: Angle = 0.0
    current_range: Current | None = None
    voltage_range: Voltage | None = None
    current_ranges: Annotated[list[Current], _SOME] = []
    voltage_ranges: Annotated[list[Voltage], _SOME] = []
    rated_power_factor: Annotated[float, Field(gt=0, le=1)] = 1.0
    divisions: Annotated[float, Field(gt=0, le=10_000)] | None = None
    accuracy_class: Annotated[float, Field(gt=0, le=10)] | None = None
    compensated: bool = False

    @model_validator(mode="after")
    def _ranges_fit(self) -> Self:
        circuits: tuple[tuple[str, quantities.Unit, float | None, list[float]], ...] = (
            ("current_range", "A", self.current_range, self.current_ranges),
            ("voltage_range", "V", self.voltage_range, self.voltage_ranges),
        )
        for key, unit, chosen, ranges in circuits:
            if chosen is not None and ranges and chosen not in ranges:
                known = ", ".join(quantities.format_quantity(r, unit, None) for r in ranges)
                got = quantities.format_quantity(chosen, unit, None)
                raise ValueError(f"{key}: expected one of its {key}s ({known}), got '{got}'")
        if self.divisions and (self.current_range is None or self.voltage_range is None):
            raise ValueError(
                "'divisions' need current_range and voltage_range, which give the watts per "
                "division"
            )
        return self

    @model_validator(mode="after")
    def _compensation_is_possible(self) -> Self:
        if self.compensated and math.isinf(self.voltage_circuit[0].real):
            raise ValueError(
                "'compensated' needs a voltage_circuit (for example \"20 kohm\"), whose current "
                "it cancels"
            )
        if self.compensated and self.kind is not Kind.ELECTRODYNAMIC:
            raise ValueError("'compensated' describes an instrument with kind = \"electrodynamic\"")
        return self

    @model_validator(mode="after")
    def _errors_fit_the_kind(self) -> Self:
        if self.kind is Kind.ELECTRODYNAMIC and (self.gain_error or self.phase_error):
            raise ValueError(
                'gain_error and phase_error describe an instrument with kind = "electronic"'
            )
        return self


class _TransformerTable(Table):
    """What both kinds of transformers have; impedances are those of the secondary side."""

    ratio_error: Percent | None = None
    phase_displacement: Angle | None = None
    accuracy_class: str | None = None
    magnetising: NonzeroImpedance | None = None
    winding: ClosedImpedance | None = None
    leads: ClosedImpedance = 0j
    rated_burden: RatedBurden | None = None
    secondary: Literal["open", "shorted"] | None = None

    @model_validator(mode="after")
    def _one_description_of_errors(self) -> Self:
        ways = (
            ("ratio_error", "phase_displacement"),
            ("accuracy_class",),
            ("magnetising", "winding"),
        )
        given = [
            next(key for key in way if getattr(self, key) is not None)
            for way in ways
            if any(getattr(self, key) is not None for key in way)
        ]
        if len(given) > 1:
            raise ValueError(
                f"'{given[0]}' and '{given[1]}' exclude each other: give ratio_error and "
                "phase_displacement as measured, or accuracy_class for limits, or magnetising and "
                "winding for errors that follow from the burden"
            )
        return self

    def _check_class(self, kind: TransformerKind) -> Self:
        known = transformer_classes(kind)
        if self.accuracy_class is not None and self.accuracy_class not in known:
            raise ValueError(
                f"accuracy_class: expected one of {', '.join(known)}, got "
                f"{shown(self.accuracy_class)}"
            )
        return self


class CurrentTransformerTable(_TransformerTable):
    """The table ``[current_transformer.NAME]``; its burden is in series with the meter."""

    ratio: CurrentRatio
    burden: ClosedImpedance | None = None

    @model_validator(mode="after")
    def _known_class(self) -> Self:
        return self._check_class("current")


class VoltageTransformerTable(_TransformerTable):
    """The table ``[voltage_transformer.NAME]``; its burden is in parallel with the meter."""

    ratio: VoltageRatio
    burden: NonzeroImpedance | None = None

    @model_validator(mode="after")
    def _known_class(self) -> Self:
        return self._check_class("voltage")


class InstrumentFile(Table):
    """A file of instruments and transformers that several scenarios share."""

    instrument: dict[Name, InstrumentTable] = {}
    current_transformer: dict[Name, CurrentTransformerTable] = {}
    voltage_transformer: dict[Name, VoltageTransformerTable] = {}

"""The tables of instruments and transformers, in a scenario or in a file that several share."""

from __future__ import annotations

import math
from typing import Annotated, Self

from pydantic import Field, model_validator

from simulator import quantities
from simulator.metering.instruments import Kind
from simulator.scenario.fields import (
    Angle,
    ClosedImpedance,
    Current,
    CurrentRatio,
    Percent,
    Table,
    Voltage,
    VoltageCircuit,
    VoltageRatio,
)

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
    ratio_error: Percent = 0.0
    phase_displacement: Angle = 0.0
    accuracy_class: str | None = None


class CurrentTransformerTable(_TransformerTable):
    """The table ``[current_transformer.NAME]``."""

    ratio: CurrentRatio


class VoltageTransformerTable(_TransformerTable):
    """The table ``[voltage_transformer.NAME]``."""

    ratio: VoltageRatio

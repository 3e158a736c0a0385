"""The tables of instruments and transformers, in a scenario or in a file that several share."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, ValidationInfo, field_validator, model_validator

from simulator import formatting, quantities
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
    current_ranges: Annotated[list[Current], _SOME] = []
    voltage_ranges: Annotated[list[Voltage], _SOME] = []
    current_range: Current | None = None
    voltage_range: Voltage | None = None
    rated_power_factor: Annotated[float, Field(gt=0, le=1)] = 1.0
    divisions: Annotated[float, Field(gt=0, le=10_000)] | None = None
    accuracy_class: Annotated[float, Field(gt=0, le=10)] | None = None
    compensated: bool = False

    @field_validator("current_range", "voltage_range")
    @classmethod
    def _is_one_of_its_ranges(cls, chosen: float | None, info: ValidationInfo) -> float | None:
        ranges = info.data.get(f"{info.field_name}s")
        if chosen is not None and ranges and chosen not in ranges:
            unit: quantities.Unit = "A" if info.field_name == "current_range" else "V"
            known = ", ".join(formatting.format_quantity(r, unit, None) for r in ranges)
            got = formatting.format_quantity(chosen, unit, None)
            raise ValueError(f"expected one of its {info.field_name}s ({known}), got '{got}'")
        return chosen

    @model_validator(mode="after")
    def _divisions_have_a_full_scale(self) -> Self:
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


def _class_of(kind: TransformerKind) -> AfterValidator:
    def check(name: str) -> str:
        known = transformer_classes(kind)
        if name not in known:
            raise ValueError(f"expected one of {', '.join(known)}, got {shown(name)}")
        return name

    return AfterValidator(check)


class _TransformerTable(Table):
    """What both kinds of transformers have; impedances are those of the secondary side."""

    ratio_error: Percent | None = None
    phase_displacement: Angle | None = None
    magnetising: NonzeroImpedance | None = None
    winding: ClosedImpedance | None = None
    leads: ClosedImpedance = 0j
    rated_burden: RatedBurden | None = None
    secondary: Literal["open", "shorted"] | None = None

    @field_validator("burden", mode="before", check_fields=False)
    @classmethod
    def _burden_is_no_rating(cls, given: object) -> object:
        if isinstance(given, str) and given.rstrip().endswith("VA"):
            raise ValueError(
                "expected the impedance of what is connected beside the meter, got "
                f"{shown(given)}; the volt-amperes of the plate are 'rated_burden'"
            )
        return given

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
            if any(getattr(self, key, None) is not None for key in way)
        ]
        if len(given) > 1:
            raise ValueError(
                f"'{given[0]}' and '{given[1]}' exclude each other: give ratio_error and "
                "phase_displacement as measured, or accuracy_class for limits, or magnetising and "
                "winding for errors that follow from the burden"
            )
        return self


class CurrentTransformerTable(_TransformerTable):
    """The table ``[current_transformer.NAME]``; its burden is in series with the meter.

    Connected S2 for S1 it reads as with ``reversed = ["current"]`` on its wattmeter.
    """

    ratio: CurrentRatio
    accuracy_class: Annotated[str, _class_of("current")] | None = None
    burden: ClosedImpedance | None = None


class VoltageTransformerTable(_TransformerTable):
    """The table ``[voltage_transformer.NAME]``; its burden is in parallel with the meter."""

    ratio: VoltageRatio
    accuracy_class: Annotated[str, _class_of("voltage")] | None = None
    burden: NonzeroImpedance | None = None


class InstrumentFile(Table):
    """A file of instruments and transformers that several scenarios share."""

    instrument: dict[Name, InstrumentTable] = {}
    current_transformer: dict[Name, CurrentTransformerTable] = {}
    voltage_transformer: dict[Name, VoltageTransformerTable] = {}

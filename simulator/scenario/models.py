"""The models of a scenario file: which keys there are, and what each may hold.

Conductors have their default names here; `simulator.scenario.labels` translates a file that has
labels of its own. What one table alone can tell is checked here; what needs several tables is
checked in `simulator.scenario.build`.
"""

from __future__ import annotations

import difflib
import math
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Discriminator,
    Field,
    PrivateAttr,
    Tag,
    model_validator,
)

from simulator.installation.loads import Connection
from simulator.metering.meters import Side
from simulator.scenario.fields import (
    LINES,
    NEUTRAL,
    PAIRS,
    ActivePower,
    AnyImpedance,
    ApparentPower,
    Capacitance,
    Conductor,
    Current,
    Ends,
    Formula,
    Frequency,
    Inductance,
    Line,
    MeterName,
    Name,
    PassiveImpedance,
    PowerFactor,
    Reactance,
    ReactivePower,
    Resistance,
    Resistor,
    Sequence,
    SignedConductor,
    StarPoint,
    Table,
    Title,
    Voltage,
    VoltagePhasor,
    positive,
    text_by,
)
from simulator.scenario.instrument_models import (
    CurrentTransformerTable,
    InstrumentTable,
    VoltageTransformerTable,
)
from simulator.scenario.words import shown


def _once(given: list[str]) -> list[str]:
    if len(set(given)) < len(given):
        raise ValueError(f"expected each only once, got {shown(given)}")
    return given


def _list_of(given: object) -> object:
    return [given] if isinstance(given, str) else given


class Parts(Table):
    """An impedance by its parts, in series or in parallel."""

    resistance: Resistance | None = None
    inductance: Inductance | None = None
    capacitance: Capacitance | None = None
    parallel: bool = False

    @model_validator(mode="after")
    def _has_a_part(self) -> Self:
        if self.resistance is None and self.inductance is None and self.capacitance is None:
            raise ValueError("expected at least one of resistance, inductance and capacitance")
        return self


class RatingTable(Table):
    """A load by its rating: two of the first five, and the voltage they refer to."""

    power: ActivePower | None = None
    apparent_power: ApparentPower | None = None
    reactive_power: ReactivePower | None = None
    current: Current | None = None
    power_factor: PowerFactor | None = None
    at: Voltage | None = None

    @model_validator(mode="before")
    @classmethod
    def _takes_no_shaft_power(cls, given: object) -> object:
        if isinstance(given, dict) and "efficiency" in given:
            raise ValueError(
                "leave 'efficiency' out: power is what the load takes from the supply, that of a "
                "motor's plate divided by the efficiency"
            )
        return given


def _form_of(given: object) -> str:
    if not isinstance(given, dict):
        return "impedance"
    known = {
        **dict.fromkeys(RatingTable.model_fields, "rating"),
        **dict.fromkeys(Parts.model_fields, "parts"),
    }
    nearest = (difflib.get_close_matches(str(key), known, n=1) for key in given)
    return next((known[near[0]] for near in nearest if near), "rating")


BranchValue = Annotated[
    Annotated[AnyImpedance, Tag("impedance")]
    | Annotated[Parts, Tag("parts")]
    | Annotated[RatingTable, Tag("rating")],
    Discriminator(_form_of),
]
BRANCH_FORMS = ("impedance", "parts", "rating")


class PhaseVoltages(Table):
    """Emf of each line to the supply's star point."""

    L1: VoltagePhasor
    L2: VoltagePhasor
    L3: VoltagePhasor


class SequenceVoltages(Table):
    """Symmetrical components of the emfs, as phasors of the first line."""

    positive: VoltagePhasor
    negative: VoltagePhasor = 0j
    zero: VoltagePhasor = 0j


class PerLine(Table):
    """An impedance for each line; a line left out has none."""

    L1: PassiveImpedance = 0j
    L2: PassiveImpedance = 0j
    L3: PassiveImpedance = 0j


PerLineImpedance = Annotated[
    Annotated[PassiveImpedance, Tag("impedance")] | Annotated[PerLine, Tag("per line")],
    Discriminator(lambda given: "per line" if isinstance(given, dict) else "impedance"),
]


class SupplyTable(Table):
    """The table ``[supply]``."""

    wires: Literal[3, 4]
    voltage: Voltage | None = None
    phase_voltages: PhaseVoltages | None = None
    sequence_voltages: SequenceVoltages | None = None
    frequency: Frequency = 50.0
    sequence: Sequence | None = None
    line_impedance: PerLineImpedance = 0j
    neutral_impedance: PassiveImpedance | None = None
    earthed: Conductor | None = None

    @model_validator(mode="after")
    def _one_description(self) -> Self:
        ways = ("voltage", "phase_voltages", "sequence_voltages")
        given = [way for way in ways if getattr(self, way) is not None]
        if len(given) != 1:
            raise ValueError(
                f"expected exactly one of {', '.join(ways)}, got {' and '.join(given) or 'none'}"
            )
        if self.phase_voltages and self.sequence:
            raise ValueError("phase_voltages already say the sequence; leave 'sequence' out")
        if self.wires == 3 and self.neutral_impedance is not None:
            raise ValueError("neutral_impedance needs a neutral, but there are 3 wires")
        if self.wires == 3 and self.earthed == NEUTRAL:
            raise ValueError("the neutral cannot be earthed: there are 3 wires")
        return self


class MotorCircuit(Table):
    """Per-phase star equivalent of an induction motor, rotor referred to the stator."""

    R1: Reactance
    X1: Reactance
    R2: Annotated[float, *text_by(positive("ohm"), "0.332 ohm")]
    X2: Reactance
    Xm: Annotated[float, *text_by(positive("ohm"), "26.3 ohm")]
    Rc: PassiveImpedance = complex(math.inf)

    @model_validator(mode="after")
    def _resistive_iron_loss(self) -> Self:
        if self.Rc.imag or self.Rc == 0:
            raise ValueError('Rc: expected a resistance above zero, or "open"')
        return self


class LoadTable(Table):
    """The table ``[[load]]``."""

    name: Name | None = None
    connection: Connection = Field(strict=False)
    L1: BranchValue | None = None
    L2: BranchValue | None = None
    L3: BranchValue | None = None
    L1_L2: BranchValue | None = Field(None, alias="L1-L2")
    L2_L3: BranchValue | None = Field(None, alias="L2-L3")
    L3_L1: BranchValue | None = Field(None, alias="L3-L1")
    L2_L1: BranchValue | None = Field(None, alias="L2-L1")
    L3_L2: BranchValue | None = Field(None, alias="L3-L2")
    L1_L3: BranchValue | None = Field(None, alias="L1-L3")
    each: BranchValue | None = None
    total: RatingTable | None = None
    star_point: StarPoint | None = None
    lead_impedance: PerLineImpedance = 0j
    neutral_lead: PassiveImpedance | None = None
    slip: float | None = Field(None, allow_inf_nan=False)
    circuit: MotorCircuit | None = None
    active: bool = False

    def given_lines(self) -> dict[str, BranchValue]:
        """Collect the branches given by the name of a line.

        Returns
        -------
        dict of str to BranchValue
            By line.
        """
        return {k: value for k in LINES if (value := getattr(self, k)) is not None}

    def given_pairs(self) -> dict[str, BranchValue]:
        """Collect the branches given by a pair of lines, under the name their current runs.

        Returns
        -------
        dict of str to BranchValue
            By pair.
        """
        found = {}
        for pair, backwards in PAIRS.items():
            for name in (pair, backwards):
                value = getattr(self, name.replace("-", "_"))
                if value is not None and pair in found:
                    raise ValueError(f"'{pair}' and '{backwards}' are the same branch, given twice")
                if value is not None:
                    found[pair] = value
        return found

    @model_validator(mode="after")
    def _keys_fit_the_connection(self) -> Self:
        lines, pairs = self.given_lines(), self.given_pairs()
        by_line = self.connection in (Connection.STAR, Connection.LINE_TO_NEUTRAL)
        whole = self.connection in (Connection.STAR, Connection.DELTA)
        branches, strangers = (lines, pairs) if by_line else (pairs, lines)
        if self.connection is Connection.MOTOR:
            branches, strangers = {}, lines | pairs
            if self.slip is None or self.circuit is None:
                raise ValueError("a motor needs 'slip' and 'circuit'")
        elif self.slip is not None or self.circuit is not None:
            raise ValueError("'slip' and 'circuit' belong to a load with connection = \"motor\"")
        if not whole and (self.each is not None or self.total is not None):
            raise ValueError("'each' and 'total' belong to a star or a delta")
        if strangers:
            raise ValueError(f"'{next(iter(strangers))}' is no branch of a {self.connection} load")
        self._check_completeness(branches, by_line=by_line, whole=whole)
        self._check_points()
        return self

    def _check_completeness(
        self, branches: dict[str, BranchValue], *, by_line: bool, whole: bool
    ) -> None:
        keys = LINES if by_line else tuple(PAIRS)
        if whole:
            ways = (bool(branches), self.each is not None, self.total is not None)
            if sum(ways) != 1:
                raise ValueError(f"expected either {', '.join(keys)}, or 'each', or 'total'")
            if branches and len(branches) < 3:
                missing = next(k for k in keys if k not in branches)
                raise ValueError(
                    f"a {self.connection} needs {', '.join(keys)}: '{missing}' is missing "
                    '(write "open" for a missing branch)'
                )
        elif self.connection is not Connection.MOTOR and not branches:
            raise ValueError(f"expected at least one of {', '.join(keys)}")

    def _check_points(self) -> None:
        if self.star_point is not None and self.connection is not Connection.STAR:
            raise ValueError("'star_point' belongs to a load with connection = \"star\"")
        to_neutral = self.star_point == "neutral" or self.connection is Connection.LINE_TO_NEUTRAL
        if self.neutral_lead is not None and not to_neutral:
            raise ValueError("'neutral_lead' needs a load that is connected to the neutral")


class ImpedanceTable(Table):
    """The table ``[[impedance]]``."""

    name: Name | None = None
    between: Ends
    value: PassiveImpedance
    side: Side = Field(Side.LOAD, strict=False)

    @model_validator(mode="after")
    def _two_ends(self) -> Self:
        if self.between[0] == self.between[1]:
            raise ValueError(f"both ends are at '{self.between[0]}'")
        return self


class WattmeterTable(Table):
    """The table ``[[wattmeter]]``."""

    name: MeterName
    current: Annotated[
        list[SignedConductor],
        BeforeValidator(_list_of, json_schema_input_type=str | list[str]),
        Field(min_length=1, max_length=4),
    ]
    voltage: Ends
    instrument: str | None = None
    voltage_tap: Side = Field(Side.SUPPLY, strict=False)
    reversed: Annotated[list[Literal["current", "voltage"]], AfterValidator(_once)] = []
    station: Annotated[int, Field(ge=1, le=999)] | None = None
    current_transformer: str | None = None
    voltage_transformer: str | None = None


class VoltmeterTable(Table):
    """The table ``[[voltmeter]]``."""

    name: MeterName
    between: Ends
    instrument: str | None = None
    side: Side = Field(Side.LOAD, strict=False)


class AmmeterTable(Table):
    """The table ``[[ammeter]]``."""

    name: MeterName
    conductor: Conductor = Field(alias="in")
    instrument: str | None = None


class TotalTable(Table):
    """The table ``[total]``."""

    power: Formula | None = None
    reactive_power: Formula | None = None

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        if (self.power is None) == (self.reactive_power is None):
            raise ValueError("expected exactly one of power and reactive_power")
        return self


class MethodTable(Table):
    """The table ``[method]``."""

    name: str
    line: Line | None = None
    common: Line | None = None
    instrument: str | list[str] | None = None
    resistors: Annotated[list[Resistor], Field(min_length=2, max_length=2)] | None = None
    current_transformer: str | None = None
    voltage_transformer: str | None = None
    voltage_tap: Side | None = Field(None, strict=False)


# Beyond this a mistake is likelier than an installation, and solving it would take minutes.
_MOST = Field(max_length=100)


class Scenario(Table):
    """One measurement: supply, loads, instruments, meters, and how the total is formed."""

    title: Title
    description: str = ""
    labels: Annotated[list[str], Field(min_length=3, max_length=4)] | None = None
    supply: SupplyTable
    load: Annotated[list[LoadTable], _MOST] = []
    impedance: Annotated[list[ImpedanceTable], _MOST] = []
    instruments_from: str | None = None
    instrument: dict[Name, InstrumentTable] = {}
    wattmeter: Annotated[list[WattmeterTable], _MOST] = []
    voltmeter: Annotated[list[VoltmeterTable], _MOST] = []
    ammeter: Annotated[list[AmmeterTable], _MOST] = []
    current_transformer: dict[Name, CurrentTransformerTable] = {}
    voltage_transformer: dict[Name, VoltageTransformerTable] = {}
    total: TotalTable | None = None
    method: MethodTable | None = None
    _document: dict[str, Any] = PrivateAttr(default_factory=dict)

    @property
    def document(self) -> dict[str, Any]:
        """The tables it was read from, in the words and labels of the file."""
        return self._document

    def named_nodes(self) -> set[str]:
        """List the nodes the scenario names that are no conductors.

        Returns
        -------
        set of str
            Their names.
        """
        pairs = [w.voltage for w in self.wattmeter] + [v.between for v in self.voltmeter]
        pairs += [z.between for z in self.impedance]
        nodes = {node for pair in pairs for node in pair}
        nodes |= {load.star_point for load in self.load if load.star_point}
        return nodes - {*LINES, NEUTRAL}

    def from_document(self, document: dict[str, Any]) -> Self:
        """Remember the tables it was read from.

        Parameters
        ----------
        document : dict
            The tables.

        Returns
        -------
        Scenario
            Itself.
        """
        self._document = document
        return self

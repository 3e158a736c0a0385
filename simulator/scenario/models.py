"""The models of a scenario file: which keys there are, and what each may hold.

Quantities arrive as texts and leave as SI numbers. Conductors have their default names here;
`simulator.scenario.labels` translates a file that has labels of its own. What one table alone
can tell is checked here; what needs several tables is checked in `simulator.scenario.build`.
"""

from __future__ import annotations

import difflib
import math
import re
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    PlainValidator,
    PrivateAttr,
    Tag,
    WithJsonSchema,
    model_validator,
)

from simulator import quantities
from simulator.installation.loads import Connection
from simulator.metering.instruments import Kind
from simulator.metering.meters import Side
from simulator.scenario.words import near, shown

if TYPE_CHECKING:
    from collections.abc import Callable

LINES = ("L1", "L2", "L3")
NEUTRAL = "N"
WORDS = ("neutral", "isolated")  # of star_point, which are no nodes
# A delta's branches as its currents run, and the other way to write each.
PAIRS = {"L1-L2": "L2-L1", "L2-L3": "L3-L2", "L3-L1": "L1-L3"}
Conductor = Literal["L1", "L2", "L3", "N"]
Line = Literal["L1", "L2", "L3"]
Sequence = Literal["L1-L2-L3", "L2-L3-L1", "L3-L1-L2", "L3-L2-L1", "L2-L1-L3", "L1-L3-L2"]


def _text(parse: Callable[[object], object], *examples: str) -> tuple[Any, ...]:
    """Validate by a parser of `simulator.quantities`, and show an editor what is meant."""
    return PlainValidator(parse), WithJsonSchema({"type": "string", "examples": list(examples)})


def _passive(given: object) -> complex:
    impedance = quantities.parse_impedance(given)
    if impedance.real < 0:
        raise ValueError(f"expected an impedance without negative resistance, got {given!r}")
    return impedance


def _passive_text(given: object) -> object:
    _passive(given)
    return given


def _closed(given: object) -> complex:
    impedance = _passive(given)
    if math.isinf(impedance.real):
        raise ValueError(f"expected an impedance that is not open, got {given!r}")
    return impedance


def _positive(unit: quantities.Unit) -> Callable[[object], float]:
    return lambda given: quantities.parse_real(given, unit, above=0)


def _at_least_zero(unit: quantities.Unit) -> Callable[[object], float]:
    return lambda given: quantities.parse_real(given, unit, minimum=0)


def _voltage_phasor(given: object) -> complex:
    return quantities.parse_phasor(given, "V")


_IMPEDANCES = ("33.1 ohm", "30+40j ohm", "50 ohm @ 53.13 deg", "50 ohm, 0.6 lag", "open")
AnyImpedance = Annotated[complex, *_text(quantities.parse_impedance, *_IMPEDANCES)]
PassiveImpedance = Annotated[complex, *_text(_passive, *_IMPEDANCES)]
ClosedImpedance = Annotated[complex, *_text(_closed, *_IMPEDANCES[:3])]
# Kept as a text, for a method is written out as one would write it by hand.
Resistor = Annotated[str, *_text(_passive_text, *_IMPEDANCES[:3])]
VoltageCircuit = Annotated[
    tuple[complex, float], *_text(quantities.parse_voltage_circuit, "20 kohm", "20 kohm, 12 mH")
]
Voltage = Annotated[float, *_text(_positive("V"), "400 V")]
VoltagePhasor = Annotated[complex, *_text(_voltage_phasor, "231 V", "222 V @ -121 deg")]
Current = Annotated[float, *_text(_positive("A"), "10 A")]
Frequency = Annotated[float, *_text(_positive("Hz"), "50 Hz")]
ActivePower = Annotated[float, *_text(_at_least_zero("W"), "1.6 kW")]
ApparentPower = Annotated[float, *_text(_at_least_zero("VA"), "2 kVA")]
ReactivePower = Annotated[
    float, *_text(lambda given: quantities.parse_real(given, "var"), "1.2 kvar")
]
PowerFactor = Annotated[
    quantities.PowerFactor, *_text(quantities.parse_power_factor, "0.8 lag", "0.9 lead", "1")
]
Resistance = Annotated[float, *_text(lambda given: quantities.parse_real(given, "ohm"), "10 ohm")]
Reactance = Annotated[float, *_text(_at_least_zero("ohm"), "1.1 ohm")]
Inductance = Annotated[float, *_text(_at_least_zero("H"), "30 mH")]
Capacitance = Annotated[float, *_text(_positive("F"), "47 uF")]
Angle = Annotated[float, *_text(quantities.parse_angle, "12 min", "0.2 deg")]
Percent = Annotated[float, *_text(quantities.parse_percent, "-0.2 %")]
CurrentRatio = Annotated[
    tuple[float, float], *_text(lambda given: quantities.parse_ratio(given, "A"), "100/5 A")
]
VoltageRatio = Annotated[
    tuple[float, float], *_text(lambda given: quantities.parse_ratio(given, "V"), "400/100 V")
]


def _line(pattern: str, words: str) -> tuple[Any, ...]:
    """Validate a text of one line by a pattern that `words` describe."""

    def check(text: str) -> str:
        if not (re.fullmatch(pattern, text) and text.isprintable()):
            raise ValueError(f"expected {words}, got {shown(text)}")
        return text

    return AfterValidator(check), WithJsonSchema({"type": "string", "pattern": f"^{pattern}$"})


def _no_word_of_star_point(node: str) -> str:
    if node in WORDS:
        raise ValueError(
            f"'{node}' is a word of star_point and no node: write '{NEUTRAL}' for the neutral, "
            "or give the star point a name"
        )
    return node


def _star_point(node: str) -> str:
    """Refuse what is nearly one of the words, and would silently be a node of its own."""
    meant = difflib.get_close_matches(node.casefold(), WORDS, n=1, cutoff=0.8)
    if node in (*LINES, "PE") or (meant and node not in WORDS):
        hint = f"; did you mean '{meant[0]}'?" if meant else ""
        raise ValueError(
            f'expected "neutral", "isolated" or a name of its own, got {shown(node)}{hint}'
        )
    return node


Title = Annotated[str, *_line(r"(?=.*\S).{1,200}", "one line of at most 200 characters")]
Name = Annotated[str, *_line(r"\S(.{0,58}\S)?", "a name of 1 to 60 characters in one line")]
Node = Annotated[str, *_line(r"\w{1,40}", "a conductor or a name of letters, digits and _")]
End = Annotated[Node, AfterValidator(_no_word_of_star_point)]
Ends = Annotated[list[End], Field(min_length=2, max_length=2)]
StarPoint = Annotated[Node, AfterValidator(_star_point)]
SignedConductor = Annotated[str, *_line(r"-?\w{1,40}", "a conductor, perhaps with a minus")]
Formula = Annotated[str, *_line(r".*", "a formula in one line")]
MeterName = Annotated[
    str, *_line(r"[^\W\d]\w{0,39}", "a name of letters, digits and _ that starts with a letter")
]


# Ranges that an instrument may have.
_SOME = Field(max_length=20)


def _once(given: list[str]) -> list[str]:
    if len(set(given)) < len(given):
        raise ValueError(f"expected each only once, got {shown(given)}")
    return given


def _list_of(given: object) -> object:
    return [given] if isinstance(given, str) else given


class Table(BaseModel):
    """A table of the file; an unknown key is an error that names the nearest known one."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True, strict=True)

    @model_validator(mode="before")
    @classmethod
    def _know_all_keys(cls, given: object) -> object:
        if not isinstance(given, dict):
            raise ValueError(f"expected a table of keys and values, got {shown(given)}")  # noqa: TRY004
        known = [field.alias or name for name, field in cls.model_fields.items()]
        for key in given:
            if key not in known:
                raise ValueError(f"unknown key {shown(key)}; {near(str(key), known)}")
        return given


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
    R2: Annotated[float, *_text(_positive("ohm"), "0.332 ohm")]
    X2: Reactance
    Xm: Annotated[float, *_text(_positive("ohm"), "26.3 ohm")]
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
        for unit, chosen, ranges, key in (
            ("A", self.current_range, self.current_ranges, "current_range"),
            ("V", self.voltage_range, self.voltage_ranges, "voltage_range"),
        ):
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

"""The kinds of value that a scenario's keys hold, and what every table has in common.

Quantities arrive as texts and leave as SI numbers.
"""

from __future__ import annotations

import difflib
import math
import re
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    PlainValidator,
    WithJsonSchema,
    model_validator,
)

from simulator import quantities
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


def text_by(parse: Callable[[object], object], *examples: str) -> tuple[Any, ...]:
    """Validate a text by a parser, and show an editor what is meant.

    Parameters
    ----------
    parse : Callable
        A parser of `simulator.quantities`.
    *examples : str
        What it reads.

    Returns
    -------
    tuple
        What to annotate a type with.
    """
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


def _nonzero(given: object) -> complex:
    impedance = _passive(given)
    if impedance == 0:
        raise ValueError(f"expected an impedance above zero, got {given!r}")
    return impedance


def positive(unit: quantities.Unit) -> Callable[[object], float]:
    """Give the parser of a quantity above zero.

    Parameters
    ----------
    unit : str
        Its unit.

    Returns
    -------
    Callable
        From a text to the number.
    """
    return lambda given: quantities.parse_real(given, unit, above=0)


def _at_least_zero(unit: quantities.Unit) -> Callable[[object], float]:
    return lambda given: quantities.parse_real(given, unit, minimum=0)


def _voltage_phasor(given: object) -> complex:
    return quantities.parse_phasor(given, "V")


_IMPEDANCES = ("33.1 ohm", "30+40j ohm", "50 ohm @ 53.13 deg", "50 ohm, 0.6 lag", "open")
AnyImpedance = Annotated[complex, *text_by(quantities.parse_impedance, *_IMPEDANCES)]
PassiveImpedance = Annotated[complex, *text_by(_passive, *_IMPEDANCES)]
ClosedImpedance = Annotated[complex, *text_by(_closed, *_IMPEDANCES[:3])]
NonzeroImpedance = Annotated[complex, *text_by(_nonzero, *_IMPEDANCES)]
# Kept as a text, for a method is written out as one would write it by hand.
Resistor = Annotated[str, *text_by(_passive_text, *_IMPEDANCES[:3])]
VoltageCircuit = Annotated[
    tuple[complex, float], *text_by(quantities.parse_voltage_circuit, "20 kohm", "20 kohm, 12 mH")
]
Voltage = Annotated[float, *text_by(positive("V"), "400 V")]
VoltagePhasor = Annotated[complex, *text_by(_voltage_phasor, "231 V", "222 V @ -121 deg")]
Current = Annotated[float, *text_by(positive("A"), "10 A")]
Frequency = Annotated[float, *text_by(positive("Hz"), "50 Hz")]
ActivePower = Annotated[float, *text_by(_at_least_zero("W"), "1.6 kW")]
ApparentPower = Annotated[float, *text_by(_at_least_zero("VA"), "2 kVA")]
RatedBurden = Annotated[float, *text_by(positive("VA"), "10 VA")]
ReactivePower = Annotated[
    float, *text_by(lambda given: quantities.parse_real(given, "var"), "1.2 kvar")
]
PowerFactor = Annotated[
    quantities.PowerFactor, *text_by(quantities.parse_power_factor, "0.8 lag", "0.9 lead", "1")
]
Resistance = Annotated[float, *text_by(lambda given: quantities.parse_real(given, "ohm"), "10 ohm")]
Reactance = Annotated[float, *text_by(_at_least_zero("ohm"), "1.1 ohm")]
Inductance = Annotated[float, *text_by(_at_least_zero("H"), "30 mH")]
Capacitance = Annotated[float, *text_by(positive("F"), "47 uF")]
Angle = Annotated[float, *text_by(quantities.parse_angle, "12 min", "0.2 deg")]
Percent = Annotated[float, *text_by(quantities.parse_percent, "-0.2 %")]
CurrentRatio = Annotated[
    tuple[float, float], *text_by(lambda given: quantities.parse_ratio(given, "A"), "100/5 A")
]
VoltageRatio = Annotated[
    tuple[float, float], *text_by(lambda given: quantities.parse_ratio(given, "V"), "400/100 V")
]


def one_line(pattern: str, words: str) -> tuple[Any, ...]:
    """Validate a text of one line by a pattern.

    Parameters
    ----------
    pattern : str
        A regular expression for the whole text.
    words : str
        What is expected, in words.

    Returns
    -------
    tuple
        What to annotate a type with.
    """

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


Title = Annotated[str, *one_line(r"(?=.*\S).{1,200}", "one line of at most 200 characters")]
Name = Annotated[str, *one_line(r"\S(.{0,58}\S)?", "a name of 1 to 60 characters in one line")]
Node = Annotated[str, *one_line(r"\w{1,40}", "a conductor or a name of letters, digits and _")]
End = Annotated[Node, AfterValidator(_no_word_of_star_point)]
Ends = Annotated[list[End], Field(min_length=2, max_length=2)]
StarPoint = Annotated[Node, AfterValidator(_star_point)]
SignedConductor = Annotated[str, *one_line(r"-?\w{1,40}", "a conductor, perhaps with a minus")]
Formula = Annotated[str, *one_line(r".*", "a formula in one line")]
MeterName = Annotated[
    str, *one_line(r"[^\W\d]\w{0,39}", "a name of letters, digits and _ that starts with a letter")
]


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

"""A problem: what is told, what is asked, the right answers, and what each usual slip gives."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, cast

from simulator.figures.words import quantity
from simulator.phasors import angle_deg

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.findings.result import Result
    from simulator.quantities import Unit

    AskUnit = Unit | Literal["", "°"]

Kind = Literal["predict", "infer", "find-fault", "choose-method", "draw-phasors"]
Level = Literal[1, 2, 3]

# An answer counts if it is this near: a student rounds to three figures on the way.
OF_VALUE = 0.01
OF_SCALE = 0.002
# An angle or a factor below this is rounding.
ROUND_OFF = 1e-9


@dataclass(frozen=True)
class Slip:
    """What a usual slip gives.

    Attributes
    ----------
    name : str
        The slip.
    value : float
        The answer it leads to.
    """

    name: str
    value: float


@dataclass(frozen=True)
class Ask:
    """A number that is asked for.

    Attributes
    ----------
    symbol : str
        What stands before the answer, for example "W1".
    words : str
        The question.
    unit : str
        Its unit; "°" for an angle, empty for a pure number.
    value : float
        The right answer.
    scale : float
        The size of such quantities here, on which a small answer is judged.
    slips : tuple of Slip
        Usual slips that change it.
    """

    symbol: str
    words: str
    unit: AskUnit
    value: float
    scale: float
    slips: tuple[Slip, ...] = ()

    def allowed(self, value: float) -> float:
        """Give how far an answer may be off a value.

        Parameters
        ----------
        value : float
            The right answer, or what a slip gives.

        Returns
        -------
        float
            1 % of the value, and at least 0.2 % of the scale.
        """
        return max(OF_VALUE * abs(value), OF_SCALE * self.scale)

    def same(self, a: float, b: float) -> bool:
        """Tell whether an answer could be taken for both of two values.

        Parameters
        ----------
        a, b : float
            The values.

        Returns
        -------
        bool
            True if what is allowed around them overlaps.
        """
        return abs(a - b) <= self.allowed(a) + self.allowed(b)

    def written(self, value: float) -> str:
        """Write a value as the key does.

        Parameters
        ----------
        value : float
            The value.

        Returns
        -------
        str
            Four figures with the unit.
        """
        value = 0.0 if abs(value) < 1e-9 * self.scale else value
        if self.unit == "":
            return number(value)
        if self.unit == "°":
            return f"{number(value)}°"
        return quantity(value, self.unit).replace("ohm", "Ω")

    def twins(self, slip: Slip) -> tuple[str, ...]:
        """Name the other slips that give the same number.

        Parameters
        ----------
        slip : Slip
            One of its slips.

        Returns
        -------
        tuple of str
            Names; empty where the number gives the slip away.
        """
        return tuple(s.name for s in self.slips if s is not slip and self.same(s.value, slip.value))


@dataclass(frozen=True)
class Choice:
    """A choice among possibilities.

    Attributes
    ----------
    words : str
        The question.
    options : dict of str to str
        The possibilities by what is written down: a letter with its meaning, or a bare word.
    right : frozenset of str
        Those that are right.
    remarks : dict of str to str
        What is to be said of each, for the key.
    """

    words: str
    options: dict[str, str]
    right: frozenset[str]
    remarks: dict[str, str]


@dataclass(frozen=True)
class Problem:
    """A problem with its answers.

    Attributes
    ----------
    kind : str
        What has to be done.
    method : str
        The method of the catalogue that it is about.
    level : int
        1 to 3.
    told : tuple of str
        What is given, sentence by sentence.
    asks : tuple of Ask or Choice
        What is asked.
    working : tuple of str
        The way to the answers, line by line.
    result : Result
        The circuit, solved.
    readings : dict of str to float or None
        Readings that are told, where they are not those of the circuit rightly wired.
    """

    kind: Kind
    method: str
    level: Level
    told: tuple[str, ...]
    asks: tuple[Ask | Choice, ...]
    working: tuple[str, ...]
    result: Result
    readings: dict[str, float] | None = None

    def part(self, k: int) -> str:
        """Give the letter of a part.

        Parameters
        ----------
        k : int
            Its place, from 0.

        Returns
        -------
        str
            "a", "b" …; empty if there is only one.
        """
        return "" if len(self.asks) == 1 else "abcdefgh"[k]


def number(value: float, digits: int = 4) -> str:
    """Write a pure number with significant digits.

    Parameters
    ----------
    value : float
        The number.
    digits : int, optional
        How many.

    Returns
    -------
    str
        For example "0.3592".
    """
    if abs(value) < ROUND_OFF or not math.isfinite(value):
        return "–" if not math.isfinite(value) else "0"
    decimals = max(digits - 1 - math.floor(math.log10(abs(value))), 0)
    text = f"{value:z.{decimals}f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text).replace("-", "−")


def tidy(value: float, unit: Unit, digits: int = 6) -> str:
    """Write a quantity that is told: every digit it has.

    Parameters
    ----------
    value : float
        The value [unit].
    unit : Unit
        Its unit.
    digits : int, optional
        The most digits that are told.

    Returns
    -------
    str
        For example "57.5 Ω".
    """
    return quantity(value, unit, digits).replace("ohm", "Ω")


def polar(value: complex, unit: Unit) -> str:
    """Write a phasor as one does on a board.

    Parameters
    ----------
    value : complex
        The phasor, rms [unit].
    unit : Unit
        Its unit.

    Returns
    -------
    str
        For example "10 A ∠−36.9°".
    """
    if value == 0:
        return f"0 {unit}"
    angle = round(float(angle_deg(value)), 1) + 0.0
    return f"{quantity(abs(value), unit)} ∠{f'{180.0 if angle == -180 else angle:g}°'}".replace(
        "-", "−"
    )


def asks_for(
    questions: Mapping[str, tuple[str, str, float]],
    right: Mapping[str, float],
    slips: Mapping[str, Mapping[str, float]],
) -> tuple[Ask, ...]:
    """Put questions, right answers and slips together.

    Parameters
    ----------
    questions : mapping of str to (str, str, float)
        Words, unit and scale of what is asked, by symbol.
    right : mapping of str to float
        The right answers by symbol.
    slips : mapping of str to mapping of str to float
        For each slip the numbers that it changes, by symbol.

    Returns
    -------
    tuple of Ask
        The questions in their order.
    """
    return tuple(
        Ask(
            symbol,
            words,
            cast("AskUnit", unit),
            right[symbol],
            scale,
            tuple(
                Slip(name, changed[symbol]) for name, changed in slips.items() if symbol in changed
            ),
        )
        for symbol, (words, unit, scale) in questions.items()
    )

"""The one family of errors a user can cause; each carries the place where it happened."""

from __future__ import annotations


class SimulatorError(Exception):
    """Base of every error a user can cause.

    Parameters
    ----------
    message : str
        What was given, what was expected, and what to do, in one sentence.
    place : str, optional
        Where: a load and its key, a meter, an element. Empty if the message says it.
    """

    def __init__(self, message: str, place: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.place = place

    def __str__(self) -> str:
        return f"{self.place}: {self.message}" if self.place else self.message


class QuantityError(SimulatorError, ValueError):
    """A text that should be a quantity with a unit is not one."""


class FormulaError(SimulatorError, ValueError):
    """A total's formula is not a signed, weighted sum of readings."""


class ScenarioError(SimulatorError, ValueError):
    """A scenario that cannot be read, or says something impossible."""


class NetworkError(SimulatorError, ArithmeticError):
    """A network without a unique solution: a floating part, fighting sources, a free loop."""

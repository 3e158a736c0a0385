"""Where every control stands, read from the address with nothing taken on trust."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlencode

from simulator.errors import SimulatorError
from simulator.explore.controls import OWN
from simulator.metering.catalogue import METHODS
from simulator.scenario.words import near, shown

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.explore.base import Base
    from simulator.explore.controls import Control

LONGEST = 1000
"""Longest query that is looked into [characters]."""
REVERSED = "reversed"
FILE = "file"
NONE = "none"
CIRCUITS = ("current", "voltage")

Reversals = frozenset[tuple[str, str]]


class AddressError(SimulatorError, ValueError):
    """An address that says no situation of the page."""


@dataclass(frozen=True)
class State:
    """Where the controls stand that have been moved, and which circuits are reversed.

    Attributes
    ----------
    moved : tuple of (str, str)
        Name and value of each control that stands elsewhere than at its start, sorted.
    reversals : frozenset of (str, str) or None
        Wattmeter and circuit, for each reversed circuit; None where nobody has said it.
    """

    moved: tuple[tuple[str, str], ...] = ()
    reversals: Reversals | None = None

    def value(self, control: Control) -> str:
        """Give the value of the stop at which a control stands.

        Parameters
        ----------
        control : Control
            The control.

        Returns
        -------
        str
            As the address says it.
        """
        return dict(self.moved).get(control.name, control.start)

    def number(self, control: Control) -> float:
        """Give what the stop stands for at which a control stands.

        Parameters
        ----------
        control : Control
            The control.

        Returns
        -------
        float
            Percent, degrees or ohms.
        """
        stop = control.stop(self.value(control))
        assert stop is not None  # noqa: S101  (read_state lets no other value in)
        return stop.number

    def moves(self, *names: str) -> bool:
        """Tell whether one of some controls has been moved.

        Parameters
        ----------
        *names : str
            Their names.

        Returns
        -------
        bool
            True if so.
        """
        return any(name in names for name, _ in self.moved)

    @property
    def query(self) -> str:
        """The situation as the page's address says it, without the question mark."""
        return urlencode([*self.moved, *self._reversed()])

    @property
    def words(self) -> str:
        """The situation in one line, for a file."""
        return ", ".join(f"{name} = {value}" for name, value in [*self.moved, *self._reversed()])

    def _reversed(self) -> list[tuple[str, str]]:
        if self.reversals is None:
            return []
        names = ",".join(f"{meter}.{circuit}" for meter, circuit in sorted(self.reversals))
        return [(REVERSED, names or NONE)]


def read_state(query: bytes, controls: Mapping[str, Control], base: Base) -> State:
    """Read an address.

    Parameters
    ----------
    query : bytes
        What stands behind the question mark.
    controls : mapping of str to Control
        What can be moved.
    base : Base
        What the page started from.

    Returns
    -------
    State
        Where every control stands.

    Raises
    ------
    AddressError
        If the address is too long, a parameter or its value is none of the page's, or it belongs
        to another file.
    """
    moved: dict[str, str] = {}
    seen: set[str] = set()
    reversals = None
    pairs = _pairs(query)
    for value in (value for name, value in pairs if name == FILE):
        _check_file(value, base)
    for name, value in pairs:
        if name in seen:
            raise AddressError("expected it only once", name)
        seen.add(name)
        if name == REVERSED:
            reversals = _reversals(value)
        elif name in controls:
            moved[name] = _checked(value, controls[name])
        elif name != FILE:
            known = [*controls, REVERSED]
            raise AddressError(f"nothing here is called {shown(name)}; {near(name, known)}")
    at_rest = {name for name, value in moved.items() if value == controls[name].start}
    kept = tuple(sorted((k, v) for k, v in moved.items() if k not in at_rest))
    state = State(kept, reversals)
    _check_meters(reversals or frozenset(), state.value(controls["method"]), base)
    return state


def _pairs(query: bytes) -> list[tuple[str, str]]:
    if len(query) > LONGEST:
        raise AddressError(f"expected at most {LONGEST} characters, got {len(query)}", "address")
    try:
        return parse_qsl(query.decode("ascii"), keep_blank_values=True, errors="strict")
    except ValueError as error:  # bytes that are no text
        raise AddressError("expected plain text", "address") from error


def _checked(value: str, control: Control) -> str:
    if control.stop(value) is None:
        values = [stop.value for stop in control.stops]
        some = values if len(values) <= 14 else [*values[:3], "…", *values[-3:]]
        raise AddressError(f"expected one of {', '.join(some)}; got {shown(value)}", control.name)
    if control.why_not and value != control.start:
        raise AddressError(f"it cannot be moved here: {control.why_not}", control.name)
    return value


def _check_file(value: str, base: Base) -> None:
    """Refuse an address whose moves were made from another start."""
    if not base.is_file:
        raise AddressError("the address needs a scenario file, the page has none", FILE)
    if value != base.fingerprint:
        raise AddressError(
            f"expected '{base.fingerprint}', the file that the page was started from; got "
            f"{shown(value)}, another one",
            FILE,
        )


def _reversals(value: str) -> Reversals:
    if value == NONE:
        return frozenset()
    found = set()
    for item in value.split(","):
        meter, _, circuit = item.partition(".")
        if circuit not in CIRCUITS:
            raise AddressError(
                f"expected '{NONE}', or a list such as 'W1.current,W2.voltage'; got {shown(item)}",
                REVERSED,
            )
        found.add((meter, circuit))
    return frozenset(found)


def meter_names(method: str, base: Base) -> list[str]:
    """List the wattmeters of a method.

    Parameters
    ----------
    method : str
        Its name, or `OWN`.
    base : Base
        What the page started from.

    Returns
    -------
    list of str
        Their names.
    """
    if method == OWN:
        return [meter.name for meter in base.measurement.wattmeters]
    number = METHODS[method].n_wattmeters
    return ["W"] if number == 1 else [f"W{k}" for k in range(1, number + 1)]


def _check_meters(reversals: Reversals, method: str, base: Base) -> None:
    known = meter_names(method, base)
    for meter, _ in reversals:
        if meter not in known:
            raise AddressError(
                f"there is no wattmeter {shown(meter)} here; {near(meter, known)}", REVERSED
            )

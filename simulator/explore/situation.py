"""From where the controls stand to a scenario, and from there to numbers and drawings.

Nothing is kept between two requests but answers to addresses already seen.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from simulator.explore.base import Base, built_in
from simulator.explore.circuit import changed_loads, changed_supply
from simulator.explore.controls import controls_of
from simulator.explore.meters import Meters, changed_meters
from simulator.explore.state import State, read_state
from simulator.findings.result import Result, solve
from simulator.scenario.reader import scenario_from
from simulator.scenario.writer import to_toml

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.explore.base import Tables
    from simulator.scenario.models import Scenario

_DRAWING = threading.Lock()  # matplotlib's settings belong to the whole process


@dataclass(frozen=True)
class Situation:
    """A situation, not yet solved.

    Attributes
    ----------
    base : Base
        What it started from.
    meters : Meters
        The meters, and what the controls act on.
    document : dict
        The tables of the scenario file.
    scenario : Scenario
        The same, checked.
    """

    base: Base
    meters: Meters
    document: Tables
    scenario: Scenario


class Board:
    """Everything that can be asked of the page.

    Parameters
    ----------
    scenario : Scenario or None
        What the page starts from; None for the built-in situation.
    """

    def __init__(self, scenario: Scenario | None = None) -> None:
        if scenario is None:
            self.bases = {wires: built_in(wires) for wires in (3, 4)}
        else:
            self.bases = {scenario.supply.wires: Base(scenario, is_file=True)}
        self.start = next(iter(self.bases.values()))
        self.controls = controls_of(self.start)
        self.situation: Callable[[State], Situation] = lru_cache(256)(self._situation)
        self.result: Callable[[State], Result] = lru_cache(256)(self._result)
        self.figure: Callable[[State, str], bytes] = lru_cache(64)(self._figure)

    def state(self, query: bytes) -> State:
        """Read an address.

        Parameters
        ----------
        query : bytes
            What stands behind the question mark.

        Returns
        -------
        State
            Where every control stands.

        Raises
        ------
        AddressError
            If it says no situation of this page.
        """
        return read_state(query, self.controls, self.start)

    def base(self, state: State) -> Base:
        """Find what a situation started from.

        Parameters
        ----------
        state : State
            Where the controls stand.

        Returns
        -------
        Base
            The file, or the built-in situation with as many wires.
        """
        return self.bases[int(state.value(self.controls["wires"]))]

    def toml(self, state: State) -> str:
        """Write a situation as a scenario file.

        Parameters
        ----------
        state : State
            Where the controls stand.

        Returns
        -------
        str
            The file's text.

        Raises
        ------
        ScenarioError
            If it says something impossible.
        """
        head = f"# Moved at the board: {state.words or 'nothing yet'}\n"
        return head + to_toml(self.situation(state).document)

    def _situation(self, state: State) -> Situation:
        base = self.base(state)
        meters = changed_meters(base, self.controls, state)
        document = {
            key: value
            for key, value in base.document.items()
            if key not in ("instrument", "impedance", "wattmeter", "total", "method")
        }
        if base.is_file and (state.moved or state.reversals is not None):
            document["title"] = f"{document['title'][:180]}, moved at the board"
        document["supply"] = changed_supply(base, self.controls, state)
        loads = changed_loads(base, self.controls, state)
        document |= ({"load": loads} if loads else {}) | meters.tables
        return Situation(base, meters, document, scenario_from(document))

    def _result(self, state: State) -> Result:
        return solve(self.situation(state).scenario)

    def _figure(self, state: State, name: str) -> bytes:
        from simulator.figures.every import figures_of  # noqa: PLC0415
        from simulator.figures.svg import to_svg  # noqa: PLC0415

        result = self.result(state)
        with _DRAWING:
            return to_svg(figures_of(result, [name])[name])

"""What the page starts from: a scenario file, or a balanced load on 400 V."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from simulator.installation.loads import Connection
from simulator.scenario.build import build
from simulator.scenario.labels import labels_of
from simulator.scenario.reader import scenario_from
from simulator.scenario.writer import to_toml

if TYPE_CHECKING:
    from simulator.installation.conductors import Conductors
    from simulator.installation.loads import Load
    from simulator.installation.supply import Supply
    from simulator.scenario.build import Measurement
    from simulator.scenario.models import Scenario

Tables = dict[str, Any]

SAME_ANGLE = 1e-6
"""Angles nearer than this are the same [deg]."""


@dataclass(frozen=True, eq=False)
class Base:
    """A situation in which nothing has been moved yet.

    Attributes
    ----------
    scenario : Scenario
        The situation as a scenario.
    is_file : bool
        Whether it is the user's own; the built-in one leaves the meters to the page.
    """

    scenario: Scenario
    is_file: bool

    @property
    def document(self) -> Tables:
        """Its tables, in the words and labels of the file."""
        return self.scenario.document

    @cached_property
    def fingerprint(self) -> str:
        """What an address calls the user's file, so that it is not taken for that of another."""
        text = to_toml(self.document) if self.is_file else ""
        return sha256(text.encode()).hexdigest()[:8] if text else ""

    @cached_property
    def measurement(self) -> Measurement:
        """What it describes, in SI numbers."""
        return build(self.scenario)

    @property
    def conductors(self) -> Conductors:
        """Names of the conductors."""
        return self.measurement.conductors

    @property
    def supply(self) -> Supply:
        """The supply."""
        return self.measurement.supply

    @property
    def loads(self) -> tuple[Load, ...]:
        """The loads."""
        return next(iter(self.measurement.stations.values())).loads

    @property
    def labels(self) -> tuple[str, ...]:
        """What the file calls the three lines and the neutral."""
        return labels_of(self.document)

    @property
    def method(self) -> str | None:
        """The method of the catalogue that it names."""
        return self.measurement.method

    @cached_property
    def angles(self) -> tuple[float, ...]:
        """Angles of the load branches that can be turned [deg]; a generating one sets no limit."""
        found = (branch.impedance for load in self.loads for branch in load.branches)
        return tuple(
            math.degrees(cmath.phase(z)) for z in found if z and cmath.isfinite(z) and z.real >= 0
        )

    @property
    def angle(self) -> float | None:
        """The angle that all load branches have in common [deg], if they have one."""
        if not self.angles or max(self.angles) - min(self.angles) > SAME_ANGLE:
            return None
        return self.angles[0]

    @property
    def neutral_load(self) -> int | None:
        """Number of the load that is connected to the neutral, if it is a single one."""
        found = [
            k
            for k, load in enumerate(self.loads)
            if load.connection is Connection.LINE_TO_NEUTRAL
            or (load.star_point is not None and load.star_point == self.conductors.neutral)
        ]
        return found[0] if len(found) == 1 else None


def phase_of(branch: str, lines: tuple[str, ...]) -> int:
    """Tell which phase a load's branch belongs to.

    Parameters
    ----------
    branch : str
        Its name: that of a line, or of a pair of lines such as "L1-L2".
    lines : tuple of str, shape (3,)
        Names of the lines.

    Returns
    -------
    int
        0, 1 or 2: the line, or the first of the pair.
    """
    return lines.index(branch if branch in lines else branch.split("-", maxsplit=1)[0])


def built_in(wires: int) -> Base:
    """Give the situation that the page starts from without a file.

    Parameters
    ----------
    wires : int
        3 or 4.

    Returns
    -------
    Base
        A star of 10 A and power factor 0.8 on 400 V, without meters.
    """
    load: Tables = {
        "name": "workshop",
        "connection": "star",
        "each": f"{400 / math.sqrt(3) / 10:.12g} ohm, 0.8 lag",
    }
    if wires == 4:
        load["star_point"] = "neutral"
    document: Tables = {
        "title": "At the board",
        "supply": {"wires": wires, "voltage": "400 V", "frequency": "50 Hz"},
        "load": [load],
    }
    return Base(scenario_from(document), is_file=False)

"""From the tables of a scenario to the supply and the loads they describe.

Numbers in the tables may be arrays of many cases (`simulator.studies`), and then so are those of
the supply and the loads; what is impossible in one case is refused for all.
"""

from __future__ import annotations

import math
from functools import reduce
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import ScenarioError
from simulator.formatting import format_impedance
from simulator.installation.conductors import Conductors
from simulator.installation.loads import Branch, Connection, Load
from simulator.installation.motor import Motor
from simulator.installation.rating import Rating, branch_impedance
from simulator.installation.supply import (
    Supply,
    emfs_from_components,
    sequence_of,
    symmetrical_emfs,
)
from simulator.scenario.fields import LINES, NEUTRAL, PAIRS
from simulator.scenario.models import LoadTable, Parts, PerLine, RatingTable
from simulator.scenario.words import called

if TYPE_CHECKING:
    from simulator.scenario.models import BranchValue, PerLineImpedance, SupplyTable

SQRT3 = math.sqrt(3)


def conductors_of(labels: tuple[str, ...], wires: int) -> Conductors:
    """Name the conductors.

    Parameters
    ----------
    labels : tuple of str, shape (4,)
        What the scenario calls them.
    wires : int
        3 or 4.

    Returns
    -------
    Conductors
        Their names.
    """
    return Conductors((labels[0], labels[1], labels[2]), labels[3] if wires == 4 else None)


def supply_of(table: SupplyTable, conductors: Conductors) -> Supply:
    """Build the supply.

    Parameters
    ----------
    table : SupplyTable
        The table ``[supply]``.
    conductors : Conductors
        Names of the conductors.

    Returns
    -------
    Supply
        The supply.
    """
    # every rotation of the label order stands in this text
    sequence = 1 if (table.sequence or "") in "L1-L2-L3-L1-L2" else -1
    nominal: float | None = None
    if table.voltage is not None:
        nominal = table.voltage
        emfs = symmetrical_emfs(table.voltage, sequence)
    elif table.phase_voltages:
        given = table.phase_voltages
        emfs = (given.L1, given.L2, given.L3)
        sequence = sequence_of(emfs)
    else:
        parts = table.sequence_voltages
        assert parts is not None  # noqa: S101  (the model demands one of the three)
        emfs = emfs_from_components(parts.positive, parts.negative, parts.zero, sequence)
        nominal = SQRT3 * abs(parts.positive) if np.all(parts.positive) else None
    earthed = dict(zip((*LINES, NEUTRAL), conductors.all, strict=False)).get(table.earthed or "")
    return Supply(
        emfs=emfs,
        sequence=sequence,
        frequency=table.frequency,
        line_impedances=_per_line(table.line_impedance),
        neutral_impedance=table.neutral_impedance or 0j,
        earthed=earthed,
        nominal_voltage=nominal,
    )


def _per_line(value: PerLineImpedance) -> tuple[complex, complex, complex]:
    if isinstance(value, PerLine):
        return value.L1, value.L2, value.L3
    return value, value, value


def load_of(
    table: LoadTable, name: str, conductors: Conductors, supply: Supply
) -> tuple[Load, list[str]]:
    """Build a load.

    Parameters
    ----------
    table : LoadTable
        A table ``[[load]]``.
    name : str
        Its name.
    conductors : Conductors
        Names of the conductors.
    supply : Supply
        The supply, for nominal voltage and frequency.

    Returns
    -------
    load : Load
        The load.
    notes : list of str
        What was assumed because the table does not say it.

    Raises
    ------
    ScenarioError
        If the table does not fit the supply, or describes an impossible impedance.
    """
    return _LoadBuilder(table, name, conductors, supply).build()


class _LoadBuilder:
    def __init__(self, table: LoadTable, name: str, conductors: Conductors, supply: Supply) -> None:
        self.table, self.name, self.conductors, self.supply = table, name, conductors, supply
        self.notes: list[str] = []

    def error(self, message: str, key: str = "") -> ScenarioError:
        place = called("load", self.name)
        return ScenarioError(message, f"{place}, {key}" if key else place)

    def build(self) -> tuple[Load, list[str]]:
        leads = dict(zip(self.conductors.lines, _per_line(self.table.lead_impedance), strict=True))
        if self.conductors.neutral and self.table.neutral_lead is not None:
            leads[self.conductors.neutral] = self.table.neutral_lead
        star_point = self.star_point()
        branches = tuple(self.branches(star_point))
        load = Load(
            name=self.name,
            connection=self.table.connection,
            branches=branches,
            star_point=star_point,
            leads=leads,
            motor=self.motor(),
        )
        return load, self.notes

    def star_point(self) -> str | None:
        connection, neutral = self.table.connection, self.conductors.neutral
        if connection is Connection.LINE_TO_NEUTRAL and neutral is None:
            raise self.error("a load to the neutral needs a supply with 4 wires", "connection")
        if connection is not Connection.STAR:
            return None
        point = self.table.star_point
        if point in ("neutral", NEUTRAL):
            if neutral is None:
                raise self.error("there is no neutral on 3 wires", "star_point")
            return neutral
        if point is None and neutral is not None:
            raise self.error(
                'on 4 wires say where the star point is: star_point = "neutral" or "isolated"',
                "star_point",
            )
        return f"star point of {self.name}" if point in (None, "isolated") else point

    def branches(self, star_point: str | None) -> list[Branch]:
        by_line = self.table.connection in (Connection.STAR, Connection.LINE_TO_NEUTRAL)
        end = star_point or self.conductors.neutral or ""
        places = {}
        for k, (line, pair) in enumerate(zip(LINES, PAIRS, strict=True)):
            start = self.conductors.lines[k]
            if by_line:
                places[line] = (start, start, end)
            else:
                first, second = self.conductors.pair(k)
                places[pair] = (f"{first}-{second}", first, second)
        given = self.table.given_lines() if by_line else self.table.given_pairs()
        if self.table.each is not None:
            given = dict.fromkeys(places, self.table.each)
        if self.table.total is not None:
            given = dict.fromkeys(places, self.table.total)
        whole = "total" if self.table.total else "each" if self.table.each is not None else ""
        return [
            Branch(*places[key], self.impedance(value, whole or places[key][0]))
            for key, value in given.items()
        ]

    def impedance(self, value: BranchValue, key: str) -> complex:
        if isinstance(value, RatingTable):
            z = self.from_rating(value, key)
        elif isinstance(value, Parts):
            z = self.from_parts(value, key)
        else:
            z = value
        if np.any(z.real < 0) and not self.table.active:
            raise self.error(
                "expected an impedance without negative resistance (a load that generates needs "
                f"active = true), got '{format_impedance(z)}'",
                key,
            )
        return z

    def from_parts(self, parts: Parts, key: str) -> complex:
        omega = 2 * math.pi * self.supply.frequency
        values = []
        if parts.resistance is not None:
            values.append(parts.resistance + 0j)
        if parts.inductance is not None:
            values.append(1j * omega * parts.inductance)
        if parts.capacitance is not None:
            values.append(1 / (1j * omega * parts.capacitance))
        if not parts.parallel:
            return sum(values)
        if any(np.all(z == 0) for z in values):
            return 0j
        admittance = sum(1 / z for z in values)
        if np.any(abs(admittance) <= 1e-12 * reduce(np.maximum, (abs(1 / z) for z in values))):
            raise self.error("inductance and capacitance are in exact parallel resonance", key)
        return 1 / admittance

    def from_rating(self, table: RatingTable, key: str) -> complex:
        factor = table.power_factor
        rating = Rating(
            power=table.power,
            apparent_power=table.apparent_power,
            reactive_power=table.reactive_power,
            current=table.current,
            power_factor=factor.value if factor else None,
            sense=factor.sense if factor else None,
        )
        line_voltage = self.nominal(key) if table.at is None else table.at
        star = self.table.connection in (Connection.STAR, Connection.LINE_TO_NEUTRAL)
        voltage = line_voltage
        if key != "total" and table.at is None and star:
            voltage = line_voltage / SQRT3
        try:
            power = rating.complex_power(SQRT3 * voltage if key == "total" else voltage)
        except ScenarioError as error:
            raise self.error(error.message, key) from error
        if rating.assumes_lag and np.any(power.imag > 0):
            self.notes.append(
                f"{called('load', self.name)}, {key}: lag or lead is not stated; taken as lagging"
            )
        if key != "total":
            return branch_impedance(power, voltage)
        return branch_impedance(power, voltage) * (1 if star else 3)

    def nominal(self, key: str) -> float:
        if self.supply.nominal_voltage is None:
            raise self.error(
                "the supply has no single nominal voltage, so say which voltage the rating "
                'refers to: at = "230 V"',
                key,
            )
        return self.supply.nominal_voltage

    def motor(self) -> Motor | None:
        circuit, slip = self.table.circuit, self.table.slip
        if circuit is None or slip is None:
            return None
        if np.any((slip < 0) | (slip > 2)) and not self.table.active:
            raise self.error(
                f"expected a slip from 0 to 2, got {slip:g} (a motor that generates needs "
                "active = true)",
                "slip",
            )
        return Motor(
            R1=circuit.R1,
            X1=circuit.X1,
            R2=circuit.R2,
            X2=circuit.X2,
            Xm=circuit.Xm,
            Rc=circuit.Rc.real,
            slip=slip,
        )

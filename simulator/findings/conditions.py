"""Which classes of supply and load a solved scenario falls in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.phasors import symmetrical_components

if TYPE_CHECKING:
    from simulator.findings.exactness import Load, Row, Supply
    from simulator.findings.station import Station

# Below this part of the largest of its kind a component counts as none.
NONE = 1e-9


@dataclass(frozen=True)
class Conditions:
    """The narrowest classes that hold a scenario's voltages and load.

    Attributes
    ----------
    supply : {'any', 'zero-sum', 'symmetrical'}
        Class of the voltages at the metering plane.
    balanced : bool
        Whether the load acts as three equal admittances.
    resistive : bool
        Whether it is balanced and takes no reactive power.
    neutral_current : bool
        Whether a neutral current flows.
    wires : int
        3 or 4.
    made_unequal : bool
        Whether a symmetrical supply's voltages are unsymmetrical at the metering plane, because of
        impedances before it.
    """

    supply: Supply
    balanced: bool
    resistive: bool
    neutral_current: bool
    wires: int
    made_unequal: bool

    def fits(self, row: Row) -> bool:
        """Tell whether a class of the exactness table holds this scenario.

        Parameters
        ----------
        row : Row
            The class.

        Returns
        -------
        bool
            True if the scenario is a member.
        """
        supplies: dict[Supply, tuple[Supply, ...]] = {
            "any": ("any",),
            "zero-sum": ("any", "zero-sum"),
            "symmetrical": ("any", "zero-sum", "symmetrical"),
        }
        loads: dict[Load, bool] = {
            "any": True,
            "no neutral current": not self.neutral_current,
            "balanced": self.balanced,
            "balanced resistive": self.resistive,
        }
        return row.supply in supplies[self.supply] and loads[row.load]

    @property
    def words(self) -> str:
        """The conditions in words."""
        supply = {
            "any": "unsymmetrical voltages that do not sum to zero",
            "zero-sum": "unsymmetrical voltages that sum to zero",
            "symmetrical": "symmetrical voltages",
        }[self.supply]
        if self.made_unequal:
            supply += " (at the loads: meters, leads or the neutral change a symmetrical supply)"
        kind = "a balanced" if self.balanced else "an unbalanced"
        load = f"{kind}{' resistive' if self.resistive else ''} load"
        if self.wires == 3:
            return f"{supply}, {load}"
        return f"{supply}, {load}, {'a' if self.neutral_current else 'no'} neutral current"


def conditions_of(station: Station) -> Conditions:
    """Find the classes of a solved station.

    Parameters
    ----------
    station : Station
        The solved network.

    Returns
    -------
    Conditions
        Its narrowest classes.
    """
    voltages = np.array(station.components["voltage"])
    currents = np.array(station.components["current"])
    largest_v, largest_i = abs(voltages).max(), abs(currents).max()
    v_none = abs(voltages) <= NONE * largest_v
    i_none = abs(currents) <= NONE * largest_i
    zero_sum = station.neutral is None or bool(v_none[2])
    supply: Supply = "any"
    if zero_sum:
        supply = "symmetrical" if v_none[:2].any() else "zero-sum"
    balanced, resistive = _balance(voltages, currents, v_none, i_none)
    neutral_current = station.neutral is not None and not i_none[2]
    wires = station.arrangement.conductors.wires
    emfs = sorted(abs(np.array(symmetrical_components(station.arrangement.supply.emfs))))
    made_unequal = supply != "symmetrical" and bool(emfs[1] <= NONE * emfs[2])
    return Conditions(supply, balanced, resistive, bool(neutral_current), wires, made_unequal)


def _balance(
    voltages: np.ndarray, currents: np.ndarray, v_none: np.ndarray, i_none: np.ndarray
) -> tuple[bool, bool]:
    """Compare the admittances that positive, negative and zero components meet."""
    if np.any(v_none & ~i_none):
        return False, False
    admittance = np.where(v_none, np.nan, currents / np.where(v_none, 1, voltages))
    pair = admittance[:2][~v_none[:2]]
    scale = np.nanmax(abs(admittance), initial=0.0)
    balanced = len(pair) < 2 or abs(pair[0] - pair[1]) <= NONE * scale * 10
    resistive = balanced and bool(np.nanmax(abs(admittance.imag), initial=0) <= NONE * scale * 10)
    return bool(balanced), resistive

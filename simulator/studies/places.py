"""Where a quantity stands in an arrangement: each function puts a value there.

They are for what a scenario file may say in several ways: a branch by its impedance, its parts or
its rating, the voltage of a line by a symmetrical supply. A value may be an array of many cases.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.studies.kinds import angle_of_power_factor

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.installation.loads import Branch, Load
    from simulator.metering.arrangement import Arrangement


def put_emf(arrangement: Arrangement, value: complex, line: int) -> Arrangement:
    """Put the emf of a line.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    value : complex
        The emf, rms [V].
    line : int
        Which line, 0 to 2.

    Returns
    -------
    Arrangement
        The changed one.
    """
    supply = arrangement.supply
    emfs = _with(supply.emfs, (line,), value + 0j)
    return replace(arrangement, supply=replace(supply, emfs=emfs))


def scale_emf(arrangement: Arrangement, percent: float, line: int) -> Arrangement:
    """Change the emf of a line by a part of itself.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    percent : float
        The change [%].
    line : int
        Which line, 0 to 2.

    Returns
    -------
    Arrangement
        The changed one.
    """
    return put_emf(arrangement, arrangement.supply.emfs[line] * (1 + percent / 100), line)


def put_line_impedance(
    arrangement: Arrangement, value: complex, lines: tuple[int, ...]
) -> Arrangement:
    """Put the impedance of lines between source and meters.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    value : complex
        The impedance [ohm].
    lines : tuple of int
        Which lines, 0 to 2.

    Returns
    -------
    Arrangement
        The changed one.
    """
    supply = arrangement.supply
    impedances = _with(supply.line_impedances, lines, value + 0j)
    return replace(arrangement, supply=replace(supply, line_impedances=impedances))


def put_neutral_impedance(arrangement: Arrangement, value: complex) -> Arrangement:
    """Put the impedance of the neutral between source and meters.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    value : complex
        The impedance [ohm].

    Returns
    -------
    Arrangement
        The changed one.
    """
    supply = replace(arrangement.supply, neutral_impedance=value + 0j)
    return replace(arrangement, supply=supply)


def put_branches(
    arrangement: Arrangement, value: complex, load: str, branches: tuple[str, ...]
) -> Arrangement:
    """Put the impedance of branches of a load.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    value : complex
        The impedance [ohm].
    load : str
        Name of the load.
    branches : tuple of str
        Names of the branches.

    Returns
    -------
    Arrangement
        The changed one.
    """
    return _change_branches(
        arrangement, load, lambda b: value + 0j if b.name in branches else b.impedance
    )


def turn_branches(arrangement: Arrangement, value: float, load: str) -> Arrangement:
    """Give all branches of a load an angle; their magnitudes stay.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    value : float
        The angle, positive for lag [deg].
    load : str
        Name of the load.

    Returns
    -------
    Arrangement
        The changed one.
    """
    return _turned(arrangement, load, np.radians(value))


def set_power_factor(arrangement: Arrangement, value: float, load: str) -> Arrangement:
    """Give all branches of a load a power factor; their magnitudes stay.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    value : float
        The power factor, negative for lead.
    load : str
        Name of the load.

    Returns
    -------
    Arrangement
        The changed one.
    """
    return _turned(arrangement, load, angle_of_power_factor(np.asarray(value)))


def _turned(arrangement: Arrangement, load: str, phi: Any) -> Arrangement:
    direction = np.exp(1j * phi)
    return _change_branches(
        arrangement,
        load,
        lambda b: b.impedance if np.all(np.isinf(b.impedance)) else abs(b.impedance) * direction,
    )


def unbalance_branch(
    arrangement: Arrangement, percent: float, load: str, branch: str
) -> Arrangement:
    """Change the admittance of a branch by a part of itself.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    percent : float
        The change [%].
    load : str
        Name of the load.
    branch : str
        Name of the branch.

    Returns
    -------
    Arrangement
        The changed one.
    """
    factor = 1 + percent / 100
    return _change_branches(
        arrangement, load, lambda b: b.impedance / factor if b.name == branch else b.impedance
    )


def put_leads(
    arrangement: Arrangement, value: complex, load: str, conductors: tuple[str, ...]
) -> Arrangement:
    """Put the impedance of leads between meters and a load.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    value : complex
        The impedance [ohm].
    load : str
        Name of the load.
    conductors : tuple of str
        In which conductors.

    Returns
    -------
    Arrangement
        The changed one.
    """
    leads = dict.fromkeys(conductors, value + 0j)
    return _change_load(arrangement, load, lambda one: replace(one, leads=one.leads | leads))


def put_impedance(arrangement: Arrangement, value: complex, name: str) -> Arrangement:
    """Put the value of a separate impedance.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    value : complex
        The impedance [ohm].
    name : str
        Its name.

    Returns
    -------
    Arrangement
        The changed one.
    """
    impedances = tuple(
        replace(z, impedance=value + 0j) if z.name == name else z for z in arrangement.impedances
    )
    return replace(arrangement, impedances=impedances)


def _with(
    triple: tuple[complex, complex, complex], places: tuple[int, ...], value: complex
) -> tuple[complex, complex, complex]:
    first, second, third = (value if k in places else old for k, old in enumerate(triple))
    return first, second, third


def _change_load(
    arrangement: Arrangement, name: str, change: Callable[[Load], Load]
) -> Arrangement:
    loads = tuple(change(load) if load.name == name else load for load in arrangement.loads)
    return replace(arrangement, loads=loads)


def _change_branches(
    arrangement: Arrangement, name: str, impedance: Callable[[Branch], complex]
) -> Arrangement:
    def change(load: Load) -> Load:
        branches = tuple(replace(b, impedance=impedance(b)) for b in load.branches)
        return replace(load, branches=branches)

    return _change_load(arrangement, name, change)

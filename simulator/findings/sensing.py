"""What an arrangement senses: its total as a form in node potentials and line currents.

A total is ``T = Re(Σ V_n·K_nj·I_j*)`` over the nodes at which voltage circuits end and the three
line currents. Here self-consumption is none, current circuits are 0 Ω, transformers and
electronic channels are without error: those are error terms of their own. The impedances of the
voltage circuits still count where they decide the potential of a star point (Millman weights).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import FormulaError
from simulator.findings.exactness import sense
from simulator.findings.surd import Surd
from simulator.installation.conductors import EARTH
from simulator.metering.formula import parse_formula_exact
from simulator.metering.instruments import Kind
from simulator.network.elements import Impedance, Source
from simulator.network.netlist import Netlist
from simulator.network.nodal import solve

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from simulator.findings.exactness import Quantity, Sensed
    from simulator.metering.arrangement import Arrangement
    from simulator.metering.meters import Wattmeter
    from simulator.phasors import ComplexArray, FloatArray
    from simulator.scenario.build import Measurement, Total

_REFERENCE = "reference"


@dataclass(frozen=True, eq=False)
class Form:
    """A sum of voltages times conjugate currents, ``Re(Σ V_n·K_nj·I_j*)``.

    Attributes
    ----------
    nodes : tuple of str
        The nodes: the conductors first, then the others.
    K : ndarray of float, shape (n_nodes, 3)
        Coefficients [1], by node and line current.
    """

    nodes: tuple[str, ...]
    K: FloatArray


def weigh_currents(meter: Wattmeter, lines: Sequence[str]) -> FloatArray:
    """Give the weight of each line current in what a current circuit senses.

    Parameters
    ----------
    meter : Wattmeter
        The wattmeter.
    lines : sequence of str, shape (3,)
        Names of the lines.

    Returns
    -------
    ndarray of float, shape (3,)
        The weights; a winding in the neutral senses ``−(I1 + I2 + I3)``.
    """
    weights = np.zeros(3)
    for winding in meter.windings:
        if winding.conductor in lines:
            weights[lines.index(winding.conductor)] += winding.sign
        else:
            weights -= winding.sign
    return weights


def direction_sign(meter: Wattmeter) -> int:
    """Give −1 for a wattmeter with one circuit connected the other way round.

    Parameters
    ----------
    meter : Wattmeter
        The wattmeter.

    Returns
    -------
    int
        −1 or +1.
    """
    return -1 if meter.current_reversed != meter.voltage_reversed else 1


def indicated_form(measurement: Measurement, total: Total) -> Form:
    """Write a total as a form, with ideal voltage circuits.

    Parameters
    ----------
    measurement : Measurement
        What is measured.
    total : Total
        How the total is formed.

    Returns
    -------
    Form
        What wattmeters that only sense would indicate together.
    """
    conductors = measurement.conductors
    ends = [node for meter in measurement.wattmeters for node in meter.voltage]
    nodes = tuple(dict.fromkeys((*conductors.all, *ends)))
    K = np.zeros((len(nodes), 3))
    for meter in measurement.wattmeters:
        weight = total.coefficients.get(meter.name, 0.0) * direction_sign(meter)
        currents = weight * weigh_currents(meter, conductors.lines)
        K[nodes.index(meter.voltage[0])] += currents
        K[nodes.index(meter.voltage[1])] -= currents
    return Form(nodes, K)


def true_form(nodes: tuple[str, ...], neutral: str | None) -> Form:
    """Write the active power that crosses to the loads as a form.

    Parameters
    ----------
    nodes : tuple of str
        The nodes, the three lines first.
    neutral : str or None
        The neutral; None on three wires.

    Returns
    -------
    Form
        ``Re(Σ V_k·I_k*)``, on four wires with the voltages to the neutral.
    """
    K = np.zeros((len(nodes), 3))
    K[:3] = np.eye(3)
    if neutral is not None:
        K[nodes.index(neutral)] = -1
    return Form(nodes, K)


def sense_total(measurement: Measurement, total: Total) -> tuple[Sensed, tuple[str, ...]]:
    """Find what a total senses of line potentials, free potentials and line currents.

    Where every voltage circuit is ideal and ends on conductors or free star points, the entries
    are exact numbers, and so is everything that `simulator.findings.exactness` decides from them.

    Parameters
    ----------
    measurement : Measurement
        What is measured.
    total : Total
        How the total is formed.

    Returns
    -------
    sensed : Sensed
        The matrix M for the exactness table.
    free : tuple of str
        Star points of loads at which voltage circuits end; their potentials are free.

    Raises
    ------
    NetworkError
        If the voltage circuits alone do not fix their star point.
    """
    conductors = measurement.conductors
    free = _free_nodes(measurement)
    quantity: Quantity = "reactive" if total.reactive else "active"
    weights = _exact_weights(measurement, total, free)
    exact = weights is not None
    parts: list[tuple[Any, ArrayLike, ArrayLike]] = []
    placed: set[str] = set()
    for arrangement in measurement.stations.values():
        node_weights = (
            _unit_weights(measurement, free)
            if exact
            else _node_weights(arrangement, (*conductors.all, *free))
        )
        for meter in arrangement.wattmeters:
            if meter.name in placed:
                continue
            placed.add(meter.name)
            start, end = meter.voltage
            row = node_weights[start] - node_weights[end]
            a = np.concatenate([row[:3], row[len(conductors.all) :]])
            b = weigh_currents(meter, conductors.lines)
            sign = direction_sign(meter)
            if weights is not None:
                c = weights.get(meter.name, Surd()) * sign
                parts.append((c, a.real.astype(int), b.astype(int)))
            else:
                weight = total.coefficients.get(meter.name, 0.0) * sign
                parts.append((weight, a * angle_factor(meter), b))
    return sense(conductors.wires, quantity, parts), free


def _exact_weights(
    measurement: Measurement, total: Total, free: tuple[str, ...]
) -> dict[str, Surd] | None:
    """Give the formula's weights as exact numbers, for an ideal arrangement; None for another."""
    known = {*_unit_weights(measurement, free)}
    ideal = all(
        angle_factor(meter) == 1 and known >= set(meter.voltage) for meter in measurement.wattmeters
    )
    if not ideal:
        return None
    try:
        pairs = parse_formula_exact(total.formula, [m.name for m in measurement.wattmeters])
    except FormulaError:
        return None
    return {name: Surd(one, root3) for name, (one, root3) in pairs.items()}


def _unit_weights(measurement: Measurement, free: tuple[str, ...]) -> dict[str, ComplexArray]:
    """Weights of the nodes that are conductors, earthed to one, or free themselves."""
    names = (*measurement.conductors.all, *free)
    unit = np.eye(len(names), dtype=np.complex128)
    weights = {node: unit[k] for k, node in enumerate(names)}
    if measurement.supply.earthed:
        weights[EARTH] = weights[measurement.supply.earthed]
    return weights


def star_weights(measurement: Measurement) -> tuple[dict[str, ComplexArray], tuple[str, ...]]:
    """Find how the star points of voltage circuits hang on the conductors.

    Parameters
    ----------
    measurement : Measurement
        What is measured.

    Returns
    -------
    weights : dict of str to ndarray of complex, shape (n,)
        For each node that voltage circuits end on and that is neither a conductor nor the star
        point of a load: weights of the conductors' (and free) potentials [1].
    names : tuple of str, shape (n,)
        What they weigh.

    Raises
    ------
    NetworkError
        If the voltage circuits alone do not fix their star point.
    """
    arrangement = next(iter(measurement.stations.values()))
    names = (*measurement.conductors.all, *_free_nodes(measurement))
    ends = dict.fromkeys(node for m in measurement.wattmeters for node in m.voltage)
    weights = _node_weights(arrangement, names)
    return {node: weights[node] for node in ends if node not in names}, names


def angle_factor(meter: Wattmeter) -> complex:
    """Give what the angle of a voltage circuit does to the voltage that is felt.

    Parameters
    ----------
    meter : Wattmeter
        The wattmeter.

    Returns
    -------
    complex
        ``Z_v0/Z_v`` of an electrodynamic wattmeter, 1 of an electronic one.
    """
    if meter.instrument.kind is Kind.ELECTRONIC:
        return 1 + 0j
    return meter.instrument.voltage_factor


def _free_nodes(measurement: Measurement) -> tuple[str, ...]:
    """List the loads' own star points that anything but their load is connected to."""
    arrangement = next(iter(measurement.stations.values()))
    touched = {node for meter in measurement.wattmeters for node in meter.voltage}
    touched |= {node for part in arrangement.impedances for node in part.between}
    points = [load.star_point for load in arrangement.loads]
    conductors = measurement.conductors.all
    found = [p for p in points if p is not None and p in touched and p not in conductors]
    return tuple(dict.fromkeys(found))


def _node_weights(arrangement: Arrangement, columns: tuple[str, ...]) -> dict[str, ComplexArray]:
    """Express the potential of every node in those of conductors and free star points."""
    elements = _star_elements(arrangement, columns)
    unit = np.eye(len(columns), dtype=np.complex128)
    weights = {node: unit[k] for k, node in enumerate(columns)}
    others = {node for e in elements for node in e.terminals} - set(columns)
    found = {node: np.zeros(len(columns), dtype=np.complex128) for node in others}
    for k in range(len(columns) if others else 0):
        sources = [
            Source(f"potential of {node}", (node, _REFERENCE), complex(j == k))
            for j, node in enumerate(columns)
        ]
        potentials = solve(Netlist((*sources, *elements), _REFERENCE)).potentials
        for node in others:
            found[node][k] = potentials[node]
    return weights | found


def _star_elements(arrangement: Arrangement, fixed: tuple[str, ...]) -> list[Impedance]:
    """Collect what decides the potentials of the nodes that are no conductors."""
    elements = [
        Impedance(part.element_name, part.between, part.impedance)
        for part in arrangement.impedances
    ]
    for meter in arrangement.wattmeters:
        impedance = meter.voltage_impedance
        if not math.isinf(impedance.real):
            elements.append(Impedance(f"voltage circuit {meter.name}", meter.voltage, impedance))
    for voltmeter in arrangement.voltmeters:
        if not voltmeter.instrument.senses_only:
            impedance = voltmeter.instrument.voltage_circuit
            elements.append(
                Impedance(f"voltage circuit {voltmeter.name}", voltmeter.between, impedance)
            )
    if arrangement.supply.earthed:
        elements.append(Impedance("earthing", (EARTH, arrangement.supply.earthed), 0j))
    return [e for e in elements if not set(e.terminals) <= set(fixed) and len(set(e.terminals)) > 1]

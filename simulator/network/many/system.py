"""A network's equations, and where in them the varying values stand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.errors import NetworkError
from simulator.network.elements import AdmittanceBlock, IdealTransformer, Impedance, Source
from simulator.network.laws import laws_of
from simulator.network.netlist import Netlist, terminals
from simulator.network.topology import check_topology

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from simulator.network.elements import Element

    Complex = npt.NDArray[np.complex128]
    Float = npt.NDArray[np.float64]

# What flows at this admittance [S] counts as no current.
VIRTUALLY_OPEN = 1e-12


class Voltage(NamedTuple):
    """Ask for the voltage from one node to another.

    Attributes
    ----------
    start, end : str
        The nodes.
    """

    start: str
    end: str


class Current(NamedTuple):
    """Ask for the current into a terminal of an element.

    Attributes
    ----------
    element : str
        Name of the element.
    terminal : int
        Which of its terminals, in the order of `simulator.network.netlist.terminals`.
    """

    element: str
    terminal: int = 0


Wanted = Voltage | Current


@dataclass(frozen=True)
class System:
    """The equations ``matrix·x = right_side``, with zeros where a value varies.

    Case by case, ``−Z`` of the varying impedance j goes to the diagonal at ``impedances[j]`` and
    the varying emf of source j into the right side at ``emfs[j]``.

    Attributes
    ----------
    netlist : Netlist
        The network.
    matrix : ndarray of complex, shape (n, n)
        Coefficients that are the same in every case.
    right_side : ndarray of complex, shape (n,)
        Emfs that are the same in every case.
    nodes : tuple of str
        The nodes whose potentials are the first unknowns.
    branches : dict of int to str
        Names of the elements whose currents are the other unknowns, by their number.
    impedances, emfs : tuple of int
        Rows of the varying impedances and emfs.
    wanted : ndarray of complex, shape (n_wanted, n)
        What is wanted, as combinations of the unknowns.
    is_voltage : ndarray of bool, shape (n_wanted,)
        Which of it are voltages.
    nominal : ndarray of complex, shape (n_varying,)
        The values in the netlist, impedances before emfs.
    """

    netlist: Netlist
    matrix: Complex
    right_side: Complex
    nodes: tuple[str, ...]
    branches: dict[int, str]
    impedances: tuple[int, ...]
    emfs: tuple[int, ...]
    wanted: Complex
    is_voltage: npt.NDArray[np.bool_]
    nominal: Complex

    @property
    def names(self) -> tuple[str, ...]:
        """Elements whose values vary, in the order of the values."""
        return tuple(self.branches[k] for k in self.impedances + self.emfs)

    def scales(self, unknowns: Complex) -> Float:
        """Give the size with which an error in what is wanted is to be compared.

        Parameters
        ----------
        unknowns : ndarray of complex, shape (n, n_cases)
            Potentials [V], then branch currents [A].

        Returns
        -------
        ndarray of float, shape (n_wanted, n_cases)
            For a voltage the largest potential or emf, for a current the largest current.
        """
        n, k = len(self.nodes), len(self.impedances)
        emfs = np.abs([*self.right_side, *self.nominal[k:]])
        voltage = np.maximum(np.abs(unknowns[:n]).max(axis=0, initial=0), emfs.max())
        current = np.abs(unknowns[n:]).max(axis=0, initial=0)
        current = np.maximum(current, VIRTUALLY_OPEN * voltage)
        return np.asarray(np.where(self.is_voltage[:, None], voltage, current))

    def with_values(self, values: Complex) -> Netlist:
        """Build the network of one case.

        Parameters
        ----------
        values : ndarray of complex, shape (n_varying,)
            Impedances [ohm], then emfs [V].

        Returns
        -------
        Netlist
            The network with these values.
        """
        changed: dict[str, dict[str, complex]] = {}
        keys = ["impedance"] * len(self.impedances) + ["emf"] * len(self.emfs)
        for name, key, value in zip(self.names, keys, values.tolist(), strict=True):
            changed.setdefault(name, {})[key] = value
        return _changed(self.netlist, changed)


def system_of(
    netlist: Netlist, varied: Sequence[str], sources: Sequence[str], wanted: Sequence[Wanted]
) -> System:
    """Write down a network's equations.

    Parameters
    ----------
    netlist : Netlist
        The network.
    varied : sequence of str
        Elements whose impedance varies.
    sources : sequence of str
        Sources whose emf varies.
    wanted : sequence of Voltage or Current
        What is wanted.

    Returns
    -------
    System
        The equations.

    Raises
    ------
    NetworkError
        If a name is unknown or names something without that value, or if no values can make the
        network one with a unique solution.
    """
    elements = {e.name: e for e in netlist.elements}
    for names, kinds, what in (
        (varied, (Impedance, Source), "an element with an impedance"),
        (sources, (Source,), "a source"),
    ):
        for name in names:
            if not isinstance(elements.get(name), kinds):
                raise NetworkError(f"expected the name of {what}, got '{name}'")
        if len(set(names)) < len(names):
            raise NetworkError(f"an element is named twice in {', '.join(names)}")
    # with 1 ohm for what varies, neither an open nor a short of the netlist hides its law
    placed = _changed(netlist, {name: {"impedance": 1 + 0j} for name in varied})
    check_topology(placed)
    laws = laws_of(placed)
    n = len(laws.nodes)
    row = {branch.name: k for k, branch in enumerate(laws.branches, start=n)}
    impedances = tuple(row[name] for name in varied)
    emfs = tuple(row[name] for name in sources)
    matrix, right_side = laws.matrix, laws.right_side
    matrix[impedances, impedances] = 0
    right_side[list(emfs)] = 0
    unknown = {node: k for k, node in enumerate(laws.nodes)} | {netlist.reference: -1}
    combinations = np.zeros((len(wanted), len(matrix) + 1), dtype=np.complex128)
    for out, asked in zip(combinations, wanted, strict=True):
        _combine(out, asked, elements, unknown, row)
    nominal = [elements[name].impedance for name in varied]  # type: ignore[union-attr]
    nominal += [elements[name].emf for name in sources]  # type: ignore[union-attr]
    return System(
        netlist,
        matrix,
        right_side,
        laws.nodes,
        {k: name for name, k in row.items()},
        impedances,
        emfs,
        combinations[:, :-1],  # the last column stood for the reference
        np.array([isinstance(what, Voltage) for what in wanted]),
        np.array(nominal, dtype=np.complex128),
    )


def _changed(netlist: Netlist, changed: dict[str, dict[str, complex]]) -> Netlist:
    elements = tuple(
        replace(e, **changed[e.name]) if e.name in changed else e  # type: ignore[arg-type]
        for e in netlist.elements
    )
    return Netlist(elements, netlist.reference)


def _combine(
    out: Complex,
    what: Wanted,
    elements: dict[str, Element],
    unknown: dict[str, int],
    row: dict[str, int],
) -> None:
    """Write one wanted phasor as a combination of the unknowns."""
    if isinstance(what, Voltage):
        for node in what:
            if node not in unknown:
                raise NetworkError(f"there is no node '{node}' in the network")
        out[unknown[what.start]] += 1
        out[unknown[what.end]] -= 1
        return
    element = elements.get(what.element)
    if element is None or not 0 <= what.terminal < len(terminals(element)):
        raise NetworkError(f"there is no terminal {what.terminal} of an element '{what.element}'")
    if isinstance(element, AdmittanceBlock):
        for node, y in zip(element.terminals, element.admittance[what.terminal], strict=True):
            out[unknown[node]] += y
    elif isinstance(element, IdealTransformer):
        n = element.turns_ratio
        out[row[element.name]] = (1, -1, -n, n)[what.terminal]
    else:
        out[row[element.name]] = (1, -1)[what.terminal]

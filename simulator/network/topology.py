"""What can be known before any number: parts that float, loops that decide nothing.

The pass over a sound network is a union-find of a few microseconds. Only when something is
wrong is the graph built with networkx, to name the members.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from simulator.errors import NetworkError
from simulator.network.elements import AdmittanceBlock, IdealTransformer, Impedance, Source

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from simulator.network.elements import Element, TwoTerminal
    from simulator.network.netlist import Netlist


class FloatingPartError(NetworkError):
    """A part of the network has no path to the reference.

    Parameters
    ----------
    nodes : tuple of str
        The floating nodes.
    opens : tuple of str
        The open elements at its border.
    """

    def __init__(self, nodes: tuple[str, ...], opens: tuple[str, ...]) -> None:
        self.nodes, self.opens = nodes, opens
        border = f"; the only ways there are open: {_listed(opens)}" if opens else ""
        super().__init__(
            f"nothing fixes the potential of {_listed(nodes)}: "
            f"no closed path leads from there to the rest of the circuit{border}"
        )


class FreeLoopError(NetworkError):
    """Elements without impedance form a loop, so its current has no unique value.

    Parameters
    ----------
    members : tuple of str
        Names of the elements in the loop.
    mismatch : float or None
        Sum of the emfs around the loop, absolute [V]; None if there is no source in it.
    """

    def __init__(self, members: tuple[str, ...], mismatch: float | None) -> None:
        self.members, self.mismatch = members, mismatch
        loop = f"{_listed(members)} form a loop without any impedance"
        if mismatch is None:
            message = f"{loop}: the current around it is not determined"
        elif mismatch:
            message = (
                f"{loop}: its sources fight over {mismatch:.4g} V, "
                "and nothing limits the current; give one of them an impedance"
            )
        else:
            message = (
                f"{loop}: its sources agree, but the current around it is not determined; "
                "give one of them an impedance"
            )
        super().__init__(message)


def check_topology(netlist: Netlist) -> None:
    """Refuse a network whose structure leaves a potential or a current undetermined.

    Parameters
    ----------
    netlist : Netlist
        The network.

    Raises
    ------
    FloatingPartError
        If a node has no path to the reference.
    FreeLoopError
        If ideal sources and zero-ohm links form a loop.
    """
    if _parts(netlist) > 1:
        raise _name_floating_part(netlist)
    rigid = list(_rigid(netlist))
    parent = {node: node for e in rigid for node in e.terminals}
    for k, element in enumerate(rigid):
        if not _join(parent, *element.terminals):
            raise _name_loop(rigid[:k], element)


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)


def _paths(element: Element) -> Iterator[tuple[str, str]]:
    """Yield the pairs of nodes between which an element lets current pass."""
    if isinstance(element, AdmittanceBlock):
        yield from pairwise(element.terminals)
    elif isinstance(element, IdealTransformer):
        yield element.primary
        yield element.secondary
    elif not (isinstance(element, Impedance) and element.is_open):
        yield element.terminals


def _rigid(netlist: Netlist) -> Iterator[TwoTerminal]:
    """Yield the elements that fix a voltage whatever their current."""
    for element in netlist.elements:
        if isinstance(element, Source | Impedance) and element.impedance == 0:
            yield element


def _find(parent: dict[str, str], node: str) -> str:
    while parent[node] != node:
        parent[node] = parent[parent[node]]
        node = parent[node]
    return node


def _join(parent: dict[str, str], a: str, b: str) -> bool:
    """Merge two parts; False if they were one already."""
    root_a, root_b = _find(parent, a), _find(parent, b)
    parent[root_a] = root_b
    return root_a != root_b


def _parts(netlist: Netlist) -> int:
    parent = {node: node for node in netlist.nodes}
    joins = sum(_join(parent, a, b) for e in netlist.elements for a, b in _paths(e))
    return len(parent) - joins


def _name_floating_part(netlist: Netlist) -> FloatingPartError:
    import networkx as nx  # noqa: PLC0415  (100 ms, needed only to explain a fault)

    graph = nx.Graph()
    graph.add_nodes_from(netlist.nodes)
    graph.add_edges_from(path for e in netlist.elements for path in _paths(e))
    grounded = nx.node_connected_component(graph, netlist.reference)
    part = next(p for p in nx.connected_components(graph) if p is not grounded and not p & grounded)
    nodes = tuple(node for node in netlist.nodes if node in part)
    opens = tuple(
        e.name
        for e in netlist.elements
        if isinstance(e, Impedance) and e.is_open and part & set(e.terminals)
    )
    return FloatingPartError(nodes, opens)


def _name_loop(before: list[TwoTerminal], closing: TwoTerminal) -> FreeLoopError:
    import networkx as nx  # noqa: PLC0415  (100 ms, needed only to explain a fault)

    graph = nx.Graph()
    graph.add_node(closing.terminals[0])
    for element in before:
        graph.add_edge(*element.terminals, element=element)
    nodes = nx.shortest_path(graph, closing.terminals[1], closing.terminals[0])
    loop = [(closing, 1)]
    for a, b in pairwise(nodes):
        element = graph.edges[a, b]["element"]
        loop.append((element, 1 if element.terminals == (a, b) else -1))
    emfs = [sign * e.emf for e, sign in loop if isinstance(e, Source)]
    mismatch = None
    if emfs:
        mismatch = abs(sum(emfs))
        if mismatch < 1e-9 * max(abs(emf) for emf in emfs):
            mismatch = 0.0
    return FreeLoopError(tuple(e.name for e, _ in loop), mismatch)

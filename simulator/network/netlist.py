"""A netlist: elements between named nodes, one of which is the reference."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from simulator.errors import NetworkError
from simulator.network.elements import IdealTransformer

if TYPE_CHECKING:
    from simulator.network.elements import Element


def terminals(element: Element) -> tuple[str, ...]:
    """List an element's nodes.

    Parameters
    ----------
    element : Element
        Any element.

    Returns
    -------
    tuple of str
        Its nodes in the order of its terminals; of a transformer, primary first.
    """
    if isinstance(element, IdealTransformer):
        return element.primary + element.secondary
    return element.terminals


@dataclass(frozen=True)
class Netlist:
    """Elements between named nodes.

    Attributes
    ----------
    elements : tuple of Element
        The elements; their names are unique.
    reference : str
        The node whose potential is zero.

    Raises
    ------
    NetworkError
        If two elements share a name, or no element touches the reference.
    """

    elements: tuple[Element, ...]
    reference: str

    def __post_init__(self) -> None:
        twice = [name for name, n in Counter(e.name for e in self.elements).items() if n > 1]
        if twice:
            raise NetworkError(f"two elements are called '{twice[0]}'")
        if self.reference not in self.nodes:
            raise NetworkError(f"no element is connected to the reference node '{self.reference}'")

    @cached_property
    def nodes(self) -> tuple[str, ...]:
        """All nodes, in order of first appearance."""
        return tuple(dict.fromkeys(node for e in self.elements for node in terminals(e)))

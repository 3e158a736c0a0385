"""Arithmetic that is recorded instead of done, with what is constant folded away.

A reference to an expression is a signed index, so that a minus sign costs nothing, and 0 is the
number zero. Equal expressions are one expression. Each carries its values in the sample cases.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    Complex = npt.NDArray[np.complex128]

# A sum this much smaller than its constant terms is their rounding.
ROUNDING = 4 * np.finfo(float).eps
# What an operation over many cases takes, in multiplications; measured with numpy.
COST = {
    "constant": 0.0,
    "input": 0.0,
    "add": 0.85,
    "subtract": 0.85,
    "multiply": 1.0,
    "reciprocal": 4.0,
}


# Grades of expressions: multiplying by a unit costs nothing, two constants make a constant.
UNIT, CONSTANT, VARYING = range(3)


class Node(NamedTuple):
    """One operation.

    Attributes
    ----------
    kind : str
        constant, input, add, subtract, multiply or reciprocal.
    operands : tuple of int
        Indices of its operands; of an input, its number.
    value : complex
        Value of a constant.
    """

    kind: str
    operands: tuple[int, ...] = ()
    value: complex = 0j


@dataclass
class Expressions:
    """A growing set of expressions; index 0 is kept for zero.

    Attributes
    ----------
    nodes : list of Node
        The operations, each after its operands.
    samples : list of ndarray of complex
        Value of each in the sample cases; a constant has one for all.
    grades : list of int
        Grade of each: UNIT is 1 or −1, CONSTANT any other number.
    """

    nodes: list[Node] = field(default_factory=lambda: [Node("constant")])
    samples: list[Complex] = field(default_factory=lambda: [np.zeros(1, dtype=np.complex128)])
    grades: list[int] = field(default_factory=lambda: [CONSTANT])
    _known: dict[Node, int] = field(default_factory=dict)

    def constant(self, value: complex) -> int:
        """Refer to a number.

        Parameters
        ----------
        value : complex
            The number.

        Returns
        -------
        int
            Its reference; a number and its negative share an index.
        """
        value = complex(value)
        if value == 0:
            return 0
        if (value.real, value.imag) < (0, 0):
            return -self.constant(-value)
        return self._index(Node("constant", (), value), np.array([value], dtype=np.complex128))

    def input(self, number: int, samples: Complex) -> int:
        """Refer to a value that varies.

        Parameters
        ----------
        number : int
            Which of the varying values.
        samples : ndarray of complex, shape (n_samples,)
            Its values in the sample cases.

        Returns
        -------
        int
            Its reference.
        """
        return self._index(Node("input", (number,)), samples)

    def add(self, a: int, b: int) -> int:
        """Record a sum.

        Parameters
        ----------
        a, b : int
            References; negative ones subtract.

        Returns
        -------
        int
            Reference to the sum.
        """
        if not a or not b or a == -b:
            return 0 if a == -b else a or b
        if not self.is_constant(a) and (self.is_constant(b) or abs(a) > abs(b)):
            a, b = b, a
        if self.is_constant(a):
            if self.is_constant(b):
                x, y = self.value(a), self.value(b)
                return self.constant(x + y if abs(x + y) > ROUNDING * max(abs(x), abs(y)) else 0j)
            if split := self._split(b):
                return self.add(self.add(a, split[0]), split[1])
        if a < 0:
            return -self.add(-a, -b)
        if b > 0:
            return self._index(Node("add", (a, b)), self.samples[a] + self.samples[b])
        return self._index(Node("subtract", (a, -b)), self.samples[a] - self.samples[-b])

    def multiply(self, a: int, b: int) -> int:
        """Record a product.

        Parameters
        ----------
        a, b : int
            References.

        Returns
        -------
        int
            Reference to the product.
        """
        if not a or not b:
            return 0
        sign = 1 if (a > 0) == (b > 0) else -1
        a, b = abs(a), abs(b)
        if not self.is_constant(a) and (self.is_constant(b) or a > b):
            a, b = b, a
        if self.grades[a] == UNIT:
            return sign * b
        if self.is_constant(b):
            return sign * self.constant(self.value(a) * self.value(b))
        if self.is_constant(a) and self.nodes[b].kind == "multiply":
            factor, rest = self.nodes[b].operands
            if self.is_constant(factor):
                return sign * self.multiply(self.multiply(a, factor), rest)
        return sign * self._index(Node("multiply", (a, b)), self.samples[a] * self.samples[b])

    def reciprocal(self, a: int) -> int:
        """Record a reciprocal.

        Parameters
        ----------
        a : int
            Reference, not 0.

        Returns
        -------
        int
            Reference to the reciprocal.
        """
        if self.is_constant(a):
            return self.constant(1 / self.value(a))
        sign = 1 if a > 0 else -1
        return sign * self._index(Node("reciprocal", (abs(a),)), 1 / self.samples[abs(a)])

    def is_constant(self, ref: int) -> bool:
        """Tell whether an expression is the same in every case.

        Parameters
        ----------
        ref : int
            Reference.

        Returns
        -------
        bool
            True for a number.
        """
        return self.grades[abs(ref)] < VARYING

    def value(self, ref: int) -> complex:
        """Give the value of a constant.

        Parameters
        ----------
        ref : int
            Reference to a constant.

        Returns
        -------
        complex
            Its value.
        """
        value = self.nodes[abs(ref)].value
        return value if ref > 0 else -value

    def in_samples(self, ref: int) -> Complex:
        """Give the values of an expression in the sample cases.

        Parameters
        ----------
        ref : int
            Reference.

        Returns
        -------
        ndarray of complex, shape (n_samples,) or (1,)
            Its values.
        """
        samples = self.samples[abs(ref)]
        return samples if ref >= 0 else -samples

    def needed(self, refs: Iterable[int]) -> list[int]:
        """List what some expressions are made of.

        Parameters
        ----------
        refs : iterable of int
            References.

        Returns
        -------
        list of int
            Indices of all expressions they need, themselves included, operands first.
        """
        found = {0}
        waiting = [abs(ref) for ref in refs]
        while waiting:
            index = waiting.pop()
            if index not in found:
                found.add(index)
                if self.nodes[index].kind != "input":
                    waiting += self.nodes[index].operands
        return sorted(found - {0})

    def cost(self, refs: Iterable[int]) -> float:
        """Estimate what some expressions cost together.

        Parameters
        ----------
        refs : iterable of int
            References.

        Returns
        -------
        float
            Cost per case, in multiplications.
        """
        return sum(COST[self.nodes[index].kind] for index in self.needed(refs))

    def _index(self, node: Node, samples: Complex) -> int:
        if node not in self._known:
            self._known[node] = len(self.nodes)
            self.nodes.append(node)
            self.samples.append(samples)
            grade = UNIT if node.value == 1 else CONSTANT
            self.grades.append(grade if node.kind == "constant" else VARYING)
        return self._known[node]

    def _split(self, ref: int) -> tuple[int, int] | None:
        """Split a sum into its constant term and the rest, if it has one."""
        node = self.nodes[abs(ref)]
        if node.kind not in ("add", "subtract") or not self.is_constant(node.operands[0]):
            return None
        term, rest = node.operands
        rest = rest if node.kind == "add" else -rest
        return (term, rest) if ref > 0 else (-term, -rest)

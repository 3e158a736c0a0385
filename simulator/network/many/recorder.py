"""From expressions to a tape: each gets a slot, and gives it back when nobody needs it more."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.network.many.tape import Operation, Tape

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    from simulator.network.many.expressions import Expressions

    Float = npt.NDArray[np.float64]

ZERO, ONE = 0, 1  # slots of the constants that every tape has


class Guard(NamedTuple):
    """A bound that a trustworthy case keeps.

    Attributes
    ----------
    ref : int
        Index of the expression watched.
    limit : float
        Largest magnitude of its real or imaginary part.
    """

    ref: int
    limit: float


def record(
    x: Expressions, limits: Float, outputs: list[int], guards: list[Guard], unused: tuple[int, ...]
) -> Tape:
    """Turn expressions into a tape.

    Parameters
    ----------
    x : Expressions
        The expressions.
    limits : ndarray of float, shape (n_inputs,)
        Largest magnitude of a usual input.
    outputs : list of int
        References to the outputs.
    guards : list of Guard
        What to watch; parts of the outputs.
    unused : tuple of int
        Inputs that no output needs, and that are doubtful where they are zero.

    Returns
    -------
    Tape
        The tape.
    """
    needed = x.needed(outputs)
    constants = [x.nodes[k].value for k in needed if x.nodes[k].kind == "constant"]
    work = [k for k in needed if x.nodes[k].kind not in ("constant", "input")]
    last_use = {operand: k for k in work for operand in x.nodes[k].operands}
    # of a difference that only an output needs, and negative, the operands change places
    flipped = {-r for r in outputs if x.nodes[abs(r)].kind == "subtract" and -r not in outputs}
    flipped -= last_use.keys()
    outputs = [abs(ref) if -ref in flipped else ref for ref in outputs]
    last_use |= dict.fromkeys(map(abs, outputs), 0)  # after everything
    slots = _Slots(list(dict.fromkeys([0j, 1 + 0j, *constants])), len(limits), outputs, guards)
    for k in set(needed) - set(work):
        kind, operands, value = x.nodes[k]
        constant = kind == "constant"
        slots.of[k] = slots.constants.index(value) if constant else slots.first_input + operands[0]
    operations = []
    for k in work:
        kind, operands, _ = x.nodes[k]
        taken = [slots.of[operand] for operand in operands]
        slots.release(operand for operand in set(operands) if last_use[operand] == k)
        if k in flipped:
            taken.reverse()
        if kind == "reciprocal":
            kind, taken = "divide", [ONE, *taken]
        a, b = taken
        operations.append(Operation(kind, a, b, slots.take(k)))
    for k, ref in enumerate(outputs):
        result, source = slots.first_output + k, slots.of[abs(ref)]
        if ref < 0 or source != result:
            operations.append(Operation("add" if ref >= 0 else "subtract", ZERO, source, result))
    return Tape(
        tuple(slots.constants),
        limits,
        len(outputs),
        np.array([guard.limit for guard in guards]),
        slots.n_registers,
        unused,
        tuple(operations),
    )


class _Slots:
    """Which slot holds which expression."""

    def __init__(
        self, constants: list[complex], n_inputs: int, outputs: list[int], guards: list[Guard]
    ) -> None:
        self.constants = constants
        self.first_input = len(constants)
        self.first_output = self.first_input + n_inputs
        self.first_guard = self.first_output + len(outputs)
        self.first_register = self.first_guard + len(guards)
        self.n_registers = 0
        self.free: list[int] = []
        self.of = {0: ZERO}
        self.reserved = {ref: self.first_output + k for k, ref in enumerate(outputs)}
        self.reserved |= {guard.ref: self.first_guard + k for k, guard in enumerate(guards)}

    def take(self, k: int) -> int:
        """Find a place for an expression."""
        if k in self.reserved:
            self.of[k] = self.reserved[k]
        elif self.free:
            self.of[k] = self.free.pop()
        else:
            self.of[k] = self.first_register + self.n_registers
            self.n_registers += 1
        return self.of[k]

    def release(self, expressions: Iterable[int]) -> None:
        """Take back the registers of expressions."""
        self.free += [self.of[k] for k in expressions if self.of[k] >= self.first_register]

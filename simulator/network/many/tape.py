"""An elimination as a list of array operations, and how they run over many cases.

Every operation is one numpy call over a chunk of cases that fits the processor's cache; its
result goes to a register, which is used again once nobody needs it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Complex = npt.NDArray[np.complex128]
    Bool = npt.NDArray[np.bool_]
    Float = npt.NDArray[np.float64]

# Bytes of all registers together: a usual second-level cache.
WORKING_SET = 2 << 20
LARGEST_CHUNK, SMALLEST_CHUNK = 4096, 1024
CACHE_LINE = 64  # bytes
UFUNCS = {"add": np.add, "subtract": np.subtract, "multiply": np.multiply, "divide": np.divide}
SIGNS = {"add": "+", "subtract": "−", "multiply": "·", "divide": "/"}


class Operation(NamedTuple):
    """One operation: ``slots[result] = slots[a] kind slots[b]``.

    Attributes
    ----------
    kind : str
        add, subtract, multiply or divide.
    a, b, result : int
        Slots of the operands and of the result.
    """

    kind: str
    a: int
    b: int
    result: int


@dataclass(frozen=True)
class Tape:
    """Operations on numbered slots: constants, inputs, outputs, guarded values, registers.

    Attributes
    ----------
    constants : tuple of complex
        Values of the first slots.
    limits : ndarray of float, shape (n_inputs,)
        Largest magnitude of a usual input.
    n_outputs : int
        Number of outputs.
    bounds : ndarray of float, shape (n_guards,)
        Largest magnitude of the guarded values.
    n_registers : int
        Number of registers.
    unused : tuple of int
        Inputs that no output needs, and that are doubtful where they are zero.
    operations : tuple of Operation
        What to do, in order.
    """

    constants: tuple[complex, ...]
    limits: Float
    n_outputs: int
    bounds: Float
    n_registers: int
    unused: tuple[int, ...]
    operations: tuple[Operation, ...]

    @property
    def chunk(self) -> int:
        """How many cases go through at once."""
        rows = len(self.bounds) + self.n_registers or 1
        return min(max(WORKING_SET // (16 * rows) // 256 * 256, SMALLEST_CHUNK), LARGEST_CHUNK)

    def __str__(self) -> str:
        """One line for each operation."""
        names = [f"{c:.6g}" for c in self.constants]
        counts = (len(self.limits), self.n_outputs, len(self.bounds), self.n_registers)
        for letter, count in zip("xygr", counts, strict=True):
            names += [f"{letter}{k}" for k in range(count)]
        return "\n".join(
            f"{names[op.result]} = {names[op.a]} {SIGNS[op.kind]} {names[op.b]}"
            for op in self.operations
        )


class Player:
    """A tape with registers to run on; not to be shared by threads.

    Parameters
    ----------
    tape : Tape
        The tape.
    """

    def __init__(self, tape: Tape) -> None:
        self.tape = tape
        rows = tape.n_outputs + len(tape.bounds) + tape.n_registers
        block = aligned((rows, tape.chunk))
        ends = [tape.n_outputs, tape.n_outputs + len(tape.bounds)]
        self.outputs, self.guarded, self.registers = np.split(block, ends)
        self.constants = [np.array(c) for c in tape.constants]
        self.steps = [(UFUNCS[op.kind], op.a, op.b, op.result) for op in tape.operations]

    def play(self, values: Complex, outputs: Complex) -> Bool | None:
        """Solve at most a chunk of cases.

        Parameters
        ----------
        values : ndarray of complex, shape (n_inputs, n_cases)
            The inputs.
        outputs : ndarray of complex, shape (n_outputs, n_cases)
            Where to write the outputs.

        Returns
        -------
        ndarray of bool, shape (n_cases,), or None
            Which cases are not to be trusted; None if all are.
        """
        cases = values.shape[1]
        guarded, registers = self.guarded[:, :cases], self.registers[:, :cases]
        slots = [*self.constants, *values, *outputs, *guarded, *registers]
        doubtful = []
        with np.errstate(all="ignore"):  # numbers beyond the usual are caught by the bounds
            if not _within(values, self.tape.limits):  # first, for it fetches them
                doubtful.append(_beyond(values, self.tape.limits))
            for ufunc, a, b, result in self.steps:
                ufunc(slots[a], slots[b], slots[result])
            if not _within(guarded, self.tape.bounds):
                doubtful.append(_beyond(guarded, self.tape.bounds))
            doubtful += [values[k] == 0 for k in self.tape.unused if not values[k].all()]
        return np.logical_or.reduce(doubtful) if doubtful else None


def aligned(shape: tuple[int, int]) -> Complex:
    """Make room for complex numbers that no vector load finds across two cache lines.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns; the rows are aligned if the number of columns is a multiple of 4.

    Returns
    -------
    ndarray of complex
        The room, not initialised.
    """
    rows, columns = shape
    block = np.empty(rows * columns + CACHE_LINE // 16, dtype=np.complex128)
    start = -block.ctypes.data % CACHE_LINE // 16
    return block[start : start + rows * columns].reshape(shape)


def _within(numbers: Complex, limits: Float) -> bool:
    """Tell whether no part of a number is beyond its limit."""
    parts = numbers.view(np.float64)
    highest, lowest = np.maximum.reduce(parts, axis=1), np.minimum.reduce(parts, axis=1)
    return bool(np.all(highest <= limits) and np.all(lowest >= -limits))  # never with a NaN


def _beyond(numbers: Complex, limits: Float) -> Bool:
    """Find the cases in which a part of a number is beyond its limit, or is none."""
    within = np.abs(numbers.view(np.float64)) <= limits[:, None]
    return np.asarray(~within.reshape(len(limits), -1, 2).all(axis=(0, 2)))

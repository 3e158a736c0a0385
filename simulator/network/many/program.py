"""A network compiled once, run for very many cases."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.network.many.careful import solve_carefully
from simulator.network.many.compiler import compile_tape
from simulator.network.many.stack import Stack, stack_of
from simulator.network.many.system import System, Wanted, system_of
from simulator.network.many.tape import Player, Tape

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt

    from simulator.network.netlist import Netlist

    Complex = npt.NDArray[np.complex128]
    Float = npt.NDArray[np.float64]
    Bool = npt.NDArray[np.bool_]

# For fewer cases than this, compiling takes longer than it saves.
FEWEST_CASES = 1000
MOST_SAMPLES = 64
# Of so many cases one is solved by LAPACK too, but not many more in one run than this.
AUDITED, MOST_AUDITED = 256, 64
# A difference beyond this part of the usual voltage or current condemns the elimination.
LARGEST_DIFFERENCE = 1e-9
CHUNK = 4096


class Term(NamedTuple):
    """A term ``Re(weight·V·conj(I))`` of a product.

    Attributes
    ----------
    voltage, current : int
        Places of V and I in what is wanted.
    weight : complex
        The weight.
    """

    voltage: int
    current: int
    weight: complex = 1


@dataclass(frozen=True)
class Phasors:
    """What is wanted, of many cases.

    Attributes
    ----------
    values : ndarray of complex, shape (n_wanted, n_cases)
        Voltages [V] and currents [A], rms; NaN in cases without a unique solution.
    failed : dict of int to str
        What is wrong with those cases.
    """

    values: Complex
    failed: dict[int, str]


@dataclass(frozen=True)
class Products:
    """Products of what is wanted, of many cases.

    Attributes
    ----------
    values : ndarray of float, shape (n_products, n_cases)
        The products [W]; NaN in cases without a unique solution.
    failed : dict of int to str
        What is wrong with those cases.
    """

    values: Float
    failed: dict[int, str]


@dataclass(frozen=True)
class Program:
    """A network whose cases differ in some values.

    Attributes
    ----------
    system : System
        Its equations.
    stack : Stack
        The equations laid out for LAPACK.
    tape : Tape or None
        The elimination; None if LAPACK is to solve all cases.
    usual : ndarray of float, shape (n_wanted, 1)
        Usual size of what is wanted.
    """

    system: System
    stack: Stack
    tape: Tape | None
    usual: Float
    _idle: list[Player] = field(default_factory=list, repr=False, compare=False)

    def __getstate__(self) -> dict[str, object]:
        return vars(self) | {"_idle": []}

    def run(self, values: npt.ArrayLike) -> Phasors:
        """Solve cases.

        Parameters
        ----------
        values : array_like of complex, shape (n_varying, n_cases)
            Impedances [ohm], 0 for a link and infinite for an open, then emfs [V], in the order
            of `system.names`.

        Returns
        -------
        Phasors
            What is wanted.

        Raises
        ------
        ValueError
            If the values have another shape.
        """
        values = _checked(self.system, values)
        phasors = np.empty((len(self.system.wanted), values.shape[1]), dtype=np.complex128)
        failed: dict[int, str] = {}
        for _ in self._solve(values, failed, phasors):
            pass
        return Phasors(phasors, failed)

    def products(self, values: npt.ArrayLike, terms: Sequence[Sequence[Term]]) -> Products:
        """Form sums of products ``Re(weight·V·conj(I))`` without keeping the phasors.

        Parameters
        ----------
        values : array_like of complex, shape (n_varying, n_cases)
            As for `run`.
        terms : sequence of sequence of Term
            The terms of each product.

        Returns
        -------
        Products
            The products.

        Raises
        ------
        ValueError
            If the values have another shape.
        """
        values = _checked(self.system, values)
        products = np.zeros((len(terms), values.shape[1]))
        failed: dict[int, str] = {}
        for part, phasors in self._solve(values, failed):  # all again if the audit condemns it
            for out, summed in zip(products[:, part], terms, strict=True):
                _multiply(phasors, summed, out)
        return Products(products, failed)

    def _solve(
        self, values: Complex, failed: dict[int, str], phasors: Complex | None = None
    ) -> Iterator[tuple[slice, Complex]]:
        """Solve chunk after chunk: into `phasors`, or into a place that the next will use."""
        if self.tape is None:
            yield from self._solve_by_lapack(values, failed, phasors)
            return
        cases = values.shape[1]
        step = max(AUDITED, cases // MOST_AUDITED)
        audited = []
        player = self._idle.pop() if self._idle else Player(self.tape)
        for start in range(0, cases, self.tape.chunk):
            part = slice(start, min(start + self.tape.chunk, cases))
            out = player.outputs[:, : part.stop - start] if phasors is None else phasors[:, part]
            doubtful = player.play(values[:, part], out)
            if doubtful is not None:
                self._solve_doubtful(values, start, doubtful, out, failed)
            audited.append(out[:, -start % step :: step].copy())
            yield part, out
        self._idle.append(player)
        if audited and not self._agrees(values[:, ::step], np.hstack(audited)):
            yield from self._solve_by_lapack(values, failed, phasors)

    def _solve_by_lapack(
        self, values: Complex, failed: dict[int, str], phasors: Complex | None
    ) -> Iterator[tuple[slice, Complex]]:
        for start in range(0, values.shape[1], CHUNK):
            part = slice(start, min(start + CHUNK, values.shape[1]))
            out, doubtful = self.stack.solve(values[:, part])
            if doubtful.any():
                self._solve_doubtful(values, start, doubtful, out, failed)
            if phasors is not None:
                phasors[:, part] = out
            yield part, out

    def _solve_doubtful(
        self, values: Complex, start: int, doubtful: Bool, out: Complex, failed: dict[int, str]
    ) -> None:
        cases = np.flatnonzero(doubtful)
        unknowns, messages = solve_carefully(self.system, values[:, start + cases])
        out[:, cases] = self.system.wanted @ unknowns
        failed |= {start + int(cases[k]): message for k, message in messages.items()}

    def _agrees(self, values: Complex, phasors: Complex) -> bool:
        """Compare cases with what LAPACK finds."""
        truth, doubtful = self.stack.solve(values)
        scale = np.maximum(np.abs(truth), self.usual)
        with np.errstate(invalid="ignore"):
            good = np.abs(phasors - truth) <= LARGEST_DIFFERENCE * scale
        return bool(np.all(good | doubtful))


def _multiply(phasors: Complex, terms: Sequence[Term], out: Float) -> None:
    """Add up terms ``Re(weight·V·conj(I))``."""
    for k, (voltage, current, weight) in enumerate(terms):
        turned = weight.imag != 0
        V = weight * phasors[voltage] if turned else phasors[voltage]
        parts = V.view(np.float64) * phasors[current].view(np.float64)
        if not turned and weight != 1:
            parts *= weight.real
        if k:
            out += parts[::2]
            out += parts[1::2]
        else:
            np.add(parts[::2], parts[1::2], out=out)


def compile_network(  # noqa: PLR0913
    netlist: Netlist,
    *,
    varied: Sequence[str] = (),
    sources: Sequence[str] = (),
    wanted: Sequence[Wanted],
    samples: npt.ArrayLike | None = None,
    cases: int | None = None,
) -> Program:
    """Compile a network for many cases.

    Parameters
    ----------
    netlist : Netlist
        The network.
    varied : sequence of str
        Elements whose impedance varies.
    sources : sequence of str
        Sources whose emf varies.
    wanted : sequence of Voltage or Current
        What is wanted of each case.
    samples : array_like of complex, shape (n_varying, n_samples), optional
        Values that are to come, some dozen of them with the extremes among them. An order of
        pivots is chosen that is good in all of them; cases far from them are solved one by one.
        By default the netlist's values and up to a fifth around them.
    cases : int, optional
        How many cases there will be in all; below 1000 all are left to LAPACK. By default many.

    Returns
    -------
    Program
        The compiled network. It can be pickled.

    Raises
    ------
    NetworkError
        If a name is unknown, or no values can make the network one with a unique solution.
    ValueError
        If the samples have another shape.
    """
    system = system_of(netlist, varied, sources, wanted)
    given = np.empty((len(system.nominal), 0)) if samples is None else samples
    values = _checked(system, given)
    if not values.shape[1]:
        values = _around(system.nominal)
    values = values[:, :: -(-values.shape[1] // MOST_SAMPLES)]
    stack = stack_of(system, values)
    if cases is not None and cases < FEWEST_CASES:
        return Program(system, stack, None, np.zeros((len(wanted), 1)))
    unknowns, _ = solve_carefully(system, values)
    usual = np.fmax.reduce(system.scales(unknowns), axis=1, keepdims=True)
    return Program(system, stack, compile_tape(system, values), usual)


def _checked(system: System, values: npt.ArrayLike) -> Complex:
    """Give values as an array, each element's side by side."""
    found = np.ascontiguousarray(values, dtype=np.complex128)
    n = len(system.nominal)
    if found.ndim != 2 or len(found) != n:
        raise ValueError(f"expected values of shape ({n}, n_cases), got {found.shape}")
    return found


def _around(nominal: Complex) -> Complex:
    """Spread values by up to a fifth; an open stays one."""
    shape = len(nominal), 16
    rng = np.random.default_rng(0)
    spread = 1 + 0.2 * (rng.uniform(-1, 1, shape) + 1j * rng.uniform(-1, 1, shape))
    return nominal[:, None] * np.where(np.isfinite(nominal)[:, None], spread, 1)

"""A study's model: from values of its quantities to what the meters read, for many cases."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.findings.reason import RIGHT
from simulator.phasors import symmetrical_components
from simulator.studies.entries import factors_of, fields_of
from simulator.studies.motors import solve_with_motors

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt

    from simulator.network.many import Program, Term
    from simulator.scenario.build import Total
    from simulator.studies.dependence import Dependence
    from simulator.studies.motors import VariedMotor
    from simulator.studies.wanted import Reading

    Array = npt.NDArray[Any]
    Float = npt.NDArray[np.float64]
    Complex = npt.NDArray[np.complex128]

# What is computed about the total; no meter can be called so, for its name has no blanks.
TOTAL, TRUE, ERROR = "indicated total", "true power", "error of the total"


@dataclass(frozen=True)
class Output:
    """What is computed for every case.

    Attributes
    ----------
    name : str
        Name of the meter, or what it is about the total.
    unit : str
        Its unit.
    role : str
        "meter", "total", "true", "error" or "percent".
    """

    name: str
    unit: str
    role: str = "meter"


@dataclass(frozen=True)
class Network:
    """The network of one station, compiled.

    Attributes
    ----------
    program : Program
        The compiled network.
    names : tuple of str
        The numbers that are the program's values, the motors' emfs left out.
    terms : tuple of tuple of Term
        The products.
    motors : tuple of VariedMotor
        Motors whose impedances vary.
    """

    program: Program
    names: tuple[str, ...]
    terms: tuple[tuple[Term, ...], ...]
    motors: tuple[VariedMotor, ...]

    def products(self, numbers: Mapping[str, Complex], n: int) -> tuple[Float, dict[int, str]]:
        """Solve cases.

        Parameters
        ----------
        numbers : mapping of str to ndarray of complex, shape (n,)
            What varies.
        n : int
            Number of cases.

        Returns
        -------
        products : ndarray of float, shape (n_products, n)
            The products; NaN in cases without a unique solution.
        failed : dict of int to str
            What is wrong with those.
        """
        values = np.empty((len(self.names), n), dtype=np.complex128)
        for out, name in zip(values, self.names, strict=True):
            out[:] = numbers[name]
        if not self.motors:
            found = self.program.products(values, self.terms)
            return found.values, found.failed
        fields = [numbers[name] for motor in self.motors for name in fields_of(motor.element)]
        solved = solve_with_motors(self.program, values, self.motors, np.array(fields))
        products = np.zeros((len(self.terms), n))
        V, I = solved.values, solved.values.conj()
        for k, terms in enumerate(self.terms):
            for voltage, current, weight in terms:
                products[k] += (weight * V[voltage] * I[current]).real
        return products, solved.failed


@dataclass(frozen=True)
class Answers:
    """Which products of a network are which answers.

    Attributes
    ----------
    readings : tuple of Reading
        The wattmeters that are read at this station.
    squares : tuple of int
        Rows of the squares that voltmeters and ammeters show the roots of.
    active, reactive : int
        Rows of what the loads take.
    """

    readings: tuple[Reading, ...]
    squares: tuple[int, ...]
    active: int
    reactive: int


@dataclass(frozen=True)
class Model:
    """What a study computes for every case.

    Attributes
    ----------
    outputs : tuple of Output
        What is computed: wattmeters, voltmeters, ammeters, and about the total.
    wattmeters : tuple of str
        Names of the wattmeters.
    total : Total or None
        How the total is formed.
    dependence : Dependence
        How the numbers of the arrangement follow from the quantities.
    networks : tuple of (Network, Answers)
        The networks, one for each station.
    rotation : tuple of str, shape (3,), or None
        Names of the emfs in the order of their peaks, where motors depend on it.
    """

    outputs: tuple[Output, ...]
    wattmeters: tuple[str, ...]
    total: Total | None
    dependence: Dependence
    networks: tuple[tuple[Network, Answers], ...]
    rotation: tuple[str, str, str] | None = None

    def evaluate(self, columns: Sequence[Array]) -> tuple[Float, dict[int, str]]:
        """Compute cases.

        Parameters
        ----------
        columns : sequence of ndarray of shape (n,)
            Values of each quantity, in the unit shown.

        Returns
        -------
        outputs : ndarray of float, shape (n_outputs, n)
            The outputs; NaN in cases that are impossible or without a unique solution.
        failed : dict of int to str
            What is wrong with those.
        """
        n = len(columns[0])
        entries, impossible = self.dependence.entries(columns)
        numbers = dict(zip(self.dependence.names, entries, strict=True))
        failed: dict[int, str] = {}
        readings: dict[str, Float] = {}
        squares: list[Float] = []
        power = np.zeros((2, n))
        for k, (network, answers) in enumerate(self.networks):
            products, found = network.products(numbers, n)
            failed = found | failed
            for reading in answers.readings:
                readings[reading.meter] = self._read(reading, products, numbers)
            if k == 0:
                squares = [np.sqrt(np.maximum(products[row], 0)) for row in answers.squares]
            power += products[[answers.active, answers.reactive]]
        rows = [*(readings[name] for name in self.wattmeters), *squares]
        rows += self._about_total(readings, power / len(self.networks))
        outputs = np.array(rows)
        failed |= self._turned_round(numbers, n) | impossible
        if failed:
            outputs[:, list(failed)] = np.nan
        return outputs, failed

    def _turned_round(self, numbers: Mapping[str, Complex], n: int) -> dict[int, str]:
        """Find cases whose voltages would turn a motor the other way round than the scenario's."""
        if self.rotation is None or not any(name in numbers for name in self.rotation):
            return {}
        emfs = [np.broadcast_to(numbers.get(e, self.dependence.usual[e]), n) for e in self.rotation]
        positive, negative, _ = symmetrical_components(np.stack(emfs, axis=-1))
        backwards = np.abs(negative) > np.abs(positive)
        return dict.fromkeys(
            np.flatnonzero(backwards).tolist(),
            "these voltages have the other sequence, which turns the motors round; write them into "
            "the file",
        )

    def _read(self, reading: Reading, products: Float, numbers: Mapping[str, Complex]) -> Float:
        if len(reading.rows) == 1:
            return np.asarray(products[reading.rows[0]])
        a, b = (
            numbers.get(name, self.dependence.usual[name]) for name in factors_of(reading.meter)
        )
        real, imaginary, square = (products[row] for row in reading.rows)
        return np.asarray(np.real(a) * real - np.imag(a) * imaginary + np.real(b) * square)

    def _about_total(self, readings: Mapping[str, Float], power: Float) -> list[Float]:
        active, reactive = power
        if self.total is None:
            return [active]
        indicated = np.zeros(len(active))
        for name, coefficient in self.total.coefficients.items():
            indicated += coefficient * readings[name]
        true = reactive if self.total.reactive else active
        error = indicated - true
        percent = np.full(len(true), np.nan)
        defined = np.abs(true) > RIGHT * np.hypot(active, reactive)
        np.divide(100 * error, true, out=percent, where=defined)
        return [indicated, true, error, percent]

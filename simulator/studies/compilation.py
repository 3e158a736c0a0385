"""From a scenario and the cases of a study to the model that computes them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import ScenarioError, SimulatorError
from simulator.metering.arrangement import wire
from simulator.network.elements import Impedance, Source
from simulator.network.many import Current, Voltage, compile_network
from simulator.scenario.build import build
from simulator.studies.conversion import Conversion
from simulator.studies.dependence import CANNOT, Dependence
from simulator.studies.entries import entries_of, fields_of
from simulator.studies.model import ERROR, TOTAL, TRUE, Answers, Model, Network, Output
from simulator.studies.motors import VariedMotor, without_motors
from simulator.studies.wanted import Questions

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt

    from simulator.metering.arrangement import Arrangement, WiredArrangement
    from simulator.metering.meters import Wattmeter
    from simulator.scenario.build import Total
    from simulator.scenario.models import Scenario
    from simulator.studies.draws import Draws
    from simulator.studies.kinds import Value
    from simulator.studies.paths import Quantity
    from simulator.studies.sweep import Sweep

    Array = npt.NDArray[Any]

SAMPLES = 32
"""Cases that the compiled networks are made for."""


def compile_model(scenario: Scenario, cases: Sweep | Draws) -> Model:
    """Compile what a study computes.

    Parameters
    ----------
    scenario : Scenario
        The scenario.
    cases : Sweep or Draws
        The cases.

    Returns
    -------
    Model
        The model.

    Raises
    ------
    ScenarioError
        If the scenario's tables contradict each other, whatever the quantities are, or if one
        quantity leaves nothing of another.
    NetworkError
        If a network has no unique solution, whatever they are.
    """
    conversion = Conversion(scenario, cases.quantities)
    measurement = build(scenario)
    sample = cases.sample()
    usual, whole = _usual_case(conversion, sample)
    _refuse_replaced(conversion, usual)
    stations = [
        wire(replace(whole, wattmeters=_at(whole, part))) for part in measurement.stations.values()
    ]
    felt = frozenset(
        name for wired in stations for name, place in wired.wired.items() if place.felt
    )
    numbers = entries_of(whole, felt)
    dependence = Dependence(conversion, felt, numbers)
    dependence = replace(dependence, names=dependence.varying(sample))
    samples = _samples(dependence, sample)
    compiler = _Compiler(numbers, dependence.names, samples, cases.count)
    networks = tuple(compiler.network(wired) for wired in stations)
    wattmeters = tuple(meter.name for meter in whole.wattmeters)
    outputs = _outputs(whole, measurement.total)
    # phase voltages say by themselves in which sequence they are
    may_turn = any(load.motor for load in whole.loads) and any(q.is_emf for q in cases.quantities)
    first, second, third = whole.conductors.lines[:: whole.supply.sequence]
    rotation = (f"source {first}", f"source {second}", f"source {third}") if may_turn else None
    total = measurement.total
    return Model(outputs, wattmeters, total, dependence, networks, rotation)


def _at(whole: Arrangement, part: Arrangement) -> tuple[Wattmeter, ...]:
    names = {meter.name for meter in part.wattmeters}
    return tuple(meter for meter in whole.wattmeters if meter.name in names)


def _usual_case(conversion: Conversion, sample: Sequence[Array]) -> tuple[list[Value], Arrangement]:
    """Convert a case in which every element that varies is in the network."""
    usual = [_is_usual(q, v) for q, v in zip(conversion.quantities, sample, strict=True)]
    for k in np.flatnonzero(np.logical_and.reduce(usual)).tolist():
        values = [each[k].item() for each in sample]
        try:
            return values, conversion.arrangement(values)
        except SimulatorError:
            continue
    each = zip(conversion.quantities, sample, usual, strict=True)
    values = [_usual(q, v[good]) for q, v, good in each]
    return values, conversion.arrangement(values)


def _is_usual(quantity: Quantity, values: Array) -> npt.NDArray[np.bool_]:
    """Find values that are possible, finite and not zero."""
    return np.asarray(quantity.kind.possible(values) & np.isfinite(values) & (values != 0))


def _usual(quantity: Quantity, good: Array) -> Value:
    base = quantity.base
    if len(good):
        return good[0].item()  # type: ignore[no-any-return]
    return base if base is not None and _is_usual(quantity, np.asarray(base)) else 1.0


def _refuse_replaced(conversion: Conversion, usual: Sequence[Value]) -> None:
    """Refuse a quantity of which another one leaves nothing, such as a branch before ``each``."""
    owners = [quantity.path.partition(":")[0] for quantity in conversion.quantities]
    for k, quantity in enumerate(conversion.quantities):
        if owners.count(owners[k]) == 1 or _matters(conversion, usual, k):
            continue
        if _matters(Conversion(conversion.scenario, (quantity,)), usual[k : k + 1], 0):
            raise ScenarioError(
                "it changes nothing beside the others: one that stands after it replaces it",
                quantity.path,
            )


def _matters(conversion: Conversion, usual: Sequence[Value], k: int) -> bool:
    """Tell whether anything varies with a quantity."""
    values: list[Any] = list(usual)
    values[k] = usual[k] * np.array([1, 0.99])
    try:
        entries = entries_of(conversion.arrangement(values), ())
    except CANNOT:
        return True
    ends = [(number[0], number[-1]) for number in map(np.atleast_1d, entries.values())]
    return any(a != b and abs(a - b) > 1e-9 * abs(a) for a, b in ends)


def _samples(dependence: Dependence, sample: Sequence[Array]) -> dict[str, Array]:
    numbers, _ = dependence.entries(sample)
    good = np.flatnonzero(np.isfinite(numbers).all(axis=0))[:SAMPLES]
    return dict(zip(dependence.names, numbers[:, good], strict=True))


@dataclass
class _Compiler:
    """Compiles the networks of the stations, one after the other."""

    numbers: dict[str, complex]
    varying: tuple[str, ...]
    samples: dict[str, Array]
    count: int
    read: set[str] = field(default_factory=set)

    def network(self, wired: WiredArrangement) -> tuple[Network, Answers]:
        for e in wired.netlist.elements:  # so that no element can be missed
            if isinstance(e, Impedance | Source) and wired.roles[e.name] != "earth":
                value = e.emf if isinstance(e, Source) else e.impedance
                assert self.numbers.get(e.name) == value, e.name  # noqa: S101
        questions = Questions(wired, self.numbers, self.varying)
        answers = self.answers(questions)
        motors = tuple(self.motors(questions))
        netlist = without_motors(wired.netlist, {motor.element: motor.usual for motor in motors})
        varied, sources = (
            [e.name for e in netlist.elements if isinstance(e, kind) and e.name in self.varying]
            for kind in (Impedance, Source)
        )
        driving = [name for motor in motors for name in motor.sources]
        program = compile_network(
            netlist,
            varied=varied,
            sources=[*sources, *driving],
            wanted=list(questions.wanted),
            samples=self.usual([*varied, *sources], len(driving)),
            cases=self.count,
        )
        terms = tuple(tuple(each) for each in questions.terms)
        return Network(program, (*varied, *sources), terms, motors), answers

    def answers(self, questions: Questions) -> Answers:
        """Ask for the readings of this station, and for what the loads take."""
        arrangement, places = questions.wired.arrangement, questions.wired.wired
        new = [meter for meter in arrangement.wattmeters if meter.name not in self.read]
        self.read |= {meter.name for meter in new}
        squares = []
        for voltmeter in arrangement.voltmeters:
            ends = places[voltmeter.name].ends
            assert ends is not None  # noqa: S101  (every voltmeter has a voltage circuit)
            squares.append(questions.squared(Voltage(*ends)))
        for ammeter in arrangement.ammeters:
            (circuit,) = places[ammeter.name].current_circuits
            squares.append(questions.squared(Current(circuit)))
        return Answers(
            tuple(questions.reading(meter) for meter in new),
            tuple(squares),
            questions.power(arrangement.loads, 1),
            questions.power(arrangement.loads, -1j),
        )

    def motors(self, questions: Questions) -> Iterator[VariedMotor]:
        arrangement = questions.wired.arrangement
        for load in arrangement.loads:
            element = load.element_name("")
            forwards, _ = fields_of(element)
            if load.motor and forwards in self.varying:
                first, second, third = (questions.motor_current(load, k) for k in range(3))
                yield VariedMotor(
                    element,
                    arrangement.supply.sequence,
                    (first, second, third),
                    self.numbers[forwards],
                )

    def usual(self, names: Sequence[str], n_driving: int) -> Array | None:
        """Collect usual values; those of the emfs in a motor's place do not matter."""
        values = [self.samples[name] for name in names]
        if not values or not len(values[0]):
            return None
        driving = np.ones((n_driving, len(values[0])), dtype=np.complex128)
        return np.concatenate([np.array(values), driving])


def _outputs(whole: Arrangement, total: Total | None) -> tuple[Output, ...]:
    found = [Output(meter.name, "W") for meter in whole.wattmeters]
    found += [Output(meter.name, "V") for meter in whole.voltmeters]
    found += [Output(meter.name, "A") for meter in whole.ammeters]
    unit = "var" if total and total.reactive else "W"
    if total:
        found.append(Output(TOTAL, unit, "total"))
    found.append(Output(TRUE, unit, "true"))
    if total:
        found += [Output(ERROR, unit, "error"), Output(ERROR, "%", "percent")]
    return tuple(found)

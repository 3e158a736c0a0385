"""From a checked scenario to the networks it describes, and what only several tables can tell."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pydantic import ValidationError

from simulator.errors import ScenarioError
from simulator.installation.conductors import EARTH
from simulator.metering.arrangement import Arrangement
from simulator.metering.formula import parse_formula
from simulator.scenario.labels import DEFAULT, labels_of
from simulator.scenario.models import Scenario
from simulator.scenario.refusals import explained
from simulator.scenario.to_installation import conductors_of, load_of, supply_of
from simulator.scenario.to_meters import MeterBuilder, write_out
from simulator.scenario.words import called, near, shown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.installation.conductors import Conductors
    from simulator.installation.loads import Load
    from simulator.installation.supply import Supply
    from simulator.metering.meters import Wattmeter


@dataclass(frozen=True)
class Total:
    """How a total is formed from the readings.

    Attributes
    ----------
    formula : str
        As the file writes it.
    coefficients : dict of str to float
        Weight of each reading.
    reactive : bool
        Whether it indicates a reactive power.
    """

    formula: str
    coefficients: dict[str, float]
    reactive: bool


@dataclass(frozen=True)
class Measurement:
    """What a scenario describes, in SI numbers: one arrangement for each station.

    Attributes
    ----------
    title : str
        The scenario's title.
    conductors : Conductors
        Names of the conductors.
    supply : Supply
        The supply.
    stations : dict of (int or None) to Arrangement
        The meters that are in circuit together; a single None without stations.
    wattmeters : tuple of Wattmeter
        All wattmeters in file order.
    total : Total or None
        How the total is formed.
    method : str or None
        Name of the method of the catalogue, if it is one.
    notes : tuple of str
        What was assumed because the file does not say it.
    """

    title: str
    conductors: Conductors
    supply: Supply
    stations: dict[int | None, Arrangement]
    wattmeters: tuple[Wattmeter, ...]
    total: Total | None
    method: str | None
    notes: tuple[str, ...]


def expand_method(scenario: Scenario) -> Scenario:
    """Replace ``[method]`` by the plain wattmeters and the formula it stands for.

    Parameters
    ----------
    scenario : Scenario
        Any scenario.

    Returns
    -------
    Scenario
        The same measurement without ``[method]``.

    Raises
    ------
    ScenarioError
        If the method does not fit, or stands beside wattmeters or a total.
    """
    if scenario.method is None:
        return scenario
    for key, table in (("[[wattmeter]]", scenario.wattmeter), ("[total]", scenario.total)):
        if table:
            raise ScenarioError(
                f"[method] already says what {key} would say; leave one out", "method"
            )
    tables = write_out(scenario.method, scenario, conductors_of(DEFAULT, scenario.supply.wires))
    try:
        plain = Scenario.model_validate({"title": "method", "supply": _ANY_SUPPLY, **tables})
    except ValidationError as error:  # a resistor as large as an absurd voltage circuit
        raise explained(error.errors(include_url=False)[0], tables, DEFAULT) from error
    meeting = {node for meter in plain.wattmeter for node in meter.voltage} - {*DEFAULT}
    for k, load in enumerate(scenario.load, 1):
        if load.star_point in meeting:
            raise ScenarioError(
                f"the method's own star point is called '{load.star_point}'; give the load's "
                "another name",
                f"{called('load', load.name or f'load {k}')}, star_point",
            )
    return scenario.model_copy(
        update={
            "method": None,
            "wattmeter": plain.wattmeter,
            "total": plain.total,
            "impedance": [*scenario.impedance, *plain.impedance],
        }
    )


_ANY_SUPPLY = {"wires": 4, "voltage": "400 V"}
_MOST_TOGETHER = 200  # loads, meters and impedances of all stations: about a second of solving


def build(scenario: Scenario) -> Measurement:
    """Turn a scenario into what it describes.

    Parameters
    ----------
    scenario : Scenario
        A checked scenario.

    Returns
    -------
    Measurement
        Its arrangements and its total.

    Raises
    ------
    ScenarioError
        If its tables contradict each other; it names the place.
    """
    labels = labels_of({"labels": scenario.labels})
    conductors = conductors_of(labels, scenario.supply.wires)
    supply = supply_of(scenario.supply, conductors)
    plain = expand_method(scenario)
    loads, notes = _loads(plain, conductors, supply)
    meters = MeterBuilder(plain, conductors, supply.frequency)
    wattmeters = meters.wattmeters()
    whole = Arrangement(
        conductors,
        supply,
        loads,
        wattmeters,
        meters.voltmeters(),
        meters.ammeters(),
        meters.impedances(),
    )
    _check_names(whole)
    _check_nodes(whole)
    return Measurement(
        title=scenario.title,
        conductors=conductors,
        supply=supply,
        stations=_stations(whole),
        wattmeters=wattmeters,
        total=_total(plain, wattmeters),
        method=scenario.method.name if scenario.method else None,
        notes=tuple(dict.fromkeys(notes)),  # `each` says it three times
    )


def _loads(
    scenario: Scenario, conductors: Conductors, supply: Supply
) -> tuple[tuple[Load, ...], list[str]]:
    loads, notes = [], []
    for k, table in enumerate(scenario.load, 1):
        load, assumed = load_of(table, table.name or f"load {k}", conductors, supply)
        loads.append(load)
        notes += assumed
    return tuple(loads), notes


def _total(scenario: Scenario, wattmeters: tuple[Wattmeter, ...]) -> Total | None:
    if scenario.total is None:
        return None
    reactive = scenario.total.power is None
    formula = scenario.total.reactive_power if reactive else scenario.total.power
    assert formula is not None  # noqa: S101  (the model demands one of the two)
    try:
        coefficients = parse_formula(formula, [w.name for w in wattmeters])
    except ValueError as error:
        key = "reactive_power" if reactive else "power"
        raise ScenarioError(str(error), f"total, {key}") from error
    if not any(coefficients.values()):
        raise ScenarioError(f"the readings cancel in {shown(formula)}", "total")
    return Total(formula, coefficients, reactive)


def _stations(whole: Arrangement) -> dict[int | None, Arrangement]:
    """Split into networks: at a station only its meters and those without one are in circuit."""
    numbers = sorted({w.station for w in whole.wattmeters if w.station is not None})
    parts: dict[int | None, Arrangement] = {}
    for number in numbers or (None,):
        meters = tuple(w for w in whole.wattmeters if w.station in (None, number))
        parts[number] = Arrangement(
            whole.conductors,
            whole.supply,
            whole.loads,
            meters,
            whole.voltmeters,
            whole.ammeters,
            whole.impedances,
        )
    _check_size(parts)
    return parts


def _check_size(parts: dict[int | None, Arrangement]) -> None:
    together = sum(
        len(part.loads)
        + len(part.wattmeters)
        + len(part.voltmeters)
        + len(part.ammeters)
        + len(part.impedances)
        for part in parts.values()
    )
    if together > _MOST_TOGETHER:
        stations = f", counted anew at each of {len(parts)} stations" if len(parts) > 1 else ""
        raise ScenarioError(
            f"expected at most {_MOST_TOGETHER} loads, meters and impedances, got {together}"
            f"{stations}",
            "scenario",
        )


def _check_names(whole: Arrangement) -> None:
    meters = [w.name for w in whole.wattmeters] + [v.name for v in whole.voltmeters]
    meters += [a.name for a in whole.ammeters]
    others = [load.name for load in whole.loads] + [z.name for z in whole.impedances]
    for names, what in ((meters, "meters"), (others, "loads or impedances")):
        for name, n in Counter(names).items():
            if n > 1:
                raise ScenarioError(f"two {what} are called '{name}'; rename one of them", "names")


def _node_mentions(whole: Arrangement) -> Iterator[tuple[str, str]]:
    """Yield every node that is no conductor, with the place where it is mentioned."""
    fixed = {*whole.conductors.all} | ({EARTH} if whole.supply.earthed else set())
    ends = [(w.voltage, f"wattmeter '{w.name}', voltage") for w in whole.wattmeters]
    ends += [(v.between, f"voltmeter '{v.name}', between") for v in whole.voltmeters]
    ends += [(z.between, f"{called('impedance', z.name)}, between") for z in whole.impedances]
    for nodes, place in ends:
        yield from ((node, place) for node in nodes if node not in fixed)
    for load in whole.loads:
        if load.star_point and load.star_point not in fixed:
            for _ in load.branches:
                yield load.star_point, f"{called('load', load.name)}, star_point"


def _check_nodes(whole: Arrangement) -> None:
    """Refuse a named node that only one thing mentions: nearly always a slip of the pen."""
    mentions = list(_node_mentions(whole))
    counts = Counter(node for node, _ in mentions)
    fixed = (*whole.conductors.all, *((EARTH,) if whole.supply.earthed else ()))
    for node, place in mentions:
        known = [*fixed, *(n for n in counts if n != node and " " not in n)]
        twin = next((n for n in known if n.casefold() == node.casefold()), None)
        if twin:
            raise ScenarioError(
                f"'{node}' and '{twin}' differ only in upper and lower case; "
                f"did you mean '{twin}'?",
                place,
            )
        if counts[node] == 1:
            raise ScenarioError(
                f"nothing else is connected to '{node}'; {near(node, known)}", place
            )

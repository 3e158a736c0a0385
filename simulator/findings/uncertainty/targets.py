"""What a quantity that may be given a tolerance stands for, by the words of the scenario file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from simulator.errors import ScenarioError
from simulator.network.elements import IdealTransformer, Impedance, Source
from simulator.scenario.words import near, shown

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from simulator.findings.result import Result
    from simulator.findings.uncertainty.units import Units
    from simulator.network.elements import Element

Channel = Literal["gain_error", "phase_error", "ratio_error", "phase_displacement"]


@dataclass(frozen=True)
class ChannelTarget:
    """An error of an instrument or of a transformer, which turns or scales phasors.

    Attributes
    ----------
    name : str
        Name of the instrument or the transformer.
    channel : str
        Which error.
    """

    name: str
    channel: Channel


@dataclass(frozen=True)
class ElementTarget:
    """Elements of the network, in groups that deviate together.

    Attributes
    ----------
    groups : dict of str to tuple of str
        By what deviates, the names of its elements.
    """

    groups: dict[str, tuple[str, ...]]


Target = ChannelTarget | ElementTarget


def find_target(path: str, known: Mapping[str, Target]) -> Target:
    """Find what a quantity stands for.

    Parameters
    ----------
    path : str
        The quantity.
    known : mapping of str to Target
        What there is.

    Returns
    -------
    ChannelTarget or ElementTarget
        What it stands for.

    Raises
    ------
    ScenarioError
        If there is no such quantity; it names the nearest.
    """
    if path not in known:
        raise ScenarioError(
            f"there is no quantity {shown(path)} that a tolerance could be about; "
            f"{near(path, known)}"
        )
    return known[path]


def targets(
    result: Result, instruments: Sequence[str | None], units: Mapping[str, Units]
) -> dict[str, Target]:
    """List every quantity of a scenario that may be given a tolerance.

    Parameters
    ----------
    result : Result
        The solved scenario.
    instruments : sequence of str or None
        Name of the instrument of each wattmeter.
    units : mapping of str to Units
        The units behind each reading.

    Returns
    -------
    dict of str to Target
        By the words of the file, such as "ovens: L2"; after them by the name of the element.
    """
    elements = varying_elements(result)
    named = {name: _together(name, name) for name in elements}
    words = dict(_words(result)) | dict(_circuits(result, instruments, units))
    found: dict[str, Target] = {}
    for path, target in words.items():
        groups = {
            label: kept
            for label, names in target.groups.items()
            if (kept := tuple(name for name in names if name in elements))
        }
        if groups:
            found[path] = ElementTarget(groups)
    return named | found | dict(_channels(result, instruments))


def varying_elements(result: Result) -> dict[str, Element]:
    """List the elements that have a size that may deviate.

    Parameters
    ----------
    result : Result
        The solved scenario.

    Returns
    -------
    dict of str to Element
        By name, from all stations; without opens, and without what has no impedance at all.
    """
    return {
        e.name: e
        for station in result.stations
        for e in station.wired.netlist.elements
        if not isinstance(e, IdealTransformer) and not _is_nothing(e)
    }


def _is_nothing(element: Element) -> bool:
    if isinstance(element, Impedance):
        return element.is_open or element.impedance == 0
    return isinstance(element, Source) and element.emf == 0


def _together(label: str, *names: str) -> ElementTarget:
    return ElementTarget({label: names})


def _words(result: Result) -> Iterator[tuple[str, ElementTarget]]:
    """Yield supply, loads and separate impedances: of each what deviates together is one."""
    arrangement = result.first.arrangement
    conductors = arrangement.conductors
    lines = conductors.lines
    for path in ("supply", "supply: voltage"):
        yield path, _together("supply: voltage", *(f"source {line}" for line in lines))
    for line in lines:
        yield f"supply: {line}", _together(f"supply: {line}", f"source {line}")
    path = "supply: line_impedance"
    yield path, _together(path, *(f"line {line}" for line in lines))
    path = "supply: neutral_impedance"
    yield path, _together(path, f"neutral {conductors.neutral}")
    for load in arrangement.loads:
        branches = [load.element_name(branch.name) for branch in load.branches]
        whole = branches or [load.element_name("")]
        for path in (load.name, f"{load.name}: each", f"{load.name}: total"):
            yield path, _together(load.name, *whole)
        for branch in load.branches:
            path = f"{load.name}: {branch.name}"
            yield path, _together(path, load.element_name(branch.name))
        path = f"{load.name}: lead_impedance"
        yield path, _together(path, *(load.lead_name(line) for line in lines))
        path = f"{load.name}: neutral_lead"
        yield path, _together(path, load.lead_name(conductors.neutral or ""))
    for part in arrangement.impedances:
        for path in (part.name, f"{part.name}: value"):
            yield path, _together(part.name, part.element_name)


def _circuits(
    result: Result, instruments: Sequence[str | None], units: Mapping[str, Units]
) -> Iterator[tuple[str, ElementTarget]]:
    """Yield the circuits of instruments: each unit deviates by itself."""
    for kind in ("current_circuit", "voltage_circuit"):
        groups: dict[str, dict[str, tuple[str, ...]]] = {}
        for meter, name in zip(result.measurement.wattmeters, instruments, strict=True):
            if name is None:
                continue
            what = kind.replace("_", " ")
            names = tuple(f"{what} of {meter.name} in {w.conductor}" for w in meter.windings)
            if kind == "voltage_circuit":
                names = (f"{what} of {meter.name}",)
            group = groups.setdefault(f"instrument {name}: {kind}", {})
            label = f"{what} of {units[meter.name].instrument}"
            group[label] = group.get(label, ()) + names
        for path, found in groups.items():
            yield path, ElementTarget(found)


def _channels(
    result: Result, instruments: Sequence[str | None]
) -> Iterator[tuple[str, ChannelTarget]]:
    """Yield the errors of instruments and transformers."""
    for meter, name in zip(result.measurement.wattmeters, instruments, strict=True):
        if name is not None:
            for channel in ("gain_error", "phase_error"):
                yield f"instrument {name}: {channel}", ChannelTarget(name, channel)
        for kind in ("current_transformer", "voltage_transformer"):
            transformer = getattr(meter, kind)
            if transformer is not None:
                for key in ("ratio_error", "phase_displacement"):
                    path = f"{kind} {transformer.name}: {key}"
                    yield path, ChannelTarget(transformer.name, key)

"""One way to have wired an arrangement."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from simulator.metering.meters import Wattmeter
    from simulator.scenario.build import Measurement

RIGHT_WIRING = "wired as in the scenario"


@dataclass(frozen=True)
class Wiring:
    """One way in which an arrangement may be wired.

    Attributes
    ----------
    description : str
        What is wrong with it.
    slips : int
        How many mistakes it takes; 0 for the right wiring.
    measurement : Measurement
        What is then measured, for the whole network to predict.
    caution : str
        A danger that goes with it; empty for none.
    """

    description: str
    slips: int
    measurement: Measurement
    caution: str = ""


def rewired(measurement: Measurement, change: Callable[[Wattmeter], Wattmeter]) -> Measurement:
    """Change the wattmeters of a measurement, at all its stations.

    Parameters
    ----------
    measurement : Measurement
        What is measured.
    change : callable
        Gives the wattmeter that takes the place of another.

    Returns
    -------
    Measurement
        The same with other wattmeters.
    """
    stations = {
        number: replace(a, wattmeters=tuple(change(meter) for meter in a.wattmeters))
        for number, a in measurement.stations.items()
    }
    wattmeters = tuple(change(meter) for meter in measurement.wattmeters)
    return replace(measurement, wattmeters=wattmeters, stations=stations)


def with_meter(
    measurement: Measurement, name: str, change: Callable[[Wattmeter], Wattmeter]
) -> Measurement:
    """Change one wattmeter of a measurement.

    Parameters
    ----------
    measurement : Measurement
        What is measured.
    name : str
        Name of the wattmeter.
    change : callable
        Gives the one that takes its place.

    Returns
    -------
    Measurement
        The same with another wattmeter.
    """
    return rewired(measurement, lambda meter: change(meter) if meter.name == name else meter)


def circuit_noun(meters: Iterable[Wattmeter], kind: str) -> str:
    """Name what is handled when a circuit is connected.

    Parameters
    ----------
    meters : iterable of Wattmeter
        The wattmeters.
    kind : {'current', 'voltage'}
        Which circuit.

    Returns
    -------
    str
        "current transformer" where every wattmeter has one, else "current circuit".
    """
    fed = all(getattr(meter, f"{kind}_transformer") for meter in meters)
    return f"{kind} {'transformer' if fed else 'circuit'}"

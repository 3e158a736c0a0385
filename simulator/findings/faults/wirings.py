"""Every plausible way to have wired an arrangement, the right one first."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from simulator.findings.faults.misconnections import misconnections
from simulator.findings.faults.parts import failed_parts

if TYPE_CHECKING:
    from simulator.findings.faults.wiring import Wiring
    from simulator.scenario.build import Measurement


def wirings(measurement: Measurement) -> list[Wiring]:
    """List the plausible wirings of an arrangement.

    Parameters
    ----------
    measurement : Measurement
        What is measured, rightly wired.

    Returns
    -------
    list of Wiring
        The right wiring, then the wrong ones, those with fewest slips first.
    """
    found: dict[object, Wiring] = {}
    for wiring in itertools.chain(misconnections(measurement), failed_parts(measurement)):
        measured = wiring.measurement
        # An open secondary may be predicted like a shorted one and is another fault all the same.
        key = (measured.wattmeters, measured.supply.emfs, wiring.caution)
        found.setdefault(key, wiring)
    return sorted(found.values(), key=lambda wiring: wiring.slips)

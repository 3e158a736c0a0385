"""The numbers of an arrangement by name: what its network's elements and its meters depend on."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from simulator.installation.transformers import InstrumentTransformer
    from simulator.metering.arrangement import Arrangement
    from simulator.metering.meters import Wattmeter

OPEN = complex(math.inf)
Entry = tuple[str, complex]


def entries_of(whole: Arrangement, felt: Collection[str]) -> dict[str, complex]:
    """List the numbers of an arrangement.

    Parameters
    ----------
    whole : Arrangement
        The arrangement, with the meters of all stations.
    felt : collection of str
        Wattmeters whose voltage transformer is part of the network.

    Returns
    -------
    dict of str to complex
        Under the name of an element its impedance [ohm] or emf [V], of a motor that of either
        rotating field (see `fields_of`), of a wattmeter its factors (see `factors_of`).
    """
    supply, conductors = whole.supply, whole.conductors
    found: dict[str, complex] = {}
    for line, emf, z in zip(conductors.lines, supply.emfs, supply.line_impedances, strict=True):
        found[f"source {line}"], found[f"line {line}"] = emf, z
    found[f"neutral {conductors.neutral}"] = supply.neutral_impedance
    for load in whole.loads:
        found |= {load.element_name(b.name): b.impedance for b in load.branches}
        found |= {load.lead_name(c): z for c, z in load.leads.items()}
        if load.motor:
            names = fields_of(load.element_name(""))
            found |= dict(zip(names, load.motor.sequence_impedances(), strict=True))
    found |= {z.element_name: z.impedance for z in whole.impedances}
    for meter in whole.wattmeters:
        for winding in meter.windings:
            where = f"{meter.name} in {winding.conductor}"
            found[f"current circuit of {where}"] = meter.instrument.current_circuit
            if meter.current_transformer:
                found |= _of_current_transformer(meter.current_transformer, where)
        found[f"voltage circuit of {meter.name}"] = meter.instrument.voltage_circuit
        if meter.voltage_transformer:
            found |= _of_voltage_transformer(meter.voltage_transformer, meter.name)
        found |= zip(factors_of(meter.name), _factors(meter, felt=meter.name in felt), strict=True)
    for ammeter in whole.ammeters:
        where = f"{ammeter.name} in {ammeter.conductor}"
        found[f"current circuit of {where}"] = ammeter.instrument.current_circuit
    for voltmeter in whole.voltmeters:
        found[f"voltage circuit of {voltmeter.name}"] = voltmeter.instrument.voltage_circuit
    return found


def fields_of(element: str) -> tuple[str, str]:
    """Name the impedances of a motor for the positive and the negative rotating field.

    Parameters
    ----------
    element : str
        Name of the motor's element.

    Returns
    -------
    tuple of str
        The two names.
    """
    return f"{element} forwards", f"{element} backwards"


def factors_of(meter: str) -> tuple[str, str]:
    """Name the factors a and b of a reading ``Re(a·V·conj(I) + b·|V|²)``.

    Parameters
    ----------
    meter : str
        Name of the wattmeter. V is the voltage that its circuit, or the primary of its
        transformer, lies at; I is the signed sum of the currents in its windings.

    Returns
    -------
    tuple of str
        The two names.
    """
    return f"factor of {meter}", f"own share of {meter}"


def _factors(meter: Wattmeter, *, felt: bool) -> tuple[complex, complex]:
    """Work out the factors as `simulator.metering.readings` forms a reading."""
    instrument, ct, vt = meter.instrument, meter.current_transformer, meter.voltage_transformer
    on_voltage = vt.error_factor / (1 if felt else vt.ratio) if vt else 1 + 0j
    on_current = ct.error_factor if ct else 1 + 0j
    on_voltage *= -1 if meter.voltage_reversed else 1
    on_current *= -1 if meter.current_reversed else 1
    shown = meter.ratio * instrument.voltage_factor * on_voltage
    own = 0j
    if instrument.compensated:
        own = -shown * (on_voltage / instrument.voltage_circuit).conjugate()
    return shown * on_current.conjugate(), own


def _of_current_transformer(transformer: InstrumentTransformer, where: str) -> Iterator[Entry]:
    name = f"current transformer of {where}"
    yield f"magnetising branch of {name}", transformer.magnetising
    yield f"winding of {name}", transformer.winding
    yield f"leads of {name}", transformer.leads
    yield f"burden of {name}", 0j if transformer.burden is None else transformer.burden
    yield f"short of {name}", transformer.winding


def _of_voltage_transformer(transformer: InstrumentTransformer, meter: str) -> Iterator[Entry]:
    name, half = f"voltage transformer of {meter}", transformer.winding / 2
    yield f"first half of the winding of {name}", half
    yield f"magnetising branch of {name}", transformer.magnetising
    yield f"winding of {name}", half
    yield f"burden of {name}", OPEN if transformer.burden is None else transformer.burden
    yield f"leads of {name}", transformer.leads
    yield f"short of {name}", half

"""An independent reference: a sparse tableau solved in 40 digits, and its own reading rule.

Nothing is shared with `simulator.network.nodal`. Unknown are the potential of every node and, for
every pair of terminals, both its voltage and its current; each element contributes its law, each
pair Kirchhoff's voltage law, each node but the reference his current law (Hachtel, Brayton and
Gustavson, "The sparse tableau approach to network analysis and design", IEEE Trans. Circuit
Theory CT-18, 1971; cited from memory). The rows are dicts, eliminated shortest first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from mpmath import mp, mpc, mpf

from simulator.metering.instruments import Kind
from simulator.network.elements import IdealTransformer, Impedance, Source

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.findings.station import Station
    from simulator.metering.meters import Wattmeter
    from simulator.network.netlist import Netlist

DIGITS = 40
GUARD = 15  # the elimination picks short rows before large pivots

Unknown = tuple[str, ...]
Row = dict[Unknown, mpc]
ONE: Unknown = ()  # the column of the right-hand side


def solve_reference(netlist: Netlist) -> dict[Unknown, mpc]:
    """Solve a netlist: ("V", node), and of each element ("U", name, k) and ("I", name, k).

    k numbers an element's pairs of terminals: 0, of a transformer 0 and 1; a block of several
    terminals has only currents, k numbers its terminals.
    """
    with mp.workdps(DIGITS + GUARD):
        return _eliminate(list(_tableau(netlist)))


def _tableau(netlist: Netlist) -> Iterator[Row]:
    into: dict[str, Row] = {node: {} for node in netlist.nodes}

    def flows(node: str, current: Unknown, sign: int) -> None:
        into[node][current] = into[node].get(current, mpc(0)) + sign

    yield {("V", netlist.reference): mpc(1)}
    for element in netlist.elements:
        name = element.name
        if isinstance(element, IdealTransformer):
            n = mpf(element.turns_ratio)
            yield {("U", name, "0"): mpc(1), ("U", name, "1"): -n}
            yield {("I", name, "1"): mpc(1), ("I", name, "0"): n}
            pairs = [element.primary, element.secondary]
        elif isinstance(element, Source | Impedance):
            pairs = [element.terminals]
            u, i = ("U", name, "0"), ("I", name, "0")
            if isinstance(element, Impedance) and element.is_open:
                yield {i: mpc(1)}
            else:
                emf = element.emf if isinstance(element, Source) else 0
                yield {u: mpc(1), i: -mpc(element.impedance), ONE: -mpc(emf)}
        else:
            pairs = []
            for k, node in enumerate(element.terminals):
                flows(node, ("I", name, str(k)), 1)
                law: Row = {("I", name, str(k)): mpc(1)}
                for other, y in zip(element.terminals, element.admittance[k].tolist(), strict=True):
                    law["V", other] = law.get(("V", other), mpc(0)) - mpc(y)
                yield law
        for k, (start, end) in enumerate(pairs):
            yield {("U", name, str(k)): mpc(1), ("V", start): mpc(-1), ("V", end): mpc(1)}
            flows(start, ("I", name, str(k)), 1)
            flows(end, ("I", name, str(k)), -1)
    yield from (row for node, row in into.items() if node != netlist.reference)


def _eliminate(rows: list[Row]) -> dict[Unknown, mpc]:
    solved: list[tuple[Unknown, Row]] = []
    while rows:
        row = rows.pop(min(range(len(rows)), key=lambda k: len(rows[k])))
        pivot = max((c for c in row if c != ONE), key=lambda c: abs(row[c]))
        rule = {c: -value / row[pivot] for c, value in row.items() if c != pivot}
        solved.append((pivot, rule))
        rows = [_substitute(other, pivot, rule) for other in rows]
    found: dict[Unknown, mpc] = {ONE: mpc(1)}
    for pivot, rule in reversed(solved):
        found[pivot] = sum((value * found[c] for c, value in rule.items()), mpc(0))
    return found


def _substitute(row: Row, pivot: Unknown, rule: Row) -> Row:
    if pivot not in row:
        return row
    factor = row.pop(pivot)
    for column, value in rule.items():
        new = row.get(column, mpc(0)) + factor * value
        largest = max(abs(row.get(column, 0)), abs(factor * value))
        if abs(new) > largest * mpf(10) ** -(DIGITS + GUARD - 3):
            row[column] = new
        else:
            row.pop(column, None)
    return row


def read_reference(station: Station) -> dict[str, tuple[mpf, mpf, mpf]]:
    """Read every wattmeter of a station: watts at the primary, and the |V| and |I| it feels.

    design/physics.md, section 1: an electrodynamic wattmeter follows the currents of both its
    circuits, W = k·Re(Z_v0·I_v·conj(I_c)); an electronic one W = k·(1 + ε)·Re(V·conj(I)·e^{jδ}).
    """
    found = solve_reference(station.wired.netlist)
    with mp.workdps(DIGITS):
        return {
            meter.name: _read(meter, station, found) for meter in station.arrangement.wattmeters
        }


def _read(meter: Wattmeter, station: Station, found: dict[Unknown, mpc]) -> tuple[mpf, mpf, mpf]:
    place, instrument, k = station.wired.wired[meter.name], meter.instrument, mpf(1)
    windings = zip(meter.windings, place.current_circuits, strict=True)
    current = sum((w.sign * found["I", element, "0"] for w, element in windings), mpc(0))
    start, end = place.ends
    voltage = found["V", start] - found["V", end]
    if transformer := meter.current_transformer:
        current *= _turned(1 + mpf(transformer.ratio_error), transformer.phase_displacement)
        k *= mpf(transformer.ratio)
    errors = mpc(1)
    if transformer := meter.voltage_transformer:
        errors = _turned(1 + mpf(transformer.ratio_error), transformer.phase_displacement)
        voltage /= mpf(transformer.ratio)
        k *= mpf(transformer.ratio)
    circuit = ("I", f"voltage circuit of {meter.name}", "0")
    if instrument.kind is Kind.ELECTRONIC:
        felt = voltage * _turned(1 + mpf(instrument.gain_error), instrument.phase_error)
    elif circuit in found:
        felt = mpf(instrument.voltage_circuit.real) * found[circuit]
    else:  # it only senses, or both its ends are at one node
        felt = voltage
    sign = (-1) ** (meter.current_reversed + meter.voltage_reversed)
    watts = sign * k * (felt * errors * mp.conj(current)).real
    return watts, k * abs(voltage), abs(current)


def _turned(size: mpf, degrees: float) -> mpc:
    return size * mp.expjpi(mpf(degrees) / 180)

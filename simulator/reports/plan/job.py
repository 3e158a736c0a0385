"""Which job it is, how it is measured, and why that is right."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.words import power_factor, quantity
from simulator.findings.conditions import conditions_of
from simulator.findings.drift import drift_advice, study_drift
from simulator.findings.exactness import exactness_table
from simulator.findings.sensing import sense_total
from simulator.reports.document import Blanks, Heading, Items, Table, Text, Together
from simulator.reports.plan.spans import angle_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.findings.exactness import Row as Exactness
    from simulator.findings.result import Result
    from simulator.metering.meters import Wattmeter
    from simulator.reports.document import Block
    from simulator.reports.plan.cases import Plan

# Right for any load, by the number of wires.
METHODS = {3: "two wattmeters", 4: "three wattmeters to neutral"}


def job_blocks(plan: Plan) -> list[Block]:
    """Write the job: who and where, and what is planned for.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of Block
        Blanks and a paragraph; what is found instead is asked for by tables and check list.
    """
    return [
        Blanks(("Date, place", "Measured by", "Locked off by")),
        Text(f"{'; '.join(_job(plan))}.", "Planned for."),
    ]


def _job(plan: Plan) -> Iterator[str]:
    result = plan.result
    measurement, station = result.measurement, result.first
    supply, conductors = measurement.supply, measurement.conductors
    E = supply.emfs
    between = dict.fromkeys(quantity(abs(E[k] - E[(k + 1) % 3]), "V") for k in range(3))
    earthed = f"{supply.earthed} earthed at the source" if supply.earthed else "earthing not stated"
    yield f"{' / '.join(between)} between {', '.join(conductors.lines)}, {earthed}"
    for load, found in zip(station.arrangement.loads, station.loads, strict=True):
        yield f"load '{load.name}': {load.connection}, {_power(found.power)}"
    if len(station.loads) > 1:
        yield f"loads together: {_power(station.true)}"
    if len(plan.span) > 1:
        last = plan.span[-1].words.removeprefix("power factor ")
        yield f"{plan.span[0].words} to {last}, power kept"


def _power(power: complex) -> str:
    if not power:
        return "takes nothing"
    said = f"{quantity(power.real, 'W')}, {quantity(power.imag, 'var')}"
    return f"{said}, {power_factor(angle_of(power))}" if power.real > 0 else said


def method_blocks(plan: Plan) -> list[Block]:
    """Write the arrangement, the formula, and for which supplies and loads it is right.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of Block
        Table of the meters, and paragraphs.
    """
    result = plan.result
    blocks: list[Block] = [Heading("Method"), _meters(result)]
    total = result.total
    if total is None:
        return [Together((*blocks, Text("No total is formed from the readings.")))]
    formula = total.formula.replace("*", " × ").replace("-", "−")
    symbol = "Q" if total.reactive else "P"
    through = any(r.meter.ratio != 1 for r in result.readings.values())
    primary = ", readings referred to the primary of the transformers" if through else ""
    blocks.append(Text(f"{symbol} = {formula}{primary}.", f"Total ({total.quantity})."))
    blocks.append(Text(total.reason, "With this load."))
    blocks.append(Text(_as_long_as(result), "The method holds"))
    return [Together(tuple(blocks))]


def wrong_method(result: Result) -> str:
    """Say that a method is none for this load.

    Parameters
    ----------
    result : Result
        What is read.

    Returns
    -------
    str
        A sentence; empty where the total is right to 2 %.
    """
    total = result.total
    if total is None or total.is_right or abs(total.method_error) <= 0.02 * abs(total.true):
        return ""
    right = METHODS[result.measurement.conductors.wires]
    off = f"{abs(total.error_percent):.1f} % too {'high' if total.error > 0 else 'low'}"
    return f"The total will be {off}; on these wires '{right}' is right for any load."


def _meters(result: Result) -> Table:
    rows = [
        (
            meter.name,
            meter.current_text,
            f"{meter.voltage[0]} to {meter.voltage[1]}",
            _through(meter),
            "" if meter.station is None else str(meter.station),
        )
        for meter in result.measurement.wattmeters
    ]
    headings = ["meter", "current circuit in", "voltage circuit from, to", "through"]
    if any(row[-1] for row in rows):
        return Table((*headings, "station"), tuple(rows), "lllll")
    return Table(tuple(headings), tuple(row[:-1] for row in rows), "llll")


def _through(meter: Wattmeter) -> str:
    """Name the transformers that feed a meter, and what is turned round on purpose."""
    said = []
    for kind, transformer in (
        ("current", meter.current_transformer),
        ("voltage", meter.voltage_transformer),
    ):
        if transformer:
            said.append(f"{kind} transformer {transformer.name}, {transformer.ratio:g} to 1")
    if meter.current_reversed:
        said.append("current circuit reversed")
    if meter.voltage_reversed:
        said.append("voltage circuit reversed")
    return "; ".join(said) or "direct"


def _as_long_as(result: Result) -> str:
    """Say under which conditions the method, with ideal meters, is right."""
    measurement, conditions = result.measurement, conditions_of(result.first)
    assert measurement.total is not None  # noqa: S101  (asked for only where there is one)
    sensed, _ = sense_total(measurement, measurement.total)
    rows = [row for row in exactness_table(sensed, measurement.supply.sequence) if row.exact]
    wires = measurement.conductors.wires
    ways = (
        f"no current takes another way than these {wires} wires"
        f"{' (a neutral in use, an earth fault)' if wires == 3 else ' (an earth fault)'}"
    )
    if not rows:
        return "for no load and supply at all: it is right by coincidence at best."
    here = [row for row in rows if conditions.fits(row)]
    if not here:
        widest = " or ".join(_demands(row) for row in _widest(rows))
        return f"only if {widest}, and that is not so here."
    demands = [_demands(row) for row in _widest(here)]
    if not all(demands):
        return f"for any load on any supply, as long as {ways}."
    return f"as long as {', or as long as '.join(demands)}; and {ways}. Otherwise it does not."


def _widest(rows: list[Exactness]) -> list[Exactness]:
    """Leave out the rows that a wider one covers."""
    loads = {"any": 0, "no neutral current": 1, "balanced": 2, "balanced resistive": 3}
    supplies = {"any": 0, "zero-sum": 1, "symmetrical": 2}

    def covers(wide: Exactness, narrow: Exactness) -> bool:
        same = wide.load == narrow.load or loads[wide.load] < loads[narrow.load]
        wider = same and supplies[wide.supply] <= supplies[narrow.supply]
        if wide.load == "no neutral current" and narrow.load != wide.load:
            return wider and narrow.supply != "any"  # a balanced load has none on zero-sum voltages
        return wider

    return [r for r in rows if not any(covers(w, r) for w in rows if w is not r)]


def _demands(row: Exactness) -> str:
    """Say what a class of supply and load demands; nothing where it is all there is."""
    load = {
        "any": "",
        "no neutral current": "no neutral current flows",
        "balanced": "the load is balanced",
        "balanced resistive": "the load is balanced and resistive",
    }[row.load]
    supply = {
        "any": "",
        "zero-sum": "the voltages to the neutral sum to zero",
        "symmetrical": "the voltages are symmetrical",
    }[row.supply]
    turns = "" if row.either_sequence else "the sequence is as stated"
    return " and ".join(filter(None, (load, supply, turns)))


def turns_blocks(plan: Plan) -> list[Block]:
    """Say in which order one meter is moved, and leave room for readings there and back.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of Block
        Advice and a table; nothing where no meter is moved.
    """
    if len(plan.result.stations) < 2:
        return []
    study = study_drift(plan.result)
    moved = (
        "A current circuit is moved with the line dead, or by a clamp-on sensor: never open a "
        "conductor under load."
    )
    blocks: list[Block] = [Heading("One meter in turn"), Text(moved, caution=True)]
    if study is None:
        return [Together(tuple(blocks))]
    blocks.append(Items(drift_advice(study)))
    rows = tuple(
        (str(k), " and ".join(place), "", "", "")
        for k, place in enumerate(study.there_and_back.order, 1)
    )
    blocks.append(
        Table(
            ("no.", "read", "time", "reading at the meter W", "line current A"),
            rows,
            "rlrrr",
            "Readings in turn, in equal intervals",
        )
    )
    return [Together(tuple(blocks))]

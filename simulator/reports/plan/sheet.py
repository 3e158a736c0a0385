"""The plan as a document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.connections.listing import connection_list
from simulator.figures.every import figures_of
from simulator.figures.words import circumstances

# what the cautions already say
from simulator.findings.notes import BEHIND_TRANSFORMERS, out_of_band
from simulator.reports.document import (
    Blanks,
    Document,
    Heading,
    Items,
    Space,
    Table,
    Text,
    Together,
    fitted,
)
from simulator.reports.plan.cautions import caution_blocks
from simulator.reports.plan.check_list import check_blocks
from simulator.reports.plan.expected import expected_blocks, limits_words
from simulator.reports.plan.job import job_blocks, method_blocks, turns_blocks
from simulator.reports.plan.ranges import ranges_blocks
from simulator.reports.plan.wrong import wrong_blocks

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.reports.document import Block
    from simulator.reports.plan.cases import Plan


def plan_document(plan: Plan) -> Document:
    """Write a plan as a document.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Document
        What is filled in at the switchboard first: job, cautions, expected readings, wrong ones;
        then check list and connections; then why it is measured so.
    """
    title = plan.result.measurement.title
    description = plan.scenario.description
    about = f"{circumstances(plan.result)}."
    blocks: list[Block] = [
        *job_blocks(plan),
        *caution_blocks(plan),
        *expected_blocks(plan),
        *turns_blocks(plan),
        *_outcome(plan),
        *wrong_blocks(plan),
        *check_blocks(plan),
        *_connections(plan),
        *method_blocks(plan),
        *ranges_blocks(plan),
        *_assumptions(plan),
        *_pictures(plan),
    ]
    subtitle = f"{description}. {about}" if description else about
    return Document(
        f"Measurement plan: {title}",
        subtitle,
        blocks,
        f"{title} - measurement plan - a prediction, no permit; local codes prevail",
    )


def _connections(plan: Plan) -> Iterator[Block]:
    """List what is connected for the measurement; supply and loads are there already."""
    arrangement = plan.result.first.arrangement
    there = (
        *(f"{load.name}, " for load in arrangement.loads),
        *(f"impedance of {conductor}, " for conductor in arrangement.conductors.all),
        "source ",
        "star point of the supply",
    )
    listed = [c for c in connection_list(plan.result) if not c.from_terminal.startswith(there)]
    moved = any(c.station is not None for c in listed)
    rows = tuple(
        (
            *((str(c.station or "all"),) if moved else ()),
            _short(c.from_terminal),
            _short(c.to_terminal) + (f" ({c.note})" if c.note else ""),
            "",
        )
        for c in listed
    )
    headings = (*(("station",) if moved else ()), "terminal", "to", "done")
    said = "Drawn near the end; supply and loads stay as they are."
    if any(r.meter.ratio != 1 for r in plan.result.readings.values()):
        said += " CT, VT: current, voltage transformer."
    yield Heading("Connections, in working order")
    yield Text(said)
    yield Table(headings, rows, "l" * (len(headings) - 1) + "r")


def _short(terminal: str) -> str:
    return terminal.replace("current transformer ", "CT ").replace("voltage transformer ", "VT ")


def _pictures(plan: Plan) -> Iterator[Block]:
    """Yield the connection diagram, then the phasors."""
    says = {
        "connections": "Connection diagram; the list of connections says the same",
        "phasors": "Phasor diagram with the load as stated; the tables hold its sizes",
    }
    for name, figure in figures_of(plan.result, list(says)).items():
        yield fitted(figure, says[name])


def _outcome(plan: Plan) -> list[Block]:
    total = plan.result.total
    worked = f"Total {total.formula} [{total.unit}]" if total else "Result"
    return [
        Together(
            (
                Heading("Outcome"),
                Blanks((worked, "Difference from expected %", "Signed")),
                Space(lines=3),
            )
        )
    ]


def _assumptions(plan: Plan) -> list[Block]:
    uncertainty = plan.expected.uncertainty
    said = {*out_of_band(plan.result.first), BEHIND_TRANSFORMERS}
    notes = [n for n in plan.result.notes if not n.startswith("DANGER") and n not in said]
    found = [*plan.notes, *(f"{note[0].upper()}{note[1:]}." for note in notes)]
    found += limits_words(plan)
    if uncertainty:
        found += [*uncertainty.notes, *uncertainty.remarks]
    found += [f"{note[0].upper()}{note[1:]}." for note in plan.faults.notes]
    unique = tuple(dict.fromkeys(found))
    if not unique:
        return []
    return [Together((Heading("Assumed, and to be known"), Items(unique)))]

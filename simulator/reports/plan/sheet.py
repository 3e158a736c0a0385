"""The plan as a document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.connections.listing import connection_list
from simulator.figures.every import figures_of
from simulator.figures.words import circumstances

# what the cautions already say
from simulator.findings.notes import out_of_band
from simulator.reports.document import (
    Blanks,
    Document,
    Heading,
    Items,
    Picture,
    Space,
    Table,
    Text,
    Together,
)
from simulator.reports.plan.cautions import caution_blocks
from simulator.reports.plan.check_list import check_blocks
from simulator.reports.plan.expected import expected_blocks
from simulator.reports.plan.job import job_blocks, method_blocks
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
        Job, cautions, method, ranges, connections, check list, expected readings, faults.
    """
    title = plan.result.measurement.title
    description = plan.scenario.description
    about = f"{circumstances(plan.result)}."
    blocks: list[Block] = [
        *job_blocks(plan),
        *caution_blocks(plan),
        *method_blocks(plan),
        *ranges_blocks(plan),
        *_assumptions(plan),
        *_connections(plan),
        *check_blocks(plan),
        *expected_blocks(plan),
        *_outcome(plan),
        *wrong_blocks(plan),
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
    rows = [
        (*((str(c.station or "all"),) if moved else ()), c.from_terminal, c.to_terminal, c.note, "")
        for c in listed
    ]
    headings = (*(("station",) if moved else ()), "terminal", "to", "note", "done")
    said = "Drawn on one of the last pages; supply and loads stay as they are."
    table = Table(headings, tuple(rows), "l" * (len(headings) - 1) + "r")
    yield Together((Heading("Connections, in working order"), Text(said), table))


def _pictures(plan: Plan) -> Iterator[Block]:
    says = {
        "connections": "Connection diagram; the list of connections says the same",
        "phasors": "Phasor diagram with the load as stated; the tables hold its sizes",
    }
    for name, figure in figures_of(plan.result, list(says)).items():
        width, height = figure.get_size_inches()
        yield Picture(figure, says[name], landscape=bool(width > height))


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
    said = set(out_of_band(plan.result.first))
    notes = [n for n in plan.result.notes if not n.startswith("DANGER") and n not in said]
    found = [*plan.notes, *(f"{note[0].upper()}{note[1:]}." for note in notes)]
    if uncertainty:
        found += [*uncertainty.notes, *uncertainty.remarks]
    found += [f"{note[0].upper()}{note[1:]}." for note in plan.faults.notes]
    unique = tuple(dict.fromkeys(found))
    if not unique:
        return []
    return [Together((Heading("Assumed, and to be known"), Items(unique)))]

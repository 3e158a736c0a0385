"""A practice sheet and its key, as documents."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.figures.connections.diagram import draw_connections
from simulator.figures.phasors import draw_phasors
from simulator.figures.style import Style
from simulator.metering.catalogue import METHODS
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
    Working,
    fitted,
)
from simulator.reports.practice.generate import KINDS
from simulator.reports.practice.problem import Ask, Choice

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.reports.document import Block
    from simulator.reports.practice.generate import Sheet
    from simulator.reports.practice.problem import Problem, Slip

TITLE = "Wattmeters in three-phase circuits"
DOING = {
    "predict": "Predict the readings",
    "infer": "Conclude from the readings",
    "find-fault": "Find the fault",
    "choose-method": "Choose the method",
    "draw-phasors": "Draw the phasors",
}
ROOM = {"predict": 6, "infer": 5, "find-fault": 3, "choose-method": 0, "draw-phasors": 0}
"""Ruled lines for the working."""
CONVENTIONS = (
    "Voltages and currents are rms values. “W1 with I L1 and V L1-L2” means: the current circuit "
    "of W1 is in L1, counted from supply to load; its voltage circuit goes from L1, the marked "
    "terminal, to L2. Wattmeters take no power themselves unless something else is said. Lag: the "
    "current is behind its voltage; an impedance ∠30° lags. Give each answer with its sign, to "
    "four figures."
)
TOLERANCES = (
    "An answer counts if it is within 1 % (and within 0.2 % of the apparent power, for small "
    "readings). The tables give, for each usual slip, the answer it leads to: a wrong answer names "
    "the slip. A dash: the slip does not touch this answer; “as right”: it leads to the right one."
)
CAPTION = "Wrong answers, and the slips they come from"
ASK_FOR_WORKING = "; †: another slip gives the same number, ask for the working"


def question_sheet(sheet: Sheet, problems: Sequence[Problem]) -> Document:
    """Lay out the questions.

    Parameters
    ----------
    sheet : Sheet
        What the problems were drawn from.
    problems : sequence of Problem
        The problems.

    Returns
    -------
    Document
        Questions, blanks for the answers, and room to work.
    """
    blocks: list[Block] = [Blanks(("Name", "Group", "Date")), Text(CONVENTIONS)]
    for k, problem in enumerate(problems, 1):
        room = [Space(height=95)] if problem.kind == "draw-phasors" else []
        room += [Space(lines) for lines in (ROOM[problem.kind],) if lines]
        blocks.append(Together((*_told(k, problem), _answers(k, problem), *room)))
    return Document(f"{TITLE}: practice sheet", _subtitle(sheet), blocks, _foot(sheet))


def answer_key(sheet: Sheet, problems: Sequence[Problem]) -> Document:
    """Lay out the answers.

    Parameters
    ----------
    sheet : Sheet
        What the problems were drawn from.
    problems : sequence of Problem
        The problems.

    Returns
    -------
    Document
        For each problem the answers, the working, what the usual slips give, and the diagram.
    """
    blocks: list[Block] = [Text(TOLERANCES), Text(_marking_command(sheet))]
    for k, problem in enumerate(problems, 1):
        blocks.append(Together((*_told(k, problem), _answers(k, problem, key=True))))
        blocks.append(Text("", lead="Working"))
        blocks.append(Working(problem.working))
        blocks += _slips(k, problem)
        blocks.append(_picture(problem))
    return Document(f"{TITLE}: answer key", _subtitle(sheet), blocks, f"{_foot(sheet)}, KEY")


def label(k: int, problem: Problem, part: int) -> str:
    """Name a part of a problem as the sheet does.

    Parameters
    ----------
    k : int
        Number of the problem, from 1.
    problem : Problem
        The problem.
    part : int
        Place of the part, from 0.

    Returns
    -------
    str
        For example "3b"; "3" where there is only one.
    """
    return f"{k}{problem.part(part)}"


def options_of(sheet: Sheet) -> str:
    """Write the options that make the same problems again.

    Parameters
    ----------
    sheet : Sheet
        What the problems are drawn from.

    Returns
    -------
    str
        For example "--seed 7 --problems 6 --level 2".
    """
    words = f"--seed {sheet.seed} --problems {sheet.problems} --level {sheet.level}"
    if sheet.kinds != KINDS:
        words += f" --kinds {','.join(sheet.kinds)}"
    if len(sheet.methods) < len(METHODS):
        words += f' --methods "{"; ".join(sheet.methods)}"'
    return words


def _subtitle(sheet: Sheet) -> str:
    n = sheet.problems
    return f"{n} problem{'s' if n > 1 else ''}, level {sheet.level}, seed {sheet.seed}"


def _foot(sheet: Sheet) -> str:
    return f"{TITLE}, seed {sheet.seed}, level {sheet.level}"


def _marking_command(sheet: Sheet) -> str:
    return (
        f"To mark a file of answers (problem,answer,unit): blondel practice {options_of(sheet)} "
        "--mark ANSWERS.csv"
    )


def _told(k: int, problem: Problem) -> list[Block]:
    blocks: list[Block] = [Heading(f"{k}. {DOING[problem.kind]}")]
    blocks += [Text(sentence) for sentence in problem.told]
    choices = [ask.options for ask in problem.asks if isinstance(ask, Choice)]
    lettered = [options for options in choices if any(options.values())]
    blocks += [Items(tuple(f"{k}: {text}" for k, text in o.items()), "plain") for o in lettered]
    return blocks


def _answers(k: int, problem: Problem, *, key: bool = False) -> Table:
    rows = []
    for part, ask in enumerate(problem.asks):
        if isinstance(ask, Choice):
            answer, unit = ", ".join(sorted(ask.right)), ""
        else:
            answer, unit = ask.written(ask.value), ask.unit.replace("ohm", "Ω")
        rows.append((label(k, problem, part), ask.words, answer if key else "", unit))
    if key:
        return Table(("", "asked", "answer"), tuple(row[:3] for row in rows), "llr")
    return Table(("", "asked", "answer", "unit"), tuple(rows), "lllr")


def _slips(k: int, problem: Problem) -> list[Block]:
    """Set the slips against the answers they lead to."""
    parts = [(label(k, problem, n), a) for n, a in enumerate(problem.asks) if isinstance(a, Ask)]
    parts = [(name, ask) for name, ask in parts if ask.slips]
    names = dict.fromkeys(slip.name for _, ask in parts for slip in ask.slips)
    rows = []
    for name in names:
        cells = [
            _cell(ask, next((s for s in ask.slips if s.name == name), None)) for _, ask in parts
        ]
        if any(cell not in ("–", AS_RIGHT) for cell in cells):
            rows.append((name, *cells))
    blocks: list[Block] = []
    if rows:
        doubtful = any("†" in cell for row in rows for cell in row[1:])
        headings = ("slip", *(name for name, _ in parts))
        caption = CAPTION + (ASK_FOR_WORKING if doubtful else "")
        blocks.append(Table(headings, tuple(rows), "l" + "r" * len(parts), caption))
    for ask in problem.asks:
        if isinstance(ask, Choice) and not any(ask.options.values()):
            blocks += [Text(remark, lead=f"{given}:") for given, remark in ask.remarks.items()]
    return blocks


AS_RIGHT = "as right"


def _cell(ask: Ask, slip: Slip | None) -> str:
    if slip is None:
        return "–"
    if ask.same(slip.value, ask.value):
        return AS_RIGHT
    return ask.written(slip.value) + (" †" if ask.twins(slip) else "")


def _picture(problem: Problem) -> Picture:
    if problem.kind == "draw-phasors":
        says = "Phasors of the circuit and of each wattmeter"
        return Picture(draw_phasors(problem.result, Style()), says, landscape=True)
    says = "Connections as they should be" if problem.readings else "Connections"
    return fitted(draw_connections(problem.result, Style()), f"{says}, with the right readings")

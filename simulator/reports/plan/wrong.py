"""If instead you see …: what wiring faults would read, by class, and the test that settles it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.findings.faults.loads import with_load
from simulator.findings.faults.normal import looks_wrong
from simulator.findings.faults.settle import settle
from simulator.findings.result import solve
from simulator.reports.document import Heading, Items, Table, Text, Together
from simulator.reports.faults import factor_words, proven
from simulator.reports.plan.expected import from_to, numbers

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from simulator.findings.faults.hypotheses import Hypothesis
    from simulator.reports.document import Block
    from simulator.reports.plan.cases import Plan

# Wirings that take more slips are left out, unless they read as expected.
SLIPS = 1


def wrong_blocks(plan: Plan) -> list[Block]:
    """Write what is read instead where something is connected wrongly.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of Block
        A table by class, the tests, and what looks wrong and is right.
    """
    hidden = hidden_wirings(plan)
    tests: dict[str, str] = {}
    table = _table(plan, hidden, tests)
    total = ", their total over the true power" if plan.result.total else ""
    said = (
        f"Readings at the meters{total}, with the load as stated. Wirings in one row read the "
        "same, perhaps with others of several slips; tests, named by letters, tell them apart. "
        "Before a connection is changed: dead, and links of current transformers closed."
    )
    blocks: list[Block] = [Heading("If instead you see …"), Text(said), table]
    dangers = dict.fromkeys(h.wiring.caution for h in plan.faults.hypotheses if h.wiring.caution)
    for danger in dangers:
        lead, _, words = danger.partition(": ")
        blocks.append(Text(f"{words}.", f"{lead}:", caution=True))
    listed = tuple(f"{letter}: {test}." for test, letter in tests.items())
    if listed:
        blocks.append(Together((Text("", "Tests."), Items(listed))))
    blocks += _hidden(plan, hidden)
    normal = looks_wrong(plan.result)
    if normal:
        right = Text("wired as planned:", "Looks wrong and is right,")
        blocks.append(Together((right, Items(tuple(f"{t[0].upper()}{t[1:]}." for t in normal)))))
    return blocks


def hidden_wirings(plan: Plan) -> tuple[Hypothesis, ...]:
    """Find wrong wirings whose readings lie within what is accepted, somewhere in the span.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    tuple of Hypothesis
        The wirings that watts alone may not show.
    """
    accepted = {name: plan.accepted(name) for name in plan.result.readings}

    def is_hidden(hypothesis: Hypothesis) -> bool:
        for case in plan.span:
            measurement = with_load(hypothesis.wiring.measurement, case.factor)
            found = hypothesis.result if case.factor == 1 else solve(measurement)
            if all(low <= found[name].watts <= high for name, (low, high) in accepted.items()):
                return True
        return False

    wrong = (h for h in plan.faults.hypotheses if h is not plan.faults.right)
    return tuple(h for h in wrong if is_hidden(h))


def _table(plan: Plan, hidden: Sequence[Hypothesis], tests: dict[str, str]) -> Table:
    """Tabulate the classes; each test found gets a letter."""
    faults, has_total = plan.faults, plan.result.total is not None
    classes = [
        (group, shown)
        for group in faults.groups.values()
        if (shown := [h for h in group if h.wiring.slips <= SLIPS or h in hidden])
    ]
    names = list(plan.result.readings)
    columns = [
        numbers([shown[0].result[name].at_instrument for _, shown in classes]) for name in names
    ]
    rows = []
    for (group, shown), *readings in zip(classes, *columns, strict=True):
        share = faults.over_true(shown[0])
        times = "–" if share is None else f"{share:z.3f}".replace("-", "−")
        letters = _letters(plan, group, tests) if len(group) > 1 else ""
        words = _described(plan, shown, hidden)
        number = str(shown[0].group)
        rows.append((number, *readings, *([times] if has_total else []), words, letters))
    headings = ["class", *(f"{name} W" for name in names)]
    headings += ["total / true"] if has_total else []
    align = "r" * len(headings) + "lr"
    return Table((*headings, "wiring", "tests"), tuple(rows), align)


def _described(plan: Plan, shown: Sequence[Hypothesis], hidden: Sequence[Hypothesis]) -> str:
    said = []
    for hypothesis in shown:
        over = plan.faults.overvoltage(hypothesis)
        times = [f"{name} gets {share:.2f} times its voltage" for name, share in over.items()]
        marks = (["reads as expected"] if hypothesis in hidden else []) + times
        marks += ["danger, see below"] if hypothesis.wiring.caution else []
        said.append(hypothesis.description + (f" ({', '.join(marks)})" if marks else ""))
    return "; ".join(said)


def _letters(plan: Plan, group: Sequence[Hypothesis], tests: dict[str, str]) -> str:
    """Name the tests that settle a class, and say where only following the leads does."""
    settlement = settle(plan.faults, group)
    letters = [tests.setdefault(test.name, chr(ord("A") + len(tests))) for test in settlement.tests]
    if settlement.left:
        letters.append(tests.setdefault("follow the leads, dead", chr(ord("A") + len(tests))))
    return ", ".join(letters)


def _hidden(plan: Plan, hidden: Sequence[Hypothesis]) -> Iterator[Block]:
    """Warn of what the watts do not show."""
    if hidden:
        n = len(hidden)
        wirings = "One wrong wiring reads" if n == 1 else f"{n} wrong wirings read"
        shares = [s for h in hidden if (s := plan.faults.over_true(h)) is not None]
        off = (
            f" (totals {from_to(shares)} of the true one with the load as stated)" if shares else ""
        )
        yield Text(
            f"{wirings} as expected somewhere in this span{off}: readings that fit are no proof. "
            "Make the tests of those rows once, also when all looks right.",
            "Not seen in the watts.",
            caution=True,
        )
    found = proven(plan.faults)
    if found and found.is_resistive and found.wrong_later:
        yield Text(
            f"With this load of {found.power_factor:.2f} the total is right for "
            f"{len(found.wrong_later)} wirings that are wrong at power factor "
            f"{factor_words(found)}: read again with such a load.",
            "A resistive load proves little.",
        )

"""What wiring faults would read, for people."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tabulate import tabulate

from simulator.findings.faults.loads import load_current, load_of
from simulator.findings.faults.normal import looks_wrong
from simulator.findings.reason import amount
from simulator.reports.faults import factor_words, proven, settle_by, settlements
from simulator.reports.text import columns

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from simulator.findings.faults.hypotheses import Faults, Hypothesis
    from simulator.findings.faults.settle import Settlement

# So many wirings are named where none fits.
CLOSEST = 3


def faults_text(faults: Faults, most_slips: int) -> str:
    """Write wirings for a person.

    Parameters
    ----------
    faults : Faults
        The wirings.
    most_slips : int
        Wirings that take more slips are counted only, where nothing was measured.

    Returns
    -------
    str
        Verdict, table by class, tests that settle it, what a load does not prove.
    """
    shown = [h for h in faults.hypotheses if h.wiring.slips <= most_slips]
    if faults.measured is not None:
        shown = list(faults.fitting) or sorted(faults.hypotheses, key=_misfit)[:CLOSEST]
    chosen = settlements(faults)
    parts = [
        f"{faults.right.result.measurement.title}\n{_limits(faults)}",
        _verdict(faults),
        _table(faults, shown),
        _more(faults, shown),
        "\n".join(dict.fromkeys(h.wiring.caution for h in shown if h.wiring.caution)),
        f"To settle it: {settle_by(faults, chosen)}",
        *map(tests_table, chosen if faults.measured else ()),
        _listed(
            "Looks wrong and is right, wired as in the scenario", looks_wrong(faults.right.result)
        ),
        _later(faults),
        "\n".join(f"Note: {note}" for note in faults.notes),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _misfit(hypothesis: Hypothesis) -> float:
    return hypothesis.fit.misfit if hypothesis.fit else math.inf


def _limits(faults: Faults) -> str:
    limits = ", ".join(f"{name} {amount(watts, 'W')}" for name, watts in faults.limits.items())
    if faults.tolerance is None:
        return f"Limits as given: {limits}"
    share = f"{100 * faults.tolerance:g} %"
    return f"Limits: {limits}, {share} of the volt-amperes that each meter carries rightly wired"


def _verdict(faults: Faults) -> str:
    if faults.measured is None:
        return ""
    seen = ", ".join(f"{name} {watts:g} W" for name, watts in faults.measured.items())
    fitting, n = faults.fitting, len(faults.hypotheses)
    if not fitting:
        return f"{seen}: none of {n} wirings explains this. The closest are:"
    right = faults.right.consistent
    count = len(fitting) - bool(right)
    n_classes = len({h.group for h in fitting})
    classes = f"{n_classes} {'class' if n_classes == 1 else 'classes'}"
    wrong = f"{count} wrong {'wiring' if count == 1 else 'wirings'}"
    if right:
        also = (
            f", and so {'does' if count == 1 else 'do'} {wrong}" if count else " and nothing else"
        )
        return f"{seen}: the right wiring explains this{also} (of {n}, in {classes})"
    return f"{seen}: the right wiring does not explain this; {wrong} of {n} do, in {classes}"


def _table(faults: Faults, shown: Sequence[Hypothesis]) -> str:
    by_class = sorted(shown, key=lambda h: h.group)  # numbered in the order of fewest slips
    table = _columns(faults, by_class)
    rows: list[list[str]] = []
    for k, hypothesis in enumerate(by_class):
        cells = [column[k] for column in table.values()]
        again = k > 0 and by_class[k - 1].group == hypothesis.group
        same = again and cells[1:] == [column[k - 1] for column in table.values()][1:]
        over = _overvoltage(faults, hypothesis)
        said = hypothesis.description + (f" ({over})" if over else "")
        rows.append([*([""] * len(cells) if same else cells), said])
    return _tabulated([*table, "wiring"], rows)


def _tabulated(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    align = ["right"] * (len(headings) - 1) + ["left"]
    return tabulate(rows, headings, tablefmt="simple", colalign=align, disable_numparse=True)


def _columns(faults: Faults, shown: Sequence[Hypothesis]) -> dict[str, list[str]]:
    """Write the numbers of the table: as fitted where a span was given, else as predicted."""
    fitted = faults.measured is not None and not faults.region.is_point
    results = [h.explaining if fitted else h.result for h in shown]
    table: dict[str, Iterable[float]] = {
        f"{name} W": [result[name].watts for result in results] for name in faults.limits
    }
    total = faults.right.result.total
    if total and not fitted:
        table[f"total {total.unit}"] = [_known(h.total) for h in shown]
        table["total/true"] = [_known(faults.over_true(h)) for h in shown]
    if fitted:
        loads = [load_of(result) for result in results]
        table["power factor"] = [load.real / abs(load) for load in loads]
        table["Q var"] = [load.imag for load in loads]
        table["I A"] = [load_current(result) for result in results]
    if faults.measured is not None:
        table["off, in limits"] = [_misfit(h) for h in shown]
    written = columns(*table.values())
    few = ("total/true", "power factor", "off, in limits")
    texts = {
        name: [f"{v:z.3f}" if math.isfinite(v) else "–" for v in values] if name in few else text
        for (name, values), text in zip(table.items(), written, strict=True)
    }
    return {"class": [str(h.group) for h in shown]} | texts


def _known(value: float | None) -> float:
    return math.nan if value is None else value


def _more(faults: Faults, shown: Sequence[Hypothesis]) -> str:
    left = [h.wiring.slips for h in faults.hypotheses if h not in shown]
    if faults.measured is not None or not left:
        return ""
    return f"{len(left)} wirings with more slips are not listed; --slips {max(left)} lists them all"


def tests_table(settlement: Settlement) -> str:
    """Tabulate what each chosen test shows for each wiring that fits.

    Parameters
    ----------
    settlement : Settlement
        What the tests settle.

    Returns
    -------
    str
        The table; empty without a test.
    """
    table: dict[str, list[str]] = {}
    for test in settlement.tests:
        places = {place: [shown[place] for shown in test.shows] for place in test.shows[0]}
        for (place, values), text in zip(places.items(), columns(*places.values()), strict=True):
            heading = f"{place} {test.quantity} {test.unit}".rstrip()
            match test.unit:
                case "":
                    table[heading] = [
                        "as stated" if v == values[0] else "the other" for v in values
                    ]
                case "°":
                    table[heading] = [f"{v:z.1f}" if math.isfinite(v) else "–" for v in values]
                case _:
                    table[heading] = text
    rows = [
        [*(column[k] for column in table.values()), hypothesis.description]
        for k, hypothesis in enumerate(settlement.wirings)
    ]
    return _tabulated([*table, "shown by these tests if"], rows) if table else ""


def _later(faults: Faults) -> str:
    """Say what the load does not prove; beside readings only where they seem right."""
    found = proven(faults)
    if found is None or not (faults.measured is None or faults.right.consistent):
        return ""
    here, then = f"power factor {found.power_factor:.2f}", f"power factor {factor_words(found)}"
    wrong = found.wrong_later
    start = "A resistive load proves little about the wiring" if found.is_resistive else "This load"
    apart = f"at {here} the wirings give {found.classes_here} different sets of readings, at {then}"
    lines = [f"{start}: {apart} {found.classes_later}."]
    n = len(found.passing)
    if n:
        wirings = f"{n} wrong {'wiring' if n == 1 else 'wirings'} too"
        then_as_well = f"{n - len(wrong)} of them also at {then}, {len(wrong)} not:"
        end = then_as_well if wrong else f"and at {then} as well."
        lines.append(f"The total is right within {100 * found.tolerance:g} % for {wirings}, {end}")
    rows = [[f"{share:z.3f}", hypothesis.description] for hypothesis, share in wrong]
    table = _tabulated([f"total/true at {then}", "wiring"], rows) if rows else ""
    return "\n".join(part for part in (*lines, table) if part)


def _listed(title: str, lines: Sequence[str]) -> str:
    return "\n".join([f"{title}:", *(f"  {line}" for line in lines)]) if lines else ""


def _overvoltage(faults: Faults, hypothesis: Hypothesis) -> str:
    """Say which voltage circuits get too much; empty for none."""
    times = faults.overvoltage(hypothesis)
    over = [f"{name} {share:.2f} times" for name, share in times.items()]
    return f"too much voltage: {', '.join(over)}" if over else ""

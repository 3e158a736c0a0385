"""Random scenarios, random quantities, rare extreme values: every case as its own file reads.

The reference is `simulator.solve` of the file rewritten with the values, which has no part in
`simulator.studies`.
"""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import simulator
from simulator.errors import SimulatorError
from simulator.studies.prepared import known_quantities
from tests.studies.documents import expected, rows, scenario
from tests.studies.random_documents import (
    IMPEDANCES,
    RARE,
    Maker,
    quantities,
    text_of,
    usual_value,
)

if TYPE_CHECKING:
    from tests.studies.random_documents import Document, Quantity

CASES = 1200  # enough for a network to be compiled
TOO_FAR = "element values too far apart"
OWN_SEQUENCE = "these voltages have the other sequence, which turns the motors round"


def some_quantities(rng: random.Random, document: Document) -> dict[str, Quantity]:
    """Choose quantities that one file can give at the same time."""
    known = quantities(document)
    paths = rng.sample(sorted(known), rng.choice((1, 2, 3)))
    owners = [path.split(":")[0] for path in paths if path.startswith(("load", "supply"))]
    circuit = any("voltage_circuit" in path for path in paths)  # refused beside the frequency
    if len(set(owners)) < len(owners) or (circuit and "supply: frequency" in paths):
        paths = paths[:1]
    return {path: known[path] for path in paths}


def rewritten(document: Document, chosen: dict[str, Quantity], values: list[complex]) -> Document:
    for (unit, change), value in zip(chosen.values(), values, strict=True):
        text = text_of(value, unit)
        document = change(document, float(text) if unit == "slip" else text)
    return document


def assert_as_alone(study: Any, case: int, document: Document) -> None:
    """Compare a case with its own file: the same numbers, or no results where the file has none."""
    said = study.failed.get(case, "")
    if OWN_SEQUENCE in said:  # a motor keeps its sense of rotation in a study
        assert "phase_voltages" in document["supply"]
        return
    try:
        wanted = np.array([*expected(document).values()])
    except SimulatorError as error:
        if TOO_FAR in str(error) and not said:
            return  # what it does not determine is of no interest to the meters
        wanted = None
    if wanted is not None and TOO_FAR in said:
        return  # a motor that varies is solved in two steps, either of which may be too much
    assert (wanted is None) == bool(said), (case, said, document)
    found = rows(study)[:, case]
    if wanted is None:
        assert np.isnan(found).all()
        return
    # beside the largest number, anything below its rounding is nothing; the last is in percent
    size = 1e-10 * np.abs(wanted[:-1]).max()
    np.testing.assert_allclose(found[:-1], wanted[:-1], rtol=1e-8, atol=size, err_msg=str(document))


def check(study: Any, own: dict[int, Document]) -> int:
    for case, document in own.items():
        assert_as_alone(study, case, document)
    return sum(case not in study.failed for case in own)


def sweep(seed: int) -> int:
    """Vary up to three quantities together, with rare values among the usual ones."""
    rng = random.Random(seed)  # noqa: S311
    document = Maker(rng).document()
    chosen = some_quantities(rng, document)
    values, rare = [], set()
    for unit, _ in chosen.values():
        each = [usual_value(rng, unit) for _ in range(CASES)]
        for case in rng.sample(range(CASES), 4):
            each[case] = rng.choice(RARE[unit])
            rare.add(case)
        values.append(each)
    own = {
        case: rewritten(document, chosen, [each[case] for each in values])
        for case in rare | {*rng.sample(range(CASES), 4)}
    }
    texts = [
        [text_of(value, unit) for value in each]
        for (unit, _), each in zip(chosen.values(), values, strict=True)
    ]
    given = dict(zip(chosen, texts, strict=True))
    return check(simulator.vary(scenario(document), given, together=True), own)


def draws(seed: int) -> int:
    """Draw with a wide tolerance; look at the farthest cases, those that fail, and some others."""
    rng = random.Random(seed)  # noqa: S311
    document = Maker(rng).document()
    known = known_quantities(scenario(document))
    chosen = {
        path: quantity
        for path, quantity in some_quantities(rng, document).items()
        if known[path].base  # there is a value to spread around, and it is not zero
    }
    spreads = {
        path: rng.choice(("normal 45 %", "uniform 90 %"))
        + (", 20 deg" if unit in (*IMPEDANCES, "phasor") and rng.random() < 0.5 else "")
        for path, (unit, _) in chosen.items()
    }
    if not spreads:
        return 0
    study = simulator.monte_carlo(scenario(document), spreads, cases=CASES, seed=seed)
    values = [axis.values for axis in study.axes]
    cases = {*rng.sample(range(CASES), 4), *list(study.failed)[:3]}
    for each in values:
        cases |= {int(np.argmin(np.abs(each))), int(np.argmax(np.abs(each)))}
        cases |= {int(np.argmin(each.real)), int(np.argmax(each.imag))}
    return check(
        study,
        {
            case: rewritten(document, chosen, [each[case].item() for each in values])
            for case in cases
        },
    )


@pytest.mark.parametrize("run", [sweep, draws])
def test_rare_cases_are_as_their_own_files(run: Any) -> None:
    assert sum(run(seed) for seed in range(30)) > 100


@pytest.mark.heavy
@pytest.mark.parametrize("run", [sweep, draws])
@pytest.mark.parametrize("first", range(1000, 2000, 100))
def test_rare_cases_are_as_their_own_files_at_length(run: Any, first: int) -> None:
    assert sum(run(seed) for seed in range(first, first + 100)) > 400

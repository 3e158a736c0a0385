"""Whatever is moved in a shipped scenario: an answer or words, and the file kept says the same."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

import simulator
from tests.explore.conftest import Page

FILES = sorted(Path(__file__).parents[2].joinpath("scenarios").glob("*.toml"))
HEAVY = 30


def moves(page: Page, chance: random.Random) -> str:
    """Stand a few controls somewhere, and reverse a few circuits."""
    free = [c for c in page.ask("/controls")["controls"] if not c["whyNot"]]
    chosen = chance.sample(free, k=min(chance.randint(1, 5), len(free)))
    moved = {c["name"]: chance.choice(c["stops"])[0] for c in chosen}
    circuits = page.ask(f"/readings?{urlencode(moved)}")["circuits"]
    if circuits and chance.random() < 0.5:
        some = chance.sample(circuits, k=chance.randint(1, len(circuits)))
        moved["reversed"] = ",".join(c["value"] for c in some)
    return urlencode(moved)


def check(page: Page, query: str, paths: tuple[str, ...]) -> None:
    answer: dict[str, Any] = page.ask(f"/readings?{query}")
    if answer["problem"]:
        assert answer["readings"] == []
        assert page.get(f"/scenario.toml?{query}").status_code in {200, 422}
        return
    kept = simulator.solve(page.downloaded(query))
    assert {r["name"]: r["watts"] for r in answer["readings"]} == {
        name: r.watts for name, r in kept.readings.items()
    }
    for path in paths:
        assert page.get(f"{path}?{query}").status_code == 200, (path, query)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_moved_in_any_way(file: Path) -> None:
    page, chance = Page(simulator.read_scenario(file)), random.Random(file.stem)  # noqa: S311  (no secret)
    for _ in range(3):
        check(page, moves(page, chance), ())
    check(page, moves(page, chance), ("/why",))


@pytest.mark.heavy
@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_moved_in_very_many_ways(file: Path) -> None:
    page, chance = Page(simulator.read_scenario(file)), random.Random(f"more {file.stem}")  # noqa: S311  (no secret)
    for _ in range(HEAVY):
        check(page, moves(page, chance), ("/why", "/phasors.svg", "/connections.svg"))

"""How long each figure takes after import: drawing it, and with writing it as an SVG.

Medians over the shipped scenarios, the slowest one beside them. The goal is 400 ms or less for a
figure; it is reported, not enforced.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import simulator
from simulator.errors import ScenarioError
from simulator.figures.every import FIGURES, figures_of
from simulator.figures.saving import save

if TYPE_CHECKING:
    from simulator.findings.result import Result

ROOT = Path(__file__).resolve().parents[1]
ROUNDS = 3
GOAL_MS = 400


def times_ms(name: str, results: dict[str, Result], folder: Path) -> dict[str, float | str]:
    """Return median and largest time of one figure over all scenarios it makes sense for."""
    drawing, writing = {}, {}
    for scenario, result in results.items():
        rounds = []
        for _ in range(ROUNDS):
            try:
                start = time.perf_counter()
                figure = figures_of(result, [name])[name]
                drawn = time.perf_counter()
            except ScenarioError:
                break
            save(figure, folder / f"{name}.svg", "benchmark", overwrite=True)
            rounds.append((drawn - start, time.perf_counter() - start))
        if rounds:
            drawing[scenario], writing[scenario] = (
                1000 * min(row[k] for row in rounds) for k in (0, 1)
            )
    slowest = max(writing, key=lambda scenario: writing[scenario])
    return {
        "draw_median": statistics.median(drawing.values()),
        "draw_and_write_median": statistics.median(writing.values()),
        "draw_and_write_largest": writing[slowest],
        "slowest": slowest,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    as_json = parser.parse_args().json
    files = sorted((ROOT / "scenarios").glob("*.toml"))
    if not files:
        sys.exit(f"no scenario file in {ROOT / 'scenarios'}")
    results = {file.stem: simulator.solve(simulator.read_scenario(file)) for file in files}
    with tempfile.TemporaryDirectory() as folder:
        for name in FIGURES:  # not counted: imports
            figures_of(results["a-first-measurement"], [name])
        found = {name: times_ms(name, results, Path(folder)) for name in FIGURES}
    if as_json:
        print(json.dumps(found))
        return
    print(f"{'figure':<12} {'draw':>8} {'and write':>10} {'slowest':>9}   (ms; goal {GOAL_MS})")
    for name, row in found.items():
        print(
            f"{name:<12} {row['draw_median']:8.0f} {row['draw_and_write_median']:10.0f} "
            f"{row['draw_and_write_largest']:9.0f}   {row['slowest']}"
        )


if __name__ == "__main__":
    main()

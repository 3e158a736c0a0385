"""Draws the README's pictures from shipped scenarios: python .readme/draw.py"""

from __future__ import annotations

import sys
from pathlib import Path

from simulator.cli import main

HERE = Path(__file__).parent
SCENARIOS = HERE.parent / "scenarios"
PICTURES = {
    "phasors": ("idle-motor-reads-below-zero", "phasors"),
    "connections": ("unequal-coils-four-wires", "connections"),
    "ratio": ("a-first-measurement", "ratio"),
    "mismatch": ("unequal-coils-three-wires", "mismatch"),
}


def draw(folder: Path) -> None:
    for picture, (scenario, figure) in PICTURES.items():
        out = str(folder / f"{picture}.svg")
        file = str(SCENARIOS / f"{scenario}.toml")
        status = main(["draw", file, "--figure", figure, "--out", out, "--overwrite"])
        if status:
            sys.exit(status)


if __name__ == "__main__":
    draw(HERE)

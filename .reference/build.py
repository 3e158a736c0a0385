"""Writes the reference into build/reference: `python .reference/build.py [FOLDER]`.

API pages from the docstrings (api/index.html), and theory.html with its figures.
"""

from __future__ import annotations

import pkgutil
import sys
from pathlib import Path

import simulator

HERE = Path(__file__).parent
ROOT = HERE.parent
EXAMPLE = ROOT / "scenarios" / "unequal-coils-four-wires.toml"
FIGURES = ("connections", "phasors", "mismatch")
PAGE = """<!doctype html>
<html lang="en">
<meta charset="utf-8">
<title>{title}</title>
<style>
body {{ max-width: 50rem; margin: 2rem auto; padding: 0 1rem; font: 1rem/1.5 sans-serif; }}
img {{ max-width: 100%; }}
pre {{ overflow-x: auto; padding: 0.5rem; background: #f5f5f2; }}
td, th {{ padding: 0.1rem 0.6rem; text-align: left; }}
</style>
{body}
"""


def draw(folder: Path) -> None:
    """Draw the figures of the theory page."""
    folder.mkdir(parents=True, exist_ok=True)
    scenario = simulator.read_scenario(EXAMPLE)
    result = simulator.solve(scenario)
    for name in FIGURES:  # one by one, since each of several carries the file's name too
        figure = simulator.figures_of(result, [name])
        simulator.save_figures(figure, folder / f"{name}.svg", scenario.title, overwrite=True)


def write_theory(folder: Path) -> None:
    """Write the theory page with its figures."""
    from markdown2 import markdown  # noqa: PLC0415  (pdoc brings it)

    text = (HERE / "theory.md").read_text(encoding="utf-8")
    body = markdown(text, extras=["tables", "fenced-code-blocks", "code-friendly"])
    title = text.partition("\n")[0].removeprefix("# ")
    draw(folder)
    (folder / "theory.html").write_text(PAGE.format(title=title, body=body), encoding="utf-8")


def write_api(folder: Path) -> None:
    """Write a page for every module."""
    from pdoc import pdoc, render  # noqa: PLC0415

    for name in simulator.__all__:  # pdoc looks for them in the module's own dictionary
        setattr(simulator, name, getattr(simulator, name))
    rooms = [f"simulator.{room.name}" for room in pkgutil.iter_modules(simulator.__path__)]
    render.configure(docformat="numpy", show_source=False)
    pdoc("simulator", *(r for r in rooms if r != "simulator.__main__"), output_directory=folder)


if __name__ == "__main__":
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "build" / "reference"
    write_theory(out)
    write_api(out / "api")
    sys.stdout.write(f"{out}/theory.html\n{out}/api/index.html\n")

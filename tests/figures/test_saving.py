from __future__ import annotations

import re
import subprocess
import sys
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image

import simulator
from simulator.errors import ScenarioError
from simulator.figures.phasors import draw_phasors
from simulator.figures.saving import save

if TYPE_CHECKING:
    from pathlib import Path

SVG = "{http://www.w3.org/2000/svg}"
ENDINGS = ("svg", "png", "pdf")
HEATER = {
    "title": "A heater & its <meters> cost $5 · Ω",
    "supply": {"wires": 3, "voltage": "400 V"},
    "load": [{"connection": "star", "each": "50 ohm, 0.5 lag"}],
    "method": {"name": "two wattmeters", "common": "L2"},
}


def heater() -> Figure:
    return draw_phasors(simulator.solve(simulator.scenario_from(HEATER)))


def parsed(path: Path) -> ET.Element:
    return ET.parse(path).getroot()  # noqa: S314  (our own file)


@pytest.mark.parametrize("ending", ENDINGS)
def test_the_same_input_gives_the_same_bytes(ending: str, tmp_path: Path) -> None:
    for k in (1, 2):
        save(heater(), tmp_path / f"{k}.{ending}", HEATER["title"])
    first = (tmp_path / f"1.{ending}").read_bytes()
    assert first == (tmp_path / f"2.{ending}").read_bytes()
    assert len(first) > 3000


def test_another_process_on_another_day_gives_the_same_bytes(tmp_path: Path) -> None:
    script = (
        "import sys, simulator\n"
        "from simulator.figures.phasors import draw_phasors\n"
        "from simulator.figures.saving import save\n"
        f"result = simulator.solve(simulator.scenario_from({HEATER!r}))\n"
        f"save(draw_phasors(result), sys.argv[1], {HEATER['title']!r})\n"
    )
    for ending in ENDINGS:
        save(heater(), tmp_path / f"here.{ending}", HEATER["title"])
    environment = {
        "SOURCE_DATE_EPOCH": "86400",
        "PYTHONHASHSEED": "7",
        "MPLCONFIGDIR": str(tmp_path),
    }
    (tmp_path / "matplotlibrc").write_text("font.size: 20\nsvg.fonttype: path\n")
    for ending in ("svg", "pdf"):
        done = subprocess.run(
            [sys.executable, "-c", script, str(tmp_path / f"there.{ending}")],
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        there = (tmp_path / f"there.{ending}").read_bytes()
        assert there == (tmp_path / f"here.{ending}").read_bytes()


def test_svg_text_is_text_and_names_its_title(tmp_path: Path) -> None:
    save(heater(), tmp_path / "heater.svg", HEATER["title"])
    root = parsed(tmp_path / "heater.svg")
    texts = {"".join(t.itertext()) for t in root.iter(f"{SVG}text")}
    for expected in (HEATER["title"], "V L1-L2", "I L1", "Star points", "W1: 0 W, zero"):
        assert expected in texts
    assert root.find(f"{SVG}title").text == HEATER["title"]
    paths = "".join(p.get("d", "") for p in root.iter(f"{SVG}path"))
    assert "DejaVu" not in paths  # glyphs as shapes would be defined under the font's name
    assert not [use for use in root.iter(f"{SVG}use") if "DejaVu" in str(use.attrib)]
    assert "DejaVu Sans" in (tmp_path / "heater.svg").read_text("utf-8")


def test_names_in_an_svg_are_unique_and_have_no_blanks(tmp_path: Path) -> None:
    save(heater(), tmp_path / "heater.svg", "t")
    ids = [e.get("id") for e in parsed(tmp_path / "heater.svg").iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert not [name for name in ids if re.search(r"\s", name)]
    assert {"W1-V", "W1-I", "W2-projection", "main-V-L1-head"} <= set(ids)


def test_no_file_has_a_date(tmp_path: Path) -> None:
    for ending in ENDINGS:
        save(heater(), tmp_path / f"heater.{ending}", "t")
        content = (tmp_path / f"heater.{ending}").read_bytes()
        assert not re.search(rb"CreationDate|ModDate|dc:date|tIME", content)


def test_metadata_of_png_and_pdf(tmp_path: Path) -> None:
    for ending in ("png", "pdf"):
        save(heater(), tmp_path / f"heater.{ending}", HEATER["title"])
    with Image.open(tmp_path / "heater.png") as image:
        assert image.info["Title"] == HEATER["title"]
        assert image.size == (1753, 1240)  # derived: A4, 11.69 in x 8.27 in at 150 dots per inch
    pdf = (tmp_path / "heater.pdf").read_bytes()
    title = re.search(rb"/Title (<[0-9a-f]+>|\((?:[^()\\]|\\.)*\))", pdf)
    assert title is not None
    assert "A heater".encode("utf-16-be") in _unescaped(title[1])


def _unescaped(text: bytes) -> bytes:
    if text.startswith(b"<"):
        return bytes.fromhex(text[1:-1].decode())
    return re.sub(rb"\\(.)", rb"\1", text[1:-1])


def test_a_file_is_not_overwritten_unasked(tmp_path: Path) -> None:
    path = tmp_path / "figure.png"
    path.write_bytes(b"mine")
    with pytest.raises(ScenarioError, match="the file exists; --overwrite replaces it") as caught:
        save(Figure(), path, "t")
    assert caught.value.place == str(path)
    assert path.read_bytes() == b"mine"
    save(Figure(), path, "t", overwrite=True)
    assert path.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("name", ["figure.gif", "figure", "figure.svg.bak", ".svg"])
def test_another_ending_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(ScenarioError, match=r"ends in \.svg, \.png or \.pdf"):
        save(Figure(), tmp_path / name, "t")
    assert list(tmp_path.iterdir()) == []


def test_endings_may_be_in_capitals(tmp_path: Path) -> None:
    save(Figure(), tmp_path / "FIGURE.PNG", "t")
    assert (tmp_path / "FIGURE.PNG").exists()


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError, match="cannot write it: No such file or directory"):
        save(Figure(), tmp_path / "nowhere" / "figure.svg", "t")
    folder = tmp_path / "folder.svg"
    folder.mkdir()
    with pytest.raises(ScenarioError, match="cannot write it"):
        save(Figure(), folder, "t", overwrite=True)
    assert list(tmp_path.iterdir()) == [folder]


def test_a_title_of_odd_characters_does_no_harm(tmp_path: Path) -> None:
    shown = "漢字, 😀, ${x}$, \\alpha"
    title = f"bell \x07, two\nlines, {shown}"
    scenario = simulator.scenario_from(HEATER | {"title": shown})
    figure = draw_phasors(simulator.solve(scenario))
    for ending in ENDINGS:
        save(figure, tmp_path / f"odd.{ending}", title)
    root = parsed(tmp_path / "odd.svg")
    assert root.find(f"{SVG}title").text == f"bell , two lines, {shown}"
    assert shown in {"".join(t.itertext()) for t in root.iter(f"{SVG}text")}


def test_png_has_a_white_background(tmp_path: Path) -> None:
    save(heater(), tmp_path / "heater.png", "t")
    with Image.open(tmp_path / "heater.png") as image:
        pixels = np.asarray(image.convert("RGBA"))
    assert pixels[0, 0].tolist() == [255, 255, 255, 255]

"""What the page is made of, and what it says of a situation."""

from __future__ import annotations

import re
from importlib import resources
from itertools import pairwise
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import pytest

import simulator
from simulator.findings.explanation import explain
from simulator.metering.catalogue import METHODS
from tests.explore.files import MOTOR, OWN_METERS, UNBALANCED

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.explore.conftest import Page

FILES = resources.files("simulator") / "explore" / "page"
FLOATING = "wires=4&method=three+wattmeters+to+a+floating+star+point&I1=100&coil2=-50"


def test_only_its_own_files_and_no_script_in_markup(page: Page) -> None:
    response = page.get("/")
    policy = response.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    linked = set(re.findall(r'(?:src|href)="(/[^"]+)"', response.text))
    assert {"/page/main.js", "/page/print.css", "/page/board.css", "/page/paper.css"} <= linked
    for path in linked:
        assert page.get(path).status_code == 200
    for file in FILES.iterdir():
        text = file.read_text(encoding="utf-8")
        assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", text), file.name
        assert not re.search(r"\son\w+=|<script>|style=|innerHTML|eval\(", text), file.name


@pytest.mark.parametrize("path", ["/", "/controls", "/readings", "/why", "/page/main.js", "/none"])
def test_headers(page: Page, path: str) -> None:
    headers = page.get(path).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "no-store"
    assert "frame-ancestors 'none'" in headers["content-security-policy"]


def luminance(colour: str) -> float:
    """Relative luminance as the W3C's accessibility guidelines define it (from memory)."""
    digits = colour if len(colour) == 6 else "".join(2 * c for c in colour)
    r, g, b = (int(digits[k : k + 2], 16) / 255 for k in (0, 2, 4))
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (r, g, b))
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    dark, light = sorted(map(luminance, (one, other)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast() -> None:
    # 4.5 for texts and 3 for what can be used: the same guidelines, level AA (from memory)
    assert contrast("000", "fff") == pytest.approx(21)
    sheets = [(FILES / f"{name}.css").read_text(encoding="utf-8") for name in ("board", "paper")]
    light, dark = ("".join(sheets), f"{sheets[0]}{sheets[1].partition('prefers-color-scheme')[2]}")
    light = light.replace(dark.removeprefix(sheets[0]), "")
    for sheet in (light, dark):
        colour = dict(re.findall(r"--([\w-]+): #([0-9a-f]+);", sheet))
        pairs = [(c, "board") for c in ("chalk", "chalk-soft", "chalk-warm")]
        pairs += [(c, paper) for c in ("ink", "ink-soft", "accent") for paper in ("paper", "card")]
        assert min(contrast(colour[a], colour[b]) for a, b in pairs) >= 4.5
        assert contrast(colour["line"], colour["paper"]) >= 3
        assert contrast(colour["line"], colour["card"]) >= 3


def controls(page: Page) -> dict[str, dict[str, Any]]:
    return {control["name"]: control for control in page.ask("/controls")["controls"]}


def test_every_stop_of_every_control_is_an_address(page: Page) -> None:
    for control in controls(page).values():
        values = [value for value, *_ in control["stops"]]
        assert control["start"] in values
        assert len(set(values)) == len(values)
        for value in values:
            assert page.client.get("/", params={control["name"]: value}).status_code == 200


def test_controls(page: Page) -> None:
    found = controls(page)
    assert [value for value, *_ in found["method"]["stops"]] == list(METHODS)
    assert [c["name"] for c in found.values() if c["whyNot"]] == []
    texts = [text for _, text, _ in found["pf"]["stops"]]
    assert (texts[0], texts[-1]) == ("0 lead, φ 90°", "0 lag, φ 90°")
    assert {"1, φ 0°", "0.5 lag, φ 60°", "0.866 lead, φ 30°", "0.8 lag, φ 36.9°"} <= set(texts)
    angles = [angle(text) for text in texts]
    assert all(a < b for a, b in pairwise(angles))


def angle(text: str) -> float:
    size = float(text.split("φ ")[1].removesuffix("°"))
    return -size if "lead" in text else size


def test_controls_of_a_file(page_of: Callable[[str], Page]) -> None:
    own = controls(page_of(OWN_METERS))
    assert own["method"]["start"] == "as in the file"
    assert own["wires"]["whyNot"] == "the file says how many there are"
    assert own["Nsupply"]["start"] == "file"
    assert ["file", "50+20j mΩ", ""] in own["Nsupply"]["stops"]
    assert own["Nload"]["start"] == "file"
    assert own["I1"]["label"] == "Load on A-B and A"
    assert own["turn"]["stops"][0][0] == "-90"  # the lamps at 0°, the works at 36.87° lag
    assert own["turn"]["stops"][-1][0] == "53"
    motor = controls(page_of(MOTOR))
    still = {name for name, control in motor.items() if control["whyNot"]}
    assert still == {"wires", "Nsupply", "pf", "I1", "I2", "I3", "Nload"}


def test_a_pure_reactance_stays_one(page_of: Callable[[str], Page]) -> None:
    text = UNBALANCED.replace('L1 = "23 ohm"', 'L1 = "23 ohm @ -90 deg"')
    page = page_of(text)
    assert controls(page)["turn"]["stops"][0][0] == "0"
    assert page.ask("/readings?turn=30")["problem"] is None


def test_what_does_nothing_says_why(page: Page) -> None:
    idle = page.ask("/readings")["idle"]
    assert idle["Nload"] == "there is no neutral on three wires"
    assert idle["coil1"].startswith("only a star point made of voltage circuits")
    assert "line" not in idle
    answer = page.ask(f"/readings?{FLOATING}")
    assert answer["idle"] == {"line": "this method leaves no choice of a line"}
    assert answer["labels"]["coil3"] == "Ohms in W3's voltage circuit"
    answer = page.ask("/readings?method=one+wattmeter+with+artificial+neutral&line=L1")
    assert answer["labels"]["coil2"] == "R1 from L2 to P"
    assert answer["labels"]["line"] == "Line of the current circuit"


def test_texts_of_the_board(page: Page) -> None:
    # derived: 400 V · 10 A · cos(30° ± 75°) at power factor cos 75°; total √3·4000·cos 75°
    answer = page.ask("/readings?pf=0.259lag&reversed=W1.voltage")
    texts = [(r["text"], r["unit"], r["direction"]) for r in answer["readings"]]
    assert texts == [("1035.3", "W", "upscale"), ("2828.4", "W", "upscale")]
    total = answer["total"]
    assert total["texts"] == ["3863.7", "1793.2"]
    assert total["verdict"] == "off by +2070.6 W (+115.47 %)"
    right = page.ask("/readings?pf=0.259lag")
    assert right["readings"][0]["text"] == "−1035.3"
    assert right["readings"][0]["direction"] == "downscale"
    assert right["readings"][0]["senses"] == "400.0 V, L1 to L2; 10.00 A in L1; 105.0° apart"
    assert right["total"]["verdict"] == "holds"
    reactive = page.ask("/readings?method=two+wattmeters+for+reactive+power")["total"]
    assert reactive["formula"] == "√3 × (W2 − W1)"
    assert (reactive["unit"], reactive["texts"]) == ("var", ["4156.9", "4156.9"])


def test_zero_is_a_plain_zero(page: Page) -> None:
    for query in (  # a pure reactance: no active power; a resistance: no reactive power
        "wires=4&method=three+wattmeters+to+neutral&pf=0lag",
        "wires=3&method=three+wattmeters+for+reactive+power&pf=1",
    ):
        answer = page.ask(f"/readings?{query}")
        assert [r["text"] for r in answer["readings"]] == ["0", "0", "0"]
        assert answer["total"]["texts"] == ["0", "0"]
        assert answer["total"]["verdict"] == "holds"
    mixed = page.ask("/readings?method=two+wattmeters&pf=0lag")  # derived: ∓4000 W · cos 60°
    assert [r["text"] for r in mixed["readings"]] == ["−2000.0", "2000.0"]
    assert mixed["total"]["texts"] == ["0.0", "0.0"]


def test_large_powers_have_a_prefix(page_of: Callable[[str], Page]) -> None:
    large = UNBALANCED.replace("230 V", "23 kV")  # powers grow with the square: 23 MW in L1
    answer = page_of(large).ask("/readings")
    assert next((r["text"], r["unit"]) for r in answer["readings"]) == ("23000.0", "kW")
    assert answer["total"]["texts"] == ["46000.0", "46000.0"]


def test_behind_transformers_the_primary_is_shown(page_of: Callable[[str], Page]) -> None:
    for reading in page_of(OWN_METERS).ask("/readings")["readings"]:
        shown = float(reading["text"].replace("−", "-"))
        assert shown == pytest.approx(reading["watts"], rel=1e-4)


def test_facts(page_of: Callable[[str], Page]) -> None:
    # needs.md 1 and 2: neutral current 13.229 A at 19.11°; open: star point 139.60 V at 42.52°
    facts = dict(page_of(UNBALANCED).ask("/readings")["facts"])
    assert facts["current in N"] == "13.23 A ∠19.1°"
    facts = dict(page_of(UNBALANCED).ask("/readings?Nload=open")["facts"])
    assert facts["current in N"] == "0 A"
    assert facts["star point of ovens, against the supply's"] == "139.6 V ∠42.5°"


def test_files_without_total_or_meters(page_of: Callable[[str], Page]) -> None:
    bare = UNBALANCED.split("[method]")[0]
    answer = page_of(bare).ask("/readings")
    assert (answer["readings"], answer["total"]) == ([], None)
    assert page_of(bare).ask("/why")["why"] is None
    chosen = page_of(bare).ask("/readings?method=three+wattmeters+to+neutral")
    assert chosen["total"]["right"] is True


def test_why(page: Page) -> None:
    # physics.md section 3: floating star, unequal circuits, four wires: right only where no
    # neutral current flows, and for balanced loads on voltages that sum to zero
    answer = page.ask(f"/why?{FLOATING}")["why"]
    rows = {r["head"]: [c["right"] for c in r["cells"]] for r in answer["table"]["rows"]}
    assert rows == {
        "any voltages": [False, True, False, False],
        "zero-sum voltages": [False, True, True, True],
        "symmetrical voltages": [False, True, True, True],
    }
    here = [c["here"] for r in answer["table"]["rows"] for c in r["cells"]]
    assert here == [True, False, False, False] * 3  # neutral current, unbalanced, symmetrical
    explained = explain(page.downloaded(FLOATING))
    assert answer["proof"] == list(explained.proof)
    assert next(t[2] for t in answer["terms"]) == "Re((V_N − V_P)·I_N*)"
    assert simulator.solve(simulator.parse_scenario(answer["counterexample"])).total
    three = page.ask("/why")["why"]["table"]
    assert three["heads"] == ["any load", "balanced load", "balanced resistive load"]
    assert all(c["right"] for r in three["rows"] for c in r["cells"])
    assert page.ask("/why")["why"]["terms"][-1][1] == "0.0000"


def test_connections_as_a_list(page: Page) -> None:
    text = page.ask("/why?reversed=W1.current")["connections"]
    assert "W1 current circuit, marked end: L1 on the load side of W1" in text
    assert "Caution: Work dead" in text


@pytest.mark.parametrize("name", ["phasors", "connections"])
def test_drawings(page: Page, name: str) -> None:
    response = page.get(f"/{name}.svg?{FLOATING}")
    assert response.headers["content-type"].startswith("image/svg+xml")
    assert "script" not in response.headers["content-security-policy"]
    root = ET.fromstring(response.content)  # noqa: S314  (our own drawing)
    texts = [t for element in root.iter() if (t := (element.text or "").strip())]
    assert any(t.startswith(("3.557 kW", "W1: 3.557 kW")) for t in texts)
    assert page.get(f"/{name}.svg?{FLOATING}").content == response.content


def test_download(page: Page) -> None:
    response = page.get(f"/scenario.toml?{FLOATING}")
    assert response.headers["content-disposition"] == 'attachment; filename="situation.toml"'
    assert response.text.startswith("# Moved at the board: I1 = 100, coil2 = -50, method = three w")


def test_a_title_cannot_be_markup(page_of: Callable[[str], Page]) -> None:
    page = page_of(UNBALANCED.replace('"U"', '"</title><script>alert(1)</script>"'))
    assert "alert(1)" not in page.get("/").text
    assert page.ask("/controls")["title"] == "</title><script>alert(1)</script>"
    ET.fromstring(page.get("/phasors.svg").content)  # noqa: S314  (our own drawing)

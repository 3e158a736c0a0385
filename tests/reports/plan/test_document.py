"""The plan as a document: every part there, HTML well formed and self-contained, Markdown alike."""

from __future__ import annotations

import base64
import re
from html.parser import HTMLParser

import pytest

from simulator.reports.document import Heading, Picture, Table, write_document
from simulator.reports.html import html_of
from simulator.reports.markdown import markdown_of
from simulator.reports.plan.cautions import caution_blocks
from simulator.reports.plan.job import job_blocks, method_blocks, turns_blocks
from simulator.reports.plan.sheet import plan_document
from tests.reports.plan.base import MOTOR, U, flat, lines, plan, shipped, tables

VOID = {"meta", "img", "br"}
NEED_3 = {"width": 0.03}


class Checker(HTMLParser):
    """Elements must close in order, and nothing may be fetched."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.seen: list[str] = []
        self.sources: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        if tag not in VOID:
            self.open.append(tag)
        self.sources += [v or "" for k, v in attrs if k in ("src", "href", "srcset", "data")]
        assert not [k for k, _ in attrs if k.startswith("on")]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.fixture(scope="module")
def document():
    return plan_document(plan(MOTOR))


@pytest.fixture(scope="module")
def html(document) -> str:
    return html_of(document)


def test_html_is_well_formed(html: str) -> None:
    checker = Checker()
    checker.feed(html)
    checker.close()
    assert checker.open == []
    assert html.startswith("<!DOCTYPE html>")
    assert checker.seen.count("img") == 2
    assert checker.seen.count("table") >= 6
    assert not {"script", "link", "iframe", "object"} & set(checker.seen)


def test_html_fetches_nothing(html: str) -> None:
    checker = Checker()
    checker.feed(html)
    assert checker.sources
    assert all(source.startswith("data:image/svg+xml;base64,") for source in checker.sources)
    assert all(url.startswith("data:") for url in re.findall(r"url\([\"']?([^\"')]*)", html))
    assert "@import" not in html
    for source in checker.sources:
        picture = base64.b64decode(source.partition(",")[2]).decode()
        assert picture.rstrip().endswith("</svg>")
        references = re.findall(r"(?:href|src)=\"([^\"]*)\"", picture)
        assert all(reference.startswith("#") for reference in references)


def test_every_part_in_order(document) -> None:
    headings = [block.text for block in flat(document.blocks) if isinstance(block, Heading)]
    assert headings == [
        "Cautions",
        "Expected and measured",
        "Outcome",
        "If instead you see …",
        "Check list, in working order",
        "Connections, in working order",
        "Method",
        "Ranges and transformers",
        "Assumed, and to be known",
    ]
    assert document.title == "Measurement plan: Conveyor motor"
    assert "local codes prevail" in document.foot


def test_markdown_says_the_same(document) -> None:
    text, pictures = markdown_of(document, "plan")
    assert set(pictures) == {"plan-figure-1.svg", "plan-figure-2.svg"}
    plain = text.replace("\\", "")
    for line in lines(document.blocks):
        assert " ".join(line.split()) in " ".join(plain.replace("**", "").split())
    for block in flat(document.blocks):
        if isinstance(block, Table):
            for row in block.rows:
                assert "| " + " | ".join(row) + " |" in plain


def test_connections_are_those_of_the_measurement(document) -> None:
    table = next(t for t in tables(document.blocks).values() if t.headings[-1] == "done")
    pins = {row[0]: row[1] for row in table.rows}
    assert pins["W1 voltage circuit, other end"].startswith("L2")
    assert pins["CT ct of W2 in L3, S2"] == "earth (one point of the secondary)"
    assert not [pin for pin in pins if pin.startswith(("conveyor", "source"))]
    assert {row[-1] for row in table.rows} == {""}


def test_station_pictures_stand_upright() -> None:
    document = plan_document(shipped("one-meter-moved-in-turn"))
    first, second = (b for b in flat(document.blocks) if isinstance(b, Picture))
    assert (first.landscape, second.landscape) == (False, True)
    table = next(t for t in tables(document.blocks).values() if t.headings[-1] == "done")
    assert table.headings[0] == "station"
    assert {row[0] for row in table.rows} == {"1", "2", "3"}


def test_hostile_names_stay_text(tmp_path) -> None:
    text = U.replace('"Village"', '"<script>alert(1)</script> & \\"x\\""').replace(
        'name = "village"', 'name = "a | b"'
    )
    document = plan_document(plan(text))
    checker = Checker()
    checker.feed(html_of(document))
    assert checker.open == []
    assert "script" not in checker.seen
    written = write_document(document, tmp_path / "plan.md")
    assert len(written) == 3
    assert "a \\| b" in written[0].read_text("utf-8")


def test_job_says_what_is_planned() -> None:
    (said,) = lines(job_blocks(plan(MOTOR)))
    # 15000 W / 0.905 at power factor 0.82: 16.57 kW and, times tan φ = 0.698, 11.57 kvar
    assert said == (
        "Planned for. 400 V between L1, L2, L3, earthing not stated; load 'conveyor': star, "
        "16.57 kW, 11.57 kvar, power factor 0.82 lag; power factor 0.79 lag to 0.85 lag, power "
        "kept."
    )


def test_notes_of_the_command_read_are_left_out(document) -> None:
    assert not [x for x in lines(document.blocks) if x.startswith("U and I are")]
    assert len([x for x in lines(document.blocks) if x.startswith("Nothing is uncertain")]) == 1


HOLDS = {
    "a-first-measurement": "for any load on any supply, as long as no current takes another way",
    "one-meter-two-positions": "as long as the load is balanced and the voltages are symmetrical",
    "reactive-power-one-meter": "the voltages are symmetrical and the sequence is as stated; and",
    "two-meters-with-a-neutral": "only if no neutral current flows, and that is not so here",
    "unequal-coils-three-wires": "for any load on any supply",
    "reversed-current-circuit": "for no load and supply at all",
}


@pytest.mark.parametrize(("name", "words"), HOLDS.items())
def test_method_holds(name: str, words: str) -> None:
    said = [x for x in lines(method_blocks(shipped(name))) if x.startswith("The method holds")]
    assert words in said[0]


def test_a_wrong_method_is_not_taken_along_unnoticed() -> None:
    """Need 1: base case U with common B indicates 6900 W of 4600 W, 50 % too high."""
    (warning,) = (
        x
        for x in lines(caution_blocks(shipped("two-meters-with-a-neutral")))
        if x.startswith("Choose another method.")
    )
    assert "50.0 % too high" in warning
    assert "'three wattmeters to neutral' is right for any load" in warning
    assert not [x for x in lines(caution_blocks(plan(MOTOR))) if x.startswith("Choose")]


def test_stations_are_bracketed() -> None:
    blocks = turns_blocks(shipped("one-meter-moved-in-turn"))
    said = lines(blocks)
    # derived: 3, 2, 1 kW growing by 5 % of the first each time, against the mean load: read in this
    # order (3 + 2·1.05 + 1.1) − 6·1.05 = −0.1 of 6.3 kW
    assert any(f"makes the total {100 * 0.1 / 6.3:.3g} % too low" in line for line in said)
    assert any("a linear drift cancels" in line for line in said)
    assert any("never open a conductor under load" in line for line in said)
    order = [row[1] for row in tables(blocks)["no."].rows]
    assert order == order[::-1]
    assert set(order) == {"W1", "W2", "W3"}
    assert {row[2:] for row in tables(blocks)["no."].rows} == {("", "", "")}


def test_no_total() -> None:
    alone = U.replace('[method]\nname = "three wattmeters to neutral"', "")
    alone += '[[wattmeter]]\nname = "W"\ncurrent = "L1"\nvoltage = ["L1", "N"]\n'
    document = plan_document(plan(alone))
    assert "No total is formed from the readings." in lines(document.blocks)
    assert html_of(document)

"""Sheet and key as documents, and the command that writes them."""

from __future__ import annotations

import argparse
import json

import pytest

from simulator.commands import practice
from simulator.errors import ScenarioError
from simulator.reports.document import Items, Picture, Table, Together, Working
from simulator.reports.markdown import markdown_of
from simulator.reports.practice.generate import Sheet, problems_of
from simulator.reports.practice.problem import Choice
from simulator.reports.practice.sheet import answer_key, options_of, question_sheet

SHEET = Sheet(seed=4, problems=4, level=2, kinds=("predict", "infer", "choose-method"))


@pytest.fixture(scope="module")
def problems():
    return problems_of(SHEET)


def _all(blocks):
    for block in blocks:
        yield block
        if isinstance(block, Together):
            yield from _all(block.blocks)


def _answers(document):
    tables = [b for b in _all(document.blocks) if isinstance(b, Table)]
    return [row for t in tables if t.headings[1] == "asked" for row in t.rows]


def test_the_sheet_asks_and_does_not_tell(problems):
    rows = _answers(question_sheet(SHEET, problems))
    assert [row[2] for row in rows] == [""] * sum(len(p.asks) for p in problems)
    text = markdown_of(question_sheet(SHEET, problems), "s")[0]
    for problem in problems:
        for ask in problem.asks:
            if not isinstance(ask, Choice) and len(ask.written(ask.value)) > 6:
                assert ask.written(ask.value) not in text


def test_the_key_answers_every_part(problems):
    rows = _answers(answer_key(SHEET, problems))
    expected = [
        ", ".join(sorted(a.right)) if isinstance(a, Choice) else a.written(a.value)
        for p in problems
        for a in p.asks
    ]
    assert [row[2] for row in rows] == expected
    assert rows[0][0] == "1a"


def test_the_key_has_working_slips_and_diagram(problems):
    blocks = list(_all(answer_key(SHEET, problems).blocks))
    assert sum(isinstance(b, Working) for b in blocks) == len(problems)
    assert sum(isinstance(b, Picture) for b in blocks) == len(problems)
    slips = [b for b in blocks if isinstance(b, Table) and b.headings[0] == "slip"]
    assert len(slips) == len(problems)
    for table in slips:
        for name, *cells in table.rows:
            assert any(cell not in ("–", "as right") for cell in cells), name


def test_letters_stand_before_what_they_mean(problems):
    items = [b for b in _all(question_sheet(SHEET, problems).blocks) if isinstance(b, Items)]
    assert items[0].texts[0].startswith("A: ")


def test_the_same_sheet_twice_is_the_same_text(problems):
    again = question_sheet(SHEET, problems_of(SHEET))
    assert markdown_of(again, "s") == markdown_of(question_sheet(SHEET, problems), "s")


def test_options_that_make_it_again():
    assert options_of(Sheet()) == "--seed 1 --problems 6 --level 1"
    some = Sheet(kinds=("infer",), methods=("one wattmeter, two positions", "two wattmeters"))
    assert options_of(some).endswith(
        '--kinds infer --methods "one wattmeter, two positions; two wattmeters"'
    )


def _run(*arguments):
    parser = argparse.ArgumentParser()
    practice.add(parser.add_subparsers())
    options = parser.parse_args(["practice", *map(str, arguments)])
    return options.run(options)


ONE = ("--problems", 1, "--kinds", "infer", "--methods", "two wattmeters")


def test_writing_a_sheet_and_its_key(tmp_path, capsys):
    out = tmp_path / "sheet.html"
    assert _run(*ONE, "--out", out) == 0
    assert (tmp_path / "sheet-key.html").exists()
    assert capsys.readouterr().out == ""
    first = out.read_bytes()
    with pytest.raises(ScenarioError, match="--overwrite"):
        _run(*ONE, "--out", out)
    assert _run(*ONE, "--out", out, "--overwrite") == 0
    assert out.read_bytes() == first


def test_an_existing_key_stops_the_sheet_too(tmp_path):
    (tmp_path / "sheet-key.html").write_text("mine")
    with pytest.raises(ScenarioError, match=r"sheet-key\.html"):
        _run(*ONE, "--out", tmp_path / "sheet.html")
    assert not (tmp_path / "sheet.html").exists()


def test_markdown_with_its_pictures(tmp_path):
    assert _run(*ONE, "--out", tmp_path / "sheet.md") == 0
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"sheet.md", "sheet-key.md", "sheet-key-figure-1.svg"}


def test_marking(tmp_path, capsys):
    answers = tmp_path / "answers.csv"
    answers.write_text("problem,answer,unit\n1c,0.1,\n")
    assert _run(*ONE, "--mark", answers, "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert [m["verdict"] for m in found["marks"]] == ["no answer", "no answer", "not recognised"]
    assert _run(*ONE, "--mark", answers) == 0
    assert "0 of 3 right." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((), "say where to"),
        (("--json", "--out", "x.html"), "--json belongs to --mark"),
        (("--out", "x.pdf"), r"ends in \.html or \.md"),
        (("--out", "x.html", "--seed", "one"), "--seed: expected a whole number, got 'one'"),
        (("--out", "x.html", "--level", "9"), "--level: expected 1, 2 or 3"),
        (("--out", "x.html", "--kinds", "guess"), "--kinds: there is no 'guess'"),
        (("--out", "x.html", "--methods", "guess"), "--methods: there is no 'guess'"),
        (("--mark", "none.csv"), "none.csv: cannot read it"),
    ],
)
def test_refused(arguments, message):
    with pytest.raises(ScenarioError, match=message):
        _run(*arguments)


def test_a_wrong_answer_file_is_named(tmp_path):
    answers = tmp_path / "answers.csv"
    answers.write_text("problem,answer\n7,1\n")
    with pytest.raises(ScenarioError, match=r"answers\.csv: line 2, 7: there is no problem '7'"):
        _run(*ONE, "--mark", answers)

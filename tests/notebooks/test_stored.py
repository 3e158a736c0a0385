"""Lessons as they are stored: without output, on the public API, built alike.

That they run is tested by ``pytest --nbmake notebooks`` (extra ``notebooks``).
"""

from __future__ import annotations

import ast
import json
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

import simulator

ROOT = Path(__file__).parents[2]
LESSONS = sorted((ROOT / "notebooks").glob("*.ipynb"))
# No public name yet; empty this list when there is one.
NOT_YET_PUBLIC = {"simulator.findings.uncertainty.evaluation"}


def _cells(path, kind):
    document = json.loads(path.read_text("utf-8"))
    return ["".join(c["source"]) for c in document["cells"] if c["cell_type"] == kind]


def _code(path):
    cells = _cells(path, "code")
    return ast.parse("\n".join(c.replace("%matplotlib inline\n", "") for c in cells))


def test_there_are_six():
    assert [path.name[:2] for path in LESSONS] == ["01", "02", "03", "04", "05", "06"]


@pytest.fixture(params=LESSONS, ids=lambda path: path.stem)
def lesson(request):
    return request.param


def test_stored_without_output(lesson):
    document = json.loads(lesson.read_text("utf-8"))
    for cell in document["cells"]:
        if cell["cell_type"] == "code":
            assert cell["outputs"] == []
            assert cell["execution_count"] is None
    assert "widgets" not in document["metadata"]


def test_opens_with_a_question_and_ends_with_two(lesson):
    texts = _cells(lesson, "markdown")
    assert texts[0].startswith("# ")
    assert "?" in texts[0]
    head, _, questions = texts[-1].rpartition("## For you")
    assert head is not None
    assert [line[:2] for line in questions.splitlines() if line[:1].isdigit()] == ["1.", "2."]


def test_ends_with_what_it_is_about(lesson):
    """The last cell asserts, and calls the slider's function: a slider swallows errors."""
    last = _cells(lesson, "code")[-1]
    assert "assert " in last
    functions = [n.name for n in ast.walk(_code(lesson)) if isinstance(n, ast.FunctionDef)]
    assert last.startswith(f"{functions[0]}(")


def test_one_slider_and_no_other_function(lesson):
    code = _code(lesson)
    functions = [n for n in ast.walk(code) if isinstance(n, ast.FunctionDef)]
    assert len(functions) == 1
    (decorator,) = functions[0].decorator_list
    assert decorator.func.id == "interact"
    assert not [n for n in ast.walk(code) if isinstance(n, ast.ClassDef | ast.Lambda)]


def test_the_slider_works_at_both_ends(lesson, monkeypatch, capsys):
    found = {}

    def interact(**span):
        def keep(function):
            found.update(function=function, span=span)
            return function

        return keep

    monkeypatch.setitem(sys.modules, "ipywidgets", SimpleNamespace(interact=interact))
    monkeypatch.chdir(lesson.parent)
    names = {}
    for node in _code(lesson).body:
        if not found and "figures_of" not in ast.unparse(node):
            exec(compile(ast.Module([node], []), lesson.name, "exec"), names)  # noqa: S102 (it is ours)
    ((argument, (low, high, *_)),) = found["span"].items()
    shown = []
    for value in (low, high):
        capsys.readouterr()
        found["function"](**{argument: value})
        shown.append(capsys.readouterr().out)
    assert shown[0] != shown[1]
    assert all(text and "nan" not in text and " -0.0 " not in text for text in shown)


def test_only_the_public_api(lesson):
    for node in ast.walk(_code(lesson)):
        if isinstance(node, ast.ImportFrom) and node.module.startswith("simulator"):
            assert node.module in NOT_YET_PUBLIC
        if isinstance(node, ast.Import):
            assert {alias.name for alias in node.names} == {"simulator"}
        of_simulator = isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)
        if of_simulator and node.value.id == "simulator":
            assert node.attr in simulator.__all__


def test_runs_shipped_scenarios(lesson):
    named = {
        node.value
        for node in ast.walk(_code(lesson))
        if isinstance(node, ast.Constant) and str(node.value).endswith(".toml")
    }
    assert named
    for name in named:
        assert (ROOT / "scenarios" / name).exists()


def test_the_text_names_only_shipped_scenarios(lesson):
    for text in _cells(lesson, "markdown"):
        for word in text.replace("`", " ").split():
            if word.endswith(".toml"):
                assert (ROOT / "scenarios" / word).exists(), word

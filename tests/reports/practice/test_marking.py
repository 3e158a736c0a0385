from __future__ import annotations

import pytest

from simulator.errors import ScenarioError
from simulator.findings.inference import Given, infer
from simulator.reports.practice.infer_pair import pair_asks
from simulator.reports.practice.marking import (
    Answer,
    mark,
    marks_object,
    marks_text,
    parse_answers,
)
from simulator.reports.practice.problem import Choice, Problem


def _problem(level=2):
    """Need 12's example: −50 and 250 kW."""
    asks = pair_asks(infer(Given({"W1": -50e3, "W2": 250e3})), level)
    return Problem("infer", "two wattmeters", level, ("told",), asks, (), None)


def _letters():
    choice = Choice(
        "Which?", {"A": "one", "B": "two", "C": "three"}, frozenset("AC"), {"B": "wrong: why"}
    )
    return Problem("choose-method", "two wattmeters", 1, ("told",), (choice,), (), None)


def _marked(*answers, problems=None):
    given = [Answer(n, *answer) for n, answer in enumerate(answers, 2)]
    return {m.problem: m for m in mark(problems or [_problem()], given)}


def test_right_answers_in_any_unit():
    """derived: need 12, P 200 kW, Q 519.6 kvar, φ 68.95°, power factor 0.3592, lag."""
    marks = _marked(
        ("1a", "200", "kW"), ("1b", "519600"), ("1c", "68.95 deg"), ("1d", "0.36"), ("1e", "Lag")
    )
    assert [m.verdict for m in marks.values()] == ["right"] * 5


def test_a_slip_is_named():
    marks = _marked(("1a", "346.4", "kW"), ("1d", "0.555"), ("1e", "lead"))
    assert marks["1a"].slips == ("√3 applied to the sum",)
    assert marks["1d"].slips == ("√3 left out of Q and tan φ",)
    assert marks["1e"].verdict == "slip"
    assert marks["1b"].verdict == "no answer"


def test_slips_on_one_number_are_both_named():
    (found,) = [m for m in _marked(("1d", "0.6547")).values() if m.given]
    assert set(found.slips) == {"minus sign lost", "tan φ upside down, √3·(sum)/(difference)"}
    assert "ask for the working" in marks_text([found])


def test_another_part_tells_slips_on_one_number_apart():
    marks = _marked(("1a", "300 kW"), ("1d", "0.6547"))
    assert marks["1d"].slips == ("minus sign lost",)


@pytest.mark.parametrize(
    ("answer", "slip"),
    [
        ("-200 kW", "the sign is wrong"),
        ("200 W", "a thousand times too small"),
        ("200 MW", "a thousand times too large"),
    ],
)
def test_habits(answer, slip):
    assert _marked(("1a", answer))["1a"].slips == (slip,)


@pytest.mark.parametrize(
    ("part", "answer", "slips"),
    [
        ("1a", "200 kvar", ("it should have the unit W, not var",)),
        ("1b", "519.6 kW", ("it should have the unit var, not W",)),
        ("1a", "346.4 kVA", ("√3 applied to the sum; it should have the unit W, not VA",)),
        ("1d", "0.3592 W", ("it should have no unit, not W",)),
    ],
)
def test_a_wrong_unit_is_a_slip_and_stops_no_marking(part, answer, slips):
    mark = _marked((part, answer))[part]
    assert (mark.verdict, mark.slips) == ("slip", slips)


def test_a_wrong_number_in_a_wrong_unit_is_not_recognised():
    mark = _marked(("1a", "123 kvar"))["1a"]
    assert (mark.verdict, mark.slips) == (
        "not recognised",
        ("it should have the unit W, not var",),
    )


def test_a_power_factor_in_percent():
    assert _marked(("1d", "35.92 %"))["1d"].verdict == "right"


def test_letters_without_quotation_marks():
    """``1,A,C`` reads as the answer A in the unit C; the student meant both."""
    answers = parse_answers(b"problem,answer,unit\n1,A,C\n")
    assert mark([_letters()], answers)[0].verdict == "right"


@pytest.mark.parametrize(
    ("part", "answer", "times"), [("1a", "2,5", 1), ("1d", "0,36", 1), ("1a", "2 kJ", 0)]
)
def test_a_comma_is_mentioned_where_there_is_one(part, answer, times):
    with pytest.raises(ScenarioError) as caught:
        _marked((part, answer))
    assert str(caught.value).count("a decimal point, no comma") == times


def test_not_recognised():
    assert _marked(("1a", "123 kW"))["1a"].verdict == "not recognised"


@pytest.mark.parametrize("text", ["A C", "c,a", "AC"])
def test_letters(text):
    assert _marked(("1", text), problems=[_letters()])["1"].verdict == "right"


def test_wrong_and_missing_letters():
    found = _marked(("1", "AB"), problems=[_letters()])["1"]
    assert found.slips == ("B (two): wrong: why; C is missing",)


@pytest.mark.parametrize(
    ("answer", "message"),
    [
        (("1a", "5 apples"), "line 2, 1a: expected an active power"),
        (("1a", "2,5"), "decimal point"),
        (("1d", "0.3 lag"), "expected a number without a unit"),
        (("1d", "nan"), "expected a number without a unit"),
        (("1e", "perhaps"), "expected one or more of lag, lead, got 'perhaps'"),
        (("9", "1"), "there is no problem '9', only 1a, 1b"),
    ],
)
def test_refused_answers(answer, message):
    with pytest.raises(ScenarioError, match=message):
        _marked(answer)


def test_an_answer_given_twice_is_refused():
    with pytest.raises(ScenarioError, match="line 3, 1a: this answer is given twice"):
        _marked(("1a", "1"), ("1a", "1"))


def test_answer_files():
    assert parse_answers("\ufeffProblem, Answer, Unit\n\n1A, -2.5, kW\n".encode()) == (
        Answer(3, "1a", "-2.5", "kW"),
    )
    assert parse_answers(b'problem,answer\n3,"A, C"\n') == (Answer(2, "3", "A, C", ""),)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "expected the header problem,answer or problem,answer,unit, got nothing"),
        (b"problem;answer\n", "line 1: expected the header problem,answer or"),
        (b"problem,answer\n1a,2,kW\n", "line 2: expected problem,answer, got 3 values"),
        (b"problem,answer\n,2\n", "line 2: the problem is missing"),
        (b'problem,answer\n1a,"2\n', "line 2: expected CSV"),
        (b"\xff\xfe", "expected a text file in UTF-8"),
        (b"x" * 100_001, "expected a file of at most 100 kB"),
    ],
)
def test_refused_files(data, message):
    with pytest.raises(ScenarioError, match=message):
        parse_answers(data)


def test_object_and_text():
    marks = mark([_problem()], [Answer(2, "1a", "200", "kW")])
    found = marks_object(7, marks)
    assert (found["seed"], found["right"], found["of"]) == (7, 1, 5)
    assert found["marks"][0] == {
        "problem": "1a",
        "answer": "200 kW",
        "right_answer": "200 kW",
        "verdict": "right",
        "slips": [],
    }
    assert found["marks"][1]["answer"] is None
    assert marks_text(marks).endswith("1 of 5 right.\n")

from __future__ import annotations

import pytest

from simulator.errors import ScenarioError
from simulator.metering.catalogue import METHODS
from simulator.reports.practice.generate import KINDS, Sheet, problems_of
from simulator.reports.practice.problem import Choice

QUICK = ("predict", "infer", "draw-phasors")


def _shown(problems):
    return [(p.kind, p.method, p.told, p.asks, p.working) for p in problems]


def test_the_same_seed_gives_the_same_problems():
    sheet = Sheet(seed=7, problems=3, level=2, kinds=QUICK)
    assert _shown(problems_of(sheet)) == _shown(problems_of(sheet))


def test_another_seed_gives_others():
    one, other = (problems_of(Sheet(seed=s, problems=3, kinds=QUICK)) for s in (1, 2))
    assert [p.told for p in one] != [p.told for p in other]


def test_more_problems_leave_the_first_ones_alone():
    few, more = (problems_of(Sheet(seed=3, problems=n, kinds=QUICK)) for n in (2, 3))
    assert _shown(more)[:2] == _shown(few)


def test_kinds_and_methods_take_turns():
    """Every kind comes once in five problems, every method once in twelve."""
    problems = problems_of(Sheet(problems=12, kinds=QUICK))
    assert [p.kind for p in problems[:3]] == list(QUICK)
    assert {p.method for p in problems} == set(METHODS)


def test_no_problem_stands_twice_on_a_sheet():
    """Three cases at level 3 suit this method, so that two of them are often the same by chance."""
    for seed in range(6):
        sheet = Sheet(
            seed=seed,
            problems=2,
            level=3,
            kinds=("choose-method",),
            methods=("three wattmeters for reactive power",),
        )
        assert len({problem.told for problem in problems_of(sheet)}) == 2


def test_only_what_is_asked_for():
    sheet = Sheet(problems=2, kinds=("infer",), methods=("two wattmeters",))
    assert {(p.kind, p.method) for p in problems_of(sheet)} == {("infer", "two wattmeters")}


@pytest.mark.parametrize(
    ("wrong", "place"),
    [
        ({"problems": 0}, "problems"),
        ({"problems": 61}, "problems"),
        ({"level": 0}, "level"),
        ({"kinds": ("guess",)}, "kinds"),
        ({"kinds": ()}, "kinds"),
        ({"methods": ("four wattmeters",)}, "methods"),
    ],
)
def test_refused(wrong, place):
    with pytest.raises(ScenarioError) as caught:
        Sheet(**wrong)
    assert caught.value.place == place


def test_a_near_name_is_offered():
    with pytest.raises(ScenarioError, match="did you mean 'two wattmeters'"):
        Sheet(methods=("two watmeters",))


@pytest.mark.heavy
@pytest.mark.parametrize("level", [1, 2, 3])
@pytest.mark.parametrize("seed", range(5))
def test_every_kind_of_every_method_can_be_drawn(level, seed):
    problems = problems_of(Sheet(seed=seed, problems=60, level=level))
    assert {(p.kind, p.method) for p in problems} == {(k, m) for k in KINDS for m in METHODS}
    for problem in problems:
        for ask in problem.asks:
            assert isinstance(ask, Choice) or ask.same(ask.value, ask.value)
            if isinstance(ask, Choice):
                assert ask.right
                assert ask.right <= ask.options.keys()

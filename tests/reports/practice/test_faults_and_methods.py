"""Problems whose answer is letters: faults that explain readings, methods that are right."""

from __future__ import annotations

import re
from random import Random

import pytest

from simulator.reports.practice.choose_method import CASES, choose_method
from simulator.reports.practice.find_fault import NOTHING_WRONG, find_fault
from simulator.reports.practice.problem import Choice
from tests.reports.practice.by_hand import felt, quantity, readings

# Physics page, section 3, "Verified by calculation, with random members of each class"; Blondel
# (1893) for "any supply, any load". Only methods of the catalogue for that number of wires, and the
# methods of three wires on four.
TRUTH = {
    (3, "any", "any", False, False): {
        "two wattmeters",
        "three wattmeters to a floating star point",
        "three wattmeters to a line",
    },
    (4, "any", "any", False, False): {"three wattmeters to neutral", "one wattmeter moved in turn"},
    (4, "zero-sum", "any", False, False): {
        "three wattmeters to neutral",
        "one wattmeter moved in turn",
        "three wattmeters to a floating star point",
        "two elements, difference currents",
    },
    (4, "any", "no neutral current", False, False): {
        "two wattmeters",
        "three wattmeters to neutral",
        "one wattmeter moved in turn",
        "three wattmeters to a floating star point",
        "three wattmeters to a line",
    },
    # three wires: the circuits' impedances do not matter; four: they do
    (3, "any", "any", False, True): {
        "two wattmeters",
        "three wattmeters to a floating star point",
        "three wattmeters to a line",
    },
    (4, "zero-sum", "any", False, True): {
        "three wattmeters to neutral",
        "one wattmeter moved in turn",
        "two elements, difference currents",
    },
    (4, "symmetrical", "any", True, False): {"three wattmeters for reactive power"},
    # V_23 = −j√3·V_1 and so on, so their sum is √3·Q; √3·(W2 − W1) is 5346.6 for 2201.5 in U3
    (3, "symmetrical", "any", True, False): {"three wattmeters for reactive power"},
}
FEWEST = {
    (3, "any", "any", False, False): 2,  # one fewer than the wires (Blondel)
    (4, "any", "any", False, False): 3,
    (4, "zero-sum", "any", False, False): 2,  # two elements, difference currents
    (3, "symmetrical", "balanced", False, False): 1,
}


def _key(case):
    return case.wires, case.supply, case.load, case.reactive, case.unequal


@pytest.mark.parametrize("level", [1, 2, 3])
def test_right_methods(level):
    cases = {case.words: case for case in CASES[level]}
    seen = set()
    for seed in range(4):
        for method in ("two wattmeters", "three wattmeters for reactive power"):
            shape, random = Random(seed), Random(-seed)  # noqa: S311
            problem = choose_method(shape, random, method, level)
            key = _key(cases.get(problem.told[0]) or _any_case(problem.told[0]))
            choice, fewest = problem.asks
            assert isinstance(choice, Choice)
            names = {letter: text.split(":")[0] for letter, text in choice.options.items()}
            assert method in names.values()
            if key in TRUTH:
                seen.add(key)
                right = {letter for letter, name in names.items() if name in TRUTH[key]}
                assert choice.right == right
            if key in FEWEST:
                assert fewest.value == FEWEST[key]
    assert seen


def _any_case(words):
    return next(c for cases in CASES.values() for c in cases if c.words == words)


def _told(problem):
    return {
        name: quantity(text, "W")
        for name, text in re.findall(r"(W\d?) = ([^;]*?)[;.](?: |$)", problem.told[-1])
    }


@pytest.mark.parametrize(
    ("method", "level"),
    [
        ("one wattmeter to neutral", 1),
        ("two wattmeters", 1),
        ("two wattmeters", 3),
        ("three wattmeters to neutral", 2),
        ("three wattmeters for reactive power", 1),
        ("two elements, difference currents", 3),
    ],
)
def test_a_fault_reads_what_is_told(method, level):
    """derived: swap, reverse or kill by hand what an option says; from the words of the sheet."""
    for seed in range(3):
        problem = find_fault(Random(seed), Random(f"{seed}"), method, level)  # noqa: S311
        choice = problem.asks[0]
        told, rightly = _told(problem), readings(problem.told)
        size = max(abs(v * i) for v, i in felt(problem.told).values())
        checked = 0
        for letter, words in choice.options.items():
            expected = _by_hand(problem, words, rightly)
            if expected is None:
                continue
            checked += 1
            same = all(abs(expected[k] - told[k]) < 0.005 * size for k in told)
            assert (letter in choice.right) == same, words
        assert checked >= 1
        assert NOTHING_WRONG in choice.options.values()


def _by_hand(problem, words, rightly):
    """Readings of the simplest faults; None for another."""
    if words == NOTHING_WRONG:
        return rightly
    found = felt(problem.told)
    if match := re.fullmatch(r"(?:current|voltage) circuit of (W\d?) (reversed|bridged)", words):
        factor = {"reversed": -1, "bridged": 0}[match[2]]
        return rightly | {match[1]: factor * rightly[match[1]]}
    if re.fullmatch(r"every (current|voltage) circuit reversed", words):
        return {name: -watts for name, watts in rightly.items()}
    if match := re.fullmatch(r"current circuits of (W\d) and (W\d) exchanged", words):
        one, other = match[1], match[2]
        (v1, i1), (v2, i2) = found[one], found[other]
        swapped = {one: v1 * i2.conjugate(), other: v2 * i1.conjugate()}
        return rightly | {name: s.real for name, s in swapped.items()}
    return None


def test_wirings_of_two_faults_are_told_apart_from_two_wirings():
    """Several wirings stand in one line with ; between them, so none of them holds one."""
    drawn = (find_fault(Random(k), Random(k), "two wattmeters", 3) for k in range(4))  # noqa: S311
    meanings = [words for problem in drawn for words in problem.asks[0].options.values()]
    assert any(", and " in words for words in meanings)
    assert not any(";" in words for words in meanings)


def test_a_reading_below_zero_may_be_right():
    """Needs page, 3.4: an idle motor is no fault; the letter of the right wiring is the answer."""
    found = []
    for seed in range(12):
        problem = find_fault(Random(seed), Random(seed), "two wattmeters", 2)  # noqa: S311
        choice, total = problem.asks
        right = {choice.options[letter] for letter in choice.right}
        as_told = _told(problem)
        rightly = readings(problem.told)
        same = all(abs(rightly[k] - as_told[k]) < 1e-3 * total.scale for k in as_told)
        assert (NOTHING_WRONG in right) == same
        if same:
            assert min(as_told.values()) < 0
            assert [slip.name for slip in total.slips] == ["signs left out"]
            found.append(seed)
    assert 0 < len(found) < 12


def test_the_picture_of_a_choice_is_of_a_right_method():
    for seed in range(3):
        method = "one wattmeter with artificial neutral"
        problem = choose_method(Random(seed), Random(seed), method, 1)  # noqa: S311
        names = {k: text.split(":")[0] for k, text in problem.asks[0].options.items()}
        shown = problem.result.measurement.title.removeprefix("Practice: ")
        assert shown in {names[letter] for letter in problem.asks[0].right}


def test_two_readings_on_four_wires_are_a_slip():
    problem = choose_method(Random(0), Random(0), "three wattmeters to neutral", 1)  # noqa: S311
    assert ("two, as on three wires", 2.0) in {(s.name, s.value) for s in problem.asks[1].slips}


def test_the_total_once_wired_rightly_is_that_of_the_words():
    problem = find_fault(Random(5), Random(6), "two wattmeters", 2)  # noqa: S311
    assert problem.asks[1].value == pytest.approx(sum(readings(problem.told).values()), rel=1e-4)

"""One wattmeter moved in turn while the load drifts: design/needs.md, need 20, and closed forms."""

from __future__ import annotations

import math
from typing import Any

import pytest

import simulator
from simulator.errors import ScenarioError
from simulator.findings.drift import DriftStudy, drift_advice, refer_to_middle, study_drift
from tests.findings.uncertainty.base import angle_of, document, readings_of


def moved(phi: float, *, high_first: bool = False) -> dict[str, Any]:
    """Base case B, one wattmeter at two stations; the low reading first unless told otherwise."""
    tables = document(phi)
    del tables["method"]
    first, second = (2, 1) if high_first else (1, 2)
    tables["wattmeter"] = [
        {"name": "W1", "current": "L1", "voltage": ["L1", "L2"], "station": first},
        {"name": "W2", "current": "L3", "voltage": ["L3", "L2"], "station": second},
    ]
    tables["total"] = {"power": "W1 + W2"}
    return tables


def study(tables: dict[str, Any], drift: float = 0.05) -> DriftStudy:
    found = study_drift(simulator.solve(simulator.scenario_from(tables)), drift)
    assert found is not None
    return found


NEED_20 = [
    (0.0, 0.0, 2),
    (angle_of(0.8), 1.06, 2),
    (60.0, 2.44, 2),
    (75.0, 5.26, 2),
    (80.0, 7.99, 2),
]


@pytest.mark.parametrize(("phi", "percent", "digit"), NEED_20)
def test_need_20(phi: float, percent: float, digit: int) -> None:
    """Low first, +5 % between two readings, against the mean load (derived there)."""
    found = study(moved(phi))
    assert found.as_listed.order == (("W1",), ("W2",))
    assert found.as_listed.effect_percent == pytest.approx(percent, abs=0.5 * 10**-digit)
    # derived: the low one at 1, the high one at 1.05, the mean at 1.025
    W1, W2 = readings_of(phi)
    expected = (W1 + 1.05 * W2) / (1.025 * (W1 + W2)) - 1
    assert found.as_listed.effect_percent == pytest.approx(100 * expected, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("phi", "percent", "digit"), NEED_20[1:])
def test_need_20_signs_swap_if_high_first(phi: float, percent: float, digit: int) -> None:
    found = study(moved(phi, high_first=True)).as_listed
    assert found.order == (("W2",), ("W1",))
    assert found.effect_percent == pytest.approx(-percent, abs=0.5 * 10**-digit)


@pytest.mark.parametrize("drift", [0.05, -0.1])
@pytest.mark.parametrize(("phi", "_percent", "_digit"), NEED_20)
def test_need_20_low_high_low(phi: float, _percent: float, _digit: int, drift: float) -> None:
    """Low-high-low with linear drift: 0.000 %."""
    back = study(moved(phi), drift).there_and_back
    assert [len(back.order), back.order[0]] == [3, back.order[2]]
    assert abs(back.effect_percent) < 1e-9


def stalls(*watts: float) -> dict[str, Any]:
    """Resistive loads to the neutral, read by one wattmeter in turn."""
    parts = {f"L{k}": f"{230**2 / w!r} ohm" for k, w in enumerate(watts, 1)}
    return {
        "title": "stalls",
        "supply": {"wires": 4, "sequence_voltages": {"positive": "230 V"}},
        "load": [{"connection": "star", "star_point": "neutral"} | parts],
        "method": {"name": "one wattmeter moved in turn"},
    }


def test_three_places() -> None:
    """Derived: with readings at 1, 1.1 and 1.2 times, only first and last matter: 0.1·(W3 − W1)."""
    found = study(stalls(3000, 2000, 1000), drift=0.1)
    assert found.as_listed.effect == pytest.approx(0.1 * (1000 - 3000), rel=1e-9)
    assert found.as_listed.true == pytest.approx(1.1 * 6000, rel=1e-9)
    assert abs(found.best.effect) == pytest.approx(100, rel=1e-9)
    ends = {found.best.order[0][0], found.best.order[-1][0]}
    assert ends in ({"W1", "W2"}, {"W2", "W3"})  # next to each other in size
    assert len(found.there_and_back.order) == 5
    assert abs(found.there_and_back.effect) < 1e-8


def test_equal_ends_need_no_way_back() -> None:
    """Derived: equal first and last readings leave nothing of a linear drift."""
    found = study(stalls(2000, 1000, 2000), drift=0.1)
    assert found.best is found.as_listed
    assert abs(found.best.effect) < 1e-8
    assert "No order is better" in " ".join(drift_advice(found))


def test_what_the_method_does_wrong_is_not_counted() -> None:
    """Two wattmeters on four wires are wrong without any drift; that is no effect of one."""
    tables = stalls(3000, 1000, 2000)
    del tables["method"]
    tables["wattmeter"] = [
        {"name": "W1", "current": "L1", "voltage": ["L1", "L2"]},
        {"name": "W2", "current": "L3", "voltage": ["L3", "L2"]},
    ]
    tables["total"] = {"power": "W1 + W2"}
    found = study(tables, drift=1e-9).as_listed
    assert abs(found.indicated - found.true) > 100
    assert abs(found.effect) < 1e-5


def test_through_the_network() -> None:
    """A supply with an impedance: the readings grow less than the load, and the effect with them.

    Derived: star of R behind r on 230 V: P = 3·230²·R/(R + r)², R divided by 1 + d.
    """
    tables = stalls(2000, 2000, 2000)
    tables["supply"]["line_impedance"] = "2 ohm"
    R, r = 230**2 / 2000, 2.0
    watts = [230**2 * (R / k) / (R / k + r) ** 2 for k in (1.0, 1.1, 1.2)]
    found = study(tables, drift=0.1).as_listed
    assert found.true == pytest.approx(math.fsum(watts), rel=1e-9)
    # the wattmeters stand before the load and behind the lines: each reads its own time
    assert found.indicated == pytest.approx(math.fsum(watts), rel=1e-9)


def test_a_motor_drifts_too() -> None:
    """Derived: every part of the circuit 1.05 times less, at the same slip, draws so much more."""
    tables = moved(30.0)
    circuit = {"R1": "0.641 ohm", "X1": "1.106 ohm", "R2": "0.332 ohm", "X2": "0.464 ohm"}
    motor = {"connection": "motor", "slip": 0.022, "circuit": circuit | {"Xm": "26.3 ohm"}}
    tables["load"] = [motor]
    result = simulator.solve(simulator.scenario_from(tables))
    found = study(tables).as_listed
    W1, W2 = result["W1"].watts, result["W2"].watts
    assert found.indicated == pytest.approx(W1 + 1.05 * W2, rel=1e-9)
    assert found.true == pytest.approx(1.025 * (W1 + W2), rel=1e-9)


def test_wattmeters_without_stations_are_read_in_turn() -> None:
    tables = document(75.0)
    found = study(tables).as_listed
    assert found.order == (("W1",), ("W2",))
    assert found.effect_percent == pytest.approx(5.26, abs=0.005)  # need 20


def test_one_reading_has_no_order() -> None:
    tables = document(30.0)
    tables["method"] = {"name": "one wattmeter for reactive power", "line": "L1"}
    assert study_drift(simulator.solve(simulator.scenario_from(tables))) is None


def test_open_branches_stay_open() -> None:
    tables = moved(30.0)
    tables["load"] = [{"connection": "star", "L1": "20 ohm", "L2": "20 ohm", "L3": "open"}]
    # derived: W2 reads nothing, and W1 400²/40 W at 1 where the mean load is 1.025
    assert study(tables).as_listed.effect == pytest.approx(-0.025 * 4000, rel=1e-9)


@pytest.mark.parametrize("drift", [-0.5, -1.0, math.nan])
def test_nothing_left_of_the_load(drift: float) -> None:
    with pytest.raises(ScenarioError, match="leaves something of the load"):
        study(moved(30.0), drift)


def test_advice() -> None:
    text = " ".join(drift_advice(study(moved(75.0))))
    assert "+5 % from one to the next, reading W1, W2 makes the total 5.26 % too high" in text
    assert "The other order only turns the sign." in text
    assert "Read W1, W2, W1" in text
    assert "0.000 % wrong" in text
    text = " ".join(drift_advice(study(stalls(3000, 2000, 1000), -0.05)))
    assert "−5 % from one to the next" in text
    assert "In the order W1, W3, W2 it is" in text
    assert "repeat the first reading last" in text


@pytest.mark.parametrize(
    ("tables", "drift", "sentences"),
    [
        (  # needs.md row 20 (CALC): 5.26 %
            moved(75.0),
            0.05,
            [
                (
                    "If the load drifts by +5 % from one to the next, reading W1, W2 makes the "
                    "total 5.26 % too high."
                ),
                "The other order only turns the sign.",
                (
                    "Read W1, W2, W1, in equal intervals, and take the mean of what is read twice: "
                    "a linear drift cancels, and the total is 0.000 % wrong."
                ),
            ],
        ),
        (  # derived: readings at 1, 0.95 and 0.9 times: 0.05·(W1 − W3) of 0.95·6000 W
            stalls(3000, 2000, 1000),
            -0.05,
            [
                (
                    "If the load drifts by −5 % from one to the next, reading W1, W2, W3 makes the "
                    "total 1.75 % too high."
                ),
                "In the order W1, W3, W2 it is 0.877 % too high.",
                (
                    "Read W1, W3, W2, W3, W1, in equal intervals, and take the mean of what is "
                    "read twice: a linear drift cancels, and the total is 0.000 % wrong."
                ),
                (
                    "At the least repeat the first reading last: the two tell the drift, and the "
                    "others can be referred to the middle of the time."
                ),
            ],
        ),
        (  # derived: −2000 W, and 2000 W times 1.05, with a total of nothing
            moved(90.0),
            0.05,
            [
                (
                    "If the load drifts by +5 % from one to the next, reading W1, W2 makes the "
                    "total 100 W too high."
                ),
                "The other order only turns the sign.",
                (
                    "Read W1, W2, W1, in equal intervals, and take the mean of what is read twice: "
                    "a linear drift cancels, and the total is 0 W wrong."
                ),
            ],
        ),
        (
            moved(90.0),
            -0.05,
            [
                (
                    "If the load drifts by −5 % from one to the next, reading W1, W2 makes the "
                    "total 100 W too low."
                ),
            ],
        ),
    ],
)
def test_advice_in_full(tables: dict[str, Any], drift: float, sentences: list[str]) -> None:
    found = drift_advice(study(tables, drift))
    first = "The readings are taken one after the other. " + sentences[0]
    assert list(found[: len(sentences)]) == [first, *sentences[1:]]


def test_too_little_to_show_a_drift_in_full() -> None:
    with pytest.raises(ScenarioError) as caught:
        refer_to_middle([("a", 1.0), ("b", 1.0), ("a", -1.5)])
    assert str(caught.value) == (
        "a read 1 W and then −1.5 W: too little, or too different, to show a drift; repeat a "
        "larger reading"
    )


def test_first_repeated_last_tells_the_drift() -> None:
    """Derived: W·(1 + 0.03·(t − 2)) at t = 0 to 4, all back at the middle."""
    true = {"a": 400.0, "b": -250.0, "c": 90.0, "d": 1000.0}
    taken = [
        (name, true[name] * (1 + 0.03 * (t - 2)))
        for t, name in enumerate(["a", "b", "c", "d", "a"])
    ]
    readings, drift = refer_to_middle(taken)
    assert drift == pytest.approx(0.03)
    assert readings == pytest.approx(true)
    assert sum(w for _, w in taken[:-1]) != pytest.approx(sum(true.values()), rel=1e-3)


@pytest.mark.parametrize(
    ("taken", "message"),
    [
        ([], "got none"),
        ([("a", 1.0), ("a", 1.0)], "repeated last, got a, a"),
        ([("a", 1.0), ("b", 1.0), ("c", 1.0)], "repeated last, got a, b, c"),
        ([("a", 0.0), ("b", 1.0), ("a", 0.0)], "too little"),
        ([("a", 1.0), ("b", 1.0), ("a", -1.5)], "repeat a larger reading"),
    ],
)
def test_no_drift_to_be_seen(taken: list[tuple[str, float]], message: str) -> None:
    with pytest.raises(ScenarioError, match=message):
        refer_to_middle(taken)

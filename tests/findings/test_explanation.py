"""Exactness, proof, error terms, worst case and counterexample, through scenario and full solver.

Expected classes are the statements at the end of section 3 of the design page on physics (derived
there, each confirmed here by random passive members of the class); expected watts are the derived
base cases U and U3 of the page on needs.
"""

from __future__ import annotations

import cmath
import re
import tomllib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import simulator
from simulator.findings.conditions import conditions_of
from simulator.findings.exactness import Row
from simulator.findings.explanation import explain
from simulator.findings.sensing import star_weights
from simulator.findings.worst_case import counterexample
from simulator.reports.explanation import explanation_object, explanation_text

LINES = ("L1", "L2", "L3")
EXACT_EVERYWHERE = {(s, load) for s in "azs" for load in "anbr"}
# Classes by their initials; on three wires both anys include their neighbour.
SUPPLY = {"a": "any", "z": "zero-sum", "s": "symmetrical"}
LOAD = {"a": "any", "n": "no neutral current", "b": "balanced", "r": "balanced resistive"}


def cells(text: str) -> set[tuple[str, str]]:
    return {(cell[0], cell[1]) for cell in text.split()}


def star(each: str = "20 ohm", **keys: str) -> dict[str, object]:
    return {"name": "load", "connection": "star", "each": each} | keys


def scenario(wires: int, meters: dict[str, object], **supply: object) -> dict[str, object]:
    load = star(star_point="neutral") if wires == 4 else star()
    given = supply or {"voltage": "400 V"}
    return {"title": "t", "supply": {"wires": wires} | given, "load": [load]} | meters


def method(
    name: str, instrument: dict[str, str] | None = None, **keys: object
) -> dict[str, object]:
    tables: dict[str, object] = {"method": {"name": name} | keys}
    if instrument:
        tables["instrument"] = {"p": instrument}
        tables["method"]["instrument"] = "p"
    return tables


UNEQUAL = {
    "instrument": {"p": {"voltage_circuit": "20 kohm"}, "q": {"voltage_circuit": "9 kohm"}},
    "method": {
        "name": "three wattmeters to a floating star point",
        "instrument": ["q", "p", "p"],
    },
}
TWO_ON_FOUR = {
    "wattmeter": [
        {"name": "W1", "current": "L1", "voltage": ["L1", "L2"]},
        {"name": "W2", "current": "L3", "voltage": ["L3", "L2"]},
    ],
    "total": {"power": "W1 + W2"},
}
WRONG_FAR_END = {  # (I_A, V_AB) + (I_C, V_AC): need 6 says never
    "wattmeter": [
        {"name": "W1", "current": "L1", "voltage": ["L1", "L2"]},
        {"name": "W2", "current": "L3", "voltage": ["L1", "L3"]},
    ],
    "total": {"power": "W1 + W2"},
}
FLOATING = "three wattmeters to a floating star point"
CASES = {
    "two, three wires": (3, method("two wattmeters"), EXACT_EVERYWHERE),
    "two, common line, four wires": (4, TWO_ON_FOUR, cells("an zn zb zr sn sb sr")),
    "three to neutral": (4, method("three wattmeters to neutral"), EXACT_EVERYWHERE),
    "floating, three wires, unequal": (3, UNEQUAL, EXACT_EVERYWHERE),
    "floating, four wires, equal": (
        4,
        method(FLOATING, {"voltage_circuit": "20 kohm"}),
        cells("an za zn zb zr sa sn sb sr"),
    ),
    "floating, four wires, unequal": (4, UNEQUAL, cells("an zn zb zr sn sb sr")),
    "floating, electronic": (
        3,
        method(FLOATING, {"voltage_circuit": "20+3j kohm", "kind": "electronic"}),
        EXACT_EVERYWHERE,
    ),
    "floating, inductive circuits": (
        3,
        method(FLOATING, {"voltage_circuit": "20 kohm, 3 H"}),
        set(),
    ),
    "one ×3": (4, method("one wattmeter to neutral"), cells("sb sr")),
    "artificial neutral": (
        3,
        method("one wattmeter with artificial neutral", {"voltage_circuit": "20 kohm"}),
        cells("sb sr"),
    ),
    "artificial neutral, unequal": (
        3,
        method(
            "one wattmeter with artificial neutral",
            {"voltage_circuit": "20 kohm"},
            resistors=["20 kohm", "15 kohm"],
        ),
        set(),
    ),
    "difference currents": (
        4,
        method("two elements, difference currents"),
        cells("za zn zb zr sa sn sb sr"),
    ),
    "three for reactive power": (
        4,
        method("three wattmeters for reactive power"),
        # a balanced resistive load takes no reactive power and, by symmetry, indicates none
        cells("ar zr sa sn sb sr"),
    ),
    "two for reactive power": (3, method("two wattmeters for reactive power"), cells("sb sr")),
    "one for reactive power": (3, method("one wattmeter for reactive power"), cells("sb sr")),
    "to the wrong end": (3, WRONG_FAR_END, set()),
}


@pytest.mark.parametrize("name", CASES)
def test_classes(name: str) -> None:
    wires, meters, expected = CASES[name]
    explanation = explain(simulator.scenario_from(scenario(wires, meters)))
    found = {(row.supply, row.load) for row in explanation.exactness if row.exact}
    assert found == {(SUPPLY[s], LOAD[load]) for s, load in expected}
    assert len(explanation.exactness) == 12


def test_reactive_totals_know_one_sequence() -> None:
    for name in ("three wattmeters for reactive power", "two wattmeters for reactive power"):
        explanation = explain(simulator.scenario_from(scenario(3, method(name))))
        rows = [
            r for r in explanation.exactness if r.supply == "symmetrical" and r.load == "balanced"
        ]
        assert [(r.exact, r.either_sequence) for r in rows] == [(True, False)]


def text(z: complex) -> str:
    return f"{z.real!r}{z.imag:+}j ohm"


def random_supply(rng: np.random.Generator, kind: str, wires: int) -> dict[str, object]:
    sequence = "L1-L2-L3"
    if kind == "s":
        return {"voltage": f"{rng.uniform(100, 600)!r} V", "sequence": sequence}
    parts = {"positive": f"{rng.uniform(150, 300)!r} V @ {rng.uniform(-180, 180)!r} deg"}
    parts["negative"] = f"{rng.uniform(5, 90)!r} V @ {rng.uniform(-180, 180)!r} deg"
    if kind == "a" and wires == 4:
        parts["zero"] = f"{rng.uniform(5, 90)!r} V @ {rng.uniform(-180, 180)!r} deg"
    return {"sequence_voltages": parts}


def random_loads(rng: np.random.Generator, kind: str, wires: int) -> list[dict[str, object]]:
    def z() -> complex:
        angle = 0 if kind == "r" else rng.uniform(-89, 89)
        return cmath.rect(rng.uniform(5, 80), np.radians(angle))

    point = {"star_point": "neutral" if kind != "n" and wires == 4 else "isolated"}
    if kind in "br":
        one, other = text(z()), text(z())
        return [
            {"connection": "star", "each": one} | point,
            {"connection": "delta", "each": other},
        ]
    return [
        {"connection": "star", **{line: text(z()) for line in LINES}} | point,
        {"connection": "delta", **{p: text(z()) for p in ("L1-L2", "L2-L3", "L3-L1")}},
    ]


@pytest.mark.parametrize("name", CASES)
def test_random_members_of_each_class(name: str) -> None:
    check_random_members(name, members=4)


@pytest.mark.heavy
@pytest.mark.parametrize("name", CASES)
def test_a_thousand_random_members_of_each_class(name: str) -> None:
    check_random_members(name, members=1000)


def check_random_members(name: str, members: int) -> None:
    """Where the table says exact, no member errs; where it says not, some member does."""
    wires, meters, expected = CASES[name]
    rng = np.random.default_rng(20261125)
    for supply in "azs":
        for load in "anbr":
            worst = 0.0
            for _ in range(members):
                document = scenario(wires, meters, **random_supply(rng, supply, wires))
                document["load"] = random_loads(rng, load, wires)
                total = simulator.solve(simulator.scenario_from(document)).total
                assert total is not None
                worst = max(worst, abs(total.method_error) / total.apparent)
            assert (worst <= 1e-9) == ((supply, load) in expected), (supply, load, worst)


def value_of(
    expression: str, potentials: dict[str, complex], currents: dict[str, complex]
) -> float:
    """Work out a printed expression with plain complex numbers."""
    python = expression.replace("−", "-").replace("·", "*").replace("√3", "3**.5")
    python = re.sub(r"\(([^()]*)\)\*(?=[)\s]|$)", r"(\1).conjugate()", python)
    python = re.sub(r"I_(\w+)\*(?![\w(])", r"I['\1'].conjugate()", python)
    python = re.sub(r"I_(\w+)", r"I['\1']", python)
    python = re.sub(r"V_(\w+)", r"V['\1']", python)
    names = {"Re": lambda z: z.real, "Im": lambda z: z.imag, "V": potentials, "I": currents}
    return float(eval(python, names))  # noqa: S307  (our own expressions)


@pytest.mark.parametrize("name", CASES)
def test_the_printed_expression_is_the_error(name: str) -> None:
    wires, meters, _ = CASES[name]
    rng = np.random.default_rng(7)
    document = scenario(wires, meters, **random_supply(rng, "a", wires))
    document["load"] = random_loads(rng, "a", wires)
    explanation = explain(simulator.scenario_from(document))
    station = explanation.result.first
    currents = dict(zip(LINES, station.line_currents.tolist(), strict=True))
    if wires == 4:
        currents["N"] = sum(currents.values())
    term = explanation.terms[0]
    found = value_of(term.expression, dict(station.solution.potentials), currents)
    total = explanation.result.total
    assert total is not None
    assert found == pytest.approx(term.value, abs=1e-9 * total.apparent)


def base_case_u(common: str) -> dict[str, object]:
    """Base case U of needs.md: 230 V, 23∠0°, 46∠0°, 23∠60° ohm, four wires."""
    others = [line for line in LINES if line != common]
    return {
        "title": "U",
        "supply": {"wires": 4, "sequence_voltages": {"positive": "230 V"}},
        "load": [
            {
                "connection": "star",
                "L1": "23 ohm",
                "L2": "46 ohm",
                "L3": "23 ohm @ 60 deg",
                "star_point": "neutral",
            }
        ],
        "wattmeter": [
            {"name": f"W{k}", "current": line, "voltage": [line, common]}
            for k, line in enumerate(others, 1)
        ],
        "total": {"power": "W1 + W2"},
    }


@pytest.mark.parametrize(("common", "error"), [("L1", -2875), ("L2", 2300), ("L3", 575)])
def test_two_wattmeters_with_a_neutral(common: str, error: float) -> None:
    """Need 1, derived: errors −2875, +2300 and +575 W, each equal to −Re(V_XN·I_N*)."""
    explanation = explain(simulator.scenario_from(base_case_u(common)))
    term = explanation.terms[0]
    assert term.value == pytest.approx(error, abs=1e-9 * 5750)
    assert term.expression == f"Re((V_N − V_{common})·I_N*)"
    station = explanation.result.first
    x = station.solution.potentials[common] - station.solution.potentials["N"]
    assert term.value == pytest.approx(-(x * np.conj(station.neutral_current)).real, abs=1e-9)


angles = st.floats(-85, 85)
sizes = st.floats(1, 100)


@st.composite
def crooked(draw: st.DrawFn) -> dict[str, object]:
    """A hand-wired arrangement with everything that can be wrong with it."""
    wires = draw(st.sampled_from([3, 4]))
    nodes = LINES if wires == 3 else (*LINES, "N")
    meters = []
    for k in range(draw(st.integers(1, 3))):
        start, end = draw(st.permutations(nodes))[:2]
        meters.append(
            {
                "name": f"W{k}",
                "current": draw(st.sampled_from(nodes)),
                "voltage": [start, end],
                "instrument": draw(st.sampled_from(["p", "e"])),
                "voltage_tap": draw(st.sampled_from(["supply", "load"])),
                "reversed": draw(st.sampled_from([[], ["current"], ["voltage"]])),
                "current_transformer": "ct",
            }
        )
    z = [text(cmath.rect(draw(sizes), np.radians(draw(angles)))) for _ in range(6)]
    load = {"connection": "star", **dict(zip(LINES, z, strict=False)), "star_point": "isolated"}
    if wires == 4:
        load |= {"star_point": "neutral", "neutral_lead": "0.4 ohm"}
    return {
        "title": "crooked",
        "supply": {"wires": wires, "voltage": "400 V", "line_impedance": "0.1+0.1j ohm"},
        "load": [load | {"lead_impedance": "0.2 ohm"}],
        "instrument": {
            "p": {"current_circuit": "0.1 ohm", "voltage_circuit": "5 kohm, 1 H"},
            "e": {
                "kind": "electronic",
                "voltage_circuit": "100 kohm",
                "gain_error": "1 %",
                "phase_error": "0.5 deg",
            },
        },
        "current_transformer": {
            "ct": {"ratio": "20/5 A", "ratio_error": "-0.3 %", "phase_displacement": "15 min"}
        },
        "wattmeter": meters,
        "total": {
            draw(st.sampled_from(["power", "reactive_power"])): " + ".join(
                m["name"] for m in meters
            )
        },
    }


@given(crooked())
@settings(deadline=None, max_examples=60)
def test_terms_add_up(document: dict[str, object]) -> None:
    explanation = explain(simulator.scenario_from(document))
    total = explanation.result.total
    assert total is not None
    assert sum(t.value for t in explanation.terms) == pytest.approx(
        total.indicated - total.true, abs=1e-9 * total.apparent
    )


@given(crooked())
@settings(deadline=None, max_examples=60)
def test_ideal_meters_have_no_term_but_the_methods(document: dict[str, object]) -> None:
    """With ideal meters and no leads the form of what is sensed must be all of the error."""
    del (
        document["instrument"],
        document["current_transformer"],
        document["load"][0]["lead_impedance"],
    )
    document["load"][0].pop("neutral_lead", None)
    for meter in document["wattmeter"]:
        del meter["instrument"], meter["current_transformer"]
    explanation = explain(simulator.scenario_from(document))
    total = explanation.result.total
    assert total is not None
    scale = 1e-9 * total.apparent
    assert explanation.terms[0].value == pytest.approx(total.error, abs=scale)
    assert all(abs(term.value) <= scale for term in explanation.terms[1:])


@given(crooked())
@settings(deadline=None, max_examples=40)
def test_worst_case_is_never_exceeded(document: dict[str, object]) -> None:
    for meter in document["wattmeter"]:  # the angle of inductive circuits is a term of its own
        meter["instrument"] = "e"
    explanation = explain(simulator.scenario_from(document))
    station = explanation.result.first
    size = np.linalg.norm(station.line_potentials) * np.linalg.norm(station.line_currents)
    rounding = 1e-13 * size  # of a sum of products of this size, where the worst case is none
    assert abs(explanation.terms[0].value) <= explanation.worst[0] * size * (1 + 1e-9) + rounding


@pytest.mark.parametrize("name", CASES)
def test_counterexample_is_visibly_wrong_and_readable(name: str) -> None:
    wires, meters, expected = CASES[name]
    explanation = explain(simulator.scenario_from(scenario(wires, meters)))
    found = explanation.counterexample
    if ("a", "a") in expected:
        assert found is None
        assert explanation.worst[0] <= 1e-12
        return
    assert found is not None
    total = simulator.solve(simulator.parse_scenario(found.toml)).total
    assert total is not None
    assert (total.indicated, total.true) == pytest.approx((found.indicated, found.true), rel=1e-12)
    algebra = counterexample(explanation.sensed)  # knows nothing of the solver
    assert algebra is not None
    size = 1e-7 * total.apparent
    assert total.true == pytest.approx(algebra.true, abs=size)
    assert total.indicated == pytest.approx(algebra.indicated, abs=size)
    assert abs(total.error) >= 0.01 * total.apparent


@given(crooked(), st.integers(0, 2**32 - 1))
@settings(deadline=None, max_examples=25)
def test_table_of_random_arrangements(document: dict[str, object], seed: int) -> None:
    check_table_of(document, seed, members=2)


@pytest.mark.heavy
@given(crooked(), st.integers(0, 2**32 - 1))
@settings(deadline=None, max_examples=20)
def test_table_of_random_arrangements_against_a_thousand(
    document: dict[str, object], seed: int
) -> None:
    check_table_of(document, seed, members=1000)


def check_table_of(document: dict[str, object], seed: int, members: int) -> None:
    """Exact classes have no wrong member; for others the counterexample is visibly wrong."""
    for key in ("instrument", "current_transformer"):
        del document[key]
    for meter in document["wattmeter"]:
        del meter["instrument"], meter["current_transformer"]
    document["supply"] = {"wires": document["supply"]["wires"], "voltage": "400 V"}
    wires, rng = document["supply"]["wires"], np.random.default_rng(seed)
    explanation = explain(simulator.scenario_from(document))
    for row in explanation.exactness:
        for _ in range(members if row.exact else 0):
            initials = [s for s in "azs" if SUPPLY[s] == row.supply]
            initials += [load for load in "anbr" if LOAD[load] == row.load]
            member = document | {
                "supply": {"wires": wires, **random_supply(rng, initials[0], wires)},
                "load": random_loads(rng, initials[1], wires),
            }
            total = simulator.solve(simulator.scenario_from(member)).total
            assert total is not None
            assert abs(total.method_error) <= 1e-9 * total.apparent
    found = explanation.counterexample
    assert (found is None) == explanation.always_exact
    if found is not None:
        total = simulator.solve(simulator.parse_scenario(found.toml)).total
        assert total is not None
        assert abs(total.error) >= 0.01 * total.apparent


def test_weights_of_a_star_point_are_millmans() -> None:
    """Branches 20 kΩ, 9 kΩ, and 1 kΩ behind 3 : 1, which looks like 9 kΩ: 9/49, 20/49, 20/49."""
    tables = {
        "instrument": {
            "a": {"voltage_circuit": "20 kohm"},
            "b": {"voltage_circuit": "9 kohm"},
            "c": {"voltage_circuit": "1 kohm"},
        },
        "voltage_transformer": {"vt": {"ratio": "300/100 V"}},
        "wattmeter": [
            {"name": f"W{k}", "current": line, "voltage": [line, "P"], "instrument": name}
            for k, (line, name) in enumerate(zip(LINES, "abc", strict=True))
        ],
        "total": {"power": "W0 + W1 + W2"},
    }
    tables["wattmeter"][2]["voltage_transformer"] = "vt"
    result = simulator.solve(simulator.scenario_from(scenario(3, tables)))
    weights, names = star_weights(result.measurement)
    assert names == LINES
    assert weights["P"] == pytest.approx([9 / 49, 20 / 49, 20 / 49], rel=1e-12)
    potentials = result.first.solution.potentials
    assert potentials["P"] == pytest.approx(
        (9 * potentials["L1"] + 20 * potentials["L2"] + 20 * potentials["L3"]) / 49, abs=1e-9
    )


@pytest.mark.parametrize(("ohms", "made"), [("0 ohm", False), ("0.5 ohm", True)])
def test_a_meter_makes_a_symmetrical_supply_unequal(ohms, made):
    """derived: only the line of the one meter has a drop of voltage; without one none has."""
    tables = {
        "instrument": {"w": {"current_circuit": ohms}},
        "method": {"name": "one wattmeter to neutral", "instrument": "w"},
    }
    document = scenario(4, tables, voltage="400 V")
    document["load"] = random_loads(np.random.default_rng(3), "r", 4)
    found = conditions_of(simulator.solve(simulator.scenario_from(document)).first)
    assert found.made_unequal == made
    assert ("change a symmetrical supply" in found.words) == made


CONDITIONS = [
    (3, {"voltage": "400 V"}, "b", ("symmetrical", True, False)),
    (3, {"voltage": "400 V"}, "r", ("symmetrical", True, True)),
    (3, {"voltage": "400 V", "sequence": "L3-L2-L1"}, "b", ("symmetrical", True, False)),
    (4, {"sequence_voltages": {"positive": "9 V", "zero": "1 V"}}, "b", ("any", True, False)),
    (
        4,
        {"sequence_voltages": {"positive": "9 V", "negative": "1 V"}},
        "r",
        ("zero-sum", True, True),
    ),
    (
        4,
        {"sequence_voltages": {"positive": "9 V", "negative": "1 V"}},
        "a",
        ("zero-sum", False, False),
    ),
    (
        3,
        {"sequence_voltages": {"positive": "9 V", "zero": "1 V"}},
        "a",
        ("symmetrical", False, False),
    ),
]


@pytest.mark.parametrize(("wires", "supply", "load", "expected"), CONDITIONS)
def test_conditions_of_a_scenario(
    wires: int, supply: dict[str, object], load: str, expected: tuple[str, bool, bool]
) -> None:
    document = scenario(wires, {}, **supply)
    document["load"] = random_loads(np.random.default_rng(3), load, wires)
    found = conditions_of(simulator.solve(simulator.scenario_from(document)).first)
    assert (found.supply, found.balanced, found.resistive) == expected
    assert not found.made_unequal  # ideal meters, no leads
    assert found.neutral_current == (wires == 4 and (load == "a" or "zero" in str(supply)))
    assert not found.fits(Row("symmetrical", "any", exact=True, either_sequence=True)) or (
        expected[0] == "symmetrical"
    )
    assert found.fits(Row("any", "any", exact=True, either_sequence=True))
    assert found.fits(Row("zero-sum", "any", exact=True, either_sequence=True)) == (
        expected[0] != "any"
    )
    assert found.fits(Row("any", "balanced", exact=True, either_sequence=True)) == expected[1]


def test_ideal_arrangements_are_proved_exactly() -> None:
    ideal = explain(simulator.scenario_from(scenario(3, method("two wattmeters"))))
    assert ideal.proved_exactly
    assert not explain(simulator.scenario_from(scenario(3, UNEQUAL))).proved_exactly


def test_a_real_meter_turns_no_always_into_never() -> None:
    real = {
        "current_circuit": "0.1+0.05j ohm",
        "voltage_circuit": "20 kohm",
        "kind": "electronic",
        "gain_error": "1 %",
    }
    explanation = explain(simulator.scenario_from(scenario(3, method("two wattmeters", real))))
    assert explanation.always_exact
    total = explanation.result.total
    assert total is not None
    assert abs(total.error) > 1


def test_star_point_of_a_load_is_free() -> None:
    """Meters to the load's own star point: right whatever it is, by the current law alone."""
    wattmeters = [
        {"name": f"W{k}", "current": line, "voltage": [line, "K"]} for k, line in enumerate(LINES)
    ]
    document = scenario(3, {"wattmeter": wattmeters, "total": {"power": "W0 + W1 + W2"}})
    document["load"] = [star(star_point="K")]
    assert explain(simulator.scenario_from(document)).always_exact


def test_own_labels_reach_every_line() -> None:
    document = scenario(3, method("one wattmeter, two positions", line="R"))
    document["labels"] = ["R", "Y", "B"]
    explanation = explain(simulator.scenario_from(document))
    everything = explanation_text(explanation)
    assert "V_R" in everything
    assert not re.search(r"\bL[123]\b|_L[123]", everything)
    found = explanation_object(explanation)["counterexample"]
    assert 'labels = ["R", "Y", "B"]' in found["scenario"]


def test_without_a_total_there_is_nothing_to_explain() -> None:
    with pytest.raises(simulator.ScenarioError, match="no total to explain"):
        explain(simulator.scenario_from({"title": "t", "supply": {"wires": 3, "voltage": "4 V"}}))


@pytest.mark.parametrize(
    ("supply", "method", "expected"),
    [
        # whatever is not about voltages is the scenario's own; the simplest supply that shows it
        (
            {"wires": 3, "voltage": "230 V", "sequence": "L3-L2-L1", "frequency": "60 Hz"},
            "one wattmeter for reactive power",
            {"wires": 3, "voltage": "400 V", "sequence": "L3-L2-L1", "frequency": "60 Hz"},
        ),
        (
            {"wires": 3, "voltage": "230 V", "earthed": "L2"},
            "one wattmeter, two positions",
            {"wires": 3, "voltage": "400 V", "earthed": "L2"},
        ),
        (
            {"wires": 4, "voltage": "230 V", "line_impedance": "1 ohm"},
            "one wattmeter to neutral",
            {"wires": 4, "voltage": "400 V"},
        ),
        # right on voltages that sum to zero: 69 V of zero sequence beside 230 V
        (
            {"wires": 4, "voltage": "230 V"},
            "two elements, difference currents",
            {
                "wires": 4,
                "sequence_voltages": {"positive": "230 V @ 0 deg", "zero": "69 V @ -120 deg"},
            },
        ),
    ],
)
def test_supply_of_a_counterexample(
    supply: dict[str, object], method: str, expected: dict[str, object]
) -> None:
    load = {"connection": "star", "each": "20 ohm"}
    if supply["wires"] == 4:
        load["star_point"] = "neutral"
    document = {"title": "t", "supply": supply, "load": [load], "method": {"name": method}}
    found = explain(simulator.scenario_from(document)).counterexample
    assert found is not None
    assert tomllib.loads(found.toml)["supply"] == expected

"""What is collected as uncertain: every input, what it acts on, what is said, what is refused."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import simulator
from simulator.errors import ScenarioError
from simulator.findings.uncertainty.inputs import Distribution, Effect, PhasorErrors, Tolerance
from simulator.findings.uncertainty.sources import Sources, sources_of

if TYPE_CHECKING:
    from collections.abc import Mapping

# 400/√3 V on as many ohms as make 10 A
LOAD = {
    "name": "load",
    "connection": "star",
    "each": "23.09401076758503 ohm",
    "star_point": "neutral",
}
CLASS_HALF = {"current_range": "5 A", "voltage_range": "100 V", "accuracy_class": 0.5}
CT = {"ratio": "10/5 A", "accuracy_class": "0.5"}
VT = {"ratio": "231/100 V", "accuracy_class": "0.3"}
ELECTRONIC = {"kind": "electronic"}
NONE = PhasorErrors()


def collected(
    instrument: dict[str, Any],
    tolerances: Mapping[str, Tolerance] | None = None,
    *,
    shared: tuple[str, ...] = (),
    **transformers: dict[str, Any],
) -> Sources:
    """Sources of one wattmeter in L1 to N."""
    meter: dict[str, Any] = {"name": "W", "current": "L1", "voltage": ["L1", "N"]}
    document: dict[str, Any] = {
        "title": "sources",
        "supply": {"wires": 4, "voltage": "400 V"},
        "load": [LOAD],
        "instrument": {"m": instrument},
    }
    for name, kind in (("ct", "current_transformer"), ("vt", "voltage_transformer")):
        if name in transformers:
            document[kind] = {name: transformers[name]}
            meter[kind] = name
    document["wattmeter"] = [meter | {"instrument": "m"}]
    result = simulator.solve(simulator.scenario_from(document))
    return sources_of(result, ["m"], tolerances or {}, shared)


def rows(sources: Sources) -> list[tuple[str, Distribution, object, str]]:
    return [
        (i.name, i.distribution, pytest.approx(i.size, rel=1e-9), i.unit) for i in sources.inputs
    ]


@pytest.mark.reference
def test_classes_of_instrument_and_transformers() -> None:
    # IEC 61869-2 (SEEN): class 0.5 allows 0.5 % and 30′ at 100 %. IEEE C57.13 (MEM, high): 0.3 %,
    # and 0.3 %·2600′ = 7.8′ with it and as much around. Class 0.5 of 100 V·5 A: 2.5 W at the
    # instrument, 2·2.31 times that at the primary.
    found = collected(CLASS_HALF, ct=CT, vt=VT)
    rectangular = Distribution.RECTANGULAR
    assert rows(found) == [
        ("ratio error of ct in L1", rectangular, 0.5, "%"),
        ("phase displacement of ct in L1", rectangular, 0.5, "°"),
        ("ratio error of vt at L1-N", rectangular, 0.3, "%"),
        ("phase displacement of vt at L1-N", rectangular, 0.13, "°"),
        ("accuracy class 0.5 of W", rectangular, 11.55, "W"),
    ]
    errors = found.meters["W"]
    assert errors.currents == (PhasorErrors((Effect(0, 0.005),), (Effect(1, 0.5),)),)
    assert errors.voltage.size == (Effect(2, 0.003),)
    assert [(e.index, pytest.approx(e.scale)) for e in errors.voltage.angle] == [
        (2, 0.13),
        (3, 0.13),
    ]
    assert errors.channels == NONE
    assert errors.offset == (Effect(4, 2.5),)
    assert found.elements == {}
    assert found.notes == (
        "Limits of class 0.5: IEC 61869-2:2012, 5.6.201.3, table 201 (SEEN).",
        "Limits of class 0.3: IEEE C57.13-2016 (MEM (high)).",
    )


def test_given_tolerances_act_on_what_they_name() -> None:
    given = {
        "supply": Tolerance(0.01, 0.5, Distribution.RECTANGULAR),
        "load: L1": Tolerance(0.02, 0.0, Distribution.NORMAL),
    }
    found = collected({}, given)
    assert rows(found) == [
        ("supply: voltage", Distribution.RECTANGULAR, 1, "%"),
        ("angle of supply: voltage", Distribution.RECTANGULAR, 0.5, "°"),
        ("load: L1", Distribution.NORMAL, 2, "%"),
    ]
    supply = (PhasorErrors((Effect(0, 0.01),), (Effect(1, 0.5),)),)
    assert found.elements == {f"source L{k}": supply for k in (1, 2, 3)} | {
        "load load L1": (PhasorErrors((Effect(2, 0.02),)),)
    }
    assert found.meters["W"].currents == (NONE,)
    assert found.meters["W"].offset == ()


def test_channels_of_an_electronic_instrument() -> None:
    given = {
        "instrument m: gain_error": Tolerance(0.005),
        "instrument m: phase_error": Tolerance(0.0, 0.2),
    }
    found = collected(ELECTRONIC, given)
    assert [row[0::2] for row in rows(found)] == [
        ("gain error of W", 0.5),
        ("phase error of W", 0.2),
    ]
    assert [row[3] for row in rows(found)] == ["%", "°"]
    assert found.meters["W"].channels == PhasorErrors((Effect(0, 0.005),), (Effect(1, 0.2),))


def test_a_given_tolerance_stands_for_that_limit_of_the_class() -> None:
    given = {
        "current_transformer ct: ratio_error": Tolerance(0.003),
        "current_transformer ct: phase_displacement": Tolerance(0.0, 0.25),
    }
    found = collected({}, given, ct=CT)
    assert [row[0::2] for row in rows(found)] == [
        ("ratio error of ct in L1", 0.3),
        ("phase displacement of ct in L1", 0.25),
    ]
    assert found.notes == ()  # nothing of the class is left
    one = collected({}, dict([*given.items()][:1]), ct=CT)
    assert [row[0::2] for row in rows(one)] == [
        ("ratio error of ct in L1", 0.3),
        ("phase displacement of ct in L1", 0.5),
    ]
    assert len(one.notes) == 1


@pytest.mark.parametrize(
    ("instrument", "transformers", "note"),
    [
        (
            {"accuracy_class": 0.5, "current_range": "5 A"},
            {},
            (
                "The accuracy class of the instrument 'm' is not counted: it refers to the full "
                "scale, and current_range or voltage_range is not given."
            ),
        ),
        (
            {},
            {"ct": {"ratio": "10/5 A", "accuracy_class": "5"}},
            (
                "No limit of class 5 holds for the phase displacement of 'ct', so it is not "
                "counted: it may make any power wrong."
            ),
        ),
        (
            {},
            {"ct": CT | {"ratio": "40/5 A"}},
            (
                "Class 0.5 has limits at 5, 20, 100, 120 % of the rated value; a straight line is "
                "taken between."
            ),
        ),
    ],
)
def test_what_is_said(instrument: dict[str, Any], transformers: dict[str, Any], note: str) -> None:
    assert collected(instrument, **transformers).notes[-1] == note


@pytest.mark.parametrize(
    ("instrument", "given", "message"),
    [
        (
            ELECTRONIC,
            {"instrument m: gain_error": Tolerance(0.0, 0.2)},
            "instrument m: gain_error: expected the tolerance to be a percentage, such as 0.5 %",
        ),
        (
            ELECTRONIC,
            {"instrument m: phase_error": Tolerance(0.1, 0.2)},
            "instrument m: phase_error: expected the tolerance to be an angle, such as 10 min",
        ),
        (
            {},
            {"instrument m: gain_error": Tolerance(0.1)},
            (
                "instrument m: gain_error: gain_error and phase_error describe an instrument with "
                'kind = "electronic"'
            ),
        ),
        ({}, {"supply": Tolerance(1.0)}, "supply: expected a tolerance below 100 %"),
        (
            {},
            {"supply": Tolerance(0.1), "supply: voltage": Tolerance(0.1)},
            "supply: voltage: the tolerance of 'supply: voltage' is given twice",
        ),
        (
            {},
            {"supply": Tolerance(0.0, 1.0), "supply: voltage": Tolerance(0.1)},
            "supply: voltage: the tolerance of 'supply: voltage' is given twice",
        ),
    ],
)
def test_what_is_refused(
    instrument: dict[str, Any], given: dict[str, Tolerance], message: str
) -> None:
    with pytest.raises(ScenarioError) as caught:
        collected(instrument, given)
    assert str(caught.value) == message


def test_a_unit_that_nobody_uses() -> None:
    with pytest.raises(ScenarioError) as caught:
        collected(CLASS_HALF, shared=("n",))
    assert str(caught.value).startswith(
        "no wattmeter has an instrument or a transformer 'n' that could be one unit for several "
        "readings; "
    )

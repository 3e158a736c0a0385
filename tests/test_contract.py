"""The objects of ``--json``, seen from outside: commands.md as JSON Schemas, on many scenarios.

`read` has a stricter test of its own in ``reports/test_machine.py``.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema
import pytest

from simulator import cli
from simulator.metering.catalogue import METHODS
from simulator.reports.catalogue import starter_text
from tests.scenario.test_labels import own_file
from tests.scenario.texts import FOUR_WIRES, MOTOR, STAR, THREE, TOTAL, W1, W2

if TYPE_CHECKING:
    from collections.abc import Callable

Object = dict[str, Any]
SCENARIOS = Path(__file__).parents[1] / "scenarios"
SHIPPED = (
    "a-first-measurement",
    "corner-earthed-delta",
    "current-transformer-with-its-burden",
    "half-power-factor-one-reads-zero",
    "one-meter-moved-in-turn",
    "reactive-power-three-meters",
    "reversed-current-circuit",
    "through-voltage-transformers",
    "unequal-coils-four-wires",
)
TEXTS = {
    "four wires": FOUR_WIRES,
    "motor": THREE + MOTOR + W1 + W2 + TOTAL,
    "no total": THREE + STAR + W1 + W2,
    "labels": own_file(THREE + STAR + W1 + W2 + TOTAL, ["U", "V", "W"]),
    **{f"starter: {name}": starter_text(name) for name in METHODS},
    **{name: (SCENARIOS / f"{name}.toml").read_text(encoding="utf-8") for name in SHIPPED},
}
with_total = pytest.mark.parametrize("name", [name for name in TEXTS if name != "no total"])
# many wirings each: the catalogue's are in tests/findings
few = pytest.mark.parametrize("name", [name for name in TEXTS if "starter" not in name])

# The words of commands.md


def keys(**required: Object) -> Object:
    """Ask for these keys; more are welcome."""
    return {"type": "object", "required": list(required), "properties": required}


def rows(item: Object, at_least: int = 0) -> Object:
    return {"type": "array", "items": item, "minItems": at_least}


def nullable(schema: Object) -> Object:
    return {"anyOf": [schema, {"type": "null"}]}


TEXT, NUMBER, FLAG = {"type": "string", "minLength": 1}, {"type": "number"}, {"type": "boolean"}
ANGLE = {"type": "number", "exclusiveMinimum": -180, "maximum": 180}
WATTS = {"type": "object", "additionalProperties": NUMBER, "minProperties": 1}
SUPPLIES = ("any", "zero-sum", "symmetrical")
LOADS = ("any", "no neutral current", "balanced", "balanced resistive")
EXPLAIN = keys(
    error=keys(
        value=NUMBER,
        unit={"enum": ["W", "var"]},
        terms=rows(keys(expression=TEXT, value=NUMBER), 1),
    ),
    exactness={
        **rows(
            keys(
                supply={"enum": SUPPLIES},
                load={"enum": LOADS},
                exact=FLAG,
                either_sequence=FLAG,
            )
        ),
        "minItems": 12,
        "maxItems": 12,
    },
    worst_error_per_va=nullable({"type": "number", "minimum": 0}),
    counterexample=nullable(keys(scenario=TEXT, indicated=NUMBER, true=NUMBER)),
)
HYPOTHESIS = keys(
    description=TEXT,
    readings=WATTS,
    total=nullable(NUMBER),
    total_over_true=nullable(NUMBER),
    consistent=nullable(FLAG),
    group={"type": "integer"},
)
FAULTS = keys(correct=WATTS, hypotheses=rows(HYPOTHESIS, 2), settle_by=TEXT)
IMPEDANCE = keys(re=NUMBER, im=nullable(NUMBER))
INFER = keys(
    active_w=nullable(NUMBER),
    reactive_var=nullable(NUMBER),
    apparent_va=nullable({"type": "number", "minimum": 0}),
    phi_deg=nullable(ANGLE),
    power_factor=nullable({"type": "number", "minimum": -1, "maximum": 1}),
    sense={"enum": ["lag", "lead", None]},
    impedance_ohm=nullable(keys(star=IMPEDANCE, delta=IMPEDANCE)),
    assumes=rows(TEXT),
    steps=rows(TEXT, 1),
)
COMPARED = keys(
    name=TEXT,
    measured=NUMBER,
    predicted=NUMBER,
    difference=NUMBER,
    tolerance={"type": "number", "minimum": 0},
    within=FLAG,
)
COMPARE = keys(meters=rows(COMPARED, 1), within=FLAG)
VARY = keys(
    columns=rows(keys(name=TEXT, unit={"type": "string"}), 2),
    rows=rows(rows({"type": ["number", "string", "null"]})),
)
METHOD = keys(name=TEXT, wires=rows({"enum": [3, 4]}, 1), total=TEXT)


@pytest.fixture
def ask(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Callable[..., Object]:
    """Run a command with ``--json`` beside a scenario of this file, and hold it to a schema."""
    monkeypatch.chdir(tmp_path)

    def run(schema: Object, name: str, *command: str, status: int = 0) -> Object:
        Path("it.toml").write_text(TEXTS[name], encoding="utf-8")
        assert cli.main([*command, "--json"]) == status
        out, err = capsys.readouterr()
        assert err == ""
        found: Object = json.loads(out, parse_constant=pytest.fail)
        jsonschema.Draft202012Validator(schema).validate(found)
        return found

    return run


@with_total
def test_explain(ask: Callable[..., Object], name: str) -> None:
    found = ask(EXPLAIN, name, "explain", "it.toml")
    rows = {(row["supply"], row["load"]): row for row in found["exactness"]}
    assert list(rows) == [(supply, load) for supply in SUPPLIES for load in LOADS]
    for (supply, _), row in rows.items():
        assert not row["either_sequence"] or row["exact"]
        assert supply == "symmetrical" or row["either_sequence"] == row["exact"]
    # a larger class is never easier than one inside it
    for supply in SUPPLIES:
        exact = [rows[supply, load]["exact"] for load in ("any", "balanced", "balanced resistive")]
        assert exact == sorted(exact)
    error, always = found["error"], rows["any", "any"]["exact"]
    size = max(abs(found["indicated"]), abs(found["true"]), 1.0)
    terms = math.fsum(term["value"] for term in error["terms"])
    assert terms == pytest.approx(error["value"], abs=1e-9 * size)
    assert found["indicated"] - found["true"] == pytest.approx(error["value"], abs=1e-9 * size)
    assert (found["counterexample"] is None) == always
    if always:
        assert found["worst_error_per_va"] == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("name", ["four wires", "unequal-coils-four-wires"])
def test_a_counterexample_reads_what_it_says(ask: Callable[..., Object], name: str) -> None:
    found = ask(EXPLAIN, name, "explain", "it.toml")["counterexample"]
    Path("again.toml").write_text(found["scenario"], encoding="utf-8")
    total = ask(keys(total=keys(indicated=NUMBER, true=NUMBER)), name, "read", "again.toml")[
        "total"
    ]
    assert total["indicated"] == pytest.approx(found["indicated"], rel=1e-9)
    assert total["true"] == pytest.approx(found["true"], rel=1e-9)
    assert abs(found["indicated"] - found["true"]) > 0.01 * abs(found["true"])


@few
def test_faults(ask: Callable[..., Object], name: str) -> None:
    found = ask(FAULTS, name, "faults", "it.toml")
    first = found["hypotheses"][0]
    assert first["readings"] == found["correct"], "the correct wiring is a hypothesis too"
    assert {h["consistent"] for h in found["hypotheses"]} == {None}
    groups: dict[int, Object] = {}
    largest = max(abs(w) for h in found["hypotheses"] for w in h["readings"].values())
    for h in found["hypotheses"]:
        assert h["readings"].keys() == found["correct"].keys()
        assert (h["total"] is None) == (name == "no total")
        one = groups.setdefault(h["group"], h["readings"])
        # what two wirings take themselves may differ by less than an instrument shows
        assert h["readings"] == pytest.approx(one, abs=1e-3 * largest)

    measured = ",".join(f"{meter}={watts!r}" for meter, watts in found["correct"].items())
    given = ask(FAULTS, name, "faults", "it.toml", "--measured", measured)
    assert {h["consistent"] for h in given["hypotheses"]} <= {True, False}
    right = [h for h in given["hypotheses"] if h["description"] == first["description"]]
    assert [h["consistent"] for h in right] == [True]
    absurd = ",".join(f"{meter}={100 * largest!r}" for meter in found["correct"])
    none = ask(FAULTS, name, "faults", "it.toml", "--measured", absurd, status=1)
    assert not any(h["consistent"] for h in none["hypotheses"])


@pytest.mark.parametrize("off", [0.0, 1000.0], ids=["right", "off"])
@pytest.mark.parametrize("name", ["labels", "one-meter-moved-in-turn", "no total", "four wires"])
def test_compare(ask: Callable[..., Object], name: str, off: float) -> None:
    right = ask(keys(readings=rows(keys(name=TEXT, watts=NUMBER), 1)), name, "read", "it.toml")
    watts = {r["name"]: r["watts"] + off for r in right["readings"]}
    lines = ["name,value,unit", *(f"{meter},{value!r},W" for meter, value in watts.items())]
    Path("r.csv").write_text("\n".join(lines), encoding="utf-8")
    found = ask(COMPARE, name, "compare", "it.toml", "r.csv", status=int(off > 0))
    assert found["within"] is (off == 0)
    assert {m["name"]: m["measured"] for m in found["meters"]} == watts
    for meter in [*found["meters"], *([found["total"]] if found["total"] else [])]:
        assert meter["difference"] == pytest.approx(meter["measured"] - meter["predicted"])
        assert meter["within"] is (abs(meter["difference"]) <= meter["tolerance"] * (1 + 1e-9))
    for meter in found["meters"]:
        assert meter["difference"] == pytest.approx(off, abs=1e-9 * abs(meter["measured"]) + 1e-9)


@pytest.mark.parametrize(
    "given",
    [
        ("W1=2kW", "W2=4kW"),
        ("W1=2kW", "W2=2kW"),
        ("W1=0W", "W2=0W"),
        ("W1=-500W", "W2=-900W"),
        ("W1=2kW", "W2=4kW", "--voltage", "400V", "--current", "10A"),
        ("W1=2kW", "W2=4kW", "--common", "L1", "--sequence", "L3-L2-L1", "--unbalanced"),
        ("W1=-694.6W", "W2=3064.2W", "--voltage", "400V"),
        ("W=1.6kW",),
        ("W=1.6kW", "--power-factor", "0.8 lead", "--current", "10A"),
        ("W1=1kW", "W2=1kW", "W3=1kW", "--power-factor", "0.8 lag", "--voltage", "400V"),
        ("W1=1kW", "W2=2kW", "W3=-3kW"),
    ],
    ids=" ".join,
)
def test_infer(ask: Callable[..., Object], given: tuple[str, ...]) -> None:
    found = ask(INFER, "labels", "infer", *given)
    if "--voltage" not in given and "--current" not in given:
        assert found["impedance_ohm"] is None
    if found["apparent_va"] and found["power_factor"] is not None:
        assert found["active_w"] == pytest.approx(found["apparent_va"] * found["power_factor"])
    if found["impedance_ohm"]:
        star, delta = (found["impedance_ohm"][k] for k in ("star", "delta"))
        assert delta["re"] == pytest.approx(3 * star["re"])


def test_infer_in_numbers(ask: Callable[..., Object]) -> None:
    """As drawn in physics.md, section 5: ratio 0.5 is power factor √3/2, φ = 30° lag."""
    given = ("W1=2kW", "W2=4kW", "--voltage", "400V")
    found = ask(INFER, "labels", "infer", *given)
    # derived: S = P/cos 30° = 4000·√3 VA, Z = V²/S = 400²/(4000·√3) = 40/√3 ohm at 30°
    expected = (6000, 4000 * math.sqrt(3), 30, math.sqrt(3) / 2)
    names = ("active_w", "apparent_va", "phi_deg", "power_factor")
    assert [found[key] for key in names] == pytest.approx(expected)
    assert found["sense"] == "lag"
    assert found["impedance_ohm"]["star"] == pytest.approx({"re": 20, "im": 20 / math.sqrt(3)})


@pytest.mark.parametrize("name", ["four wires", "motor", "through-voltage-transformers"])
def test_vary(ask: Callable[..., Object], name: str) -> None:
    values = "390 V, 400 V" if name != "through-voltage-transformers" else "9 kV, 10 kV"
    varied = ("--quantity", "supply: voltage", "--values", values, "--csv", "v.csv")
    found = ask(VARY, name, "vary", "it.toml", *varied)
    columns = [(c["name"], c["unit"]) for c in found["columns"]]
    assert len(set(columns)) == len(columns)
    assert columns[:3] == [("supply: voltage", "V"), ("W1", "W"), ("W2", "W")]
    assert len(found["rows"]) == 2
    assert {len(row) for row in found["rows"]} == {len(columns)}
    header, *lines = Path("v.csv").read_text(encoding="utf-8").splitlines()
    assert header.split(",")[1 : len(columns) + 1] == [f"{n} [{u}]" for n, u in columns]
    assert len(lines) == 2
    read = ask(keys(readings=rows(keys(watts=NUMBER), 2)), name, "read", "it.toml")
    watts = [r["watts"] for r in read["readings"]]
    assert found["rows"][1][1:3] == pytest.approx(watts, rel=1e-9)


def test_methods_and_check(ask: Callable[..., Object]) -> None:
    found = ask(keys(methods=rows(METHOD, 12)), "labels", "methods")
    assert [method["name"] for method in found["methods"]] == list(METHODS)
    for method in METHODS:
        ask(METHOD, "labels", "methods", method)
        more = {"wattmeter": rows(keys(name=TEXT, current={}, voltage=rows(TEXT, 2)), 1)}
        ask(keys(name=TEXT, **more), "labels", "methods", method, "--expand")
    shown = ask(keys(files=rows(keys(file=TEXT, ok=FLAG))), "motor", "check", "it.toml", "it.toml")
    assert shown["files"] == 2 * [{"file": "it.toml", "ok": True}]


@pytest.mark.parametrize(("schema", "command"), [(EXPLAIN, "explain"), (FAULTS, "faults")])
def test_the_schemas_would_notice(ask: Callable[..., Object], schema: Object, command: str) -> None:
    validator = jsonschema.Draft202012Validator(schema)
    found = ask(schema, "four wires", command, "it.toml")
    for key in schema["required"]:
        assert not validator.is_valid({k: v for k, v in found.items() if k != key})
        assert not validator.is_valid(found | {key: True})

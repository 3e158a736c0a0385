"""Addresses of the page: 400 and a clear message, or what the file that it hands out reads.

Which addresses are any is decided by a second reader, written from what the page itself says can be
moved (``/controls``). On the page without a file the numbers also come from tables written by hand.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, unquote_to_bytes, urlencode

import pytest
from starlette.testclient import TestClient

import simulator
from simulator.explore.app import application
from simulator.explore.situation import Board
from simulator.metering.catalogue import METHODS
from simulator.reports.catalogue import starter_text
from tests.explore import files
from tests.fuzz.methods import METERS, written_out
from tests.fuzz.seeds import assert_clear, at_once, fuzz, with_slips
from tests.fuzz.tables import Shown, shown_by
from tests.fuzz.test_scenarios import of_second_reader

if TYPE_CHECKING:
    from random import Random

SHIPPED = sorted(Path(__file__).parents[2].glob("scenarios/*.toml"))
FILES = (
    None,
    *(files.UNBALANCED, files.RESISTIVE, files.OWN_METERS, files.MOTOR),
    *(starter_text(name) for name in METHODS),
    *(path.read_text(encoding="utf-8") for path in SHIPPED),
)
CHARACTERS = "0123456789-+.,&=;%?#/abcIUWL 'ÄΩ\x00\n"
CIRCUITS = ("current", "voltage")


@dataclass(frozen=True)
class Page:
    client: TestClient
    controls: dict[str, dict[str, Any]]
    meters: tuple[str, ...]  # of a file that writes its own
    file: str  # what addresses call the file


@cache
def page_of(number: int) -> Page:
    text = FILES[number]
    scenario = None if text is None else simulator.parse_scenario(text)
    client = TestClient(application(Board(scenario)), base_url="http://127.0.0.1")
    told = client.get("/controls").json()
    own = () if text is None else tuple(w["name"] for w in tomllib.loads(text).get("wattmeter", ()))
    controls = {control["name"]: control for control in told["controls"]}
    return Page(client, controls, own, told.get("file", ""))


def make(random: Random) -> tuple[int, str]:
    """Move a few things on a page; a third of the addresses have slips."""
    number = 0 if random.random() < 0.4 else random.randrange(len(FILES))
    page = page_of(number)
    moved: list[tuple[str, str]] = []
    for name, control in page.controls.items():
        often = 0.5 if name in ("method", "wires") else 0.2
        if random.random() < often and (not control["whyNot"] or random.random() < 0.02):
            moved.append((name, random.choice(control["stops"])[0]))
    method = dict(moved).get("method", page.controls["method"]["start"])
    if random.random() < 0.3:
        circuits = [f"{meter}.{c}" for meter in meters_of(method, page) for c in CIRCUITS]
        chosen = random.sample(circuits, random.randint(0, len(circuits)))
        moved.append(("reversed", ",".join(chosen) or "none"))
    if page.file and random.random() < 0.1:
        moved.append(("file", page.file))
    random.shuffle(moved)
    choice = random.random()
    if choice < 0.03 and moved:
        moved.append(random.choice(moved))
    if choice < 0.06:
        moved.append((random.choice(("x", "I1", "pf", "file", "")), random.choice(("", "1", "ä"))))
    query = urlencode(moved)
    if choice < 0.2:
        query = quote(with_slips(query, random, CHARACTERS), safe="&=;%+,.?/'-")
    if choice > 0.96:
        query = quote(random.randbytes(random.randrange(1, 60)))
    return number, query


def meters_of(method: str, page: Page) -> tuple[str, ...]:
    if method not in METERS:
        return page.meters
    n = len(METERS[method])
    return ("W",) if n == 1 else tuple(f"W{k}" for k in range(1, n + 1))


def read(query: str, page: Page) -> dict[str, str] | None:
    """Read an address, as a second reader; None if it is none of the page's."""
    if len(query) > 1000:
        return None
    found: dict[str, str] = {}
    for pair in query.split("&") if query else []:
        if not pair:
            continue
        name, _, value = pair.replace("+", " ").partition("=")
        try:
            name, value = (unquote_to_bytes(part).decode() for part in (name, value))
        except UnicodeDecodeError:
            return None
        if name in found or name not in (*page.controls, "reversed", "file"):
            return None
        found[name] = value
    for name, value in found.items():
        if name not in page.controls:
            continue
        control = page.controls[name]
        fixed = control["whyNot"] and value != control["start"]
        if fixed or value not in [stop[0] for stop in control["stops"]]:
            return None
    if "file" in found and not (page.file and found["file"] == page.file):
        return None
    method = found.get("method", page.controls["method"]["start"])
    known = {f"{meter}.{c}" for meter in meters_of(method, page) for c in CIRCUITS}
    turned = found.get("reversed", "none")
    return found if turned == "none" or set(turned.split(",")) <= known else None


def check(given: tuple[int, str]) -> str:
    number, query = given
    page = page_of(number)
    expected = read(query, page)
    with at_once():
        answer = page.client.get(f"/readings?{query}")
    if expected is None:
        assert answer.status_code == 400, answer.text
        assert_clear(ValueError(answer.json()["error"]))
        return "refused"
    assert answer.status_code == 200, answer.text
    told = answer.json()
    with at_once():
        handed = page.client.get(f"/scenario.toml?{query}")
    if told["problem"]:
        assert_clear(ValueError(told["problem"]))
        assert told["readings"] == []
        assert_same_problem(told["problem"], handed.status_code, handed.text)
        return "no solution"
    assert handed.status_code == 200
    result = simulator.solve(simulator.parse_scenario(handed.text))
    watts = {reading["name"]: reading["watts"] for reading in told["readings"]}
    assert watts == {name: reading.watts for name, reading in result.readings.items()}
    if result.total:
        assert told["total"]["indicated"] == result.total.indicated
        assert told["total"]["true"] == result.total.true
    assert_near(told, tomllib.loads(handed.text))
    if number == 0:
        assert_near(told, by_hand(expected))
    if len(query) % 8 == 0:
        with at_once():
            assert page.client.get(f"/why?{query}").status_code == 200
    return "read"


def assert_same_problem(problem: str, status: int, text: str) -> None:
    """What cannot be read on the page cannot be read from the file either."""
    if status == 200:
        with pytest.raises(simulator.SimulatorError) as caught:
            simulator.solve(simulator.parse_scenario(text))
        assert str(caught.value) == problem
    else:
        assert status == 422


def assert_near(told: dict[str, Any], document: dict[str, Any]) -> None:
    shown: Shown = shown_by(document)
    expected = of_second_reader(shown, document)
    for reading in told["readings"]:
        watts, allowed = expected[reading["name"]]
        assert abs(reading["watts"] - watts) <= allowed, (reading, watts)
    if told["total"]:
        total, allowed = expected["total"]
        assert abs(told["total"]["indicated"] - total) <= allowed


# The page without a file, by hand: a star of 10 A and power factor 0.8 on 400 V ---------------

NOTABLE = {"0.259": 75.0, "0.707": 45.0, "0.866": 30.0, "0.966": 15.0}


def by_hand(moved: dict[str, str]) -> dict[str, Any]:
    """Write the tables that an address means."""
    wires, phi = int(moved.get("wires", "3")), moved.get("pf", "0.8lag")
    size = phi.removesuffix("lag").removesuffix("lead")
    angle = NOTABLE.get(size, math.degrees(math.acos(float(size))))
    angle *= -1 if phi.endswith("lead") else 1
    turn = -1 if moved.get("sequence") == "L3-L2-L1" else 1
    load: dict[str, Any] = {"connection": "star"}
    emfs = {}
    for k, line in enumerate(("L1", "L2", "L3")):
        factor = 1 + float(moved.get(f"I{k + 1}", "0")) / 100
        ohms = 400 / math.sqrt(3) / 10 / factor if factor else math.inf
        load[line] = f"{ohms!r} ohm @ {angle!r} deg" if factor else "open"
        volts = 400 / math.sqrt(3) * (1 + float(moved.get(f"U{k + 1}", "0")) / 100)
        emfs[line] = f"{volts!r} V @ {-120 * k * turn} deg"
    supply: dict[str, Any] = {"wires": wires, "phase_voltages": emfs}
    if wires == 4:
        load |= {"star_point": "neutral", "neutral_lead": _ohms(moved.get("Nload", "closed"))}
        supply["neutral_impedance"] = _ohms(moved.get("Nsupply", "closed"))
    method = moved.get("method", "two wattmeters")
    table = {"name": method, "line": moved.get("line", "L2")}
    tables = {"supply": supply, "load": [load], "method": table}
    if "P" in " ".join(METERS[method]):
        tables = _with_coils(
            tables, [1 + float(moved.get(f"coil{k}", "0")) / 100 for k in (1, 2, 3)]
        )
    tables = written_out(tables)
    turned = moved.get("reversed", "none").split(",")
    for meter in tables["wattmeter"]:
        meter["reversed"] = [c for c in CIRCUITS if f"{meter['name']}.{c}" in turned]
    return tables


def _with_coils(tables: dict[str, Any], scales: list[float]) -> dict[str, Any]:
    """Make the star point of 20 kohm circuits, each scaled."""
    circuits = [f"{20 * scale!r} kohm" for scale in scales]
    names = ("a", "b", "c")
    kinds = {n: {"voltage_circuit": c} for n, c in zip(names, circuits, strict=True)}
    tables["method"]["instrument"] = list(names)
    tables["method"]["resistors"] = circuits[1:]
    return tables | {"instrument": kinds}


def _ohms(stop: str) -> str:
    return {"closed": "0 ohm", "open": "open"}.get(stop, f"{stop} ohm")


def test_texts() -> None:
    found = fuzz("address", range(60), make, check)
    assert found["read"] > 25
    assert found["refused"] > 5


@pytest.mark.heavy
@pytest.mark.parametrize("part", range(10))
def test_many_texts(part: int) -> None:
    fuzz("address", range(part * 1_200, (part + 1) * 1_200), make, check)


@pytest.mark.heavy
@pytest.mark.parametrize("part", range(4))
def test_drawings(part: int) -> None:
    found = fuzz("address", range(part * 50, (part + 1) * 50), make, check_drawings)
    assert found["drawn"] > 10


def check_drawings(given: tuple[int, str]) -> str:
    number, query = given
    page = page_of(number)
    expected = 400 if read(query, page) is None else 200
    if expected == 200 and page.client.get(f"/readings?{query}").json()["problem"]:
        expected = 422
    for name in ("phasors.svg", "connections.svg"):
        answer = page.client.get(f"/{name}?{query}")
        assert answer.status_code == expected, answer.text[:500]
    return "drawn" if expected == 200 else "refused"

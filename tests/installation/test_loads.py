"""Loads as elements of a network: stars, deltas, leads, in words of their own nodes."""

from __future__ import annotations

import math

import pytest

from simulator.installation.conductors import Conductors
from simulator.installation.loads import Branch, Connection, Load
from simulator.network.elements import Element, Impedance, Source
from simulator.network.netlist import Netlist
from simulator.network.nodal import Solution, solve

FOUR = Conductors(neutral="N")
# Not symmetrical, so that no line can stand in for another.
EMFS = {"L1": 230 + 0j, "L2": -100 - 210j, "L3": -130 + 190j}


def star(point: str, impedances: tuple[complex, ...], leads: dict[str, complex]) -> Load:
    branches = tuple(Branch(line, line, point, z) for line, z in zip(EMFS, impedances, strict=True))
    return Load("oven", Connection.STAR, branches, point, leads)


def solved(load: Load, *others: Element) -> tuple[Solution, dict[str, str]]:
    sources = [Source(f"source {line}", (line, "N"), emf) for line, emf in EMFS.items()]
    parts = list(load.elements(FOUR, 1))
    elements = (*sources, *others, *(element for _, element in parts))
    return solve(Netlist(elements, "N")), {element.name: role for role, element in parts}


def test_star_to_the_neutral_behind_leads() -> None:
    # derived: each branch and its lead in series, the neutral lead common. With 2 ohm of lead and
    # 4 ohm of neutral lead the star point is at Σ V·y / (Σ y + 1/4), y = 1/(Z + 2)
    Z = (20 + 5j, 30, 10 - 8j)
    leads = {"L1": 2, "L2": 2, "L3": 2, "N": 4}
    found, roles = solved(star("N", Z, leads))
    y = [1 / (z + 2) for z in Z]
    V = sum(v * k for v, k in zip(EMFS.values(), y, strict=True)) / (sum(y) + 1 / 4)
    assert found.potentials["terminal N of oven"] == pytest.approx(V, rel=1e-12)
    for line, z in zip(EMFS, Z, strict=True):
        I = (EMFS[line] - V) / (z + 2)
        assert found.current(f"load oven {line}") == pytest.approx(I, rel=1e-12)
        assert found.current(f"lead {line} of oven") == pytest.approx(I, rel=1e-12)
        assert found.powers[f"load oven {line}"] == pytest.approx(z * abs(I) ** 2, rel=1e-12)
        assert found.powers[f"lead {line} of oven"] == pytest.approx(2 * abs(I) ** 2, rel=1e-12)
    # counted from the conductor to the load, so against the sum of the lines
    I_N = sum((EMFS[line] - V) * k for line, k in zip(EMFS, y, strict=True))
    assert found.current("lead N of oven") == pytest.approx(-I_N, rel=1e-12)
    assert roles == {f"load oven {line}": "load" for line in EMFS} | {
        f"lead {k} of oven": "lead" for k in FOUR.all
    }


def test_isolated_star_has_no_neutral_lead_and_its_currents_sum_to_nothing() -> None:
    load = star("star point of oven", (20 + 5j, 30, 10 - 8j), {"L1": 1, "L2": 0, "L3": 0, "N": 4})
    found, roles = solved(load)
    assert sum(found.current(f"load oven {line}") for line in EMFS) == pytest.approx(0, abs=1e-12)
    assert "lead N of oven" not in roles
    assert "lead L2 of oven" not in roles  # without impedance the load sits on the conductor
    assert load.terminal("L2") == "L2"
    assert load.terminal("L1") == "terminal L1 of oven"


def test_delta_runs_its_currents_as_written() -> None:
    # derived: Ohm's law on each side; a line carries the difference of its two branches
    Z = (40 + 10j, 25 + 0j, 60 - 20j)
    branches = tuple(
        Branch(f"{a}-{b}", a, b, z)
        for (a, b), z in zip((FOUR.pair(k) for k in range(3)), Z, strict=True)
    )
    found, _ = solved(Load("oven", Connection.DELTA, branches, None, {}))
    V = list(EMFS.values())
    I = [(V[k] - V[(k + 1) % 3]) / Z[k] for k in range(3)]
    for k in range(3):
        assert found.current(f"load oven {branches[k].name}") == pytest.approx(I[k], rel=1e-12)
        line = found.current(f"source L{k + 1}")
        assert -line == pytest.approx(I[k] - I[k - 1], rel=1e-12)


def test_a_lead_to_a_delta_carries_the_line_current_of_both_branches() -> None:
    # derived: Δ of 30 ohm behind 5 ohm in each line is a star of 10 + 5 ohm
    branches = tuple(Branch(f"{a}-{b}", a, b, 30) for a, b in map(FOUR.pair, range(3)))
    load = Load("oven", Connection.DELTA, branches, None, dict.fromkeys(EMFS, 5 + 0j))
    found, _ = solved(load)
    mean = sum(EMFS.values()) / 3
    for line, emf in EMFS.items():
        expected = (emf - mean) / 15
        assert found.current(f"lead {line} of oven") == pytest.approx(expected, rel=1e-12)


def test_leads_to_lines_that_a_load_does_not_use_are_not_laid() -> None:
    load = Load(
        "lamp",
        Connection.LINE_TO_NEUTRAL,
        (Branch("L2", "L2", "N", 23),),
        None,
        dict.fromkeys(FOUR.all, 1 + 0j),
    )
    found, roles = solved(load)
    assert set(roles) == {"load lamp L2", "lead L2 of lamp", "lead N of lamp"}
    assert found.current("load lamp L2") == pytest.approx(EMFS["L2"] / 25, rel=1e-12)


@pytest.mark.parametrize("opened", ["branch", "lead"])
def test_an_open_branch_or_lead_carries_nothing(opened: str) -> None:
    # derived: with L3 gone the other two branches are in series across L1–L2
    Z3 = complex(math.inf) if opened == "branch" else 10 + 0j
    leads = {"L1": 0j, "L2": 0j, "L3": complex(math.inf) if opened == "lead" else 0j}
    found, _ = solved(star("star point of oven", (20 + 5j, 30, Z3), leads))
    I = (EMFS["L1"] - EMFS["L2"]) / (50 + 5j)
    assert found.current("load oven L1") == pytest.approx(I, rel=1e-12)
    assert found.current("load oven L2") == pytest.approx(-I, rel=1e-12)
    assert found.current("load oven L3") == pytest.approx(0, abs=1e-14)


def test_two_loads_may_share_a_named_star_point() -> None:
    # derived: joined star points make one star of the parallel branches
    first = star("P", (20, 20, 20), {})
    second = Load("press", Connection.STAR, tuple(Branch(k, k, "P", 5j) for k in EMFS), "P", {})
    joined = [element for _, element in second.elements(FOUR, 1)]
    found, _ = solved(first, *joined, Impedance("to N", ("P", "N"), 8 + 0j))
    y = 1 / 20 + 1 / 5j
    V = sum(EMFS.values()) * y / (3 * y + 1 / 8)
    assert found.potentials["P"] == pytest.approx(V, rel=1e-12)

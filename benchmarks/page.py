"""What each answer of the page costs the server, in processor time, beside a solve of the circuit.

The goals are times from a move to the page: 100 ms for readings, 300 for phasors, 800 for
connections, one answer after another and the browser included (`pytest -m browser
tests/explore -k times` measures those). Nothing is enforced.
"""

from __future__ import annotations

import argparse
import json
import time
from statistics import median
from typing import TYPE_CHECKING

from starlette.testclient import TestClient

import simulator
from simulator.explore.app import application
from simulator.explore.situation import Board

if TYPE_CHECKING:
    from collections.abc import Callable

PATHS = ("/readings", "/why", "/phasors.svg", "/connections.svg")
MOVES = 8


def cost_ms(work: Callable[[int], object]) -> float:
    """Return the median processor time of a move; the first one, which imports, not counted."""
    spent = []
    for k in range(MOVES + 1):
        begun = time.process_time()
        work(k)
        spent.append(1000 * (time.process_time() - begun))
    return median(spent[1:])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    as_json = parser.parse_args().json
    client = TestClient(application(Board(None)), base_url="http://127.0.0.1")
    scenario = simulator.parse_scenario(client.get("/scenario.toml").text)

    def asked(path: str) -> Callable[[int], None]:
        def ask(k: int) -> None:
            assert client.get(f"{path}?I1={5 * k}&U2=3").status_code == 200

        return ask

    one = cost_ms(lambda _: simulator.result_object(simulator.solve(scenario)))
    found = {path: cost_ms(asked(path)) for path in PATHS}
    if as_json:
        print(json.dumps({"solve": one} | found))
        return
    print(f"{'answer':<18} {'ms':>6} {'solves':>7}")
    for path, spent in found.items():
        print(f"{path:<18} {spent:6.1f} {spent / one:7.1f}")


if __name__ == "__main__":
    main()

"""How long `read` takes from a cold start, as a multiple of importing numpy.

Whole processes, interleaved so that a slow spell of the machine hits both alike.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ROUNDS = 15


def read_over_import_numpy() -> float:
    """Return median time of reading the first scenario over that of importing numpy."""
    scenario = min((ROOT / "scenarios").glob("*.toml"), default=None)
    if scenario is None:
        raise RuntimeError(f"no scenario file in {ROOT / 'scenarios'}")
    commands = (
        [sys.executable, "-m", "simulator", "read", str(scenario)],
        [sys.executable, "-c", "import numpy"],
    )
    for command in commands:  # not counted: compiles bytecode, fills the file cache
        _seconds(command)
    times = [[_seconds(command) for command in commands] for _ in range(ROUNDS)]
    read, import_numpy = (statistics.median(row[k] for row in times) for k in (0, 1))
    return read / import_numpy


def _seconds(command: list[str]) -> float:
    start = time.perf_counter()
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    elapsed = time.perf_counter() - start
    if done.returncode != 0:
        said = (done.stderr.strip().splitlines() or ["nothing on stderr"])[-1]
        raise RuntimeError(f"{' '.join(command)} ended with status {done.returncode}: {said}")
    return elapsed


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    as_json = parser.parse_args().json
    try:
        ratio = read_over_import_numpy()
    except RuntimeError as error:
        sys.exit(str(error))
    if as_json:
        print(json.dumps({"read_over_import_numpy": ratio}))
    else:
        print(f"read / import numpy: {ratio:.2f} (medians of whole processes)")


if __name__ == "__main__":
    main()

"""Chunks: the same bits whoever computes them, kept and found again, whatever stops the process."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from typing import TYPE_CHECKING

import numpy as np
import pytest

from simulator.errors import ScenarioError
from simulator.studies import chunks
from simulator.studies.chunks import CHUNK
from simulator.studies.draws import BLOCK
from simulator.studies.prepared import prepare_draws
from simulator.studies.run import monte_carlo, monte_carlo_statistics, vary
from simulator.studies.steps import Steps
from tests.studies.documents import changed, rows, scenario
from tests.studies.test_many import STAR

if TYPE_CHECKING:
    from concurrent.futures import Executor
    from pathlib import Path

SPREAD = {
    "ovens: L1": "normal 5 %, 2 deg",
    "ovens: L2": "uniform 10 %",
    "supply: voltage": "normal 2 %",
}
PAIR = {("ovens: L1", "ovens: L2"): 0.5}
CASES = 3 * CHUNK + 5000


@pytest.fixture(scope="module")
def alone() -> np.ndarray:
    """All results, computed by this process alone."""
    return rows(monte_carlo(scenario(STAR), SPREAD, cases=CASES, seed=9, correlations=PAIR))


def assert_same_bits(executor: Executor, alone: np.ndarray) -> None:
    study = monte_carlo(
        scenario(STAR), SPREAD, cases=CASES, seed=9, correlations=PAIR, executor=executor
    )
    assert rows(study).tobytes() == alone.tobytes()


def test_threads_give_the_same_bits(alone: np.ndarray) -> None:
    with ThreadPoolExecutor(3) as executor:
        assert_same_bits(executor, alone)


def test_processes_give_the_same_bits(alone: np.ndarray) -> None:
    with ProcessPoolExecutor(2, get_context("spawn")) as executor:
        assert_same_bits(executor, alone)
        assert_same_statistics(executor)


def assert_same_statistics(executor: Executor) -> None:
    one, other = (
        monte_carlo_statistics(scenario(STAR), SPREAD, cases=CASES, seed=9, executor=who)
        for who in (None, executor)
    )
    assert one == other


def test_a_local_cluster_gives_the_same_bits(alone: np.ndarray, tmp_path: Path) -> None:
    # a scheduler and two workers, processes of their own that talk over sockets
    script = tmp_path / "cluster.py"
    script.write_text(
        "import sys\n"
        "import numpy as np\n"
        "from distributed import Client, LocalCluster\n"
        "from tests.studies.documents import rows, scenario\n"
        "from tests.studies.test_chunks import CASES, PAIR, SPREAD, STAR\n"
        "from simulator.studies.run import monte_carlo\n"
        "if __name__ == '__main__':\n"
        "    how = dict(n_workers=2, threads_per_worker=1, dashboard_address=None)\n"
        "    with LocalCluster(**how) as cluster:\n"
        "        with Client(cluster) as client:\n"
        "            workers = len(client.scheduler_info()['workers'])\n"
        "            study = monte_carlo(scenario(STAR), SPREAD, cases=CASES, seed=9,\n"
        "                correlations=PAIR, executor=client.get_executor())\n"
        "    np.save(sys.argv[1], rows(study))\n"
        "    print(workers)\n",
        encoding="utf-8",
    )
    found = tmp_path / "found.npy"
    root = os.fspath(
        next(p for p in tmp_path.__class__(__file__).parents if (p / "tests").is_dir())
    )
    done = subprocess.run(
        [sys.executable, script, found],
        env=os.environ | {"PYTHONPATH": root},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.split()[-1] == "2"
    assert np.load(found).tobytes() == alone.tobytes()


def test_other_numbers_come_from_another_seed_only(alone: np.ndarray) -> None:
    fewer = monte_carlo(scenario(STAR), SPREAD, cases=CHUNK, seed=9, correlations=PAIR)
    assert rows(fewer).tobytes() == np.ascontiguousarray(alone[:, :CHUNK]).tobytes()
    other = monte_carlo(scenario(STAR), SPREAD, cases=1000, seed=10, correlations=PAIR)
    assert not (rows(other) == alone[:, :1000]).any()
    every = alone[0]
    assert len(np.unique(every)) == len(every), "a stream was used twice"


def test_smaller_chunks_give_the_same_bits(alone: np.ndarray, monkeypatch) -> None:
    monkeypatch.setattr(chunks, "CHUNK", CHUNK // 4)
    with ThreadPoolExecutor(2) as executor:
        assert_same_bits(executor, alone)


def test_results_come_in_the_order_of_the_cases() -> None:
    order = []

    class LateStart(ThreadPoolExecutor):
        """Is slow with the first chunk."""

        def submit(self, fn, *arguments):
            def work():
                time.sleep(0.3 if arguments[2] == 0 else 0)
                result = fn(*arguments)
                order.append(arguments[2])
                return result

            return super().submit(work)

    steps = Steps("10 ohm", "20 ohm", 2 * CHUNK + 7)
    with LateStart(2) as executor:
        study = vary(scenario(STAR), {"ovens: L3": steps}, executor=executor)
    assert order[-1] == 0
    # on a neutral without impedance W2 = U·V·cos 30°/Z
    wanted = 400 * 400 / 2 / np.linspace(10, 20, 2 * CHUNK + 7)
    np.testing.assert_allclose(study.readings["W2"], wanted, rtol=1e-12)


def test_chunks_are_handed_out_in_order_however_few_are_waiting(monkeypatch) -> None:
    monkeypatch.setattr(chunks, "IN_FLIGHT", 2)
    monkeypatch.setattr(chunks, "CHUNK", BLOCK)
    prepared = prepare_draws(scenario(STAR), ["ovens: L1 normal 5 %"], cases=6 * BLOCK)
    with ThreadPoolExecutor(2) as executor:
        starts = [chunk.start for chunk in prepared.chunks(executor=executor)]
    assert starts == [k * BLOCK for k in range(6)]


def test_a_failed_case_has_its_own_number_in_every_block() -> None:
    ohms = ["20 ohm"] * (BLOCK + 100)
    ohms[BLOCK + 50] = "open"
    others = ["open" if ohm == "open" else "30 ohm" for ohm in ohms]
    isolated = scenario(changed(STAR, "load", 0, "star_point", value="isolated"))
    values = {"ovens: L1": ohms, "ovens: L2": others, "ovens: L3": others}
    assert list(vary(isolated, values, together=True).failed) == [BLOCK + 50]


# Kept on disk -------------------------------------------------------------------------------


def test_finished_chunks_are_found_again(alone: np.ndarray, tmp_path: Path, monkeypatch) -> None:
    folder = tmp_path / "study"
    how = {"cases": CASES, "seed": 9, "correlations": PAIR, "keep": folder}
    monte_carlo(scenario(STAR), SPREAD, **how)
    files = sorted(folder.glob("*.npz"))
    assert len(files) == 4
    files[2].unlink()
    files[3].write_bytes(files[3].read_bytes()[:1000])  # as a full disk may leave it
    computed = []
    original = chunks.compute

    def compute(model, cases, index, pilot):
        computed.append(index)
        return original(model, cases, index, pilot)

    monkeypatch.setattr(chunks, "compute", compute)
    study = monte_carlo(scenario(STAR), SPREAD, **how)
    assert computed == [2, 3]
    assert rows(study).tobytes() == alone.tobytes()


def test_what_is_finished_is_kept_before_what_comes_first(tmp_path: Path) -> None:
    # so that a kill loses no more than what the workers are at
    class LateStart(ThreadPoolExecutor):
        """Begins the first chunk when all others are on disk."""

        def submit(self, fn, *arguments):
            def work():
                end = time.monotonic() + 30
                while arguments[2] == 0 and len([*tmp_path.glob("chunk-*.npz")]) < 3:
                    assert time.monotonic() < end
                    time.sleep(0.01)
                return fn(*arguments)

            return super().submit(work)

    with LateStart(2) as executor:
        study = monte_carlo(
            scenario(STAR), SPREAD, cases=CASES, seed=9, executor=executor, keep=tmp_path
        )
    assert np.isfinite(study.true).all()


def test_failures_are_kept_too(tmp_path: Path) -> None:
    values = {f"ovens: L{k}": ["20 ohm", "open"] for k in (1, 2, 3)}
    isolated = scenario(changed(STAR, "load", 0, "star_point", value="isolated"))
    first, second = (vary(isolated, values, keep=tmp_path / "study") for _ in range(2))
    assert list(second.failed) == [7]
    assert second.failed == first.failed
    assert rows(second).tobytes() == rows(first).tobytes()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"scenario": changed(STAR, "load", 0, "L1", value="26 ohm")}, "(different: scenario, "),
        ({"seed": 2}, "(different: seed)"),
        ({"cases": 2000}, "(different: number of cases)"),
        ({"spread": {"ovens: L1": "normal 6 %"}}, "(different: distributions)"),
        ({"spread": {"ovens: L2": "normal 5 %"}}, "(different: quantities, distributions)"),
        ({"statistics": True}, "(different: kind of results)"),
    ],
)
def test_another_study_is_refused(tmp_path: Path, change: dict, said: str) -> None:
    folder = tmp_path / "study"

    def study(document=STAR, spread=None, cases=1000, seed=1, statistics=False) -> None:
        run = monte_carlo_statistics if statistics else monte_carlo
        given = spread or {"ovens: L1": "normal 5 %"}
        run(scenario(document), given, cases=cases, seed=seed, keep=folder)

    study()
    study()
    named = {"document" if key == "scenario" else key: value for key, value in change.items()}
    with pytest.raises(ScenarioError) as caught:
        study(**named)
    assert said in str(caught.value)
    assert str(folder) in str(caught.value)
    assert "take another directory" in str(caught.value)


def test_a_sweep_with_other_values_is_refused(tmp_path: Path) -> None:
    vary(scenario(STAR), {"ovens: L1": ["1 ohm", "2 ohm"]}, keep=tmp_path / "study")
    with pytest.raises(ScenarioError, match=r"\(different: values\)"):
        vary(scenario(STAR), {"ovens: L1": ["1 ohm", "3 ohm"]}, keep=tmp_path / "study")


def test_a_directory_of_something_else_is_refused(tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(ScenarioError, match="expected an empty directory, or one of a study"):
        vary(scenario(STAR), {"ovens: L1": ["1 ohm"]}, keep=tmp_path / "letters")
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(ScenarioError, match="cannot use it"):
        vary(scenario(STAR), {"ovens: L1": ["1 ohm"]}, keep=tmp_path / "file")
    (tmp_path / "torn").mkdir()
    (tmp_path / "torn" / "study.json").write_text("{", encoding="utf-8")
    with pytest.raises(ScenarioError, match=r"its study\.json cannot be read"):
        vary(scenario(STAR), {"ovens: L1": ["1 ohm"]}, keep=tmp_path / "torn")


KILLED = """
import sys
from simulator.studies.run import monte_carlo
from tests.studies.documents import scenario
from tests.studies.test_chunks import SPREAD, STAR
monte_carlo(scenario(STAR), SPREAD, cases=int(sys.argv[1]), seed=4, keep=sys.argv[2])
"""


def test_a_killed_study_goes_on_where_it_was(tmp_path: Path) -> None:
    folder, n_chunks = tmp_path / "study", 10
    cases = n_chunks * CHUNK
    root = next(p for p in tmp_path.__class__(__file__).parents if (p / "tests").is_dir())
    process = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(cases), folder],
        env=os.environ | {"PYTHONPATH": os.fspath(root)},
    )
    try:
        deadline = time.monotonic() + 60
        while len(list(folder.glob("chunk-*.npz"))) < 3:
            assert process.poll() is None, "it ended before it could be killed"
            assert time.monotonic() < deadline
            time.sleep(0.002)
        process.send_signal(signal.SIGKILL)
    finally:
        process.kill()
        process.wait()
    assert process.returncode == -signal.SIGKILL
    finished = {path: path.stat().st_mtime_ns for path in folder.glob("chunk-*.npz")}
    assert 3 <= len(finished) < n_chunks
    assert json.loads((folder / "study.json").read_text(encoding="utf-8"))["seed"] == 4
    resumed = monte_carlo(scenario(STAR), SPREAD, cases=cases, seed=4, keep=folder)
    assert all(path.stat().st_mtime_ns == when for path, when in finished.items())
    assert len(list(folder.glob("chunk-*.npz"))) == n_chunks
    assert not list(folder.glob(".*.part"))
    whole = monte_carlo(scenario(STAR), SPREAD, cases=cases, seed=4)
    assert rows(resumed).tobytes() == rows(whole).tobytes()


def test_a_full_disk_is_said(tmp_path: Path, monkeypatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    prepared = prepare_draws(scenario(STAR), ["ovens: L1 normal 5 %"], cases=1000)
    monkeypatch.setattr(np, "savez", full)
    with pytest.raises(ScenarioError, match="cannot write it: No space left on device"):
        list(prepared.chunks(keep=tmp_path / "study"))
    assert [path.name for path in (tmp_path / "study").iterdir()] == ["study.json"]

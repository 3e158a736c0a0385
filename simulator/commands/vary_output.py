"""What ``blondel vary`` writes while a study is computed: table or JSON, CSV, curves."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from concurrent.futures import BrokenExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.errors import NetworkError, ScenarioError, SimulatorError

if TYPE_CHECKING:
    import argparse
    from concurrent.futures import Executor

    from simulator.studies.chunks import Chunk
    from simulator.studies.prepared import Prepared
    from simulator.studies.rows import Part
    from simulator.studies.statistics import Statistics


def write_study(prepared: Prepared, options: argparse.Namespace, executor: Executor | None) -> None:
    """Compute a study and write what is asked for.

    Parameters
    ----------
    prepared : Prepared
        The study.
    options : Namespace
        The command's options.
    executor : Executor or None
        Who computes it.

    Raises
    ------
    NetworkError
        If no case has results.
    ScenarioError
        If a file cannot be written, or nothing can be drawn.
    SimulatorError
        If a process that computes is killed.
    """
    if options.curve:  # what can never be drawn is not computed first
        from simulator.figures.studies import MOST_CURVES, MOST_POINTS

        if prepared.cases.count > MOST_CURVES * MOST_POINTS:
            raise ScenarioError(
                f"at most {MOST_CURVES} curves of {MOST_POINTS} points can be drawn, not "
                f"{prepared.cases.count} cases",
                "--curve",
            )
    chunks = prepared.chunks(
        executor=executor, keep=options.keep, statistics=options.statistics, bar=True
    )
    output = _Output(prepared, options)
    try:
        for chunk in chunks:
            output.add(chunk)
        output.finish()
    except BrokenPipeError:
        raise
    except BrokenExecutor as error:
        go_on = "the same command goes on" if options.keep else "--keep DIR keeps what is finished"
        raise SimulatorError(f"a worker process has been killed; {go_on}") from error
    except OSError as error:
        raise ScenarioError(f"cannot write the results: {error.strerror}") from error
    finally:
        output.drop()


class _Output:
    """All that is written of one study."""

    def __init__(self, prepared: Prepared, options: argparse.Namespace) -> None:
        from simulator.reports.studies import Ends, JsonPieces
        from simulator.studies.draws import Draws

        self.prepared, self.options = prepared, options
        self.table, self.cases = prepared.table, prepared.cases
        self.is_random = isinstance(self.cases, Draws)
        self.totals: Any = None
        self.n_failed, self.failed = 0, dict[int, str]()
        self.ends = Ends(self.table, self.cases.count)
        self.json = JsonPieces(self.table) if options.json else None
        # not to stdout yet, which stays empty if something fails
        self.spool = tempfile.TemporaryFile("w+", encoding="utf-8")  # noqa: SIM115 (`drop` closes)
        self.csv = _CsvFile(Path(options.csv)) if options.csv else None
        self.drawn: list[Chunk] = []

    def add(self, chunk: Chunk) -> None:
        """Write the next cases."""
        if chunk.n_failed == self.cases.count:
            raise NetworkError(f"no case has results; the first one: {chunk.failed[0]}")
        self.n_failed += chunk.n_failed
        if len(self.failed) < 10:
            self.failed |= chunk.failed
        if self.json and chunk.start == 0:
            print(self.json.opening(self._head()), end="", file=self.spool)
        self._count(chunk)
        if chunk.outputs is None:
            return
        columns = self.cases.columns(chunk.start, chunk.count)
        part: Part = (chunk.start, columns, chunk.outputs, chunk.failed)
        if self.csv:
            self.csv.add(self.table, part)
        if self.json:
            print(self.json.rows(part), end="", file=self.spool)
        elif not self.is_random:
            self.ends.add(part)
        if self.options.curve:
            self.drawn.append(chunk)

    def _count(self, chunk: Chunk) -> None:
        """Add to the statistics."""
        from simulator.studies.statistics import Accumulator, summarise

        if not (self.is_random or self.options.statistics):
            return
        if self.totals is None:
            self.totals = Accumulator(self.prepared.pilot)
        if chunk.outputs is None:
            self.totals.add(chunk.summary)
        else:
            self.totals.add(summarise(chunk.outputs, self.totals.pilot))

    def _head(self) -> dict[str, Any]:
        seed = self.cases.seed if self.is_random else None  # type: ignore[union-attr]
        title, notes = self.prepared.scenario.title, self.prepared.notes
        return {"title": title, "cases": self.cases.count, "seed": seed, "notes": notes}

    def finish(self) -> None:
        """Write what is known only now."""
        from simulator.reports.studies import failed_object, statistics_object

        if self.csv:
            self.csv.finish()
        if self.drawn:
            self._draw()
        statistics: list[Statistics] | None = self.totals and self.totals.result()
        if self.json is None:
            print(self._text(statistics), end="")
            return
        tail: dict[str, Any] = {"failed": self.n_failed, "messages": failed_object(self.failed)}
        tail["statistics"] = statistics and statistics_object(self.table, statistics)
        print(self.json.closing(tail), end="", file=self.spool)
        self.spool.seek(0)
        shutil.copyfileobj(self.spool, sys.stdout)

    def _text(self, statistics: list[Statistics] | None) -> str:
        from simulator.reports.studies import failed_text, statistics_text

        cases = self.cases
        what = ", ".join(quantity.path for quantity in cases.quantities)
        if self.is_random:
            head = f"{cases.count} cases drawn at random, seed {cases.seed}: {what}"  # type: ignore[union-attr]
        else:
            head = f"{cases.count} cases: {what}"
        body = self.ends.text() if statistics is None else statistics_text(self.table, statistics)
        wrong = failed_text(self.failed, self.n_failed)
        notes = "".join(f"Note: {note}\n" for note in self.prepared.notes)
        parts = [f"{self.prepared.scenario.title}\n{head}\n", body, wrong, notes]
        return "\n".join(part for part in parts if part)

    def _draw(self) -> None:
        from simulator.figures.saving import save
        from simulator.figures.studies import draw_study

        figure = draw_study(self.prepared.study(self.drawn))
        title, overwrite = self.prepared.scenario.title, self.options.overwrite
        save(figure, self.options.curve, title, overwrite=overwrite)

    def drop(self) -> None:
        """Leave no half-written file behind."""
        self.spool.close()
        if self.csv:
            self.csv.drop()


class _CsvFile:
    """A CSV file, whole or not at all."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.part = path.parent / f".{path.name}.{os.getpid()}.part"
        self.started = False

    def add(self, table: Any, part: Part) -> None:
        from simulator.studies.rows import csv_header, csv_rows

        text = csv_rows(table, part)
        if not self.started:
            text = csv_header(table) + text
        try:
            with self.part.open("a" if self.started else "w", encoding="utf-8") as file:
                file.write(text)
        except OSError as error:
            raise ScenarioError(f"cannot write it: {error.strerror}", str(self.path)) from error
        self.started = True

    def finish(self) -> None:
        self.part.replace(self.path)

    def drop(self) -> None:
        self.part.unlink(missing_ok=True)

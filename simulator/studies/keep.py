"""A directory that keeps the finished chunks of a long study, so that it can be taken up again.

Every chunk is written under another name first and then renamed, so it is there whole or not at
all, whenever the process is stopped.
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import ScenarioError
from simulator.studies.chunks import CHUNK, Chunk
from simulator.studies.draws import Draws
from simulator.studies.statistics import Summary

if TYPE_CHECKING:
    from simulator.scenario.models import Scenario
    from simulator.studies.sweep import Sweep

STUDY = "study.json"


@dataclass(frozen=True)
class Keep:
    """A directory of finished chunks.

    Attributes
    ----------
    folder : Path
        The directory.
    """

    folder: Path

    def load(self, index: int) -> Chunk | None:
        """Find a finished chunk.

        Parameters
        ----------
        index : int
            Which chunk.

        Returns
        -------
        Chunk or None
            The chunk; None if it is not there, or cannot be read.
        """
        try:
            with self._path(index).open("rb") as file, np.load(file, allow_pickle=False) as kept:
                arrays = dict(kept)
        except (OSError, ValueError, EOFError, zipfile.BadZipFile):
            return None
        summary = None
        if "counts" in arrays:
            summary = Summary(arrays["moments"], arrays["places"], arrays["counts"])
        start, count, n_failed = arrays["cases"].tolist()
        failed = dict(zip(arrays["failed"].tolist(), arrays["messages"].tolist(), strict=True))
        return Chunk(start, count, arrays.get("outputs"), summary, n_failed, failed)

    def save(self, index: int, chunk: Chunk) -> None:
        """Keep a finished chunk.

        Parameters
        ----------
        index : int
            Which chunk.
        chunk : Chunk
            The chunk.

        Raises
        ------
        ScenarioError
            If it cannot be written.
        """
        arrays: dict[str, Any] = {
            "cases": np.array([chunk.start, chunk.count, chunk.n_failed]),
            "failed": np.array(list(chunk.failed), dtype=np.int64),
            "messages": np.array(list(chunk.failed.values()), dtype=np.str_),
        }
        if chunk.outputs is not None:
            arrays["outputs"] = chunk.outputs
        if chunk.summary is not None:
            arrays |= vars(chunk.summary)
        path = self._path(index)
        part = path.with_name(f".{path.name}.{os.getpid()}.part")
        try:
            with part.open("wb") as file:
                np.savez(file, **arrays)
                file.flush()
                os.fsync(file.fileno())
            part.replace(path)
        except OSError as error:
            part.unlink(missing_ok=True)
            raise ScenarioError(f"cannot write it: {error.strerror}", str(path)) from error

    def _path(self, index: int) -> Path:
        return self.folder / f"chunk-{index:06d}.npz"


def describe(scenario: Scenario, cases: Sweep | Draws, *, statistics: bool) -> dict[str, Any]:
    """Describe a study, so that another one can be told from it.

    Parameters
    ----------
    scenario : Scenario
        The scenario.
    cases : Sweep or Draws
        The cases.
    statistics : bool
        Whether only statistics are kept.

    Returns
    -------
    dict
        What matters, in words.
    """
    from importlib.metadata import version  # noqa: PLC0415

    about: dict[str, Any] = {
        "program": version("blondel"),
        "scenario": _digest(repr(scenario).encode()),
        "quantities": [quantity.path for quantity in cases.quantities],
        "number of cases": cases.count,
        "cases in a chunk": CHUNK,
        "kind of results": "statistics" if statistics else "cases",
    }
    if isinstance(cases, Draws):
        about["distributions"] = [
            f"{each.shape} {each.spread!r} {each.angle!r}" for each in cases.distributions
        ]
        about["correlations"] = [list(row) for row in cases.correlations]
        about["seed"] = cases.seed
    else:
        about["values"] = [_digest(values.tobytes()) for values in cases.values]
        about["together"] = cases.together
    return about


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def open_keep(folder: str | Path, about: dict[str, Any]) -> Keep:
    """Open a directory for a study, a new one or one that has begun.

    Parameters
    ----------
    folder : str or Path
        The directory; it is made if it does not exist.
    about : dict
        What `describe` says of the study.

    Returns
    -------
    Keep
        The directory.

    Raises
    ------
    ScenarioError
        If it holds another study or other files, or cannot be written.
    """
    folder = Path(folder)
    file = folder / STUDY
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if file.exists():
            _compare(json.loads(file.read_text(encoding="utf-8")), about, folder)
        elif any(folder.iterdir()):
            raise ScenarioError("expected an empty directory, or one of a study", str(folder))
        else:
            part = file.with_name(f".{STUDY}.{os.getpid()}.part")
            part.write_text(json.dumps(about, indent=1), encoding="utf-8")
            part.replace(file)
        for left in folder.glob(".chunk-*.part"):
            left.unlink(missing_ok=True)
    except OSError as error:
        raise ScenarioError(f"cannot use it: {error.strerror}", str(folder)) from error
    except json.JSONDecodeError as error:
        raise ScenarioError("its study.json cannot be read", str(folder)) from error
    return Keep(folder)


def _compare(kept: Any, about: dict[str, Any], folder: Path) -> None:
    known = kept if isinstance(kept, dict) else {}
    other = [key for key in {**known, **about} if known.get(key) != about.get(key)]
    if other:
        raise ScenarioError(
            f"it holds another study (different: {', '.join(other)}); take another directory, or "
            "remove this one to begin anew",
            str(folder),
        )

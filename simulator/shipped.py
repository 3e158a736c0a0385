"""The shipped scenarios: in the installed package, or in the folder of a checkout."""

from __future__ import annotations

import difflib
import tomllib
from dataclasses import dataclass
from importlib import resources
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.errors import ScenarioError

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable


@dataclass(frozen=True)
class Shipped:
    """A shipped scenario.

    Attributes
    ----------
    name : str
        Name of its file, without the ending.
    text : str
        The file.
    """

    name: str
    text: str

    @property
    def look_for(self) -> str:
        """What to look for: the comment at the head of the file, in one line."""
        head = takewhile(lambda line: line.startswith("#"), self.text.splitlines())
        return " ".join(line[1:].strip() for line in head)

    @property
    def title(self) -> str:
        """Its title."""
        return str(tomllib.loads(self.text)["title"])


def shipped_scenarios() -> list[Shipped]:
    """Give every shipped scenario.

    Returns
    -------
    list of Shipped
        In the order of their names.
    """
    files = sorted(_folder().iterdir(), key=lambda file: file.name)
    return [
        Shipped(file.name.removesuffix(".toml"), file.read_text(encoding="utf-8"))
        for file in files
        if file.name.endswith(".toml")
    ]


def shipped_scenario(name: str) -> Shipped:
    """Give one shipped scenario.

    Parameters
    ----------
    name : str
        Its name, with or without the ending ``.toml``.

    Returns
    -------
    Shipped
        The scenario.

    Raises
    ------
    ScenarioError
        If none has that name.
    """
    known = {scenario.name: scenario for scenario in shipped_scenarios()}
    wanted = name.removesuffix(".toml")
    if wanted in known:
        return known[wanted]
    near = difflib.get_close_matches(wanted, known, n=1)
    hint = f"did you mean '{near[0]}'?" if near else "'blondel scenarios' lists them"
    raise ScenarioError(f"there is no shipped scenario '{name}'; {hint}")


def _folder() -> Traversable:
    """Find the folder: the build copies it into the package, a checkout has it beside."""
    installed = resources.files("simulator") / "data" / "scenarios"
    return installed if installed.is_dir() else Path(__file__).parents[1] / "scenarios"

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import simulator
from simulator.figures.style import settings

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from simulator.findings.result import Result

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@cache
def _shipped(name: str) -> Result:
    return simulator.solve(simulator.read_scenario(SCENARIOS / f"{name}.toml"))


@pytest.fixture
def shipped() -> Callable[[str], Result]:
    """Solve a shipped scenario by its name, once."""
    return _shipped


@pytest.fixture
def drawing() -> Iterator[None]:
    """Draw and measure by our settings, as every figure does."""
    with settings():
        yield

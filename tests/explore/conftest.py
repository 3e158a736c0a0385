"""The page without a browser: asked through the application itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from starlette.testclient import TestClient

import simulator
from simulator.explore.app import application
from simulator.explore.situation import Board

if TYPE_CHECKING:
    from collections.abc import Callable

    import httpx2

HERE = "http://127.0.0.1"


class Page:
    """The page, and what a person would look for on it."""

    def __init__(self, scenario: simulator.Scenario | None = None) -> None:
        self.client = TestClient(application(Board(scenario)), base_url=HERE)

    def get(self, path: str) -> httpx2.Response:
        return self.client.get(path)

    def ask(self, path: str) -> Any:
        response = self.get(path)
        assert response.status_code == 200, response.text
        return response.json()

    def watts(self, query: str = "") -> dict[str, float]:
        readings = self.ask(f"/readings?{query}")["readings"]
        return {reading["name"]: reading["watts"] for reading in readings}

    def total(self, query: str = "") -> dict[str, Any]:
        total: dict[str, Any] = self.ask(f"/readings?{query}")["total"]
        return total

    def error_percent(self, query: str = "") -> float:
        total = self.total(query)
        return float(100 * (total["indicated"] / total["true"] - 1))

    def downloaded(self, query: str = "") -> simulator.Scenario:
        return simulator.parse_scenario(self.get(f"/scenario.toml?{query}").text)


@pytest.fixture
def page() -> Page:
    """The page without a file."""
    return Page()


@pytest.fixture
def page_of() -> Callable[[str], Page]:
    """The page that starts from a scenario's text."""
    return lambda text: Page(simulator.parse_scenario(text))

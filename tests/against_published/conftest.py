"""Hands the records and their values to the tests; records.py reads them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.against_published.records import RECORDS, Check, checks, kind_of, read_data

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.fixture
def read() -> Callable[[str], dict[str, Any]]:
    """Read a data file by its name."""
    return read_data


@pytest.fixture
def records() -> list[dict[str, Any]]:
    """List all records."""
    return [record for file in RECORDS for record in read_data(file)["record"]]


@pytest.fixture
def traps() -> list[Check]:
    """List all wrong printed values."""
    return [check for check in checks() if kind_of(check) == "trap"]


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Hand each test the values of the kind it names as its argument."""
    for kind in ("printed", "rounded", "trap", "given", "derived"):
        if kind in metafunc.fixturenames:
            found = [c for c in checks() if kind_of(c) == kind]
            metafunc.parametrize(kind, found, ids=str)

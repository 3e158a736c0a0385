"""Every name the package lists exists, and nothing else is promised."""

from __future__ import annotations

import pytest

import simulator


@pytest.mark.parametrize("name", simulator.__all__)
def test_exists(name: str) -> None:
    assert getattr(simulator, name).__doc__


def test_unknown_names_are_unknown() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = simulator.nothing

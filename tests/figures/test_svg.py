from __future__ import annotations

import re
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
import pytest

from simulator.figures.every import figures_of
from simulator.figures.style import settings
from simulator.figures.svg import to_svg

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.findings.result import Result

NUMBER = re.compile(r"-?\d+\.?\d*")


@pytest.mark.parametrize("what", ["phasors", "connections"])
def test_the_same_drawing_as_matplotlib_writes(shipped: Callable[[str], Result], what: str) -> None:
    result = shipped("unequal-coils-four-wires")
    content = BytesIO()
    with settings():
        figures_of(result, [what])[what].savefig(content, format="svg", metadata={"Date": None})
    expected = content.getvalue().decode()
    found = to_svg(figures_of(result, [what])[what]).decode()
    # a digit's own shape moves the line it stands in by less than an eye sees
    assert NUMBER.sub("0", found) == NUMBER.sub("0", expected)
    places = [np.array(NUMBER.findall(text), float) for text in (found, expected)]
    assert np.abs(places[0] - places[1]).max() < 0.1


def test_the_same_bytes_for_the_same_figure(shipped: Callable[[str], Result]) -> None:
    result = shipped("lost-neutral")
    first, second = (to_svg(figures_of(result, ["phasors"])["phasors"]) for _ in range(2))
    assert first == second

"""Measuring transformers: the sense of their errors."""

from __future__ import annotations

import cmath
import math

import pytest

from simulator.installation.transformers import InstrumentTransformer


def test_an_errorless_transformer_changes_nothing() -> None:
    assert InstrumentTransformer("ct", 20).error_factor == 1


def test_ratio_error_and_phase_displacement_are_those_of_the_secondary() -> None:
    # IEC 61869-1 (from memory): a positive ratio error is a secondary quantity too large, a
    # positive displacement a secondary phasor that leads
    factor = InstrumentTransformer(
        "ct", 20, ratio_error=-0.002, phase_displacement=0.5
    ).error_factor
    assert abs(factor) == pytest.approx(0.998, rel=1e-12)
    assert math.degrees(cmath.phase(factor)) == pytest.approx(0.5, rel=1e-12)

"""Worked examples in print: every value that the source prints, and what goes with it.

How records, tolerances and marks work is told in records.py.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

    Read = Callable[[str], dict[str, Any]]

pytestmark = pytest.mark.reference
SOURCE_ROUNDING = 0.005
SOURCE_FIELDS = {"title", "authority", "seen_in"}


def test_agrees_to_the_printed_digits(printed: Any) -> None:
    assert printed.distance <= 1, printed.ours


def test_agrees_as_far_as_the_source_rounds(rounded: Any) -> None:
    assert rounded.relative <= SOURCE_ROUNDING, rounded.ours
    assert rounded.record["note"]


def test_source_rounding_is_claimed_only_where_needed(rounded: Any) -> None:
    assert rounded.distance > 1


def test_what_the_source_starts_from_comes_out_again(given: Any) -> None:
    assert given.relative <= 1e-9, given.ours


def test_derived_not_published(derived: Any) -> None:
    assert derived.distance <= 1, derived.ours


def test_every_printed_value_is_covered(records: list[dict[str, Any]], read: Read) -> None:
    covered = {
        record["id"]: {name for case in record["case"] for name in case.get("printed", {})}
        for record in records
    }
    assert covered == {record_id: set(names) for record_id, names in read("index").items()}
    assert len(covered) == len(records) == 59 + 8


def test_every_record_names_its_source(records: list[dict[str, Any]], read: Read) -> None:
    sources = read("sources")
    assert {record["source"] for record in records} == set(sources)
    assert all(source.keys() >= SOURCE_FIELDS for source in sources.values())
    assert {record["confidence"] for record in records} == {"SEEN", "MEM"}
    for record in records:
        from_memory = sources[record["source"]]["authority"] == "memory"
        assert from_memory == (record["confidence"] == "MEM")

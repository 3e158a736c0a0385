"""The table of sources in the README, and the numbers and claims of the theory page."""

from __future__ import annotations

from tests.against_published.records import read_data
from tests.against_published.table import README, calculated, published, renew
from tests.against_published.test_worked_examples import SOURCE_ROUNDING


def test_table_of_the_readme_is_the_generated_one() -> None:
    text = README.read_text(encoding="utf-8")
    assert text == renew(text)


def test_no_value_is_left_out_of_the_table() -> None:
    rows = published()
    assert sum(len(row.values) for row in rows) == sum(map(len, read_data("index").values()))
    assert len(rows + calculated()) <= 25


def test_every_value_of_the_table_is_in_one_column() -> None:
    for value in (value for row in published() + calculated() for value in row.values):
        agrees = value.distance <= 1 or (value.relative <= SOURCE_ROUNDING and not value.wrong)
        assert agrees != value.wrong, value

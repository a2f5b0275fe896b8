"""Rule books and reference data stand in the documentation as they are."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from lapel.hygiene.measures import MEASURES
from lapel.reference import PACKAGED, rule_book
from lapel.reference.tables import COLUMNS, REQUIRED, SOURCE_COLUMNS

DOCS = Path(__file__).parents[2] / "docs"
sys.path.insert(0, str(DOCS))
import make_rule_books  # noqa: E402


def test_the_page_of_rule_books_is_up_to_date():
    assert make_rule_books.PAGE.read_text(encoding="utf-8") == make_rule_books.page(), (
        "run: python docs/make_rule_books.py"
    )


@pytest.mark.parametrize("key", PACKAGED)
def test_every_rule_and_measure_is_on_the_page(key: str):
    text = make_rule_books.PAGE.read_text(encoding="utf-8")
    assert [rule.id for rule in rule_book(key).rules if f"`{rule.id}`" not in text] == []
    assert [name for name in MEASURES if f"`{name}`" not in text] == []


def test_every_column_of_an_own_table_is_explained():
    text = (DOCS / "how-to" / "add-your-own-limits-and-methods.md").read_text(encoding="utf-8")
    for table, columns in COLUMNS.items():
        assert f"`{table}`" in text
        assert [name for name in (*columns, *SOURCE_COLUMNS[:3], *REQUIRED[table]) if f"`{name}`" not in text] == []

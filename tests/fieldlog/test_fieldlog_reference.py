"""The page that describes the kinds of entry says what the code does."""

from __future__ import annotations

from field_reference import MARK, PAGE, kinds_section

from lapel.fieldlog import KINDS


def test_the_page_lists_every_kind_and_field_as_they_are():
    """Write it anew with ``python tests/fieldlog/field_reference.py``."""
    page = PAGE.read_text(encoding="utf-8")
    assert MARK + page.partition(MARK)[2] == kinds_section()


def test_the_page_names_every_part_of_an_entry():
    page = PAGE.read_text(encoding="utf-8")
    for part in (
        "id",
        "kind",
        "at",
        "device",
        "sequence",
        "author",
        "fields",
        "corrects",
        "received_at",
        "previous_hash",
    ):
        assert f"`{part}`" in page
    assert len(KINDS) == page.count("\n### ")

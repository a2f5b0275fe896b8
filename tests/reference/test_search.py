"""A search finds what was meant or says what comes near; it never takes the near for the meant."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.reference import library

LIBRARY = library()


@pytest.mark.parametrize(
    "text", ["Toluene", "toluene", " TOLUENE ", "108-88-3", "methylbenzene", "methyl-benzene", "methyl benzene"]
)
def test_name_synonym_and_number_find_the_substance_exactly(text: str):
    found = LIBRARY.search(text)
    assert [(item.substance.cas, item.how) for item in found] == [("108-88-3", "exact")]
    assert LIBRARY.substance(text).cas == "108-88-3"


def test_the_beginning_of_a_name_finds_all_that_begin_so_and_takes_none():
    found = LIBRARY.search("tolu")
    assert {item.how for item in found} == {"begins with"}
    assert len(found) > 1
    with pytest.raises(LookupError, match=r"no substance “tolu” is known\. Do you mean Toluene \(108-88-3\)"):
        LIBRARY.substance("tolu")


def test_a_slip_of_the_pen_is_answered_with_what_comes_close_labelled_as_such():
    found = LIBRARY.search("tolueen")
    assert (found[0].substance.name, found[0].how) == ("Toluene", "close")
    with pytest.raises(LookupError, match="Do you mean Toluene"):
        LIBRARY.substance("tolueen")


def test_numbers_that_only_look_alike_are_not_close():
    assert LIBRARY.search("108-88-4") == ()
    with pytest.raises(LookupError, match="check digit does not fit"):
        LIBRARY.substance("108-88-4")


def test_nothing_finds_nothing():
    assert LIBRARY.search("   ") == ()
    assert LIBRARY.search("qqqqqqqqq") == ()


@given(st.text(max_size=30))
def test_any_text_is_answered_and_only_an_equal_name_is_exact(text: str):
    for item in LIBRARY.search(text):
        if item.how == "exact":
            kept = [name.replace("-", "").replace(" ", "").casefold() for name in (item.by, text.strip())]
            assert kept[0] == "".join(kept[1].replace("‐", "").replace("–", "").split())


@pytest.mark.parametrize("row", LIBRARY.substances, ids=lambda row: row.cas)
def test_every_substance_is_found_by_its_own_number_and_name(row):
    assert LIBRARY.substance(row.cas) == row
    assert row in [item.substance for item in LIBRARY.search(row.name) if item.how == "exact"]

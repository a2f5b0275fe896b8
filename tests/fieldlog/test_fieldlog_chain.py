"""A gap, an edit or a swap in a device's entries shows."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from datetime import datetime, timedelta, timezone

import pytest
from field_book import Book
from hypothesis import given
from hypothesis import strategies as st

from lapel.fieldlog import (
    Entry,
    canonical_text,
    chained,
    entry_from_record,
    entry_hash,
    entry_record,
    is_uuid7,
    verify_chain,
    verify_chains,
)
from lapel.fieldlog.record import UnreadableRecord


@pytest.fixture
def chain():
    book = Book()
    book.prepare()
    return chained(book.entries)


def test_the_canonical_text_is_sorted_json_without_blanks():
    """Written by hand from the rule: keys by code point, no blanks, non-ASCII letters as they are."""
    at = datetime(2026, 5, 14, 6, 2, tzinfo=timezone(timedelta(hours=2)))
    entry = Entry("e1", "note", at, "phone-1", 7, "RK", {"text": 'µ "x"\n', "about": "T1"}, previous_hash="ab")
    written = (
        '{"at":"2026-05-14T06:02:00.000+02:00","author":"RK","corrects":"","device":"phone-1",'
        '"fields":{"about":"T1","text":"µ \\"x\\"\\n"},"id":"e1","kind":"note","previous_hash":"ab",'
        '"reason":"","sequence":7}'
    )
    assert canonical_text(entry) == written
    assert entry_hash(entry) == hashlib.sha256(written.encode()).hexdigest()


def test_a_lone_surrogate_is_escaped_as_a_browser_does_it():
    entry = Entry("e1", "note", datetime(2026, 5, 14, tzinfo=timezone.utc), "p", 1, "RK", {"text": "\ud800"})  # noqa: UP017
    assert entry_hash(entry) == hashlib.sha256(canonical_text(entry).replace("\ud800", "\\ud800").encode()).hexdigest()


def test_a_whole_chain_has_no_break_in_any_order(chain):
    assert verify_chain(reversed(chain)) is None
    assert verify_chains(chain) == {"phone-1": None}


def test_an_altered_entry_is_named(chain):
    altered = list(chain)
    altered[4] = replace(chain[4], fields={**chain[4].fields, "reading": "0.101"})
    broken = verify_chain(altered)
    assert (broken.sequence, broken.entry_id) == (5, chain[4].id)
    assert "content" in broken.found


def test_an_altered_entry_with_a_fitting_hash_breaks_the_next_link(chain):
    altered = list(chain)
    changed = replace(chain[4], author="MB")
    altered[4] = replace(changed, hash=entry_hash(changed))
    assert verify_chain(altered).sequence == 6


def test_a_missing_entry_is_named_as_a_gap(chain):
    broken = verify_chain([entry for entry in chain if entry.sequence != 3])
    assert (broken.sequence, broken.wanted) == (4, "sequence 3")
    assert verify_chain(chain[1:]).wanted == "sequence 1"


def test_one_sequence_number_used_twice_breaks_the_chain(chain):
    assert verify_chain([*chain, replace(chain[2], id="zz")]).found.startswith("sequence 3 after 3")


def test_receipt_and_origin_are_not_part_of_what_was_recorded(chain):
    received = [replace(entry, received_at=entry.at, origin="a.jsonl") for entry in chain]
    assert verify_chain(received) is None


def test_entries_of_two_devices_are_not_one_chain(chain):
    with pytest.raises(ValueError, match="must be of one device"):
        verify_chain([*chain, replace(chain[0], device="phone-2")])


@given(st.integers(0, 6), st.sampled_from(["author", "kind", "reason", "id", "device_at"]))
def test_any_change_of_any_entry_is_found(place, what):
    book = Book()
    book.prepare()
    chain = list(chained(book.entries))[:7]
    entry = chain[place]
    change = {"at": entry.at + timedelta(milliseconds=1)} if what == "device_at" else {what: getattr(entry, what) + "x"}
    chain[place] = replace(entry, **change)
    assert verify_chain(chain).sequence == place + 1


def test_a_record_read_back_is_the_same_entry(chain):
    for entry in chain:
        assert entry_from_record(entry_record(entry)) == entry
        assert entry_hash(entry_from_record(entry_record(entry))) == entry.hash


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"at": "2026-05-14T06:02"}, "at"),
        ({"at": 5}, "at"),
        ({"fields": {"reading": 0.1}}, "reading"),
        ({"fields": []}, "fields"),
        ({"sequence": "1"}, "sequence"),
        ({"sequence": True}, "sequence"),
        ({"colour": "red"}, "colour"),
        ({"author": None}, "author"),
    ],
)
def test_a_record_with_another_frame_is_refused_with_every_reason(chain, change, named):
    with pytest.raises(UnreadableRecord) as raised:
        entry_from_record(entry_record(chain[0]) | change)
    assert named in [problem.field for problem in raised.value.problems]


def test_only_uuids_of_version_7_pass_as_such():
    """RFC 9562, appendix A.6."""
    assert is_uuid7("017f22e2-79b0-7cc3-98c4-dc0c0c07398f")
    assert not is_uuid7("017f22e2-79b0-4cc3-98c4-dc0c0c07398f")
    assert not is_uuid7("sheet 4 line 7")

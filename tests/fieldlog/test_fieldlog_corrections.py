"""Duplicates, corrections and their corrections."""

from __future__ import annotations

from dataclasses import replace

import pytest
from field_book import Book, instant, utc

from lapel.fieldlog import fold


@pytest.fixture
def book():
    made = Book()
    made.fit("06:00", "S-1")
    made.start = made.write("06:20", "pump_started", train="T1")
    made.write("14:00", "pump_stopped", train="T1", why="shift end")
    return made


def clock_min(book):
    return fold(book.entries).runs["S-1"].clock_min


def abouts(day):
    return [conflict.about for conflict in day.conflicts]


def test_a_corrected_instant_counts_and_the_recorded_one_stays(book):
    fix = book.correct("15:00", book.start, field="at", value="2026-05-14T06:02+02:00")
    day = fold(book.entries)
    assert day.runs["S-1"].clock_min == 478.0
    amendment = day.amendments[book.start.id]
    assert amendment.recorded == book.start
    assert amendment.counts.at == instant("06:02")
    assert amendment.corrections == (fix,)


def test_a_correction_of_a_correction_counts(book):
    first = book.correct("15:00", book.start, field="at", value="2026-05-14T06:02+02:00")
    book.correct("15:10", first, field="value", value="2026-05-14T06:05+02:00")
    assert clock_min(book) == 475.0


def test_a_withdrawn_correction_does_not_count_and_may_come_back(book):
    first = book.correct("15:00", book.start, field="at", value="2026-05-14T06:02+02:00")
    withdrawal = book.correct("15:10", first, withdraw="yes")
    assert clock_min(book) == 460.0
    book.correct("15:20", withdrawal, withdraw="yes")
    assert clock_min(book) == 478.0


def test_of_two_corrections_by_one_person_the_later_counts(book):
    book.correct("15:00", book.start, field="at", value="2026-05-14T06:02+02:00")
    book.correct("15:10", book.start, field="at", value="2026-05-14T06:05+02:00")
    assert clock_min(book) == 475.0
    assert fold(book.entries).conflicts == ()


def test_the_later_correction_counts_whatever_its_id(book):
    book.correct("15:10", book.start, field="at", value="2026-05-14T06:05+02:00", entry_id="a")
    book.correct("15:00", book.start, field="at", value="2026-05-14T06:02+02:00", entry_id="b")
    assert clock_min(book) == 475.0
    assert [one.id for one in fold(book.entries).amendments[book.start.id].corrections] == ["b", "a"]


def test_corrections_from_two_devices_that_disagree_are_a_conflict_until_one_is_withdrawn(book):
    one = book.correct("15:00", book.start, field="at", value="2026-05-14T06:02+02:00")
    other = book.correct("15:10", book.start, field="at", value="2026-05-14T06:05+02:00", device="phone-2", author="MB")
    (conflict,) = fold(book.entries).conflicts
    assert (conflict.about, conflict.entry_ids) == ("corrections disagree", (book.start.id, one.id, other.id))
    book.correct("15:20", one, withdraw="yes")
    assert fold(book.entries).conflicts == ()
    assert clock_min(book) == 475.0


def test_a_correction_may_arrive_before_what_it_corrects(book):
    book.correct("15:00", book.start, field="at", value="2026-05-14T06:02+02:00")
    waiting = [entry for entry in book.entries if entry.id != book.start.id]
    day = fold(waiting)
    assert [remark.about for remark in day.remarks if "correct" in remark.about] == ["corrects an entry not in the log"]
    assert fold([*waiting, book.start]).runs["S-1"].clock_min == 478.0


def test_a_withdrawn_entry_does_not_count_and_is_shown(book):
    book.correct("15:00", book.start, withdraw="yes")
    day = fold(book.entries)
    assert day.runs["S-1"].segments == ()
    assert day.amendments[book.start.id].counts is None


def test_corrections_in_a_circle_are_named_and_none_counts(book):
    a = book.correct("15:00", "c-2", entry_id="c-1", withdraw="yes")
    b = book.correct("15:01", "c-1", entry_id="c-2", withdraw="yes")
    book.correct("15:02", "c-2", entry_id="c-3", withdraw="yes")
    (conflict,) = fold(book.entries).conflicts
    assert conflict.entry_ids == (a.id, b.id)
    assert clock_min(book) == 460.0


def test_a_long_chain_of_corrections_is_followed_to_its_end(book):
    target = book.start
    for n in range(3001):
        target = book.correct("15:00", target, withdraw="yes", entry_id=f"c{n:05}")
    assert fold(book.entries).runs["S-1"].segments == ()


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ({"field": "at", "value": "06:02"}, "value"),
        ({"field": "reading", "value": "0.1"}, "field"),
        ({"field": "counter_min", "withdraw": "yes"}, "withdraw"),
        ({}, "field"),
    ],
)
def test_a_correction_that_cannot_be_read_is_shown_and_changes_nothing(book, fields, named):
    wrong = book.correct("15:00", book.start, **fields)
    day = fold(book.entries)
    (unusable,) = day.unusable
    assert unusable.entry_id == wrong.id
    assert unusable.problems[0].startswith(named)
    assert day.runs["S-1"].clock_min == 460.0


def test_an_unusable_entry_counts_once_it_is_corrected(book):
    last = book.write("16:00", "sampler_removed", train="T1", port="a", sampler="S-1", why="end")
    assert [one.entry_id for one in fold(book.entries).unusable] == [last.id]
    book.correct("16:10", last, field="port", value="A")
    day = fold(book.entries)
    assert day.unusable == ()
    assert day.runs["S-1"].removed_at == utc("16:00")


def test_a_correction_to_nothing_takes_the_field_away(book):
    stop = book.entries[-1]
    book.correct("15:00", stop, field="counter_min", value="400")
    book.correct("15:05", stop, field="counter_min")
    assert "counter_min" not in fold(book.entries).amendments[stop.id].counts.fields


def test_copies_change_nothing_also_when_they_carry_other_receipts(book):
    late = [replace(entry, received_at=instant("20:00"), origin="export.jsonl") for entry in book.entries]
    early = [replace(entry, received_at=instant("19:00")) for entry in book.entries]
    assert fold([*late, *early]).runs == fold(book.entries).runs
    assert fold([*late, *early]) == fold([*early, *late])
    assert fold([*late, *early, *late]).entry_count == len(book.entries)


def test_one_id_with_two_contents_is_a_conflict_and_the_first_received_counts(book):
    known = replace(book.start, received_at=instant("06:21"))
    other = replace(book.start, at=instant("06:10"), received_at=instant("09:00"))
    rest = [entry for entry in book.entries if entry.id != book.start.id]
    for entries in ([known, other, *rest], [other, *rest, known]):
        day = fold(entries)
        assert abouts(day) == ["same id, other content"]
        assert day.rivals == (other,)
        assert day.runs["S-1"].clock_min == 460.0
        assert [conflict.about for conflict in day.runs["S-1"].conflicts] == ["same id, other content"]


def test_the_same_instant_written_with_another_offset_is_the_same_content(book):
    copy = replace(book.start, at=utc("06:20"))
    assert fold([*book.entries, copy]) == fold(book.entries)


def test_two_devices_under_one_name_are_remarked(book):
    again = replace(book.start, id="x1", kind="note", fields={"text": "hello"})
    (remark,) = [r for r in fold([*book.entries, again]).remarks if r.about == "sequence used twice"]
    assert remark.entry_ids == (book.start.id, "x1")

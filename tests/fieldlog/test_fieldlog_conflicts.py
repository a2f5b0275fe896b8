"""What cannot all be right is kept, shown and waits for people."""

from __future__ import annotations

import pytest
from field_book import Book

from lapel.fieldlog import fold


@pytest.fixture
def book():
    made = Book()
    made.prepare()
    made.fit("06:00", "S-1", "A")
    made.fit("06:00", "S-2", "B")
    return made


def by_two(book, clock, kind, later, **fields):
    """Write one act on two phones."""
    one = book.write(clock, kind, **fields)
    return one, book.write(later, kind, device="phone-2", author="MB", **fields)


def abouts(found):
    return [one.about for one in found]


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("pump_started", {"train": "T1"}),
        ("sampler_fitted", {"train": "T1", "port": "C", "sampler": "S-9"}),
        ("closing_round", {"train": "T9", "ports": "A B", "valve_touched": "no"}),
        ("valve_touched", {"train": "T1", "port": "C"}),
        ("train_hung", {"train": "T1", "worker": "W-7"}),
        ("leak_checked", {"train": "T1", "passed": "yes"}),
        ("blank_opened", {"blank": "B-1"}),
        ("parcel_sealed", {"parcel": "K-1", "samplers": "S-8 B-1"}),
        ("custody_handed", {"parcel": "K-1", "from": "RK", "to": "carrier"}),
        ("task", {"worker": "W-7", "task": "mixing"}),
        (
            "flow_read",
            {"train": "T1", "port": "A", "phase": "closing", "meter": "M", "reading": "0.1", "unit": "L/min"},
        ),
        ("train_prepared", {"train": "T9", "pump": "P-9"}),
    ],
)
def test_one_act_by_two_people_is_a_conflict_with_both_ids_until_one_is_withdrawn(book, kind, fields):
    one, other = by_two(book, "06:02", kind, "06:03", **fields)
    day = fold(book.entries)
    (conflict,) = [c for c in day.conflicts if c.about == "recorded twice"]
    assert conflict.entry_ids == (one.id, other.id)
    assert day.entry_count == len(book.entries)
    book.correct("15:00", other, reason="same act", withdraw="yes")
    assert fold(book.entries).conflicts == ()


def test_the_first_of_two_starts_counts_until_settled(book):
    _, other = by_two(book, "06:02", "pump_started", "06:04", train="T1")
    one_stop, other_stop = by_two(book, "14:02", "pump_stopped", "14:03", train="T1", why="shift end")
    day = fold(book.entries)
    assert day.runs["S-1"].clock_min == 480.0
    assert [c.entry_ids[1] for c in day.runs["S-1"].conflicts] == [other.id, other_stop.id]
    book.correct("15:00", one_stop, withdraw="yes")
    assert fold(book.entries).runs["S-1"].clock_min == 481.0


def test_equal_readings_on_two_phones_count_once_and_on_one_phone_are_repeats(book):
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    fields = {"train": "T1", "port": "A", "phase": "post", "meter": "M", "reading": "0.1", "unit": "L/min"}
    book.write("15:00", "flow_read", **fields)
    book.write("15:00:20", "flow_read", **fields)
    twin = book.write("15:00:25", "flow_read", device="phone-2", **fields)
    posted = book.write("15:01", "post_round", train="T1", valve_touched="no", recharged="no", same_tubes="yes")
    made = fold(book.entries).trains["T1"].post_rounds[0]
    assert made.entry_id == posted.id
    assert len(made.ports["A"].readings) == 2
    book.correct("15:10", twin, reason="each of us read once", distinct_from=book.entries[-3].id)
    assert len(fold(book.entries).trains["T1"].post_rounds[0].ports["A"].readings) == 3


def test_a_second_start_of_a_running_pump_is_a_conflict(book):
    book.write("06:02", "pump_started", train="T1")
    book.write("07:02", "pump_started", train="T1")
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    day = fold(book.entries)
    assert abouts(day.conflicts) == ["started while drawing"]
    assert day.runs["S-1"].clock_min == 480.0
    assert abouts(day.runs["S-2"].conflicts) == ["started while drawing"]


def test_a_second_stop_is_a_conflict(book):
    book.write("06:02", "pump_started", train="T1")
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    book.write("14:30", "pump_stopped", train="T1", why="shift end")
    day = fold(book.entries)
    assert abouts(day.conflicts) == ["stopped twice"]
    assert day.runs["S-1"].clock_min == 480.0


def test_a_sampler_on_two_ports_at_once_is_a_conflict_and_strays_do_not_add_up(book):
    book.fit("06:01", "S-1", "C")
    book.write("06:02", "pump_started", train="T1")
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    run = fold(book.entries).runs["S-1"]
    assert abouts(run.conflicts) == ["sampler on two ports"]
    assert (run.port, run.clock_min) == ("A", 480.0)
    assert [(s.port, s.minutes) for s in run.stray_segments] == [("C", 480.0)]


def test_a_sampler_on_two_trains_is_a_conflict(book):
    book.fit("06:01", "S-1", "A", train="T2")
    run = fold(book.entries).runs["S-1"]
    assert abouts(run.conflicts) == ["sampler on two ports"]
    assert run.train == "T1"


def test_a_sampler_moved_to_another_port_is_a_conflict(book):
    book.write("06:02", "pump_started", train="T1")
    book.write("09:00", "sampler_removed", train="T1", port="A", sampler="S-1", why="moved")
    book.fit("09:01", "S-1", "C")
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    run = fold(book.entries).runs["S-1"]
    assert abouts(run.conflicts) == ["sampler moved to another port"]
    assert run.clock_min == 178.0
    assert len(run.stray_segments) == 1


def test_another_sampler_on_a_port_that_draws_leaves_the_end_of_the_first_open(book):
    book.write("06:02", "pump_started", train="T1")
    book.fit("10:00", "S-3", "A")
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    day = fold(book.entries)
    first = day.runs["S-1"]
    assert abouts(first.conflicts) == ["two samplers on one port"]
    assert first.segments[0].stop is None
    assert first.segments[0].ended_by == "another sampler fitted"
    assert not first.is_complete
    assert day.runs["S-3"].clock_min == 242.0
    assert abouts(day.runs["S-3"].conflicts) == ["two samplers on one port"]


def test_samplers_swapped_at_the_end_are_seen_when_they_come_off(book):
    book.write("06:02", "pump_started", train="T1")
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    book.write("14:05", "sampler_removed", train="T1", port="A", sampler="S-2", why="end")
    book.write("14:05", "sampler_removed", train="T1", port="B", sampler="S-1", why="end")
    day = fold(book.entries)
    assert abouts(day.conflicts) == ["another sampler was on this port"] * 2
    assert {s for c in day.conflicts for s in c.samplers} == {"S-1", "S-2"}
    assert len(day.runs["S-1"].conflicts) == 2


def test_a_removal_of_a_sampler_never_fitted_says_so():
    book = Book()
    book.write("14:05", "sampler_removed", train="T1", port="A", sampler="S-1", why="end")
    run = fold(book.entries).runs["S-1"]
    assert run.missing == ("fitting",)
    assert not run.is_complete


def test_a_train_prepared_anew_while_drawing_leaves_its_end_open(book):
    book.write("06:02", "pump_started", train="T1")
    book.write("10:00", "train_prepared", train="T1", pump="P-2")
    day = fold(book.entries)
    assert abouts(day.runs["S-1"].conflicts) == ["prepared while drawing"]
    assert day.runs["S-1"].missing == ("stop",)


def test_a_train_that_changes_workers_while_drawing_is_a_conflict(book):
    book.write("05:55", "train_hung", train="T1", worker="W-1")
    book.write("06:02", "pump_started", train="T1")
    book.write("10:00", "train_hung", train="T1", worker="W-2")
    run = fold(book.entries).runs["S-1"]
    assert abouts(run.conflicts) == ["two workers"]
    assert run.workers == ("W-1", "W-2")


def test_a_blank_that_was_fitted_is_a_conflict(book):
    book.write("06:05", "blank_opened", blank="S-1")
    day = fold(book.entries)
    assert abouts(day.blanks["S-1"].conflicts) == ["blank and sample"]
    assert abouts(day.runs["S-1"].conflicts) == ["blank and sample"]


def test_two_answers_for_one_round_are_a_conflict(book):
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    book.post()
    book.write(
        "15:02", "post_round", train="T1", valve_touched="yes", recharged="no", same_tubes="yes", device="phone-2"
    )
    day = fold(book.entries)
    assert "two answers for one round" in abouts(day.conflicts)
    assert len(day.trains["T1"].post_rounds) == 1

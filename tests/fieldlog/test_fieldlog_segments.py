"""What a sample's segments are, and what ends one."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from field_book import Book, utc

from lapel.fieldlog import Entry, fold


@pytest.fixture
def book():
    made = Book()
    made.prepare()
    made.write("05:55", "train_hung", train="T1", worker="W-7")
    made.fit("06:00", "S-1", "A", medium="CT-100", lot="L9", expiry="2027-08-31", how="scanned")
    made.fit("06:00", "S-2", "B")
    return made


def start(book, clock="06:02", **more):
    return book.write(clock, "pump_started", train="T1", **more)


def stop(book, clock="14:02", why="shift end", **more):
    return book.write(clock, "pump_stopped", train="T1", why=why, **more)


def test_a_plain_day_is_one_segment_a_port_with_its_flows_before_and_after(book):
    start(book)
    stop(book)
    book.post()
    day = fold(book.entries)
    run = day.runs["S-1"]
    (segment,) = run.segments
    assert (segment.start, segment.stop, segment.minutes) == (utc("06:02"), utc("14:02"), 480.0)
    assert segment.ended_by == "shift end"
    assert [r.reading for r in segment.before.readings] == ["0.100"] * 3
    assert segment.before.declared
    assert [r.reading for r in segment.after.readings] == ["0.098"] * 3
    assert (segment.after.valve_touched, segment.after.recharged, segment.after.same_tubes) == (False, False, True)
    assert (run.train, run.port, run.pump, run.splitter, run.worker) == ("T1", "A", "P-1", "H-1", "W-7")
    assert (run.medium, run.lot, run.expiry, run.how) == ("CT-100", "L9", "2027-08-31", "scanned")
    assert run.is_complete
    assert run.clock_min == 480.0
    assert day.conflicts == ()
    assert day.remarks == ()


def test_a_run_with_no_stop_is_open_and_gets_none(book):
    start(book)
    run = fold(book.entries).runs["S-1"]
    assert run.is_drawing
    assert not run.is_complete
    assert run.segments[0].stop is None
    assert run.segments[0].minutes is None
    assert run.clock_min is None


def test_a_stop_without_a_start_is_a_conflict_and_makes_no_segment(book):
    stop(book)
    day = fold(book.entries)
    assert day.runs["S-1"].segments == ()
    assert day.runs["S-1"].missing == ("start",)
    assert [c.about for c in day.runs["S-1"].conflicts] == ["stopped without a start"]


def test_a_stop_before_its_start_leaves_the_run_open_and_says_so(book):
    stop(book, "05:58:30")
    start(book)
    day = fold(book.entries)
    assert day.runs["S-1"].is_drawing
    assert "stopped without a start" in [remark.about for remark in day.remarks]
    late = Book()
    late.prepare()
    late.fit("06:00", "S-1")
    stop(late, "06:30")
    start(late, "06:45")
    run = fold(late.entries).runs["S-1"]
    assert run.is_drawing
    assert run.missing == ("start",)


def test_a_hold_ends_the_segment_and_its_minutes_are_not_drawn(book):
    start(book)
    book.write("10:00", "pump_held", train="T1", why="break")
    book.write("10:30", "pump_resumed", train="T1")
    stop(book)
    book.post()
    run = fold(book.entries).runs["S-1"]
    assert [(s.minutes, s.ended_by) for s in run.segments] == [(238.0, "hold"), (212.0, "shift end")]
    assert run.held_min == 30.0
    assert run.clock_min == 450.0
    assert run.restarts == 0
    assert all(s.before is not None and s.after is not None for s in run.segments)


def test_a_hold_that_ends_with_a_stop_is_no_conflict(book):
    start(book)
    book.write("13:00", "pump_held", train="T1", why="worker left the area")
    stop(book)
    day = fold(book.entries)
    assert day.conflicts == ()
    assert day.runs["S-1"].clock_min == 418.0
    assert day.runs["S-1"].held_min == 62.0


def test_resuming_brings_back_only_the_ports_that_were_held(book):
    start(book)
    stop(book, "09:00", why="early", ports="B")
    book.write("10:00", "pump_held", train="T1", why="break")
    book.write("10:30", "pump_resumed", train="T1")
    stop(book)
    day = fold(book.entries)
    assert len(day.runs["S-1"].segments) == 2
    assert len(day.runs["S-2"].segments) == 1
    assert day.conflicts == ()


def test_one_port_held_leaves_the_other_drawing(book):
    start(book)
    book.write("10:00", "pump_held", train="T1", ports="A", why="tube wet")
    book.write("10:10", "pump_resumed", train="T1", ports="A")
    stop(book)
    day = fold(book.entries)
    assert [s.minutes for s in day.runs["S-1"].segments] == [238.0, 232.0]
    assert [s.minutes for s in day.runs["S-2"].segments] == [480.0]


def test_a_tube_change_on_one_port_leaves_the_others_running(book):
    start(book)
    book.write("10:00", "sampler_removed", train="T1", port="A", sampler="S-1", why="tube change")
    book.fit("10:02", "S-3", "A")
    stop(book)
    book.post()
    day = fold(book.entries)
    assert [s.minutes for s in day.runs["S-1"].segments] == [238.0]
    assert [s.minutes for s in day.runs["S-3"].segments] == [240.0]
    assert [s.minutes for s in day.runs["S-2"].segments] == [480.0]
    assert day.runs["S-1"].segments[0].ended_by == "sampler removed"
    assert day.runs["S-1"].segments[0].after.readings[0].reading == "0.098"
    assert day.runs["S-3"].segments[0].before.readings[0].reading == "0.100"
    assert day.conflicts == ()


def test_ports_may_start_singly(book):
    start(book, "06:02", ports="A")
    start(book, "06:05", ports="B")
    stop(book)
    day = fold(book.entries)
    assert [day.runs[s].clock_min for s in ("S-1", "S-2")] == [480.0, 477.0]
    assert day.conflicts == ()


def test_a_start_of_all_ports_draws_on_a_sampler_fitted_later():
    book = Book()
    book.prepare()
    start(book)
    book.fit("07:00", "S-1")
    stop(book)
    assert fold(book.entries).runs["S-1"].clock_min == 422.0


def test_a_fault_and_a_restart_are_two_segments(book):
    start(book)
    stop(book, "09:00", why="fault")
    start(book, "09:20")
    stop(book)
    book.post()
    run = fold(book.entries).runs["S-1"]
    assert [(s.minutes, s.ended_by) for s in run.segments] == [(178.0, "fault"), (282.0, "shift end")]
    assert (run.faults, run.restarts) == (1, 1)


def test_a_pump_that_stopped_by_itself_stopped_when_its_counter_says(book):
    start(book, counter_min="3")
    stop(book, "11:00", why="fault", stopped_itself="yes", counter_min="153")
    run = fold(book.entries).runs["S-1"]
    assert run.segments[0].stop == utc("08:32")
    assert run.segments[0].minutes == 150.0
    assert run.segments[0].stop_from_counter
    assert run.counter_min == 150.0
    assert run.faults == 1


def test_the_last_counter_seen_running_is_what_the_stop_is_counted_from(book):
    start(book, counter_min="0")
    book.write("08:02", "pump_checked", train="T1", running="yes", counter_min="118")
    stop(book, "11:00", why="fault", stopped_itself="yes", counter_min="148")
    assert fold(book.entries).runs["S-1"].segments[0].stop == utc("08:32")


def test_without_a_counter_reading_before_a_stop_by_itself_is_not_known(book):
    start(book)
    stop(book, "11:00", why="fault", stopped_itself="yes", counter_min="153")
    run = fold(book.entries).runs["S-1"]
    assert run.segments[0].stop is None
    assert run.segments[0].not_after == utc("11:00")
    assert not run.segments[0].stop_from_counter
    assert run.missing == ("stop",)
    assert not run.is_complete
    assert not run.is_drawing


def test_a_counter_that_went_back_gives_no_stop(book):
    start(book, counter_min="200")
    stop(book, "11:00", why="fault", stopped_itself="yes", counter_min="153")
    assert fold(book.entries).runs["S-1"].segments[0].stop is None


def test_a_counter_ahead_of_the_clock_gives_the_clock_and_a_remark(book):
    start(book, counter_min="0")
    stop(book, "11:00", why="fault", stopped_itself="yes", counter_min="400")
    day = fold(book.entries)
    assert day.runs["S-1"].segments[0].stop == utc("11:00")
    assert [r.about for r in day.runs["S-1"].remarks] == ["counter ahead of the clock"]


def test_a_check_that_finds_the_pump_stopped_ends_the_segment(book):
    start(book, counter_min="0")
    book.write("10:00", "pump_checked", train="T1", running="no", counter_min="60", remark="battery")
    start(book, "10:20", counter_min="60")
    stop(book)
    day = fold(book.entries)
    run = day.runs["S-1"]
    assert [(s.minutes, s.ended_by, s.stop_from_counter) for s in run.segments] == [
        (60.0, "fault", True),
        (222.0, "shift end", False),
    ]
    assert (run.faults, run.restarts) == (1, 1)
    assert [check.running for check in run.checks] == [False]
    assert day.conflicts == ()


def test_a_stop_recorded_after_the_pump_was_found_stopped_tells_when(book):
    start(book, counter_min="0")
    book.write("10:00", "pump_checked", train="T1", running="no")
    stop(book, "10:02", why="fault", stopped_itself="yes", counter_min="60")
    day = fold(book.entries)
    (segment,) = day.runs["S-1"].segments
    assert (segment.minutes, segment.stop_from_counter) == (60.0, True)
    assert day.runs["S-1"].missing == ()
    assert day.runs["S-1"].faults == 1
    assert day.conflicts == ()


def test_a_sampler_fitted_after_the_pump_died_drew_nothing(book):
    start(book, counter_min="0")
    book.write("10:00", "sampler_removed", train="T1", port="A", sampler="S-1", why="tube change")
    book.fit("10:02", "S-3", "A")
    stop(book, "11:00", why="fault", stopped_itself="yes", counter_min="60")
    day = fold(book.entries)
    assert day.runs["S-3"].clock_min == 0.0
    assert [r.about for r in day.runs["S-3"].remarks] == ["stopped before the segment"]


def test_counter_and_clock_of_the_same_time_can_be_compared(book):
    start(book, counter_min="2")
    book.write("10:00", "pump_held", train="T1", why="break", counter_min="240")
    book.write("10:30", "pump_resumed", train="T1")
    stop(book, counter_min="450")
    run = fold(book.entries).runs["S-1"]
    assert (run.clock_min, run.counter_min) == (450.0, 448.0)
    assert (run.pump_clock_min, run.pump_counter_min) == (450.0, 448.0)


def test_after_a_tube_change_only_the_pumps_whole_time_can_be_compared(book):
    start(book, counter_min="0")
    book.write("10:00", "sampler_removed", train="T1", port="A", sampler="S-1", why="tube change")
    book.fit("10:02", "S-3", "A")
    stop(book, counter_min="478")
    run = fold(book.entries).runs["S-3"]
    assert (run.clock_min, run.counter_min) == (240.0, None)
    assert (run.pump_clock_min, run.pump_counter_min) == (480.0, 478.0)


def test_a_touched_valve_splits_the_segment_and_takes_both_its_flows(book):
    start(book, counter_min="0")
    book.write("10:02", "valve_touched", train="T1", port="A", why="knocked")
    stop(book, counter_min="480")
    book.post()
    day = fold(book.entries)
    first, second = day.runs["S-1"].segments
    assert (first.minutes, second.minutes) == (240.0, 240.0)
    assert first.ended_by == "valve touched"
    assert first.before is not None
    assert first.after is None
    assert "the valve was touched" in first.after_lost
    assert second.before is None
    assert "no closing round since" in second.before_lost
    assert second.after is not None
    assert day.runs["S-1"].touched_in_run
    assert day.runs["S-1"].counter_min == 480.0
    (neighbour,) = day.runs["S-2"].segments
    assert neighbour.minutes == 480.0
    assert neighbour.neighbour_touches == 1


def test_a_removal_while_drawing_ends_the_segment(book):
    start(book)
    book.write("09:00", "sampler_removed", train="T1", port="A", sampler="S-1", why="broken")
    stop(book)
    assert fold(book.entries).runs["S-1"].clock_min == 178.0


def test_a_sampler_put_back_on_its_port_is_the_same_sample(book):
    start(book)
    book.write("09:00", "sampler_removed", train="T1", port="A", sampler="S-1", why="lunch")
    book.fit("09:30", "S-1", "A")
    stop(book)
    day = fold(book.entries)
    assert [s.minutes for s in day.runs["S-1"].segments] == [178.0, 272.0]
    assert day.conflicts == ()


def test_another_pump_in_the_train_is_another_segment_with_its_own_flows(book):
    start(book)
    stop(book, "09:00", why="fault")
    book.post("09:05")
    book.write("09:10", "train_prepared", train="T1", pump="P-2")
    book.read("09:20", "closing", flow="0.110")
    book.write("09:25", "closing_round", train="T1", ports="A B", valve_touched="no")
    start(book, "09:30")
    stop(book)
    book.post()
    day = fold(book.entries)
    first, second = day.runs["S-1"].segments
    assert (first.pump, second.pump) == ("P-1", "P-2")
    assert second.before.readings[0].reading == "0.110"
    assert day.preparation_of(second).pump == "P-2"
    assert day.runs["S-1"].pump == "P-1"
    assert day.conflicts == ()


def test_a_train_of_the_day_before_has_nothing_on_it_the_next_morning(book):
    start(book)
    stop(book)
    book.post()
    book.write("15 05:00", "train_prepared", train="T1", pump="P-1")
    book.write("15 06:00", "pump_started", train="T1")
    day = fold(book.entries)
    assert [s.minutes for s in day.runs["S-1"].segments] == [480.0]
    assert [r.about for r in day.runs["S-1"].remarks] == ["removal not recorded"]


def test_minutes_survive_a_change_of_the_clock_on_the_wall():
    """In 2026 Central European time goes from 02:00 to 03:00 on 29 March and from 03:00 to 02:00 on 25 October."""
    zone = ZoneInfo("Europe/Berlin")
    for day, minutes in ((datetime(2026, 3, 29, tzinfo=zone), 420.0), (datetime(2026, 10, 25, tzinfo=zone), 540.0)):
        began, ended = day.replace(hour=0), day.replace(hour=8)
        acts = [
            ("sampler_fitted", began, {"train": "T1", "port": "A", "sampler": "S-1"}),
            ("pump_started", began, {"train": "T1"}),
            ("pump_stopped", ended, {"train": "T1", "why": "shift end"}),
        ]
        entries = [Entry(kind, kind, at, "phone", n, "RK", fields) for n, (kind, at, fields) in enumerate(acts, 1)]
        assert fold(entries).runs["S-1"].clock_min == minutes


def test_an_act_on_a_train_nobody_prepared_is_taken_and_remarked():
    book = Book()
    book.fit("06:00", "S-1")
    start(book)
    stop(book)
    day = fold(book.entries)
    assert day.runs["S-1"].clock_min == 480.0
    assert day.runs["S-1"].pump == ""
    assert [r.about for r in day.remarks] == ["train not prepared"]


def test_paper_kept_to_the_minute_is_put_in_the_order_things_happen():
    """Entries without a sequence: fit and start in one minute, a tube change in another, all rows shuffled."""
    rows = [
        ("p9", "pump_stopped", "14:00", {"why": "shift end"}),
        ("p1", "pump_resumed", "10:00", {}),
        ("p2", "sampler_fitted", "10:00", {"port": "A", "sampler": "S-2"}),
        ("p3", "sampler_removed", "10:00", {"port": "A", "sampler": "S-1", "why": "tube change"}),
        ("p4", "pump_held", "10:00", {"why": "tube change"}),
        ("p5", "pump_started", "06:00", {}),
        ("p6", "sampler_fitted", "06:00", {"port": "A", "sampler": "S-1"}),
        ("p7", "train_prepared", "05:00", {"pump": "P-1"}),
    ]
    entries = [Entry(i, kind, utc(at), "sheet 1", 0, "RK", {"train": "T1", **more}) for i, kind, at, more in rows]
    day = fold(entries)
    assert [(s.minutes, s.ended_by) for s in day.runs["S-1"].segments] == [(240.0, "hold")]
    assert [s.minutes for s in day.runs["S-2"].segments] == [240.0]
    assert day.conflicts == ()
    assert day.remarks == ()


def test_two_sheets_of_one_minute_follow_the_order_of_the_kinds_too():
    """The stop is on the second sheet, the removal on the first, both at 14:00: the shift's end ended the segment."""
    rows = [
        ("a1", "sheet 1", "sampler_fitted", "06:00", {"port": "A", "sampler": "S-1"}),
        ("a2", "sheet 1", "sampler_removed", "14:00", {"port": "A", "sampler": "S-1", "why": "end"}),
        ("b1", "sheet 2", "pump_started", "06:00", {}),
        ("b2", "sheet 2", "pump_stopped", "14:00", {"why": "shift end"}),
    ]
    entries = [Entry(i, kind, utc(at), sheet, 0, "RK", {"train": "T1", **more}) for i, sheet, kind, at, more in rows]
    (segment,) = fold(entries).runs["S-1"].segments
    assert (segment.minutes, segment.ended_by) == (480.0, "shift end")


def test_a_resume_without_ports_brings_back_a_port_held_alone(book):
    start(book, ports="A B")
    book.write("10:00", "pump_held", train="T1", ports="A", why="tube wet")
    book.write("10:05", "pump_held", train="T1", ports="B", why="tube wet")
    book.write("10:10", "pump_resumed", train="T1")
    stop(book)
    day = fold(book.entries)
    assert [s.minutes for s in day.runs["S-1"].segments] == [238.0, 232.0]
    assert [s.minutes for s in day.runs["S-2"].segments] == [243.0, 232.0]
    assert day.conflicts == ()

"""Blanks, parcels, tasks and the clocks of the devices."""

from __future__ import annotations

import pytest
from field_book import Book, utc

from lapel.fieldlog import fold


def test_a_field_blank_is_open_from_its_opening_to_its_closing():
    book = Book()
    book.write("06:05", "blank_opened", blank="B-1", medium="CT", lot="L9", place="hall 3")
    book.write("06:06", "blank_closed", blank="B-1")
    book.write("06:07", "blank_opened", blank="B-2", use="media", lot="L9")
    blanks = fold(book.entries).blanks
    assert (blanks["B-1"].use, blanks["B-1"].open_min, blanks["B-1"].lot) == ("field", 1.0, "L9")
    assert (blanks["B-2"].use, blanks["B-2"].closed_at, blanks["B-2"].open_min) == ("media", None, None)


def test_a_blank_closed_before_it_was_opened_is_remarked():
    book = Book()
    book.write("06:05", "blank_closed", blank="B-1")
    book.write("06:06", "blank_opened", blank="B-1")
    day = fold(book.entries)
    assert day.blanks["B-1"].open_min is None
    assert [remark.about for remark in day.remarks] == ["closed before opened"]


def test_a_parcel_goes_from_hand_to_hand_without_a_gap():
    book = Book()
    book.write("16:00", "parcel_sealed", parcel="K-1", samplers="S-1, S-2; B-1", seal="0417")
    book.write("16:30", "custody_handed", parcel="K-1", from_="RK", to="carrier", seal_intact="yes")
    book.write("15 09:00", "custody_handed", parcel="K-1", from_="Carrier", to="laboratory", seal_intact="yes")
    parcel = fold(book.entries).parcels["K-1"]
    assert parcel.samplers == ("S-1", "S-2", "B-1")
    assert (parcel.sealed_by, parcel.seal, parcel.holder) == ("RK", "0417", "laboratory")
    assert parcel.gaps == ()
    assert parcel.seal_broken is False


def test_a_giver_who_never_got_the_parcel_is_a_gap_of_so_many_hours():
    book = Book()
    book.write("16:00", "parcel_sealed", parcel="K-1", samplers="S-1")
    book.write("16:30", "custody_handed", parcel="K-1", from_="RK", to="gate house")
    book.write("15 10:00", "custody_handed", parcel="K-1", from_="carrier", to="laboratory", seal_intact="no")
    parcel = fold(book.entries).parcels["K-1"]
    (gap,) = parcel.gaps
    assert (gap.last_holder, gap.next_giver, gap.hours) == ("gate house", "carrier", 17.5)
    assert parcel.seal_broken is True


def test_nobody_looked_at_the_seal_is_not_a_whole_seal():
    book = Book()
    book.write("16:30", "custody_handed", parcel="K-1", from_="RK", to="carrier")
    parcel = fold(book.entries).parcels["K-1"]
    assert parcel.seal_broken is None
    assert parcel.sealed_at is None


def test_a_sampler_in_two_parcels_is_a_conflict():
    book = Book()
    book.write("16:00", "parcel_sealed", parcel="K-1", samplers="S-1")
    book.write("16:10", "parcel_sealed", parcel="K-2", samplers="S-1 S-2")
    (conflict,) = fold(book.entries).conflicts
    assert (conflict.about, conflict.samplers) == ("in two parcels", ("S-1",))


def test_a_packed_sampler_is_no_longer_on_its_port():
    book = Book()
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("06:02", "pump_started", train="T1")
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    book.write("14:30", "parcel_sealed", parcel="K-1", samplers="S-1")
    book.write("15:00", "pump_started", train="T1")
    run = fold(book.entries).runs["S-1"]
    assert run.clock_min == 480.0
    assert run.parcel == "K-1"
    assert [remark.about for remark in run.remarks] == ["removal not recorded"]


def test_a_sampler_packed_while_it_draws_is_a_conflict():
    book = Book()
    book.fit("06:00", "S-1")
    book.write("06:02", "pump_started", train="T1")
    book.write("14:30", "parcel_sealed", parcel="K-1", samplers="S-1")
    assert [c.about for c in fold(book.entries).runs["S-1"].conflicts] == ["packed while drawing"]


def test_a_task_lasts_to_the_workers_next_one_unless_it_says_otherwise():
    book = Book()
    book.write("06:00", "task", worker="W-1", task="mixing")
    book.write("07:00", "task", worker="W-2", task="filling")
    book.write("09:00", "task", worker="W-1", task="cleaning", until="2026-05-14T09:30+02:00")
    tasks = fold(book.entries).tasks
    assert [(task.task, task.until) for task in tasks] == [
        ("mixing", utc("09:00")),
        ("filling", None),
        ("cleaning", utc("09:30")),
    ]


def test_notes_photos_and_conditions_are_kept_as_typed():
    book = Book()
    book.write("09:00", "note", about="T1", text="fan off")
    book.write("09:01", "photo", about="T1", file="1.jpg", sha256="0" * 64)
    book.write("09:02", "conditions", place="hall", temperature="21.5", temperature_unit="°C", humidity_percent="64")
    day = fold(book.entries)
    assert [(note.text, note.file) for note in day.notes] == [("fan off", ""), ("", "1.jpg")]
    assert (day.conditions[0].temperature, day.conditions[0].humidity_percent) == ("21.5", "64")


def test_a_clock_that_is_ahead_is_measured_shown_and_used_in_ordering():
    """Phone 2 is ten minutes ahead: it says 06:12 at 06:02. Its stop is moved back, phone 1's start is not."""
    book = Book()
    book.fit("06:00", "S-1", received="06:00:10")
    book.write("06:02", "pump_started", train="T1", received="06:02:10")
    book.write("14:12", "pump_stopped", train="T1", why="shift end", device="phone-2", received="14:02")
    day = fold(book.entries)
    clock = day.clocks["phone-2"]
    assert (clock.ahead_s, clock.behind_at_most_s, clock.shift_s) == (600.0, None, -600.0)
    assert (day.clocks["phone-1"].behind_at_most_s, day.clocks["phone-1"].shift_s) == (10.0, 0.0)
    assert day.runs["S-1"].clock_min == 480.0


def test_a_late_delivery_moves_nothing():
    book = Book()
    book.fit("06:00", "S-1", received="20:00")
    book.write("06:02", "pump_started", train="T1", received="20:00")
    book.write("14:02", "pump_stopped", train="T1", why="shift end", received="20:00")
    day = fold(book.entries)
    assert day.clocks["phone-1"].behind_at_most_s == 5.0 * 3600 + 58 * 60
    assert day.runs["S-1"].segments[0].start == utc("06:02")


@pytest.mark.parametrize(("ahead_s", "minutes"), [(60, 480.0), (61, 480.0 - 61 / 60)])
def test_a_clock_less_than_a_minute_ahead_is_taken_as_right(ahead_s, minutes):
    book = Book()
    book.fit("06:00", "S-1")
    book.write("06:02", "pump_started", train="T1")
    received = {60: "14:01:00", 61: "14:00:59"}[ahead_s]
    book.write("14:02", "pump_stopped", train="T1", why="shift end", device="phone-2", received=received)
    assert fold(book.entries).runs["S-1"].clock_min == pytest.approx(minutes, rel=1e-12)


def test_an_instant_a_person_corrected_is_not_moved_with_the_devices_clock():
    book = Book()
    book.fit("06:00", "S-1")
    book.write("06:02", "pump_started", train="T1")
    stop = book.write("14:12", "pump_stopped", train="T1", why="shift end", device="phone-2", received="14:02")
    book.correct("15:00", stop, field="at", value="2026-05-14T14:00+02:00")
    assert fold(book.entries).runs["S-1"].segments[0].stop == utc("14:00")

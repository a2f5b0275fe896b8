"""A log that grows: the day after every delivery is the day of all entries folded anew, and what stayed is the same."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from field_book import Book, instant
from hypothesis import given, settings
from hypothesis import strategies as st
from test_fieldlog_properties import logs

from lapel.exchange.survey_folder import read_survey
from lapel.fieldlog import Entry, RunningFold, fold

EXAMPLES = Path(__file__).parents[2] / "examples"


def same_day(found, wanted):
    """Whether two days are equal and tell everything in the same order."""
    return found == wanted and all(
        list(getattr(found, name)) == list(getattr(wanted, name))
        for name in ("trains", "runs", "blanks", "parcels", "clocks", "amendments")
    )


@settings(max_examples=150, deadline=None)
@given(logs(), st.randoms(use_true_random=False))
def test_after_every_delivery_the_day_is_that_of_all_entries(entries, chance):
    """In any order of arrival, corrections before what they correct, copies and contradictions included."""
    chance.shuffle(entries)
    running, taken = RunningFold(), 0
    while taken < len(entries):
        step = chance.randint(1, 4)
        found = running.take(entries[taken : taken + step])
        taken += step
        assert same_day(found, fold(entries[:taken]))
    assert same_day(running.take(entries), fold(entries))


@settings(max_examples=12, deadline=None)
@given(st.sampled_from(["small", "hard"]), st.randoms(use_true_random=False))
def test_the_examples_arriving_in_any_order_amount_to_what_they_amount_to(name, chance):
    entries = list(read_survey(EXAMPLES / name).entries)
    chance.shuffle(entries)
    running = RunningFold()
    cuts = sorted(chance.sample(range(len(entries)), 3))
    for start, stop in zip([0, *cuts], [*cuts, len(entries)], strict=True):
        found = running.take(entries[start:stop])
        assert same_day(found, fold(entries[:stop]))


def test_what_an_entry_does_not_touch_is_the_same_object_as_before():
    book = Book()
    for train, sampler in (("T1", "S-1"), ("T2", "S-2")):
        book.prepare(train=train, ports="A")
        book.write("06:00", "sampler_fitted", train=train, port="A", sampler=sampler)
        book.write("06:10", "pump_started", train=train)
    running = RunningFold()
    before = running.take(book.entries)
    after = running.take([book.write("07:00", "pump_stopped", train="T2", why="shift end")])
    assert after.runs["S-1"] is before.runs["S-1"]
    assert after.trains["T1"] is before.trains["T1"]
    assert after.runs["S-2"] != before.runs["S-2"]
    assert after.runs["S-2"].segments[0].minutes == 50.0


def test_a_clock_found_fast_later_moves_everything_its_device_recorded():
    early = Entry(
        "e1", "conditions", instant("06:00"), "phone", 1, "RK", {"temperature": "20", "temperature_unit": "C"}
    )
    late = Entry("e2", "note", instant("09:00"), "phone", 2, "RK", {"text": "x"}, received_at=instant("08:50"))
    running = RunningFold()
    assert running.take([early]).conditions[0].at == instant("06:00")
    moved = running.take([late])
    assert moved.conditions[0].at == instant("06:00") - timedelta(minutes=10)
    assert same_day(moved, fold([early, late]))

"""Whatever the log says of itself is a sentence that keeps its template: nothing of it is lost in another language."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from field_book import Book

from lapel.fieldlog import KINDS, UNITS, Day, Entry, entry_from_record, fold
from lapel.said import told

VECTORS = Path(__file__).parents[1] / "vectors" / "fieldlog"
NAME = re.compile(r"\{\w+\}")


def left_of(text: str) -> set[str]:
    """Words that stay when those of every template are taken out: values, as they were recorded."""
    return set(re.findall(r"[a-z_]{2,}", told(text, lambda template: " ".join(NAME.findall(template)))))


def recorded_in(entries: list[Entry]) -> set[str]:
    """Words of the entries, as they were typed, and the codes one may choose from."""
    typed = [text for one in entries for text in (one.id, one.author, one.device, one.kind, str(one.fields))]
    typed += [one.corrects or "" for one in entries]
    codes = [choice for kind in KINDS.values() for field in kind.fields.values() for choice in field.choices]
    units = [unit for measured in UNITS.values() for unit in measured]
    return set(re.findall(r"[a-z_]{2,}", " ".join([*typed, *KINDS, *codes, *units])))


def sentences_of(day: Day) -> Iterator[str]:
    yield from (one.words for one in (*day.conflicts, *day.remarks))
    yield from (words for one in day.unusable for words in one.problems)
    for run in day.runs.values():
        for segment in run.segments:
            yield from (segment.before_lost, segment.after_lost)


@pytest.mark.parametrize("path", sorted(VECTORS.glob("*.json")), ids=lambda path: path.stem)
def test_a_day_worked_out_by_hand_says_nothing_but_sentences(path: Path):
    entries = [entry_from_record(record) for record in json.loads(path.read_text(encoding="utf-8"))["entries"]]
    for text in sentences_of(fold(entries)):
        assert left_of(text) <= recorded_in(entries)


# Everything there is to settle or to know, one small log each


def train_not_prepared(book: Book) -> None:
    book.fit("06:00", "S-1")
    book.write("06:01", "pump_started", train="T1")
    book.read("06:02", "setting", ports="A", times=1)


def sampler_never_taken_off(book: Book) -> None:
    book.prepare()
    book.fit("06:00", "S-1")
    book.prepare(clock="06:00")
    book.write("16 05:00", "train_prepared", train="T1", pump="P-1")


def readings_after_the_round(book: Book) -> None:
    book.prepare()
    book.read("05:30", "closing")
    book.fit("06:00", "S-1")
    book.write("06:01", "pump_started", train="T1")


def counter_before_the_segment(book: Book) -> None:
    book.prepare()
    book.write("06:00", "pump_started", train="T1", counter_min="0")
    book.fit("08:00", "S-1")
    book.write("09:00", "pump_stopped", train="T1", why="fault", stopped_itself="yes", counter_min="60")


def counter_ahead(book: Book) -> None:
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("06:00", "pump_started", train="T1", counter_min="0")
    book.write("09:00", "pump_stopped", train="T1", why="fault", stopped_itself="yes", counter_min="500")


def started_twice(book: Book) -> None:
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("06:01", "pump_started", train="T1")
    book.write("06:30", "pump_started", train="T1")


def started_by_two(book: Book) -> None:
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("06:01", "pump_started", train="T1")
    book.write("06:02", "pump_started", train="T1", device="phone-2")


def resumed_while_drawing(book: Book) -> None:
    started_twice(book)
    book.write("06:40", "pump_resumed", train="T1")


def resumed_without_a_hold(book: Book) -> None:
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("06:40", "pump_resumed", train="T1")


def held_twice(book: Book) -> None:
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("06:01", "pump_started", train="T1")
    book.write("07:00", "pump_held", train="T1", why="break")
    book.write("07:10", "pump_held", train="T1", why="break")


def held_and_stopped_without_a_start(book: Book) -> None:
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("07:00", "pump_held", train="T1", why="break")
    book.write("07:10", "pump_stopped", train="T1", why="fault")
    book.prepare(train="T2")
    book.write("07:00", "pump_held", train="T2", why="break")
    book.write("07:10", "pump_stopped", train="T2", why="fault")


def stopped_twice(book: Book) -> None:
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("06:01", "pump_started", train="T1")
    book.write("07:00", "pump_stopped", train="T1", why="early")
    book.write("07:10", "pump_stopped", train="T1", why="early")


def seen_running(book: Book) -> None:
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("07:00", "pump_checked", train="T1", running="yes")


def rounds_without_readings(book: Book) -> None:
    book.prepare(ports="A")
    book.write("05:40", "closing_round", train="T1", ports="A B", valve_touched="no")
    book.fit("06:00", "S-1")
    book.write("06:01", "pump_started", train="T1")
    book.read("06:10", "post", ports="A", times=1)
    book.write("07:00", "pump_stopped", train="T1", why="early")
    book.fit("07:00", "S-2", port="B")
    book.write("07:00", "pump_started", train="T1")
    book.write("07:00", "pump_stopped", train="T1", why="early")
    book.write("07:01", "post_round", train="T1", valve_touched="no", recharged="no", same_tubes="yes")
    book.write("07:02", "post_round", train="T2", valve_touched="no", recharged="no", same_tubes="yes")


def rounds_declared_twice(book: Book) -> None:
    book.prepare()
    book.write("05:21", "closing_round", train="T1", ports="A B", valve_touched="no")
    book.write("05:22", "closing_round", train="T1", ports="A B", valve_touched="yes")
    book.post()
    book.write("15:01", "post_round", train="T1", valve_touched="yes", recharged="no", same_tubes="yes")


def valves_touched(book: Book) -> None:
    book.prepare()
    book.write("05:30", "valve_touched", train="T1", port="A")
    book.read("05:31", "setting", ports="B", times=1)
    book.read("05:32", "closing", ports="B")
    book.write("05:33", "closing_round", train="T1", ports="B", valve_touched="yes")
    book.fit("06:00", "S-1")
    book.fit("06:00", "S-2", port="B")
    book.write("06:01", "pump_started", train="T1")
    book.write("06:31", "valve_touched", train="T1", port="A")
    book.write("07:00", "pump_stopped", train="T1", why="early")
    book.prepare(clock="08:00")


def two_workers(book: Book) -> None:
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("06:00", "train_hung", train="T1", worker="W-1")
    book.write("06:01", "pump_started", train="T1")
    book.write("06:30", "train_hung", train="T1", worker="W-2")
    book.write("07:00", "train_prepared", train="T1", pump="P-1")


def samplers_that_cannot_be(book: Book) -> None:
    book.prepare()
    book.prepare(train="T2")
    book.fit("06:00", "S-1")
    book.fit("06:01", "S-1")
    book.write("06:02", "pump_started", train="T1")
    book.fit("06:10", "S-2")
    book.fit("06:20", "S-2", train="T2")
    book.write("06:30", "sampler_removed", train="T1", port="A", sampler="S-9", why="early")
    book.write("06:31", "sampler_removed", train="T2", port="A", sampler="S-2", why="early")
    book.write("06:32", "sampler_removed", train="T2", port="A", sampler="S-2", why="early")
    book.write("06:33", "sampler_removed", train="T2", port="B", sampler="S-1", why="early")


def blanks_and_parcels(book: Book) -> None:
    book.prepare()
    book.fit("06:00", "S-1")
    book.fit("06:00", "S-2", port="B")
    book.write("06:01", "pump_started", train="T1")
    book.write("06:30", "blank_closed", blank="S-2")
    book.write("06:31", "blank_opened", blank="S-2")
    book.write("06:32", "blank_opened", blank="S-2")
    book.write("07:00", "custody_handed", parcel="K-1", from_="IT", to="MB")
    book.write("07:10", "parcel_sealed", parcel="K-1", samplers="S-1", seal="1")
    book.write("07:11", "parcel_sealed", parcel="K-2", samplers="S-1", seal="2")


def kit_sheet(book: Book) -> None:
    book.write("05:00", "train_prepared", train="T1", pump="P-1")
    book.write("05:01", "kit_sheet", train="T1", port="A", pump="P-9", medium="charcoal", lot="L-1", how="typed")
    book.write("05:02", "port_prepared", train="T1", port="A", tube="X", medium="gel", lot="L-2")
    book.fit("06:00", "S-1", medium="gel", lot="L-2")


def corrections(book: Book) -> None:
    reading = book.read("05:00", "closing", times=1)[0]
    one = book.correct("05:10", reading, field="reading", value="0.2")
    book.correct("05:11", reading, device="phone-2", field="reading", value="0.3")
    book.correct("05:12", one, field="tea", value="0.3")
    book.correct("05:13", reading, field="at", value="noon")
    book.write("05:14", "correction", entry_id="c1", corrects="c2", reason="slip", withdraw="yes")
    book.write("05:15", "correction", entry_id="c2", corrects="c1", reason="slip", withdraw="yes")
    book.write("05:16", "correction", corrects="gone", reason="slip", withdraw="yes")
    book.entries.append(replace(reading, author="MB", fields={**reading.fields, "reading": "0.7"}))
    book.entries.append(replace(reading, id="e777"))


def unreadable(book: Book) -> None:
    write = book.write
    write("05:00", "tea")
    write(
        "05:00", "flow_read", train="T1", port="a", phase="x", meter="\x07", reading="0,1", temperature="20", mood="x"
    )
    write("05:00", "flow_read", train="T1", port="A", phase="post", meter="M", seconds="0", volume="1e99", unit="cups")
    write("05:00", "closing_round", train="T1", ports="a", valve_touched="perhaps")
    write("05:00", "pump_stopped", train="T1", counter_min="-1")
    write("05:00", "sampler_fitted", train="T1", port="A", sampler="S", expiry="May")
    write("05:00", "parcel_sealed", parcel="K", samplers="\x07")
    write("05:00", "photo", file="x", sha256="x", until="noon")
    write("05:00", "task", worker="W", task="x", until="noon")
    write("05:00", "conditions", place="x", humidity_percent="120", temperature="warm", temperature_unit="K")
    write("05:00", "conditions", place="x", pressure_unit="kPa")
    for drawn in ("x", "drawn " + "1,1;" * 1001, "drawn 900,1 1,1", "drawn 1,1 2,2"):
        write("05:00", "custody_handed", parcel="K", from_="a", to="b", from_signature=drawn)
    write("05:00", "correction", value="1")
    noted = write("05:00", "note", text="x")
    for fields in (
        {"value": "1"}, {"withdraw": "no"}, {"field": "from_signature"}, {"distinct_from": noted.id},
        {"field": "text", "withdraw": "yes"},
    ):  # fmt: skip
        write("05:00", "correction", corrects=noted, **fields)
    write("05:00", "note", corrects="e1", text="x")
    book.entries.append(Entry("", "note", book.entries[0].at.replace(tzinfo=None), "", -1, "", {"text": "x"}))
    book.entries.append(replace(book.entries[0], id="e999", kind="task", fields={"worker": 7, "task": "x"}))


LOGS = (
    train_not_prepared, sampler_never_taken_off, readings_after_the_round, counter_before_the_segment, counter_ahead,
    started_twice, started_by_two, resumed_while_drawing, resumed_without_a_hold, held_twice,
    held_and_stopped_without_a_start, stopped_twice, seen_running, rounds_without_readings, rounds_declared_twice,
    valves_touched, two_workers, samplers_that_cannot_be, blanks_and_parcels, kit_sheet, corrections, unreadable,
)  # fmt: skip


@pytest.mark.parametrize("log", LOGS)
def test_what_people_settle_is_a_sentence_with_what_was_recorded(log: Callable[[Book], None]):
    book = Book()
    log(book)
    found = [text for text in sentences_of(fold(book.entries)) if text]
    assert found
    for text in found:
        assert left_of(text) <= recorded_in(book.entries)

"""Every fault of an entry is named, and nothing typed is lost."""

from __future__ import annotations

from datetime import datetime

import pytest
from field_book import Book, instant
from hypothesis import given
from hypothesis import strategies as st

from lapel.fieldlog import KINDS, UNITS, Entry, check_entry, fold
from lapel.fieldlog.checks import is_usable
from lapel.figures import canonical

READING = {"train": "T1", "port": "A", "phase": "closing", "meter": "M-1", "reading": "0.1", "unit": "L/min"}


def entry(kind="flow_read", fields=READING, **more):
    given_ = {"id": "e1", "at": instant("06:00"), "device": "phone", "sequence": 1, "author": "RK"} | more
    return Entry(kind=kind, fields=fields, **given_)


def named(*args, **more):
    return [problem.field for problem in check_entry(entry(*args, **more))]


def test_a_right_entry_has_no_problem():
    assert check_entry(entry()) == []


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"reading": "0,1"}, "reading"),
        ({"reading": "1,000.5"}, "reading"),
        ({"reading": "about 0.1"}, "reading"),
        ({"reading": "nan"}, "reading"),
        ({"reading": "inf"}, "reading"),
        ({"reading": "1e999"}, "reading"),
        ({"reading": "-0.1"}, "reading"),
        ({"reading": "٠"}, "reading"),
        ({"port": "a"}, "port"),
        ({"port": "AB"}, "port"),
        ({"phase": "before"}, "phase"),
        ({"unit": "ml/h"}, "unit"),
        ({"unit": ""}, "unit"),
        ({"train": "  "}, "train"),
        ({"temperature": "21"}, "temperature_unit"),
        ({"temperature_unit": "°C"}, "temperature"),
        ({"humidity_percent": "101"}, "humidity_percent"),
        ({"pressure": "0", "pressure_unit": "kPa"}, "pressure"),
        ({"operator": "RK"}, "operator"),
        ({"reading": "", "unit": ""}, "reading"),
        ({"reading": "", "unit": "", "volume": "0.5", "volume_unit": "L"}, "reading"),
        ({"reading": 0.1}, "reading"),
    ],
)
def test_a_fault_is_named_by_its_field(change, field):
    assert field in named(fields=READING | change)


def test_all_faults_come_at_once():
    assert set(named(fields=READING | {"port": "9", "reading": "x", "meter": ""})) == {"port", "reading", "meter"}


def test_a_timed_volume_is_a_reading_too():
    timed = {name: READING[name] for name in ("train", "port", "phase", "meter")}
    assert named(fields=timed | {"volume": "0.5", "volume_unit": "L", "seconds": "300"}) == []


@pytest.mark.parametrize(
    ("kind", "fields", "field"),
    [
        ("closing_round", {"train": "T1", "ports": "A;B, C", "valve_touched": "no"}, None),
        ("closing_round", {"train": "T1", "ports": "ABC", "valve_touched": "no"}, "ports"),
        ("closing_round", {"train": "T1", "ports": "A", "valve_touched": "No"}, "valve_touched"),
        ("sampler_fitted", {"train": "T1", "port": "A", "sampler": "S", "expiry": "31.08.2027"}, "expiry"),
        ("sampler_fitted", {"train": "T1", "port": "A", "sampler": "S", "expiry": "20270831"}, "expiry"),
        ("train_prepared", {"train": "T1", "pump": "P", "charged_at": "2026-05-13 20:00"}, "charged_at"),
        ("photo", {"file": "1.jpg", "sha256": "abc"}, "sha256"),
        ("parcel_sealed", {"parcel": "K", "samplers": " ,; "}, "samplers"),
        *(
            ("custody_handed", {"parcel": "K", "from": "a", "to": "b", "to_signature": text}, field)
            for text, field in (
                ("paper", None),
                ("account lead", None),
                ("drawn 0,0 60,0;5,5", None),
                ("drawn 0,0 600,200", None),
                ("drawn 0,0 59,40", "to_signature"),  # too little line to be a hand
                ("drawn 0,0 601,0", "to_signature"),
                ("drawn 0,0 90,201", "to_signature"),
                ("drawn 0,0 90,20 ", None),
                ("drawn 0,0  90,20", "to_signature"),
                ("drawn <script>", "to_signature"),
                ("drawn" + " 0,0 99,0" * 500, "to_signature"),
                ("account two names", "to_signature"),
                ("yes", "to_signature"),
            )
        ),
        ("lunch", {}, "kind"),
    ],
)
def test_each_type_of_field_is_held_against_its_own_rule(kind, fields, field):
    assert named(kind, fields) == ([] if field is None else [field])


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"id": ""}, "id"),
        ({"device": ""}, "device"),
        ({"author": ""}, "author"),
        ({"sequence": -1}, "sequence"),
        ({"at": datetime(2026, 5, 14)}, "at"),  # noqa: DTZ001 - the fault under test
        ({"corrects": "e0"}, "corrects"),
    ],
)
def test_the_frame_of_an_entry_is_checked_too(change, field):
    assert named(**change) == [field]


def test_a_correction_names_what_it_corrects_and_why():
    assert named("correction", {"withdraw": "yes"}) == ["corrects", "reason"]
    assert named("correction", {"withdraw": "yes"}, corrects="e1", reason="x") == ["corrects"]
    assert named("correction", {"withdraw": "no"}, corrects="e0", reason="x") == ["withdraw"]
    assert named("correction", {"value": "1"}, corrects="e0", reason="x") == ["field", "field"]


def test_nobody_corrects_a_signature():
    fields = {"field": "to_signature", "value": "account lead"}
    assert named("correction", fields, corrects="e0", reason="she signed, I saw it") == ["field"]
    assert named("correction", fields | {"field": "to"}, corrects="e0", reason="misheard") == []


def test_an_instant_without_offset_is_shown_and_never_taken_as_local():
    book = Book()
    book.fit("06:00", "S-1")
    bare = Entry("x", "pump_started", datetime(2026, 5, 14, 6), "phone", 9, "RK", {"train": "T1"})  # noqa: DTZ001
    day = fold([*book.entries, bare])
    assert [one.entry_id for one in day.unusable] == ["x"]
    assert day.runs["S-1"].segments == ()


def test_every_unit_the_log_accepts_can_be_converted():
    for kind, units in UNITS.items():
        for unit in units:
            assert canonical("1", unit, kind) == canonical("1", unit.upper() if unit != "m3" else unit, kind)


def test_every_field_of_every_kind_is_told_and_every_number_with_a_unit_has_its_unit_field():
    for spec in KINDS.values():
        assert spec.words
        for field in spec.fields.values():
            assert field.words
            assert not field.unit_in or spec.fields[field.unit_in].type == "unit"
            assert (field.type == "unit") == (field.unit_kind is not None)
            assert (field.type == "choice") == bool(field.choices)


VALUES = st.sampled_from(
    ["", " ", "A", "a", "A B", "yes", "no", "0", "-1", "1e3", "0,5", "closing", "L/min", "°C", "2027-08-31", "0" * 64,
     "2026-05-14T06:00+02:00", "field", "scanned", "shift end", "actual"]
)  # fmt: skip
NAMES = st.sampled_from(sorted({name for spec in KINDS.values() for name in spec.fields} | {"operator"}))


@given(st.sampled_from(sorted(KINDS)), st.dictionaries(NAMES, VALUES, max_size=6), st.sampled_from([None, "e0"]))
def test_the_quick_check_agrees_with_the_full_one(kind, extra, corrects):
    filled = {name: _fitting(field) for name, field in KINDS[kind].fields.items() if field.needed}
    for fields in (extra, filled, filled | extra):
        one = entry(kind, fields, corrects=corrects, reason="x")
        assert is_usable(one) == (check_entry(one) == [])


def _fitting(field):
    fitting = {"port": "A", "ports": "A B", "yes/no": "no", "number": "1", "unit": "L/min", "sha256": "0" * 64}
    return field.choices[0] if field.choices else fitting.get(field.type, "x")

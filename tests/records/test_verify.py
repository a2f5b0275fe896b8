"""Whatever is done to the log behind the database's back is named, by the entry it was done to."""

import shutil
import sqlite3

import pytest
from django.db import connection, connections
from log_entries import LATER, a_survey, note, notes

from lapel.records.append import append
from lapel.records.append_only import GUARDED
from lapel.records.models import LogEntry
from lapel.records.verify import verify_log

KEYS = {table: keys[0][0] for table, keys in GUARDED.items()}


def fill():
    """Two phones and a paper sheet, in four deliveries, one with a refused entry."""
    survey = a_survey()
    phone = notes(9)
    append(phone[:4], survey=survey, received_at=LATER)
    append([*notes(3, device="phone-2"), note(4, "x", kind="no such kind")], survey=survey, received_at=LATER)
    append([note(0, "typed in", device="paper", id="sheet 1 line 1")], survey=survey, received_at=LATER)
    append(phone[4:], survey=survey, received_at=LATER)
    return phone


def without_guards(*statements):
    """Do as somebody who owns the database and takes the triggers away for a moment."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA foreign_keys = OFF")
            triggers = cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
            for name, _ in triggers:
                cursor.execute(f"DROP TRIGGER {name}")
            for statement in statements:
                cursor.execute(statement)
            for _, sql in triggers:
                cursor.execute(sql)
            return
        for table in GUARDED:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER ALL")
        for statement in statements:
            cursor.execute(statement)
        for table in GUARDED:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER ALL")
            cursor.execute(f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {table}_no_change")


def test_a_log_nobody_touched_is_proven(fresh_database):
    fill()
    proof = verify_log()
    assert proof.breaks == proof.open_ends == ()
    assert (proof.entries, proof.devices, proof.deliveries) == (13, 2, 4)
    assert len(proof.last_hash) == 64


def test_an_empty_log_is_proven(fresh_database):
    proof = verify_log()
    assert (proof.breaks, proof.open_ends, proof.entries, proof.last_hash) == ((), (), 0, "")


@pytest.mark.parametrize(
    "change",
    [
        "author = 'somebody else'",
        "received_at = '2026-03-08 10:00:00+00'",
        "at = '2026-03-08 10:00:00+00'",
        "at_text = '2026-03-08T10:00:00.000+00:00'",
        'fields = \'{"text": "other"}\'',
        "reason = 'late'",
        "origin = 'elsewhere'",
        "hash = '" + "0" * 64 + "'",
        "previous_hash = '" + "0" * 64 + "'",
        "sequence = 77",
        "kind = 'photo'",
        "corrects = 'x'",
    ],
)
def test_every_changed_column_is_named_by_its_entry(fresh_database, change):
    phone = fill()
    without_guards(f"UPDATE records_logentry SET {change} WHERE entry_id = '{phone[2].id}'")
    assert phone[2].id in verify_log().breaks[0].where


def test_a_changed_paper_entry_is_named_although_it_is_in_no_chain(fresh_database):
    fill()
    without_guards("UPDATE records_logentry SET author = 'x' WHERE device = 'paper'")
    assert "sheet 1 line 1" in verify_log().breaks[0].where


def test_an_entry_moved_to_another_survey_is_named(fresh_database):
    phone, other = fill(), a_survey("V-2")
    without_guards(f"UPDATE records_logentry SET survey_id = {other.pk} WHERE entry_id = '{phone[0].id}'")
    assert phone[0].id in verify_log().breaks[0].where


def test_a_removed_entry_is_missed(fresh_database):
    phone = fill()
    without_guards(f"DELETE FROM records_logentry WHERE entry_id = '{phone[1].id}'")
    proof = verify_log()
    assert proof.breaks[0].where.startswith("delivery ")
    assert "missing" in proof.breaks[0].wanted
    assert phone[2].id in proof.open_ends[0].where


def test_a_removed_delivery_is_missed_with_its_entries(fresh_database):
    fill()
    without_guards(
        "DELETE FROM records_logentry WHERE device = 'paper'",
        "DELETE FROM records_delivery WHERE id = (SELECT MIN(id) + 2 FROM records_delivery)",
    )
    assert "one is missing" in verify_log().breaks[0].wanted


def test_an_entry_slipped_in_past_the_door_is_named(fresh_database):
    phone = fill()
    row = LogEntry.objects.get(entry_id=phone[0].id)
    row.pk, row.entry_id = None, "slipped in"
    row.save(force_insert=True)
    assert "slipped in" in verify_log().breaks[0].where


def test_a_changed_refused_entry_is_named(fresh_database):
    fill()
    without_guards("UPDATE records_refusedentry SET content = '{}'")
    assert verify_log().breaks[0].where.startswith("refused entry ")


def test_a_changed_delivery_is_named(fresh_database):
    fill()
    without_guards("UPDATE records_delivery SET sent_at = '2026-01-01 00:00:00+00' WHERE id = 2")
    assert verify_log().breaks[0].where == "delivery 2"


def test_a_forged_hash_with_content_to_match_breaks_the_chain_after_it(fresh_database):
    """Somebody who recomputes the entry's own hash still meets the delivery."""
    phone = fill()
    without_guards(f"UPDATE records_logentry SET hash = '{'1' * 64}' WHERE entry_id = '{phone[3].id}'")
    proof = verify_log()
    assert phone[3].id in proof.breaks[0].where


def test_a_missing_guard_is_named(fresh_sqlite):
    with connection.cursor() as cursor:
        cursor.execute("DROP TRIGGER records_logentry_no_delete")
    assert [broken.where for broken in verify_log().breaks] == ["trigger records_logentry_no_delete"]


def test_rows_taken_off_the_end_are_missed_on_sqlite(fresh_sqlite):
    fill()
    without_guards("DELETE FROM records_logentry WHERE receipt > 8", "DELETE FROM records_delivery WHERE id = 4")
    assert {broken.where for broken in verify_log().breaks} == {"records_logentry", "records_delivery"}


def test_entries_still_on_the_phone_are_an_open_end_and_no_break(fresh_database):
    survey, sent = a_survey(), notes(9)
    append([*sent[:2], *sent[5:]], survey=survey)
    proof = verify_log()
    assert proof.breaks == ()
    assert [end.wanted for end in proof.open_ends] == ["entry 3 to 5: still on the device, or lost"]


def test_one_byte_changed_in_the_file_is_named(fresh_sqlite, tmp_path):
    """In the file itself, while no server runs: each byte of a row's header, every fourth of its content, in turn."""
    phone = fill()
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connections["default"].close()
    whole = fresh_sqlite.read_bytes()
    kept = tmp_path / "kept.sqlite3"
    shutil.copy(fresh_sqlite, kept)
    needle = phone[2].id.encode()
    start = next(
        place for place in _places(whole, needle) if whole[place + len(needle) : place + len(needle) + 4] == b"note"
    )
    end = whole.index(phone[2].hash.encode(), start) + 64
    assert 250 < end - start < 600
    for place in [*range(start - 20, start), *range(start, end, 4)]:
        _flip(fresh_sqlite, whole, place)
        proof = verify_log()
        connections["default"].close()
        if place < start:  # the row's header: its number, and how long each column is
            assert proof.breaks, place - start
            continue
        named = [broken for broken in proof.breaks if phone[2].id in broken.where or "receipt 3" in broken.where]
        if place - start >= len(needle):
            assert named, (place - start, proof.breaks)
        else:  # the id itself: by the id as it reads now
            assert any(broken.where.endswith("(device phone-1, 3)") for broken in proof.breaks), proof.breaks
    shutil.copy(kept, fresh_sqlite)
    assert verify_log().breaks == ()


def _places(whole, needle):
    place = whole.find(needle)
    while place >= 0:
        yield place
        place = whole.find(needle, place + 1)


def _flip(path, whole, place):
    path.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
    with sqlite3.connect(path) as raw:
        assert raw.execute("SELECT 1").fetchone() == (1,)
    raw.close()

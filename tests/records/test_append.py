"""The only door into the log: once and the same, all or nothing, and nothing sent is lost."""

import json
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, close_old_connections, connection, connections, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from log_entries import LATER, a_survey, note, notes

from lapel.fieldlog import EntryProblem, chained, entry_record, fold, is_uuid7
from lapel.records import append as door
from lapel.records.append import EntryRefused, Unreadable, append, append_act, append_correction
from lapel.records.devices import device_with_key, pair_device, revoke_device
from lapel.records.entry_frame import new_entry_id
from lapel.records.log_reading import entries_of, entry_of
from lapel.records.models import Delivery, LogEntry, RefusedEntry


def ids(entries):
    return [entry.id for entry in entries]


def test_every_entry_gets_a_receipt_and_comes_back_as_it_was(fresh_database):
    survey, sent = a_survey(), notes(5)
    receipts = append(sent, survey=survey, received_at=LATER)
    assert list(receipts.confirmed) == ids(sent)
    assert receipts.added == ids(sent)
    assert receipts.refused == {}
    assert receipts.chain == []
    assert list(entries_of(survey)) == [replace(entry, received_at=LATER) for entry in sent]


def test_what_is_sent_again_gets_the_same_receipts_and_changes_nothing(fresh_database):
    survey, sent = a_survey(), notes(5)
    first = append(sent, survey=survey, received_at=LATER)
    again = append(reversed(sent), survey=survey, received_at=LATER + timedelta(hours=1))
    assert again.confirmed == first.confirmed
    assert again.added == []
    assert LogEntry.objects.count() == 5
    assert Delivery.objects.count() == 1


def test_an_entry_twice_in_one_delivery_is_one_entry(fresh_database):
    sent = notes(2)
    receipts = append([*sent, *sent], survey=a_survey())
    assert receipts.added == ids(sent)
    assert LogEntry.objects.count() == 2


def test_the_same_id_with_another_content_is_kept_apart_and_both_are_shown(fresh_database):
    survey, (first,) = a_survey(), notes(1)
    (other,) = chained([replace(first, fields={"text": "something else"})])
    append([first], survey=survey)
    for _ in range(2):
        receipts = append([other], survey=survey)
        refusal = receipts.refused[first.id]
        assert receipts.confirmed == {}
        assert refusal.is_conflict
        assert refusal.kept_receipt == LogEntry.objects.get().receipt
    kept = RefusedEntry.objects.get()
    assert json.loads(kept.content) == entry_record(other)
    assert entry_of(kept.kept).fields == first.fields


def test_two_contents_of_one_id_in_one_delivery_are_a_conflict(fresh_database):
    (first,) = notes(1)
    receipts = append([first, replace(first, author="somebody else", hash="")], survey=a_survey())
    assert list(receipts.confirmed) == [first.id]
    assert receipts.refused[first.id].is_conflict


def test_one_id_in_two_surveys_is_two_entries(fresh_database):
    """Paper sheets are numbered anew in every survey."""
    one, other = a_survey("V-1"), a_survey("V-2")
    paper = note(0, device="paper", id="sheet 4 line 7")
    append([paper], survey=one)
    append([replace(paper, fields={"text": "another sheet"})], survey=other)
    assert [entry.fields["text"] for entry in entries_of(other)] == ["another sheet"]
    assert not RefusedEntry.objects.exists()


def test_an_entry_that_cannot_be_read_is_kept_as_sent_and_the_others_are_taken(fresh_database):
    survey, sent = a_survey(), notes(3)
    bad = replace(sent[1], kind="flow_read", fields={"reading": "0,104", "flow": "x"}, hash="")
    receipts = append([sent[0], bad, sent[2]], survey=survey)
    assert list(receipts.confirmed) == [sent[0].id, sent[2].id]
    fields = {problem.field for problem in receipts.refused[bad.id].problems}
    assert {"reading", "flow", "train", "port"} <= fields
    kept = RefusedEntry.objects.get()
    assert json.loads(kept.content)["fields"] == bad.fields
    assert not receipts.refused[bad.id].is_conflict


def test_a_refused_entry_explains_the_gap_it_leaves(fresh_database):
    good = note(1), note(2, "x", kind="of a newer phone"), note(3)
    receipts = append(chained(good), survey=a_survey())
    assert list(receipts.refused) == [good[1].id]
    assert receipts.chain == []


def test_what_no_database_can_hold_is_refused_and_still_kept(fresh_database):
    survey = a_survey()
    for text in ("null \0 character", "half a pair \ud83d"):
        (entry,) = chained([note(1, text)])
        receipts = append([entry], survey=survey)
        assert "no text can hold" in receipts.refused[entry.id].problems[0].found
        assert json.loads(RefusedEntry.objects.get(entry_id=entry.id).content)["fields"]["text"] == text


def test_json_that_is_no_entry_is_kept_as_sent(fresh_database):
    record = {"id": "\0", "fields": [1, None, "\ud800"]}
    problems = (EntryProblem("fields", "[1, None, '\ud800']", "an object of texts"),)
    receipts = append([Unreadable(record, problems)], survey=a_survey())
    assert receipts.refused["\0"].problems == problems
    assert json.loads(RefusedEntry.objects.get().content) == record


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"author": "x" * 121}, "author"),
        ({"sequence": 2**63}, "sequence"),
        ({"at": datetime(9999, 12, 31, tzinfo=UTC)}, "at"),
        ({"at": datetime(1, 1, 1, tzinfo=UTC)}, "at"),
        ({"fields": {"text": "x" * 20_001}}, "text"),
        ({"kind": "task", "fields": {"worker": "W", "task": "t", "until": "0001-01-01T00:00+14:00"}}, "until"),
        ({"kind": "correction", "corrects": "x", "reason": "y",
          "fields": {"field": "at", "value": "0001-01-01T00:00+14:00"}}, "value"),
    ],
)  # fmt: skip
def test_what_could_not_be_stored_or_computed_with_is_refused(db, changes, field):
    entry = replace(note(1), **changes)
    receipts = append([entry], survey=a_survey())
    assert field in {problem.field for problem in receipts.refused[entry.id].problems}
    assert not LogEntry.objects.exists()


def test_a_hash_that_does_not_fit_the_content_is_refused(db):
    (entry,) = notes(1)
    receipts = append([replace(entry, fields={"text": "changed on the way"})], survey=a_survey())
    assert [problem.field for problem in receipts.refused[entry.id].problems] == ["hash"]


def test_a_paired_device_sends_only_its_own_chained_entries(db):
    survey = a_survey()
    device, _ = pair_device(survey.site, code="phone-1", user=User.objects.create(username="lead"))
    mine, other = notes(1), notes(1, device="phone-2")
    unchained = note(2)
    paper = note(0, device="phone-1", id="sheet 1 line 1")
    receipts = append([*mine, *other, unchained, paper], survey=survey, device=device)
    assert list(receipts.confirmed) == ids(mine)
    said = {id_: {problem.field for problem in refusal.problems} for id_, refusal in receipts.refused.items()}
    assert said == {other[0].id: {"device"}, unchained.id: {"hash"}, paper.id: {"id", "sequence", "hash"}}


def test_batches_that_overtake_each_other_are_all_taken_and_the_gap_is_told(fresh_database):
    survey, sent = a_survey(), notes(6)
    late = append(sent[3:], survey=survey)
    assert list(late.confirmed) == ids(sent[3:])
    assert [(gap.sequence, gap.wanted) for gap in late.chain] == [(4, "entry 3 of this device")]
    assert append(sent[:3], survey=survey).chain == []


def test_a_fork_is_taken_and_told(fresh_database):
    """A phone set up again from an old copy goes on from there."""
    survey, sent = a_survey(), notes(4)
    append(sent, survey=survey)
    fork = notes(2, first=3, previous_hash=sent[1].hash)
    receipts = append(fork, survey=survey)
    assert list(receipts.confirmed) == ids(fork)
    assert {(broken.sequence, broken.wanted) for broken in receipts.chain} == {
        (3, "one entry a sequence"),
        (4, "one entry a sequence"),
    }


def test_a_loose_link_is_taken_and_told_for_both_sides(fresh_database):
    survey, sent = a_survey(), notes(3)
    (odd,) = chained([note(2)], previous_hash="0" * 64)
    assert [broken.sequence for broken in append([sent[0], sent[2]], survey=survey).chain] == [3]
    assert [broken.found[:20] for broken in append([odd], survey=survey).chain] == [
        "a link to 0000000000",
        f"entry 3 ({sent[2].id[:11]}",
    ]


def test_a_delivery_comes_whole_or_not_at_all(fresh_database, monkeypatch):
    survey, sent = a_survey(), [*notes(700), note(0, "x", kind="no such kind")]

    def power_cut(delivery):
        raise RuntimeError("power cut")

    with monkeypatch.context() as patch:
        patch.setattr(door, "delivery_hash", power_cut)
        with pytest.raises(RuntimeError, match="power cut"):
            append(sent, survey=survey)
    assert not LogEntry.objects.exists()
    assert not RefusedEntry.objects.exists()
    receipts = append(sent, survey=survey)
    assert len(receipts.confirmed) == 700
    assert len(receipts.refused) == 1


def test_two_writers_with_the_same_entries_end_with_one_of_each(fresh_database):
    survey, sent = a_survey(), notes(40)
    answers, faults = [], []
    start = threading.Barrier(4)

    def send(order):
        try:
            start.wait()
            for first in range(0, 40, 10):
                answers.append(append(order[first : first + 10], survey=survey).confirmed)
        except BaseException as fault:
            faults.append(fault)
        finally:
            connections.close_all()

    orders = [sent, sent[::-1], sent[20:] + sent[:20], sent]
    threads = [threading.Thread(target=send, args=[order]) for order in orders]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    stored = dict(LogEntry.objects.values_list("entry_id", "receipt"))
    assert set(stored) == set(ids(sent))
    assert len(stored) == LogEntry.objects.count()
    assert all(stored[id_] == receipt for answer in answers for id_, receipt in answer.items())
    close_old_connections()


def test_receipts_grow_in_the_order_in_which_they_become_visible(fresh_database):
    """Whoever reads on after the last receipt he saw misses nothing."""
    survey = a_survey()
    seen, stop = [], threading.Event()

    def watch():
        last = 0
        while not stop.is_set() or LogEntry.objects.filter(receipt__gt=last).exists():
            for entry in entries_of(survey, after=last):
                seen.append(entry.id)
            last = LogEntry.objects.filter(entry_id__in=seen[-1:]).values_list("receipt", flat=True).first() or last
        connections.close_all()

    def send(number):
        for entry in notes(15, device=f"phone-{number}"):
            append([entry], survey=survey)
        connections.close_all()

    watcher = threading.Thread(target=watch)
    senders = [threading.Thread(target=send, args=[number]) for number in range(3)]
    for thread in (watcher, *senders):
        thread.start()
    for thread in senders:
        thread.join()
    stop.set()
    watcher.join()
    assert len(seen) == len(set(seen)) == 45


def test_an_imported_entry_keeps_the_receipt_time_of_the_office_that_had_it_first(db):
    survey = a_survey()
    (entry,) = notes(1)
    earlier = replace(entry, received_at=LATER - timedelta(days=300))
    append([earlier], survey=survey, received_at=LATER)
    assert [entry.received_at for entry in entries_of(survey)] == [earlier.received_at]


def test_paper_has_no_clock_to_measure(db):
    """A sheet typed in before its own date would otherwise look like a clock that is ahead."""
    survey = a_survey()
    append([note(0, device="paper", id="sheet 1 line 1")], survey=survey, received_at=LATER - timedelta(days=2))
    assert [entry.received_at for entry in entries_of(survey)] == [None]
    assert fold(entries_of(survey)).clocks == {}


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_however_batches_are_cut_mixed_and_repeated_the_log_is_the_same(db, data):
    sent = notes(12)
    batches = data.draw(st.lists(st.lists(st.sampled_from(sent), max_size=8), max_size=8))
    with transaction.atomic():
        survey = a_survey()
        for batch in [*batches, sent]:
            assert append(batch, survey=survey).refused == {}
        stored = list(entries_of(survey))
        transaction.set_rollback(True)
    assert sorted(ids(stored)) == sorted(ids(sent))
    assert fold(stored).notes == fold([replace(entry, received_at=stored[0].received_at) for entry in sent]).notes


def test_a_correction_is_a_new_entry_in_the_offices_own_chain(fresh_database):
    survey, lead = a_survey(), User.objects.create(username="lead")
    append(notes(1), survey=survey)
    first = LogEntry.objects.get()
    one = append_correction(first, author=lead, reason="misread", field="text", value="note one")
    other = append_correction(first, author=lead, reason="not on this day", withdraw=True)
    assert (one.corrects, one.reason, one.author) == (first.entry_id, "misread", "lead")
    assert (other.sequence, other.previous_hash) == (2, one.hash)
    assert LogEntry.objects.get(receipt=first.receipt).fields == {"text": "note 1"}


def test_an_act_that_cannot_be_read_is_not_recorded(db):
    survey, lead = a_survey(), User.objects.create(username="lead")
    append(notes(1), survey=survey)
    with pytest.raises(EntryRefused, match="reason"):
        append_correction(LogEntry.objects.get(), author=lead, reason="", withdraw=True)
    with pytest.raises(EntryRefused, match="text"):
        append_act("note", {}, survey=survey, author=lead)
    assert LogEntry.objects.count() == 1
    assert not RefusedEntry.objects.exists()


def test_entry_ids_are_uuids_of_version_7_in_the_order_of_time():
    made = [new_entry_id() for _ in range(50)]
    assert all(map(is_uuid7, made))
    assert len(set(made)) == 50
    assert [id_[:13] for id_ in made] == sorted(id_[:13] for id_ in made)


def test_a_key_opens_its_device_until_it_is_replaced_or_revoked(db):
    lead, site = User.objects.create(username="lead"), a_survey().site
    device, first = pair_device(site, code="phone-1", name="the yellow one", user=lead)
    assert device_with_key(first) == device
    assert first not in {str(value) for value in device.__dict__.values()}
    _, second = pair_device(site, code="phone-1", user=lead)
    assert device_with_key(first) is None
    assert device_with_key(second).name == "the yellow one"
    revoke_device(device_with_key(second))
    assert device_with_key(second) is None
    assert device_with_key("") is None


def test_a_device_code_of_another_site_is_not_taken_over(db):
    lead = User.objects.create(username="lead")
    pair_device(a_survey("V-1", "S-1").site, code="phone-1", user=lead)
    with pytest.raises(ValueError, match="is taken"):
        pair_device(a_survey("V-2", "S-2").site, code="phone-1", user=lead)


def test_rows_written_past_the_door_meet_the_unique_key(db):
    survey = a_survey()
    append(notes(1), survey=survey)
    row = LogEntry.objects.get()
    row.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)
    assert connection.vendor in ("sqlite", "postgresql")

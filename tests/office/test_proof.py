"""The proof of the log on a page: whole, broken, and what people of another site may read of it."""

import re

import pytest
from django.db import connection
from log_entries import a_survey, notes
from read_page import text_of

from lapel.office.audit import proof as proving
from lapel.records.append import append
from lapel.records.append_only import GUARDED
from lapel.records.models import Device, LogEntry

PROOF = "/sites/works/log/proof/"


def with_guards_down(statement, *values):
    """Change the log as somebody with the file in his hands would."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        triggers = cursor.fetchall()
        for name, _ in triggers:
            cursor.execute(f"DROP TRIGGER {name}")
        cursor.execute(statement, values)
        for _, sql in triggers:
            cursor.execute(sql)


@pytest.fixture
def phone(cast):
    device = Device.objects.create(site=cast.site, code="phone-3", name="Phone 3")
    append(notes(5, device="phone-3"), survey=cast.survey, device=device)
    return device


def test_a_whole_log_holds_and_every_chain_is_named(cast, as_person, phone):
    client = as_person(cast.reviewer)
    assert "Prove the log" in text_of(client.get(PROOF))
    shown = text_of(client.post(PROOF))
    assert "The log holds." in shown
    assert "Phone 3" in shown
    assert "holds from the first entry to the last" in shown
    assert "no chain, as of a paper sheet" in shown
    assert re.search(r"Hash of the last delivery [0-9a-f]{64}", shown)


def test_the_first_break_is_named_in_plain_words_and_can_be_looked_at(cast, as_person, phone):
    entry = LogEntry.objects.get(device="phone-3", sequence=3)
    with_guards_down("UPDATE records_logentry SET author = 'somebody else' WHERE receipt = %s", entry.receipt)
    answer = as_person(cast.lead).post(PROOF)
    shown = text_of(answer)
    assert "The log does not hold." in shown
    assert "The first break: Entry 3 of device phone-3 ." in shown
    assert "it was changed afterwards" in shown
    assert f"/surveys/demo/log/{entry.entry_id}/" in answer.content.decode()
    assert "does not hold: 1 break" in shown


def test_a_guard_that_is_gone_is_a_break(cast, as_person, phone):
    table = next(iter(GUARDED))
    with connection.cursor() as cursor:
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s", [table])
        cursor.execute(f"DROP TRIGGER {cursor.fetchone()[0]}")
    assert "A guard of the database is gone" in text_of(as_person(cast.lead).post(PROOF))


def test_an_open_end_is_no_break(cast, as_person, phone):
    append(notes(9, device="phone-3")[7:], survey=cast.survey, device=phone)
    shown = text_of(as_person(cast.technician).post(PROOF))
    assert "The log holds." in shown
    assert "Open ends" in shown
    assert "they may still be on the device" in shown


def test_a_break_in_another_sites_entry_counts_and_is_not_named(cast, as_person, phone):
    theirs = a_survey("secret-survey", "secret-site")
    append(notes(3, device="their-phone"), survey=theirs)
    entry = LogEntry.objects.filter(device="their-phone").first()
    with_guards_down("UPDATE records_logentry SET author = 'x' WHERE receipt = %s", entry.receipt)
    answer = as_person(cast.lead).post(PROOF)
    shown = text_of(answer)
    assert "The log does not hold." in shown
    assert "1 break in entries of another site" in shown
    for secret in ("their-phone", "secret", entry.entry_id):
        assert secret not in answer.content.decode()


def test_one_proof_at_a_time(cast, as_person, phone):
    with proving._RUNNING:
        answer = as_person(cast.lead).post(PROOF)
    assert answer.status_code == 409
    assert "running on this server already" in text_of(answer)
    assert as_person(cast.lead).post(PROOF).status_code == 200


def test_who_may_prove(cast, as_person):
    assert as_person(cast.viewer).post(PROOF).status_code == 403
    assert as_person(cast.outsider).post(PROOF).status_code == 404
    for path in ("/surveys/demo/log/", "/surveys/demo/history/", "/sites/works/history/", "/sites/works/people/"):
        assert PROOF in as_person(cast.reviewer).get(path).content.decode(), path

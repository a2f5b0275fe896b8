"""A device's file comes in by the door its own deliveries take: same receipts and refusals, nothing twice."""

import json
from dataclasses import replace

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import given, settings
from hypothesis import strategies as st
from log_entries import notes
from read_page import text_of

from lapel.exchange.entries_file import MOST_BYTES, MOST_LINES, read_entries_file
from lapel.exchange.problems import InputProblems
from lapel.fieldlog import entry_record
from lapel.records.append import Unreadable, append
from lapel.records.models import Delivery, Device, LogEntry, RefusedEntry

UPLOAD = "/surveys/demo/entries-from-file/"


def a_file(entries, *, survey="demo", device="phone-3", extra=(), head=True):
    first = {"lapel": "entries", "version": 1, "survey": survey, "device": device, "last_made": 9}
    lines = [*([first] if head else []), *map(entry_record, entries)]
    return "\n".join([*map(json.dumps, lines), *extra, ""]).encode()


def sent(client, content, name="lapel-entries-demo.jsonl"):
    return client.post(UPLOAD, {"file": SimpleUploadedFile(name, content)})


@pytest.fixture
def phone(cast):
    return Device.objects.create(site=cast.site, code="phone-3", name="Phone 3")


def test_a_file_gets_the_receipts_the_device_would_have_got(cast, as_person, phone):
    before = LogEntry.objects.count()
    entries = notes(6, device="phone-3")
    append(entries[:2], survey=cast.survey, device=phone)
    answer = sent(as_person(cast.technician), a_file(entries))
    assert answer.status_code == 200
    shown = text_of(answer)
    assert "New in the log 4 There already 2 Refused 0" in shown
    assert LogEntry.objects.count() == before + 6
    last = LogEntry.objects.get(entry_id=entries[5].id)
    assert last.received_by == cast.technician
    assert last.origin == "file lapel-entries-demo.jsonl, line 7"
    assert Delivery.objects.last().device == "phone-3"


def test_the_same_file_again_doubles_nothing(cast, as_person, phone):
    content = a_file(notes(3, device="phone-3"))
    client = as_person(cast.lead)
    sent(client, content)
    before = LogEntry.objects.count()
    assert "New in the log 0 There already 3" in text_of(sent(client, content))
    assert LogEntry.objects.count() == before


def test_the_device_can_read_its_receipts(cast, as_person, phone):
    entries = notes(3, device="phone-3")
    changed = replace(entries[2], fields={"text": "another"})
    client = as_person(cast.technician)
    sent(client, a_file([*entries[:2], changed]))
    answer = client.get("/surveys/demo/receipts/", {"device": "phone-3"})
    data = answer.json()
    assert (data["lapel"], data["version"], data["survey"], data["device"]) == ("receipts", 1, "demo", "phone-3")
    rows = {row.entry_id: row.receipt for row in LogEntry.objects.filter(device="phone-3")}
    assert data["receipts"] == rows
    assert set(data["confirmed"]) == {one.id for one in entries[:2]}
    assert data["refused"][changed.id]["problems"][0]["field"] == "hash"
    assert "attachment" in answer["Content-Disposition"]


def test_what_was_changed_on_the_way_is_refused_and_kept_as_it_stood(cast, as_person, phone):
    entries = notes(2, device="phone-3")
    forged = replace(entries[1], author="somebody else")
    answer = sent(as_person(cast.technician), a_file([entries[0], forged]))
    assert "New in the log 1 There already 0 Refused 1" in text_of(answer)
    kept = RefusedEntry.objects.get()
    assert json.loads(kept.content)["author"] == "somebody else"
    assert "/surveys/demo/refused/" in answer.content.decode()


def test_a_torn_last_line_is_kept_and_the_others_are_taken(cast, as_person, phone):
    content = a_file(notes(3, device="phone-3"), extra=['{"id": "019a-torn', "and this"])
    assert "New in the log 3 There already 0 Refused 2" in text_of(sent(as_person(cast.technician), content))
    assert {json.loads(row.content) for row in RefusedEntry.objects.all()} == {'{"id": "019a-torn', "and this"}


def test_a_revoked_device_can_still_be_brought_in(cast, as_person, phone):
    from lapel.records.devices import revoke_device

    revoke_device(phone, by=cast.lead, reason="screen broken")
    assert "New in the log 2" in text_of(sent(as_person(cast.technician), a_file(notes(2, device="phone-3"))))


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (a_file(notes(2, device="phone-3"), survey="another"), "entries of the survey “another”"),
        (a_file(notes(2, device="stranger")), "entries of the device “stranger”"),
        (b"\xff\xfe\x00", "no UTF-8"),
        (b"hello\nworld\n", "no line that is an entry"),
        (b'{"lapel": "entries", "version": 7}\n', "version 7"),
        (b'{"lapel": "receipts", "version": 1}\n', "a file of “receipts”"),
        (b"\n\n", "no entry"),
        (b"", "Found a file with nothing in it"),
    ],
)
def test_what_is_no_such_file_is_told_and_nothing_of_it_is_kept(cast, as_person, phone, content, told):
    before = LogEntry.objects.count()
    answer = sent(as_person(cast.technician), content)
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert (LogEntry.objects.count(), RefusedEntry.objects.count()) == (before, 0)


def test_a_file_beyond_the_limits_is_refused(cast, as_person, phone):
    client = as_person(cast.technician)
    assert "Wanted at most 5 MB" in text_of(sent(client, b"x" * (MOST_BYTES + 1)))
    assert f"wanted at most {MOST_LINES}".capitalize() in text_of(sent(client, b"1\n" * (MOST_LINES + 1)))


def test_another_sites_device_cannot_be_spoken_for(cast, as_person):
    Device.objects.create(site=cast.other_site, code="phone-3")
    answer = sent(as_person(cast.technician), a_file(notes(2, device="phone-3")))
    assert answer.status_code == 422
    assert as_person(cast.technician).get("/surveys/demo/receipts/", {"device": "phone-3"}).status_code == 404


def test_who_records_may_bring_a_file(cast, as_person, phone):
    content = a_file(notes(2, device="phone-3"))
    for who in (cast.reviewer, cast.viewer):
        assert sent(as_person(who), content).status_code == 403
    assert sent(as_person(cast.outsider), content).status_code == 404
    assert as_person(cast.outsider).get("/surveys/demo/receipts/", {"device": "phone-3"}).status_code == 404


@settings(deadline=None, max_examples=300)
@given(
    st.lists(
        st.one_of(
            st.text(max_size=60),
            st.binary(max_size=60).map(repr),
            st.recursive(
                st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
                lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
                max_leaves=6,
            ).map(json.dumps),
        ),
        max_size=8,
    )
)
def test_whatever_stands_in_a_file_it_is_read_or_refused_in_words(lines):
    content = "\n".join(lines).encode("utf-8", "surrogatepass")
    told = []
    try:
        items = read_entries_file(content, name="any.jsonl", survey="demo").items
    except InputProblems as problems:
        items, told = (), [one.remedy for one in problems.problems]
    assert any(not isinstance(item, Unreadable) for item in items) or (told and all(told))

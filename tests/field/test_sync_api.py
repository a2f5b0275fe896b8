"""The interface of the field: what a phone sends is answered entry by entry, and nobody else's survey exists."""

import json
import uuid
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from log_entries import a_survey, note, notes

from lapel.field.api import AT_ONCE, LARGEST_BODY
from lapel.fieldlog import chained, entry_record
from lapel.records.append import append
from lapel.records.devices import pair_device, revoke_device
from lapel.records.models import Delivery, LogEntry, RefusalSettlement, RefusedEntry


class Phone:
    def __init__(self, survey, code="phone-1"):
        self.survey = survey
        self.lead, _ = User.objects.get_or_create(username="lead")
        self.device, self.key = pair_device(survey.site, code=code, user=self.lead)
        self.client = Client(raise_request_exception=True)

    @property
    def headers(self):
        return {"Authorization": f"Bearer {self.key}"}

    def get(self, path):
        return self.client.get(f"/api/v1/{path}", headers=self.headers)

    def send(self, entries, *, survey=None, **more):
        body = {"survey": survey or self.survey.code, "entries": [as_sent(entry) for entry in entries], **more}
        return self.post(body)

    def post(self, body):
        return self.client.post(
            "/api/v1/entries",
            body if isinstance(body, (str, bytes)) else json.dumps(body),
            content_type="application/json",
            headers=self.headers,
        )


def as_sent(entry):
    return entry if not hasattr(entry, "kind") else entry_record(entry)


@pytest.fixture
def phone(fresh_database):
    return Phone(a_survey())


@pytest.fixture
def light_phone(db):
    """On the shared test database, for what does not depend on the engine."""
    return Phone(a_survey())


def test_a_delivery_is_confirmed_entry_by_entry_and_again_the_same(phone):
    sent = notes(20)
    first = phone.send(sent)
    assert first.status_code == 200
    answer = first.json()
    assert answer["confirmed"] == [entry.id for entry in sent]
    assert answer["refused"] == {}
    assert answer["chain"] == []
    again = phone.send(sent).json()
    assert again["receipts"] == answer["receipts"]
    assert LogEntry.objects.count() == 20
    assert {entry.received_by for entry in LogEntry.objects.all()} == {phone.lead}


def test_one_bad_entry_does_not_keep_the_others_out(phone):
    good, after = notes(2)
    bad = [
        entry_record(note(2, "x", kind="no such kind")),
        {"id": str(uuid.uuid4()), "kind": "note"},
        "no entry at all",
        entry_record(good) | {"received_at": "2020-01-01T00:00:00+00:00", "id": "x"},
        None,
        {"id": ["\ud800"]},
    ]
    answer = phone.send([good, *bad, after])
    assert answer.status_code == 200
    answer = answer.json()
    assert answer["confirmed"] == [good.id, after.id]
    assert len(answer["refused"]) == 5  # two had no id at all
    assert RefusedEntry.objects.count() == 6
    assert all(problem["wanted"] for refusal in answer["refused"].values() for problem in refusal["problems"])


def test_a_conflict_is_told_and_shown_with_both_until_it_is_settled(phone):
    (first,) = notes(1)
    (other,) = chained([replace(first, author="somebody else")])
    phone.send([first])
    refusal = phone.send([other]).json()["refused"][first.id]
    (shown,) = phone.get(f"conflicts/{phone.survey.code}").json()
    assert shown["number"] == refusal["number"]
    assert json.loads(shown["sent"])["author"] == "somebody else"
    assert shown["kept"]["author"] == first.author
    assert shown["kept_receipt"] == refusal["kept_receipt"]
    RefusalSettlement.objects.create(refused_id=shown["number"], settled_by=phone.lead, reason="typed twice")
    assert phone.get(f"conflicts/{phone.survey.code}").json() == []


def test_a_clock_that_is_off_is_measured_and_kept_and_refused_nowhere(phone):
    ahead = datetime.now(UTC) + timedelta(hours=2)
    answer = phone.send(chained([note(1, at=ahead)]), sent_at=ahead.isoformat())
    assert answer.status_code == 200
    assert answer.json()["clock_ahead_s"] == pytest.approx(7200, abs=60)
    assert Delivery.objects.get().sent_at == ahead


def test_a_gap_is_told_and_its_entries_are_taken(phone):
    sent = notes(4)
    answer = phone.send([sent[0], sent[3]]).json()
    assert len(answer["confirmed"]) == 2
    assert [(link["sequence"], link["wanted"]) for link in answer["chain"]] == [(4, "entry 3 of this device")]


def test_a_device_that_lost_its_memory_learns_where_it_was(phone):
    sent = notes(3)
    assert phone.get("device").json()["last_sequence"] == 0
    phone.send(sent)
    answer = phone.get("device").json()
    assert (answer["code"], answer["last_sequence"], answer["last_hash"]) == ("phone-1", 3, sent[2].hash)
    assert [survey["code"] for survey in answer["surveys"]] == ["V-1"]
    going_on = notes(1, first=4, previous_hash=answer["last_hash"])
    assert phone.send(going_on).json()["chain"] == []


def test_the_day_is_read_page_by_page_with_its_receipts(phone):
    sent = notes(AT_ONCE + 10)
    append(sent, survey=phone.survey)
    first = phone.get(f"day/{phone.survey.code}").json()
    assert first["more"]
    rest = phone.get(f"day/{phone.survey.code}?after={first['last_receipt']}").json()
    assert not rest["more"]
    read = [kept["entry"]["id"] for page in (first, rest) for kept in page["entries"]]
    assert read == [entry.id for entry in sent]
    assert phone.get(f"day/{phone.survey.code}?after={rest['last_receipt']}").json()["entries"] == []


@pytest.mark.parametrize("path", ["device", "day/V-1", "conflicts/V-1"])
def test_without_a_key_there_is_no_answer(light_phone, path):
    client = Client()
    for header in (
        {},
        {"Authorization": "Bearer lapel_x"},
        {"Authorization": f"Basic {light_phone.key}"},
        {"Authorization": "Bearer"},
    ):
        assert client.get(f"/api/v1/{path}", headers=header).status_code == 401
    assert client.post("/api/v1/entries", "{}", content_type="application/json").status_code == 401


def test_a_signed_in_person_is_no_device(light_phone):
    client = Client()
    client.force_login(User.objects.create_superuser("root"))
    assert client.get("/api/v1/day/V-1").status_code == 401


def test_a_revoked_key_opens_nothing_and_what_it_sent_stays(light_phone):
    light_phone.send(notes(2))
    revoke_device(light_phone.device)
    assert light_phone.send(notes(1, first=3)).status_code == 401
    assert light_phone.get("device").status_code == 401
    assert LogEntry.objects.count() == 2


@pytest.mark.parametrize("code", ["V-2", "V-404", "no%00thing", "%ED%A0%80", "x" * 500])
def test_a_survey_of_another_site_does_not_exist(phone, code):
    a_survey("V-2", "S-2")
    for path in ("day", "conflicts"):
        answer = phone.get(f"{path}/{code}")
        assert answer.status_code == 404
        assert "no such survey" in answer.json()["detail"]
    assert phone.send(notes(1), survey="V-2").status_code == 404
    assert not LogEntry.objects.exists()


def test_a_device_cannot_send_in_anothers_name(light_phone):
    answer = light_phone.send(notes(1, device="phone-2")).json()
    assert answer["confirmed"] == []
    assert [problem["field"] for refusal in answer["refused"].values() for problem in refusal["problems"]] == ["device"]


def test_a_delivery_that_is_too_large_is_turned_away_whole(light_phone):
    answer = light_phone.send(notes(201))
    assert answer.status_code == 422
    answer = light_phone.post(b" " * (LARGEST_BODY + 1))
    assert answer.status_code == 413
    assert "Nothing was taken" in answer.json()["detail"]
    assert not LogEntry.objects.exists()


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"[]", b"null", b'{"survey": 1, "entries": []}', b"\xff\xfe", b"[" * 100_000,
     b'{"survey": "V-1", "entries": [' + b"1" * 5000 + b"]}", b'{"survey": "V-1", "entries": {}}',
     b'{"survey": "V-1", "sent_at": "0001-01-01T00:00:00+14:00", "entries": []}'],
)  # fmt: skip
def test_a_body_that_cannot_be_read_is_said_to_be_so(light_phone, body):
    answer = light_phone.post(body)
    assert answer.status_code in (400, 422)
    assert answer.json()["detail"]


@pytest.mark.parametrize("said_to_be", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""])
@pytest.mark.parametrize("path", ["entries", "pair"])
def test_a_body_under_another_type_is_not_read(light_phone, path, said_to_be):
    body = json.dumps({"survey": "V-1", "entries": [as_sent(note(1))], "code": "x"})
    answer = Client().post(f"/api/v1/{path}", body, content_type=said_to_be, headers=light_phone.headers)
    assert answer.status_code == 415
    assert "Wanted Content-Type: application/json" in answer.json()["detail"]
    assert not LogEntry.objects.exists()


def test_what_every_version_of_the_page_sends_is_the_type_that_is_asked_for(light_phone):
    """A browser may add the letters it used; the page itself has never sent another type."""
    body = json.dumps({"survey": "V-1", "entries": []})
    for said_to_be in ("application/json", "application/json; charset=UTF-8", "Application/JSON"):
        answer = Client().post("/api/v1/entries", body, content_type=said_to_be, headers=light_phone.headers)
        assert answer.status_code == 200, said_to_be


@pytest.mark.parametrize(
    "record",
    [
        '{"sequence": 1e999}', '{"sequence": NaN, "id": "a"}', '{"at": 5, "fields": {"text": {}}}',
        '{"id": "\\u0000", "kind": "note", "at": "2026-03-09T05:10+02:00", "fields": {"text": "\\ud800"}}',
        "[" * 300 + "]" * 300,
        '{"id": "y", "sequence": 99999999999999999999999999, "kind": "note", "at": "2026-03-09T05:10+02:00"}',
        '{"id": "y", "sequence": -5, "kind": "note", "at": "2026-03-09T05:10+02:00"}',
    ],
)  # fmt: skip
def test_any_json_in_place_of_an_entry_is_refused_and_kept(phone, record):
    answer = phone.post('{"survey": "V-1", "entries": [' + record + "]}")
    assert answer.status_code == 200
    assert answer.json()["confirmed"] == []
    assert len(answer.json()["refused"]) == 1
    assert RefusedEntry.objects.count() == 1


def test_the_number_of_queries_does_not_grow_with_the_delivery(light_phone):
    light_phone.send([])  # the first contact is noted
    with CaptureQueriesContext(connection) as one:
        light_phone.send(notes(1))
    more = notes(50, first=2, previous_hash=LogEntry.objects.get().hash)
    with CaptureQueriesContext(connection) as many:
        light_phone.send(more)
    assert len(many) == len(one) <= 12

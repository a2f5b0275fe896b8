"""How often an account may do what is costly, room for files, and the operator's scanner."""

import sys
import threading
from datetime import timedelta
from pathlib import Path

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.utils import timezone

from lapel.office import limits
from lapel.office.limits import LIMITS, Limit
from lapel.office.uploads import MEGABYTE, room_for
from lapel.records.models import ActCount, OriginalFile

DOCS = Path(__file__).parents[2] / "docs"
NAMES = "/sites/works/names/"
A_FILE = b"sample,mass\nG-1,1\n"


@pytest.fixture
def few(monkeypatch):
    """Names may be looked up three times an hour, and twice is unusual."""
    of_page = limits._OF_PAGE | {"worker-names": Limit("names", "looking up names of workers", 2, 3)}
    monkeypatch.setattr(limits, "_OF_PAGE", of_page)


def bring_in(client, content=A_FILE, name="results.csv"):
    return client.post("/surveys/demo/results/", {"file": SimpleUploadedFile(name, content), "amends": ""})


def test_beyond_the_limit_the_answer_is_429_in_words_and_nothing_is_done(as_person, cast, few, caplog):
    client = as_person(cast.lead)
    assert [client.get(NAMES).status_code for _ in range(4)] == [200, 200, 200, 429]
    answer = client.get(NAMES)
    assert "looking up names of workers" in answer.content.decode()
    assert 0 < int(answer["Retry-After"]) <= 3600
    assert sum("worker names of" in line for line in caplog.messages) <= 3
    assert client.get("/").status_code == 200, "everything else goes on"


def test_what_is_unusual_is_one_line_in_the_servers_log_before_anything_is_refused(as_person, cast, few, caplog):
    client = as_person(cast.lead)
    for _ in range(6):
        client.get(NAMES)
    said = [line for line in caplog.messages if "looking up names of workers" in line]
    assert said == [
        "unusual: looking up names of workers, 2 times in this hour by 'lead'",
        "refused: looking up names of workers, more than 3 times in this hour by 'lead'",
    ]


def test_another_account_and_another_hour_count_by_themselves(as_person, cast, few):
    client = as_person(cast.lead)
    for _ in range(4):
        client.get(NAMES)
    assert client.get(NAMES).status_code == 429
    ActCount.objects.update(hour=timezone.now() - timedelta(hours=2))
    assert client.get(NAMES).status_code == 200
    assert ActCount.objects.filter(who="lead", kind="names").count() == 1, "earlier hours are not kept"
    ActCount.objects.create(who="somebody", kind="names", hour=ActCount.objects.get(kind="names").hour, times=99)
    assert client.get(NAMES).status_code == 200


def test_several_threads_or_processes_count_together(fresh_database, rf):
    """As several processes of a server do: the database counts, whichever of them comes first in the hour."""
    request = rf.get("/")
    request.user = AnonymousUser()

    def ten_times():
        try:
            for _ in range(10):
                limits.count(limits.REFUSALS, request)
        finally:
            connection.close()

    threads = [threading.Thread(target=ten_times) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert ActCount.objects.get().times == 40


def test_looking_at_a_page_is_no_act_where_only_what_changes_something_counts(as_person, cast):
    as_person(cast.lead).get("/surveys/demo/results/")
    assert not ActCount.objects.exists()
    bring_in(as_person(cast.lead))
    assert ActCount.objects.get().kind == "uploads"


def test_somebody_who_tries_addresses_out_is_told_of_in_the_log(as_person, cast, monkeypatch, caplog):
    monkeypatch.setattr(limits, "REFUSALS", Limit("refusals", "asking for what is not there or not theirs", 3, None))
    client = as_person(cast.outsider)
    for number in range(5):
        assert client.get(f"/surveys/no-{number}/").status_code == 404
    said = "unusual: asking for what is not there or not theirs, 3 times in this hour by 'outsider'"
    assert caplog.messages.count(said) == 1


def test_a_request_of_nobody_is_sent_to_the_door_and_not_counted(db):
    assert Client().get(NAMES).status_code == 302
    assert not ActCount.objects.exists()


def test_every_limit_is_far_above_a_working_day_and_in_the_docs():
    page = (DOCS / "reference" / "limits.md").read_text(encoding="utf-8")
    for limit in (*LIMITS, limits.REFUSALS):
        most = "–" if limit.most is None else str(limit.most)
        assert f"| {limit.words} | {most} | {limit.unusual} |" in page
        assert limit.most is None or limit.most >= 2 * limit.unusual


def test_every_page_a_limit_names_is_there():
    from test_security import patterns

    there = {one.name for _, one in patterns()}
    assert {page for limit in LIMITS for page in limit.pages} <= there


# Room


def test_room_is_told_before_and_at_the_refusal_and_a_refused_file_is_not_kept(as_person, cast, settings):
    settings.LAPEL_UPLOADS_PERSON_MB = 1
    client = as_person(cast.technician)
    assert bring_in(client, A_FILE * 30_000).status_code == 302
    assert "You brought in 0.5 of the 1 MB" in client.get("/surveys/demo/results/").content.decode()
    kept = OriginalFile.objects.count()
    answer = bring_in(client, A_FILE * 30_001)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "no room for it" in page
    assert "LAPEL_UPLOADS_PERSON_MB" in page
    assert OriginalFile.objects.count() == kept
    assert bring_in(as_person(cast.lead), A_FILE * 30_001).status_code == 302, "room is by person"


def test_a_sites_room_is_for_all_its_people(as_person, cast, settings):
    settings.LAPEL_UPLOADS_SITE_MB = 1
    assert bring_in(as_person(cast.technician), A_FILE * 30_000).status_code == 302
    answer = bring_in(as_person(cast.lead), A_FILE * 30_001)
    assert answer.status_code == 422
    assert "LAPEL_UPLOADS_SITE_MB" in answer.content.decode()
    room = room_for(cast.lead, cast.site)
    assert (room.person, room.site, room.site_most) == (0, len(A_FILE) * 30_000, MEGABYTE)


# The operator's scanner


def scanner(code):
    return [sys.executable, "-c", f"import sys; data = sys.stdin.buffer.read(); {code}"]


FINDS = "sys.exit(1 if b'HARMFUL' in data else 0)"


def test_a_file_the_scanner_lets_pass_is_read_whole(as_person, cast, settings):
    settings.LAPEL_SCAN_UPLOADS = scanner(FINDS)
    assert bring_in(as_person(cast.technician)).status_code == 302
    assert bytes(OriginalFile.objects.latest("id").content) == A_FILE


@pytest.mark.parametrize(
    ("command", "why"),
    [
        (scanner(FINDS), "the scanner found something in it"),
        (scanner("sys.exit(2)"), "the scanner failed"),
        (["/nowhere/scan"], "the scanner could not be asked"),
    ],
)
def test_a_file_the_scanner_does_not_let_pass_is_not_read(as_person, cast, settings, caplog, command, why):
    settings.LAPEL_SCAN_UPLOADS = command
    kept = OriginalFile.objects.count()
    answer = bring_in(as_person(cast.technician), A_FILE + b"HARMFUL\n")
    assert answer.status_code == 422
    assert why in answer.content.decode()
    assert OriginalFile.objects.count() == kept
    assert f"upload refused: {why}, brought by 'technician'" in caplog.text


def test_every_page_that_takes_a_file_is_behind_the_scanner(as_person, cast, settings):
    settings.LAPEL_SCAN_UPLOADS = scanner("sys.exit(1)")
    client = as_person(cast.lead)
    for page in ("/surveys/demo/results/", "/surveys/demo/entries-from-file/", "/sites/works/letterhead/"):
        for field in ("file", "logo"):
            answer = client.post(page, {field: SimpleUploadedFile("x.csv", A_FILE)})
            assert "found something" in answer.content.decode(), page

"""Entries the log did not take: one page of a survey, one of a site, settled together, and led to by the road."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from read_page import text_of

from lapel.records.append import Unreadable, append
from lapel.records.models import RefusalSettlement, RefusedEntry

OF_SURVEY = "/surveys/demo/refused/"
OF_SITE = "/sites/works/refused/"


def refuse(survey, many, *, first=0):
    append([Unreadable({"id": f"broken-{number}"}, ()) for number in range(first, first + many)], survey=survey)
    return list(RefusedEntry.objects.filter(survey=survey).order_by("pk"))


def test_the_road_leads_to_what_is_to_be_settled(cast, as_person):
    client = as_person(cast.technician)
    assert OF_SURVEY not in client.get("/surveys/demo/").content.decode()
    refuse(cast.survey, 2)
    assert OF_SURVEY in client.get("/surveys/demo/").content.decode()


@pytest.mark.parametrize("path", [OF_SURVEY, OF_SITE])
def test_several_are_settled_for_one_reason_of_any_length(cast, as_person, path):
    rows = refuse(cast.survey, 3)
    client = as_person(cast.technician)
    assert "3 to settle." in text_of(client.get(path))
    reason = "a test of the phone before the day; " * 60
    answer = client.post(path, {"refused": [rows[0].pk, rows[2].pk], "reason": reason[:2000]})
    assert answer.status_code == 302
    settled = RefusalSettlement.objects.order_by("refused_id")
    assert [one.refused_id for one in settled] == [rows[0].pk, rows[2].pk]
    assert {one.reason for one in settled} == {reason[:2000].strip()}
    assert {one.settled_by for one in settled} == {cast.technician}
    shown = text_of(client.get(path))
    assert "1 to settle." in shown
    assert shown.index("broken-1") < shown.index("broken-0")


@pytest.mark.parametrize("path", [OF_SURVEY, OF_SITE])
def test_without_a_reason_or_a_mark_nothing_is_settled(cast, as_person, path):
    (row,) = refuse(cast.survey, 1)
    client = as_person(cast.lead)
    for typed, told in (({"refused": [row.pk]}, "Wanted the reason"), ({"reason": "x"}, "Found none marked")):
        answer = client.post(path, typed)
        assert answer.status_code == 422
        assert told in text_of(answer)
    assert not RefusalSettlement.objects.exists()


def test_what_another_site_refused_cannot_be_settled_here(cast, as_person):
    from log_entries import a_survey

    (theirs,) = refuse(a_survey("theirs", "their-site"), 1)
    refuse(cast.survey, 1, first=7)
    answer = as_person(cast.lead).post(OF_SITE, {"refused": [theirs.pk], "reason": "x"})
    assert answer.status_code == 422
    assert not RefusalSettlement.objects.exists()


def test_who_may_read_and_who_may_settle(cast, as_person):
    (row,) = refuse(cast.survey, 1)
    for path in (OF_SURVEY, OF_SITE):
        assert as_person(cast.viewer).get(path).status_code == 200
        assert as_person(cast.viewer).post(path, {"refused": [row.pk], "reason": "x"}).status_code == 403
        assert as_person(cast.outsider).get(path).status_code == 404


@pytest.mark.parametrize("path", [OF_SURVEY, OF_SITE])
def test_the_page_asks_as_many_questions_for_forty_as_for_one(cast, as_person, path):
    client = as_person(cast.lead)
    refuse(cast.survey, 1)
    client.get(path)
    with CaptureQueriesContext(connection) as one:
        client.get(path)
    refuse(cast.survey, 40, first=1)
    with CaptureQueriesContext(connection) as many:
        client.get(path)
    assert len(many) == len(one)

"""The live day, the log, corrections, and conflicts with both accounts side by side."""

import re
from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from grown_survey import grow
from read_page import text_of

from lapel.assessment.held import day_until, held_assessment, held_survey
from lapel.assessment.live_day import live_day
from lapel.fieldlog import Entry
from lapel.records.append import Unreadable, append
from lapel.records.models import LogEntry, RefusalSettlement, RefusedEntry
from lapel.reference import rule_book

FIELD = "/surveys/demo/field/"
LOG = "/surveys/demo/log/"
MORNING = datetime.fromisoformat("2026-10-29T10:40-06:00")


def at(survey, instant):
    """The trains of a survey at an instant, by code."""
    data, _ = held_survey(survey)
    found = live_day(data, day_until(data, instant), rule_book(data.rule_book), instant)
    return {one.prepared.preparation.train: one for one in found}


def test_minutes_and_litres_so_far_follow_the_clock_and_the_closing_flow(hard):
    """By hand: T-103 started 06:04; at 10:40 that is 276 min; closing readings 16.2, 16.1, 16.1 mL/min."""
    (port,) = at(hard.survey, MORNING)["T-103"].ports
    assert port.state == "running"
    assert port.minutes == pytest.approx(276.0)
    assert port.litres.value == pytest.approx(276.0 * (0.0162 + 0.0161 + 0.0161) / 3.0, rel=1e-9)
    (later,) = at(hard.survey, MORNING + timedelta(minutes=10))["T-103"].ports
    assert later.minutes == pytest.approx(286.0)


def test_a_look_is_due_two_hours_after_the_last_one(hard):
    """The rule book wants a look every 120 min; T-103 was last seen at 08:25, so 10:40 is 15 min too late."""
    train = at(hard.survey, MORNING)["T-103"]
    assert train.due_in_min == pytest.approx(-15.0)
    assert at(hard.survey, MORNING - timedelta(minutes=30))["T-103"].due_in_min == pytest.approx(15.0)


def test_a_hold_and_a_tube_change_show_as_what_they_are(hard):
    during = at(hard.survey, datetime.fromisoformat("2026-10-29T10:15-06:00"))
    assert {port.state for port in during["T-102"].ports} == {"on hold"}
    states = {port.run.sampler: port.state for port in during["T-101"].ports}
    assert (states["G-101"], states["G-104"]) == ("ended", "running")


def test_a_run_nobody_stopped_is_not_counted_on_for_ever(hard):
    seen = day_until(held_survey(hard.survey)[0], MORNING)
    data, _ = held_survey(hard.survey)
    late = live_day(data, seen, rule_book(data.rule_book), MORNING + timedelta(days=3))
    (port,) = next(one for one in late if one.prepared.preparation.train == "T-103").ports
    assert (port.state, port.minutes, port.litres) == ("no stop recorded", None, None)


def test_the_page_shows_the_day_as_it_stood(hard, as_person):
    page = text_of(as_person(hard.viewer).get(FIELD, {"at": "2026-10-29T10:40-06:00"}))
    assert "overdue by 15 min" in page
    assert "W-03, train T-103" in page
    assert "4.45 L" in page
    assert "T-201" not in page


def test_a_moment_without_an_offset_is_not_guessed(hard, as_person):
    page = text_of(as_person(hard.viewer).get(FIELD, {"at": "2026-10-29T10:40"}))
    assert "Wanted a date and time with the offset" in page


def test_a_correction_is_a_new_entry_and_the_first_one_stays(hard, as_person):
    entry = LogEntry.objects.filter(kind="flow_read", fields__phase="post").order_by("receipt")[0]
    before = LogEntry.objects.count()
    client = as_person(hard.technician)
    form = filled(client.get(f"{LOG}{entry.entry_id}/correct/"))
    answer = client.post(
        f"{LOG}{entry.entry_id}/correct/", form | {"field-reading": "31.7", "reason": "read upside down"}
    )
    assert answer.status_code == 302
    assert LogEntry.objects.count() == before + 1
    correction = LogEntry.objects.order_by("-receipt")[0]
    assert (correction.kind, correction.corrects, correction.author) == ("correction", entry.entry_id, "technician")
    assert correction.fields == {"field": "reading", "value": "31.7"}
    entry.refresh_from_db()
    assert entry.fields["reading"] != "31.7"
    page = text_of(client.get(f"{LOG}{entry.entry_id}/"))
    assert entry.fields["reading"] in page
    assert "31.7" in page
    assert "read upside down" in page


def test_taking_a_correction_back_brings_the_figures_back(hard, as_person):
    first = {one.sampler: one.concentration and one.concentration.value for one in held_assessment(hard.survey).samples}
    entry = LogEntry.objects.filter(kind="flow_read", fields__phase="post").order_by("receipt")[0]
    client = as_person(hard.lead)
    form = filled(client.get(f"{LOG}{entry.entry_id}/correct/"))
    client.post(f"{LOG}{entry.entry_id}/correct/", form | {"field-reading": "31.7", "reason": "a try"})
    changed = {
        one.sampler: one.concentration and one.concentration.value for one in held_assessment(hard.survey).samples
    }
    assert changed != first
    correction = LogEntry.objects.order_by("-receipt")[0]
    assert client.post(f"{LOG}{correction.entry_id}/withdraw/", {"reason": "it was right"}).status_code == 302
    back = {one.sampler: one.concentration and one.concentration.value for one in held_assessment(hard.survey).samples}
    assert back == first


def test_a_wrong_value_says_found_wanted_and_what_became_of_it(hard, as_person):
    entry = LogEntry.objects.filter(kind="flow_read").order_by("receipt")[0]
    client = as_person(hard.technician)
    form = filled(client.get(f"{LOG}{entry.entry_id}/correct/"))
    before = LogEntry.objects.count()
    answer = client.post(f"{LOG}{entry.entry_id}/correct/", form | {"field-reading": "thirty", "reason": "x"})
    assert answer.status_code == 422
    assert "Found “thirty”. Wanted" in text_of(answer)
    assert "Nothing was kept" in text_of(answer)
    assert LogEntry.objects.count() == before


def test_a_time_without_offset_and_a_correction_without_change_are_refused(hard, as_person):
    entry = LogEntry.objects.filter(kind="pump_started").order_by("receipt")[0]
    client = as_person(hard.technician)
    address = f"{LOG}{entry.entry_id}/correct/"
    form = filled(client.get(address))
    assert "Found no change" in text_of(client.post(address, form | {"reason": "x"}))
    answer = client.post(address, form | {"field-at": "2026-10-29T06:00", "reason": "x"})
    assert "an instant with its offset" in text_of(answer)
    assert not LogEntry.objects.filter(device__startswith="office").exists()


@pytest.mark.parametrize("role", ["reviewer", "viewer"])
@pytest.mark.parametrize("act", ["correct", "withdraw"])
def test_who_only_reads_cannot_correct(hard, as_person, role, act):
    entry = LogEntry.objects.filter(kind="flow_read")[0]
    before = LogEntry.objects.count()
    client = as_person(hard.members[role])
    assert client.post(f"{LOG}{entry.entry_id}/{act}/", {"reason": "x"}).status_code == 403
    assert LogEntry.objects.count() == before
    assert f"{entry.entry_id}/{act}/" not in client.get(f"{LOG}{entry.entry_id}/").content.decode()


def test_two_accounts_of_one_act_stand_side_by_side_and_are_settled(hard, as_person):
    first = LogEntry.objects.filter(kind="pump_checked").order_by("receipt")[0]
    append(
        [
            Entry(
                "second account", "pump_checked", first.at + timedelta(minutes=1), "tablet", 0, "mk", dict(first.fields)
            )
        ],
        survey=hard.survey,
    )
    client = as_person(hard.technician)
    page = client.get(FIELD)
    assert "recorded twice" in text_of(page).lower()
    assert "mk, tablet" in text_of(page)
    assert f"{first.author}, {first.device}" in text_of(page)
    link = re.search(r'href="([^"]+/distinct/\?other=[^"]+)"', page.content.decode())[1]
    form = filled(client.get(link))
    assert client.post(link.partition("?")[0], form | {"reason": "I looked twice"}).status_code == 302
    assert "Nothing: no two accounts" in text_of(client.get(FIELD))


def test_an_entry_kept_apart_is_shown_as_sent_and_settled_once(hard, as_person):
    append([Unreadable({"id": "broken", "at": "yesterday"}, ())], survey=hard.survey)
    kept_apart = RefusedEntry.objects.get()
    client = as_person(hard.technician)
    assert "broken" in text_of(client.get(FIELD))
    address = f"/surveys/demo/refused/{kept_apart.pk}/"
    assert "yesterday" in text_of(client.get(address))
    for reason in ("a test of the phone", "another word"):
        assert client.post(address, {"reason": reason}).status_code == 302
    assert RefusalSettlement.objects.get().reason == "a test of the phone"
    assert "broken" not in text_of(client.get(FIELD))
    assert as_person(hard.viewer).post(address, {"reason": "x"}).status_code == 403


def test_a_clock_that_is_ahead_is_measured_and_shown(hard, as_person):
    late = datetime.fromisoformat("2026-10-29T09:00-06:00")
    ahead = Entry(
        "ahead", "note", late, "fast phone", 1, "it", {"text": "hello"}, received_at=late - timedelta(minutes=7)
    )
    append([ahead], survey=hard.survey)
    page = text_of(as_person(hard.viewer).get(FIELD))
    assert "fast phone" in page
    assert "ahead by 7 min at least; its times are moved back by that" in page


@pytest.mark.parametrize("path", [FIELD, LOG, LOG + "flow_read-row-2/", LOG + "flow_read-row-2/correct/"])
def test_for_an_outsider_there_is_nothing(cast, as_person, path):
    assert as_person(cast.outsider).get(path).status_code == 404


def test_the_log_asks_the_same_number_of_questions_of_a_large_survey(cast, as_person, django_assert_num_queries):
    """A survey whose entries do not fill a page yet; the other pages: test_queries_of_every_page.py."""
    client = as_person(cast.viewer)
    client.get(LOG)
    with CaptureQueriesContext(connection) as small:
        client.get(LOG)
    asked = len(small)
    grow(cast.survey, 6)
    client.get(LOG)
    with django_assert_num_queries(asked):
        assert client.get(LOG).status_code == 200


def filled(answer):
    """What a form on a page would send if it were sent as it stands."""
    form = answer.context["form"]
    return {name: str(bound.value() or "") for name in form.fields for bound in [form[name]]}

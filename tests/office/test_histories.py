"""Histories: everything that changed, by whom and why, for those whose role lets them see it."""

import pytest
from cast import NAME_BEHIND_A_CODE
from django.db import connection
from django.test.utils import CaptureQueriesContext

from lapel.records.append import append_correction
from lapel.records.audit import SurveyHistory, history_within, signed
from lapel.records.models import LogEntry, Membership, SampleOrder


def test_a_changed_survey_shows_who_from_what_to_what_and_why(as_person, cast):
    before = cast.survey.title
    cast.survey.title = "Renamed survey"
    signed(cast.survey, cast.lead, "the old title named a person").save()
    page = as_person(cast.reviewer).get("/surveys/demo/history/").content.decode()
    assert "<ins>Renamed survey</ins>" in page
    assert f"<del>{before}</del>" in page
    assert "the old title named a person" in page
    assert ">lead<" in page


def test_what_people_typed_shows_as_text_not_as_markup(as_person, cast):
    cast.survey.title = "<script>alert(1)</script>"
    signed(cast.survey, cast.lead, "<img src=x onerror=alert(1)>").save()
    for address in ("/", "/surveys/demo/", "/surveys/demo/history/"):
        page = as_person(cast.lead).get(address).content.decode()
        assert "<script>alert" not in page, address
        assert "<img src=x" not in page, address
        assert "&lt;script&gt;alert(1)" in page, address


def test_a_removed_member_stays_in_the_history_of_the_site(as_person, cast):
    signed(Membership.objects.get(user=cast.viewer, site=cast.site), cast.lead, "left the plant").delete()
    page = as_person(cast.lead).get("/sites/works/history/").content.decode()
    assert "removed" in page
    assert "left the plant" in page


def test_an_entry_shows_its_corrections_and_their_reasons(as_person, cast):
    reading = LogEntry.objects.filter(survey=cast.survey, kind="flow_read").first()
    append_correction(reading, author=cast.technician, field="reading", value="0.101", reason="misread")
    address = f"/surveys/demo/history/entry/{reading.entry_id}/"
    page = as_person(cast.technician).get(address).content.decode()
    assert f"<del>{reading.fields['reading']}</del>" in page
    assert "<ins>0.101</ins>" in page
    assert "misread" in page


@pytest.mark.parametrize(
    "address",
    ["/surveys/demo/history/", "/sites/works/history/", "/sites/works/history/pump/{pump}/"],
)
def test_viewers_are_told_that_histories_are_not_theirs(as_person, cast, address):
    pump = cast.site.pumps.first().code
    answer = as_person(cast.viewer).get(address.format(pump=pump))
    assert answer.status_code == 403
    assert "see who changed what" in answer.content.decode()
    assert as_person(cast.reviewer).get(address.format(pump=pump)).status_code == 200


@pytest.mark.parametrize(
    "address",
    [
        "/surveys/demo/history/nonsense/1/",
        "/surveys/demo/history/limit/first/",
        "/surveys/demo/history/limit/999999999999999999999/",
        "/surveys/demo/history/sample/none/",
        "/sites/works/history/name/W-1/",
    ],
)
def test_what_is_not_there_is_404(as_person, cast, address):
    assert as_person(cast.lead).get(address).status_code == 404


def test_every_kind_of_record_has_a_history_page(as_person, cast):
    client = as_person(cast.lead)
    survey, site = cast.survey, cast.site
    of_survey = {
        "agent": survey.agents.first().code,
        "limit": survey.limits.first().pk,
        "method": survey.methods.first().code,
        "lot": survey.medialots.first().code,
        "shift": survey.shifts.first().code,
        "sample": survey.sampleorders.first().code,
        "report": survey.laboratoryreports.first().code,
        "result": survey.results.first().pk,
        "entry": survey.entries.first().entry_id,
    }
    of_site = {
        "group": site.groups.first().code,
        "worker": site.workers.first().code,
        "pump": site.pumps.first().code,
        "splitter": site.splitters.first().code,
        "meter": site.meters.first().code,
    }
    for base, records in (("/surveys/demo/history", of_survey), ("/sites/works/history", of_site)):
        for kind, key in records.items():
            answer = client.get(f"{base}/{kind}/{key}/")
            assert answer.status_code == 200, kind
            assert "Nothing has happened" not in answer.content.decode(), kind
            assert NAME_BEHIND_A_CODE not in answer.content.decode(), kind


def test_the_pages_of_a_surveys_history_tell_all_of_it_the_latest_first(cast):
    cast.survey.title = "Renamed survey"
    signed(cast.survey, cast.lead, "why").save()
    cast.survey.agents.first().limits.first().delete()
    whole, paged = history_within(cast.survey), SurveyHistory(cast.survey)
    assert len(paged) == len(whole) > 20
    told = [change for start in range(0, len(paged), 7) for change in paged[start : start + 7]]
    assert [change.at for change in told] == sorted((change.at for change in whole), reverse=True)
    key = repr
    assert sorted(told, key=key) == sorted(whole, key=key)


def test_a_page_of_history_reads_only_what_it_shows(as_person, cast):
    client = as_person(cast.lead)
    shift = cast.survey.shifts.first()
    client.get("/surveys/demo/history/")

    def queries():
        with CaptureQueriesContext(connection) as captured:
            client.get("/surveys/demo/history/")
        return len(captured)

    for number in range(150):
        SampleOrder.objects.create(survey=cast.survey, shift=shift, code=f"X-{number}", purpose="full shift")
    before = queries()
    for number in range(150, 300):
        SampleOrder.objects.create(survey=cast.survey, shift=shift, code=f"X-{number}", purpose="full shift")
    assert queries() == before < 40


def test_a_samples_history_names_its_methods_and_its_survey_as_people_do(as_person, cast):
    order = SampleOrder.objects.filter(shift__survey=cast.survey).order_by("code").last()
    order.methods = ["1501-toluene", "2016-formaldehyde"]
    signed(order, cast.lead, "one more agent on the tube").save()
    page = as_person(cast.reviewer).get(f"/surveys/demo/history/sample/{order.code}/").content.decode()
    assert "<ins>1501-toluene, 2016-formaldehyde</ins>" in page
    assert f">{cast.survey.title}</a>" in page

"""Certificates and groups on the office pages: entered from a day on, corrected where wrong, older figures kept."""

from datetime import date

import pytest
from folders import without_places
from read_page import text_of

from lapel.assessment.held import held_assessment, held_survey
from lapel.assessment.recorded_survey import recorded_survey
from lapel.assessment.survey import assess
from lapel.exchange.assessment_json import assessment_as_data
from lapel.records.models import EarlierCertificate, ExposureGroup, Meter, Worker

METER = "/sites/works/equipment/meter/M-2/"
NEW = METER + "certificate/new/"
RENEWED = {
    "certificate": "K-27-0003",
    "certified_on": "2027-01-08",
    "due_on": "2028-01-07",
    "range_min_lpm": "0.005",
    "range_max_lpm": "0.5",
    "relative_u": "0.01",
    "full_scale_u_lpm": "0",
    "reads": "actual",
    "curve_text": "0.01 0.02\n0.5 1.0",
    "reason": "yearly, by the maker",
}


def figures(survey):
    return without_places(assessment_as_data(assess(recorded_survey(survey))))


def test_a_new_certificate_leaves_older_figures_and_shows_both(cast, as_person):
    before = figures(cast.survey)
    client = as_person(cast.technician)
    answer = client.post(NEW, RENEWED, follow=True)
    shown = text_of(answer)
    assert "Readings before that day count as they did." in shown
    assert "K-27-0003 2027-01-08 from 2027-01-08 on" in shown
    assert "K-26-0118 2026-01-12 until 2027-01-07" in shown
    assert "0.01 shown is 0.02; 0.5 shown is 1" in shown
    assert "yearly, by the maker" in shown
    assert figures(cast.survey) == before
    assert Meter.objects.get(code="M-2").due_on == date(2028, 1, 7)


def test_a_certificate_found_later_goes_to_its_place(cast, as_person):
    client = as_person(cast.lead)
    client.post(NEW, RENEWED | {"certified_on": "2025-01-08", "due_on": "2026-01-07", "curve_text": ""})
    meter = Meter.objects.get(code="M-2")
    assert (meter.certificate, EarlierCertificate.objects.get().certificate) == ("K-26-0118", "K-27-0003")
    assert "K-27-0003 2025-01-08 until 2026-01-11" in text_of(client.get(METER))


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"certified_on": ""}, "Wanted the day of the certificate"),
        ({"certified_on": "2026-01-12", "due_on": ""}, "of which the meter has a certificate"),
        ({"due_on": "2027-01-01"}, "Wanted a day after 2027-01-08"),
        ({"range_max_lpm": "0.001"}, "Wanted more than the smallest"),
        ({"curve_text": "0.1"}, "Wanted two numbers"),
        ({"reason": ""}, "Wanted the reason"),
    ],
)
def test_a_certificate_that_cannot_be_is_refused_in_words(cast, as_person, typed, told):
    answer = as_person(cast.technician).post(NEW, RENEWED | typed)
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert not EarlierCertificate.objects.exists()


def test_an_earlier_certificate_is_put_right_and_the_latest_stays_the_latest(cast, as_person):
    client = as_person(cast.technician)
    client.post(NEW, RENEWED)
    earlier = EarlierCertificate.objects.get()
    address = f"{METER}certificate/{earlier.pk}/change/"
    typed = RENEWED | {"certificate": "K-26-0118b", "certified_on": "2026-01-12", "due_on": "2027-01-11"}
    assert client.post(address, typed | {"reason": "number misread"}).status_code == 302
    assert "number misread" in text_of(client.get(METER))
    form = {name: RENEWED[name] for name in RENEWED} | {"kind": "piston", "certified_on": "2025-12-01", "due_on": ""}
    answer = client.post(METER + "change/", form)
    assert answer.status_code == 422
    assert "Wanted a day after 2026-01-12" in text_of(answer)


def test_what_is_held_follows_an_earlier_certificate_put_right(cast, as_person):
    """A page shows what is held: doubling the flow of the certificate the readings were made under doubles volumes."""
    client = as_person(cast.technician)
    client.post(NEW, RENEWED)
    before = {one.sampler: one.volume.value for one in held_assessment(cast.survey).samples}
    typed = RENEWED | {"certified_on": "2026-01-12", "due_on": "2027-01-11", "curve_text": "0.001 0.002\n0.5 1.0"}
    client.post(f"{METER}certificate/{EarlierCertificate.objects.get().pk}/change/", typed)
    after = {one.sampler: one.volume.value for one in held_assessment(cast.survey).samples}
    assert after == {sampler: pytest.approx(2.0 * volume, rel=1e-12) for sampler, volume in before.items()}


def test_what_is_held_follows_a_group_found_later(cast, as_person):
    packing = ExposureGroup.objects.create(site=cast.site, code="PACK", name="Packers")
    client = as_person(cast.lead)
    assert held_survey(cast.survey)[0].workers["W-1"].on(date(2025, 1, 1)).group == "LAM"
    typed = {"group": packing.pk, "since": "2026-06-01", "reason": "moved"}
    client.post("/sites/works/workers/W-1/group/", typed)
    client.post("/sites/works/workers/W-1/group/", typed | {"since": "2026-03-01", "reason": "was there before too"})
    assert held_survey(cast.survey)[0].workers["W-1"].on(date(2026, 4, 21)).group == "PACK"


def test_who_may_enter_certificates(cast, as_person):
    assert as_person(cast.viewer).get(NEW).status_code == 403
    assert as_person(cast.outsider).get(NEW).status_code == 404
    assert "certificate/new" in as_person(cast.technician).get(METER + "change/").content.decode()


def test_a_lead_moves_a_worker_from_a_day_on(cast, as_person):
    packing = ExposureGroup.objects.create(site=cast.site, code="PACK", name="Packers")
    client = as_person(cast.lead)
    typed = {"group": packing.pk, "job": "Packer", "since": "2026-06-01", "reason": "moved to packing"}
    shown = text_of(client.post("/sites/works/workers/W-1/group/", typed, follow=True))
    assert "W-1 belongs to PACK from 2026-06-01 on" in shown
    assert "LAM, Laminator, from the start" in shown
    again = client.post("/sites/works/workers/W-1/group/", typed)
    assert again.status_code == 422
    assert "came to a group already" in text_of(again)
    assert "moved to packing" in text_of(client.get("/sites/works/history/"))
    assert Worker.objects.get(code="W-1").since == date(2026, 6, 1)


def test_who_may_move_a_worker(cast, as_person):
    assert as_person(cast.technician).get("/sites/works/workers/W-1/group/").status_code == 403
    assert as_person(cast.viewer).get("/sites/works/workers/").status_code == 200
    for path in ("/sites/works/workers/", "/sites/works/workers/W-1/group/"):
        assert as_person(cast.outsider).get(path).status_code == 404


def test_the_list_of_workers_asks_as_many_questions_for_many(cast, as_person, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client = as_person(cast.viewer)
    client.get("/sites/works/workers/")
    with CaptureQueriesContext(connection) as few:
        client.get("/sites/works/workers/")
    group = cast.site.groups.first()
    Worker.objects.bulk_create(Worker(site=cast.site, group=group, code=f"N-{n}") for n in range(40))
    with django_assert_num_queries(len(few)):
        client.get("/sites/works/workers/")

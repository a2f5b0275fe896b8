"""What a device takes into a day without the office: all it needs, of its own site only, and no one's name."""

import json
from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest
from cast import NAME_BEHIND_A_CODE
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from lapel.field.day_pack import IN_THE_FIELD, day_pack
from lapel.field.pack_shapes import FORMAT
from lapel.field.planned_trains import day_in_hand
from lapel.hygiene.measures import MEASURES
from lapel.records.devices import pair_device, revoke_device
from lapel.records.models import PlannedTrain, Pump, SampleOrder
from lapel.reference import rule_book


@pytest.fixture
def cast(hard):
    return hard


@pytest.fixture
def phone(cast):
    _, key = pair_device(cast.site, code="phone-1", user=cast.lead)
    return Client(headers={"Authorization": f"Bearer {key}"}, raise_request_exception=True)


def test_the_pack_holds_what_a_day_needs(phone, cast):
    pack = phone.get("/api/v1/pack/demo").json()
    assert pack["format"] == FORMAT
    assert pack["survey"]["zone"] == cast.site.zone
    assert {one["code"] for one in pack["pumps"]} == set(cast.site.pumps.values_list("code", flat=True))
    assert {one["code"] for one in pack["samplers"]} == set(cast.survey.sampleorders.values_list("code", flat=True))
    assert all(one["methods"] and one["worker"] for one in pack["samplers"])
    assert {one["lot"] for one in pack["media"]} == set(cast.survey.medialots.values_list("code", flat=True))
    toluene = next(one for one in pack["limits"] if one["agent"] == "toluene" and one["unit"] == "ppm")
    assert toluene["mg_m3"] == pytest.approx(3.77 * toluene["value"], rel=0.0015)  # NIOSH Pocket Guide: 1 ppm is 3.77
    book = rule_book(cast.survey.rule_book)
    first = pack["rules"]["rules"]["flow_change"]["tiers"][0]
    assert first["value"] == book.rule("flow-change").tiers[0].value
    assert pack["rules"]["change_basis"] == book.change_basis


def test_nobodys_name_is_in_the_pack(phone):
    assert NAME_BEHIND_A_CODE not in phone.get("/api/v1/pack/demo").content.decode()


def test_a_device_that_has_the_pack_gets_it_no_second_time(phone, cast):
    pack = phone.get("/api/v1/pack/demo").json()
    again = phone.get(f"/api/v1/pack/demo?known={pack['hash']}")
    assert (again.status_code, again.content) == (204, b"")
    Pump.objects.filter(site=cast.site).update(area_certificate="zone 1")
    changed = phone.get(f"/api/v1/pack/demo?known={pack['hash']}")
    assert changed.status_code == 200
    assert changed.json()["hash"] != pack["hash"]


def test_a_stranger_and_a_revoked_device_get_none(phone, cast):
    assert Client().get("/api/v1/pack/demo").status_code == 401
    device, key = pair_device(cast.other_site, code="phone-2", user=cast.outsider)
    stranger = Client(headers={"Authorization": f"Bearer {key}"})
    assert stranger.get("/api/v1/pack/demo").status_code == 404
    revoke_device(device)
    assert stranger.get("/api/v1/pack/demo").status_code == 401
    signed_in = Client()
    signed_in.force_login(cast.lead)
    assert signed_in.get("/api/v1/pack/demo").status_code == 401


def test_the_pack_takes_the_same_number_of_queries_whatever_its_size(cast):
    def queries():
        survey = type(cast.survey).objects.select_related("site").get(code="demo")
        with CaptureQueriesContext(
            connection,
        ) as seen:
            day_pack(survey, date(2026, 11, 24))
        return len(seen)

    before = queries()
    order = cast.survey.sampleorders.first()
    for number in range(30):
        SampleOrder.objects.create(
            survey=cast.survey, shift=order.shift, code=f"X-{number}", purpose=order.purpose, methods=order.methods
        )
        Pump.objects.create(site=cast.site, code=f"XP-{number}")
    assert queries() == before <= 16  # without a plan; with one see test_planned_pack.py


TOLUENE = {"medium": "charcoal 100/50", "agents": ["toluene"], "methods": ["1501-toluene"]}


def _train(cast, day, pump, hang_at, kind=TOLUENE):
    return PlannedTrain.objects.create(
        survey=cast.survey, day=day, worker=cast.site.workers.first(), pump=pump, splitter="", technician="A",
        hang_at_min=hang_at,
        ports=[{"letter": "A", "flow_lpm": 0.1, "kind": kind}],
    )  # fmt: skip


def test_the_trains_of_the_day_come_as_they_are_hung_and_else_those_of_the_next_day(phone, cast):
    _train(cast, date(2026, 11, 25), "P-3", 400)
    _train(cast, date(2026, 11, 25), "P-1", 360)
    _train(cast, date(2026, 11, 26), "P-2", 360)
    pack = phone.get("/api/v1/pack/demo?on=2026-11-25").json()
    assert [(one["train"], one["pump"]) for one in pack["trains"]] == [("T1", "P-1"), ("T2", "P-3")]
    port = pack["trains"][0]["ports"][0]
    assert (port["port"], port["target_lpm"], port["medium"]) == ("A", 0.1, "charcoal 100/50")
    assert port["methods"] == ["1501-toluene"]
    assert phone.get("/api/v1/pack/demo?on=2026-11-26").json()["planned_for"] == "2026-11-26"
    assert phone.get("/api/v1/pack/demo?on=2026-11-20").json()["planned_for"] == "2026-11-25"
    assert phone.get("/api/v1/pack/demo?on=2027-01-01").json()["trains"] == []
    assert phone.get("/api/v1/pack/demo?on=yesterday").status_code == 422


NIGHT = TOLUENE | {"minutes": 480.0, "samplers": 2}
LAST_NIGHT, TODAY = date(2026, 11, 25), date(2026, 11, 26)


@pytest.mark.parametrize(
    ("clock", "next_hung_at", "day"),
    [
        ("00:01", None, LAST_NIGHT),
        ("06:00", None, LAST_NIGHT),
        ("07:59", None, LAST_NIGHT),  # hung at 22:00, eight hours: stops to record and blanks to cap until eight
        ("08:00", None, TODAY),
        ("23:59", None, TODAY),
        ("04:59", 360, LAST_NIGHT),
        ("05:00", 360, TODAY),  # the day shift is made ready for six
        ("06:00", 22 * 60, LAST_NIGHT),
    ],
)
def test_a_night_shift_is_of_the_day_it_begins_on_until_it_is_over(phone, cast, monkeypatch, clock, next_hung_at, day):
    _train(cast, LAST_NIGHT, "P-1", 22 * 60, NIGHT)
    if next_hung_at is not None:
        _train(cast, TODAY, "P-2", next_hung_at, NIGHT)
    now = datetime.fromisoformat(f"2026-11-26T{clock}").replace(tzinfo=ZoneInfo(cast.site.zone))
    assert day_in_hand(cast.survey, now) == day
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)
    planned = phone.get("/api/v1/pack/demo").json()["planned_for"]
    assert planned == (day.isoformat() if day == LAST_NIGHT or next_hung_at is not None else "")


def test_a_day_shift_is_no_longer_in_hand_at_midnight(cast):
    _train(cast, LAST_NIGHT, "P-1", 6 * 60, NIGHT)
    midnight = datetime(2026, 11, 26, 0, 0, tzinfo=ZoneInfo(cast.site.zone))
    assert day_in_hand(cast.survey, midnight) == TODAY


def test_a_port_planned_for_a_short_term_task_has_its_methods(phone, cast):
    """A plan counts such a question apart from the full shift of the same agent, so its agent carries both."""
    kind = TOLUENE | {"agents": ["toluene, short term (filling)"], "purpose": "short term", "task": "filling"}
    _train(cast, date(2026, 11, 25), "P-1", 360, kind)
    (train,) = phone.get("/api/v1/pack/demo?on=2026-11-25").json()["trains"]
    assert [port["methods"] for port in train["ports"]] == [["1501-toluene"]]


def test_what_the_pack_judges_by_are_measures_there_are():
    assert set(IN_THE_FIELD) <= set(MEASURES)


def test_the_pack_is_small(phone):
    assert len(json.dumps(phone.get("/api/v1/pack/demo").json())) < 60_000

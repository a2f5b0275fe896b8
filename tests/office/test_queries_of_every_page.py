"""Every page asks the database as often for a large site as for a small one."""

import sys
from datetime import date
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from grown_survey import grow

sys.path.append(str(Path(__file__).parents[1] / "browser"))

from office_server import make_accounts, make_devices, plan_a_survey
from pages import PAGES
from parcels_and_files import fill

from lapel.exchange.delivered_records import keep_delivered
from lapel.records.append import Unreadable, append
from lapel.records.devices import pair_device
from lapel.records.models import (
    EarlierCertificate,
    EarlierPlace,
    ExposureGroup,
    Membership,
    Meter,
    Pump,
    Recommendation,
    ReviewComment,
    Splitter,
    Survey,
    Telling,
    Worker,
    WorkerName,
)

MANY = 6
OPEN = [(name, path, who) for name, path, who in PAGES if who]


@pytest.fixture
def works(hard):
    """The site of the browser tests: everything every page shows is there."""
    make_devices(hard)
    make_accounts(hard)
    plan_a_survey(hard.lead)
    fill(hard)
    keep_earlier(hard, date(2000, 1, 1))  # the first of a kind may ask once more, the next must not
    return hard


def keep_earlier(works, on):
    """Let every meter have one certificate more, and every worker one group."""
    for meter in works.site.meters.all():
        EarlierCertificate.objects.create(meter=meter, certificate="C", certified_on=on)
    for worker in works.site.workers.all():
        EarlierPlace.objects.create(worker=worker, group=worker.group, since=on)


def make_large(works):
    """Add more of all that pages list to a site, its people and its surveys, and sample a survey again and again."""
    site, survey, planned = works.site, works.survey, Survey.objects.get(code="planned")
    group = site.groups.first()
    ExposureGroup.objects.bulk_create(ExposureGroup(site=site, code=f"GX-{n}", name=f"Group {n}") for n in range(MANY))
    Worker.objects.bulk_create(Worker(site=site, code=f"WX-{n}", group=group) for n in range(MANY))
    for number in range(MANY):
        worker = Worker.objects.get(site=site, code=f"WX-{number}")
        WorkerName.objects.create(worker=worker, name=f"Invented Name {number}")
        member = User.objects.create_user(f"member-{number}")
        Membership.objects.create(user=member, site=site, role="technician")
        Pump.objects.create(site=site, code=f"PX-{number}")
        Splitter.objects.create(site=site, code=f"DX-{number}", ports="A B")
        Meter.objects.create(site=site, code=f"MX-{number}", kind="burette")
        pair_device(site, code=f"phone-x{number}", user=works.lead)
        ReviewComment.objects.create(survey=survey, about="G-101", words="Why?", person="reviewer", at=timezone.now())
        Recommendation.objects.create(survey=survey, rung="engineer", action=f"Fit hood {number}")
        Telling.objects.create(
            survey=survey, worker=worker, how="letter", on=date(2026, 11, 20), person="lead", input_sha256="0" * 64
        )
        keep_delivered(survey, f"again-{number}.csv", f"sample,mass\nG-{number},1\n".encode(), by=works.lead)
        Survey.objects.create(
            site=site, code=f"more-{number}", title="One more", assessed_on=survey.assessed_on, rule_book="niosh"
        )
    for _ in range(MANY):
        make_accounts(works)
    for day in range(1, 4):
        keep_earlier(works, date(2001, 1, day))
    append([Unreadable({"id": f"many-{n}", "at": "today"}, ()) for n in range(MANY)], survey=survey)
    row = planned.planned_trains.first()
    for number in range(MANY):
        row.pk, row.pump = None, f"X-{number}"
        row.save()
    grow(survey, 4)


def asked_by(client, path):
    """Return the statements of a page that was shown before."""
    client.get(path)
    with CaptureQueriesContext(connection) as asked:
        client.get(path)
    return [one["sql"] for one in asked]


def test_no_page_asks_more_often_of_a_large_site(works, as_person):
    """What one page does for each row shows here, on whichever page it is."""
    people = works.members | {"outsider": works.outsider}

    def counted():
        return {name: len(asked_by(as_person(people[who]), path)) for name, path, who in OPEN}

    small = counted()
    make_large(works)
    large = counted()
    assert len(small) > 70
    assert {name: (small[name], large[name]) for name in small if large[name] > small[name]} == {}

"""For a stranger nothing exists; a member does what the role allows and nothing else."""

import re
from pathlib import Path

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.http import Http404
from django.test.utils import CaptureQueriesContext
from folders import EXAMPLES
from log_entries import LATER
from people import OUTSIDE, ROLES, everyone

from lapel.exchange.record_transfer import import_survey
from lapel.records import access, models
from lapel.records.models import Device, WorkerName

pytestmark = pytest.mark.django_db


@pytest.fixture
def people():
    return everyone("hard")


def doors(survey):
    """Every function that lets someone in, on one record of each kind."""
    site = survey.site
    worker = site.workers.first()
    WorkerName.objects.create(worker=worker, name="Ottoline Featherwick (invented)")
    Device.objects.create(site=site, code="phone-3")
    models.PlanTerms.objects.create(survey=survey)
    models.PlanQuestion.objects.create(survey=survey, code="Q1", agent=survey.agents.first(), purpose="full shift")
    train = models.PlannedTrain.objects.create(
        survey=survey, day="2026-10-29", worker=worker, pump="P-01", technician="TA", hang_at_min=300
    )
    comment = models.ReviewComment.objects.create(survey=survey, about="G-101", words="why?", person="x", at=LATER)
    thing = models.Recommendation.objects.create(survey=survey, rung="engineer", action="Fit a hood")
    signature = models.Signature.objects.create(
        survey=survey, role="author", person="x", statement="true", signed_at=LATER, kernel_version="1",
        input_sha256="0" * 64, sha256="0" * 64, snapshot=b"x",
    )  # fmt: skip
    form = models.CustodyForm.objects.create(
        survey=survey, parcel="K-1", issue=1, made_at=LATER, made_by="x", data="{}", pdf=b"x", sha256="0" * 64
    )
    original = models.OriginalFile.objects.create(survey=survey, sha256="0" * 64, content=b"x")
    delivered = models.DeliveredFile.objects.create(
        survey=survey,
        name="r.csv",
        original=original,
        uploaded_at=LATER,
        uploaded_by=models.Membership.objects.first().user,
    )
    search = models.PlanSearch.objects.create(survey=survey, seconds=30)
    paper = models.KeptDocument.objects.create(
        survey=survey, file="summary.pdf", kind="summary", sha256="0" * 64, input_sha256="0" * 64,
        made_at=LATER, made_by="x", content=b"x",
    )  # fmt: skip
    return {
        "site": lambda who, to: access.site_for(who, site.code, to=to),
        "group": lambda who, to: access.group_for(who, site.code, site.groups.first().code, to=to),
        "worker": lambda who, to: access.worker_for(who, site.code, worker.code, to=to),
        "worker_name": lambda who, to: access.worker_name_for(who, site.code, worker.code, to=to),
        "membership": lambda who, to: access.membership_for(who, site.code, "viewer", to=to),
        "device": lambda who, to: access.device_for(who, "phone-3", to=to),
        "pump": lambda who, to: access.pump_for(who, site.code, "P-01", to=to),
        "splitter": lambda who, to: access.splitter_for(who, site.code, "TR-1", to=to),
        "meter": lambda who, to: access.meter_for(who, site.code, "M-1", to=to),
        "survey": lambda who, to: access.survey_for(who, survey.code, to=to),
        "agent": lambda who, to: access.agent_for(who, survey.code, "toluene", to=to),
        "limit": lambda who, to: access.limit_for(who, survey.code, survey.limits.first().pk, to=to),
        "method": lambda who, to: access.method_for(who, survey.code, "1501-toluene", to=to),
        "lot": lambda who, to: access.lot_for(who, survey.code, "CH-7715", to=to),
        "shift": lambda who, to: access.shift_for(who, survey.code, "S-01", to=to),
        "sample": lambda who, to: access.sample_for(who, survey.code, "G-101", to=to),
        "report": lambda who, to: access.report_for(who, survey.code, "GA-4821", to=to),
        "result": lambda who, to: access.result_for(who, survey.code, survey.results.first().pk, to=to),
        "override": lambda who, to: access.override_for(who, survey.code, survey.overrides.first().pk, to=to),
        "planned_train": lambda who, to: access.planned_train_for(who, survey.code, train.pk, to=to),
        "plan_search": lambda who, to: access.plan_search_for(who, survey.code, search.pk, to=to),
        "question": lambda who, to: access.question_for(who, survey.code, "Q1", to=to),
        "plan_terms": lambda who, to: access.plan_terms_for(who, survey.code, to=to),
        "comment": lambda who, to: access.comment_for(who, survey.code, comment.pk, to=to),
        "recommendation": lambda who, to: access.recommendation_for(who, survey.code, thing.pk, to=to),
        "signature": lambda who, to: access.signature_for(who, survey.code, signature.pk, to=to),
        "kept_document": lambda who, to: access.kept_document_for(who, survey.code, paper.pk, to=to),
        "custody_form": lambda who, to: access.custody_form_for(who, survey.code, form.pk, to=to),
        "delivered_file": lambda who, to: access.delivered_file_for(who, survey.code, delivered.pk, to=to),
        "entry": lambda who, to: access.entry_for(who, survey.code, survey.entries.first().entry_id, to=to),
    }


def test_every_door_of_the_module_is_tried_here(people):
    there = {name.removesuffix("_for") for name in vars(access) if name.endswith("_for")}
    assert set(doors(people.survey)) == there


@pytest.mark.parametrize("who", [*OUTSIDE, "nobody"])
def test_for_a_stranger_no_record_of_any_kind_exists(people, who):
    stranger = AnonymousUser() if who == "nobody" else people.users[who]
    for door in doors(people.survey).values():
        for act in access.ACTS:
            with pytest.raises(Http404):
                door(stranger, act)
    assert list(access.surveys_of(stranger)) == []
    assert people.site not in access.sites_of(stranger)
    assert access.acts_of(stranger, people.site) == frozenset()


@pytest.mark.parametrize("role", ROLES)
def test_a_member_may_do_what_the_role_allows_and_is_told_which_role_the_rest_takes(people, role):
    member = people.users[role]
    for door in doors(people.survey).values():
        for act, roles in access.ROLES.items():
            if role in roles:
                assert door(member, act).pk is not None
            else:
                with pytest.raises(PermissionDenied, match="takes the role lead hygienist"):
                    door(member, act)
    assert access.acts_of(member, people.site) == {act for act, roles in access.ROLES.items() if role in roles}
    assert list(access.surveys_of(member)) == [people.survey]
    assert list(access.sites_of(member)) == [people.site]


def test_what_is_not_there_looks_like_what_is_not_theirs(people):
    for code in (people.survey.code, "no-such-survey"):
        with pytest.raises(Http404, match="There is nothing here"):
            access.survey_for(people.neighbour, code)


def test_only_leads_see_names(people):
    assert access.ROLES["name"] == {"lead"}
    assert access.ROLES["manage"] == {"lead"}


def test_letting_someone_in_takes_one_query_with_the_site(people):
    survey, site = people.survey.code, people.site.code
    for door in (
        lambda: access.survey_for(people.lead, survey).site,
        lambda: access.sample_for(people.lead, survey, "G-101", to="plan").shift.worker,
        lambda: access.pump_for(people.lead, site, "P-01").site,
        lambda: access.report_for(people.lead, survey, "GA-4821").survey.site,
    ):
        with CaptureQueriesContext(connection) as queries:
            door()
        assert len(queries) == 1


def test_no_other_module_asks_for_a_survey_by_its_code():
    """Pages get records through this module only: no view looks a record up itself."""
    office = Path(access.__file__).parents[1] / "office"
    found = [
        f"{path.relative_to(office)}: {line.strip()}"
        for path in office.rglob("*.py")
        for line in path.read_text(encoding="utf-8").splitlines()
        if re.search(r"\.objects\.(get|filter)\([^)]*code=", line) or "get_object_or_404" in line
    ]
    assert found == []


def test_a_survey_of_another_site_stays_unseen_by_members_of_the_first(people):
    other = import_survey(EXAMPLES / "small").survey
    with pytest.raises(Http404):
        access.survey_for(people.lead, other.code)


def test_the_page_of_roles_says_what_the_code_does():
    page = (Path(__file__).parents[2] / "docs/reference/roles.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\w+) \| (.+?) \| (.+?) \| (.+?) \| (.+?) \| (.+?) \|$", page, re.MULTILINE)
    told = {
        act: (words, {role for role, mark in zip(ROLES, marks, strict=True) if mark == "yes"})
        for act, words, *marks in rows
        if act in access.ACTS
    }
    assert told == {act: (access.ACTS[act], set(access.ROLES[act])) for act in access.ACTS}


def test_every_kind_of_record_has_its_door():
    """Every model of records is reached by one function here, or is part of one that is."""
    reached_otherwise = {"LogEntry": "entry", "LimitChoice": "limit", "MediaLot": "lot", "SampleOrder": "sample"}
    reached_otherwise |= {"ExposureGroup": "group", "LaboratoryReport": "report", "LaboratoryResult": "result"}
    reached_otherwise |= {"FindingOverride": "override", "WorkerName": "worker_name"}
    reached_otherwise |= {"EarlierCertificate": "meter", "EarlierPlace": "worker"}
    reached_otherwise |= {"DevicePairing": "device", "DeviceContact": "device"}
    reached_otherwise |= {"PlannedTrain": "planned_train", "PlanSearch": "plan_search", "PlanQuestion": "question"}
    reached_otherwise |= {"PlanTerms": "plan_terms"}
    reached_otherwise |= {"ReviewComment": "comment", "CustodyForm": "custody_form", "DeliveredFile": "delivered_file"}
    reached_otherwise |= {"OriginalFile": "delivered_file", "LaboratoryLayout": "survey", "Telling": "survey"}
    reached_otherwise |= {"ReportTerms": "survey", "ReportText": "survey"}
    reached_otherwise |= {"FileBesideReport": "report", "KeptDocument": "kept_document", "Letterhead": "site"}
    # whole tables of a plan, read and written with their survey
    tables = ("AcceptedArea", "OfferedShift", "PlanLaboratory", "PlanMedium", "PlanTechnician", "PlanWorker", "Product")
    reached_otherwise |= dict.fromkeys(tables, "survey")
    through_the_log = {"Delivery", "RefusedEntry", "RefusalSettlement"}
    reached = through_the_log | {"AccountChange", "ActCount", "SignedIn"}  # those of one's own account
    missing = [
        name
        for name in models.__all__
        if name not in reached and not hasattr(access, f"{reached_otherwise.get(name, name.lower())}_for")
    ]
    assert missing == []

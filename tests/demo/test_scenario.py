"""The demonstration can be loaded anywhere, any number of times, and nowhere near real records."""

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied
from django.http import Http404

from lapel.assessment.recorded_survey import recorded_survey
from lapel.assessment.survey import assess
from lapel.demo.folders import PACKAGED, REPOSITORY, example_folder
from lapel.demo.scenario import BELT_WORKS, HULL_WORKSHOP, PEOPLE, WORKER_NAMES, ServerInUse, load_demonstration
from lapel.exchange import read_survey
from lapel.exchange.assessment_json import assessment_as_data
from lapel.records import models
from lapel.records.access import acts_of, survey_for
from lapel.records.models import LogEntry, Membership, Site, Survey
from lapel.records.names import names_on

pytestmark = pytest.mark.django_db


def counts():
    return {name: getattr(models, name).objects.count() for name in models.__all__} | {"User": User.objects.count()}


def test_there_is_someone_of_every_role_and_someone_of_none():
    load_demonstration()
    assert set(Membership.objects.values_list("role", flat=True)) == set(Membership.Role)
    wanderley = User.objects.get(username="wanderley")
    for survey in Survey.objects.all():
        with pytest.raises(Http404):
            survey_for(wanderley, survey.code)
    for person in PEOPLE:
        for site in Site.objects.all():
            assert bool(acts_of(User.objects.get(username=person.username), site)) == (site.code in person.roles)


def test_loading_again_changes_nothing():
    first = load_demonstration()
    before, entries = counts(), LogEntry.objects.count()
    second = load_demonstration()
    assert (counts(), LogEntry.objects.count()) == (before, entries)
    assert second.surveys == first.surveys
    assert (bool(first.password), second.password) == (True, "")


def test_everyone_signs_in_with_the_password_that_is_told():
    loaded = load_demonstration()
    assert all(user.check_password(loaded.password) for user in User.objects.all())
    assert len(loaded.password) >= 12
    assert not User.objects.filter(is_staff=True).exists()


def test_a_part_that_is_missing_comes_back():
    load_demonstration()
    Membership.objects.filter(user__username="ashgrove").delete()
    load_demonstration()
    assert Membership.objects.get(user__username="ashgrove").role == Membership.Role.REVIEWER


def test_its_figures_are_those_of_the_examples():
    loaded = load_demonstration()
    for survey, example in zip(loaded.surveys, ("hard", "small"), strict=True):
        on_record = assessment_as_data(assess(recorded_survey(survey)))
        in_folder = assessment_as_data(assess(read_survey(example_folder(example))))
        assert [sample["concentration"] for sample in on_record["samples"]] == [
            sample["concentration"] for sample in in_folder["samples"]
        ]


def test_every_worker_has_a_name_that_only_leads_see():
    load_demonstration()
    lead, technician = (User.objects.get(username=name) for name in ("thornquist", "kestrelby"))
    for site in (BELT_WORKS, HULL_WORKSHOP):
        assert names_on(lead, site) == WORKER_NAMES[site]
        assert set(WORKER_NAMES[site]) == set(Site.objects.get(code=site).workers.values_list("code", flat=True))
    with pytest.raises(PermissionDenied):
        names_on(technician, BELT_WORKS)


def test_a_server_in_use_is_left_alone():
    User.objects.create_user("somebody-real")
    before = counts()
    with pytest.raises(ServerInUse, match="1 people and 0 surveys"):
        load_demonstration()
    assert counts() == before


def test_an_example_that_is_nowhere_says_where_it_was_looked_for():
    with pytest.raises(FileNotFoundError, match="neither in"):
        example_folder("no-such-example")
    assert example_folder("hard") in (PACKAGED / "hard", REPOSITORY / "hard")

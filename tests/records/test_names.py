"""Names stand apart: leads see them, nothing exported holds one."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from people import everyone

from lapel.assessment.recorded_survey import recorded_survey
from lapel.exchange.record_export import export_survey
from lapel.records.audit import history_of
from lapel.records.models import WorkerName
from lapel.records.names import forget_name, name_key, name_worker, names_on

pytestmark = pytest.mark.django_db

NAME = "Ottoline Featherwick"


@pytest.fixture
def people():
    people = everyone()
    name_worker(people.lead, people.site.code, "W-1", f"  {NAME} ", reason="came with the list of the shift")
    return people


def test_a_lead_sees_names_by_code(people):
    assert names_on(people.lead, people.site.code) == {"W-1": NAME}


def test_the_servers_log_keeps_who_looked_names_up_and_none_of_the_names(people, caplog):
    caplog.set_level("INFO")
    name_key(people.lead, people.site.code)
    (said,) = [record.getMessage() for record in caplog.records if record.name == "lapel.records.names"]
    assert said == f"worker names of {people.site.code!r} given to 'lead'"
    with pytest.raises(PermissionDenied):
        names_on(people.users["viewer"], people.site.code)
    assert len([record for record in caplog.records if record.name == "lapel.records.names"]) == 1
    assert "Ottoline" not in caplog.text


@pytest.mark.parametrize("role", ["technician", "reviewer", "viewer"])
def test_no_other_role_sees_or_sets_a_name(people, role):
    member = people.users[role]
    for attempt in (
        lambda: names_on(member, people.site.code),
        lambda: name_key(member, people.site.code),
        lambda: name_worker(member, people.site.code, "W-2", "Somebody Else"),
        lambda: forget_name(member, people.site.code, "W-1", reason="no"),
    ):
        with pytest.raises(PermissionDenied, match="lead hygienist"):
            attempt()
    assert WorkerName.objects.get().name == NAME


@pytest.mark.parametrize("who", ["neighbour", "administrator", "left", "locked"])
def test_for_a_stranger_there_are_no_names(people, who):
    with pytest.raises(Http404):
        names_on(people.users[who], people.site.code)


def test_an_export_holds_no_name_anywhere(people, tmp_path):
    export_survey(people.survey, tmp_path / "out")
    files = [path for path in (tmp_path / "out").rglob("*") if path.is_file()]
    assert len(files) > 20
    for path in files:
        for part in NAME.split():
            assert part.encode() not in path.read_bytes(), path
    assert NAME not in repr(recorded_survey(people.survey))


def test_a_lead_who_asks_gets_the_key_as_a_file_of_its_own(people):
    assert name_key(people.lead, people.site.code) == f"code,name\nW-1,{NAME}\n"


def test_a_name_changed_keeps_who_changed_it_and_why(people):
    name_worker(people.lead, people.site.code, "W-1", "Ottoline Marsh", reason="married")
    changes = history_of(WorkerName.objects.get())
    assert [(change.act, change.who, change.reason) for change in changes] == [
        ("made", "lead", "came with the list of the shift"),
        ("changed", "lead", "married"),
    ]
    assert [(part.before, part.after) for part in changes[1].fields] == [(NAME, "Ottoline Marsh")]


def test_a_forgotten_name_is_gone_from_its_history_too_and_the_act_stays(people):
    name_worker(people.lead, people.site.code, "W-1", "Ottoline Marsh", reason="married")
    forget_name(people.lead, people.site.code, "W-1", reason="asked for by the worker")
    assert not WorkerName.objects.exists()
    assert set(WorkerName.history.values_list("name", flat=True)) == {""}
    last = WorkerName.history.first()
    assert (last.history_type, last.history_user, last.history_change_reason) == (
        "-",
        people.lead,
        "asked for by the worker",
    )


@pytest.mark.parametrize("text", ["", "   ", "x" * 201])
def test_what_is_no_name_is_refused(people, text):
    with pytest.raises(ValueError, match="1 to 200 signs"):
        name_worker(people.lead, people.site.code, "W-2", text)

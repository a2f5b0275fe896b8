"""The published interface is the one that answers, and whatever is sent to it, the server does not break."""

import json
from pathlib import Path

import pytest
import schemathesis
from django.contrib.auth.models import User
from django.core.handlers.wsgi import WSGIHandler
from hypothesis import HealthCheck, Phase, settings
from log_entries import a_survey, notes
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from lapel.field.api import api
from lapel.fieldlog import KINDS, entry_record
from lapel.records.append import append
from lapel.records.devices import pair_device
from lapel.records.models import LogEntry

PUBLISHED = Path(__file__).parents[2] / "docs" / "reference" / "schemas" / "sync-api.openapi.json"
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
schema = schemathesis.openapi.from_dict(json.loads(PUBLISHED.read_text(encoding="utf-8")))
schema.app = WSGIHandler()


@pytest.fixture
def key(db):
    survey = a_survey()
    _, key = pair_device(survey.site, code="phone-1", user=User.objects.create(username="lead"))
    append(notes(5), survey=survey)
    return key


def with_key(case, key):
    """Instead of whatever key was generated."""
    for name in [name for name in case.headers or {} if name.lower() == "authorization"]:
        del case.headers[name]
    case.headers = {**(case.headers or {}), "Authorization": f"Bearer {key}"}


def test_the_published_interface_is_the_one_that_answers():
    assert json.loads(PUBLISHED.read_text(encoding="utf-8")) == json.loads(json.dumps(api.get_openapi_schema())), (
        "run: python docs/make_sync_api.py"
    )


def test_the_page_about_the_interface_names_every_address_and_answer():
    page = (PUBLISHED.parents[1] / "sync-api.md").read_text(encoding="utf-8")
    for path, methods in api.get_openapi_schema()["paths"].items():
        assert path.replace("{survey}", "SURVEY") in page
        for method in methods.values():
            assert all(str(code) in page for code in method["responses"])


def test_every_kind_of_entry_is_in_the_interface():
    text = PUBLISHED.read_text(encoding="utf-8")
    assert all(f'"{kind}"' in text for kind in KINDS)


@schema.parametrize()
@settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_whatever_is_sent_the_server_does_not_break_and_answers_as_published(case, key):
    with_key(case, key)
    case.call_and_validate(checks=CHECKS)


@schema.exclude(path="/api/v1/pair").parametrize()
@settings(
    max_examples=10, deadline=None, derandomize=True, phases=[Phase.generate], suppress_health_check=list(HealthCheck)
)
def test_whatever_is_sent_without_a_key_is_turned_away(case, db):
    with_key(case, "lapel_unknown")
    assert case.call().status_code in (401, 404, 405)


@schema.include(method="POST").parametrize()
@settings(
    max_examples=60, deadline=None, derandomize=True, phases=[Phase.generate], suppress_health_check=list(HealthCheck)
)
def test_whatever_entries_are_sent_to_a_survey_that_is_there_the_server_does_not_break(case, key):
    """Past the door of the survey, where generated names seldom lead."""
    if isinstance(case.body, dict):
        good = [entry_record(entry) for entry in notes(1, first=6)]
        entries = case.body.get("entries")
        case.body = {"survey": "V-1", "entries": [*good, *(entries if isinstance(entries, list) else [entries])][:200]}
    with_key(case, key)
    before = LogEntry.objects.count()
    answer = case.call()
    assert answer.status_code in (200, 400, 413, 422)
    assert LogEntry.objects.count() - before == (len(answer.json()["confirmed"]) if answer.status_code == 200 else 0)

"""A recorded survey as the data an assessment takes."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from folders import EXAMPLES
from people import everyone

from lapel.assessment.recorded_survey import recorded_survey, with_input_hash
from lapel.assessment.survey import assess
from lapel.exchange import read_survey
from lapel.exchange.record_transfer import import_survey
from lapel.records.append import append, append_correction
from lapel.records.models import LaboratoryResult, Meter, Site, Survey


def test_as_many_queries_for_a_survey_of_any_size(fresh_sqlite):
    counts = set()
    for name in ("small", "hard"):
        survey = import_survey(EXAMPLES / name).survey
        counts.add(_queries(survey))
    copies = [_copy_of(result, number) for number in range(500) for result in survey.results.all()[:10]]
    LaboratoryResult.objects.bulk_create(copies)
    entries = [
        replace(entry, id=f"{entry.id}-{n}", sequence=0, hash="", previous_hash="", device="paper")
        for n in range(3)
        for entry in read_survey(EXAMPLES / "hard").entries
    ]
    append(entries, survey=survey)
    counts.add(_queries(survey))
    assert counts == {17}
    assert len(recorded_survey(survey).results) > 5000


def _queries(survey):
    survey = Survey.objects.select_related("site").get(pk=survey.pk)
    with CaptureQueriesContext(connection) as queries:
        recorded_survey(survey)
    return len(queries)


def _copy_of(result, number):
    result.pk = None
    result.sampler = f"{result.sampler}-{number}"
    return result


@pytest.mark.django_db
def test_a_device_keeps_its_receipts_and_paper_has_none():
    """When a sheet was typed in says nothing of the clock its times were read from."""
    at = datetime(2027, 1, 1, tzinfo=UTC)
    survey = recorded_survey(import_survey(EXAMPLES / "hard", received_at=at).survey)
    assert {entry.received_at for entry in survey.entries if entry.device == "phone-3"} == {at}
    assert {entry.received_at for entry in survey.entries if entry.device == "paper"} == {None}


def test_the_hash_of_the_records_is_the_same_in_either_database_and_changes_with_any_figure(fresh_database):
    record = import_survey(EXAMPLES / "small").survey
    first = with_input_hash(recorded_survey(record)).input_sha256
    assert with_input_hash(read_survey(EXAMPLES / "small")).input_sha256 == first
    result = record.results.first()
    result.front_ug += 0.001
    result.save()
    assert with_input_hash(recorded_survey(record)).input_sha256 != first


@pytest.mark.django_db
def test_half_an_air_is_no_air():
    people = everyone()
    Site.objects.filter(pk=people.site.pk).update(pressure_kpa=None)
    Meter.objects.update(calibrated_at_k=293.15, calibrated_at_kpa=None)
    survey = recorded_survey(Survey.objects.get(pk=people.survey.pk))
    assert survey.site.air is None
    assert [meter.calibrated_at for meter in survey.meters.values()] == [None]


@pytest.mark.django_db
def test_the_names_of_workers_are_nowhere_in_it():
    people = everyone()
    assert {worker.code for worker in recorded_survey(people.survey).workers.values()} == {"W-1", "W-2"}


@pytest.mark.django_db
def test_a_meter_nobody_registered_is_a_finding_and_an_assumption_and_stops_nothing():
    people = everyone()
    entry = people.survey.entries.filter(kind="flow_read", fields__phase="closing").first()
    append_correction(entry, author=people.technician, reason="read with a borrowed meter", field="meter", value="M-99")
    port = (entry.fields["train"], entry.fields["port"])
    (sample,) = [
        sample
        for sample in assess(recorded_survey(people.survey)).samples
        if sample.run and (sample.run.train, sample.run.port) == port
    ]
    assert sample.volume is not None
    assert any("M-99 is not on the register" in words for words in sample.assumptions)
    assert "certificate-missing" in {finding.rule for finding in sample.standing.findings}

"""Of any record: who, when, from what to what, and why."""

from datetime import UTC, datetime

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext
from people import everyone

from lapel.records.append import append_correction
from lapel.records.audit import FieldChange, entry_history, history_of, history_on, history_within, signed
from lapel.records.models import EarlierPlace, LaboratoryReport, LaboratoryResult, Membership, Pump, Worker

pytestmark = pytest.mark.django_db


@pytest.fixture
def people():
    return everyone()


def test_a_change_says_who_when_from_what_to_what_and_why(people):
    pump = people.site.pumps.get(code="P-12")
    before = datetime.now(UTC)
    pump.flow_max_lpm, pump.remark = 2.5, "does not hold more"
    signed(pump, people.technician, "flow test of the morning").save()
    made, changed = history_of(pump)
    assert (made.act, made.reason) == ("made", "came with the survey folder small")
    assert (changed.act, changed.who, changed.reason) == ("changed", "technician", "flow test of the morning")
    assert changed.fields == (
        FieldChange("remark", "", "does not hold more"),
        FieldChange("flow max lpm", "3.0", "2.5"),
    )
    assert before <= changed.at <= datetime.now(UTC)


def test_what_a_record_points_at_is_named(people):
    shift = people.survey.shifts.get(code="S-1")
    shift.worker = people.site.workers.get(code="W-2")
    signed(shift, people.lead, "sheets exchanged").save()
    assert history_of(shift)[-1].fields == (FieldChange("worker", "W-1", "W-2"),)


def test_a_delivered_file_shows_as_its_size_and_hash(people):
    report = people.survey.laboratoryreports.get()
    report.original = b"another file"
    signed(report, people.lead, "sent again").save()
    (change,) = history_of(report)[-1].fields
    assert change.field == "original"
    assert change.before == f"{len(_first(report))} bytes, SHA-256 {report.sha256}"
    assert change.after.startswith("12 bytes, SHA-256 ")


def _first(report):
    return bytes(LaboratoryReport.history.filter(id=report.pk).last().original)


def test_a_removed_record_is_found_within_its_survey(people):
    result = people.survey.results.first()
    about = str(result)
    signed(result, people.lead, "reported twice").delete()
    last = history_within(people.survey)[-1]
    assert (last.act, last.who, last.reason, last.fields) == ("removed", "lead", "reported twice", ())
    assert about in last.record


def test_the_history_of_a_survey_takes_as_many_queries_however_much_happened(people):
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            found = history_within(people.survey)
        counts.append((len(queries), len(found)))
        for result in LaboratoryResult.objects.all():
            result.remark = "looked at"
            signed(result, people.lead, "").save()
    assert counts[0][0] == counts[1][0]
    assert counts[0][1] < counts[1][1]


def test_the_history_of_a_site_takes_as_many_queries_however_many_people_and_workers(people):
    group, counts = people.site.groups.first(), []
    for size in (1, 20):
        for number in range(size):
            worker = Worker.objects.create(site=people.site, group=group, code=f"W-{size}-{number}")
            EarlierPlace.objects.create(worker=worker, group=group)
            member = User.objects.create_user(f"member-{size}-{number}")
            Membership.objects.create(user=member, site=people.site, role="viewer")
        with CaptureQueriesContext(connection) as queries:
            found = history_on(people.site)
        counts.append(len(queries))
    assert counts[0] == counts[1]
    told = [change.record for change in found]
    for called in (f" W-20-19: {group} from the first day", " member-20-19: viewer"):
        assert any(record.endswith(called) for record in told)


def test_a_member_whose_account_was_deleted_stays_in_the_history(people):
    gone = User.objects.create_user("gone")
    number = Membership.objects.create(user=gone, site=people.site, role="viewer").pk
    gone.delete()
    told = [change for change in history_on(people.site) if change.record == f"membership number {number}"]
    assert [change.act for change in told] == ["made", "removed"]
    assert "no longer there" in told[0].fields[0].after


def test_a_reason_of_two_thousand_signs_is_kept_whole(people):
    pump = Pump.objects.first()
    reason = "".join(f"{number} why; " for number in range(300))[:2000]
    pump.remark = "looked at"
    signed(pump, people.lead, reason).save()
    assert history_of(pump)[-1].reason == reason
    assert len(reason) == 2000


def test_a_reason_longer_than_some_pages_is_refused(people):
    with pytest.raises(ValueError, match="at most 10000 signs; found 10001"):
        signed(Pump.objects.first(), people.lead, "x" * 10_001)


def test_an_entry_shows_its_corrections_and_theirs(people):
    entry = people.survey.entries.filter(kind="flow_read").first()
    said = entry.fields["reading"]
    first = append_correction(entry, author=people.technician, reason="misread", field="reading", value="51.3")
    append_correction(first, author=people.lead, reason="slip in the correction", field="value", value="51.2")
    other = people.survey.entries.filter(kind="flow_read").last()
    append_correction(other, author=people.lead, reason="not this one", withdraw=True)
    recorded, corrected, again = entry_history(entry)
    assert recorded.act == "recorded"
    assert FieldChange("reading", "", said) in recorded.fields
    assert (corrected.act, corrected.who, corrected.reason) == ("corrected", "technician", "misread")
    assert corrected.fields == (FieldChange("reading", said, "51.3"),)
    assert (again.record, again.fields) == (f"entry {first.entry_id}", (FieldChange("value", "51.3", "51.2"),))
    assert [change.act for change in entry_history(other)] == ["recorded", "withdrawn"]

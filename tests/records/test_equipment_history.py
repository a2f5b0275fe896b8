"""What the log tells of pumps and ports: changes of flow, charges, and what falls due."""

from datetime import UTC, date, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from folders import EXAMPLES
from people import everyone

from lapel.assessment.recorded_survey import recorded_survey
from lapel.assessment.survey import assess
from lapel.exchange.record_transfer import import_survey
from lapel.records.append import append_correction
from lapel.records.equipment_history import PortRun, due_dates, equipment_history, port_drift, pump_drift
from lapel.records.models import Meter, Pump, Survey

pytestmark = pytest.mark.django_db


@pytest.fixture
def people():
    return everyone("hard")


def test_the_change_of_a_port_is_that_of_its_readings(people):
    """The README of the hard example: port B of T-102 read about 30.8 mL/min before and 26.1 after, 15 % down."""
    history = equipment_history(people.site)
    (run,) = [run for run in history.runs if (run.train, run.port) == ("T-102", "B")]
    assert run.before_lpm == pytest.approx(0.0308, abs=0.0001)
    assert run.after_lpm == pytest.approx(0.0261, abs=0.0001)
    assert run.change == pytest.approx(-0.15, abs=0.01)
    assert (run.splitter, run.same_meter) == ("DU-1", True)
    assert history.unread == ()


def test_changes_agree_with_the_assessment_where_one_meter_read_in_one_air(people):
    by_port = {(run.train, run.port): run for run in equipment_history(people.site).runs}
    compared = 0
    for sample in assess(recorded_survey(people.survey)).samples:
        for part in sample.segments:
            run = by_port.get((part.segment.train, part.segment.port))
            if run is None or part.change is None or sample.run is None or run.after_at != part.segment.after.at:
                continue
            assert run.change == pytest.approx(part.change, abs=0.004), sample.sampler
            compared += 1
    assert compared > 10


def test_a_tube_change_does_not_count_a_run_twice(people):
    runs = equipment_history(people.site).runs
    keys = [(run.train, run.port, run.before_at, run.after_at) for run in runs]
    assert len(keys) == len(set(keys))
    assert sum((run.train, run.port) == ("T-101", "A") for run in runs) == 1


def test_the_port_that_changed_most_stands_first(people):
    history = equipment_history(people.site)
    first = port_drift(history)[0]
    assert (first.code, first.beyond) == ("DU-1 B", 1)
    assert first.worst_change == pytest.approx(-0.15, abs=0.01)
    assert pump_drift(history)[0].code == "P-02"
    assert [drift.beyond for drift in pump_drift(history, tolerance=0.5)] == [0] * len(pump_drift(history))


def test_drift_of_several_runs_is_their_median_and_recent_ones_are_told_apart():
    def run(number, change):
        at = datetime(2026, 1, number, tzinfo=UTC)
        return PortRun("s", "T-1", "P-1", "D-1", "A", at, at, 0.1, 0.1 * (1 + change), change, True)

    from lapel.records.equipment_history import EquipmentHistory

    changes = [0.0, 0.01, -0.01, -0.02, -0.04, -0.05, -0.06, -0.07]
    history = EquipmentHistory(tuple(run(n, c) for n, c in enumerate(changes, start=1)), {}, {}, ())
    (drift,) = port_drift(history)
    assert drift.median_change == pytest.approx(-0.03)
    assert drift.recent_change == pytest.approx(-0.05)
    assert drift.worst_change == -0.07
    assert drift.beyond == 2


def test_a_corrected_reading_counts_as_corrected(people):
    """The README: a closing reading was typed 81.9, and a correction gives 18.9 as the sheet says."""
    entry = next(e for e in people.survey.entries.filter(kind="flow_read") if e.fields["reading"] == "81.9")
    run = next(
        run
        for run in equipment_history(people.site).runs
        if (run.train, run.port) == (entry.fields["train"], entry.fields["port"])
    )
    assert run.before_lpm == pytest.approx(0.0189, abs=0.0003)
    append_correction(entry, author=people.lead, reason="look again", field="reading", value="20.0")
    again = next(
        run
        for run in equipment_history(people.site).runs
        if (run.train, run.port) == (entry.fields["train"], entry.fields["port"])
    )
    assert again.before_lpm > run.before_lpm


def test_last_charge_and_last_use_are_known_by_pump(people):
    history = equipment_history(people.site)
    assert history.charged["P-02"] == datetime.fromisoformat("2026-10-31T15:00-06:00")
    assert set(history.charged) <= set(history.used)


def test_two_queries_however_many_surveys():
    counts = set()
    for number in range(3):
        survey = import_survey(EXAMPLES / "small").survey
        survey.code, survey.origin = f"survey-{number}", ""
        survey.save()
        with CaptureQueriesContext(connection) as queries:
            history = equipment_history(survey.site)
        counts.add(len(queries))
        assert len({run.survey for run in history.runs}) == number + 1
    assert counts == {2}
    assert Survey.objects.count() == 3
    assert all(len(drift.runs) == 3 for drift in pump_drift(history) if drift.code == "P-11")


def test_certificates_and_services_fall_due(people):
    """The hard example's meters are due on 1 March 2027 (M-1, M-2) and 9 February 2027 (R-5)."""
    Meter.objects.filter(code="M-2").update(due_on=None)
    Pump.objects.filter(code="P-01").update(service_due_on=date(2027, 2, 1))
    Pump.objects.filter(code="P-02").update(service_due_on=date(2027, 2, 1), retired_on=date(2026, 12, 1))
    for code, due_on in (("M-8", date(2027, 2, 1)), ("M-9", None)):  # both out of use
        Meter.objects.create(site=people.site, code=code, kind="burette", due_on=due_on, retired_on=date(2026, 12, 1))
    due = due_dates(people.site, today=date(2027, 2, 10), within_days=30)
    assert [(one.kind, one.code, one.what, one.days_left) for one in due] == [
        ("meter", "M-2", "certificate", None),
        ("pump", "P-01", "service", -9),
        ("meter", "R-5", "certificate", -1),
        ("meter", "M-1", "certificate", 19),
    ]
    assert due_dates(people.site, today=date(2026, 11, 1), within_days=0)[0].code == "M-2"

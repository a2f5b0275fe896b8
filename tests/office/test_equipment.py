"""The register, what falls due, drift over time, and changing it with a history."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from grown_survey import grow
from read_page import text_of

from lapel.office.equipment.showing import TOLERANCE_WORDS, change_cell, drift_cells, suggestion
from lapel.pictures.drift_history import DriftPoint, drift_history
from lapel.records.equipment_history import Drift, PortRun
from lapel.records.models import Meter, Pump, Splitter

REGISTER = "/sites/works/equipment/"


def runs(*changes):
    start = datetime(2026, 1, 5, tzinfo=UTC)
    return tuple(
        PortRun("s", "T-1", "P-1", "D-1", "A", start + timedelta(days=n), start + timedelta(days=n, hours=8), 0.1,
                0.1 * (1 + change), change, True)
        for n, change in enumerate(changes)
    )  # fmt: skip


def drift(*changes, beyond, recent):
    return Drift("P-1", runs(*changes), sorted(changes)[len(changes) // 2], recent, max(changes, key=abs), beyond)


@pytest.mark.parametrize(
    ("changes", "beyond", "recent", "words"),
    [
        ((-0.01, 0.0, 0.01, 0.0), 0, 0.0, "steady"),
        ((-0.08, -0.09, -0.01, -0.07), 3, -0.075, "look at this one first"),
        ((-0.01,) * 6 + (-0.051,) * 3, 3, -0.051, "creeps of late"),
        ((-0.01,) * 6 + (-0.09,), 1, -0.01, "now and then beyond"),
        ((-0.2,), 1, -0.2, "few runs, 1 beyond 5 %"),
        ((-0.01,), 0, -0.01, "few runs"),
    ],
)
def test_a_history_suggests_what_to_look_at_and_few_runs_suggest_little(changes, beyond, recent, words):
    assert suggestion(drift(*changes, beyond=beyond, recent=recent)) == words


@pytest.mark.parametrize(("sign", "printed"), [(-1, "−"), (1, "+")])
def test_every_change_of_a_history_keeps_its_sign(sign, printed):
    """A pump that loses flow and one that gains it are two different troubles."""
    changes = [sign * size for size in (0.08, 0.09, 0.01, 0.07, 0.06)]
    cells = drift_cells(drift(*changes, beyond=4, recent=sign * 0.07), "pump")
    assert (cells["median"], cells["recent"], cells["worst"]) == tuple(f"{printed}{n}.0 %" for n in (7, 7, 9))


def test_the_port_that_lost_flow_stands_first_with_its_change(hard, as_person):
    """G-107 on DU-1 B with P-02: closing 30.8, 30.7, 30.7, after 26.1, 26.1, 26.0 mL/min."""
    page = text_of(as_person(hard.viewer).get(REGISTER))
    before, after = (30.8 + 30.7 + 30.7) / 3, (26.1 + 26.1 + 26.0) / 3
    change = change_cell(after / before - 1)
    assert change == "−15.2 %"
    ports = page.partition("Which port creeps")[2]
    assert re.search(r"Suggests DU-1 B 2 1 of 2 \S+ % \S+ % −15\.2 %", ports)
    pumps = page.partition("Which pump to look at")[2]
    assert re.search(r"Suggests P-02 3 1 of 3", pumps)


def test_a_pump_shows_its_drift_as_a_picture_with_every_run_in_words(hard, as_person):
    body = as_person(hard.viewer).get(REGISTER + "pump/P-02/").content.decode()
    assert "<svg" in body
    assert "2026-10-29, T-102 port B: −15.2 %" in body
    assert 'style="' not in body


def test_overdue_and_missing_certificates_fall_due_first(hard, as_person):
    meter = Meter.objects.get(code="M-1")
    meter.due_on = date(2020, 1, 1)
    meter.save()
    page = text_of(as_person(hard.viewer).get(REGISTER))
    assert re.search(r"M-1 meter, certificate 2020-01-01 overdue by \d+ days", page)


def test_a_technician_changes_a_meter_and_the_version_before_is_kept(hard, as_person):
    client = as_person(hard.technician)
    address = REGISTER + "meter/M-1/change/"
    form = filled(client.get(address))
    form |= {"certificate": "C-2027", "certified_on": "2027-01-04", "due_on": "2028-01-04", "reason": "new certificate"}
    assert client.post(address, form).status_code == 302
    meter = Meter.objects.get(code="M-1")
    assert (meter.certificate, meter.due_on) == ("C-2027", date(2028, 1, 4))
    last = meter.history.first()
    assert (last.history_user, last.history_change_reason) == (hard.technician, "new certificate")
    page = text_of(client.get(REGISTER + "meter/M-1/"))
    assert "new certificate" in page
    assert "Certificate C-2026-0731 → became C-2027" in page
    assert "Largest flow certified, L/min 0.7" in page, "what is new is filled in, and called as on the form"


def test_saving_a_form_as_it_stands_changes_no_value(hard, as_person):
    client = as_person(hard.lead)
    for kind, model in (("pump", Pump), ("splitter", Splitter), ("meter", Meter)):
        for it in model.objects.all():
            before = {f.attname: getattr(it, f.attname) for f in model._meta.concrete_fields}
            address = f"{REGISTER}{kind}/{it.code}/change/"
            assert client.post(address, filled(client.get(address)) | {"reason": "as it stands"}).status_code == 302
            it.refresh_from_db()
            assert {f.attname: getattr(it, f.attname) for f in model._meta.concrete_fields} == before


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"due_on": "2019-01-01", "certified_on": "2020-01-01"}, "Wanted a day after 2020-01-01"),
        ({"range_min_lpm": "3", "range_max_lpm": "1"}, "Wanted more than the smallest, 3 L/min"),
        (
            {"curve_text": "0.1 0.1\n0.1 0.2"},
            "Line 2: found “0.1 0.2”. Wanted flows above 0, the indicated ones rising",
        ),
        ({"curve_text": "0.1"}, "Line 1: found “0.1”. Wanted two numbers"),
        ({"curve_text": "nan 1\n2 inf"}, "Line 1"),
        ({"calibrated_at_k": "20", "calibrated_at_kpa": "101.3"}, "Wanted 200 to 400 K"),
        ({"exponent": "2"}, "Found 2. Wanted 0 to 0.5"),
        ({"reason": ""}, "Wanted the reason in a few words"),
    ],
)
def test_a_wrong_form_says_found_wanted_and_keeps_nothing(hard, as_person, fields, words):
    client = as_person(hard.technician)
    address = REGISTER + "meter/M-1/change/"
    versions = Meter.history.count()
    answer = client.post(address, filled(client.get(address)) | {"reason": "x"} | fields)
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert Meter.history.count() == versions


def test_new_equipment_needs_a_code_of_its_own(hard, as_person):
    client = as_person(hard.technician)
    answer = client.post(REGISTER + "splitter/new/", {"code": "DU-1", "ports": "A B"})
    assert "Found “DU-1”, which is in the register already" in text_of(answer)
    assert client.post(REGISTER + "splitter/new/", {"code": "DU/9", "ports": "b, a"}).status_code == 302
    made = Splitter.objects.get(code="DU/9")
    assert (made.ports, made.site) == ("B A", hard.site)
    assert client.get(REGISTER + "splitter/DU/9/").status_code == 200
    assert "Wanted letters" in text_of(client.post(REGISTER + "splitter/new/", {"code": "Q", "ports": "1 2"}))


@pytest.mark.parametrize("role", ["reviewer", "viewer"])
def test_who_only_reads_cannot_change_equipment(hard, as_person, role):
    client = as_person(hard.members[role])
    assert client.get(REGISTER + "pump/P-01/change/").status_code == 403
    assert client.post(REGISTER + "pump/new/", {"code": "P-77"}).status_code == 403
    assert not Pump.objects.filter(code="P-77").exists()


@pytest.mark.parametrize("path", ["", "pump/P-01/", "pump/P-01/change/", "pump/new/", "meter/M-1/"])
def test_for_an_outsider_there_is_nothing(cast, as_person, path):
    assert as_person(cast.outsider).get(REGISTER + path).status_code == 404


@pytest.mark.parametrize("path", ["balloon/P-01/", "pump/P-404/", "balloon/new/"])
def test_what_is_not_in_the_register_is_not_there(cast, as_person, path):
    assert as_person(cast.lead).get(REGISTER + path).status_code == 404


def test_the_register_asks_the_same_number_of_questions_of_a_large_site(cast, as_person, django_assert_num_queries):
    client = as_person(cast.viewer)
    client.get(REGISTER)
    with CaptureQueriesContext(connection) as small:
        client.get(REGISTER)
    asked = len(small)
    grow(cast.survey, 5)
    Pump.objects.bulk_create(Pump(site=cast.site, code=f"PX-{n}") for n in range(30))
    client.get(REGISTER)
    with django_assert_num_queries(asked):
        client.get(REGISTER)


def test_the_picture_marks_what_is_beyond_the_tolerance_and_what_two_meters_read():
    points = [
        DriftPoint(date(2026, 1, 1), -0.01, "first"),
        DriftPoint(date(2026, 1, 9), -0.12, "second"),
        DriftPoint(date(2026, 1, 20), 0.02, "third", comparable=False),
        DriftPoint(date(2026, 2, 20), -0.9, "fourth"),
    ]
    drawn = drift_history(points, tolerance=0.05, name="P-1", tolerance_words=TOLERANCE_WORDS)
    marks = {mark.words: mark for mark in drawn.marks if getattr(mark, "words", "")}
    assert [marks[name].element for name in ("first", "second", "third", "fourth")] == [
        "circle",
        "path",
        "circle",
        "path",
    ]
    assert marks["third"].fill == "paper"
    assert marks["second"].fill == "over"
    for text in drawn.texts():
        left, top, right, bottom = text.extent()
        assert left >= -0.5
        assert right <= drawn.width + 0.5
        assert top >= -0.5
        assert bottom <= drawn.height + 0.5
    assert "first; second; third; fourth" in drawn.words


def test_a_picture_of_nothing_is_refused():
    with pytest.raises(ValueError, match="at least one run"):
        drift_history([], tolerance=0.05, name="P-1", tolerance_words="5 %")


def filled(answer):
    """What a form on a page would send if it were sent as it stands."""
    form = answer.context["form"]
    found = {}
    for name in form.fields:
        value = form[name].value()
        found[name] = value.isoformat() if isinstance(value, date) else "" if value is None else str(value)
    return found

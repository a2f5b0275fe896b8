"""Histories speak as the pages do: an answer a row, in the words of the form that asked it; nothing left out."""

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from cast import EXAMPLES
from django.contrib.auth.models import User
from read_page import text_of

from lapel.exchange.delivered_records import answer
from lapel.exchange.laboratory.report_map import map_text
from lapel.exchange.record_transfer import import_survey
from lapel.office.audit.telling import in_words
from lapel.office.audit.words import fields_of
from lapel.records import models
from lapel.records.append import append_correction
from lapel.records.audit import _kept_within, history_of, history_on, history_within, signed
from lapel.records.plans import put_in_force

DENVER = ZoneInfo("America/Denver")
HIDDEN = {models.WorkerName, models.RefusalSettlement}
"""Kept, and shown in no history: names are for few, and a settlement stands on the page of its entry."""

OF_PROGRAMS = re.compile(r"""[{}]|\['|\["|\bNone\b|\bTrue\b|\bFalse\b|\d{4}-\d\d-\d\dT\d\d|[a-z]_[a-z]""")
"""What no sentence for people holds: JSON, values of Python, instants of ISO, names of fields."""

KIND = {
    "medium": "charcoal 100/50",
    "agents": ["toluene", "xylene"],
    "methods": ["1501-toluene", "1501-xylene"],
    "minutes": 480.0,
    "samplers": 1,
    "flow_low_lpm": 0.01,
    "flow_high_lpm": 0.02,
    "purpose": "full shift",
    "task": "",
}
PORTS = [{"letter": letter, "flow_lpm": 0.0114, "kind": KIND} for letter in "AB"]


def rows_of(change):
    return [(row.field, row.before, row.after) for row in change.fields]


def last_of(record, zone=DENVER):
    return in_words(history_of(record)[-1:], zone)[0]


@pytest.fixture
def lead(db):
    return User.objects.create_user("lead")


@pytest.fixture
def survey(db):
    """A survey with one agent and one worker: what most of these tests need, and made at once."""
    site = models.Site.objects.create(code="works", name="Works", zone="America/Denver")
    group = models.ExposureGroup.objects.create(site=site, code="COAT", name="Coaters")
    models.Worker.objects.create(site=site, group=group, code="W-1")
    made = models.Survey.objects.create(
        site=site, code="demo", title="Survey", assessed_on=date(2026, 12, 8), rule_book="niosh"
    )
    models.Agent.objects.create(survey=made, code="toluene", name="Toluene")
    return made


def brought_in(survey, lead):
    """A file of the laboratory, kept without reading it."""
    original = models.OriginalFile.objects.create(survey=survey, sha256="0" * 64, content=b"x")
    file = models.DeliveredFile(
        survey=survey, name="AB-26.csv", original=original, uploaded_at=datetime.now(UTC), uploaded_by=lead
    )
    signed(file, lead, "file brought in").save()
    return file


def answered(file, person, **answers):
    file.answers = map_text({"format": "lapel laboratory map 1", **answers})
    signed(file, person, "answered").save()


def test_an_answer_that_was_changed_is_one_row_in_the_words_that_asked_it(as_person, cast):
    delivered = brought_in(cast.survey, cast.lead)
    said = {"units": {"mass": "ug"}, "columns": {"Masse": {"role": "mass"}}}
    answered(delivered, cast.lead, decimal_mark="comma", **said)
    answered(delivered, cast.lead, decimal_mark="point", **said)
    assert rows_of(last_of(delivered)) == [("Mark before the decimals", "comma", "point")]
    page = text_of(as_person(cast.reviewer).get("/surveys/demo/history/"))
    assert "Mark before the decimals comma → became point" in page
    assert "What the column headed “Masse” holds whole mass on the sampler" in page
    assert "decimal_mark" not in page
    assert "{" not in page


def test_answers_taken_back_say_each_what_it_was(survey, lead):
    delivered = brought_in(survey, lead)
    answered(delivered, lead, recovery_corrected_by="nobody", agents={"Toluol": "toluene", "Xylol": ""})
    answered(delivered, lead)
    assert sorted(rows_of(last_of(delivered))) == [
        ("Agent that “Toluol” is", "toluene", ""),
        ("Agent that “Xylol” is", "none of them; not used", ""),
        ("Who divided by the recovery", "nobody yet", ""),
    ]


def test_why_a_file_changed_names_the_question_as_it_was_asked(survey, lead):
    delivered = brought_in(survey, lead)
    for _ in range(2):
        answer(delivered, "columns.Masse#unit", "mg", by=lead)
    reasons = [change.reason for change in history_of(delivered)]
    assert reasons[1:] == ["answered: Unit of the column headed “Masse”", "answered as before"]


def test_an_answer_nobody_has_words_for_is_shown_as_it_is(survey, lead):
    delivered = brought_in(survey, lead)
    answered(delivered, lead, colour={"of": ["ink", 3]}, report={"moon": "full"})
    assert sorted(rows_of(last_of(delivered))) == [
        ("colour", "", '{"of": ["ink", 3]}'),
        ("report.moon", "", "full"),
    ]
    delivered.answers = "no map at all"
    signed(delivered, lead, "damaged").save()
    assert ("How its columns are read", "", "no map at all") in rows_of(last_of(delivered))


def test_of_a_planned_train_only_what_changed_on_a_port_is_told(survey, lead):
    worker = survey.site.workers.first()
    train = models.PlannedTrain(
        survey=survey, day=date(2026, 4, 21), worker=worker, pump="P-11", technician="T-1", hang_at_min=336
    )
    train.ports = PORTS
    signed(train, lead, "by hand").save()
    train.ports = [{**PORTS[0], "flow_lpm": 0.02, "kind": {**KIND, "agents": ["toluene"]}}, PORTS[1]]
    train.hang_at_min = -30
    signed(train, lead, "by hand").save()
    assert rows_of(last_of(train)) == [
        ("Hung at", "05:36", "23:30 (the evening before)"),
        ("Port A: flow", "11.4 mL/min", "20.0 mL/min"),
        ("Port A: agents", "toluene, xylene", "toluene"),
    ]


def test_shares_flows_and_degrees_are_written_as_their_forms_write_them(survey, lead):
    terms = models.PlanTerms(survey=survey, air_temperature_k=303.15, port_min_lpm=0.02, duplicates_share=0.05)
    signed(terms, lead, "").save()
    rows = {label: now for label, _, now in rows_of(last_of(terms))}
    assert rows["Highest air temperature, °C"] == "30"
    assert rows["Lowest flow a port holds, mL/min"] == "20"
    assert rows["Side-by-side duplicates, % of the samples"] == "5"


def test_codes_of_choices_are_told_in_the_words_of_the_choice(survey, lead):
    question = models.PlanQuestion(
        survey=survey, code="Q1", agent=survey.agents.first(), purpose="full shift", test="tolerance 95/95"
    )
    signed(question, lead, "").save()
    rows = {label: now for label, _, now in rows_of(last_of(question))}
    assert rows["Workers of the group"] == "drawn at random"
    assert rows["Or: the test that decides how many"] == "upper tolerance limit: 95th percentile, 95 % sure"


def test_a_shift_begins_by_the_clock_on_the_wall_of_its_site(survey, lead):
    shift = models.OfferedShift(survey=survey, start_offset_min=-360, end_offset_min=-420)
    shift.start = datetime(2026, 11, 1, 4, 0, tzinfo=UTC)  # 22:00 of the evening before, where it is worked
    shift.end = shift.start + timedelta(hours=9)
    signed(shift, lead, "").save()
    told = last_of(shift)
    assert told.record == "shift of 2026-10-31, on offer"
    assert ("Begins", "", "2026-10-31 22:00") in rows_of(told)
    assert ("Ends", "", "2026-11-01 06:00") in rows_of(told), "the clock went back that night"
    assert ("Clock of the site less UTC when it ends", "", "−07:00") in rows_of(told)


def test_a_history_tells_when_by_the_clock_of_the_site(as_person, cast):
    cast.survey.title = "Renamed survey"
    signed(cast.survey, cast.lead, "").save()
    at = cast.survey.history.first().history_date
    page = text_of(as_person(cast.lead).get("/surveys/demo/history/"))
    assert f"{at.astimezone(ZoneInfo(cast.site.zone)):%Y-%m-%d %H:%M:%S} lead" in page
    assert f"{at:%Y-%m-%d %H:%M:%S}" not in page


def test_a_corrected_instant_is_told_by_the_clock_of_the_site(as_person, cast):
    entry = models.LogEntry.objects.filter(survey=cast.survey, kind="flow_read").first()
    append_correction(entry, author=cast.lead, field="at", value="2026-04-21T12:31:00+00:00", reason="watch slow")
    before, after = f"{entry.at.astimezone(ZoneInfo(cast.site.zone)):%Y-%m-%d %H:%M}", "2026-04-21 08:31"
    client = as_person(cast.lead)
    assert cast.site.zone == "America/New_York"
    history = text_of(client.get(f"/surveys/demo/history/entry/{entry.entry_id}/"))
    assert f"When {before} → became {after}" in history
    assert "History of entry flow read, " in history
    assert f"When {after}" in text_of(client.get(f"/surveys/demo/log/{entry.entry_id}/"))


def test_values_that_differ_by_less_than_is_written_are_shown_as_kept(survey, lead):
    terms = models.PlanTerms(survey=survey, duplicates_share=0.05)
    signed(terms, lead, "").save()
    terms.duplicates_share = 0.05 + 1e-16
    signed(terms, lead, "").save()
    ((_, before, after),) = rows_of(last_of(terms))
    assert before != after


def test_every_field_of_every_history_has_a_name_of_its_own():
    shown = {models.Survey, *_kept_within(models.Survey), models.Site, *_kept_within(models.Site)}
    shown |= {models.EarlierCertificate, models.EarlierPlace}
    for model in shown - HIDDEN:
        fields = [field.name for field in model._meta.concrete_fields if not field.primary_key]
        known = fields_of(model)
        assert [name for name in fields if name not in known] == [], model
        labels = [known[name].label for name in fields]
        assert len(set(labels)) == len(labels), model
        assert not [label for label in labels if "_" in label or not label[:1].isupper()], model


@pytest.fixture
def eventful(hard):
    """A survey to which something of every kind happened, with another one that is planned."""
    lead, survey, site = hard.lead, hard.survey, hard.site
    planned = import_survey(EXAMPLES / "plan", survey_code="planned", site_code="lacquer", user=lead).survey
    train = {"day": "2026-06-08", "worker": planned.site.workers.first().code, "pump": "P-31", "technician": "TA"}
    put_in_force(planned, [{**train, "splitter": "", "hang_at_min": 336, "ports": PORTS}], user=lead, reason="by hand")
    now = datetime(2026, 12, 9, 12, 0, tzinfo=UTC)
    for record in (
        models.Recommendation(survey=survey, rung="engineer", action="Enclose the trough"),
        models.ReportText(survey=survey, part="weak", text="Two days of one season."),
        models.ReportTerms(survey=survey, calendar="US-CO", free_days=["2026-12-24"]),
        models.ReviewComment(survey=survey, about="sample G-107", words="Why not void?", person="reviewer", at=now),
        models.Telling(survey=survey, worker=site.workers.first(), how="letter", on=now.date(), person="lead"),
        models.EarlierPlace(worker=site.workers.first(), group=site.groups.first(), job="Joiner"),
        models.Letterhead(site=site, firm="Hygiene", words={"en": {"letter": {"title": "Your results"}}}),
        models.Device(site=site, code="phone-9", name="Phone 9", paired_by=lead, revoked_at=now),
        models.EarlierCertificate(meter=site.meters.first(), certificate="C-1", curve=[[0.1, 0.102], [0.2, 0.203]]),
    ):
        signed(record, lead, "").save()
    return hard, planned


def test_no_history_shows_what_only_programs_read_and_none_leaves_a_field_out(eventful):
    hard, planned = eventful
    plain = [*history_within(hard.survey), *history_within(planned), *history_on(hard.site), *history_on(planned.site)]
    told = in_words(plain, DENVER)
    for before, after in zip(plain, told, strict=True):
        assert {row.of.name for row in after.fields} == {field.of.name for field in before.fields}, before.record
        assert not OF_PROGRAMS.search(after.record), after.record
        for row in after.fields:
            assert not OF_PROGRAMS.search(row.field), row
            assert row.of.name == "mapping" or not OF_PROGRAMS.search(row.before + row.after), row
    assert len({type(change.about) for change in plain}) > 25, "kinds of records something happened to"

"""The list of surveys and the survey's road."""

import re
from dataclasses import replace
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from lapel.office.surveys.facts import facts_of
from lapel.office.surveys.road import RoadFacts, counted, named, road
from lapel.records.append import append_correction
from lapel.records.models import LimitChoice, LogEntry, Meter, SampleOrder

WHOLE = RoadFacts(
    groups=1,
    workers=2,
    agents=("toluene",),
    agents_with_limit=frozenset({"toluene"}),
    limits=1,
    shifts=1,
    ordered=("S-1", "S-2"),
    agents_ordered=frozenset({"toluene"}),
    trains_prepared=frozenset({"T-1"}),
    trains_closed=frozenset({"T-1"}),
    trains_started=frozenset({"T-1"}),
    trains_after=frozenset({"T-1"}),
    fitted=frozenset({"S-1", "S-2"}),
    blanks=frozenset({"B-1"}),
    parcels=1,
    parcelled=frozenset({"S-1", "S-2", "B-1"}),
    handed_over=1,
    reports=1,
    with_results=frozenset({"S-1", "S-2"}),
)


def places(facts):
    return {stage.key: stage.place for stage in road(facts)}


def missing(facts, key):
    return next(stage for stage in road(facts) if stage.key == key).missing


def test_a_survey_with_nothing_in_it_stands_at_its_scope():
    assert places(RoadFacts())["scope"] == "here"
    assert set(list(places(RoadFacts()).values())[1:]) == {"ahead"}


def test_a_survey_with_all_its_results_stands_at_the_judgement():
    found = places(WHOLE)
    assert found["judge"] == "here"
    assert found["report"] == "ahead"
    assert {found[key] for key in ("scope", "plan", "prepare", "field", "dispatch", "results")} == {"done"}


@pytest.mark.parametrize(
    ("change", "key", "words"),
    [
        ({"agents_with_limit": frozenset()}, "scope", "No limit is chosen for toluene."),
        ({"workers": 0}, "scope", "The site has no workers."),
        ({"agents_ordered": frozenset()}, "plan", "No sample is ordered for toluene."),
        ({"trains_closed": frozenset()}, "prepare", "No closing round on T-1."),
        ({"fitted": frozenset({"S-1"})}, "field", "Never fitted: S-2."),
        ({"trains_running": ("T-1",)}, "field", "Running, as far as recorded: T-1."),
        ({"trains_after": frozenset()}, "field", "Flows not read after the run: T-1."),
        ({"refused": 2}, "field", "2 entries the log refused, to be settled by a person."),
        ({"parcelled": frozenset({"S-1", "S-2"})}, "dispatch", "In no parcel: B-1."),
        ({"handed_over": 0}, "dispatch", "No hand-over is recorded."),
    ],
)
def test_what_is_missing_on_a_stage_passed_by_is_said_and_the_stage_is_left_open(change, key, words):
    facts = replace(WHOLE, **change)
    assert missing(facts, key) == [words]
    assert places(facts)[key] == "left open"


def test_a_sample_without_a_result_keeps_the_survey_at_its_results():
    facts = replace(WHOLE, with_results=frozenset({"S-1"}))
    assert missing(facts, "results") == ["No result for S-2."]


def test_flows_are_not_asked_for_while_the_pump_runs():
    facts = replace(WHOLE, trains_running=("T-1",), trains_after=frozenset())
    assert missing(facts, "field") == ["Running, as far as recorded: T-1."]


def test_many_codes_are_named_in_part_and_counted():
    assert named(["a", "b"]) == "a, b"
    assert named([f"S-{n}" for n in range(1, 9)]) == "S-1, S-2, S-3, S-4, S-5 and 3 more"
    assert (counted(0, "sample"), counted(1, "sample"), counted(2, "entry", "entries")) == (
        "no samples",
        "1 sample",
        "2 entries",
    )


def test_the_example_is_counted_as_it_is(cast):
    facts = facts_of(cast.survey, on=date(2026, 12, 1))
    codes = set(SampleOrder.objects.filter(survey=cast.survey).values_list("code", flat=True))
    assert set(facts.ordered) == codes
    assert codes <= facts.fitted
    assert codes <= facts.with_results
    assert facts.trains_started == facts.trains_after
    assert facts.trains_running == ()


def test_an_entry_withdrawn_by_a_correction_counts_no_more(cast):
    fitted = LogEntry.objects.filter(survey=cast.survey, kind="sampler_fitted").first()
    sampler = fitted.fields["sampler"]
    assert sampler in facts_of(cast.survey, on=date(2026, 12, 1)).fitted
    append_correction(fitted, author=cast.lead, withdraw=True, reason="never fitted")
    assert sampler not in facts_of(cast.survey, on=date(2026, 12, 1)).fitted


def test_a_meter_past_its_date_is_named_before_the_pumps_run():
    facts = replace(WHOLE, trains_started=frozenset(), meters_past_due=("M-9",))
    prepare = next(stage for stage in road(facts) if stage.key == "prepare")
    assert prepare.remarks == ["Certificate past its date: M-9. Set no flow with it."]


def test_meters_past_their_date_are_those_in_use(cast):
    Meter.objects.filter(site=cast.site).update(due_on=date(2026, 11, 30))
    assert facts_of(cast.survey, on=date(2026, 11, 30)).meters_past_due == ()
    assert facts_of(cast.survey, on=date(2026, 12, 1)).meters_past_due
    Meter.objects.filter(site=cast.site).update(retired_on=date(2026, 1, 1))
    assert facts_of(cast.survey, on=date(2026, 12, 1)).meters_past_due == ()


def test_a_limit_without_a_source_is_remarked_upon(cast, as_person):
    LimitChoice.objects.filter(survey=cast.survey).update(source=" ")
    page = as_person(cast.viewer).get("/surveys/demo/").content.decode()
    assert "without a source: every verdict against it will say so" in page


def test_the_list_shows_the_surveys_of_ones_sites_with_their_counts(as_person, cast):
    page = as_person(cast.viewer).get("/").content.decode()
    samples = SampleOrder.objects.filter(survey=cast.survey).count()
    assert cast.survey.title in page
    assert re.findall(r'class="number">(\d+)<', page) == [str(samples), str(samples)]


def test_no_stage_links_to_a_page_that_is_not_there(as_person, cast):
    client = as_person(cast.lead)
    page = client.get("/surveys/demo/").content.decode()
    stages = re.findall(r'<div class="stage">.*?</div>', page, re.DOTALL)
    assert len(stages) == 8
    for stage in stages:
        links = re.findall(r'href="([^"]+)"', stage)
        assert all(client.get(link).status_code == 200 for link in links), links
        assert links or "not built yet" in stage


def test_the_road_takes_the_same_number_of_queries_however_large_the_survey(as_person, cast):
    client = as_person(cast.lead)
    client.get("/surveys/demo/")

    def queries():
        with CaptureQueriesContext(connection) as captured:
            client.get("/surveys/demo/")
        return len(captured)

    before = queries()
    shift = cast.survey.shifts.first()
    SampleOrder.objects.bulk_create(
        SampleOrder(survey=cast.survey, shift=shift, code=f"X-{n}", purpose="full shift") for n in range(200)
    )
    assert queries() == before
    assert before < 30

"""Samples, their working, lifting a finding, and shifts against limits."""

import re

import pytest
from at_once import AtOnce
from cast import make_cast
from read_page import text_of

from lapel.assessment.held import held_assessment
from lapel.assessment.survey import assess
from lapel.documents.compose import sample_rows, verdict_rows
from lapel.office.report import making
from lapel.records.models import FindingOverride, Meter

SAMPLES = "/surveys/demo/samples/"
JUDGE = "/surveys/demo/judge/"
BOOKS = JUDGE + "rule-books/"


def test_every_sample_stands_on_the_list_with_the_cells_of_its_assessment(hard, as_person):
    page = text_of(as_person(hard.viewer).get(SAMPLES))
    for row in sample_rows(held_assessment(hard.survey)):
        assert row.sampler in page
        assert row.concentration in page
        assert row.standing in page


def test_the_list_finds_by_worker_port_agent_and_standing(hard, as_person):
    client = as_person(hard.viewer)
    assert "G-107" in text_of(client.get(SAMPLES, {"standing": "void"}))
    assert "G-101" not in text_of(client.get(SAMPLES, {"standing": "void"}))
    by_port = text_of(client.get(SAMPLES, {"find": "t-103"}))
    assert "G-108" in by_port
    assert "G-101" not in by_port
    assert "No sample fits" in text_of(client.get(SAMPLES, {"find": "nobody"}))
    assert client.get(SAMPLES, {"agent": "unobtainium", "page": "banana"}).status_code == 200


def test_a_sample_shows_its_findings_with_source_certainty_and_what_to_do(hard, as_person):
    mine = [one for one in held_assessment(hard.survey).samples if one.sampler == "G-107"]
    page = text_of(as_person(hard.viewer).get(SAMPLES + "G-107/"))
    findings = [finding for sample in mine for finding in sample.standing.findings]
    assert {finding.rule for finding in findings} >= {"flow-change"}
    for finding in findings:
        for words in (finding.title, finding.found, finding.remedy, finding.source):
            assert re.sub(r"\s+", " ", words) in page
        assert not finding.clause_unread or "Nobody has read this clause" in page


def test_the_working_leads_down_to_the_log_entry_of_every_reading(hard, as_person):
    client = as_person(hard.viewer)
    body = client.get(SAMPLES + "G-107/").content.decode()
    (sample,) = [one for one in held_assessment(hard.survey).samples if one.sampler == "G-107"]
    readings = {
        read.entry_id
        for segment in sample.run.segments
        for flow_round in (segment.before, segment.after)
        for read in flow_round.readings
    }
    assert len(readings) == 6
    for entry_id in readings:
        assert f'href="/surveys/demo/log/{entry_id}/"' in body
        assert client.get(f"/surveys/demo/log/{entry_id}/").status_code == 200


def test_every_step_a_working_names_is_on_its_page(hard, as_person):
    body = as_person(hard.viewer).get(SAMPLES + "G-101/").content.decode()
    named = set(re.findall(r'href="#([\w-]+-step-\d+)"', body))
    there = set(re.findall(r'id="([\w-]+-step-\d+)"', body))
    assert named
    assert named <= there


def test_the_standing_under_other_rule_books_stands_side_by_side(hard, as_person):
    page = text_of(as_person(hard.viewer).get(SAMPLES + "G-107/"))
    for book in held_assessment(hard.survey).compared:
        assert book.title in page


def test_a_lead_lifts_a_finding_and_it_stays_in_sight_with_name_and_reason(hard, as_person):
    client = as_person(hard.lead)
    before = {one.sampler: one.standing.level for one in held_assessment(hard.survey).samples}
    assert before["G-107"] == "void"
    answer = client.post(
        SAMPLES + "G-107/lift/flow-change/", {"reason": "The valve was bumped after the run, seen by IT."}
    )
    assert answer.status_code == 302
    override = FindingOverride.objects.get(sampler="G-107", rule="flow-change")
    assert override.person == "lead"
    assert override.history.get().history_user == hard.lead
    after = {one.sampler: one.standing.level for one in held_assessment(hard.survey).samples}
    assert after["G-107"] == "qualified"
    assert {code for code in before if before[code] != after[code]} == {"G-107"}
    page = text_of(client.get(SAMPLES + "G-107/"))
    assert "Lifted by lead: The valve was bumped after the run, seen by IT." in page


def test_a_lifted_finding_counts_again_and_who_lifted_it_is_not_forgotten(hard, as_person):
    client = as_person(hard.lead)
    client.post(SAMPLES + "G-107/lift/flow-change/", {"reason": "The valve was bumped after the run."})
    override = FindingOverride.objects.get(sampler="G-107", rule="flow-change")
    assert client.post(f"{SAMPLES}G-107/restore/{override.pk}/", {"reason": "IT was not there"}).status_code == 302
    assert {one.sampler: one.standing.level for one in held_assessment(hard.survey).samples}["G-107"] == "void"
    acts = list(
        FindingOverride.history.filter(id=override.pk).order_by("history_id").values_list("history_type", flat=True)
    )
    assert acts == ["+", "-"]


@pytest.mark.parametrize("role", ["technician", "reviewer", "viewer"])
def test_only_a_lead_lifts_a_finding(hard, as_person, role):
    client = as_person(hard.members[role])
    answer = client.post(SAMPLES + "G-107/lift/flow-change/", {"reason": "Because I say so, and that is that."})
    assert answer.status_code == 403
    assert not FindingOverride.objects.filter(sampler="G-107", rule="flow-change").exists()
    assert "Lift “" not in text_of(client.get(SAMPLES + "G-107/"))


def test_lifting_without_a_reason_says_what_is_wanted_and_changes_nothing(hard, as_person):
    answer = as_person(hard.lead).post(SAMPLES + "G-107/lift/flow-change/", {"reason": ""})
    assert answer.status_code == 422
    assert "Wanted the reason in a sentence" in text_of(answer)
    assert not FindingOverride.objects.filter(sampler="G-107", rule="flow-change").exists()


def test_a_finding_that_was_not_made_cannot_be_lifted(hard, as_person):
    assert as_person(hard.lead).get(SAMPLES + "G-107/lift/no-such-rule/").status_code == 404


def test_shifts_show_every_verdict_with_its_reason_and_what_would_settle_it(hard, as_person):
    page = text_of(as_person(hard.viewer).get(JUDGE)).casefold()
    rows = verdict_rows(held_assessment(hard.survey))
    assert {row.verdict for row in rows} == {"under", "over", "cannot tell"}
    for row in rows:
        assert row.share.casefold() in page
        assert not row.settles or row.verdict == "over" or re.sub(r"\s+", " ", row.settles).casefold() in page


def test_each_rule_book_stands_beside_the_deciding_one_with_what_an_assessment_by_it_says(hard, as_person, monkeypatch):
    monkeypatch.setattr(making, "_hands", AtOnce())
    client = as_person(hard.viewer)
    assert "rule-books/" in client.get(JUDGE).content.decode()
    pages = [client.get(BOOKS, {"page": number}) for number in (1, 2)]
    assessment = held_assessment(hard.survey)
    assert {page.context["total"] for page in pages} == {len(verdict_rows(assessment))}
    shown = [row for page in pages for row in page.context["page"]]
    assert [row["differs"] for row in shown] == sorted((row["differs"] for row in shown), reverse=True)
    for place, book in enumerate((assessment.rule_book, *assessment.compared)):
        alone = assess(assessment.survey, book=book, compared=())
        stated = {(row["worker"], row["about"], row["limit"]): row["cells"][place][:2] for row in shown}
        for row in verdict_rows(alone):
            if row.share != "–" and (row.worker, row.agent, row.limit) in stated:
                assert stated[row.worker, row.agent, row.limit] == [row.verdict, row.share], book.key
    assert pages[0].context["differing"] == sum(row["differs"] for row in shown) > 0
    assert "not come out alike" in text_of(pages[0])


@pytest.mark.parametrize("path", [SAMPLES, SAMPLES + "G-101/", SAMPLES + "G-101/lift/flow-change/", JUDGE, BOOKS])
def test_for_an_outsider_there_is_nothing(cast, as_person, path):
    assert as_person(cast.outsider).get(path).status_code == 404


def test_a_survey_that_names_an_unknown_meter_says_so_instead_of_showing_figures(hard, as_person):
    Meter.objects.get(code="M-1").delete()
    page = text_of(as_person(hard.viewer).get(SAMPLES))
    assert "Flow meter M-1 is not in the site's register" in page
    assert "Enter it under Equipment" in page


def test_an_assessment_is_worked_anew_when_anything_it_rests_on_changed(cast):
    first = held_assessment(cast.survey)
    assert held_assessment(cast.survey) is first
    limit = cast.survey.limits.all()[0]
    limit.value = limit.value * 2.0
    limit.save()
    second = held_assessment(cast.survey)
    assert second is not first
    assert second.survey.input_sha256 != first.survey.input_sha256
    limit.value = limit.value / 2.0
    limit.save()
    assert held_assessment(cast.survey).survey.input_sha256 == first.survey.input_sha256


def test_pages_show_the_same_on_both_engines(fresh_database, as_person):
    hard = make_cast("hard")
    client = as_person(hard.lead)
    for path in (SAMPLES, SAMPLES + "G-107/", JUDGE, "/surveys/demo/field/", "/surveys/demo/prepare/"):
        assert client.get(path).status_code == 200
    assert "0.482 ± 0.086 mg/m³" in text_of(client.get(SAMPLES + "G-107/"))
    assert client.get("/sites/works/equipment/").status_code == 200
    client.post(SAMPLES + "G-107/lift/flow-change/", {"reason": "The valve was bumped after the run."})
    assert {one.sampler: one.standing.level for one in held_assessment(hard.survey).samples}["G-107"] == "qualified"


def test_every_other_choice_stands_beside_the_verdict_it_gives_those_that_turn_it_first(hard, as_person):
    body = as_person(hard.viewer).get(JUDGE).content.decode()
    lists = re.findall(r'<ul class="choices".*?</ul>', body, re.DOTALL)
    assessment = held_assessment(hard.survey)
    verdicts = [v for result in (*assessment.shifts, *assessment.short_terms) for v in result.verdicts if v.others]
    assert len(lists) == len(verdicts)
    assert sum(text.count("<li") - 1 for text in lists) == sum(len(verdict.others) for verdict in verdicts)
    turning = sum(1 for v in verdicts for other in v.others if other.verdict != v.comparison.verdict)
    assert turning == sum(text.count('class="turns"') for text in lists) > 0
    for text in lists:
        rows = re.findall(r"<li[^>]*>", text)[1:]
        assert rows == sorted(rows, key=lambda row: "turns" not in row)

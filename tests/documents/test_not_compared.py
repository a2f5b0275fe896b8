"""A limit nothing could be held against, and an agent without one: said everywhere, never read as “under”."""

import csv
import io
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from lapel.assessment.follow_up import judged_groups
from lapel.assessment.inputs import LimitChoice
from lapel.assessment.judged_groups import group_questions
from lapel.assessment.results import ShiftResult, SurveyAssessment
from lapel.assessment.survey import assess
from lapel.documents.assessment_record import record_data
from lapel.documents.blocks import Paragraph, VerdictLine
from lapel.documents.letters import LetterFacts, worker_letter
from lapel.documents.limit_sentences import bottom_line, limit_sentences
from lapel.documents.record_workings import samplers_to_look_at
from lapel.documents.report import ReportFacts, survey_report
from lapel.documents.wording import LANGUAGES, wording
from lapel.documents.worker_results import results_by_worker
from lapel.exchange.open_data import verdicts_table
from lapel.exchange.survey_folder import read_survey

EXAMPLES = Path(__file__).parents[2] / "examples"
WHY = "the limit cannot be shortened for a shift of 24 h by brief-scala-day"


@pytest.fixture(scope="module")
def hard() -> SurveyAssessment:
    return assess(read_survey(EXAMPLES / "hard"))


@pytest.fixture(scope="module")
def long_shift(hard: SurveyAssessment) -> tuple[SurveyAssessment, ShiftResult, LimitChoice]:
    """One shift of 24 hours, and one limit that its house shortens for long shifts: no model reaches so far."""
    survey = hard.survey
    limit = next(limit for limit in survey.limits if limit.agent == "mek" and limit.authority == "US-OSHA")
    shortened = replace(limit, extended_shift_model="brief-scala-day")
    shift = survey.shifts["S-04"]
    longer = replace(shift, end=shift.start + timedelta(hours=24))
    changed = assess(
        replace(
            survey,
            limits=tuple(shortened if one is limit else one for one in survey.limits),
            shifts=survey.shifts | {"S-04": longer},
        )
    )
    result = next(one for one in changed.shifts if one.shift.code == "S-04" and one.agent.key == "mek")
    return changed, result, shortened


def named(limit: LimitChoice) -> str:
    return f"{limit.value:g} ppm ({limit.authority} {limit.kind})"


def test_it_happens(long_shift):
    _, result, limit = long_shift
    silent = {one.authority: why for one, why in result.not_compared}
    assert set(silent) == {"US-OSHA", "House"}  # the house shortens its own limit for long shifts already
    assert all(WHY in why for why in silent.values())
    assert limit in [one for one, _ in result.not_compared]


def test_the_first_sentences_and_each_limits_own_say_it(hard, long_shift):
    changed, result, limit = long_shift
    assert "2-Butanone (MEK)" in bottom_line(hard).partition("Below every limit that binds: ")[2]
    unsettled = bottom_line(changed).partition("Not settled for at least one limit that binds: ")[2].partition(". ")[0]
    assert "2-Butanone (MEK)" in unsettled
    assert "2-Butanone (MEK)" not in bottom_line(changed).partition("Below every limit that binds: ")[2]
    start = f"2-Butanone (MEK), {named(limit)}: cannot tell for {result.shift.worker}\u00a0(S-04), because {WHY}"
    assert [one.verdict for one in limit_sentences(changed) if one.words.startswith(start)] == ["cannot tell"]


def test_record_and_report_have_it(long_shift):
    changed, _, limit = long_shift
    (section,) = (one for one in record_data(changed)["shifts"] if one["shift"] == "S-04")
    rows = [row for row in section["rows"] if row["limit"] == named(limit) and row["agent"] == "2-Butanone (MEK)"]
    assert [(row["average"], row["verdict"]) for row in rows] == [("–", "cannot tell")]
    texts = list(survey_report(changed, judged_groups(changed), wording(), ReportFacts()).texts())
    assert any(WHY in text for text in texts)


def test_its_samplers_are_worked_in_the_record_of_a_large_survey(hard):
    quiet = [shift for shift in hard.shifts if not {one.sampler for one in shift.samples} & samplers_to_look_at(hard)]
    (shift, *_) = (one for one in quiet if one.verdicts)
    silent = replace(shift, not_compared=((shift.verdicts[0].limit, WHY),))
    changed = replace(hard, shifts=tuple(silent if one is shift else one for one in hard.shifts))
    assert {sample.sampler for sample in shift.samples} <= samplers_to_look_at(changed)


def test_the_worker_and_the_open_data_are_told(long_shift):
    changed, result, limit = long_shift
    mine = [one for one in results_by_worker(changed)[result.shift.worker] if one.agent == "2-Butanone (MEK)"]
    assert [(one.verdict, one.result) for one in mine if one.limit == named(limit)] == [("cannot tell", "")]
    rows = [row for row in csv.DictReader(io.StringIO(verdicts_table(changed))) if WHY in row["reason"]]
    said = [(row["shift"], row["agent"], row["authority"], float(row["limit"]), row["verdict"]) for row in rows]
    assert ("S-04", "mek", "US-OSHA", limit.value, "cannot tell") in said
    assert len(said) == sum(len(one.not_compared) for one in changed.shifts)


def test_the_group_has_the_shift_among_those_that_cannot_speak(long_shift):
    changed, result, _ = long_shift
    for question in group_questions(changed, binding_only=False):
        if question.agent.key != "mek" or question.group.code != changed.survey.workers[result.shift.worker].group:
            continue
        silent = [(code, WHY in why) for code, _, why in question.left_out if code == "S-04"]
        is_silent = question.limit in [one for one, _ in result.not_compared]
        assert silent == ([("S-04", True)] if is_silent else [])
        assert any(row.shift == "S-04" for row in question.rows) is not is_silent


@pytest.mark.parametrize("language", LANGUAGES)
def test_an_agent_without_a_limit_that_binds_is_no_lost_sample_in_a_letter(hard, language):
    """The sample was good: the letter gives the number, says that nothing binds, and never that it is lost."""
    survey = hard.survey
    recommended = tuple(replace(one, binding=False) if one.agent == "mek" else one for one in survey.limits)
    for limits in (recommended, tuple(one for one in survey.limits if one.agent != "mek")):
        changed = assess(replace(survey, limits=limits))
        (mine,) = (one for one in results_by_worker(changed)["W-04"] if one.agent == "2-Butanone (MEK)")
        assert (mine.verdict, mine.limit, mine.is_lost) == (None, "", False)
        assert bool(mine.result) == (limits is recommended)
        words = wording(language)
        blocks = worker_letter(changed, "W-04", words, LetterFacts()).blocks
        agent = words.told(mine.agent)
        assert words.say("letter.no_limit", agent=agent) in [b.text for b in blocks if isinstance(b, Paragraph)]
        marked = words.texts["letter"]["qualified"].partition("{agents}")[2]
        (qualified,) = (one.text for one in blocks if isinstance(one, Paragraph) and one.text.endswith(marked))
        assert agent in qualified  # its sample was: only part of the shift
        assert words.say("letter.no_result", agent=agent) not in [b.text for b in blocks if isinstance(b, VerdictLine)]


def test_a_lost_sample_is_still_told_as_lost(hard):
    (lost,) = (one for one in results_by_worker(hard)["W-02"] if one.agent == "Formaldehyde")
    assert (lost.verdict, lost.is_lost) == (None, True)
    assert "Formaldehyde: there is no result, because the sample could not be used." in "".join(
        block.text
        for block in worker_letter(hard, "W-02", wording(), LetterFacts()).blocks
        if isinstance(block, VerdictLine)
    )

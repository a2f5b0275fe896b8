"""Groups of a survey: what speaks for them, what it says, and what is proposed."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from lapel.assessment.follow_up import RUNGS, follow_up, group_outcome, months_after
from lapel.assessment.judged_groups import GroupQuestion, GroupRow, group_questions, judged, spread_of_earlier
from lapel.assessment.results import SurveyAssessment
from lapel.assessment.survey import assess
from lapel.exchange.survey_folder import read_survey
from lapel.reference import PACKAGED
from lapel.reference.follow_up import respirators, sample_again
from lapel.statistics import compliance_test, observed
from lapel.statistics.posterior import posterior
from lapel.statistics.priors import SpreadPrior

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def hard() -> SurveyAssessment:
    return assess(read_survey(EXAMPLES / "hard"))


@pytest.fixture(scope="module")
def some_question(hard: SurveyAssessment) -> GroupQuestion:
    return next(q for q in group_questions(hard) if q.rows)


def asked(question: GroupQuestion, lower, upper, *, cv: float = 0.0) -> GroupQuestion:
    """A question with other results, one worker a day."""
    rows = tuple(
        GroupRow(f"S-{n}", f"W-{n}", date(2026, 3, 2) + timedelta(days=n), float(low), float(high), cv)
        for n, (low, high) in enumerate(zip(lower, upper, strict=True))
    )
    return replace(question, rows=rows, left_out=())


def test_every_long_term_verdict_of_the_survey_speaks_once_for_its_group(hard: SurveyAssessment):
    questions = group_questions(hard)
    spoken = sorted((q.agent.key, q.limit.authority, row.shift) for q in questions for row in q.rows)
    wanted = sorted(
        (s.agent.key, v.limit.authority, s.shift.code)
        for s in hard.shifts
        for v in s.verdicts
        if v.limit.kind == "TWA" and v.average is not None
    )
    assert spoken == wanted
    lost = {(s.shift.code, s.agent.key) for s in hard.shifts if not s.verdicts}
    assert {(shift, q.agent.key) for q in questions for shift, _, _ in q.left_out} == lost
    assert lost


def test_a_row_keeps_the_share_of_the_limit_its_shift_was_held_against(hard: SurveyAssessment):
    by_shift = {
        (s.shift.code, s.agent.key, v.limit.authority): v
        for s in hard.shifts
        for v in s.verdicts
        if v.limit.kind == "TWA"
    }
    seen = 0
    for question in group_questions(hard):
        for row in question.rows:
            verdict = by_shift[row.shift, question.agent.key, question.limit.authority]
            if math.isinf(row.upper):
                assert math.isinf(verdict.comparison.ratio_high)
                continue
            assert row.upper / question.limit.value == pytest.approx(verdict.comparison.ratio_high, rel=1e-12)
            seen += 1
    assert seen > 20


def test_what_is_known_only_from_below_or_above_stays_so(hard: SurveyAssessment):
    rows = [row for question in group_questions(hard) for row in question.rows]
    assert any(math.isinf(row.upper) and row.lower > 0 for row in rows)
    assert all(0.0 <= row.lower <= row.upper for row in rows)


def test_a_group_is_judged_as_the_kernel_judges_the_same_numbers(some_question: GroupQuestion):
    drawn = np.random.default_rng(26)
    limit = some_question.limit.value
    for _ in range(20):
        n = int(drawn.integers(3, 12))
        values = limit * np.exp(drawn.normal(math.log(drawn.uniform(0.02, 0.8)), drawn.uniform(0.3, 1.2), n))
        below = values < drawn.uniform(0.01, 0.3) * limit
        lower, upper = np.where(below, 0.0, values), np.where(below, 0.3 * limit, values)
        found = judged(asked(some_question, lower, upper))
        assert found is not None
        rows = observed(lower=lower, upper=upper)
        test = compliance_test(rows, limit)
        assert (found.tests[0].outcome, found.tests[0].words) == (test.outcome, test.words)
        direct = posterior(rows, limit=limit)
        assert found.p95.middle == pytest.approx(float(direct.quantiles("p95", (0.5,))[0][0]), rel=1e-12)


def test_measurement_uncertainty_reaches_the_verdict(some_question: GroupQuestion):
    """Six results of one true value: with an error of 40 % their scatter says less of the spread between shifts."""
    limit = some_question.limit.value
    values = limit * np.array([0.1, 0.16, 0.07, 0.12, 0.21, 0.09])
    exact = judged(asked(some_question, values, values))
    poor = judged(asked(some_question, values, values, cv=0.4))
    assert exact is not None
    assert poor is not None
    assert poor.p95.middle < exact.p95.middle


def test_an_earlier_survey_gives_the_spread_and_never_the_level(some_question: GroupQuestion):
    limit = some_question.limit.value
    drawn = np.random.default_rng(3)
    narrow = limit * np.exp(drawn.normal(math.log(0.9), 0.2, 30))
    earlier = asked(some_question, narrow, narrow).rows
    prior = spread_of_earlier(earlier, limit)
    assert isinstance(prior, SpreadPrior)
    assert prior.median_gsd == pytest.approx(math.exp(0.2), rel=0.08)
    assert "30 results" in prior.source
    now = limit * np.array([0.05, 0.06, 0.05])
    alone, after = judged(asked(some_question, now, now)), judged(asked(some_question, now, now), earlier=earlier)
    assert alone is not None
    assert after is not None
    assert after.p95.high < alone.p95.high
    assert after.p95.middle < 0.15 * limit, "the earlier level, at the limit, must not come in"
    assert spread_of_earlier(earlier[:5], limit) is None


def test_nobody_speaks_no_judgement(some_question: GroupQuestion):
    assert judged(replace(some_question, rows=())) is None


@pytest.mark.parametrize(
    ("shares", "outcome"),
    [
        ((0.02, 0.03, 0.02), "under"),
        ((0.5, 0.6, 1.4), "over"),
        ((0.3, 0.5, 0.2), "cannot tell"),
        ((0.05, 0.06, 0.04, 0.07, 0.05, 0.06), "under"),
        ((0.9, 0.5, 0.95, 0.7, 0.99, 0.3), "over"),
    ],
)
def test_three_words_for_a_group(some_question: GroupQuestion, shares, outcome):
    values = some_question.limit.value * np.array(shares)
    question = asked(some_question, values, values)
    found = judged(question)
    assert found is not None
    assert group_outcome(found) == outcome
    proposed = follow_up(question, found, rule_book="en-iso")
    rungs = [proposal.rung for proposal in proposed.proposals]
    assert rungs == sorted(rungs, key=RUNGS.index)
    assert ("eliminate" in rungs) == (outcome == "over")
    assert all(proposal.reason for proposal in proposed.proposals)
    assert ("protect" in rungs) == (proposed.protection_needed is not None)


def test_a_respirator_is_never_proposed_below_the_factor_needed():
    assert [kind.factor for kind in respirators(11.0)] == [25, 50, 1000]
    assert respirators(5000.0) == ()


@pytest.mark.parametrize("book", PACKAGED)
def test_every_rule_book_has_an_interval_for_every_level_and_it_never_grows_with_exposure(book):
    months = [sample_again(book, share).months for share in (0.05, 0.1, 0.2, 0.3, 0.6, 0.99, 1.01, 30.0)]
    dated = [m for m in months if m]
    assert dated == sorted(dated, reverse=True)
    assert sample_again(book, 0.0) is not None


def test_months_later_is_the_same_day_or_the_months_last():
    assert months_after(date(2026, 11, 30), 3) == date(2027, 2, 28)
    assert months_after(date(2026, 1, 31), 1) == date(2026, 2, 28)
    assert months_after(date(2027, 11, 29), 3) == date(2028, 2, 29)
    assert months_after(date(2026, 5, 4), 36) == date(2029, 5, 4)

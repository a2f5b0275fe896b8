"""A signature speaks of what was signed, shows what moved since, and takes two pairs of eyes."""

from __future__ import annotations

import pytest
from django.utils import timezone

from lapel.assessment.held import held_assessment
from lapel.exchange.signing import NotSigned, sign, signature_as_data, standing_of
from lapel.office.samples.overrides import lift_finding
from lapel.records.models import ReviewComment, Signature

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast(hard):
    return hard


def test_what_is_signed_is_what_the_survey_says_and_stays_so_while_nothing_changes(cast):
    now = held_assessment(cast.survey)
    signature = sign(cast.survey, now, person=cast.lead, role="author")
    assert standing_of(Signature.objects.get(pk=signature.pk), held_assessment(cast.survey)).holds
    assert signature.input_sha256 == now.survey.input_sha256
    assert signature_as_data(signature)["person"] == cast.lead.get_username()


def test_a_lifted_finding_makes_the_signature_outdated_and_names_what_moved(cast):
    signature = sign(cast.survey, held_assessment(cast.survey), person=cast.lead, role="author")
    lift_finding(cast.survey, sampler="G-107", rule="flow-change", by=cast.lead, reason="pump log shows a steady flow")
    standing = standing_of(signature, held_assessment(cast.survey))
    assert not standing.inputs_same
    assert not standing.holds
    moved = [line for line in standing.figures if line.startswith("samples G-107")]
    assert any("signed “void”" in line for line in moved), standing.figures[:5]


def test_a_change_that_moves_no_figure_is_told_apart(cast):
    signature = sign(cast.survey, held_assessment(cast.survey), person=cast.lead, role="author")
    cast.survey.purpose = "the same, said otherwise"
    cast.survey.save()
    standing = standing_of(signature, held_assessment(cast.survey))
    assert not standing.inputs_same
    assert standing.figures_hold


def test_a_review_takes_an_author_another_person_and_answered_comments(cast):
    now = held_assessment(cast.survey)
    with pytest.raises(NotSigned, match="as author yet"):
        sign(cast.survey, now, person=cast.reviewer, role="reviewer")
    sign(cast.survey, now, person=cast.lead, role="author")
    with pytest.raises(NotSigned, match="second pair of eyes"):
        sign(cast.survey, now, person=cast.lead, role="reviewer")
    comment = ReviewComment.objects.create(
        survey=cast.survey, about="G-107", words="Why void?", person="reviewer", at=timezone.now()
    )
    with pytest.raises(NotSigned, match="1 of your comments"):
        sign(cast.survey, now, person=cast.reviewer, role="reviewer")
    comment.answer, comment.answered_at = "The flow fell by 14 %.", timezone.now()
    comment.save()
    assert sign(cast.survey, now, person=cast.reviewer, role="reviewer").role == "reviewer"


def test_a_snapshot_that_was_tampered_with_is_told(cast):
    signature = sign(cast.survey, held_assessment(cast.survey), person=cast.lead, role="author")
    signature.sha256 = "0" * 64
    assert not standing_of(signature, held_assessment(cast.survey)).whole

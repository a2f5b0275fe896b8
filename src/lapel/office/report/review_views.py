"""Review and sign: questions about numbers, their answers, and names under what a survey says."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from typing import Any, cast
from urllib.parse import quote

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from lapel.assessment.held import held_assessment
from lapel.assessment.results import SurveyAssessment
from lapel.documents.compose import headline
from lapel.documents.limit_sentences import bottom_lines
from lapel.exchange.signing import STATEMENTS, NotSigned, SignatureStanding, SigningRole, sign, standing_of
from lapel.office.of_survey import survey_page, with_figures
from lapel.office.report.forms import AnswerForm, CommentForm, SignForm
from lapel.office.report.paper_views import have_kept
from lapel.records.access import acts_of, comment_for, signature_for, survey_for
from lapel.records.audit import signed
from lapel.records.models import ReviewComment, Signature, Survey

MOST_MOVED = 300
"""Figures and sentences named of what moved; of more the others are counted."""
MOST_HELD = 200
"""Standings held at a time; one names every figure that moved."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A signature with whether it still speaks of what the survey says."""

    signature: Signature
    standing: SignatureStanding

    @property
    def words(self) -> str:
        """Its standing in a word or two."""
        if not self.standing.whole:
            return "damaged"
        if self.standing.holds:
            return "holds"
        return "inputs changed" if self.standing.figures_hold else "outdated"

    @property
    def tone(self) -> str:
        """Of its chip."""
        return {"holds": "good", "inputs changed": "care"}.get(self.words, "stop")


_standings: OrderedDict[tuple[str, str, str, str], SignatureStanding] = OrderedDict()
_door = Lock()


def shown_against(signature: Signature, assessment: SurveyAssessment) -> Shown:
    """
    Hold a signature against what the survey says now; worked once for the same two.

    Both are named by their hashes, that of what is stored included, so that a snapshot altered from outside shows.
    """
    stored = hashlib.sha256(bytes(signature.snapshot)).hexdigest()
    key = (stored, signature.sha256, signature.input_sha256, assessment.survey.input_sha256)
    with _door:
        standing = _standings.get(key)
    if standing is None:
        standing = standing_of(signature, assessment)
        with _door:
            _standings[key] = standing
            while len(_standings) > MOST_HELD:
                _standings.popitem(last=False)
    return Shown(signature, standing)


@login_required
@require_safe
@with_figures("review")
def review(request: HttpRequest, survey: str) -> HttpResponse:
    """Show the questions, their answers, and who signed what."""
    record = survey_for(request.user, survey)
    assessment = held_assessment(record)
    comments = list(record.review_comments.all())
    shown = [shown_against(one, assessment) for one in record.signatures.all()]
    context = {
        "open": [_comment(one, record, request) for one in comments if one.answered_at is None],
        "answered": [_comment(one, record, request) for one in comments if one.answered_at is not None],
        "signatures": shown,
        "role": role_of(request, record),
        "now": assessment.survey.input_sha256,
        "headline": headline(assessment),
    }
    return survey_page(request, "report/review.html", record, "review", context)


@login_required
@require_http_methods(["GET", "POST"])
def new_comment(request: HttpRequest, survey: str) -> HttpResponse:
    """Ask about a number or a sentence."""
    record = survey_for(request.user, survey, to="review")
    form = CommentForm(request.POST or None, initial={"about": request.GET.get("about", "")[:300]})
    if request.method == "POST" and form.is_valid():
        by = cast(User, request.user)
        comment = ReviewComment(survey=record, person=by.get_username(), at=timezone.now(), **form.cleaned_data)
        signed(comment, by, "asked").save()
        messages.success(request, "It is asked. It stays open until it is answered.", extra_tags="good")
        return redirect("survey-review", survey=survey)
    context = {"form": form}
    status = 422 if form.errors else 200
    return survey_page(request, "report/comment.html", record, "review", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def answer(request: HttpRequest, survey: str, number: int) -> HttpResponse:
    """Answer a comment, or settle one's own."""
    comment = comment_for(request.user, survey, number, to="review")
    form = AnswerForm(request.POST or None)
    if comment.answered_at is not None:
        messages.error(request, "It is answered already. Ask anew where the answer is not enough.", extra_tags="stop")
        return redirect("survey-review", survey=survey)
    if request.method == "POST" and form.is_valid():
        by = cast(User, request.user)
        comment.answer, comment.answered_by = form.cleaned_data["answer"], by.get_username()
        comment.answered_at = timezone.now()
        signed(comment, by, "answered").save()
        messages.success(request, "The answer is kept.", extra_tags="good")
        return redirect("survey-review", survey=survey)
    context = {"form": form, "one": _comment(comment, comment.survey, request)}
    status = 422 if form.errors else 200
    return survey_page(request, "report/answer.html", comment.survey, "review", context, status=status)


@login_required
@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
@with_figures("review")
def put_name(request: HttpRequest, survey: str) -> HttpResponse:
    """Sign what the survey says now, after the password was given once more."""
    record = survey_for(request.user, survey, to="sign")
    assessment = held_assessment(record)
    role = role_of(request, record)
    assert role is not None  # who may sign has one of the two
    now = assessment.survey.input_sha256
    form = SignForm(request, request.POST or None, now=now, initial={"read": now})
    if request.method == "POST" and form.is_valid():
        try:
            sign(record, assessment, person=cast(User, request.user), role=role)
        except NotSigned as problem:
            form.add_error(None, str(problem))
        else:
            have_kept(request, record, assessment, "survey-report.pdf")
            words = f"Signed as {role}. It stays as it is, whatever is changed later; the report is kept with it."
            messages.success(request, words, extra_tags="good")
            return redirect("survey-review", survey=survey)
    context = {
        "form": form,
        "role": role,
        "statement": STATEMENTS[role],
        "headline": [*bottom_lines(assessment), *headline(assessment)],
        "facts": _signed_facts(assessment),
        "open_comments": record.review_comments.filter(answered_at=None).count(),
    }
    status = 422 if form.errors else 200
    return survey_page(request, "report/sign.html", record, "review", context, status=status)


@login_required
@require_safe
@with_figures("review")
def signature(request: HttpRequest, survey: str, number: int) -> HttpResponse:
    """Show one signature, and exactly what moved since."""
    found = signature_for(request.user, survey, number)
    shown = shown_against(found, held_assessment(found.survey))
    moved = (*shown.standing.figures, *shown.standing.words)
    kept = found.survey.kept_documents.filter(input_sha256=found.input_sha256).defer("content")
    context = {"one": shown, "kept": kept, "moved": moved[:MOST_MOVED], "more": max(0, len(moved) - MOST_MOVED)}
    return survey_page(request, "report/signature.html", found.survey, "review", context)


def role_of(request: HttpRequest, record: Survey) -> SigningRole | None:
    """Return as what a person signs: leads as author, reviewers as reviewer."""
    acts = acts_of(request.user, record.site)
    if "sign" not in acts:
        return None
    return "author" if "judge" in acts else "reviewer"


def _signed_facts(assessment: SurveyAssessment) -> list[tuple[str, str]]:
    survey = assessment.survey
    return [
        ("Survey", survey.title),
        ("Rule book", f"{assessment.rule_book.title}, {assessment.rule_book.edition}"),
        ("Worked out by", f"Lapel {assessment.kernel_version}"),
        ("Hash of all inputs", survey.input_sha256),
    ]


def _comment(comment: ReviewComment, record: Survey, request: HttpRequest) -> dict[str, Any]:
    mine = comment.person == request.user.get_username()
    return {"row": comment, "address": place_of(comment.about, record), "is_mine": mine}


def place_of(about: str, record: Survey) -> str:
    """Return the page a comment is about, where its words name one; empty otherwise."""
    kind, _, code = about.partition(" ")
    code = code.strip()
    if kind == "shift" and code:
        return f"{reverse('survey-judge', args=[record.code])}#shift-{quote(code)}"
    page = {"sample": "survey-sample", "group": "survey-group"}.get(kind)
    if page is None or not code:
        return ""
    try:
        return reverse(page, args=[record.code, code])
    except NoReverseMatch:  # somebody wrote a sentence that begins like a name
        return ""

"""Report: where it stands, its texts, its terms, what is to be done, and who was told."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, cast
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapel.assessment.held import CannotAssess, held_assessment
from lapel.documents.report.facts import OWN_TEXTS
from lapel.documents.wording import LANGUAGES
from lapel.documents.worker_results import posted_groups, results_by_worker
from lapel.office.judge.asked import questions_of
from lapel.office.judge.held import CannotJudge, judged_so_far
from lapel.office.judge.showing import RUNG_WORDS
from lapel.office.of_survey import survey_page, with_figures
from lapel.office.report.forms import PARTS, RecommendationForm, TellingForm, TermsForm, TextsForm
from lapel.office.report.letterhead import LANGUAGE_NAMES
from lapel.office.report.stated import Stated, stated_for
from lapel.office.report.telling import keep_tellings, told_of
from lapel.records.access import recommendation_for, survey_for
from lapel.records.audit import signed
from lapel.records.models import Recommendation, ReportTerms, ReportText, Survey

PROPOSAL_WAIT_S = 5.0
"""How long a form waits for the judgement its proposal is from. [s]"""


@login_required
@require_safe
@with_figures("report")
def report(request: HttpRequest, survey: str) -> HttpResponse:
    """Show where the report stands, and everything that can be fetched."""
    record = survey_for(request.user, survey)
    assessment = held_assessment(record)
    stated = stated_for(record, assessment)
    told = told_of(record, assessment)
    today = today_at(record)
    context = {
        "texts": [{"part": part, "title": PARTS[part][0], "text": stated.texts.get(part, "")} for part in OWN_TEXTS],
        "recommendations": recommendation_rows(stated),
        "terms": stated.terms,
        "problem": stated.problem,
        "clocks": clock_rows(stated, today),
        "due_on": stated.due_on,
        "days_left": (stated.due_on - today).days if stated.due_on else None,
        "told": told,
        "workers": list(results_by_worker(assessment)),
        "groups": [(code, assessment.survey.groups[code].name) for code in posted_groups(assessment)],
        "languages": [(code, LANGUAGE_NAMES.get(code, code)) for code in LANGUAGES],
    }
    return survey_page(request, "report/report.html", record, "report", context)


@login_required
@require_http_methods(["GET", "POST"])
def texts(request: HttpRequest, survey: str) -> HttpResponse:
    """Write the parts of the report only its author can write."""
    record = survey_for(request.user, survey, to="judge")
    form = TextsForm(request.POST or None, initial=dict(record.report_texts.values_list("part", "text")))
    if request.method == "POST" and form.is_valid():
        _keep_texts(record, form.cleaned_data, cast(User, request.user))
        messages.success(request, "The texts are kept.", extra_tags="good")
        return redirect("survey-report", survey=survey)
    status = 422 if form.errors else 200
    return survey_page(request, "report/texts.html", record, "report", {"form": form}, status=status)


@transaction.atomic
def _keep_texts(record: Survey, given: dict[str, str], by: User) -> None:
    there = {row.part: row for row in record.report_texts.all()}
    for part in OWN_TEXTS:
        row = there.get(part) or ReportText(survey=record, part=part)
        text = given[part].replace("\r\n", "\n")
        if row.text != text:
            row.text = text
            signed(row, by, "text of the report").save()


@login_required
@require_http_methods(["GET", "POST"])
def terms(request: HttpRequest, survey: str) -> HttpResponse:
    """Say whom workers may ask, by which calendar days are counted, and when the assessment was completed."""
    record = survey_for(request.user, survey, to="judge")
    row = ReportTerms.objects.filter(survey=record).first() or ReportTerms(survey=record)
    form = TermsForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        signed(form.instance, cast(User, request.user), "terms of the report")
        form.save()
        messages.success(request, "The terms are kept.", extra_tags="good")
        return redirect("survey-report", survey=survey)
    status = 422 if form.errors else 200
    return survey_page(request, "report/terms.html", record, "report", {"form": form}, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def new_recommendation(request: HttpRequest, survey: str) -> HttpResponse:
    """Write something to do, from a proposal or from nothing; nothing is kept before it is saved."""
    record = survey_for(request.user, survey, to="judge")
    row = Recommendation(survey=record)
    form = RecommendationForm(request.POST or None, instance=row, initial=_proposal(request, record))
    return _recommendation(request, record, form, "It is written down.")


@login_required
@require_http_methods(["GET", "POST"])
def recommendation(request: HttpRequest, survey: str, number: int) -> HttpResponse:
    """Change something to do, or say when it was done."""
    row = recommendation_for(request.user, survey, number, to="judge")
    form = RecommendationForm(request.POST or None, instance=row)
    return _recommendation(request, row.survey, form, "The change is kept.")


@login_required
@require_POST
def strike(request: HttpRequest, survey: str, number: int) -> HttpResponse:
    """Strike something to do; the history keeps it."""
    row = recommendation_for(request.user, survey, number, to="judge")
    signed(row, cast(User, request.user), request.POST.get("reason", "")[:1000] or "struck").delete()
    messages.success(request, "It is struck. The history keeps it.", extra_tags="good")
    return redirect("survey-report", survey=survey)


def _recommendation(request: HttpRequest, record: Survey, form: RecommendationForm, words: str) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        signed(form.instance, cast(User, request.user), "recommendation")
        form.save()
        messages.success(request, words, extra_tags="good")
        return redirect("survey-report", survey=record.code)
    context = {"form": form, "row": form.instance, "is_new": form.instance._state.adding}
    status = 422 if form.errors else 200
    return survey_page(request, "report/recommendation.html", record, "report", context, status=status)


def _proposal(request: HttpRequest, record: Survey) -> dict[str, Any]:
    """Return what a proposal says, as the beginning of somebody's own words."""
    address, number = request.GET.get("from", ""), request.GET.get("number", "")
    if request.method != "GET" or not address or not number.isdecimal():
        return {}
    try:
        question = questions_of(record, held_assessment(record)).at(address)
        if question is None:
            return {}
        (found,) = judged_so_far([question.asked], wait_s=PROPOSAL_WAIT_S, first=question.asked)
    except (CannotAssess, CannotJudge):
        return {}
    after = found.follow_up if found else None
    if after is None or int(number) >= len(after.proposals):
        return {}
    proposal = after.proposals[int(number)]
    is_again = after.again is not None and proposal.source == after.again.source and proposal.rung == "measure"
    where = f"{question.of.group.name}, {question.of.agent.name}"
    return {
        "rung": proposal.rung,
        "action": proposal.words,
        "reason": f"{where}: {proposal.reason}",
        "by": after.again_on if is_again else None,
    }


@login_required
@require_http_methods(["GET", "POST"])
@with_figures("report")
def told(request: HttpRequest, survey: str) -> HttpResponse:
    """Show who was told, and record who was told now."""
    record = survey_for(request.user, survey, to="see" if request.method == "GET" else "judge")
    assessment = held_assessment(record)
    found, stated, today = told_of(record, assessment), stated_for(record, assessment), today_at(record)
    choices = [(code, code) for code in found.workers]
    form = TellingForm(request.POST or None, workers=choices, latest=today)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        many = keep_tellings(
            record, assessment, given["workers"], how=given["how"], on=given["on"], proof=given["proof"],
            by=cast(User, request.user),
        )  # fmt: skip
        words = f"{many} worker{'' if many == 1 else 's'}: told on {given['on'].isoformat()}, kept with what proves it."
        messages.success(request, words, extra_tags="good")
        return redirect("survey-told", survey=survey)
    context = {
        "form": form,
        "told": found,
        "due_on": stated.due_on,
        "days_left": (stated.due_on - today).days if stated.due_on else None,
    }
    return survey_page(request, "report/told.html", record, "report", context, status=422 if form.errors else 200)


def today_at(record: Survey) -> date:
    """Return the day it is on the site."""
    return datetime.now(ZoneInfo(record.site.zone)).date()


def recommendation_rows(stated: Stated) -> list[dict[str, Any]]:
    """Compose what is to be done, the strongest control first, what is done last."""
    rungs = list(RUNG_WORDS)
    rows = [
        {"row": row, "rung": RUNG_WORDS.get(row.rung, row.rung), "is_done": row.done_on is not None}
        for row in stated.recommendations
    ]
    return sorted(rows, key=lambda one: (one["is_done"], rungs.index(cast(Recommendation, one["row"]).rung)))


def clock_rows(stated: Stated, today: date) -> list[dict[str, Any]]:
    """Compose each clock: what it is about, what starts it, when it is over, and how many days are left."""
    rows = []
    for clock in stated.clocks:
        left = clock.days_left(today)
        rows.append(
            {
                "standard": clock.rule.standard,
                "industry": clock.rule.industry,
                "substance": clock.rule.substance,
                "trigger": clock.rule.trigger,
                "due_on": clock.due_on,
                "left": left,
                "words": clock.words,
                "note": clock.rule.note,
                "source": clock.rule.source,
            }
        )
    return rows

"""Groups against their long-term limits: the list, one question, and whether earlier surveys teach the spread."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST, require_safe

from lapel.assessment.held import held_assessment
from lapel.documents.render import Picture
from lapel.office.charts import chart
from lapel.office.judge.asked import Question, Questions, questions_of
from lapel.office.judge.held import CannotJudge, judged_so_far
from lapel.office.judge.showing import follow_up_cells, group_lines, judgement_cells, outcome_of, results_of
from lapel.office.of_survey import survey_page, with_figures
from lapel.office.samples.views import SHIFTS_A_PAGE
from lapel.records.access import survey_for
from lapel.records.audit import signed
from lapel.records.models import ReportTerms

WAIT_S = 0.2
"""How long a page waits for judgements that are being made; then it shows what there is, and asks again. [s]"""


@login_required
@require_safe
@with_figures("groups")
def groups(request: HttpRequest, survey: str) -> HttpResponse:
    """List every group, agent and long-term limit, the gravest first."""
    record = survey_for(request.user, survey)
    questions = questions_of(record, held_assessment(record), use_earlier=_wish(request))
    problem_words, lines = "", []
    try:
        wait_s = 0.0 if request.headers.get("HX-Request") else WAIT_S  # a page that asks again can ask once more
        lines = group_lines(questions.all, judged_so_far([one.asked for one in questions.all], wait_s=wait_s))
    except CannotJudge as why:
        problem_words = str(why)
    context = {
        **_earlier(questions),
        "lines": lines,
        "problem": problem_words,
        "left": sum(1 for line in lines if line["outcome"] == "being judged"),
        "counts": [(word, sum(1 for line in lines if line["outcome"] == word)) for word in OUTCOMES],
    }
    is_part = request.headers.get("HX-Target") == "groups"
    template = "judge/groups_list.html" if is_part else "judge/groups.html"
    return survey_page(request, template, record, "groups", context)


OUTCOMES = ("over", "cannot tell", "under", "no verdict")


@login_required
@require_safe
@with_figures("groups")
def group(request: HttpRequest, survey: str, address: str) -> HttpResponse:
    """Show one group against one limit: the sentence, the pictures, every test, the workers, what follows."""
    record = survey_for(request.user, survey)
    try:
        assessment = held_assessment(record)
        questions = questions_of(record, assessment, use_earlier=_wish(request))
        asked = _question(questions, address)
        (found,) = judged_so_far([asked.asked], wait_s=WAIT_S, first=asked.asked)
    except CannotJudge as why:
        messages.error(request, str(why), extra_tags="stop")
        return redirect("survey-groups", survey=survey)
    context: dict[str, Any] = {
        **_earlier(questions),
        "address": address,
        "of": asked.of,
        "earlier_results": asked.earlier,
        "outcome": outcome_of(found),
        "is_there": found is not None,
        "siblings": [one for one in questions.all if one.of.group == asked.of.group and one.of.agent == asked.of.agent],
        "rule_book": assessment.rule_book.title,
    }
    if found is not None and found.judgement is not None and found.follow_up is not None:
        cells = judgement_cells(found.judgement)
        charts = {name: _chart(cells[name], name) for name in ("density", "plot", "worker_picture")}
        context |= {
            "cells": cells | charts,
            "results": results_of(assessment, asked, shifts_a_page=SHIFTS_A_PAGE),
            "after": follow_up_cells(found.follow_up),
        }
    return survey_page(request, "judge/group.html", record, "groups", context)


@login_required
@require_POST
def use_earlier(request: HttpRequest, survey: str) -> HttpResponse:
    """Choose whether the spread of earlier surveys of the same groups is used, on the pages and in the report."""
    record = survey_for(request.user, survey, to="judge")
    terms = ReportTerms.objects.filter(survey=record).first() or ReportTerms(survey=record)
    wanted = request.POST.get("use") == "yes"
    if terms.use_earlier != wanted or terms.pk is None:
        terms.use_earlier = wanted
        reason = "earlier surveys teach the spread" if wanted else "the published spread is used"
        signed(terms, cast(User, request.user), reason).save()
    words = "From now on the spread is learnt from earlier surveys of the same group, where they have enough results."
    messages.success(request, words if wanted else "From now on the published spread is used.", extra_tags="good")
    return redirect("survey-groups", survey=survey)


def _wish(request: HttpRequest) -> bool | None:
    """Return how somebody wants to look at it this once; nothing of it is kept."""
    return {"yes": True, "no": False}.get(request.GET.get("earlier", ""))


def _question(questions: Questions, address: str) -> Question:
    found = questions.at(address)
    if found is None:
        raise Http404("There is nothing here.")
    return found


def _earlier(questions: Questions) -> dict[str, Any]:
    return {"earlier_surveys": questions.surveys, "use_earlier": questions.use_earlier}


def _chart(picture: object, key: str) -> str:
    return chart(picture, key) if isinstance(picture, Picture) else ""

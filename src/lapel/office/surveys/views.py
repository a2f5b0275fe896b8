"""The list of surveys, and one survey's road."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models import Count, Exists, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse

from lapel.office.surveys import road as rules
from lapel.office.surveys.facts import facts_of
from lapel.records.access import acts_of, survey_for, surveys_of
from lapel.records.models import LaboratoryResult, SampleOrder, Survey

A_PAGE = 50

PAGES = {
    "scope": "survey-scope",
    "plan": "survey-plan",
    "prepare": "survey-prepare",
    "field": "survey-field",
    "dispatch": "survey-dispatch",
    "results": "survey-results",
    "judge": "survey-judge",
    "report": "survey-report",
}
"""The page of each stage; a stage whose page is not built yet says so, and links nowhere."""


@login_required
def surveys(request: HttpRequest) -> HttpResponse:
    """List the surveys of one's sites, the latest first."""
    mine = surveys_of(request.user).annotate(
        samples=_count(SampleOrder.objects.all()), with_results=_count(_answered())
    )
    page = Paginator(mine, A_PAGE).get_page(request.GET.get("page"))
    return render(request, "surveys/surveys.html", {"section": "surveys", "page": page})


@login_required
def road(request: HttpRequest, survey: str) -> HttpResponse:
    """Show where a survey stands, what is next, and what is missing."""
    found = survey_for(request.user, survey)
    today = datetime.now(ZoneInfo(found.site.zone)).date()
    facts = facts_of(found, on=today)
    stages = rules.road(facts)
    for stage in stages:
        stage.page = page_of(stage.key, found)
        if stage.key == "field" and facts.refused:
            stage.asides.append(("Settle the entries not taken", reverse("survey-refused", args=[found.code])))
        if stage.key == "judge" and facts.with_results:
            stage.asides.append(("Group by group", reverse("survey-groups", args=[found.code])))
            stage.asides.append(("Review and sign", reverse("survey-review", args=[found.code])))
    context = {"section": "surveys", "survey": found, "stages": stages, "acts": acts_of(request.user, found.site)}
    return render(request, "surveys/road.html", context)


def page_of(stage: str, survey: Survey) -> str:
    """Return the address of a stage's page, empty while there is none."""
    try:
        return reverse(PAGES[stage], args=[survey.code])
    except NoReverseMatch:
        return ""


def _answered() -> QuerySet[SampleOrder]:
    """Return the samples for which the laboratory reported something; results of blanks are none of them."""
    results = LaboratoryResult.objects.filter(survey=OuterRef("survey"), sampler=OuterRef("code"))
    return SampleOrder.objects.filter(Exists(results))


def _count(orders: QuerySet[SampleOrder]) -> Coalesce:
    counted = orders.filter(survey=OuterRef("pk")).order_by().values("survey").annotate(n=Count("pk"))
    return Coalesce(Subquery(counted.values("n")), 0)

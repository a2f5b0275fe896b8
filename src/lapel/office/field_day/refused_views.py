"""Everything the log of a survey, or of a site's surveys, did not take; settled one by one or several at once."""

from __future__ import annotations

from typing import Any, cast
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from lapel.office.field_day.forms import SettleForm
from lapel.office.field_day.refusals import refusals_of, settle_all
from lapel.office.of_survey import survey_page
from lapel.records.access import Act, acts_of, site_for, survey_for
from lapel.records.models import RefusedEntry, Survey

A_PAGE = 50


@login_required
@require_http_methods(["GET", "POST"])
def of_survey(request: HttpRequest, survey: str) -> HttpResponse:
    """List what a survey's log did not take; those marked are settled for one reason."""
    record = survey_for(request.user, survey, to=_act(request))
    rows = refusals_of([record])
    context, done = _listed(request, rows, ZoneInfo(record.site.zone))
    if done:
        return redirect("survey-refused", survey=survey)
    return survey_page(request, "field_day/refusals.html", record, "log", context, status=_status(context))


@login_required
@require_http_methods(["GET", "POST"])
def of_site(request: HttpRequest, site: str) -> HttpResponse:
    """List what the logs of a site's surveys did not take; those marked are settled for one reason."""
    there = site_for(request.user, site, to=_act(request))
    rows = refusals_of(Survey.objects.filter(site=there))
    context, done = _listed(request, rows, ZoneInfo(there.zone))
    if done:
        return redirect("site-refused", site=site)
    context |= {"section": "people", "site": there, "acts": acts_of(request.user, there), "of_site": True}
    return render(request, "field_day/site_refusals.html", context, status=_status(context))


def _act(request: HttpRequest) -> Act:
    return "correct" if request.method == "POST" else "see"


def _listed(request: HttpRequest, rows: QuerySet[RefusedEntry], zone: ZoneInfo) -> tuple[dict[str, Any], bool]:
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    shown = list(page)
    form = SettleForm([row.pk for row in shown], request.POST or None)
    if request.method == "POST" and form.is_valid():
        marked = set(map(int, form.cleaned_data["refused"]))
        many = settle_all(
            [row for row in shown if row.pk in marked], by=cast(User, request.user), reason=form.cleaned_data["reason"]
        )
        words = f"{many} settled. What was sent is kept for good, with your words."
        messages.success(request, words, extra_tags="good")
        return {}, True
    context = {
        "page": page,
        "rows": shown,
        "query": "",
        "form": form,
        "marked": set(request.POST.getlist("refused")),
        "open": rows.filter(settlement=None).count(),
        "zone": zone,
    }
    return context, False


def _status(context: dict[str, Any]) -> int:
    return 422 if context["form"].errors else 200

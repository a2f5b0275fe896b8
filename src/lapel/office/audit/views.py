"""The history of a site, a survey, or any one record of theirs, for those whose role lets them see it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from lapel.office.audit.telling import called, change_cells
from lapel.records import access
from lapel.records.audit import SurveyHistory, entry_history, history_of, history_on
from lapel.records.models import LogEntry, Site

A_PAGE = 50
Door = Callable[..., Any]

OF_SURVEY: Mapping[str, Door] = {
    "agent": access.agent_for,
    "limit": access.limit_for,
    "method": access.method_for,
    "lot": access.lot_for,
    "shift": access.shift_for,
    "sample": access.sample_for,
    "report": access.report_for,
    "result": access.result_for,
    "override": access.override_for,
    "entry": access.entry_for,
}
OF_SITE: Mapping[str, Door] = {
    "group": access.group_for,
    "worker": access.worker_for,
    "pump": access.pump_for,
    "splitter": access.splitter_for,
    "meter": access.meter_for,
}
"""Which kinds of records have a history page, and the one way to each; names behind codes are not among them."""

COUNTED = frozenset({"limit", "result", "override"})
"""Kinds known by their number on record; the others by their code."""


@login_required
def survey_history(request: HttpRequest, survey: str) -> HttpResponse:
    """Show everything that happened to a survey but its log, the latest first."""
    found = access.survey_for(request.user, survey, to="audit")
    way = [("Surveys", reverse("surveys")), (found.title, reverse("survey", args=[survey]))]
    return _render(request, "surveys", f"History of {found.title}", way, SurveyHistory(found), found.site, proof=True)


@login_required
def record_history(request: HttpRequest, survey: str, kind: str, key: str) -> HttpResponse:
    """Show what happened to one record of a survey; an entry of the log with its corrections."""
    record = _find(OF_SURVEY, kind)(request.user, survey, _key(kind, key), to="audit")
    changes = entry_history(record) if isinstance(record, LogEntry) else history_of(record)
    of = access.survey_for(request.user, survey)
    way = [("Surveys", reverse("surveys")), (of.title, reverse("survey", args=[survey]))]
    return _render(request, "surveys", f"History of {called(record)}", way, changes[::-1], of.site)


@login_required
def site_history(request: HttpRequest, site: str) -> HttpResponse:
    """Show everything that happened to a site, its people, workers by code, and equipment, the latest first."""
    found = access.site_for(request.user, site, to="audit")
    way = [("People", reverse("sites")), (found.name, reverse("people", args=[site]))]
    return _render(request, "people", f"History of {found.name}", way, history_on(found)[::-1], found, proof=True)


@login_required
def site_record_history(request: HttpRequest, site: str, kind: str, key: str) -> HttpResponse:
    """Show what happened to one record of a site."""
    record = _find(OF_SITE, kind)(request.user, site, key, to="audit")
    of = access.site_for(request.user, site)
    way = [("People", reverse("sites")), (of.name, reverse("people", args=[site]))]
    return _render(request, "people", f"History of {called(record)}", way, history_of(record)[::-1], of)


def _find(doors: Mapping[str, Door], kind: str) -> Door:
    if kind not in doors:
        raise Http404("There is nothing here.")
    return doors[kind]


def _key(kind: str, key: str) -> str | int:
    if kind not in COUNTED:
        return key
    if not key.isdecimal() or len(key) > 18:
        raise Http404("There is nothing here.")
    return int(key)


def _render(
    request: HttpRequest,
    section: str,
    heading: str,
    way: Sequence[tuple[str, str]],
    changes: Any,
    site: Site,
    *,
    proof: bool = False,
) -> HttpResponse:
    page = Paginator(changes, A_PAGE).get_page(request.GET.get("page"))
    zone = ZoneInfo(site.zone)
    context = {
        "section": section,
        "heading": heading,
        "way": way,
        "page": page,
        "rows": change_cells(page.object_list, zone),
        "zone": zone,
        "proof_of": site.code if proof else "",
    }
    return render(request, "audit/history.html", context)

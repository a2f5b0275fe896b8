"""The day as it stands, the log, an entry with its corrections, and conflicts between two accounts."""

from __future__ import annotations

import json
from typing import cast
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from lapel.assessment.field_days import train_days
from lapel.assessment.held import CannotAssess, day_until, held_assessment, held_survey
from lapel.assessment.live_day import TrainNow, live_day
from lapel.fieldlog import KINDS
from lapel.office.charts import chart
from lapel.office.field_day import showing
from lapel.office.field_day.correcting import as_it_counts, correct_fields
from lapel.office.field_day.forms import CorrectionForm, DistinctForm, ReasonForm
from lapel.office.field_day.refusals import open_refusals, refused_for, settle
from lapel.office.of_survey import cannot_assess_page, survey_page
from lapel.office.which_day import TRAINS_A_PAGE, chosen_day, chosen_instant, days_of
from lapel.records.access import entry_for, survey_for
from lapel.records.append import EntryRefused, append_correction
from lapel.records.log_reading import entry_of
from lapel.records.models import LogEntry, Survey
from lapel.reference import PACKAGED, rule_book

ENTRIES_A_PAGE = 100
MOST_LISTED = 50
"""Conflicts, remarks and the like on one page; more are counted, and come up as these are settled."""


@login_required
@require_safe
def field(request: HttpRequest, survey: str) -> HttpResponse:
    """Show the trains of a day as they stand now, or as they stood at a moment asked for."""
    record = survey_for(request.user, survey)
    data, day = held_survey(record)
    if data.rule_book not in PACKAGED:
        return cannot_assess_page(
            request, record, "field", CannotAssess([f"The rule book “{data.rule_book}” is not on this server."])
        )
    zone = ZoneInfo(data.site.zone)
    now = timezone.now()
    asked = chosen_instant(request.GET.get("at", ""))
    seen = day_until(data, asked) if asked else day
    trains = train_days(seen, zone)
    days = days_of(trains)
    wanted = request.GET.get("day", "") or (asked.astimezone(zone).date().isoformat() if asked else "")
    on = chosen_day(days, wanted, now.astimezone(zone).date())
    of_day = [one for one in trains if one.on == on]
    live = sorted(live_day(data, seen, rule_book(data.rule_book), asked or now, of_day), key=_needs_a_look)
    page = Paginator(live, TRAINS_A_PAGE).get_page(request.GET.get("page"))
    by_id = {entry.id: entry for entry in data.entries} if seen.conflicts else {}
    context = {
        "zone": zone,
        "days": days,
        "on": on,
        "at": asked,
        "bad_at": bool(request.GET.get("at")) and asked is None,
        "now": asked or now,
        "trains": [{**showing.train_cells(train), "looks": list(showing.looks(train))} for train in page],
        "page": page,
        "query": "&" + urlencode({"day": on or "", "at": request.GET.get("at", "")}),
        "count": len(live),
        "running": sum(1 for train in live if train.is_running),
        "overdue": sum(1 for train in live if train.due_in_min is not None and train.due_in_min < 0.0),
        "conflicts": [showing.conflict_cells(one, seen, by_id, zone) for one in seen.conflicts[:MOST_LISTED]],
        "conflict_count": len(seen.conflicts),
        "unusable": seen.unusable[:MOST_LISTED],
        "unusable_count": len(seen.unusable),
        "remarks": seen.remarks[:MOST_LISTED],
        "remark_count": len(seen.remarks),
        "most": MOST_LISTED,
        "clocks": [showing.clock_cells(clock) for clock in seen.clocks.values()],
        "refusals": list(open_refusals(record)[:MOST_LISTED]),
        "charts": [] if asked else _charts(record, list(page)),
    }
    return survey_page(request, "field_day/field.html", record, "field", context)


@login_required
@require_safe
def log(request: HttpRequest, survey: str) -> HttpResponse:
    """List the entries of a survey, the latest received first."""
    record = survey_for(request.user, survey)
    rows = LogEntry.objects.filter(survey=record).order_by("-receipt")
    kind = request.GET.get("kind", "")
    if kind in KINDS:
        rows = rows.filter(kind=kind)
    page = Paginator(rows, ENTRIES_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "zone": ZoneInfo(record.site.zone),
        "page": page,
        "entries": [
            {"row": row, "kind": showing.KIND_NAMES.get(row.kind, row.kind), "told": showing.told_in(entry_of(row))}
            for row in page
        ],
        "kinds": showing.KIND_NAMES,
        "kind": kind,
        "query": f"&kind={kind}" if kind in KINDS else "",
    }
    return survey_page(request, "field_day/log.html", record, "log", context)


@login_required
@require_safe
def entry(request: HttpRequest, survey: str, entry: str) -> HttpResponse:
    """Show an entry as recorded, as it counts, and every correction of it."""
    row = entry_for(request.user, survey, entry)
    recorded = entry_of(row)
    _, day = held_survey(row.survey)
    counts = as_it_counts(recorded, day)
    amendment = day.amendments.get(recorded.id)
    zone = ZoneInfo(row.survey.site.zone)
    context = {
        "zone": zone,
        "row": row,
        "kind": showing.KIND_NAMES.get(recorded.kind, recorded.kind),
        "words": KINDS[recorded.kind].words if recorded.kind in KINDS else "",
        "fields": showing.compared_fields(recorded, counts),
        "counts": counts,
        "at_differs": counts is not None and counts.at != recorded.at,
        "corrections": [showing.account(one, day, zone) | {"reason": one.reason} for one in amendment.corrections]
        if amendment
        else [],
        "samplers": showing.resting_on(recorded.id, day),
        "unusable": next((one for one in day.unusable if one.entry_id == recorded.id), None),
        "conflicts": [one for one in day.conflicts if recorded.id in one.entry_ids],
    }
    return survey_page(request, "field_day/entry.html", row.survey, "log", context)


@login_required
@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, survey: str, entry: str) -> HttpResponse:
    """Correct fields of an entry; what was recorded stays."""
    row = entry_for(request.user, survey, entry, to="correct")
    recorded = entry_of(row)
    counts = as_it_counts(recorded, held_survey(row.survey)[1])
    if recorded.kind not in KINDS or recorded.kind == "correction" or counts is None:
        raise Http404("There is nothing here.")
    form = CorrectionForm(counts, request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            correct_fields(row, form.changes, author=cast(User, request.user), reason=form.cleaned_data["reason"])
        except EntryRefused as refusal:
            form.add_error(None, f"{refusal}. Nothing was kept; correct it and save again.")
        else:
            messages.success(
                request, "Corrected. The first version stays, with your reason beside it.", extra_tags="good"
            )
            return redirect("entry", survey=survey, entry=entry)
    context = {"form": form, "row": row, "kind": showing.KIND_NAMES[recorded.kind], "words": KINDS[recorded.kind].words}
    status = 422 if form.errors else 200
    return survey_page(request, "field_day/correct.html", row.survey, "log", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, survey: str, entry: str) -> HttpResponse:
    """Say that an entry does not count; of a correction this undoes it."""
    row = entry_for(request.user, survey, entry, to="correct")
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            append_correction(row, author=cast(User, request.user), withdraw=True, **form.cleaned_data)
        except EntryRefused as refusal:
            form.add_error(None, f"{refusal}. Nothing was kept.")
        else:
            messages.success(request, "It no longer counts. It stays in the log, with your reason.", extra_tags="good")
            return redirect("entry", survey=survey, entry=row.corrects if row.kind == "correction" else entry)
    status = 422 if form.errors else 200
    account = showing.account(entry_of(row), held_survey(row.survey)[1], ZoneInfo(row.survey.site.zone))
    context = {"form": form, "row": row, "account": account}
    return survey_page(request, "field_day/withdraw.html", row.survey, "log", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def distinct(request: HttpRequest, survey: str, entry: str) -> HttpResponse:
    """Say that two like entries are two acts: both count."""
    row = entry_for(request.user, survey, entry, to="correct")
    asked = request.POST if request.method == "POST" else request.GET
    other = entry_for(request.user, survey, asked.get("other", ""), to="correct")
    form = DistinctForm(request.POST or None, initial={"other": other.entry_id})
    if request.method == "POST" and form.is_valid():
        try:
            append_correction(
                row,
                author=cast(User, request.user),
                reason=form.cleaned_data["reason"],
                distinct_from=other.entry_id,
            )
        except EntryRefused as refusal:
            form.add_error(None, f"{refusal}. Nothing was kept.")
        else:
            messages.success(request, "Settled: both happened, and both count.", extra_tags="good")
            return redirect("survey-field", survey=survey)
    day = held_survey(row.survey)[1]
    zone = ZoneInfo(row.survey.site.zone)
    accounts = [showing.account(entry_of(one), day, zone) for one in (row, other)]
    status = 422 if form.errors else 200
    context = {"form": form, "row": row, "accounts": accounts}
    return survey_page(request, "field_day/distinct.html", row.survey, "field", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def refused(request: HttpRequest, survey: str, refused: int) -> HttpResponse:
    """Show an entry the log did not take beside the one that was there first, and settle it."""
    kept_apart = refused_for(request.user, survey, refused, to="see" if request.method == "GET" else "correct")
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        settle(kept_apart, by=cast(User, request.user), reason=form.cleaned_data["reason"])
        messages.success(request, "Settled. What was sent is kept for good, with your words.", extra_tags="good")
        return redirect("survey-refused", survey=survey)
    first = kept_apart.kept
    zone = ZoneInfo(kept_apart.survey.site.zone)
    context = {
        "form": form,
        "refused": kept_apart,
        "settlement": getattr(kept_apart, "settlement", None),
        "content": json.dumps(json.loads(kept_apart.content), ensure_ascii=False, indent=2),
        "first": showing.account(entry_of(first), held_survey(kept_apart.survey)[1], zone) if first else None,
        "zone": zone,
    }
    status = 422 if form.errors else 200
    return survey_page(request, "field_day/refused.html", kept_apart.survey, "field", context, status=status)


def _needs_a_look(train: TrainNow) -> tuple[bool, float, bool, str]:
    """Order of the live day: what is due soonest first, then what runs, then the rest by code."""
    due = train.due_in_min
    return due is None, due or 0.0, not train.is_running, train.prepared.preparation.train


def _charts(record: Survey, trains: list[TrainNow]) -> list[dict[str, object]]:
    """Draw the day, where its survey can be assessed: what a sampler may be used for shows in its bar."""
    try:
        assessment = held_assessment(record)
    except CannotAssess:
        return []
    pictures = showing.picture_of_day(assessment, trains)
    return [{"title": one["title"], "chart": chart(one["picture"], f"day-{n}")} for n, one in enumerate(pictures)]

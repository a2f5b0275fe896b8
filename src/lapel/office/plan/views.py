"""The plan of a survey: where it stands, by day and technician; windows, whom and how many; its terms and tables."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.db.models import ProtectedError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapel.documents import compose_plan
from lapel.exchange.plan_now import PlanNow, plan_now
from lapel.exchange.plan_records import order_samples
from lapel.office.of_survey import survey_page
from lapel.office.plan import showing
from lapel.office.plan.start import StartForm
from lapel.office.plan.table_pages import TABLES
from lapel.office.plan.terms import TermsForm
from lapel.office.plan_terms import terms_of
from lapel.office.tables import are_valid, keep_rows, rows_of, still_used
from lapel.records.access import survey_for
from lapel.records.audit import signed
from lapel.records.models import Survey
from lapel.records.plans import is_under_way


@login_required
@require_safe
def plan(request: HttpRequest, survey: str) -> HttpResponse:
    """Show what is still needed, or who wears what on which day, how good that is, and what cannot be done."""
    record = survey_for(request.user, survey)
    now = plan_now(record)
    last = record.plan_searches.first()
    context: dict[str, Any] = {
        "now": now,
        "part": "plan",
        "search": last,
        "is_searching": last is not None and is_under_way(last),
        "problems": showing.problem_cells(now.problems, record),
        "tables": TABLES.values(),
        "counts": _counts(record),
    }
    if now.plan is not None and now.products is not None and now.is_in_force:
        day = request.GET.get("day", "")
        day = day if day in now.plan.days else (now.plan.days[0] if now.plan.days else "")
        technician = request.GET.get("technician", "")
        context |= {
            "headline": compose_plan.headline(now.plan, now.products),
            "day": day,
            "technician": technician,
            "on": showing.day_cells(now, day, technician),
            "cannot": showing.cannot_cells(now.plan),
            "goals": showing.search_cells(now),
            "kit": showing.kit_cells(now),
            "unread": [train for train in now.trains if not _is_shown(train, now)],
            "ordered": record.sampleorders.count(),
        }
    return survey_page(request, "plan/plan.html", record, "plan", context)


def _is_shown(train: Any, now: PlanNow) -> bool:
    shown = {(t.day, t.worker, t.pump) for t in now.plan.trains} if now.plan else set()
    return (train.day, train.worker, train.pump) in shown


def _counts(record: Survey) -> dict[str, int]:
    return {
        "questions": record.planquestions.count(),
        "technicians": record.plantechnicians.count(),
        "pumps": record.site.pumps.filter(retired_on__isnull=True).count(),
        "splitters": record.site.splitters.filter(retired_on__isnull=True).count(),
        "days": record.offered_shifts.count(),
    }


@login_required
@require_http_methods(["GET", "POST"])
def start(request: HttpRequest, survey: str) -> HttpResponse:
    """Enter on one page what a first plan wants besides the scope."""
    record = survey_for(request.user, survey, to="plan")
    form = StartForm(request.POST or None, survey=record)
    if request.method == "POST" and form.is_valid():
        form.keep(cast(User, request.user))
        messages.success(request, "Kept. See what is still needed, or search.", extra_tags="good")
        return redirect("survey-plan", survey=survey)
    context = {"form": form, "part": "start"}
    return survey_page(request, "plan/start.html", record, "plan", context, status=422 if form.errors else 200)


@login_required
@require_safe
def windows(request: HttpRequest, survey: str) -> HttpResponse:
    """Show the window of every sample: flow against time, what bounds it, the mass to expect."""
    return _part(request, survey, "windows", lambda now: {"windows": showing.windows_cells(now.plan)})


@login_required
@require_safe
def whom(request: HttpRequest, survey: str) -> HttpResponse:
    """Show who is drawn with which seed, how many results for which test, and the test's power."""
    return _part(request, survey, "whom", lambda now: {"sought": showing.whom_cells(now.plan)})


def _part(request: HttpRequest, survey: str, part: str, cells: Any) -> HttpResponse:
    record = survey_for(request.user, survey)
    now = plan_now(record)
    context: dict[str, Any] = {"now": now, "part": part, "problems": showing.problem_cells(now.problems, record)}
    if now.plan is not None:
        context |= cells(now)
    return survey_page(request, f"plan/{part}.html", record, "plan", context)


@login_required
@require_http_methods(["GET", "POST"])
def terms(request: HttpRequest, survey: str) -> HttpResponse:
    """Change what holds for the whole plan: strategy, seed, air, splitters, crew, rates."""
    record = survey_for(request.user, survey, to="plan")
    user = cast(User, request.user)
    form = TermsForm(request.POST or None, instance=terms_of(record))
    if request.method == "POST" and form.is_valid():
        signed(form.save(commit=False), user, form.cleaned_data["reason"] or "changed").save()
        messages.success(request, "The terms are kept. The plan was checked against them.", extra_tags="good")
        return redirect("survey-plan", survey=survey)
    context = {"form": form, "part": "terms"}
    return survey_page(request, "plan/terms.html", record, "plan", context, status=422 if form.errors else 200)


@login_required
@require_http_methods(["GET", "POST"])
def table(request: HttpRequest, survey: str, name: str) -> HttpResponse:
    """Change one whole table of what the plan is made from."""
    record = survey_for(request.user, survey, to="plan")
    page = TABLES.get(name)
    if page is None:
        raise Http404("There is nothing here.")
    data = request.POST if request.method == "POST" else None
    rows = rows_of(page.form, page.rows(record), record, page.words, data)
    problem = ""
    if data is not None and are_valid(rows, page.words):
        try:
            count = keep_rows(rows, user=cast(User, request.user), reason=data.get("reason", "")[:100].strip())
        except ProtectedError as used:
            problem = still_used(used)
        else:
            changed = "Nothing changed." if not count else f"{page.words.title}: {count} kept."
            messages.success(request, changed, extra_tags="good")
            return redirect("plan-table", survey=survey, name=name)
    context = {"rows": rows, "table": page, "part": page.part, "problem": problem, "tables": TABLES.values()}
    return survey_page(request, "plan/table.html", record, page.here, context, status=422 if data is not None else 200)


@login_required
@require_POST
def order(request: HttpRequest, survey: str) -> HttpResponse:
    """Write the plan's shifts and samples into the survey, for the field and for the assessment."""
    record = survey_for(request.user, survey, to="plan")
    now = plan_now(record)
    if now.plan is None or now.products is None or not now.is_in_force:
        messages.error(request, "There is no plan in force to order samples from.", extra_tags="stop")
        return redirect("survey-plan", survey=survey)
    try:
        done = order_samples(record, now.plan, now.products, user=cast(User, request.user))
    except ValueError as problem:
        messages.error(request, f"Nothing was ordered: {problem}.".replace("`", ""), extra_tags="stop")
    else:
        words = f"Samples ordered: {done.new} new, {done.changed} changed, {done.taken_back} taken back."
        if done.held:
            words += f" {len(done.held)} are in the field log already and stay as they are."
        messages.success(request, words, extra_tags="good")
    return redirect("survey-plan", survey=survey)

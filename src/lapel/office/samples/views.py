"""Samples, one sample with its working, lifting a finding, and shifts against their limits."""

from __future__ import annotations

from typing import Any, cast
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_safe

from lapel.assessment.held import held_assessment
from lapel.assessment.results import SampleResult, SurveyAssessment
from lapel.documents.compose import headline
from lapel.documents.limit_sentences import bottom_lines
from lapel.documents.render import Picture
from lapel.hygiene.findings import Finding
from lapel.office.charts import chart
from lapel.office.of_survey import survey_page, with_figures
from lapel.office.samples.by_need import ShiftLine, rows_by_need, shifts_by_need, worst
from lapel.office.samples.forms import LiftForm, RestoreForm, WhichSamplesForm
from lapel.office.samples.overrides import lift_finding, restore_finding
from lapel.office.samples.showing import (
    agent_cells,
    chosen_samples,
    entries_behind,
    flow_rows,
    mixtures,
    rows_of,
    shift_pages,
    short_terms,
    verdicts_of,
)
from lapel.records.access import override_for, survey_for

SAMPLES_A_PAGE = 100
SHIFTS_A_PAGE = 12
MOST_LISTED_SHIFTS = 200
"""Shifts in the table at the head of the page; with more, the others are on its further pages alone."""


@login_required
@require_safe
@with_figures("samples")
def samples(request: HttpRequest, survey: str) -> HttpResponse:
    """List the samples of a survey with their standing."""
    record = survey_for(request.user, survey)
    assessment = held_assessment(record)
    agents = [(agent.key, agent.name) for agent in assessment.survey.agents.values()]
    form = WhichSamplesForm(request.GET or None, agents=agents)
    asked = form.cleaned_data if form.is_valid() else {}
    chosen = chosen_samples(assessment, **asked)
    page = Paginator(chosen, SAMPLES_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "page": page,
        "rows": rows_of(assessment, list(page)),
        "headline": headline(assessment),
        "query": "&" + urlencode({name: text for name, text in asked.items() if text}),
        "asked": any(asked.values()),
        "rule_book": assessment.rule_book.title,
    }
    return survey_page(request, "samples/samples.html", record, "samples", context)


@login_required
@require_safe
@with_figures("samples")
def sample(request: HttpRequest, survey: str, sampler: str) -> HttpResponse:
    """Show one sample: findings, working, budget, and its standing under other rule books."""
    record = survey_for(request.user, survey)
    assessment = held_assessment(record)
    mine = _of(assessment, sampler)
    entries = set().union(*map(entries_behind, mine)) | {one.entry_id for one in assessment.day.conditions}
    agents = [agent_cells(assessment, one, entries) for one in mine]
    shift = assessment.survey.shifts[mine[0].order.shift]
    context = {
        "sampler": sampler,
        "order": mine[0].order,
        "run": mine[0].run,
        "shift": shift,
        "zone": ZoneInfo(assessment.survey.site.zone),
        "flows": flow_rows(assessment, mine),
        "agents": [{"of": cells, "chart": _chart(cells.budget, f"budget-{cells.key}")} for cells in agents],
        "overrides": record.overrides.filter(sampler=sampler),
        "rule_book": assessment.rule_book.title,
        "rests": verdicts_of(assessment, sampler),
    }
    return survey_page(request, "samples/sample.html", record, "samples", context)


@login_required
@require_http_methods(["GET", "POST"])
@with_figures("samples")
def lift(request: HttpRequest, survey: str, sampler: str, rule: str) -> HttpResponse:
    """Lift a finding from a sampler, with the reason; for leads."""
    record = survey_for(request.user, survey, to="judge")
    finding = _finding(_of(held_assessment(record), sampler), rule)
    form = LiftForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        by = cast(User, request.user)
        lift_finding(record, sampler=sampler, rule=rule, by=by, reason=form.cleaned_data["reason"])
        words = f"“{finding.title}” no longer counts on {sampler}. It stays on the page with your name and reason."
        messages.success(request, words, extra_tags="good")
        return redirect("survey-sample", survey=survey, sampler=sampler)
    context = {"form": form, "sampler": sampler, "finding": finding}
    status = 422 if form.errors else 200
    return survey_page(request, "samples/lift.html", record, "samples", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def restore(request: HttpRequest, survey: str, sampler: str, override: int) -> HttpResponse:
    """Let a lifted finding count again; for leads."""
    lifted = override_for(request.user, survey, override, to="judge")
    if lifted.sampler != sampler:
        raise Http404("There is nothing here.")
    form = RestoreForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        restore_finding(lifted, by=cast(User, request.user), reason=form.cleaned_data["reason"])
        messages.success(request, f"The finding counts again on {sampler}.", extra_tags="good")
        return redirect("survey-sample", survey=survey, sampler=sampler)
    context = {"form": form, "sampler": sampler, "override": lifted}
    status = 422 if form.errors else 200
    return survey_page(request, "samples/restore.html", lifted.survey, "samples", context, status=status)


@login_required
@require_safe
@with_figures("shifts")
def shifts(request: HttpRequest, survey: str) -> HttpResponse:
    """Show shift averages against their limits, with reasons, other choices and what would settle each."""
    record = survey_for(request.user, survey)
    assessment = held_assessment(record)
    lines = shifts_by_need(assessment)
    pages = Paginator(lines, SHIFTS_A_PAGE)
    page = pages.get_page(request.GET.get("page"))
    by_code = {one["shift"]: one for one in shift_pages(assessment, [line.shift for line in page])}
    first = page.number == 1
    listed = [
        {"line": line, "page": place // SHIFTS_A_PAGE + 1} for place, line in enumerate(lines[:MOST_LISTED_SHIFTS])
    ]
    short = short_terms(assessment) if first else None
    added_up = mixtures(assessment) if first else []
    context = {
        "page": page,
        "query": "",
        "listed": listed,
        "shift_count": len(lines),
        "most": MOST_LISTED_SHIFTS,
        "sections": [_section(line, by_code[line.shift], number) for number, line in enumerate(page)],
        "short_terms": rows_by_need(short["rows"]) if short else [],
        "short_verdict": worst(short["rows"]) if short else "",
        "short_chart": _chart(short["picture"], "short-terms") if short else "",
        "mixtures": rows_by_need(added_up) if first else [],
        "mixture_verdict": worst(added_up),
        "bottom_lines": bottom_lines(assessment),
        "has_other_books": bool(assessment.compared),
        "headline": headline(assessment),
        "rule_book": assessment.rule_book.title,
    }
    return survey_page(request, "samples/shifts.html", record, "shifts", context)


def _section(line: ShiftLine, section: dict[str, Any], number: int) -> dict[str, Any]:
    chart_of = _chart(section["picture"], f"shift-{number}")
    return {**section, "line": line, "rows": rows_by_need(section["rows"]), "chart": chart_of}


def _of(assessment: SurveyAssessment, sampler: str) -> list[SampleResult]:
    mine = [one for one in assessment.samples if one.sampler == sampler]
    if not mine:
        raise Http404("There is nothing here.")
    return mine


def _finding(mine: list[SampleResult], rule: str) -> Finding:
    for one in mine:
        finding = one.standing.of(rule)
        if finding is not None:
            return finding
    raise Http404("There is nothing here.")


def _chart(picture: object, key: str) -> str:
    return chart(picture, key) if isinstance(picture, Picture) else ""

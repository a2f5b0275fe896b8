"""Asking for a search, seeing how far it is, stopping it, taking what it found; and changing a plan in the field."""

from __future__ import annotations

from datetime import date
from typing import Any, cast

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapel.assessment.planned import SECONDS, SurveyPlan
from lapel.documents.compose_plan import goal_value
from lapel.exchange.plan_now import plan_now
from lapel.office.of_survey import survey_page
from lapel.office.plan import searching, showing
from lapel.office.quantities import CodesField
from lapel.records.access import plan_search_for, survey_for
from lapel.records.audit import signed
from lapel.records.models import PlanSearch, PlanWorker, Survey
from lapel.records.plans import ask_for_search, is_under_way, put_in_force

SECONDS_AT_MOST = 600


@login_required
@require_POST
def search(request: HttpRequest, survey: str) -> HttpResponse:
    """Ask for a plan to be searched; a process of its own works on it."""
    record = survey_for(request.user, survey, to="plan")
    if plan_now(record).problems:
        messages.error(request, "Something is still needed before a search: see below.", extra_tags="stop")
        return redirect("survey-plan", survey=survey)
    seconds = _seconds(request.POST.get("seconds", ""))
    asked = ask_for_search(record, user=cast(User, request.user), seconds=seconds)
    if asked.standing == PlanSearch.Standing.WAITING:
        searching.start(asked)
    return redirect("plan-search", survey=survey, number=asked.pk)


def _seconds(text: str) -> float:
    try:
        return min(max(float(text), 1.0), SECONDS_AT_MOST)
    except ValueError:
        return SECONDS


@login_required
@require_safe
def search_page(request: HttpRequest, survey: str, number: int) -> HttpResponse:
    """Show how far a search is, and what it found."""
    found = plan_search_for(request.user, survey, number)
    record = found.survey
    under_way = is_under_way(found)
    context: dict[str, Any] = {
        "search": found,
        "part": "plan",
        "is_under_way": under_way,
        "is_silent": not under_way and found.standing in (PlanSearch.Standing.WAITING, PlanSearch.Standing.WORKING),
        "since": round((timezone.now() - found.asked_at).total_seconds()),
        "goals": [
            {"name": name, "reached": goal_value(name, reached), "sure": showing.gap_words(name, bound, reached)}
            for name, reached, bound in found.outcome.get("goals", ())
        ],
        "missing": showing.missing_cells(found.outcome.get("missing", ())),
        "advice": found.outcome.get("advice", ()),
        "moves": showing.move_cells(found.outcome.get("moves", ())),
        "faults": found.outcome.get("faults", ()),
        "waits": found.standing == PlanSearch.Standing.DONE and not _is_in_force(found),
    }
    if getattr(request, "htmx", False):
        answer = render(request, "plan/search_state.html", context | {"survey": record})
        if not under_way:
            answer["HX-Refresh"] = "true"
        return answer
    answer = survey_page(request, "plan/search.html", record, "plan", context)
    if under_way:
        answer["Refresh"] = "3"  # for a page without script
    return answer


def _is_in_force(found: PlanSearch) -> bool:
    from lapel.records.plans import in_order, kept_trains

    return in_order(found.outcome["trains"]) == kept_trains(found.survey)


@login_required
@require_POST
def stop(request: HttpRequest, survey: str, number: int) -> HttpResponse:
    """Ask a search to stop; it ends within a second or two."""
    found = plan_search_for(request.user, survey, number, to="plan")
    PlanSearch.objects.filter(pk=found.pk).update(stop_asked=True)
    return redirect("plan-search", survey=survey, number=number)


@login_required
@require_POST
def take(request: HttpRequest, survey: str, number: int) -> HttpResponse:
    """Put what a search found in force, in place of what is."""
    found = plan_search_for(request.user, survey, number, to="plan")
    if found.standing != PlanSearch.Standing.DONE:
        messages.error(request, "This search found nothing that could be taken.", extra_tags="stop")
        return redirect("plan-search", survey=survey, number=number)
    user, record = cast(User, request.user), found.survey
    with transaction.atomic():
        new, gone = put_in_force(record, found.outcome["trains"], user=user, reason=f"taken from search {found.pk}")
        if found.bend:
            _keep_absences(record, found.bend["absent"], user)
    messages.success(request, f"In force: {new} trains are new, {gone} are gone.", extra_tags="good")
    if found.bend and found.bend["pumps_lost"]:
        words = (
            f"{', '.join(found.bend['pumps_lost'])} is still in the register: retire it under Equipment if it will not "
            "come back. Until then a new search may use it."
        )
        messages.warning(request, words, extra_tags="care")
    return redirect("survey-plan", survey=survey)


def _keep_absences(record: Survey, absent: dict[str, list[str]], user: User) -> None:
    for code, days in absent.items():
        worker = record.site.workers.get(code=code)
        row = record.plan_workers.filter(worker=worker).first() or PlanWorker(survey=record, worker=worker)
        row.away_on = sorted({*row.away_on, *days})
        signed(row, user, "absent after all").save()


class BendForm(forms.Form):
    """What went wrong, and from which day the plan can still be changed."""

    from_day = forms.ChoiceField(label="First day that can still be changed")
    pumps = forms.MultipleChoiceField(
        label="Pumps that are gone from then on", required=False, widget=forms.CheckboxSelectMultiple
    )
    workers = CodesField(label="Workers who are not there after all", about="worker")
    days = forms.MultipleChoiceField(
        label="On these days",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: all of them.",
    )

    def __init__(self, *args: Any, plan: SurveyPlan, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offered = plan.demand.days
        later = [day for day in offered if day >= today.isoformat()] or list(offered)
        for name, choices in (
            ("from_day", [(day, day) for day in offered]),
            ("pumps", [(code, code) for code in sorted({train.pump for train in plan.trains})]),
            ("days", [(day, day) for day in offered]),
        ):
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)
            field.choices = choices
        self.initial.setdefault("from_day", later[0] if later else "")
        workers = self.fields["workers"]
        assert isinstance(workers, CodesField)
        workers.known = {worker.code for worker in plan.demand.workers}
        workers.help_text = "By code: " + ", ".join(sorted(workers.known)[:40])

    def clean(self) -> dict[str, Any]:
        """Something must have gone wrong."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not cleaned.get("pumps") and not cleaned.get("workers") and not self.errors:
            self.add_error(None, "Found no pump and no worker. Wanted what went wrong.")
        return cleaned


@login_required
@require_http_methods(["GET", "POST"])
def bend(request: HttpRequest, survey: str) -> HttpResponse:
    """Say that a pump died or a worker is absent; the search changes as few visits as it can, and shows them."""
    record = survey_for(request.user, survey, to="plan")
    now = plan_now(record)
    if now.plan is None or not now.is_in_force:
        messages.info(request, "There is no plan in force that could be changed.")
        return redirect("survey-plan", survey=survey)
    form = BendForm(request.POST or None, plan=now.plan, today=timezone.now().date())
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        days = given["days"] or [day for day in now.plan.demand.days if day >= given["from_day"]]
        asked = ask_for_search(
            record,
            user=cast(User, request.user),
            seconds=20.0,
            bend={
                "from_day": given["from_day"],
                "pumps_lost": given["pumps"],
                "absent": dict.fromkeys(given["workers"], days),
            },
        )
        if asked.standing == PlanSearch.Standing.WAITING:
            searching.start(asked)
        return redirect("plan-search", survey=survey, number=asked.pk)
    context = {"form": form, "part": "bend", "now": now}
    return survey_page(request, "plan/bend.html", record, "plan", context, status=422 if form.errors else 200)

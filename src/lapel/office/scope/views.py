"""A new survey, and its scope: agents looked up, taken and changed; people, shifts, products; cautions."""

from __future__ import annotations

import secrets
from datetime import timedelta
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Count, ProtectedError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapel.assessment.scope import BEFORE_SAMPLING, Law, asked_lines
from lapel.assessment.scope import scope as looked_up
from lapel.office.of_survey import survey_page
from lapel.office.plan.row_forms import set_shift
from lapel.office.plan_terms import new_terms, terms_of
from lapel.office.scope import forms
from lapel.office.scope.row_forms import LimitForm, MethodForm
from lapel.office.scope.showing import found_cells
from lapel.office.scope.taking import REASON, take
from lapel.office.tables import TableWords, are_valid, keep_rows, rows_of, still_used
from lapel.records.access import agent_for, is_free_for_a_site, sites_of, survey_for
from lapel.records.audit import signed
from lapel.records.models import ExposureGroup, Membership, OfferedShift, PlanTerms, Site, Survey, Worker
from lapel.reference import library

LAW_NOTE = "whose limits are law here"
LIMITS = TableWords("limits", "Limits", "", "limit", "")
METHODS = TableWords("methods", "Methods", "", "method", "code")


@login_required
@require_http_methods(["GET", "POST"])
def new_survey(request: HttpRequest) -> HttpResponse:
    """Make a survey, on a site one leads or on a new one, which one leads then."""
    user = cast(User, request.user)
    initial = {"assessed_on": timezone.now().date(), "prepared_by": user.get_full_name()}
    sites = sites_of(user, to="plan")
    form = forms.NewSurveyForm(request.POST or None, sites=sites, initial=initial)
    if request.method == "POST" and form.is_valid():
        survey = _made(form.cleaned_data, user)
        messages.success(request, f"“{survey.title}” is there. Begin with what people may breathe.", extra_tags="good")
        return redirect("survey-scope", survey=survey.code)
    context = {"section": "surveys", "form": form, "has_sites": sites.exists()}
    return render(request, "scope/new.html", context, status=422 if form.errors else 200)


@transaction.atomic
def _made(given: dict[str, Any], user: User) -> Survey:
    site = given["site"]
    if site is None:
        base = slugify(given["site_name"])[:40] or "site"
        code = base if is_free_for_a_site(base) else f"{base}-{secrets.token_hex(3)}"
        site = Site(code=code, name=given["site_name"], zone=given["site_zone"], area_class=given["area_class"])
        signed(site, user, "new with its first survey").save()
        signed(Membership(user=user, site=site, role=Membership.Role.LEAD), user, "made the site").save()
    names = ("title", "code", "purpose", "prepared_by", "assessed_on", "rule_book")
    survey = Survey(site=site, **{name: given[name] for name in names})
    signed(survey, user, "new survey").save()
    signed(new_terms(survey), user, "new survey").save()
    return survey


@login_required
@require_safe
def scope(request: HttpRequest, survey: str) -> HttpResponse:
    """Show the scope of a survey."""
    return _scope(request, survey_for(request.user, survey))


@login_required
@require_POST
def look_up(request: HttpRequest, survey: str) -> HttpResponse:
    """Look up what was typed or pasted; what only comes near is asked, never taken."""
    record = survey_for(request.user, survey, to="plan")
    form = forms.LookUpForm(_with_answer(request))
    if not form.is_valid():
        return _scope(request, record, form, status=422)
    law = cast(Law, form.cleaned_data["law"])
    lines = asked_lines([form.cleaned_data["text"]])
    if not lines:
        form.add_error("text", "Found no name and no CAS number. Wanted one a line.")
        return _scope(request, record, form, status=422)
    chosen = set(record.agents.values_list("cas", flat=True))
    found = found_cells(looked_up(lines, library(), here=law), chosen, law)
    return _scope(request, record, form, found)


def _with_answer(request: HttpRequest) -> Any:
    """Put a person's answer to “which is meant?” in place of the line it is about."""
    data = request.POST.copy()
    number, _, cas = data.get("answer", "").partition("|")
    if number.isdecimal() and cas:
        asked = asked_lines([data.get("text", "")])
        scopes = looked_up(asked, library())
        if int(number) < len(scopes):
            meant = scopes[int(number)].asked.text
            lines = [cas if line.text == meant else line.text for line in asked]
            data["text"] = "\n".join(lines)
    return data


@login_required
@require_POST
def take_found(request: HttpRequest, survey: str) -> HttpResponse:
    """Take the ticked agents, limits and methods into the survey."""
    record = survey_for(request.user, survey, to="plan")
    user = cast(User, request.user)
    law = cast(Law, request.POST.get("law", "") if request.POST.get("law") in dict(forms.LAW) else "")
    taken = take(
        record,
        library(),
        agents=request.POST.getlist("agent"),
        limits=request.POST.getlist("limit"),
        methods=request.POST.getlist("method"),
        law=law,
        user=user,
    )
    terms = terms_of(record)
    if law and terms.notes.get(LAW_NOTE) != dict(forms.LAW)[law]:
        terms.notes = {**terms.notes, LAW_NOTE: dict(forms.LAW)[law]}
        signed(terms, user, REASON).save()
    if taken.agents or taken.limits or taken.methods:
        words = f"New: agents {taken.agents}, limits {taken.limits}, methods {taken.methods}. Confirm each limit."
        messages.success(request, words, extra_tags="good")
    else:
        messages.info(request, "Nothing was ticked that is not in the survey already.")
    return redirect("survey-scope", survey=survey)


def _scope(
    request: HttpRequest,
    record: Survey,
    form: forms.LookUpForm | None = None,
    found: list[dict[str, Any]] | None = None,
    *,
    people: forms.PeopleForm | None = None,
    shifts: forms.ShiftsForm | None = None,
    status: int = 200,
) -> HttpResponse:
    terms = PlanTerms.objects.filter(survey=record).first()
    law = {words: key for key, words in forms.LAW}.get((terms.notes if terms else {}).get(LAW_NOTE, ""), "")
    agents = list(record.agents.prefetch_related("limits", "methods"))
    effects: dict[str, list[str]] = {}
    for agent in agents:
        for effect in agent.effect_groups:
            effects.setdefault(effect, []).append(agent.name)
    context = {
        "form": form or forms.LookUpForm(initial={"law": law}),
        "found": found,
        "law": form.cleaned_data.get("law", "") if form and form.is_bound and not form.errors else law,
        "text": form.cleaned_data.get("text", "") if form and form.is_bound and not form.errors else "",
        "understood": sum(1 for line in found or () if line["substance"]),
        "agents": agents,
        "effects": sorted(effects.items()),
        "groups": record.site.groups.annotate(count=Count("workers")),
        "people": people or forms.PeopleForm(),
        "shifts": shifts or forms.ShiftsForm(site=record.site),
        "offered": _offered(record),
        "products": list(record.products.all()),
        "cautions": BEFORE_SAMPLING,
    }
    return survey_page(request, "scope/scope.html", record, "scope", context, status=status)


def _offered(record: Survey) -> list[dict[str, Any]]:
    """Shifts on offer, the same hours of a group in one line."""
    zone = forms.zone_of(record.site)
    lines: dict[tuple[str, str, str], list[str]] = {}
    for row in record.offered_shifts.select_related("group").order_by("start"):
        start, end = row.start.astimezone(zone), row.end.astimezone(zone)
        key = (row.group.code if row.group else "all groups", f"{start:%H:%M}", f"{end:%H:%M}")
        lines.setdefault(key, []).append(f"{start:%Y-%m-%d}")
    return [{"group": g, "begins": b, "ends": e, "days": days} for (g, b, e), days in lines.items()]


@login_required
@require_POST
def add_people(request: HttpRequest, survey: str) -> HttpResponse:
    """Enter a group with its workers by code."""
    record = survey_for(request.user, survey, to="plan")
    form = forms.PeopleForm(request.POST)
    if form.is_valid():
        given, user, site = form.cleaned_data, cast(User, request.user), record.site
        there = dict(Worker.objects.filter(site=site).values_list("code", "group__code"))
        taken = [code for code, _ in given["workers"] if code in there]
        if taken:
            form.add_error("workers", f"Found {', '.join(taken[:6])}, on the site already. Wanted codes that are free.")
        else:
            with transaction.atomic():
                group = site.groups.filter(code=given["group"]).first()
                if group is None:
                    group = ExposureGroup(
                        site=site, code=given["group"], name=given["name"] or given["group"], tasks=given["tasks"]
                    )
                    signed(group, user, "entered on the scope page").save()
                for code, job in given["workers"]:
                    signed(Worker(site=site, group=group, code=code, job=job), user, "entered on the scope page").save()
            words = f"Group {group.code}: {len(given['workers'])} more workers."
            messages.success(request, words, extra_tags="good")
            return redirect("survey-scope", survey=survey)
    return _scope(request, record, people=form, status=422)


@login_required
@require_POST
def add_shifts(request: HttpRequest, survey: str) -> HttpResponse:
    """Offer the same shift on several days."""
    record = survey_for(request.user, survey, to="plan")
    form = forms.ShiftsForm(request.POST, site=record.site)
    if form.is_valid():
        given, user = form.cleaned_data, cast(User, request.user)
        there = {
            (row.start.astimezone(forms.zone_of(record.site)).date(), row.group_id)
            for row in record.offered_shifts.all()
        }
        new = 0
        with transaction.atomic():
            day = given["first"]
            offered = 0
            while offered < given["days"]:
                if given["weekends"] or day.weekday() < 5:
                    offered += 1
                    if (day, given["group"].pk if given["group"] else None) not in there:
                        row = OfferedShift(survey=record, group=given["group"])
                        set_shift(row, record, day, given["begins"], given["ends"])
                        signed(row, user, "entered on the scope page").save()
                        new += 1
                day += timedelta(days=1)
        messages.success(request, f"{new} more days are on offer.", extra_tags="good")
        return redirect("survey-scope", survey=survey)
    return _scope(request, record, shifts=form, status=422)


@login_required
@require_http_methods(["GET", "POST"])
def agent(request: HttpRequest, survey: str, agent: str) -> HttpResponse:
    """Change one agent of a survey: what it is, its effects, limits and methods."""
    it = agent_for(request.user, survey, agent, to="plan")
    record, user = it.survey, cast(User, request.user)
    terms = terms_of(record)
    note = f"effects of {it.code}"
    initial = {"effects": "; ".join(it.effect_groups), "effects_source": terms.notes.get(note, "")}
    data = request.POST if request.method == "POST" else None
    form = forms.AgentForm(data, instance=it, initial=initial)
    limits = rows_of(LimitForm, it.limits.all(), record, LIMITS, data)
    methods = rows_of(MethodForm, it.methods.all(), record, METHODS, data)
    for row in (*limits.forms, *methods.forms):
        if row.instance._state.adding:
            row.instance.agent = it
    problem = ""
    if data is not None and form.is_valid() and are_valid(limits, LIMITS) and are_valid(methods, METHODS):
        given = form.cleaned_data
        try:
            with transaction.atomic():
                it.effect_groups = given["effects"]
                signed(form.save(commit=False), user, REASON).save()
                notes = {key: words for key, words in terms.notes.items() if key != note}
                if given["effects"]:
                    notes[note] = given["effects_source"]
                if notes != terms.notes:
                    terms.notes = notes
                    signed(terms, user, REASON).save()
                keep_rows(limits, user=user, reason=REASON)
                keep_rows(methods, user=user, reason=REASON)
        except ProtectedError as used:
            problem = still_used(used)
        else:
            messages.success(request, f"{it.name} is kept.", extra_tags="good")
            return redirect("survey-scope", survey=survey)
    wrong = data is not None
    context = {"agent": it, "form": form, "limits": limits, "methods": methods, "problem": problem}
    return survey_page(request, "scope/agent.html", record, "scope", context, status=422 if wrong else 200)


@login_required
@require_POST
def drop_agent(request: HttpRequest, survey: str, agent: str) -> HttpResponse:
    """Take an agent out of the survey, with its limits, methods and questions; the history keeps them."""
    it = agent_for(request.user, survey, agent, to="plan")
    if it.survey.results.filter(agent=it.code).exists():
        messages.error(request, f"{it.name} has results of the laboratory and stays.", extra_tags="stop")
    else:
        signed(it, request.user, "taken out on the scope page").delete()
        messages.success(request, f"{it.name} is out, with its limits, methods and questions.", extra_tags="good")
    return redirect("survey-scope", survey=survey)

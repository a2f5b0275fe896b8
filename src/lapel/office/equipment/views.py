"""The register of a site's equipment, one piece of it with its drift over time, and changing it."""

from __future__ import annotations

from typing import Any, cast
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from lapel.office.audit.telling import change_cells
from lapel.office.charts import chart
from lapel.office.equipment import showing
from lapel.office.equipment.forms import FORMS, MODELS
from lapel.office.equipment.held import held_history
from lapel.records.access import Act, acts_of, meter_for, pump_for, site_for, splitter_for
from lapel.records.audit import certificates_history, history_of, signed
from lapel.records.equipment_history import due_dates, port_drift, pump_drift
from lapel.records.models import Meter, Site
from lapel.records.models.equipment import Equipment
from lapel.records.renewals import CERTIFIED

_FINDERS = {"pump": pump_for, "splitter": splitter_for, "meter": meter_for}


@login_required
@require_safe
def register(request: HttpRequest, site: str) -> HttpResponse:
    """List a site's equipment: what falls due, which pump to look at, which port creeps."""
    there = site_for(request.user, site)
    zone = ZoneInfo(there.zone)
    today = timezone.now().astimezone(zone).date()
    history = held_history(there)
    context = {
        "zone": zone,
        "due": [showing.due_cells(due) for due in due_dates(there, today=today, within_days=showing.SOON_DAYS)],
        "pump_drifts": [
            showing.drift_cells(drift, "pump") for drift in pump_drift(history, tolerance=showing.TOLERANCE)
        ],
        "port_drifts": [
            showing.drift_cells(drift, "port") for drift in port_drift(history, tolerance=showing.TOLERANCE)
        ],
        "unread": history.unread,
        "tolerance": showing.TOLERANCE_WORDS,
        **showing.register_cells(history, there.pumps.all(), there.splitters.all(), there.meters.all(), today),
    }
    return equipment_page(request, "equipment/register.html", there, context)


@login_required
@require_safe
def one(request: HttpRequest, site: str, kind: str, code: str) -> HttpResponse:
    """Show one piece of equipment: its dates, its drift over time, its runs, its history."""
    it = _find(request, site, kind, code)
    there = it.site
    zone = ZoneInfo(there.zone)
    history = held_history(there)
    drifts = showing.drifts_of(history, kind, code) if kind != "meter" else []
    context = {
        "zone": zone,
        "kind": kind,
        "it": it,
        "meter": it if isinstance(it, Meter) else None,
        "facts": _facts(it),
        "certificates": showing.certificate_rows(it) if isinstance(it, Meter) else [],
        "charged": history.charged.get(code) if kind == "pump" else None,
        "used": history.used.get(code) if kind == "pump" else None,
        "drifts": [
            {
                "cells": showing.drift_cells(drift, "pump" if kind == "pump" else "port"),
                "chart": chart(showing.drift_picture(drift, f"{drift.code}: change of flow", zone), f"drift-{number}"),
                "runs": [showing.run_cells(run) for run in drift.runs[: -showing.MOST_RUNS - 1 : -1]],
                "left_out": max(0, len(drift.runs) - showing.MOST_RUNS),
            }
            for number, drift in enumerate(drifts)
        ],
        "changes": _changes(it) if "audit" in acts_of(request.user, there) else None,
        "tolerance": showing.TOLERANCE_WORDS,
    }
    return equipment_page(request, "equipment/one.html", there, context)


@login_required
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, site: str, kind: str, code: str) -> HttpResponse:
    """Change a piece of equipment; every version is kept."""
    it = _find(request, site, kind, code, to="equip")
    there = it.site
    form = FORMS[kind](request.POST or None, instance=it, site=there)
    if request.method == "POST" and form.is_valid():
        signed(form.save(commit=False), cast(User, request.user), form.cleaned_data["reason"]).save()
        messages.success(request, f"{code} is changed; the version before is kept in its history.", extra_tags="good")
        return redirect("equipment-one", site=site, kind=kind, code=code)
    context = {"form": form, "kind": kind, "code": code}
    return equipment_page(request, "equipment/change.html", there, context, status=422 if form.errors else 200)


@login_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, site: str, kind: str) -> HttpResponse:
    """Enter a new piece of equipment."""
    there = site_for(request.user, site, to="equip")
    if kind not in FORMS:
        raise Http404("There is nothing here.")
    form = FORMS[kind](request.POST or None, site=there)
    if request.method == "POST" and form.is_valid():
        it = signed(form.save(commit=False), cast(User, request.user), form.cleaned_data["reason"] or "entered")
        it.save()
        messages.success(request, f"{it.code} is in the register.", extra_tags="good")
        return redirect("equipment-one", site=site, kind=kind, code=it.code)
    return equipment_page(
        request, "equipment/change.html", there, {"form": form, "kind": kind}, status=422 if form.errors else 200
    )


def _find(request: HttpRequest, site: str, kind: str, code: str, *, to: Act = "see") -> Equipment:
    if kind not in MODELS:
        raise Http404("There is nothing here.")
    return _FINDERS[kind](request.user, site, code, to=to)


def _changes(it: Equipment) -> list[dict[str, Any]]:
    """Return what happened to it, the latest first; to a meter with its earlier certificates."""
    found = history_of(it)
    if isinstance(it, Meter):
        found = sorted([*found, *certificates_history(it)], key=lambda change: change.at)
    return change_cells(found[::-1], ZoneInfo(it.site.zone))


def _facts(it: Equipment) -> list[tuple[str, str]]:
    """Fields of the register that are filled, named as on its form."""
    labels = FORMS[type(it).__name__.lower()](instance=it, site=it.site).fields
    shown = []
    for name, field in labels.items():
        value = getattr(it, name, None)
        if name not in ("reason", "curve_text", *CERTIFIED) and value not in (None, ""):
            shown.append((str(field.label), str(value)))
    return shown


def equipment_page(
    request: HttpRequest, template: str, site: Site, context: dict[str, Any], *, status: int = 200
) -> HttpResponse:
    """Render a page of a site's equipment."""
    acts = context.pop("acts", None) or acts_of(request.user, site)
    return render(request, template, {"section": "equipment", "site": site, "acts": acts, **context}, status=status)

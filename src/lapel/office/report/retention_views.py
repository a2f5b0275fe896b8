"""The register of what is kept until when, on the page of a site."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from lapel.office.report.retained import retained_surveys
from lapel.records.access import acts_of, site_for
from lapel.reference.retention import retention_rules


@login_required
@require_safe
def retention(request: HttpRequest, site: str) -> HttpResponse:
    """List the surveys of a site with the day until which each class of their records is kept; it deletes nothing."""
    found = site_for(request.user, site)
    context = {
        "section": "people",
        "site": found,
        "acts": acts_of(request.user, found),
        "surveys": retained_surveys(found),
        "rules": retention_rules(),
        "today": datetime.now(ZoneInfo(found.zone)).date(),
    }
    return render(request, "report/retention.html", context)

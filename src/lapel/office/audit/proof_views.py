"""The page that proves the log."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from lapel.office.audit.proof import ProofRunning, prove, told_on
from lapel.records.access import acts_of, site_for

MOST_SHOWN = 100


@login_required
@require_http_methods(["GET", "POST"])
def proof(request: HttpRequest, site: str) -> HttpResponse:
    """Say what the proof proves; sent, run it and show what it found."""
    there = site_for(request.user, site, to="audit")
    context: dict[str, object] = {
        "section": "people",
        "site": there,
        "acts": acts_of(request.user, there),
        "zone": ZoneInfo(there.zone),
        "most": MOST_SHOWN,
        "at": timezone.now(),
    }
    status = 200
    if request.method == "POST":
        try:
            context |= told_on(there, prove())
        except ProofRunning:
            context["busy"] = True
            status = 409
    return render(request, "audit/proof.html", context, status=status)

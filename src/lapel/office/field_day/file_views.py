"""The file of a device that cannot deliver: brought in by a person, and the receipts it can take back."""

from __future__ import annotations

from typing import cast
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from lapel.exchange.entries_file import read_entries_file, receipts_record
from lapel.exchange.problems import InputProblems
from lapel.office.field_day.forms import FileForm
from lapel.office.field_day.from_file import bring_in, receipts_of
from lapel.office.of_survey import survey_page
from lapel.records.access import device_for, survey_for
from lapel.records.entry_frame import holdable

MOST_SHOWN = 100
"""Refused entries and remarks named on the page; all of them stand on the page of refused entries."""


@login_required
@require_http_methods(["GET", "POST"])
def entries_from_file(request: HttpRequest, survey: str) -> HttpResponse:
    """Take the entries of a device's file into the log, and say of each what became of it."""
    record = survey_for(request.user, survey, to="record")
    form = FileForm(request.POST or None, request.FILES or None)
    context = {"form": form, "zone": ZoneInfo(record.site.zone), "most": MOST_SHOWN}
    status = 422 if request.method == "POST" else 200
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        name = holdable(str(file.name), 120)
        try:
            found = read_entries_file(file.read(), name=name, survey=record.code)
            result = bring_in(found, name=name, survey=record, by=cast(User, request.user))
        except InputProblems as faults:
            context["problems"] = faults.problems[:MOST_SHOWN]
        else:
            context |= {"result": result, "name": name, "form": FileForm()}
            status = 200
    return survey_page(request, "field_day/from_file.html", record, "log", context, status=status)


@never_cache
@login_required
@require_safe
def receipts(request: HttpRequest, survey: str) -> HttpResponse:
    """Give the receipts of a device's entries in a survey, as a file the field page can take in."""
    record = survey_for(request.user, survey, to="record")
    device = device_for(request.user, request.GET.get("device", ""), to="record")
    answer = JsonResponse(receipts_record(record.code, device.code, receipts_of(record, device)))
    answer["Content-Disposition"] = 'attachment; filename="lapel-receipts.json"'
    return answer

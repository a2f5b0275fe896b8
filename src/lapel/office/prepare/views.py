"""The trains of a day as they were prepared."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from lapel.assessment.held import CannotAssess, held_survey
from lapel.assessment.preparedness import preparedness
from lapel.office.of_survey import cannot_assess_page, survey_page
from lapel.office.prepare.showing import train_cells
from lapel.office.which_day import chosen_day, days_of
from lapel.records.access import survey_for
from lapel.reference import PACKAGED, rule_book


@login_required
@require_safe
def prepare(request: HttpRequest, survey: str) -> HttpResponse:
    """Show how every train of a day was put together, what its closing round measured, and what is missing."""
    record = survey_for(request.user, survey)
    data, day = held_survey(record)
    if data.rule_book not in PACKAGED:
        return cannot_assess_page(
            request, record, "prepare", CannotAssess([f"The rule book “{data.rule_book}” is not on this server."])
        )
    zone = ZoneInfo(data.site.zone)
    trains = preparedness(data, day, rule_book(data.rule_book))
    days = days_of(train.prepared for train in trains)
    on = chosen_day(days, request.GET.get("day", ""), timezone.now().astimezone(zone).date())
    mine = [train_cells(train, zone) for train in trains if train.prepared.on == on]
    context = {
        "zone": zone,
        "days": days,
        "on": on,
        "trains": mine,
        "ready": sum(1 for train in mine if train["is_ready"]),
    }
    return survey_page(request, "prepare/prepare.html", record, "prepare", context)

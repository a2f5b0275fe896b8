"""The trains of a day as they were prepared."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from lapel.assessment.field_days import train_days
from lapel.assessment.held import CannotAssess, held_survey
from lapel.assessment.preparedness import preparedness
from lapel.exchange.plan_now import planned_day
from lapel.office.of_survey import cannot_assess_page, survey_page
from lapel.office.prepare.showing import train_cells
from lapel.office.which_day import TRAINS_A_PAGE, chosen_day, days_of
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
    trains = train_days(day, zone)
    planned_on = record.planned_trains.order_by("day").values_list("day", flat=True).distinct()
    days = sorted({*days_of(trains), *planned_on})
    on = chosen_day(days, request.GET.get("day", ""), timezone.now().astimezone(zone).date())
    prepared = preparedness(data, day, rule_book(data.rule_book), [one for one in trains if one.on == on])
    prepared.sort(key=lambda train: train.is_ready)
    page = Paginator(prepared, TRAINS_A_PAGE).get_page(request.GET.get("page"))
    planned = planned_day(record, on) if on is not None and on in planned_on else None
    there = {(one.prepared.preparation.train, one.prepared.preparation.pump) for one in prepared}
    context = {
        "planned": [one for one in planned["trains"] if (one["code"], one["pump"]) not in there] if planned else (),
        "page": page,
        "query": f"&day={on}",
        "zone": zone,
        "days": days,
        "on": on,
        "trains": [train_cells(train, zone) for train in page],
        "count": len(prepared),
        "ready": sum(1 for train in prepared if train.is_ready),
    }
    return survey_page(request, "prepare/prepare.html", record, "prepare", context)

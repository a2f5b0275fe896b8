"""The address of the day pack, beside the others of the interface."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from ninja import Path, Query

from lapel.field.api import TURNED_AWAY, api, device_of, survey_for
from lapel.field.day_pack import day_pack
from lapel.field.pack_shapes import DayPack
from lapel.field.planned_trains import day_in_hand
from lapel.field.shapes import Words

Known = Annotated[str, Query(max_length=64, description="the hash of the pack the device has")]
On = Annotated[
    date | None,
    Query(description="the day, by the site's clock; if left out, that of the shift that is not over, else today"),
]


@api.get(
    "pack/{path:survey}",
    response={200: DayPack, 204: None, 404: Words, **TURNED_AWAY},
    summary="What a day without the office needs",
)
def pack(request: HttpRequest, survey: Path[str], known: Known = "", on: On = None) -> DayPack | HttpResponse:
    """
    Give the day pack of a survey; 204 where the device has it already.

    Plan, workers by code, equipment with certificates, samplers, media, methods, limits and the field's part of the
    rule book: enough to work a day offline. No name of a person is in it.
    """
    found = survey_for(device_of(request), survey)
    made = day_pack(found, on or day_in_hand(found, timezone.now()))
    return HttpResponse(status=204) if made.hash == known else made

"""
The interface of the field: a paired device delivers entries, and reads receipts, the day and what was refused.

A device is known by its key alone, sent as a bearer token; for a device of another site a survey does not exist (404).
Nothing is asked of the sender but to keep an entry until it is confirmed: the same delivery can be sent again at will.
"""

from __future__ import annotations

from typing import Annotated, Any

from django.core.exceptions import RequestDataTooBig
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from ninja import NinjaAPI, Path, Query
from ninja.security import HttpBearer

from lapel.field.shapes import (
    Answer,
    ChainRemark,
    ConflictAnswer,
    DayAnswer,
    DeviceAnswer,
    Faults,
    KeptEntry,
    Parcel,
    Problem,
    RefusedAnswer,
    SaidOfItself,
    SurveyName,
    Words,
)
from lapel.fieldlog import Entry, EntryProblem, UnreadableRecord, entry_from_record, entry_record
from lapel.records.append import Receipts, Unreadable, append
from lapel.records.devices import device_with_key, heard_of
from lapel.records.entry_frame import holdable
from lapel.records.log_reading import entry_of, kept_of
from lapel.records.models import Device, LogEntry, RefusedEntry, Survey

LARGEST_BODY = 2 * 1024 * 1024
"""Bytes of a delivery: 200 entries of a few hundred bytes, and room for long notes."""

AT_ONCE = 500
"""Entries of a day in one answer."""

After = Annotated[int, Query(ge=0, le=2**63 - 1, description="the receipt or number to begin after")]


JSON = "application/json"


class NotJson(Exception):  # noqa: N818 - said to whoever sent it
    """A body came under another type than the interface takes."""


def asked_as_json(request: HttpRequest) -> bool:
    """
    Let a request with a body pass only under the type the interface publishes; asked before anything of it is read.

    Raises
    ------
    NotJson
        It came under another, or under none.
    """
    has_body = int(request.META.get("CONTENT_LENGTH") or 0) > 0
    if has_body and request.content_type != JSON:
        raise NotJson
    return True


class DeviceKey(HttpBearer):
    """The key a device was given when it was paired."""

    def __call__(self, request: HttpRequest) -> Any | None:
        """Let a request in by its key; one too large is turned away before anything of it is read."""
        if int(request.META.get("CONTENT_LENGTH") or 0) > LARGEST_BODY:
            raise RequestDataTooBig
        asked_as_json(request)
        return super().__call__(request)

    def authenticate(self, request: HttpRequest, token: str) -> Device | None:
        """Return the device with this key; a key that was revoked opens nothing."""
        return device_with_key(token)


api = NinjaAPI(
    title="Lapel: the field",
    version="1",
    description=__doc__.strip(),
    docs_url=None,
    openapi_url="openapi.json",
    auth=DeviceKey(),
    urls_namespace="field",
)
TURNED_AWAY = {400: Words, 401: Words, 403: Words, 413: Words, 415: Words, 422: Faults}
"""What any address may answer instead."""


@api.post("entries", response={200: Answer, 404: Words, **TURNED_AWAY}, summary="Deliver entries")
def deliver(request: HttpRequest, parcel: Parcel) -> Answer:
    """
    Take up to 200 entries into a survey's log, all that can be taken in one transaction.

    The same entry sent again gets the same receipt. The id of a kept entry with another content is refused and kept
    apart. Gaps and forks in the device's chain do not keep an entry out; `chain` tells of them.
    """
    device = device_of(request)
    survey = survey_for(device, parcel.survey)
    received_at = timezone.now()
    receipts = append(
        map(_read, parcel.entries),
        survey=survey,
        user=device.paired_by,
        device=device,
        received_at=received_at,
        sent_at=parcel.sent_at,
    )
    heard_of(device, at=received_at, sent_at=parcel.sent_at, last_made=parcel.last_made)
    ahead = (parcel.sent_at - received_at).total_seconds() if parcel.sent_at else None
    return _answer(receipts, ahead)


@api.get("device", response={200: DeviceAnswer, **TURNED_AWAY}, summary="Who am I?")
def who_am_i(request: HttpRequest, of_itself: Query[SaidOfItself]) -> DeviceAnswer:
    """Tell a device its code, its site and surveys, and how far the office has its chain; a sign of life."""
    device = device_of(request)
    heard_of(device, at=timezone.now(), sent_at=of_itself.sent_at, last_made=of_itself.last_made)
    return device_answer(device)


def device_answer(device: Device) -> DeviceAnswer:
    """Say who a device is, and how far the office has its chain."""
    last = LogEntry.objects.filter(device=device.code).order_by("-sequence", "-receipt").first()
    surveys = Survey.objects.filter(site=device.site).order_by("-assessed_on", "code")
    return DeviceAnswer(
        code=device.code,
        name=device.name,
        site=device.site.name,
        zone=device.site.zone,
        last_sequence=last.sequence if last else 0,
        last_hash=last.hash if last else "",
        surveys=[SurveyName(code=survey.code, title=survey.title) for survey in surveys],
    )


@api.get("day/{path:survey}", response={200: DayAnswer, 404: Words, **TURNED_AWAY}, summary="Entries and receipts")
def day(request: HttpRequest, survey: Path[str], after: After = 0) -> DayAnswer:
    """Give a survey's entries after a receipt, of all its devices, at most 500 at once."""
    found = survey_for(device_of(request), survey)
    rows = list(LogEntry.objects.filter(survey=found, receipt__gt=after).order_by("receipt")[: AT_ONCE + 1])
    shown = rows[:AT_ONCE]
    return DayAnswer(
        survey=found.code,
        last_receipt=shown[-1].receipt if shown else after,
        more=len(rows) > AT_ONCE,
        entries=[KeptEntry(receipt=row.receipt, entry=entry_record(entry_of(row))) for row in shown],
    )


@api.get(
    "conflicts/{path:survey}",
    response={200: list[ConflictAnswer], 404: Words, **TURNED_AWAY},
    summary="Refused entries to settle",
)
def conflicts(request: HttpRequest, survey: Path[str], after: After = 0) -> list[ConflictAnswer]:
    """Give a survey's refused entries that no person has settled, at most 500 at once, each beside the one kept."""
    found = survey_for(device_of(request), survey)
    rows = list(RefusedEntry.objects.filter(survey=found, settlement=None, pk__gt=after).order_by("pk")[:AT_ONCE])
    kept = kept_of(rows)
    return [
        ConflictAnswer(
            number=row.pk,
            entry_id=row.entry_id,
            device=row.device,
            received_at=row.received_at,
            problems=[Problem(**problem) for problem in row.problems],
            sent=row.content,
            kept_receipt=row.kept_id,
            kept=entry_record(kept[row.kept_id]) if row.kept_id is not None else None,
        )
        for row in rows
    ]


@api.exception_handler(RequestDataTooBig)
def too_large(request: HttpRequest, problem: Exception) -> HttpResponse:
    """413: a delivery in smaller parts goes through."""
    words = f"More than {LARGEST_BODY // 1024} kB in one request; send fewer entries at once. Nothing was taken."
    return api.create_response(request, {"detail": words}, status=413)


@api.exception_handler(NotJson)
def not_json(request: HttpRequest, problem: Exception) -> HttpResponse:
    """415: nothing of the body was read."""
    found = request.content_type or "no type"
    words = f"Found a body of {found[:100]}. Wanted Content-Type: {JSON}. Nothing was taken."
    return api.create_response(request, {"detail": words}, status=415)


@api.exception_handler(Http404)
def not_here(request: HttpRequest, problem: Exception) -> HttpResponse:
    """404: there is no such survey, or it is another site's; the two look the same."""
    words = str(problem) or "There is no such survey. Keep the entries."
    return api.create_response(request, {"detail": words}, status=404)


def device_of(request: HttpRequest) -> Device:
    """Return the device whose key came with the request."""
    device = request.auth  # type: ignore[attr-defined]  # set by the key's check
    assert isinstance(device, Device)
    return device


def survey_for(device: Device, code: str) -> Survey:
    """Return a survey of the device's site; for any other there is none."""
    found = None
    if holdable(code, 120) == code:
        found = Survey.objects.filter(site=device.site, code=code).first()
    if found is None:
        raise Http404
    return found


def _read(record: Any) -> Entry | Unreadable:
    try:
        entry = entry_from_record(record)
    except UnreadableRecord as problem:
        return Unreadable(record, problem.problems)
    if entry.received_at is not None:
        wanted = "no receipt time: the office gives it"
        return Unreadable(record, (EntryProblem("received_at", entry.received_at.isoformat(), wanted),))
    return entry


def _answer(receipts: Receipts, ahead: float | None) -> Answer:
    return Answer(
        received_at=receipts.received_at,
        clock_ahead_s=ahead,
        confirmed=list(receipts.confirmed),
        receipts=receipts.confirmed,
        refused={
            holdable(entry_id, 1000): RefusedAnswer(
                number=refusal.number,
                problems=[_problem(problem) for problem in refusal.problems],
                kept_receipt=refusal.kept_receipt,
            )
            for entry_id, refusal in receipts.refused.items()
        },
        chain=[
            ChainRemark(entry_id=link.entry_id, sequence=link.sequence, found=link.found, wanted=link.wanted)
            for link in receipts.chain
        ],
    )


def _problem(problem: EntryProblem) -> Problem:
    return Problem(
        field=holdable(problem.field, 200), found=holdable(problem.found, 500), wanted=holdable(problem.wanted, 1000)
    )

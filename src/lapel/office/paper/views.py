"""Field sheets: a list of the day's trains, the print, and the page a filled-in sheet is typed into."""

from __future__ import annotations

from datetime import date
from typing import Any, cast
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from lapel.documents.field_sheet import LABELS, WIDE, FieldSheet, SheetPart, field_sheets_document, known_answer
from lapel.fieldlog import UNITS
from lapel.office.downloads import download
from lapel.office.of_survey import survey_page
from lapel.office.paper.sheets import EMPTY, sheet_of, sheets_of
from lapel.office.paper.typing import RowFault, boxes, entries_of, row_key
from lapel.records.access import survey_for
from lapel.records.append import append
from lapel.records.models import LogEntry, Survey


@login_required
@require_safe
def sheets(request: HttpRequest, survey: str) -> HttpResponse:
    """List the days and trains a sheet can be printed for and typed in, and what of them is in the log already."""
    record = survey_for(request.user, survey)
    today = timezone.now().astimezone(ZoneInfo(record.site.zone)).date()
    planned = record.planned_trains.order_by("day").values_list("day", flat=True).distinct()
    days = sorted({*planned, today})
    wanted = request.GET.get("day", "")
    on = _day(wanted) if wanted else min((day for day in days if day >= today), default=today)
    of_day = sheets_of(record, on)
    empty = sheet_of(record, on, EMPTY)
    kept = _kept(record, [*of_day, empty])
    context = {
        "days": [day.isoformat() for day in sorted({*days, on})],
        "on": on.isoformat(),
        "sheets": [{"sheet": sheet, "kept": kept.get(sheet.code, 0)} for sheet in [*of_day, empty]],
        "empty": EMPTY,
    }
    return survey_page(request, "paper/sheets.html", record, "prepare", context)


@login_required
@require_safe
def printed(request: HttpRequest, survey: str, day: str) -> HttpResponse:
    """Give the sheets of a day as PDF, with an empty one at the end."""
    record = survey_for(request.user, survey)
    on = _day(day)
    made = field_sheets_document(
        [*sheets_of(record, on), sheet_of(record, on, EMPTY)],
        survey=record.title,
        site=record.site.name,
        dated=timezone.now().astimezone(ZoneInfo(record.site.zone)).date(),
    )
    return download(made, f"field-sheets-{on.isoformat()}.pdf", "application/pdf")


@login_required
@require_http_methods(["GET", "POST"])
def typed(request: HttpRequest, survey: str, day: str, train: str) -> HttpResponse:
    """Type a sheet in: boxes in the order of the sheet. All of it is kept, or nothing."""
    record = survey_for(request.user, survey, to="record")
    sheet = sheet_of(record, _day(day), train)
    user = cast(User, request.user)
    given = {name: str(value) for name, value in request.POST.items()} if request.method == "POST" else {}
    faults: list[RowFault] = []
    if request.method == "POST":
        author = given.get("author", "").strip() or user.get_username()
        entries, faults = entries_of(sheet, given, zone=ZoneInfo(record.site.zone), author=author)
        if not faults:
            receipts = append(entries, survey=record, user=user)
            _tell(request, len(receipts.added), len(receipts.confirmed) - len(receipts.added), len(receipts.refused))
            return redirect("field-sheet", survey=survey, day=day, train=train)
    in_log = set(
        LogEntry.objects.filter(survey=record, entry_id__in=[sheet.entry_id(line) for line in sheet.lines]).values_list(
            "entry_id", flat=True
        )
    )
    context = {
        "sheet": sheet,
        "parts": [_part(sheet, part, given, faults, in_log) for part in sheet.parts],
        "faults": faults,
        "author": given.get("author", user.get_username()),
        "units": UNITS["flow"],
        "in_log": len(in_log),
    }
    return survey_page(request, "paper/sheet.html", record, "prepare", context, status=422 if faults else 200)


def _tell(request: HttpRequest, added: int, there: int, apart: int) -> None:
    words = f"{added} line{'' if added == 1 else 's'} kept."
    if there:
        words += f" {there} had been typed in before, word for word."
    messages.success(request, words, extra_tags="good")
    if apart:
        verb = "says" if apart == 1 else "say"
        messages.warning(
            request,
            f"{apart} line{'' if apart == 1 else 's'} of this sheet {verb} something else than when it was first typed "
            "in. The first stays; the other is kept apart on the Field page, to be settled. To correct a line, correct "
            "its entry.",
            extra_tags="care",
        )


def _part(
    sheet: FieldSheet, part: SheetPart, given: dict[str, str], faults: list[RowFault], in_log: set[str]
) -> dict[str, Any]:
    return {
        "title": part.title,
        "hint": part.hint,
        "round": part.round_of,
        "air": {
            name: given.get(f"{part.round_of}-{name}", "")
            for name in ("meter", "unit", "temperature", "pressure", "humidity_percent")
        },
        "rows": [
            {
                "key": row_key(row),
                "numbers": row.numbers,
                "words": row.words,
                "time": given.get(f"{row_key(row)}-time", ""),
                "faults": [fault.words for fault in faults if fault.row == row_key(row)],
                "in_log": all(sheet.entry_id(line) in in_log for line in row.lines),
                "boxes": [
                    {
                        "name": f"line-{line.number}-{ask}",
                        "label": f"{LABELS[ask]}{'' if len(row.lines) == 1 else f' {place}'}",
                        "choices": choices,
                        "value": given.get(f"line-{line.number}-{ask}", ""),
                        "expected": known_answer(sheet, line, ask),
                        "wide": ask in WIDE,
                    }
                    for place, line in enumerate(row.lines, start=1)
                    for ask, choices in boxes(line)
                ],
            }
            for row in part.rows
        ],
    }


def _kept(record: Survey, of_day: list[FieldSheet]) -> dict[str, int]:
    """How many lines of each sheet are in the log, asked for all sheets at once."""
    ids = {sheet.entry_id(line): sheet.code for sheet in of_day for line in sheet.lines}
    found: dict[str, int] = {}
    for entry_id in LogEntry.objects.filter(survey=record, entry_id__in=list(ids)).values_list("entry_id", flat=True):
        found[ids[entry_id]] = found.get(ids[entry_id], 0) + 1
    return found


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Http404("There is nothing here.") from None

"""
From a sheet typed in to entries of the log.

What was written is kept as written, in its unit. A row counts once its time is there; a row that is filled in and has
no time is a fault. Times are by the clock of the place; “+1” says the day after, and where the clock is set back an
hour that comes twice needs its offset. Nothing is kept unless every row can be.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from lapel.documents.field_sheet import FieldSheet, SheetLine, SheetPart, SheetRow
from lapel.fieldlog import KINDS, Entry, EntryProblem, check_entry, instant_text

PAPER = "paper"
"""The device of what was on paper: it has no count of its own, and is ordered by time and kind."""

AIR = ("meter", "unit", "temperature", "pressure", "humidity_percent")
"""What stands once over a round and goes into each of its readings."""

_TIME = re.compile(r"^(\d{1,2})[:.]?(\d{2})(?::(\d{2}))?\s*(\+1)?\s*([+-]\d{2}:\d{2})?$")


class NoSuchTime(ValueError):  # noqa: N818 - said to a person
    """A time cannot be read, or is none or two on that day; the message says which, and what is wanted."""


@dataclass(frozen=True, slots=True)
class RowFault:
    """What is wrong in a row, in words."""

    row: str
    words: str


def row_key(row: SheetRow) -> str:
    """Name of a row among what was typed: its first line."""
    return f"line-{row.lines[0].number}"


def entries_of(
    sheet: FieldSheet, typed: Mapping[str, str], *, zone: ZoneInfo, author: str
) -> tuple[list[Entry], list[RowFault]]:
    """
    Make the entries of what was typed.

    Parameters
    ----------
    typed : mapping of str to str
        By ``line-N-time``, ``line-N-field`` and ``before-meter`` or ``after-meter`` and the like.
    zone : zoneinfo.ZoneInfo
        Of the place.
    author : str
        Who filled in the sheet.

    Returns
    -------
    entries, faults
        Use the entries only where there are no faults.
    """
    entries: list[Entry] = []
    faults: list[RowFault] = []
    for part in sheet.parts:
        for row in part.rows:
            made, wrong = _row(sheet, part, row, typed, zone, author)
            entries += made
            faults += wrong
    if not entries and not faults:
        faults.append(RowFault("", "Found no line with a time. Wanted at least one. Nothing was kept."))
    return entries, faults


def instant_on(sheet: FieldSheet, text: str, zone: ZoneInfo) -> datetime:
    """
    Return the instant of a time written on a sheet.

    Raises
    ------
    NoSuchTime
    """
    found = _TIME.match(text.strip())
    if not found or int(found[1]) > 23 or int(found[2]) > 59 or int(found[3] or 0) > 59:
        raise NoSuchTime(f"found “{text}”; wanted a time as in 06:05, or 00:40 +1 for the day after")
    day = sheet.day + timedelta(days=1 if found[4] else 0)
    local = datetime.combine(day, time(int(found[1]), int(found[2]), int(found[3] or 0)))
    if found[5]:
        return datetime.fromisoformat(f"{local.isoformat()}{found[5]}")
    first, second = (local.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() == second.utcoffset():
        return first
    if first.utcoffset() > second.utcoffset():  # type: ignore[operator]  # a zone always has one
        both = " or ".join(instant_text(one)[-6:] for one in (first, second))
        raise NoSuchTime(f"found {text}, which came twice that night; wanted its offset too, {both}")
    raise NoSuchTime(f"found {text}, which the clock jumped over that night; wanted a time it showed")


def _row(
    sheet: FieldSheet, part: SheetPart, row: SheetRow, typed: Mapping[str, str], zone: ZoneInfo, author: str
) -> tuple[list[Entry], list[RowFault]]:
    key = row_key(row)
    when = typed.get(f"{key}-time", "").strip()
    filled = [(line, _fields(line, typed)) for line in row.lines]
    if not when:
        if any(said for _, said in filled):
            return [], [RowFault(key, "Found no time. Wanted the time written on the sheet, as in 06:05.")]
        return [], []
    try:
        at = instant_on(sheet, when, zone)
    except NoSuchTime as problem:
        words = str(problem)
        return [], [RowFault(key, f"{words[:1].upper()}{words[1:]}.")]
    entries, faults = [], []
    for line, said in filled:
        if line.kind == "flow_read" and not said:
            continue  # fewer readings than there are blanks
        fields = {**line.given, **said, **_air(part, line, typed)}
        if line.kind == "train_prepared" and "charged_at" in fields:
            try:
                fields["charged_at"] = _charged(sheet, fields["charged_at"], zone)
            except NoSuchTime as problem:
                faults.append(RowFault(key, f"Full at: {problem}."))
                continue
        entry = Entry(
            id=sheet.entry_id(line),
            kind=line.kind,
            at=at,
            device=PAPER,
            sequence=0,
            author=author,
            fields=fields,
            origin=f"sheet {sheet.code}, line {line.number}",
        )
        faults += [RowFault(key, _words(problem)) for problem in check_entry(entry)]
        entries.append(entry)
    return entries, faults


def _fields(line: SheetLine, typed: Mapping[str, str]) -> dict[str, str]:
    found = ((ask, typed.get(f"line-{line.number}-{ask}", "").strip()) for ask in line.asks)
    return {name: text for name, text in found if text}


def _air(part: SheetPart, line: SheetLine, typed: Mapping[str, str]) -> dict[str, str]:
    if line.kind != "flow_read":
        return {}
    over = {name: typed.get(f"{part.round_of}-{name}", "").strip() for name in AIR}
    units = {
        "temperature_unit": "°C" if over["temperature"] else "",
        "pressure_unit": "kPa" if over["pressure"] else "",
    }
    return {name: text for name, text in {**over, **units}.items() if text}


def _charged(sheet: FieldSheet, text: str, zone: ZoneInfo) -> str:
    """A battery is full the evening before, unless the sheet says “today” with “+0”."""
    today = text.endswith("+0")
    at = instant_on(sheet, text.removesuffix("+0").strip(), zone)
    return instant_text(at if today else at - timedelta(days=1))


def _words(problem: EntryProblem) -> str:
    name = problem.field.replace("_", " ")
    return f"{name[:1].upper()}{name[1:]}: found {problem.found}; wanted {problem.wanted}."


def boxes(line: SheetLine) -> Iterator[tuple[str, tuple[str, ...]]]:
    """The fields of a line to be typed, each with its choices; no choices where words or numbers are wanted."""
    for ask in line.asks:
        spec = KINDS[line.kind].fields[ask]
        yield ask, ("yes", "no") if spec.type == "yes/no" else spec.choices

"""Days as laboratories write them. “03/04/2026” is two days until something shows which; nothing is guessed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from lapel.exchange.laboratory.sheets import Cell, shown
from lapel.exchange.survey_folder.delivered import CellFault

DayOrder = Literal["day first", "month first", "year first"]

_MONTHS = {
    word: number
    for number, words in enumerate(
        (
            "jan january januar janvier enero ene", "feb february februar février fevrier febrero",
            "mar march märz mrz mars marzo", "apr april avril abril abr", "may mai mayo maj", "jun june juni "
            "juin junio",
            "jul july juli juillet julio", "aug august août aout agosto ago", "sep sept september septembre septiembre",
            "oct october oktober okt octobre octubre", "nov november novembre noviembre",
            "dec december dezember dez décembre decembre diciembre dic",
        ),
        start=1,
    )
    for word in words.split()
}  # fmt: skip
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_PACKED = re.compile(r"(20\d{2})(\d{2})(\d{2})")
_NUMERIC = re.compile(r"(\d{1,2})\s?[-/.]\s?(\d{1,2})\s?[-/.]\s?(\d{4}|\d{2})")
_DAY_WORD = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[\s.\-/]*([^\W\d_]+)\.?[\s,.\-/]*(\d{4}|\d{2})")
_WORD_DAY = re.compile(r"([^\W\d_]+)\.?[\s\-]*(\d{1,2})(?:st|nd|rd|th)?[\s,.\-]+(\d{4}|\d{2})")
_WEEKDAY = re.compile(r"^(?:[^\W\d_]{2,9}\.?,?\s+)(?=\d)")
_TIME = re.compile(
    r"[\sT]+(?:at\s+)?\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?\s*(?:[ap]\.?m\.?|uhr|h)?\s*(?:z|[+-]\d\d:?\d\d)?$",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class DayDoubt:
    """A text that is two days, or none; `readings` are the days it may be."""

    text: str
    readings: tuple[date, ...]


def day_of(cell: Cell, order: DayOrder | None) -> date | DayDoubt | None:
    """
    Read a day; None where the cell is empty.

    Parameters
    ----------
    cell : Cell
        As it came; a day a workbook holds as such is that day.
    order : DayOrder or None
        What a person said, or the column itself showed.
    """
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    if isinstance(cell, CellFault):
        return DayDoubt(cell.found, ())
    text = _TIME.sub("", shown(cell).strip()).strip()
    if text in ("", "-", "--", "–", "n/a", "N/A"):
        return None
    return _written(text, order)


def _written(text: str, order: DayOrder | None) -> date | DayDoubt:
    for pattern in (_ISO, _PACKED):
        match = pattern.fullmatch(text)
        if match:
            return _day(text, int(match[1]), int(match[2]), int(match[3]))
    bare = _WEEKDAY.sub("", text) if not _WORD_DAY.fullmatch(text) else text
    match = _DAY_WORD.fullmatch(bare)
    if match and match[2].casefold() in _MONTHS:
        return _day(text, _year(match[3]), _MONTHS[match[2].casefold()], int(match[1]))
    match = _WORD_DAY.fullmatch(bare)
    if match and match[1].casefold() in _MONTHS:
        return _day(text, _year(match[3]), _MONTHS[match[1].casefold()], int(match[2]))
    match = _NUMERIC.fullmatch(bare)
    if match is None:
        return DayDoubt(text, ())
    first, second, year = int(match[1]), int(match[2]), _year(match[3])
    readings: dict[str, date | DayDoubt] = {
        "day first": _day(text, year, second, first),
        "month first": _day(text, year, first, second),
    }
    if len(match[3]) == 2 and "." not in bare:  # 26-04-27 may be a year first
        readings["year first"] = _day(text, 2000 + first, second, int(match[3]))
    days = [reading for reading in readings.values() if isinstance(reading, date)]
    if len(set(days)) == 1:
        only = days[0]
        return only if order is None or readings.get(order) == only else DayDoubt(text, (only,))
    if not days or order not in readings:
        return DayDoubt(text, tuple(dict.fromkeys(days)))
    return readings[order]


def order_of(cells: Iterable[Cell]) -> tuple[DayOrder | None, str]:
    """Find the order of day and month from cells that can only be one; with the cell that shows it."""
    shows: dict[DayOrder, str] = {}
    for cell in cells:
        match = _NUMERIC.fullmatch(_TIME.sub("", shown(cell).strip()).strip()) if isinstance(cell, str) else None
        if match is None or (len(match[3]) == 2 and "." not in match[0]):
            continue
        first, second = int(match[1]), int(match[2])
        if first > 12 >= second:
            shows.setdefault("day first", shown(cell))
        elif second > 12 >= first:
            shows.setdefault("month first", shown(cell))
    return next(iter(shows.items())) if len(shows) == 1 else (None, "")


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _day(text: str, year: int, month: int, day: int) -> date | DayDoubt:
    try:
        found = date(year, month, day)
    except ValueError:
        return DayDoubt(text, ())
    return found if 1950 <= year <= 2150 else DayDoubt(text, ())

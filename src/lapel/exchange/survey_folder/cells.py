"""From a typed cell to a value: exactly, or not at all."""

from __future__ import annotations

import functools
import itertools
import re
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from typing import Any

from lapel.exchange.problems import did_you_mean, quoted
from lapel.exchange.survey_folder.columns import LIST_MARK, Column
from lapel.fieldlog.checks import is_number
from lapel.figures.units import CANONICAL, UnitProblem, canonical, conversion, parsed_number

_CODE = re.compile(r"[^\W_][\w.:/+#-]{0,63}")
_PORT = re.compile(r"[A-Z]")
_BETWEEN = re.compile(r"[\s,;]+")
_SHA256 = re.compile(r"[0-9a-f]{64}")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_INSTANT = re.compile(
    r"([0-9]{4}-[0-9]{2}-[0-9]{2})[T ]([0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,6})?)?)(Z|[+-][0-9]{2}:[0-9]{2})?"
)
_LONGEST_TEXT = 4000
_FIRST_YEAR, _LAST_YEAR = 1950, 2150


class Unreadable(ValueError):  # noqa: N818 - carries what a fault needs to say
    """A cell does not hold what its column wants; `found` is empty where the cell itself says it."""

    def __init__(self, wanted: str, remedy: str, found: str = "") -> None:
        super().__init__(wanted)
        self.wanted = wanted
        self.remedy = remedy
        self.found = found


def read_cell(column: Column, text: str, *, zone: tzinfo | None = None, unit: str = "") -> Any:
    """
    Read one filled cell.

    Parameters
    ----------
    column : Column
        What the cell should hold.
    text : str
        The cell, without blanks around it and not empty.
    zone : tzinfo, optional
        Zone of the clock on the wall, for times without offset.
    unit : str
        Cell of the unit column, for a quantity.

    Returns
    -------
    str, float, bool, date, datetime or tuple
        As the column's type says; quantities in the canonical unit of their kind.

    Raises
    ------
    Unreadable
        Saying what is wanted and what to do.
    """
    return _READERS[column.type](column, text, zone, unit)


def range_text(column: Column) -> str:
    """Say which values are plausible, as in “from 0 to 20 L/min”."""
    unit = CANONICAL[column.unit_kind] if column.unit_kind else column.own_unit
    parts = []
    if column.low is not None:
        parts.append(f"above {column.low:g}" if column.above else f"from {column.low:g}")
    if column.high is not None:
        parts.append(f"to {column.high:g}" if parts and not column.above else f"and at most {column.high:g}")
    return " ".join([*parts, unit]).strip()


def _code(column: Column, text: str, _zone: tzinfo | None, _unit: str) -> str:
    if not _CODE.fullmatch(text):
        raise Unreadable(
            "a code of letters, digits and . : / + # - _ without blanks, at most 64 signs",
            "Write the code as it is on the label.",
        )
    return text


def _codes(column: Column, text: str, zone: tzinfo | None, unit: str) -> tuple[str, ...]:
    parts = tuple(part for part in _BETWEEN.split(text) if part)
    if not parts:
        raise Unreadable(f"codes separated by “{LIST_MARK}”", "Name at least one.")
    if len(set(parts)) < len(parts):
        raise Unreadable("every code once", "Remove the repeated code.")
    return tuple(_code(column, part, zone, unit) for part in parts)


def _text(column: Column, text: str, _zone: tzinfo | None, _unit: str) -> str:
    if len(text) > _LONGEST_TEXT:
        raise Unreadable(f"at most {_LONGEST_TEXT} signs", "Shorten it; longer papers can lie beside the folder.")
    return text


def _word(column: Column, text: str, _zone: tzinfo | None, _unit: str) -> str:
    if text not in column.words:
        wanted = "one of " + ", ".join(f"“{word}”" for word in column.words)
        raise Unreadable(wanted, did_you_mean(text, column.words) + "Write one of these words exactly.")
    return text


def _words(column: Column, text: str, zone: tzinfo | None, unit: str) -> tuple[str, ...]:
    return tuple(_text(column, part.strip(), zone, unit) for part in text.split(LIST_MARK) if part.strip())


def _yes_or_no(column: Column, text: str, _zone: tzinfo | None, _unit: str) -> bool:
    if text not in ("yes", "no"):
        raise Unreadable("“yes” or “no”", "Write the word out.")
    return text == "yes"


def _number(column: Column, text: str, _zone: tzinfo | None, _unit: str) -> float:
    _check_plain(column, text)
    try:
        value = float(parsed_number(text))
    except UnitProblem as problem:
        raise _from_units(problem, text, _number_wanted(column)) from problem
    _check_range(column, value)
    return value


def _whole_number(column: Column, text: str, zone: tzinfo | None, unit: str) -> int:
    value = _number(column, text, zone, unit)
    if value != int(value):
        raise Unreadable(f"a whole number {range_text(column)}", "Write it without decimals.")
    return int(value)


def _quantity(column: Column, text: str, _zone: tzinfo | None, unit: str) -> float:
    if not unit:
        raise Unreadable(
            f"its unit in “{column.unit_in}”, such as {CANONICAL[column.unit_kind]}",
            "Write the unit the number was read in; none is assumed.",
            f"{quoted(text)} without a unit",
        )
    _check_plain(column, text)
    try:
        value = canonical(text, unit, column.unit_kind)
    except UnitProblem as problem:
        raise _from_units(problem, text, _number_wanted(column)) from problem
    _check_range(column, value, f"{quoted(text)} {unit}")
    return value


def _unit(column: Column, text: str, _zone: tzinfo | None, _unit: str) -> str:
    wanted = f"a unit of {column.unit_kind}, such as {CANONICAL[column.unit_kind]}"
    if column.words:
        wanted = f"a unit of {column.unit_kind}: {', '.join(column.words)}"
        if text.replace(" ", "").lower() not in map(str.lower, column.words):
            raise Unreadable(wanted, "Write the unit the numbers were read in.")
    try:
        conversion(text, column.unit_kind)
    except UnitProblem as problem:
        raise Unreadable(wanted, "Write the unit the numbers were read in.") from problem
    return text


def _port(column: Column, text: str, _zone: tzinfo | None, _unit: str) -> str:
    if not _PORT.fullmatch(text):
        raise Unreadable("one port letter, as in A", "Write the capital letter on the holder.")
    return text


def _ports(column: Column, text: str, zone: tzinfo | None, unit: str) -> tuple[str, ...]:
    return tuple(_port(column, port, zone, unit) for port in _BETWEEN.split(text) if port)


def _sha256(column: Column, text: str, _zone: tzinfo | None, _unit: str) -> str:
    if not _SHA256.fullmatch(text):
        raise Unreadable("64 digits 0-9 a-f", "Copy the SHA-256 of the file.")
    return text


def _date(column: Column, text: str, _zone: tzinfo | None, _unit: str) -> date:
    wanted = "a date as year-month-day, as in 2026-03-09"
    if not _DATE.fullmatch(text):
        raise Unreadable(wanted, "Other orders of day and month are not guessed; write it in this form.")
    try:
        day = date.fromisoformat(text)
    except ValueError as problem:
        raise Unreadable(wanted, "There is no such day; correct it.") from problem
    _check_year(day.year)
    return day


def _instant(column: Column, text: str, zone: tzinfo | None, _unit: str) -> datetime:
    match = _INSTANT.fullmatch(text)
    wanted = "a date and time as 2026-03-09T05:42, with seconds or an offset (+01:00) where needed"
    if not match:
        raise Unreadable(wanted, "Write the date before the time, on the 24-hour clock.")
    try:
        wall = datetime.fromisoformat(f"{match[1]}T{match[2]}")
    except ValueError as problem:
        raise Unreadable(wanted, "There is no such day or time; correct it.") from problem
    _check_year(wall.year)
    return _placed(wall, match[3], zone)


def _placed(wall: datetime, offset_text: str | None, zone: tzinfo | None) -> datetime:
    """Turn a wall time into an instant with its offset fixed, so that differences are true durations."""
    if offset_text == "Z":
        return wall.replace(tzinfo=UTC)
    first = second = None
    if zone is not None:
        first, second = wall.replace(tzinfo=zone).utcoffset(), wall.replace(tzinfo=zone, fold=1).utcoffset()
    if offset_text:
        offset = _offset(offset_text)
        if zone is not None and offset not in (first, second):
            raise Unreadable(
                f"an offset the site's zone has then ({_offset_text(first)})",
                "Correct the offset, or leave it out; or correct the zone in survey.toml.",
            )
        return wall.replace(tzinfo=_fixed(offset))
    if first is None:
        return wall.replace(tzinfo=UTC)  # the zone itself is a fault already: nothing is used
    if first == second:
        return wall.replace(tzinfo=_fixed(first))
    both = f"{_offset_text(first)} or {_offset_text(second)}"
    if second is not None and first < second:  # PEP 495: in a gap the first offset is the smaller one
        raise Unreadable(
            f"a time that the clock showed: it jumped ahead then, from {_offset_text(first)} to {_offset_text(second)}",
            "Correct the time, or write the offset of the clock that was read.",
        )
    raise Unreadable(
        f"the offset too, {both}: the clock was set back then and showed this time twice",
        f"Add the offset: {wall.isoformat(timespec='minutes')}{_offset_text(first)} is the earlier.",
    )


@functools.cache
def _fixed(offset: timedelta) -> timezone:
    return timezone(offset)


@functools.cache
def _offset(text: str) -> timedelta:
    hours, minutes = int(text[1:3]), int(text[4:6])
    if hours > 14 or minutes > 59:
        raise Unreadable("an offset from -12:00 to +14:00", "Correct the offset.")
    return timedelta(hours=hours, minutes=minutes) * (-1 if text[0] == "-" else 1)


def _offset_text(offset: timedelta | None) -> str:
    minutes = int((offset or timedelta()).total_seconds() // 60)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _curve(column: Column, text: str, _zone: tzinfo | None, unit: str) -> tuple[tuple[float, float], ...]:
    wanted = "pairs of indicated=true flow with rising indications, as in 50=49.1; 100=98.8"
    if not unit:
        raise Unreadable(f"the unit of its flows in “{column.unit_in or 'flow_unit'}”", "Write the unit.")
    pairs = []
    for part in text.split(LIST_MARK):
        indicated, equals, true = part.partition("=")
        if not equals:
            raise Unreadable(wanted, "Write each pair with an equals sign.")
        try:
            pairs.append((canonical(indicated, unit, "flow"), canonical(true, unit, "flow")))
        except UnitProblem as problem:
            raise Unreadable(wanted, "Correct the pair.", str(problem).removeprefix("found ")) from problem
    rising = all(lower[0] < upper[0] and lower[1] < upper[1] for lower, upper in itertools.pairwise(pairs))
    if not rising or len(pairs) < 2 or min(min(pair) for pair in pairs) < 0 or max(max(pair) for pair in pairs) > 20:
        raise Unreadable(wanted, "Give at least two pairs, in rising order, between 0 and 20 L/min.")
    return tuple(pairs)


def _check_year(year: int) -> None:
    if not _FIRST_YEAR <= year <= _LAST_YEAR:
        raise Unreadable(f"a year from {_FIRST_YEAR} to {_LAST_YEAR}", "Correct the year.")


def _check_range(column: Column, value: float, found: str = "") -> None:
    too_low = column.low is not None and (value < column.low or (column.above and value == column.low))
    if too_low or (column.high is not None and value > column.high) or value != value:
        remedy = "Check the number and its unit." if column.unit_kind else "Check the number."
        raise Unreadable(f"a plausible number, {range_text(column)}", remedy, found)


def _check_plain(column: Column, text: str) -> None:
    """Refuse what the log would not read as a number: digits of other scripts, exponents of three digits."""
    if "," not in text and not is_number(text):
        raise Unreadable(_number_wanted(column), "Correct the number; leave the cell empty where nothing was read.")


def _number_wanted(column: Column) -> str:
    ranged = range_text(column)
    return f"a number {ranged}, with a decimal point" if ranged else "a number with a decimal point"


def _from_units(problem: UnitProblem, text: str, wanted: str) -> Unreadable:
    message = str(problem)
    if "unit of" in message:
        found, _, wish = message.removeprefix("found ").partition("; wanted ")
        return Unreadable(wish, "Write the unit the number was read in.", found)
    if "comma" in message:
        return Unreadable(wanted, "A comma could mean decimals or thousands, so it is not read: write a decimal point.")
    return Unreadable(wanted, "Correct the number; leave the cell empty where nothing was read.")


_READERS: Mapping[str, Callable[[Column, str, tzinfo | None, str], Any]] = {
    "code": _code,
    "codes": _codes,
    "text": _text,
    "word": _word,
    "words": _words,
    "yes or no": _yes_or_no,
    "number": _number,
    "whole number": _whole_number,
    "quantity": _quantity,
    "unit": _unit,
    "date": _date,
    "date-time": _instant,
    "curve": _curve,
    "port": _port,
    "ports": _ports,
    "sha256": _sha256,
}

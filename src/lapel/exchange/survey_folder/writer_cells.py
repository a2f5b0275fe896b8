"""From a value to the cell that reads back as exactly this value."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime
from decimal import Decimal

from lapel.exchange.survey_folder.columns import LIST_MARK

ABSOLUTE_ZERO_C = Decimal("273.15")


def number(value: float | None) -> str:
    """Write a number as the shortest decimal that reads back as it; empty for none."""
    return "" if value is None else plain(Decimal(repr(float(value))))


def plain(value: Decimal) -> str:
    """Write a decimal without exponent and without zeros that say nothing."""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def scaled(value: float | None, factor: int) -> str:
    """Write a value in a unit `factor` times smaller, as a flow of 0.05 L/min in mL/min; exact, for it is decimal."""
    return "" if value is None else plain(Decimal(repr(float(value))) * factor)


def celsius(kelvin: float | None) -> str:
    """Write a temperature in °C."""
    return "" if kelvin is None else plain(Decimal(repr(float(kelvin))) - ABSOLUTE_ZERO_C)


def date_text(day: date | None) -> str:
    """Write a day as year-month-day."""
    return "" if day is None else day.isoformat()


def instant(at: datetime) -> str:
    """Write an instant with its offset; seconds only where there are any."""
    if at.utcoffset() == UTC.utcoffset(None):
        return at.astimezone(UTC).replace(tzinfo=None).isoformat() + "Z"
    return at.isoformat(timespec="minutes" if at.second == 0 and at.microsecond == 0 else "auto")


def words(parts: Iterable[str]) -> str:
    """Write several codes or words in one cell."""
    return f"{LIST_MARK} ".join(parts)


def yes_or_no(value: bool) -> str:
    """Write a truth as a word."""
    return "yes" if value else "no"


def read_back_as(value: float | None, near: float, reads: Callable[[float], float]) -> str:
    """
    Write the number that a reader's arithmetic turns into `value`.

    Parameters
    ----------
    value : float or None
        What must come out.
    near : float
        About the number to write.
    reads : callable
        The reader's arithmetic, such as ``lambda percent: percent / 100.0``.

    Returns
    -------
    str
        The shortest such decimal. Where no number reads back to the last bit, the nearest one: the check of the whole
        folder after writing names that cell.

    Notes
    -----
    Dividing by 100 leaves out about one double in nine: they cannot have come from a folder, but a calculation can
    make them.
    """
    if value is None:
        return ""
    candidates = [float(f"{near:.{digits}g}") for digits in range(1, 18)]
    below = above = near
    for _ in range(3):
        below, above = math.nextafter(below, -math.inf), math.nextafter(above, math.inf)
        candidates += [below, above]
    fitting = next((candidate for candidate in candidates if reads(candidate) == value), None)
    return number(near if fitting is None else fitting)


def percent(fraction: float | None) -> str:
    """Write a fraction in percent."""
    return "" if fraction is None else read_back_as(fraction, fraction * 100.0, lambda written: written / 100.0)

"""Which day of a survey a page shows: the one asked for, else today if there is one, else the last."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from lapel.assessment.field_days import TrainDay

TRAINS_A_PAGE = 30
"""Trains of a day on one page; a day with more has more pages."""


def days_of(trains: Iterable[TrainDay]) -> list[date]:
    """Return the days of a survey's trains, each once, in order."""
    return sorted({one.on for one in trains})


def chosen_day(days: Sequence[date], asked: str, today: date) -> date | None:
    """Return the day a page shows; None where the survey has none yet."""
    for day in days:
        if day.isoformat() == asked:
            return day
    if today in days:
        return today
    return days[-1] if days else None


def chosen_instant(asked: str) -> datetime | None:
    """Return the moment to look at the day from; None where none is asked for or it says nothing of its offset."""
    try:
        at = datetime.fromisoformat(asked)
    except ValueError:
        return None
    return at if at.tzinfo is not None else None

"""Until when the records of surveys are kept: each class with its years, counted from the last day sampled."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from django.db.models import Max

from lapel.records.models import Site, Survey
from lapel.reference.retention import RetentionRule, retention_for


@dataclass(frozen=True, slots=True)
class Retained:
    """One survey: its last day, each class with the day until which it is kept; `until` is the longest of them."""

    code: str
    title: str
    rule_book: str
    last_day: date
    is_sampled: bool
    rows: tuple[tuple[RetentionRule, date], ...]

    @property
    def until(self) -> date:
        """Before this day nothing of the survey may go."""
        return max(until for _, until in self.rows)


def retained_surveys(site: Site) -> list[Retained]:
    """Return every survey of a site, what is due first; one query."""
    zone = ZoneInfo(site.zone)
    rows = Survey.objects.filter(site=site).annotate(last=Max("shifts__end")).order_by("code")
    found = [_retained(one, one.last.astimezone(zone).date() if one.last else None) for one in rows]
    return sorted(found, key=lambda one: (one.until, one.code))


def retained_words(survey: Survey) -> str:
    """Say until when a survey is kept, in a sentence."""
    last = survey.shifts.aggregate(last=Max("end"))["last"]
    found = _retained(survey, last.astimezone(ZoneInfo(survey.site.zone)).date() if last else None)
    rule, until = found.rows[0]
    return f"To be kept until {until.isoformat()} at least: {rule.years} years ({rule.source}; {rule.certainty_words})."


def _retained(survey: Survey, last: date | None) -> Retained:
    day = last or survey.assessed_on
    rows = tuple((rule, rule.kept_until(day)) for rule in retention_for(survey.rule_book))
    return Retained(survey.code, survey.title, survey.rule_book, day, last is not None, rows)

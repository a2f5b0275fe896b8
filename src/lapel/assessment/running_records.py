"""A recorded survey read again and again: only the tables that changed, and of the log only what came since."""

from __future__ import annotations

from bisect import insort
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any, TypeAlias

from django.db.models import Count, Max, OuterRef, QuerySet, Subquery

from lapel.assessment import inputs
from lapel.assessment.recorded_survey import READERS, field_text, hashed_fields, input_hash, line_of, survey_of
from lapel.fieldlog import Day, Entry, RunningFold
from lapel.records.log_reading import entries_of
from lapel.records.models import Delivery, EarlierCertificate, EarlierPlace, LogEntry, Survey
from lapel.records.models.kept import Kept

OF_THE_SITE = ("groups", "workers", "pumps", "splitters", "meters")
EARLIER: Mapping[str, tuple[type[Kept], str]] = {
    "certificates": (EarlierCertificate, "meter__site_id"),
    "places": (EarlierPlace, "worker__site_id"),
}
"""What a site's meters and workers had before: the record, and the way from it to the site."""

OF_THE_SURVEY = (
    *("agents", "limits", "methods", "medialots", "shifts", "sampleorders", "laboratoryreports", "results"),
    "overrides",
)

RESTS_ON: Mapping[str, tuple[str, ...]] = {
    "overrides": ("overrides",),
    "results": ("results", "laboratoryreports"),
    "orders": ("sampleorders", "shifts"),
    "shifts": ("shifts", "workers"),
    "limits": ("limits", "agents"),
    "workers": ("workers", "groups", "places"),
    "groups": ("groups",),
    "methods": ("methods", "agents"),
    "agents": ("agents",),
    "media_lots": ("medialots",),
    "pumps": ("pumps",),
    "splitters": ("splitters",),
    "meters": ("meters", "certificates"),
    "reports": ("laboratoryreports",),
}
"""The tables of the database behind each table of a survey: its own, and those whose codes it names."""

MOST_READINGS = 5
"""Times the records are read at once while others go on changing them; what came last is then read next time."""

Marks: TypeAlias = Mapping[str, Any]


class RunningRecords:
    """
    One recorded survey as plain data, with its hash and its day, brought up to date on request.

    Rows and log entries that did not change are the same objects as before.
    """

    def __init__(self) -> None:
        self.survey: inputs.Survey | None = None
        self.day: Day | None = None
        self._marks: Marks | None = None
        self._tables: dict[str, Any] = {}
        self._texts: dict[str, tuple[Any, str]] = {}
        self._forget_log()

    def _forget_log(self) -> None:
        self._fold = RunningFold()
        self._entries: tuple[Entry, ...] = ()
        self._lines: list[str] = []
        self._last_at: datetime | None = None
        self._receipt = 0
        self._delivery: str | None = None

    def bring_up_to_date(self, record: Survey) -> tuple[inputs.Survey, Day]:
        """
        Return the survey and its day as they are on record now; one query where nothing changed.

        What changes while it is read is read again, so that nothing is named that is not there.
        """
        for _ in range(MOST_READINGS):
            marks = records_marks(record)
            if marks == self._marks:
                break
            self._read(Survey.objects.using(record._state.db).select_related("site").get(pk=record.pk), marks)
        assert self.survey is not None  # read when the marks were
        assert self.day is not None
        return self.survey, self.day

    def _read(self, record: Survey, marks: Marks) -> None:
        before = self._marks or {}
        if "log" not in before or before["log"] != marks["log"]:
            self._read_log(record, marks["log"])
        for name, read in READERS.items():
            if name not in self._tables or any(before.get(one) != marks[one] for one in RESTS_ON[name]):
                self._tables[name] = _as_before(self._tables.get(name), read(record))
        survey = survey_of(record, self._entries, self._tables)
        texts = {name: self._text(name, value) for name, value in hashed_fields(survey, self._last_at)}
        survey = replace(survey, input_sha256=input_hash(texts, self._lines))
        if self.survey is None or self.survey.input_sha256 != survey.input_sha256:
            self.survey = survey
        self._marks = marks

    def _read_log(self, record: Survey, delivery: str | None) -> None:
        """Read what was delivered since; everything where the log is not the one read before, gone on."""
        deliveries = Delivery.objects.using(record._state.db).filter(survey=record)
        if self._delivery is not None and not deliveries.filter(hash=self._delivery).exists():
            self._forget_log()
        log = LogEntry.objects.using(record._state.db).filter(survey=record)
        upto = log.aggregate(last=Max("receipt"))["last"] or 0
        new = tuple(entries_of(record, after=self._receipt, upto=upto))
        self.day = self._fold.take(new)
        self._entries += new
        if self._lines:
            for entry in new:
                insort(self._lines, line_of(entry))
        else:
            self._lines = sorted(map(line_of, new))
        known = () if self._last_at is None else (self._last_at,)
        self._last_at = max((*known, *(entry.at for entry in new)), default=None)
        self._receipt, self._delivery = upto, delivery

    def _text(self, name: str, value: Any) -> str:
        known = self._texts.get(name)
        if known is None or known[0] != value:
            known = self._texts[name] = (value, field_text(value))
        return known[1]


def records_marks(survey: Survey) -> Marks:
    """
    Return values that differ whenever anything an assessment rests on has changed, table by table; one query.

    Of the log the hash of its last delivery, which covers all before it, and of every other table how many versions its
    history holds and when the last was written. Histories only grow, so a count shows every change, also one that was
    written earlier and became visible later; the instant tells a restored database from the one before.
    """
    deliveries = Delivery.objects.filter(survey_id=OuterRef("pk")).order_by("-pk")
    asked: dict[str, tuple[Subquery, ...]] = {
        "log": (Subquery(deliveries.values("hash")[:1]),),
        "survey": _versions(Survey, "id", "pk"),
        "site": _versions(type(survey.site), "id", "site_id"),
    }
    for name in OF_THE_SITE:
        asked[name] = _versions(type(survey.site)._meta.get_field(name).related_model, "site_id", "site_id")
    for name, (model, way) in EARLIER.items():
        asked[name] = _versions(model, way, "site_id")
    for name in OF_THE_SURVEY:
        asked[name] = _versions(Survey._meta.get_field(name).related_model, "survey_id", "pk")
    columns = [one for each in asked.values() for one in each]
    row = iter(Survey.objects.filter(pk=survey.pk).order_by().values_list(*columns).get())
    marks: dict[str, Any] = {name: tuple(next(row) for _ in each) for name, each in asked.items()}
    return marks | {"log": marks["log"][0]}


def _versions(model: object, name: str, outer: str) -> tuple[Subquery, Subquery]:
    assert isinstance(model, type)
    assert issubclass(model, Kept)  # every table an assessment rests on keeps its history
    versions = model.history.filter(**{name: OuterRef(outer)})
    return _one(versions, name, Count("history_id")), _one(versions, name, Max("history_date"))


def _one(rows: QuerySet[Any], by: str, what: Count | Max) -> Subquery:
    return Subquery(rows.order_by().values(by).annotate(what=what).values("what"))


def _as_before(before: Any, now: Any) -> Any:
    """Return a table with every row that is as it was the same object as before."""
    if isinstance(now, dict) and isinstance(before, dict):
        return {code: before[code] if before.get(code) == row else row for code, row in now.items()}
    if isinstance(now, tuple) and isinstance(before, tuple):
        known = {row: row for row in before}
        return tuple(known.get(row, row) for row in now)
    return now

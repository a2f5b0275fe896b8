"""
The assessment of a recorded survey as it stands now, worked once and held while nothing it rests on changes.

Whether something changed is asked of the database in one query (`records_mark`): the log and the histories only ever
grow. What is held is held by the hash of what the records say, so that a change that changes nothing costs a reading
and no new assessment.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from threading import Lock
from typing import Any, TypeAlias

from django.db.models import Count, Max, OuterRef, QuerySet, Subquery

from lapel.assessment import inputs
from lapel.assessment.recorded_survey import recorded_survey, with_input_hash
from lapel.assessment.results import SurveyAssessment
from lapel.assessment.survey import assess
from lapel.fieldlog import Day, fold
from lapel.records.models import Delivery, Survey
from lapel.records.models.kept import Kept
from lapel.reference import PACKAGED

MOST_HELD = 4
"""Surveys whose assessment is held at a time; one of thousands of samples is some hundred megabytes."""

OF_THE_SITE = ("groups", "workers", "pumps", "splitters", "meters")
OF_THE_SURVEY = (
    *("agents", "limits", "methods", "medialots", "shifts", "sampleorders", "laboratoryreports", "results"),
    "overrides",
)

Mark: TypeAlias = tuple[Any, ...]


class CannotAssess(Exception):  # noqa: N818 - reads as what it is
    """A survey cannot be assessed as it is recorded; `reasons` says why, each in one sentence with its remedy."""

    def __init__(self, reasons: Iterable[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__(" ".join(self.reasons))


@dataclass(slots=True)
class _Held:
    """What is known of one survey; `working` lets one request work while the others wait for it."""

    working: Lock = field(default_factory=Lock)
    mark: Mark | None = None
    survey: inputs.Survey | None = None
    day: Day | None = None
    assessment: SurveyAssessment | None = None


_held: OrderedDict[tuple[str, int], _Held] = OrderedDict()
_door = Lock()


def held_survey(survey: Survey) -> tuple[inputs.Survey, Day]:
    """
    Return a recorded survey as plain data with its hash, and what its log amounts to.

    Parameters
    ----------
    survey : Survey
        The record, with its site; access was checked by whoever got it.

    Returns
    -------
    inputs.Survey, Day
        One query while nothing changed.
    """
    held = _of(survey)
    with held.working:
        return _read(held, survey)


def held_assessment(survey: Survey) -> SurveyAssessment:
    """
    Return the assessment of a recorded survey as it stands now.

    Parameters
    ----------
    survey : Survey
        The record, with its site; access was checked by whoever got it.

    Raises
    ------
    CannotAssess
        Something it needs is not on record, such as a flow meter that readings name.
    """
    held = _of(survey)
    with held.working:
        data, day = _read(held, survey)
        if held.assessment is None:
            if reasons := reasons_against(data, day):
                raise CannotAssess(reasons)
            held.assessment = assess(data)
        return held.assessment


def day_until(survey: inputs.Survey, until: datetime) -> Day:
    """
    Return what the log says, as known now, of everything that had happened by an instant.

    Corrections made later count: they say what really happened then.
    """
    return fold(entry for entry in survey.entries if entry.kind == "correction" or entry.at <= until)


def reasons_against(survey: inputs.Survey, day: Day) -> list[str]:
    """Say what keeps a survey from being assessed; empty when nothing does."""
    found = [
        f"The rule book “{key}” is not on this server. Choose one of: {', '.join(PACKAGED)}."
        for key in (survey.rule_book, *survey.compared_rule_books)
        if key not in PACKAGED
    ]
    unknown: dict[str, list[str]] = {}
    for train in day.trains.values():
        for preparation in train.preparations:
            for read in preparation.readings:
                if read.meter not in survey.meters:
                    unknown.setdefault(read.meter, []).append(read.entry_id)
    found += [
        f"Flow meter {meter} is not in the site's register, and {len(ids)} readings name it (the first: entry "
        f"{ids[0]}). Enter it under Equipment, or correct the readings."
        for meter, ids in unknown.items()
    ]
    for order in survey.orders.values():
        for method in order.methods:
            if method not in survey.methods:
                found.append(f"Sampler {order.sampler} names method {method}, which this survey does not have.")
    return found


def records_mark(survey: Survey) -> Mark:
    """
    Return values that differ whenever anything an assessment rests on has changed; one query.

    The hash of the log's last delivery, which covers all before it, and of every other table how many versions its
    history holds and when the last was written. Histories only grow, so a count shows every change, also one that was
    written earlier and became visible later; the instant tells a restored database from the one before.
    """
    deliveries = Delivery.objects.filter(survey_id=OuterRef("pk")).order_by("-pk")
    asked: list[Subquery] = [Subquery(deliveries.values("hash")[:1])]
    asked += _versions(Survey, "id", "pk")
    asked += _versions(type(survey.site), "id", "site_id")
    for name in OF_THE_SITE:
        asked += _versions(type(survey.site)._meta.get_field(name).related_model, "site_id", "site_id")
    for name in OF_THE_SURVEY:
        asked += _versions(Survey._meta.get_field(name).related_model, "survey_id", "pk")
    row: Mark = Survey.objects.filter(pk=survey.pk).order_by().values_list(*asked).get()
    return row


def _of(survey: Survey) -> _Held:
    key = (str(survey._state.db), survey.pk)
    with _door:
        held = _held.setdefault(key, _Held())
        _held.move_to_end(key)
        while len(_held) > MOST_HELD:
            _held.popitem(last=False)
    return held


def _read(held: _Held, record: Survey) -> tuple[inputs.Survey, Day]:
    mark = records_mark(record)  # before the records: what changes meanwhile makes the next mark differ
    if held.mark != mark or held.survey is None or held.day is None:
        data = with_input_hash(recorded_survey(record))
        if held.survey is None or held.survey.input_sha256 != data.input_sha256:
            held.survey, held.day, held.assessment = data, fold(data.entries), None
        held.mark = mark
    assert held.day is not None  # set together with the survey
    return held.survey, held.day


def _versions(model: object, name: str, outer: str) -> tuple[Subquery, Subquery]:
    assert isinstance(model, type)
    assert issubclass(model, Kept)  # every table an assessment rests on keeps its history
    versions = model.history.filter(**{name: OuterRef(outer)})
    return _one(versions, name, Count("history_id")), _one(versions, name, Max("history_date"))


def _one(rows: QuerySet[Any], by: str, what: Count | Max) -> Subquery:
    return Subquery(rows.order_by().values(by).annotate(what=what).values("what"))

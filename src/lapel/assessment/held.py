"""
The assessment of a recorded survey as it stands now, held in this process and brought up to date on request.

Whether something changed is asked of the database in one query (`records_marks`): the log and the histories only ever
grow. Then only the tables that changed are read again, of the log only what was delivered since, only the trains are
folded that it touches, and only the samples, shifts and mixtures worked whose own records are not what they were. What
is held is held by the hash of what the records say: a change that changes nothing costs a reading. Every process holds
its own; none trusts another.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from threading import Lock

from lapel.assessment import inputs
from lapel.assessment.kept import KeptWork
from lapel.assessment.results import SurveyAssessment
from lapel.assessment.running_records import RunningRecords
from lapel.assessment.survey import assess
from lapel.fieldlog import Day, fold
from lapel.records.models import Survey
from lapel.reference import PACKAGED

MOST_HELD = 4
"""Surveys whose assessment is held at a time; one of thousands of samples is some hundred megabytes."""


class CannotAssess(Exception):  # noqa: N818 - reads as what it is
    """A survey cannot be assessed as it is recorded; `reasons` says why, each in one sentence with its remedy."""

    def __init__(self, reasons: Iterable[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__(" ".join(self.reasons))


@dataclass(slots=True)
class _Held:
    """What is known of one survey; `working` lets one request work while the others wait for it."""

    working: Lock = field(default_factory=Lock)
    records: RunningRecords = field(default_factory=RunningRecords)
    work: KeptWork = field(default_factory=KeptWork)
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
        return held.records.bring_up_to_date(survey)


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
        data, day = held.records.bring_up_to_date(survey)
        if held.assessment is None or held.assessment.survey is not data:
            held.assessment = None
            if reasons := reasons_against(data, day):
                raise CannotAssess(reasons)
            held.assessment = assess(data, day=day, kept=held.work)
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


def _of(survey: Survey) -> _Held:
    key = (str(survey._state.db), survey.pk)
    with _door:
        held = _held.setdefault(key, _Held())
        _held.move_to_end(key)
        while len(_held) > MOST_HELD:
            _held.popitem(last=False)
    return held

"""Who was told, and who is still to be told, counted against the clocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from lapel.assessment.results import SurveyAssessment
from lapel.documents.worker_results import results_by_worker
from lapel.office.report.forms import WAYS
from lapel.records.audit import signed
from lapel.records.models import Survey, Telling


@dataclass(frozen=True, slots=True)
class Told:
    """
    How far telling has come.

    Attributes
    ----------
    workers : tuple of str
        Codes of everybody with a result, or sampled without one.
    tellings : tuple of dict
        What is on record, the latest first; `is_same` says whether the figures are still those that were told.
    """

    workers: tuple[str, ...]
    tellings: tuple[dict[str, Any], ...]

    @property
    def left(self) -> tuple[str, ...]:
        """Who was never told."""
        told = {row["worker"] for row in self.tellings}
        return tuple(worker for worker in self.workers if worker not in told)

    @property
    def outdated(self) -> tuple[str, ...]:
        """Who was told of figures whose inputs have changed since."""
        same = {row["worker"] for row in self.tellings if row["is_same"]}
        told = {row["worker"] for row in self.tellings}
        return tuple(worker for worker in self.workers if worker in told and worker not in same)


def told_of(survey: Survey, assessment: SurveyAssessment) -> Told:
    """Read who was told."""
    ways, now = dict(WAYS), assessment.survey.input_sha256
    rows = survey.tellings.order_by("-on", "-id").values("worker__code", "how", "on", "person", "proof", "input_sha256")
    return Told(
        tuple(results_by_worker(assessment)),
        tuple(
            {
                "worker": row["worker__code"],
                "how": ways.get(row["how"], row["how"]),
                "on": row["on"],
                "person": row["person"],
                "proof": row["proof"],
                "is_same": row["input_sha256"] == now,
            }
            for row in rows
        ),
    )


@transaction.atomic
def keep_tellings(
    survey: Survey, assessment: SurveyAssessment, codes: Sequence[str], *, how: str, on: date, proof: str, by: User
) -> int:
    """Record that workers were told of the figures as they are now; nothing recorded before is touched."""
    workers = survey.site.workers.filter(code__in=codes)
    for worker in workers:
        telling = Telling(
            survey=survey,
            worker=worker,
            how=how,
            on=on,
            person=by.get_username(),
            proof=proof,
            input_sha256=assessment.survey.input_sha256,
        )
        signed(telling, by, "told").save()
    return len(workers)

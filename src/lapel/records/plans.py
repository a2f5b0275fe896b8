"""The doors into a survey's plan: putting trains in force, and asking for a search."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import timedelta
from typing import Any, TypeAlias

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone
from simple_history.utils import bulk_create_with_history

from lapel.records.audit import signed
from lapel.records.models import PlannedTrain, PlanSearch, Survey

KeptTrain: TypeAlias = dict[str, Any]
"""A train as it is kept: day, worker, pump, splitter, technician, hang_at_min, ports."""

SILENT_AFTER = timedelta(seconds=90)
"""A search nobody has heard of for so long has ended without a word."""


def kept_trains(survey: Survey) -> list[KeptTrain]:
    """Return the trains of the plan in force as plain data, in a fixed order."""
    return in_order(_as_kept(row) for row in survey.planned_trains.select_related("worker"))


def _as_kept(row: PlannedTrain) -> KeptTrain:
    return {
        "day": row.day.isoformat(),
        "worker": row.worker.code,
        "pump": row.pump,
        "splitter": row.splitter,
        "technician": row.technician,
        "hang_at_min": row.hang_at_min,
        "ports": row.ports,
    }


def in_order(trains: Iterable[Mapping[str, Any]]) -> list[KeptTrain]:
    """Return trains in an order that says nothing, so that two plans can be compared."""
    names = ("day", "worker", "pump", "splitter", "technician", "hang_at_min", "ports")
    plain = [{name: train[name] for name in names} for train in trains]
    return sorted(plain, key=lambda t: (t["day"], t["worker"], t["pump"], t["hang_at_min"]))


def put_in_force(
    survey: Survey, trains: Iterable[Mapping[str, Any]], *, user: User | None, reason: str
) -> tuple[int, int]:
    """
    Put trains in force in place of those that are.

    Parameters
    ----------
    survey : Survey
        Access was checked by whoever got it (act "plan").
    trains : iterable of mapping
        As `kept_trains` gives them; every worker is one of the site's.
    user : User, optional
        Who decides it.
    reason : str
        Why, for the history.

    Returns
    -------
    int, int
        How many trains are new, and how many are gone. A train that stays as it was is not touched.
    """
    wanted = in_order(trains)
    with transaction.atomic():
        Survey.objects.select_for_update().get(pk=survey.pk)
        gone = 0
        for row in survey.planned_trains.select_related("worker"):
            now = _as_kept(row)
            if now in wanted:
                wanted.remove(now)
            else:
                signed(row, user, reason).delete()
                gone += 1
        workers = {worker.code: worker for worker in survey.site.workers.all()}
        new = [PlannedTrain(survey=survey, **{**train, "worker": workers[train["worker"]]}) for train in wanted]
        if new:
            bulk_create_with_history(new, PlannedTrain, default_user=user, default_change_reason=reason)
    return len(new), gone


def ask_for_search(
    survey: Survey, *, user: User | None, seconds: float, bend: Mapping[str, Any] | None = None
) -> PlanSearch:
    """Ask for a search; one at a time for a survey, and the one under way is given where there is one."""
    with transaction.atomic():
        Survey.objects.select_for_update().get(pk=survey.pk)
        last = survey.plan_searches.first()
        if last is not None and is_under_way(last):
            return last
        return PlanSearch.objects.create(survey=survey, asked_by=user, seconds=seconds, bend=bend)


def is_under_way(search: PlanSearch) -> bool:
    """Whether a search is waiting or working, and was heard of lately."""
    if search.standing not in (PlanSearch.Standing.WAITING, PlanSearch.Standing.WORKING):
        return False
    return timezone.now() - (search.heard_at or search.asked_at) < SILENT_AFTER

"""What is true from a day on: a meter certified anew, a worker who comes to another group; what was before stays."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from lapel.records.audit import signed
from lapel.records.models import EarlierCertificate, EarlierPlace, ExposureGroup, Meter, Worker
from lapel.records.models.equipment import Certified

CERTIFIED = tuple(field.name for field in Certified._meta.get_fields())
"""What a certificate says of a meter, by field."""


class AlreadyThere(ValueError):  # noqa: N818 - reads as what it is
    """Something is on record for this day already; `day` is it, None for what has no day."""

    def __init__(self, day: date | None) -> None:
        super().__init__(f"there is one of {day or 'no day'} already")
        self.day = day


@transaction.atomic
def certify(meter: Meter, said: Mapping[str, Any], *, user: User | None, reason: str) -> None:
    """
    Enter another certificate of a meter; readings before its day go on counting by those before it.

    Parameters
    ----------
    said : mapping
        What the certificate says, by the names in `CERTIFIED`; what is left out it does not say.

    Raises
    ------
    AlreadyThere
        The meter has a certificate of that day, or one without a day and this has none either. Nothing was written.
    """
    meter = Meter.objects.select_for_update().get(pk=meter.pk)
    earlier = list(EarlierCertificate.objects.filter(meter=meter))
    day = said.get("certified_on")
    if day in {meter.certified_on, *(one.certified_on for one in earlier)}:
        raise AlreadyThere(day)
    entered = EarlierCertificate(meter=meter, **said)
    if _is_later(day, meter.certified_on):
        before = EarlierCertificate(meter=meter, origin=meter.origin, **_certified(meter))
        signed(before, user, reason).save()
        for name, value in _certified(entered).items():
            setattr(meter, name, value)
        signed(meter, user, reason).save()
    else:
        signed(entered, user, reason).save()


@transaction.atomic
def place(
    worker: Worker, group: ExposureGroup, *, job: str = "", since: date | None, user: User | None, reason: str
) -> None:
    """
    Enter the group a worker belongs to from a day on; shifts before it go on counting for the group before.

    Raises
    ------
    AlreadyThere
        The worker came to a group on that day already. Nothing was written.
    """
    worker = Worker.objects.select_for_update().get(pk=worker.pk)
    earlier = list(EarlierPlace.objects.filter(worker=worker))
    if since in {worker.since, *(one.since for one in earlier)}:
        raise AlreadyThere(since)
    if _is_later(since, worker.since):
        before = EarlierPlace(worker=worker, group=worker.group, job=worker.job, since=worker.since)
        before.origin = worker.origin
        signed(before, user, reason).save()
        worker.group, worker.job, worker.since = group, job, since
        signed(worker, user, reason).save()
    else:
        signed(EarlierPlace(worker=worker, group=group, job=job, since=since), user, reason).save()


def _certified(one: Certified) -> dict[str, Any]:
    return {name: getattr(one, name) for name in CERTIFIED}


def _is_later(day: date | None, latest: date | None) -> bool:
    """Whether a day comes after the latest on record; what has no day stands before everything."""
    return day is not None and (latest is None or day > latest)

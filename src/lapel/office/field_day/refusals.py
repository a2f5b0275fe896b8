"""Entries the log did not take: kept apart as sent, until a person says what is to be made of them."""

from __future__ import annotations

from collections.abc import Iterable

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import F, QuerySet
from django.http import Http404

from lapel.records.access import Act, Person, survey_for
from lapel.records.audit import signed
from lapel.records.models import RefusalSettlement, RefusedEntry, Survey


def refusals_of(surveys: Iterable[Survey]) -> QuerySet[RefusedEntry]:
    """Return everything the logs of some surveys did not take, what waits to be settled first."""
    rows = RefusedEntry.objects.filter(survey__in=surveys).select_related("survey", "settlement__settled_by")
    return rows.order_by(F("settlement").asc(nulls_first=True), "pk")


@transaction.atomic
def settle_all(refused: Iterable[RefusedEntry], *, by: User, reason: str) -> int:
    """Settle several refused entries for one reason; return how many were open."""
    opened = [one for one in refused if not hasattr(one, "settlement")]
    for one in opened:
        settle(one, by=by, reason=reason)
    return len(opened)


def open_refusals(survey: Survey) -> QuerySet[RefusedEntry]:
    """Return what waits to be settled, the first first."""
    return RefusedEntry.objects.filter(survey=survey, settlement=None).select_related("kept")


def refused_for(person: Person, survey: str, number: int, *, to: Act = "see") -> RefusedEntry:
    """Return a refused entry of a survey the person may do this with."""
    record = survey_for(person, survey, to=to)
    found = RefusedEntry.objects.filter(survey=record, pk=number).select_related("kept", "survey__site", "settlement")
    row = found.first()
    if row is None:
        raise Http404("There is nothing here.")
    return row


@transaction.atomic
def settle(refused: RefusedEntry, *, by: User, reason: str) -> RefusalSettlement:
    """Record a person's decision about a refused entry; the first decision stays."""
    settled = RefusalSettlement.objects.filter(refused=refused).first()
    if settled is None:
        settled = RefusalSettlement(refused=refused, settled_by=by, reason=reason)
        signed(settled, by, reason).save()
    return settled

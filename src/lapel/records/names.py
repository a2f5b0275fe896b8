"""
The key from worker codes to names, kept apart from everything else.

Records, pages, figures and folders know workers by code. A name is read here only, by those whose role lets them
(`lapel.records.access`, act "name"), and goes out in a file of its own, never inside a survey folder.
"""

from __future__ import annotations

import csv
import io
import logging
from collections.abc import Mapping

from django.db import transaction

from lapel.records.access import Person, site_for, worker_for
from lapel.records.audit import signed
from lapel.records.models import WorkerName

LOG = logging.getLogger("lapel.records.names")
"""Who looked up names, and of which site; never a name of a worker."""


def names_on(person: Person, site: str) -> Mapping[str, str]:
    """
    Return the names on a site by worker code; the server's log keeps who asked.

    Parameters
    ----------
    person : user
        Who asks.
    site : str
        Code of the site.

    Raises
    ------
    Http404
        The person has no part in the site.
    PermissionDenied
        The person's role does not see names.
    """
    there = site_for(person, site, to="name")
    LOG.info("worker names of %r given to %r", there.code, person.get_username())
    named = WorkerName.objects.filter(worker__site=there).order_by("worker__code")
    return dict(named.values_list("worker__code", "name"))


def name_worker(person: Person, site: str, worker: str, name: str, *, reason: str = "") -> WorkerName:
    """
    Set the name behind a worker's code.

    Raises
    ------
    ValueError
        The name is empty, or longer than 200 signs.
    Http404, PermissionDenied
        As `names_on`.
    """
    text = " ".join(name.split())
    if not 0 < len(text) <= 200:
        raise ValueError(f"`name` must have 1 to 200 signs; found {len(text)}")
    who = worker_for(person, site, worker, to="name")
    with transaction.atomic():
        named = WorkerName.objects.filter(worker=who).first() or WorkerName(worker=who)
        named.name = text
        signed(named, person, reason).save()
    return named


def forget_name(person: Person, site: str, worker: str, *, reason: str) -> None:
    """
    Take a name out for good, earlier versions of it too; that, when and why it was done stays on record.

    Raises
    ------
    Http404, PermissionDenied
        As `names_on`.
    """
    who = worker_for(person, site, worker, to="name")
    with transaction.atomic():
        for named in WorkerName.objects.filter(worker=who):
            signed(named, person, reason).delete()
        WorkerName.history.filter(worker_id=who.pk).update(name="")


def name_key(person: Person, site: str) -> str:
    """
    Write the key from codes to names as CSV, to be kept where names may be kept.

    Raises
    ------
    Http404, PermissionDenied
        As `names_on`.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("code", "name"))
    writer.writerows(names_on(person, site).items())
    return text.getvalue()

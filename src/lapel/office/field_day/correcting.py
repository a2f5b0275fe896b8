"""Correcting an entry at the office: one correction a changed field, all of them or none, each a new entry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from django.contrib.auth.models import User
from django.db import transaction

from lapel.fieldlog import Day, Entry, EntryProblem, check_entry, instant_in
from lapel.records.append import append_correction
from lapel.records.models import LogEntry


def as_it_counts(recorded: Entry, day: Day) -> Entry | None:
    """Return an entry as it counts now, with its corrections; None where it was withdrawn."""
    amendment = day.amendments.get(recorded.id)
    return amendment.counts if amendment is not None else recorded


def problems_of(entry: Entry, changes: Mapping[str, str]) -> list[EntryProblem]:
    """Say what would be wrong with an entry after some changes, by field; “at” is the instant."""
    fields = {**entry.fields, **{name: text for name, text in changes.items() if name != "at"}}
    at = entry.at
    if "at" in changes:
        try:
            at = instant_in(changes["at"])
        except ValueError:
            wanted = "an instant with its offset, as in 2026-03-29T05:10+02:00"
            return [EntryProblem("at", f"“{changes['at']}”", wanted)]
    return check_entry(replace(entry, at=at, fields={name: text for name, text in fields.items() if text.strip()}))


def correct_fields(entry: LogEntry, changes: Mapping[str, str], *, author: User, reason: str) -> list[LogEntry]:
    """
    Record what an entry should say; the entry itself stays as it is.

    Raises
    ------
    EntryRefused
        A correction cannot be taken; none was written.
    """
    with transaction.atomic():
        return [
            append_correction(entry, author=author, reason=reason, field=name, value=text)
            for name, text in changes.items()
        ]

"""Entries that come in as a file of a device: through the same door, with the same receipts and refusals."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from lapel.exchange.entries_file import EntriesFile
from lapel.exchange.problems import Faults, Place, quoted
from lapel.fieldlog import ChainBreak, Entry, EntryProblem
from lapel.records.append import Receipts, Refusal, Unreadable, append
from lapel.records.models import Device, LogEntry, RefusedEntry, Survey


@dataclass(slots=True)
class BroughtIn:
    """What became of a file's entries."""

    new: int = 0
    there_already: int = 0
    refused: list[RefusedEntry] = field(default_factory=list)
    chain: list[ChainBreak] = field(default_factory=list)
    devices: tuple[str, ...] = ()


def bring_in(found: EntriesFile, *, name: str, survey: Survey, by: User) -> BroughtIn:
    """
    Take a file's entries into the log of a survey, all of it in one transaction.

    Parameters
    ----------
    by : User
        Who brings it in; access was checked (act "record").

    Raises
    ------
    InputProblems
        A device is not one of the survey's site. Nothing was kept.
    """
    devices = {device.code: device for device in Device.objects.filter(site=survey.site, code__in=found.devices)}
    faults = Faults()
    for code in found.devices:
        if code not in devices:
            faults.add(
                Place(name),
                f"entries of the device {quoted(code[:80])}",
                "entries of a device of this site",
                "Enter the device under Devices, with this code, and bring the file in again.",
            )
    faults.raise_any()
    result = BroughtIn(devices=found.devices)
    with transaction.atomic():
        for code, items in _by_device(found.items):
            _count(result, append(items, survey=survey, user=by, device=devices.get(code)))
    return result


def receipts_of(survey: Survey, device: Device) -> Receipts:
    """Return the receipts of everything a device has in a survey's log, and what of it was refused and is open."""
    receipts = Receipts(received_at=timezone.now())
    rows = LogEntry.objects.filter(survey=survey, device=device.code).order_by("receipt")
    receipts.confirmed = dict(rows.values_list("entry_id", "receipt"))
    for row in RefusedEntry.objects.filter(survey=survey, device=device.code, settlement=None):
        problems = tuple(EntryProblem(**one) for one in row.problems)
        receipts.refused[row.entry_id] = Refusal(row.pk, problems, row.kept_id)
    return receipts


def _by_device(items: Iterable[Entry | Unreadable]) -> list[tuple[str, list[Entry | Unreadable]]]:
    found: dict[str, list[Entry | Unreadable]] = {}
    for item in items:
        found.setdefault(item.device if isinstance(item, Entry) else "", []).append(item)
    return list(found.items())


def _count(result: BroughtIn, receipts: Receipts) -> None:
    result.new += len(receipts.added)
    result.there_already += len(receipts.confirmed) - len(receipts.added)
    result.refused += RefusedEntry.objects.filter(pk__in=receipts.kept_apart).order_by("pk")
    result.chain += receipts.chain

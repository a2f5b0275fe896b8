"""The proof of the log as people read it: does it hold, the first break in plain words, every device's chain."""

from __future__ import annotations

import re
from dataclasses import dataclass
from threading import Lock
from typing import Any

from django.db.models import Count, Max, Min

from lapel.records.models import Device, LogEntry, Site
from lapel.records.verify import LogBreak, LogProof, verify_log

_OF_DEVICE = re.compile(r"entry (?P<entry>.*) \(device (?P<device>.*), (?P<sequence>\d+)\)", re.DOTALL)
_RUNNING = Lock()

PLAIN = (
    ("content its hash does not fit", "What it says is not what was recorded: it was changed afterwards."),
    ("content that was not stored so", "It does not stand there as it was stored: it was changed afterwards."),
    ("a value that is not written so", "Its bytes were changed, though it still reads the same."),
    ("it missing or changed", "A guard of the database is gone: from now on changes would not be refused."),
    ("it in no delivery", "It came into the log past the door."),
    ("it unreadable", "It can no longer be read."),
    ("a link to", "What stood before it is missing or was changed."),
    ("other entries with its sequence", "The device gave one number twice, as after a copy of its memory."),
    ("nothing right before it", "Entries before it have not come in: they may still be on the device."),
)
"""What a break means, by how it is found."""


class ProofRunning(Exception):  # noqa: N818 - no error of ours
    """Somebody else's proof is running on this server; it reads everything, so one at a time."""


@dataclass(frozen=True, slots=True)
class Told:
    """One break in words; `entry` and `survey` are set where it is an entry that can be looked at."""

    where: str
    meaning: str
    exactly: str
    entry: str = ""
    survey: str = ""


def prove() -> LogProof:
    """
    Prove the whole log of the server.

    Raises
    ------
    ProofRunning
        Another proof is running.
    """
    if not _RUNNING.acquire(blocking=False):
        raise ProofRunning
    try:
        return verify_log()
    finally:
        _RUNNING.release()


def told_on(site: Site, proof: LogProof) -> dict[str, Any]:
    """
    Say what a proof shows to the people of a site.

    A break in an entry of another site counts, and is not named: what other sites have is not theirs to read.
    """
    mine = _mine(site)
    breaks = [one for one in proof.breaks if _device_of(one) is None or _device_of(one) in mine]
    ends = [one for one in proof.open_ends if _device_of(one) in mine]
    entries = _entries_named([*breaks, *ends], site)
    return {
        "proof": proof,
        "holds": not proof.breaks,
        "breaks": [_told(one, entries) for one in breaks],
        "elsewhere": len(proof.breaks) - len(breaks),
        "open_ends": [_told(one, entries) for one in ends],
        "chains": [_chain(code, row, breaks, ends) for code, row in mine.items()],
    }


def _mine(site: Site) -> dict[str, dict[str, Any]]:
    """Return the devices in the logs of a site with what they have there, and those paired but silent."""
    rows = LogEntry.objects.filter(survey__site=site).order_by().values("device")
    found: dict[str, dict[str, Any]] = {
        row["device"]: dict(row)
        for row in rows.annotate(entries=Count("pk"), last=Max("sequence"), hashed=Max("hash"), first=Min("sequence"))
    }
    names = dict(Device.objects.filter(site=site).values_list("code", "name"))
    for code in names:
        found.setdefault(code, {"device": code, "entries": 0, "last": 0, "hashed": "", "first": 0})
    for code, row in found.items():
        row["name"] = names.get(code, "")
    return dict(sorted(found.items()))


def _chain(code: str, row: dict[str, Any], breaks: list[LogBreak], ends: list[LogBreak]) -> dict[str, Any]:
    broken = [one for one in breaks if _device_of(one) == code]
    loose = [one for one in ends if _device_of(one) == code]
    if not row["entries"]:
        words, tone = "nothing has come in yet", "plain"
    elif broken:
        words, tone = f"does not hold: {len(broken)} break{'s' if len(broken) > 1 else ''}", "stop"
    elif not row["hashed"]:
        words, tone = "no chain, as of a paper sheet; its deliveries hold", "plain"
    elif loose:
        words, tone = f"holds; {len(loose)} open end{'s' if len(loose) > 1 else ''}", "care"
    else:
        words, tone = "holds from the first entry to the last", "good"
    return {"code": code, "words": words, "tone": tone, **row}


def _device_of(one: LogBreak) -> str | None:
    found = _OF_DEVICE.fullmatch(one.where)
    return found["device"] if found else None


def _entries_named(breaks: list[LogBreak], site: Site) -> dict[str, str]:
    """Return, by id, the survey of each entry that a break names and the site has."""
    ids = [found["entry"] for one in breaks if (found := _OF_DEVICE.fullmatch(one.where))]
    rows = LogEntry.objects.filter(survey__site=site, entry_id__in=ids)
    return dict(rows.values_list("entry_id", "survey__code"))


def _told(one: LogBreak, surveys: dict[str, str]) -> Told:
    found = _OF_DEVICE.fullmatch(one.where)
    meaning = next((words for begins, words in PLAIN if one.found.startswith(begins)), "It is not as it should be.")
    exactly = f"found {one.found}; wanted {one.wanted}"
    if found is None:
        return Told(one.where[:1].upper() + one.where[1:], meaning, exactly)
    entry = found["entry"]
    where = f"Entry {found['sequence']} of device {found['device']}" if found["sequence"] != "0" else "A paper entry"
    return Told(where, meaning, exactly, entry if entry in surveys else "", surveys.get(entry, ""))

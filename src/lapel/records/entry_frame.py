"""Whether the store can hold an entry: what stands around its fields, which the kernel's checks do not know of."""

from __future__ import annotations

import json
import re
import secrets
import time
import uuid
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from lapel.fieldlog import Entry, EntryProblem, entry_hash, instant_in, instant_text, is_uuid7
from lapel.fieldlog.checks import SIGNED
from lapel.fieldlog.entries import KINDS

EARLIEST, LATEST = 1970, 2199
"""Years an instant may lie in. A clock may be wrong, and is measured; nothing could be computed beyond these."""

LONGEST_TEXT = 20_000
"""Characters of one field or reason; a note is not a book. [-]"""

LARGEST_SEQUENCE = 2**63 - 1
_UNHOLDABLE = re.compile("[\0\ud800-\udfff]")
_LONGEST = {"id": 120, "device": 120, "author": 120, "corrects": 120, "previous_hash": 64, "hash": 64, "origin": 300}


def frame_problems(entry: Entry, *, from_device: str | None = None) -> Iterator[EntryProblem]:
    """
    Yield what keeps an entry from being stored as it is.

    Parameters
    ----------
    from_device : str, optional
        Code of the paired device that sent it. Then it must be that device's own, with a UUIDv7, a sequence and a hash.
    """
    for name, most in _LONGEST.items():
        value = getattr(entry, name) or ""
        if len(value) > most:
            yield EntryProblem(name, f"{len(value)} characters", f"{most} characters or fewer")
    for name, value in {"reason": entry.reason, **entry.fields}.items():
        if isinstance(value, str) and len(value) > LONGEST_TEXT:
            yield EntryProblem(name, f"{len(value)} characters", f"{LONGEST_TEXT} characters or fewer")
    for name, value in _texts(entry):
        if not _can_be_held(value):
            yield EntryProblem(name, "a character no text can hold (U+0000 or half of a pair)", "text without it")
    if entry.sequence > LARGEST_SEQUENCE:
        yield EntryProblem("sequence", str(entry.sequence)[:40], f"{LARGEST_SEQUENCE} or less")
    for name, at in _instants(entry):
        if not EARLIEST <= at.year <= LATEST:
            yield EntryProblem(name, f"the year {at.year}", f"a year from {EARLIEST} to {LATEST}")
    if len(instant_text(entry.at)) > 40:
        yield EntryProblem("at", instant_text(entry.at), "an offset in hours and minutes")
    if from_device is not None:
        yield from _not_from(from_device, entry)
    # lone surrogates are hashed too, so this holds for any text
    if entry.hash and entry.hash != entry_hash(entry):
        yield EntryProblem("hash", f"{entry.hash[:12]}…", "the hash of what was sent: it changed on the way or before")


def record_text(record: Any) -> str:
    """Return any JSON value as one line of ASCII, so that every database holds it, whatever it contains."""
    return json.dumps(record, ensure_ascii=True, sort_keys=True, separators=(",", ":"))


def holdable(text: str, most: int) -> str:
    """Return a text any database holds, at most so long; what it cannot hold is written as an escape."""
    return text.replace("\0", "\\0").encode("utf-8", "backslashreplace").decode("utf-8")[:most]


def new_entry_id() -> str:
    """Make a UUIDv7 (RFC 9562, section 5.7): milliseconds since 1970, then 74 random bits."""
    milliseconds = time.time_ns() // 1_000_000
    number = (milliseconds << 80) | (0x7 << 76) | (secrets.randbits(12) << 64) | (0b10 << 62) | secrets.randbits(62)
    return str(uuid.UUID(int=number))


def _not_from(device: str, entry: Entry) -> Iterator[EntryProblem]:
    if entry.device != device:
        yield EntryProblem("device", f"“{entry.device[:40]}”", f"the device that sends it, “{device}”")
    if not is_uuid7(entry.id):
        yield EntryProblem("id", f"“{entry.id[:40]}”", "a UUID of version 7 in lower case, made on the device")
    if entry.sequence < 1:
        yield EntryProblem("sequence", str(entry.sequence)[:40], "the device's count, from 1")
    for name, value in entry.fields.items():
        if name in SIGNED and isinstance(value, str) and value.strip().startswith("account "):
            yield EntryProblem(name, "an account", "a drawing or “paper”: only the office asks for the password")
    if not entry.hash:
        yield EntryProblem("hash", "nothing", "the entry's place in the device's chain")


def _texts(entry: Entry) -> Iterator[tuple[str, str]]:
    for name in ("id", "device", "author", "corrects", "reason", "previous_hash", "hash", "origin"):
        yield name, getattr(entry, name) or ""
    for name, value in entry.fields.items():
        yield name, f"{name}{value}"


def _can_be_held(text: str) -> bool:
    return _UNHOLDABLE.search(text) is None


def _instants(entry: Entry) -> Iterator[tuple[str, datetime]]:
    yield "at", entry.at
    spec = KINDS.get(entry.kind)
    for name, value in entry.fields.items():
        field = spec.fields.get(name) if spec else None
        if (
            isinstance(value, str)
            and field
            and (field.type == "instant" or (entry.kind, name) == ("correction", "value"))
        ):
            try:
                yield name, instant_in(value)
            except ValueError:
                continue  # the kernel's check says so, or a corrected value is no instant

"""
The hash chain of a device: a gap, an edit or a swap in its entries shows.

Each entry carries the hash of the device's previous entry and its own, SHA-256 (FIPS 180-4) over its canonical text.
The canonical text is JSON with sorted keys, no blanks and no numbers but the sequence, so that a page in another
language writes the same bytes. The office's receipt time and the place an entry was read from are not part of it.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise

from lapel.fieldlog.entries import Entry

_UUID7 = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")


@dataclass(frozen=True, slots=True)
class ChainBreak:
    """The first entry of a device at which its chain does not hold, and why."""

    device: str
    sequence: int
    entry_id: str
    found: str
    wanted: str

    def __str__(self) -> str:
        return (
            f"device {self.device}, entry {self.sequence} ({self.entry_id}): found {self.found}; wanted {self.wanted}"
        )


def instant_text(at: datetime) -> str:
    """Write an instant with its own offset, to the millisecond (finer only where it was given finer)."""
    return at.isoformat(timespec="microseconds" if at.microsecond % 1000 else "milliseconds")


def canonical_text(entry: Entry) -> str:
    """
    Write what was recorded as one line of JSON, always the same for the same entry.

    Keys are sorted by code point, characters stand for themselves except those JSON must escape.
    """
    return json.dumps(_recorded(entry), ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def entry_hash(entry: Entry) -> str:
    """Return the SHA-256 over the entry and the hash before it, as 64 hexadecimal digits."""
    # A lone surrogate, which a browser can hand over, is escaped as JSON.stringify does it.
    return hashlib.sha256(canonical_text(entry).encode("utf-8", "backslashreplace")).hexdigest()


def chained(entries: Iterable[Entry], *, previous_hash: str = "") -> tuple[Entry, ...]:
    """
    Chain entries of one device, in the order given.

    Parameters
    ----------
    entries : iterable of Entry
        In the order of the device's sequence.
    previous_hash : str
        Hash of the device's last entry before these; empty for its first.
    """
    result = []
    for entry in entries:
        linked = replace(entry, previous_hash=previous_hash)
        previous_hash = entry_hash(linked)
        result.append(replace(linked, hash=previous_hash))
    return tuple(result)


def verify_chain(entries: Iterable[Entry]) -> ChainBreak | None:
    """
    Prove the chain of one device's entries.

    Parameters
    ----------
    entries : iterable of Entry
        All entries of one device, in any order.

    Returns
    -------
    ChainBreak or None
        The first break: an entry missing or one too many, an altered entry, or a link to another one before it.

    Raises
    ------
    ValueError
        The entries are of more than one device; use `verify_chains`.
    """
    ordered = sorted(entries, key=lambda entry: (entry.sequence, entry.id))
    if len({entry.device for entry in ordered}) > 1:
        raise ValueError(f"`entries` must be of one device; found {', '.join(sorted({e.device for e in ordered}))}")
    if ordered and ordered[0].sequence != 1:
        first = ordered[0]
        return ChainBreak(first.device, first.sequence, first.id, f"sequence {first.sequence} first", "sequence 1")
    if ordered and (broken := _own_fault(ordered[0], "")):
        return broken
    for before, entry in pairwise(ordered):
        if entry.sequence != before.sequence + 1:
            found = f"sequence {entry.sequence} after {before.sequence} ({before.id})"
            return ChainBreak(entry.device, entry.sequence, entry.id, found, f"sequence {before.sequence + 1}")
        if broken := _own_fault(entry, before.hash):
            return broken
    return None


def verify_chains(entries: Iterable[Entry]) -> dict[str, ChainBreak | None]:
    """Prove the chain of every device among the entries; those without a sequence (paper) have none."""
    by_device: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.sequence:
            by_device[entry.device].append(entry)
    return {device: verify_chain(by_device[device]) for device in sorted(by_device)}


def is_uuid7(text: str) -> bool:
    """Whether an id is a UUID of version 7 in its usual lower-case spelling (RFC 9562, section 5.7)."""
    return _UUID7.fullmatch(text) is not None


def _recorded(entry: Entry) -> dict[str, object]:
    return {
        "at": instant_text(entry.at),
        "author": entry.author,
        "corrects": entry.corrects or "",
        "device": entry.device,
        "fields": dict(entry.fields),
        "id": entry.id,
        "kind": entry.kind,
        "previous_hash": entry.previous_hash,
        "reason": entry.reason,
        "sequence": entry.sequence,
    }


def _own_fault(entry: Entry, hash_before: str) -> ChainBreak | None:
    if entry.previous_hash != hash_before:
        wanted = f"the link {hash_before[:12]}…" if hash_before else "no link: it is the first"
        return ChainBreak(
            entry.device, entry.sequence, entry.id, f"a link to {entry.previous_hash[:12] or 'nothing'}…", wanted
        )
    if entry.hash != entry_hash(entry):
        return ChainBreak(
            entry.device, entry.sequence, entry.id, "content its hash does not fit", "the content as it was recorded"
        )
    return None

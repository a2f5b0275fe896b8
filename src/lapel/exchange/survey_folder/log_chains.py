"""
The chains of devices in a folder: unbroken but for entries that are said to stand elsewhere.

A phone serves many surveys, and its chain runs through all of them. The file of a survey holds the entries of this
survey only; a line beside them says which sequences stand in other surveys: ``{"device": "phone-3", "elsewhere": "1-50
56-80"}``. Across such a gap nothing links the entries; each still fits its own hash.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from lapel.exchange.problems import Faults, Place
from lapel.fieldlog import ChainBreak, Entry, entry_hash, verify_chain

Ranges = tuple[tuple[int, int], ...]
"""First and last of each run of sequences, in rising order."""

_RANGE = re.compile(r"([0-9]{1,18})(?:-([0-9]{1,18}))?", re.ASCII)


def ranges_in(text: str) -> Ranges:
    """
    Read runs of sequences, as in ``1-50 56-80``.

    Raises
    ------
    ValueError
        They are no rising runs of numbers from 1.
    """
    runs: list[tuple[int, int]] = []
    for part in text.split():
        match = _RANGE.fullmatch(part)
        first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, 0)
        if not 1 <= first <= last or (runs and first <= runs[-1][1]):
            raise ValueError(f"“{part}” is no run of sequences after those before it, as in 1-50")
        runs.append((first, last))
    return tuple(runs)


def ranges_of(sequences: Iterable[int]) -> Ranges:
    """Gather sequences into runs."""
    runs: list[tuple[int, int]] = []
    for sequence in sorted(set(sequences)):
        if runs and sequence == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], sequence)
        else:
            runs.append((sequence, sequence))
    return tuple(runs)


def ranges_text(runs: Ranges) -> str:
    """Write runs as `ranges_in` reads them."""
    return " ".join(f"{first}-{last}" if first < last else str(first) for first, last in runs)


def check_chains(entries: Sequence[Entry], elsewhere: Mapping[str, Ranges], faults: Faults) -> None:
    """Refuse what was altered, lost or put in after a device recorded it."""
    if faults.count:
        return  # rows that were faults are missing from the chain: it would break for that reason
    by_device: dict[str, list[Entry]] = {}
    for entry in entries:
        if entry.hash:
            by_device.setdefault(entry.device, []).append(entry)
    for device in sorted(by_device):
        own, runs = by_device[device], elsewhere.get(device, ())
        broken = _break_between(own, runs) if runs else verify_chain(own)
        if broken is not None:
            origin = next(entry.origin for entry in own if entry.id == broken.entry_id)
            file, _, row = origin.partition(", row ")
            faults.add(
                Place(file, int(row)),
                f"{broken.found} (device {broken.device}, entry {broken.sequence})",
                broken.wanted,
                "Something was altered or lost since it was recorded: fetch the file from the device again.",
            )


def _break_between(entries: Iterable[Entry], runs: Ranges) -> ChainBreak | None:
    """Return the first break of a chain some of whose entries stand elsewhere."""
    before: Entry | None = None
    for entry in sorted(entries, key=lambda entry: (entry.sequence, entry.id)):
        wanted = before.sequence + 1 if before else 1
        if entry.sequence != wanted and not _covers(runs, wanted, entry.sequence - 1):
            found = f"sequence {entry.sequence}, and {wanted} neither before it nor said to stand elsewhere"
            return ChainBreak(entry.device, entry.sequence, entry.id, found, f"sequence {wanted}")
        link = before.hash if before else ""
        if entry.sequence == wanted and entry.previous_hash != link:
            found = f"a link to {entry.previous_hash[:12] or 'nothing'}…"
            return ChainBreak(entry.device, entry.sequence, entry.id, found, f"the link {link[:12] or 'of a first'}…")
        if entry.hash != entry_hash(entry):
            found = "content its hash does not fit"
            return ChainBreak(entry.device, entry.sequence, entry.id, found, "the content as it was recorded")
        before = entry
    return None


def _covers(runs: Ranges, first: int, last: int) -> bool:
    """Say whether every sequence from first to last stands elsewhere; adjoining runs count as one."""
    if last < first:
        return False
    for low, high in runs:
        if low <= first <= high:
            if last <= high:
                return True
            first = high + 1
    return False

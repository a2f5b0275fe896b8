"""How entries just taken hang together with what a device sent before and after: gaps, forks and loose links."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from typing import NamedTuple

from lapel.fieldlog import ChainBreak, Entry
from lapel.records.models import LogEntry, RefusedEntry

_AT_ONCE = 500


class Link(NamedTuple):
    """What of an entry its neighbours in the chain have to fit."""

    entry_id: str
    hash: str
    previous_hash: str


def broken_links(entries: Iterable[Entry]) -> list[ChainBreak]:
    """
    Hold entries, already stored, against their neighbours in the devices' chains.

    Returns
    -------
    list of ChainBreak
        By device and sequence. A missing neighbour may still be on its way; a second entry of one sequence may come
        from a phone that was set up from a copy. Entries without a hash have no chain.
    """
    by_device: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.hash and entry.sequence:
            by_device[entry.device].append(entry)
    broken: list[ChainBreak] = []
    for device in sorted(by_device):
        ordered = sorted(by_device[device], key=lambda entry: entry.sequence)
        near = _neighbours(device, ordered)
        told = {entry.sequence for entry in ordered}
        for entry in ordered:
            broken.extend(_at(entry, near, told))
    return broken


def refused_links(device: str, sequences: Iterable[int]) -> set[int]:
    """Return which sequences of a device are kept among the refused entries: a gap there is explained."""
    found = RefusedEntry.objects.filter(device=device, sequence__in=list(sequences))
    return set(found.values_list("sequence", flat=True))


def _neighbours(device: str, ordered: list[Entry]) -> Mapping[int, list[Link]]:
    wanted = iter(sorted({entry.sequence + step for entry in ordered for step in (-1, 0, 1) if entry.sequence < 2**62}))
    near: dict[int, list[Link]] = defaultdict(list)
    while some := list(islice(wanted, _AT_ONCE)):
        rows = LogEntry.objects.filter(device=device, sequence__in=some).exclude(hash="").order_by("receipt")
        for sequence, *link in rows.values_list("sequence", "entry_id", "hash", "previous_hash"):
            near[sequence].append(Link(*link))
    return near


def _at(entry: Entry, near: Mapping[int, list[Link]], told: set[int]) -> Iterator[ChainBreak]:
    for other in near.get(entry.sequence, ()):
        # one and the same entry may be filed under two surveys
        if other.hash != entry.hash:
            yield _break(entry, f"another entry with this sequence ({other.entry_id})", "one entry a sequence")
            break
    before = near.get(entry.sequence - 1, ())
    if entry.sequence == 1:
        if entry.previous_hash:
            yield _break(entry, f"a link to {entry.previous_hash[:12]}…", "no link: it is the first")
    elif not before:
        if not refused_links(entry.device, [entry.sequence - 1]):
            yield _break(entry, "no entry before it", f"entry {entry.sequence - 1} of this device")
    elif all(link.hash != entry.previous_hash for link in before):
        yield _break(entry, f"a link to {entry.previous_hash[:12] or 'nothing'}…", f"the link {before[0].hash[:12]}…")
    after = near.get(entry.sequence + 1, ())
    if entry.sequence + 1 not in told and after and all(link.previous_hash != entry.hash for link in after):
        found = (
            f"entry {entry.sequence + 1} ({after[0].entry_id}) linked to {after[0].previous_hash[:12] or 'nothing'}…"
        )
        yield _break(entry, found, f"the link {entry.hash[:12]}…")


def _break(entry: Entry, found: str, wanted: str) -> ChainBreak:
    return ChainBreak(entry.device, entry.sequence, entry.id, found, wanted)

"""
What counts of the entries: each once, corrected, and readable as its kind.

Corrections form chains: one may correct or withdraw another. Each is applied to what it corrects, the farthest first,
so that it does not matter which arrived when.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace

from lapel.fieldlog.chain import canonical_text
from lapel.fieldlog.checks import check_entry, instant_in, is_usable
from lapel.fieldlog.entries import KINDS, Entry
from lapel.fieldlog.order import Act, act_of, device_clocks, order_key, utc
from lapel.fieldlog.state import Amendment, Conflict, DeviceClock, Remark, Unusable
from lapel.said import Said, listed, said


@dataclass(slots=True)
class Counting:
    """The acts that count, in order, and everything found on the way to them."""

    acts: list[Act] = field(default_factory=list)
    clocks: dict[str, DeviceClock] = field(default_factory=dict)
    conflicts: list[Conflict] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    amendments: dict[str, Amendment] = field(default_factory=dict)
    unusable: list[Unusable] = field(default_factory=list)
    rivals: list[Entry] = field(default_factory=list)
    distinct: set[frozenset[str]] = field(default_factory=set)
    entry_count: int = 0


def counting(entries: Iterable[Entry]) -> Counting:
    """
    Sort out what counts.

    Parameters
    ----------
    entries : iterable of Entry
        In any order, with any repetitions.
    """
    found = Counting()
    by_id = _each_once(entries, found)
    found.entry_count = len(by_id)
    found.clocks = device_clocks(by_id.values())
    remark_sequences_used_twice(by_id.values(), found)
    corrections = {entry.id: entry for entry in by_id.values() if entry.kind == "correction" and entry.corrects}
    corrected, at_corrected = corrected_entries(corrections, by_id, found)
    for entry_id, recorded in by_id.items():
        entry = corrected.get(entry_id, recorded)
        if entry is None or entry.kind == "correction":
            continue
        if is_usable(entry):
            found.acts.append(act_of(entry, found.clocks, at_corrected=entry_id in at_corrected))
        else:
            found.unusable.append(unusable(entry))
    found.unusable.sort(key=lambda one: one.entry_id)
    found.acts.sort(key=lambda act: act.key)
    return found


def _each_once(entries: Iterable[Entry], found: Counting) -> dict[str, Entry]:
    """Keep one entry an id: the one received first; copies of it change nothing, another content is a conflict."""
    by_id: dict[str, Entry] = {}
    copies: dict[str, list[Entry]] = {}
    for entry in entries:
        known = by_id.setdefault(entry.id, entry)
        if known is not entry and known != entry:
            copies.setdefault(entry.id, [known]).append(entry)
    for entry_id in sorted(copies):
        contents: dict[str, list[Entry]] = defaultdict(list)
        for copy in copies[entry_id]:
            contents[canonical_text(replace(copy, at=utc(copy.at), previous_hash=""))].append(copy)
        ranked = sorted((_received_first(same), text) for text, same in contents.items())
        kept, *others = (_joined(contents[text]) for _, text in ranked)
        by_id[entry_id] = kept
        if others:
            found.rivals.extend(others)
            found.conflicts.append(_same_id(kept, others))
    return by_id


def _received_first(copies: list[Entry]) -> tuple[bool, str]:
    receipts = [copy.received_at.timestamp() for copy in copies if copy.received_at is not None]
    return (not receipts, f"{min(receipts):020.6f}" if receipts else "")


def _joined(copies: list[Entry]) -> Entry:
    """Join copies of one entry that differ only in what the office added to it."""
    receipts = [copy.received_at for copy in copies if copy.received_at is not None]
    previous_hash, own_hash = min((copy.previous_hash, copy.hash) for copy in copies)
    origin = min(copy.origin for copy in copies)
    received_at = min(receipts, key=lambda instant: instant.timestamp()) if receipts else None
    return replace(copies[0], received_at=received_at, previous_hash=previous_hash, hash=own_hash, origin=origin)


def _same_id(kept: Entry, others: list[Entry]) -> Conflict:
    contents = [
        said(
            "{kind} {fields} by {author}",
            kind=said(one.kind),
            fields=str(dict(sorted(one.fields.items()))),
            author=one.author,
        )
        for one in [kept, *others]
    ]
    return Conflict(
        about="same id, other content",
        entry_ids=(kept.id,),
        words=said(
            "Entry {id} exists with {n} contents: {contents}. The first counts. "
            "Withdraw it and record what happened again.",
            id=kept.id,
            n=len(contents),
            contents=listed("; ", contents),
        ),
        train=kept.fields.get("train", "").strip(),
        port=kept.fields.get("port", "").strip(),
        samplers=tuple(sorted({one.fields["sampler"].strip() for one in [kept, *others] if "sampler" in one.fields})),
    )


def remark_sequences_used_twice(entries: Collection[Entry], found: Counting) -> None:
    """Remark on every number a device gave to more than one entry."""
    seen: set[tuple[str, int]] = set()
    twice: set[tuple[str, int]] = set()
    for entry in entries:
        if entry.sequence:
            place = (entry.device, entry.sequence)
            (twice if place in seen else seen).add(place)
    if not twice:
        return
    ids: dict[tuple[str, int], list[str]] = {place: [] for place in twice}
    for entry in entries:
        if (entry.device, entry.sequence) in twice:
            ids[entry.device, entry.sequence].append(entry.id)
    for device, sequence in sorted(twice):
        same = tuple(sorted(ids[device, sequence]))
        found.remarks.append(
            Remark(
                "sequence used twice",
                same,
                said(
                    "Device {device} numbered {n} entries {number}: {ids}. Is there a second device under this name?",
                    device=device,
                    n=len(same),
                    number=sequence,
                    ids=", ".join(same),
                ),
            )
        )


def corrected_entries(
    corrections: dict[str, Entry], by_id: dict[str, Entry], found: Counting
) -> tuple[dict[str, Entry | None], set[str]]:
    """
    Apply every correction that leads to an entry.

    Returns
    -------
    dict of str to Entry or None, set of str
        By the id of what was corrected, the entry as it counts, `None` where it was withdrawn; and the ids of those
        whose instant was corrected.
    """
    counts: dict[str, Entry | None] = {}
    at_corrected: set[str] = set()
    if not corrections:
        return counts, at_corrected
    depth = _distance_to_what_is_corrected(corrections, by_id, found)
    by_target: dict[str, list[str]] = defaultdict(list)
    for correction_id in depth:
        by_target[corrections[correction_id].corrects or ""].append(correction_id)
    for target_id in sorted(by_target, key=lambda one: (-depth.get(one, 0), one)):
        standing = (counts.get(one, by_id[one]) for one in by_target[target_id])
        applied = [one for one in standing if one is not None]
        applied.sort(key=lambda entry: order_key(entry, found.clocks))
        recorded = by_id[target_id]
        changed = _apply(recorded, [one for one in applied if _is_usable(one, recorded, found)], at_corrected, found)
        counts[target_id] = changed
        every = sorted((by_id[one] for one in by_target[target_id]), key=lambda entry: order_key(entry, found.clocks))
        found.amendments[target_id] = Amendment(recorded, changed, tuple(every))
    return counts, at_corrected


def _distance_to_what_is_corrected(
    corrections: dict[str, Entry], by_id: dict[str, Entry], found: Counting
) -> dict[str, int]:
    """Count the steps from each correction to the entry it finally corrects; leave out those that lead nowhere."""
    depth: dict[str, int] = {}
    nowhere: set[str] = set()
    for start in sorted(corrections):
        path: list[str] = []
        on_path: set[str] = set()
        here = start
        while here in corrections and here not in depth and here not in nowhere and here not in on_path:
            path.append(here)
            on_path.add(here)
            here = corrections[here].corrects or ""
        if here in on_path:
            circle = tuple(sorted(path[path.index(here) :]))
            words = said(
                "The corrections {ids} correct one another in a circle. None of them counts.", ids=", ".join(circle)
            )
            found.conflicts.append(Conflict("corrections in a circle", circle, words))
            nowhere.update(path)
        elif here in nowhere or (here not in depth and here not in by_id):
            if path and here not in nowhere:
                words = said(
                    "Correction {id} corrects entry {entry}, which is not in the log (yet).", id=path[-1], entry=here
                )
                found.remarks.append(Remark("corrects an entry not in the log", (path[-1],), words))
            nowhere.update(path)
        else:
            steps = depth.get(here, 0)
            for one in reversed(path):
                steps += 1
                depth[one] = steps
    return depth


def _is_usable(correction: Entry, target: Entry, found: Counting) -> bool:
    problems = [problem.words for problem in check_entry(correction)]
    name = correction.fields.get("field", "").strip()
    spec = KINDS.get(target.kind)
    if name and name != "at" and spec is not None and name not in spec.fields:
        problems.append(
            said(
                "field: found {found}; wanted at or a field of {kind}: {names}",
                found=f"“{name}”",
                kind=said(target.kind),
                names=listed(", ", map(said, spec.fields)),
            )
        )
    if name == "at":
        try:
            instant_in(correction.fields.get("value", ""))
        except ValueError:
            problems.append(
                said(
                    "value: found {found}; wanted an instant with its offset, as in 2026-03-29T05:10+02:00",
                    found=f"“{correction.fields.get('value', '')}”",
                )
            )
    if problems:
        found.unusable.append(_unusable(correction, tuple(problems)))
    return not problems


def _apply(target: Entry, corrections: list[Entry], at_corrected: set[str], found: Counting) -> Entry | None:
    """Return the target with its corrections, the latest last; `None` when one withdraws it."""
    by_field: dict[str, list[Entry]] = defaultdict(list)
    for correction in corrections:
        values = {name: value.strip() for name, value in correction.fields.items()}
        if values.get("withdraw") == "yes":
            return None
        if other := values.get("distinct_from"):
            found.distinct.add(frozenset((target.id, other)))
        if name := values.get("field"):
            by_field[name].append(correction)
    fields = dict(target.fields)
    at = target.at
    for name, list_of in by_field.items():
        value = list_of[-1].fields.get("value", "")
        if name == "at":
            at = instant_in(value)
            at_corrected.add(target.id)
        elif value.strip():
            fields[name] = value
        else:
            fields.pop(name, None)
        if (
            len({one.fields.get("value", "").strip() for one in list_of}) > 1
            and len({one.device for one in list_of}) > 1
        ):
            found.conflicts.append(_disagreeing(target, name, list_of))
    return replace(target, fields=fields, at=at)


def _disagreeing(target: Entry, name: str, corrections: list[Entry]) -> Conflict:
    values = "; ".join(f"“{one.fields.get('value', '')}” ({one.id}, {one.author})" for one in corrections)
    return Conflict(
        about="corrections disagree",
        entry_ids=(target.id, *(one.id for one in corrections)),
        words=said(
            "{field} of entry {id} was corrected to {values}. The last counts. Withdraw the wrong one.",
            field=said(name),
            id=target.id,
            values=values,
        ),
        train=target.fields.get("train", "").strip(),
        port=target.fields.get("port", "").strip(),
        samplers=tuple(filter(None, (target.fields.get("sampler", "").strip(),))),
    )


def unusable(entry: Entry) -> Unusable:
    """Say what keeps an entry from being read as its kind."""
    return _unusable(entry, tuple(problem.words for problem in check_entry(entry)))


def _unusable(entry: Entry, problems: tuple[Said, ...]) -> Unusable:
    return Unusable(entry.id, entry.kind, entry.origin, problems)

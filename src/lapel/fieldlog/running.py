"""
The fold of a log that grows: only what new entries touch is folded again.

`RunningFold.take` gives the same day as `lapel.fieldlog.fold` of everything taken so far, in the same order. What stays
as it was is the same object as in the day before, so that whoever works on with it can see at a glance what changed.

Acts are kept in streams: a train, a blank, the parcels, the air, the tasks, the notes. Streams know of each other only
through samplers: one that was fitted to two trains makes these one piece, and a sealed parcel tells the trains of its
samplers. A correction touches the streams of the entry it corrects, before and after.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import timedelta
from typing import Generic, TypeVar

from lapel.fieldlog.checks import is_usable
from lapel.fieldlog.conflicts import recorded_twice, repetitions
from lapel.fieldlog.corrections import Counting, corrected_entries, remark_sequences_used_twice, unusable
from lapel.fieldlog.custody import BlankLog
from lapel.fieldlog.day import (
    blank_and_sample,
    by_what_they_concern,
    concerning,
    conditions_of,
    ended_with_the_next,
    fold,
    note_of,
    task_of,
)
from lapel.fieldlog.entries import Entry
from lapel.fieldlog.order import Act, Key, act_of, clock_of, utc
from lapel.fieldlog.parcels import Parcels, fold_parcels
from lapel.fieldlog.pieces import LogParts, Piece, Pieces, Stream
from lapel.fieldlog.preparation import Findings
from lapel.fieldlog.raised import Raised, in_place
from lapel.fieldlog.state import (
    BlankRun,
    Conditions,
    Conflict,
    Day,
    DeviceClock,
    Note,
    Parcel,
    Remark,
    SampleRun,
    Task,
    Unusable,
)

Kept = TypeVar("Kept")

_KIND_OF_STREAM = {
    "blank_opened": "blank",
    "blank_closed": "blank",
    "parcel_sealed": "parcel",
    "custody_handed": "parcel",
    "conditions": "air",
    "task": "tasks",
}


class _Same(Generic[Kept]):
    """Hands back the object of before where nothing changed."""

    def __init__(self) -> None:
        self._before: dict[str, Kept] = {}

    def of(self, found: dict[str, Kept]) -> dict[str, Kept]:
        """Return the mapping with every value that equals the one of before replaced by it."""
        before = self._before
        for code, one in found.items():
            known = before.get(code)
            if known is not None and known is not one and known == one:
                found[code] = known
        self._before = found
        return found


class RunningFold:
    """A log that grows, and the day it amounts to."""

    def __init__(self) -> None:
        self._by_id: dict[str, Entry] = {}
        self._contradicting: list[Entry] = []
        self._corrections: dict[str, Entry] = {}
        self._corrected: dict[str, Entry | None] = {}
        self._at_corrected: set[str] = set()
        self._distinct: set[frozenset[str]] = set()
        self._lag: dict[str, timedelta] = {}
        self._received: dict[str, int] = {}
        self._clocks: dict[str, DeviceClock] = {}
        self._numbered: dict[tuple[str, int], Entry] = {}
        self._numbered_twice: dict[str, Entry] = {}
        self._acts: dict[str, Act] = {}
        self._unusable: dict[str, Unusable] = {}
        self._streams: dict[Stream, dict[str, Act]] = defaultdict(dict)
        self._left: dict[Stream, list[Act]] = {}
        self._repeated: dict[Stream, list[tuple[Key, Conflict]]] = {}
        self._parcels = Parcels()
        self._pieces = Pieces()
        self._blanks: dict[str, tuple[BlankLog, Raised]] = {}
        self._air: tuple[Conditions, ...] = ()
        self._tasks: tuple[Task, ...] = ()
        self._notes: tuple[Note, ...] = ()
        self._frozen: dict[str, tuple[tuple[object, ...], SampleRun]] = {}
        self._same_blanks = _Same[BlankRun]()
        self._same_parcels = _Same[Parcel]()

    def take(self, entries: Iterable[Entry]) -> Day:
        """
        Add entries, in any order, and return the day that all taken so far amount to.

        Parameters
        ----------
        entries : iterable of Entry
            New ones; one that was taken before changes nothing.

        Returns
        -------
        Day
            Equal to `fold` of everything taken. Where an id comes with two contents, which a log that was kept by the
            rules never has, everything is folded anew.
        """
        new = list(self._new_of(entries))
        if self._contradicting:
            return fold([*self._by_id.values(), *self._contradicting])
        found = Counting(entry_count=len(self._by_id))
        moved = self._measure_clocks(new)
        found.clocks = self._clocks
        self._note_numbers(new)
        remark_sequences_used_twice(self._numbered_twice.values(), found)
        touched = {entry.id for entry in new} | self._correct(found)
        if moved:
            touched.update(entry.id for entry in self._by_id.values() if entry.device in moved)
        dirty = self._place(touched, found.distinct)
        for stream in dirty:
            self._set_repetitions_aside(stream)
        packed: set[str] = set()
        if any(kind == "parcel" for kind, _ in dirty):
            before, self._parcels = self._parcels, self._folded_parcels()
            packed = self._parcels.packed_otherwise(before)
        log = LogParts(self._left, self._parcels.packings, self._distinct)
        self._pieces.fold({code for kind, code in dirty if kind == "train"}, packed, log)
        for kind, code in dirty:
            self._fold_others(kind, code)
        return self._day(found)

    def _new_of(self, entries: Iterable[Entry]) -> Iterator[Entry]:
        for entry in entries:
            known = self._by_id.get(entry.id)
            if known is None:
                self._by_id[entry.id] = entry
                if entry.kind == "correction" and entry.corrects:
                    self._corrections[entry.id] = entry
                yield entry
            elif known is not entry and known != entry:
                self._contradicting.append(entry)

    def _measure_clocks(self, new: list[Entry]) -> set[str]:
        """Measure the devices' clocks; return the devices whose instants moved."""
        changed = set()
        for entry in new:
            if entry.received_at is not None:
                lag = utc(entry.received_at) - utc(entry.at)
                device = entry.device
                self._received[device] = self._received.get(device, 0) + 1
                if device not in self._lag or lag < self._lag[device]:
                    self._lag[device] = lag
                changed.add(device)
        if not changed:
            return set()
        before = self._clocks
        self._clocks = {
            device: clock_of(device, self._received[device], self._lag[device]) if device in changed else before[device]
            for device in sorted(self._lag)
        }
        return {
            device
            for device in changed
            if self._clocks[device].shift_s != (before[device].shift_s if device in before else 0.0)
        }

    def _note_numbers(self, new: list[Entry]) -> None:
        for entry in new:
            if entry.sequence:
                first = self._numbered.setdefault((entry.device, entry.sequence), entry)
                if first is not entry:
                    self._numbered_twice |= {first.id: first, entry.id: entry}

    def _correct(self, found: Counting) -> set[str]:
        """Apply all corrections; return the ids of entries that count otherwise than before."""
        corrected, at_corrected = corrected_entries(self._corrections, self._by_id, found)
        touched = self._at_corrected ^ at_corrected
        for entry_id in corrected.keys() | self._corrected.keys():
            recorded = self._by_id[entry_id]
            if corrected.get(entry_id, recorded) != self._corrected.get(entry_id, recorded):
                touched.add(entry_id)
        self._corrected, self._at_corrected = corrected, at_corrected
        return touched

    def _place(self, touched: set[str], distinct: set[frozenset[str]]) -> set[Stream]:
        """Put the acts of these entries where they belong now; return the streams that changed."""
        dirty: set[Stream] = set()
        for entry_id in touched:
            if old := self._acts.pop(entry_id, None):
                stream = stream_of(old)
                del self._streams[stream][entry_id]
                dirty.add(stream)
            self._unusable.pop(entry_id, None)
            entry = self._corrected.get(entry_id, self._by_id[entry_id])
            if entry is None or entry.kind == "correction":
                continue
            if not is_usable(entry):
                self._unusable[entry_id] = unusable(entry)
                continue
            act = self._acts[entry_id] = act_of(entry, self._clocks, at_corrected=entry_id in self._at_corrected)
            stream = stream_of(act)
            self._streams[stream][entry_id] = act
            dirty.add(stream)
        for pair in distinct ^ self._distinct:
            dirty.update(stream_of(self._acts[one]) for one in pair if one in self._acts)
        self._distinct = distinct
        return dirty

    def _set_repetitions_aside(self, stream: Stream) -> None:
        acts = sorted(self._streams[stream].values(), key=lambda act: act.key)
        left, groups = repetitions(acts, self._distinct)
        if left:
            self._left[stream] = left
            self._repeated[stream] = [(group[1].key, recorded_twice(group)) for group in groups]
        else:
            del self._streams[stream]
            self._left.pop(stream, None)
            self._repeated.pop(stream, None)

    def _folded_parcels(self) -> Parcels:
        acts = [act for (kind, _), left in self._left.items() if kind == "parcel" for act in left]
        return fold_parcels(acts, self._distinct)

    def _fold_others(self, kind: str, code: str) -> None:
        acts = self._left.get((kind, code), [])
        if kind == "air":
            self._air = tuple(map(conditions_of, acts))
        elif kind == "tasks":
            self._tasks = tuple(ended_with_the_next(list(map(task_of, acts))))
        elif kind == "notes":
            self._notes = tuple(map(note_of, acts))
        elif kind == "blank":
            self._blanks.pop(code, None)
            if acts:
                blank, raised, findings = BlankLog(code), Raised(), Findings(distinct=self._distinct)
                for act in acts:
                    (blank.open if act.kind == "blank_opened" else blank.close)(act, findings)
                    raised.note((act.key, 0), findings)
                self._blanks[code] = (blank, raised)

    def _day(self, found: Counting) -> Day:
        """Put the pieces together, each in its place."""
        pieces = list({id(piece): piece for piece in self._pieces.of_train.values()}.values())
        begun = [(piece.begun[code], code, piece) for piece in pieces for code in piece.trains]
        begun.sort(key=lambda one: one[0])
        runs_begun = [(piece.runs_begun[code], code, piece) for piece in pieces for code in piece.runs]
        runs_begun.sort(key=lambda one: one[0])
        raised = [*(piece.raised for piece in pieces), *(one for _, one in self._blanks.values()), self._parcels.raised]
        twice = sorted((one for found_twice in self._repeated.values() for one in found_twice), key=lambda one: one[0])
        conflicts = [
            *found.conflicts,
            *(one for _, one in twice),
            *in_place(one.conflicts for one in raised),
            *(
                blank_and_sample(self._blanks[code][0], piece.runs[code])
                for _, code, piece in runs_begun
                if code in self._blanks
            ),
        ]
        remarks = [*found.remarks, *in_place(one.remarks for one in raised)]
        concerned = by_what_they_concern(conflicts)
        parcel_of = self._parcels.parcel_of
        faults = [*found.unusable, *self._unusable.values()]
        return Day(
            trains={code: piece.trains[code] for _, code, piece in begun},
            runs=self._runs(runs_begun, conflicts, remarks),
            blanks=self._same_blanks.of(
                {
                    code: self._blanks[code][0].frozen(
                        concerning(concerned, code, set(self._blanks[code][0].entry_ids)), parcel_of.get(code, "")
                    )
                    for code in sorted(self._blanks, key=lambda code: self._left["blank", code][0].key)
                }
            ),
            parcels=self._same_parcels.of(
                {
                    code: parcel.frozen(concerning(concerned, "", {parcel.sealing.id} if parcel.sealing else set()))
                    for code, parcel in self._parcels.logs.items()
                }
            ),
            conditions=self._air,
            tasks=self._tasks,
            notes=self._notes,
            conflicts=tuple(conflicts),
            remarks=tuple(remarks),
            clocks=self._clocks,
            amendments=found.amendments,
            unusable=tuple(sorted(faults, key=lambda one: one.entry_id)),
            rivals=(),
            entry_count=found.entry_count,
        )

    def _runs(
        self, begun: list[tuple[Key, str, Piece]], conflicts: list[Conflict], remarks: list[Remark]
    ) -> dict[str, SampleRun]:
        concerned, known = by_what_they_concern(conflicts), by_what_they_concern(remarks)
        everything: list[Conflict | Remark] = [*conflicts, *remarks]
        named = {entry_id for one in everything for entry_id in one.entry_ids}
        samplers = {sampler for one in everything for sampler in one.samplers}
        frozen: dict[str, tuple[tuple[object, ...], SampleRun]] = {}
        for _, code, piece in begun:
            run = piece.runs[code]
            of_run: tuple[Conflict, ...] = ()
            about_run: tuple[Remark, ...] = ()
            if code in samplers or (named and not named.isdisjoint(piece.ids_of(code))):
                of_run = concerning(concerned, code, piece.ids_of(code))
                about_run = concerning(known, code, piece.ids_of(code))
            parcel = self._parcels.parcel_of.get(code, "")
            rests_on = (run, of_run, about_run, parcel)
            before = self._frozen.get(code)
            if before is not None and before[0][0] is run and before[0][1:] == rests_on[1:]:
                frozen[code] = before
                continue
            made = run.frozen(of_run, about_run, parcel)
            frozen[code] = (rests_on, before[1] if before is not None and before[1] == made else made)
        self._frozen = frozen
        return {code: made for code, (_, made) in frozen.items()}


def stream_of(act: Act) -> Stream:
    """Return what an act is kept under."""
    if train := act.value("train"):
        return "train", train
    kind = _KIND_OF_STREAM.get(act.kind, "notes")
    return kind, act.value(kind) if kind in ("blank", "parcel") else ""

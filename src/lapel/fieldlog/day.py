"""
The fold: from any entries, in any order and with any repetitions, to the one day they amount to.

Pure: the same set of entries gives an equal day, on the server, on a device and decades later. How each kind of entry
is understood is told in ``docs/science/day-fold.md``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import TypeVar

from lapel.fieldlog.checks import instant_in
from lapel.fieldlog.conflicts import without_repetitions
from lapel.fieldlog.corrections import Counting, counting
from lapel.fieldlog.custody import BlankLog, ParcelLog
from lapel.fieldlog.entries import Entry
from lapel.fieldlog.order import Act, utc
from lapel.fieldlog.preparation import Findings
from lapel.fieldlog.runs import RunLog
from lapel.fieldlog.state import Conditions, Conflict, Day, Note, Remark, Task
from lapel.fieldlog.trains import TrainLog
from lapel.said import said

Found = TypeVar("Found", Conflict, Remark)


def fold(entries: Iterable[Entry]) -> Day:
    """
    Make the day from its entries.

    Parameters
    ----------
    entries : iterable of Entry
        All that is known, in any order; repetitions change nothing.

    Returns
    -------
    Day
        Trains, sample runs with their segments and flows, blanks, parcels, and everything to settle or to know. Never
        raises for what an entry says: one that cannot be read is in `Day.unusable`.
    """
    counts = counting(entries)
    acts, conflicts = without_repetitions(counts.acts, counts.distinct)
    log = _Log(Findings(conflicts=[*counts.conflicts, *conflicts], remarks=counts.remarks, distinct=counts.distinct))
    for act in acts:
        log.take(act)
    log.end()
    return log.frozen(counts)


@dataclass(slots=True)
class _Log:
    """Everything while the log goes on."""

    findings: Findings
    trains: dict[str, TrainLog] = field(default_factory=dict)
    blanks: dict[str, BlankLog] = field(default_factory=dict)
    parcels: dict[str, ParcelLog] = field(default_factory=dict)
    parcel_of: dict[str, str] = field(default_factory=dict)
    conditions: list[Conditions] = field(default_factory=list)
    tasks: list[Task] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    def take(self, act: Act) -> None:
        """Take one act, in order."""
        if train := act.value("train"):
            log = self.trains.get(train)
            if log is None:
                log = self.trains[train] = TrainLog(train, self.findings)
            OF_A_TRAIN[act.kind](log, act)
        else:
            _OF_NO_TRAIN[act.kind](self, act)

    def blank_opened(self, act: Act) -> None:
        self._blank(act).open(act, self.findings)

    def blank_closed(self, act: Act) -> None:
        self._blank(act).close(act, self.findings)

    def parcel_sealed(self, act: Act) -> None:
        parcel = self._parcel(act)
        if not parcel.seal(act, self.findings):
            return
        for code in parcel.samplers:
            if code in self.parcel_of:
                other = self.parcel_of[code]
                self.findings.conflicts.append(in_two_parcels(code, other, self.parcels[other].sealing, parcel))
                continue
            self.parcel_of[code] = parcel.code
            run = self.findings.runs.get(code)
            if run is not None and run.on is not None:
                train, port = run.on
                self.trains[train].packed(act, port)

    def custody_handed(self, act: Act) -> None:
        self._parcel(act).hand(act)

    def took_conditions(self, act: Act) -> None:
        self.conditions.append(conditions_of(act))

    def took_task(self, act: Act) -> None:
        self.tasks.append(task_of(act))

    def took_note(self, act: Act) -> None:
        self.notes.append(note_of(act))

    def end(self) -> None:
        """Settle what can only be said when the entries end."""
        for train in self.trains.values():
            train.end_of_log()
        for code, run in self.findings.runs.items():
            if not run.workers and (worker := self.trains[run.train].worker_after(run)):
                run.workers.append(worker)
            if code in self.blanks:
                self.findings.conflicts.append(blank_and_sample(self.blanks[code], run))
        self.tasks = ended_with_the_next(self.tasks)

    def frozen(self, counts: Counting) -> Day:
        """Return the day as plain data."""
        concerned = by_what_they_concern(self.findings.conflicts)
        known = by_what_they_concern(self.findings.remarks)
        runs = {
            code: run.frozen(
                concerning(concerned, code, run.involved_ids()),
                concerning(known, code, run.involved_ids()),
                self.parcel_of.get(code, ""),
            )
            for code, run in self.findings.runs.items()
        }
        blanks = {
            code: blank.frozen(concerning(concerned, code, set(blank.entry_ids)), self.parcel_of.get(code, ""))
            for code, blank in self.blanks.items()
        }
        parcels = {
            code: parcel.frozen(concerning(concerned, "", {parcel.sealing.id} if parcel.sealing else set()))
            for code, parcel in self.parcels.items()
        }
        return Day(
            trains={code: train.frozen() for code, train in self.trains.items()},
            runs=runs,
            blanks=blanks,
            parcels=parcels,
            conditions=tuple(self.conditions),
            tasks=tuple(self.tasks),
            notes=tuple(self.notes),
            conflicts=tuple(self.findings.conflicts),
            remarks=tuple(self.findings.remarks),
            clocks=counts.clocks,
            amendments=counts.amendments,
            unusable=tuple(counts.unusable),
            rivals=tuple(counts.rivals),
            entry_count=counts.entry_count,
        )

    def _blank(self, act: Act) -> BlankLog:
        return self.blanks.setdefault(act.value("blank"), BlankLog(act.value("blank")))

    def _parcel(self, act: Act) -> ParcelLog:
        return self.parcels.setdefault(act.value("parcel"), ParcelLog(act.value("parcel")))


def conditions_of(act: Act) -> Conditions:
    """Return ``conditions`` as the air they tell of."""
    get = act.value
    return Conditions(
        act.id, act.at, get("place"), get("temperature"), get("temperature_unit"), get("pressure"),
        get("pressure_unit"), get("humidity_percent"),
    )  # fmt: skip


def task_of(act: Act) -> Task:
    """Return a ``task`` as it was recorded; without an end of its own it still waits for the next."""
    until = act.value("until")
    return Task(act.id, act.at, utc(instant_in(until)) if until else None, act.value("worker"), act.value("task"))


def note_of(act: Act) -> Note:
    """Return a ``note`` or ``photo`` as the note it is."""
    get = act.value
    return Note(act.id, act.at, act.author, get("about"), get("text"), get("file"), get("sha256"))


def ended_with_the_next(tasks: list[Task]) -> list[Task]:
    """Let every task without an end of its own end where the worker's next one begins."""
    next_start: dict[str, Task] = {}
    ended: list[Task] = []
    for task in reversed(tasks):
        following = next_start.get(task.worker)
        next_start[task.worker] = task
        if task.until is None and following is not None:
            task = replace(task, until=following.at)
        ended.append(task)
    return ended[::-1]


def in_two_parcels(sampler: str, other: str, sealing: Act | None, parcel: ParcelLog) -> Conflict:
    """Word the conflict of one sampler in two sealed parcels."""
    words = said(
        "{sampler} is packed in parcel {parcel} and in parcel {other}.",
        sampler=sampler,
        parcel=other,
        other=parcel.code,
    )
    ids = tuple(one.id for one in (sealing, parcel.sealing) if one)
    return Conflict("in two parcels", ids, words, samplers=(sampler,))


def blank_and_sample(blank: BlankLog, run: RunLog) -> Conflict:
    """Word the conflict of a code that is on a port and among the blanks."""
    words = said(
        "{sampler} was handled as a blank and fitted to port {port} of train {train}.",
        sampler=run.sampler,
        port=run.port,
        train=run.train,
    )
    ids = (*blank.entry_ids, *([run.fit_entry.id] if run.fit_entry else []))
    return Conflict("blank and sample", ids, words, samplers=(run.sampler,))


OF_A_TRAIN: dict[str, Callable[[TrainLog, Act], None]] = {
    "train_prepared": TrainLog.train_prepared,
    "kit_sheet": TrainLog.kit_sheet,
    "port_prepared": TrainLog.port_prepared,
    "leak_checked": TrainLog.leak_checked,
    "flow_read": TrainLog.flow_read,
    "valve_touched": TrainLog.valve_touched,
    "closing_round": TrainLog.closing_round,
    "post_round": TrainLog.post_round,
    "train_hung": TrainLog.train_hung,
    "sampler_fitted": TrainLog.sampler_fitted,
    "sampler_removed": TrainLog.sampler_removed,
    "pump_started": TrainLog.pump_started,
    "pump_resumed": TrainLog.pump_resumed,
    "pump_held": TrainLog.pump_held,
    "pump_stopped": TrainLog.pump_stopped,
    "pump_checked": TrainLog.pump_checked,
}
_OF_NO_TRAIN: dict[str, Callable[[_Log, Act], None]] = {
    "blank_opened": _Log.blank_opened,
    "blank_closed": _Log.blank_closed,
    "parcel_sealed": _Log.parcel_sealed,
    "custody_handed": _Log.custody_handed,
    "conditions": _Log.took_conditions,
    "task": _Log.took_task,
    "note": _Log.took_note,
    "photo": _Log.took_note,
}


def by_what_they_concern(found: list[Found]) -> dict[str, list[tuple[int, Found]]]:
    """Index conflicts or remarks by the samplers and the entries they name."""
    index: dict[str, list[tuple[int, Found]]] = defaultdict(list)
    for number, one in enumerate(found):
        for sampler in one.samplers:
            index["sampler " + sampler].append((number, one))
        for entry_id in one.entry_ids:
            index["entry " + entry_id].append((number, one))
    return index


def concerning(index: dict[str, list[tuple[int, Found]]], sampler: str, entry_ids: set[str]) -> tuple[Found, ...]:
    """Return what concerns one sampler, by its number or by an entry of its own, each once and in order."""
    if not index:
        return ()
    keys = ["sampler " + sampler, *("entry " + one for one in entry_ids)]
    hits = {number: one for key in keys for number, one in index.get(key, ())}
    return tuple(hits[number] for number in sorted(hits))

"""Trains that share samplers, folded together: what one of them tells a sampler bears on the others."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from lapel.fieldlog.day import OF_A_TRAIN
from lapel.fieldlog.order import Act, Key
from lapel.fieldlog.preparation import Findings
from lapel.fieldlog.raised import Place, Raised
from lapel.fieldlog.runs import RunLog
from lapel.fieldlog.state import Train
from lapel.fieldlog.trains import TrainLog

Stream: TypeAlias = tuple[str, str]
"""What acts are kept under: "train", "blank", "parcel" with a code; "air", "tasks" and "notes" without one."""


@dataclass(slots=True)
class Piece:
    """Trains that share samplers, folded; `begun` tells where each train and each run first appears."""

    trains: dict[str, Train] = field(default_factory=dict)
    runs: dict[str, RunLog] = field(default_factory=dict)
    begun: dict[str, Key] = field(default_factory=dict)
    runs_begun: dict[str, Key] = field(default_factory=dict)
    raised: Raised = field(default_factory=Raised)
    involved: dict[str, set[str]] = field(default_factory=dict)

    def ids_of(self, sampler: str) -> set[str]:
        """Return the ids of all entries a sample's numbers rest on."""
        if sampler not in self.involved:
            self.involved[sampler] = self.runs[sampler].involved_ids()
        return self.involved[sampler]


@dataclass(frozen=True, slots=True)
class LogParts:
    """
    What trains are folded from.

    Attributes
    ----------
    acts : mapping of Stream to list of Act
        Acts that are no repetition, in their order.
    packings : mapping of str to (Act, int)
        By sampler, its first sealing into a parcel and its place in the parcel's list.
    distinct : set of frozenset of str
        Pairs of entries said to be no repetition of each other.
    """

    acts: Mapping[Stream, list[Act]]
    packings: Mapping[str, tuple[Act, int]]
    distinct: set[frozenset[str]]


class Pieces:
    """All pieces of a log that grows; `of_train` gives the piece of each train."""

    def __init__(self) -> None:
        self.of_train: dict[str, Piece] = {}
        self._samplers_on: dict[str, set[str]] = {}
        self._trains_of: dict[str, set[str]] = defaultdict(set)

    def fold(self, dirty: set[str], packed: set[str], log: LogParts) -> None:
        """Fold the pieces again that hold one of these trains or samplers."""
        changed = set(dirty)
        for sampler in packed:
            changed |= self._trains_of.get(sampler, set())
        for train in dirty:
            for sampler in self._samplers_on.pop(train, set()):
                self._trains_of[sampler].discard(train)
            acts = log.acts.get(("train", train), [])
            named = {act.value("sampler") for act in acts if act.kind in ("sampler_fitted", "sampler_removed")}
            if acts:
                self._samplers_on[train] = named
            for sampler in named:
                self._trains_of[sampler].add(train)
        waiting = set(changed)
        for train in changed:
            if piece := self.of_train.get(train):
                waiting.update(piece.trains)
        while waiting:
            together = self._linked(waiting.pop())
            waiting -= together
            self._fold_piece(together, log)

    def _linked(self, train: str) -> set[str]:
        """Return a train with all it shares samplers with, directly or by others."""
        together, open_ = {train}, [train]
        while open_:
            for sampler in self._samplers_on.get(open_.pop(), ()):
                others = self._trains_of[sampler] - together
                together |= others
                open_ += others
        return together

    def _fold_piece(self, together: set[str], log: LogParts) -> None:
        before = {code: piece.trains[code] for code in together if (piece := self.of_train.pop(code, None))}
        steps: list[tuple[Place, Act, str]] = []
        for train in together:
            steps += [((act.key, 0), act, "") for act in log.acts.get(("train", train), ())]
            for sampler in self._samplers_on.get(train, ()):
                if packing := log.packings.get(sampler):
                    steps.append(((packing[0].key, packing[1]), packing[0], sampler))
        if not steps:
            return
        steps.sort(key=lambda step: step[0])
        piece, findings = Piece(), Findings(distinct=log.distinct)
        logs: dict[str, TrainLog] = {}
        last: Place | None = None
        for place, act, sampler in steps:
            if sampler and place == last:
                continue  # a sampler of two trains is packed once
            last = place
            if sampler:
                run = findings.runs.get(sampler)
                if run is not None and run.on is not None:
                    logs[run.on[0]].packed(act, run.on[1])
            else:
                self._take(act, logs, piece, findings)
            piece.raised.note(place, findings)
        for one in logs.values():
            one.end_of_log()
        for run in findings.runs.values():
            if not run.workers and (worker := logs[run.train].worker_after(run)):
                run.workers.append(worker)
        piece.runs = findings.runs
        for code, one in logs.items():
            made, known = one.frozen(), before.get(code)
            piece.trains[code] = _as_before(made, known)
            self.of_train[code] = piece

    @staticmethod
    def _take(act: Act, logs: dict[str, TrainLog], piece: Piece, findings: Findings) -> None:
        train = act.value("train")
        log = logs.get(train)
        if log is None:
            log = logs[train] = TrainLog(train, findings)
            piece.begun[train] = act.key
        known = len(findings.runs)
        OF_A_TRAIN[act.kind](log, act)
        if len(findings.runs) > known:
            piece.runs_begun[next(reversed(findings.runs))] = act.key


def _as_before(made: Train, known: Train | None) -> Train:
    """Return a train with every preparation that is as it was."""
    if known is None:
        return made
    if known == made:
        return known
    before = {one.number: one for one in known.preparations}
    return Train(
        made.code,
        tuple(before[one.number] if before.get(one.number) == one else one for one in made.preparations),
        made.kit_ahead,
    )

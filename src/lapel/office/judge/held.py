"""
Groups judged apart from the page that asks, and held by everything the judgement rests on.

Judging a group of many results by many workers takes seconds. One thread of this server judges what was asked for, what
somebody looks at first; a page waits a moment and shows what there is. Nothing can go stale: what is held is held by
the results themselves.
"""

from __future__ import annotations

import logging
import time
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from threading import Condition, Thread
from typing import TypeAlias

from lapel.assessment.follow_up import JudgedGroup, judged_group
from lapel.assessment.judged_groups import GroupQuestion, GroupRow

LOG = logging.getLogger(__name__)

MOST_HELD = 1000
"""Judgements held at a time; one is some kilobytes."""

Key: TypeAlias = tuple[object, ...]
Progress: TypeAlias = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class Asked:
    """A question with the results of earlier surveys whose spread is used, and the book for what follows."""

    question: GroupQuestion
    earlier: tuple[GroupRow, ...]
    rule_book: str

    @property
    def key(self) -> Key:
        """Everything the answer rests on."""
        asked = self.question
        words = (asked.group.code, asked.group.name, asked.agent.key, asked.agent.name)
        return (*words, asked.limit, asked.rows, asked.left_out, self.earlier, self.rule_book)


class CannotJudge(RuntimeError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A group could not be judged, and the log says why."""


_held: OrderedDict[Key, JudgedGroup | None] = OrderedDict()
_waiting: OrderedDict[Key, Asked] = OrderedDict()
_door = Condition()
_worker: Thread | None = None


def judged_so_far(asked: Sequence[Asked], *, wait_s: float, first: Asked | None = None) -> list[JudgedGroup | None]:
    """
    Return the judgements there are, in the order asked, and have the others made.

    Parameters
    ----------
    asked : sequence of Asked
        What is wanted.
    wait_s : float
        How long to wait for all of it. [s]
    first : Asked, optional
        Whose judgement is made before all others that wait.

    Returns
    -------
    list of JudgedGroup or None
        None where it is not there yet.

    Raises
    ------
    CannotJudge
        One of them failed.
    """
    until = time.monotonic() + wait_s
    keys = [one.key for one in asked]
    with _door:
        _ask(asked, keys, first)
        while any(key not in _held for key in keys) and (left := until - time.monotonic()) > 0:
            _door.wait(left)
        return [_taken(key) for key in keys]


def all_judged(asked: Sequence[Asked], progress: Progress) -> tuple[JudgedGroup, ...]:
    """Return every judgement, however long it takes; for work that is apart from a page already."""
    while True:
        found = judged_so_far(asked, wait_s=0.5)
        there = [one for one in found if one is not None]
        progress("judging the groups", len(there), len(asked))
        if len(there) == len(asked):
            return tuple(there)


def _ask(asked: Sequence[Asked], keys: Sequence[Key], first: Asked | None) -> None:
    global _worker
    for key, one in zip(keys, asked, strict=True):
        if key in _held:
            _held.move_to_end(key)
        else:
            _waiting.setdefault(key, one)
    if first is not None and (key := first.key) in _waiting:
        _waiting.move_to_end(key, last=False)
    if _waiting and (_worker is None or not _worker.is_alive()):
        _worker = Thread(target=_work, name="judging groups", daemon=True)
        _worker.start()


def _taken(key: Key) -> JudgedGroup | None:
    if key in _held and _held[key] is None:
        del _held[key]  # asked again, it is tried again
        raise CannotJudge("This group could not be judged. The server's log says why; nothing was changed.")
    return _held.get(key)


def _work() -> None:
    global _worker
    while True:
        with _door:
            if not _waiting:
                _worker = None
                return
            key, asked = next(iter(_waiting.items()))
        found: JudgedGroup | None = None
        try:
            found = judged_group(asked.question, rule_book=asked.rule_book, earlier=asked.earlier)
        except Exception:  # a person waits for it: they are told, and the others go on
            LOG.exception("a group could not be judged")
        with _door:
            _waiting.pop(key, None)
            _held[key] = found
            while len(_held) > MOST_HELD:
                _held.popitem(last=False)
            _door.notify_all()

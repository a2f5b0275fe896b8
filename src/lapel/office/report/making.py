"""
Documents that take longer than a page may: made apart from the request, held in memory until they are fetched.

A document is asked for by everything it is made from, so that asking again finds it, and a change makes a new one.
"""

from __future__ import annotations

import hashlib
import logging
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Executor, ThreadPoolExecutor
from concurrent.futures import wait as wait_for
from dataclasses import dataclass, field
from threading import Lock
from typing import Any, TypeAlias

from django.db import close_old_connections

LOG = logging.getLogger(__name__)

AT_A_TIME = 2
MOST_HELD = 24
MOST_BYTES = 256 * 1024 * 1024
HELD_S = 900.0
"""A document that nobody fetched within a quarter of an hour is forgotten. [s]"""

Progress: TypeAlias = Callable[[str, int, int], None]
Make: TypeAlias = Callable[[Progress], bytes]


class CannotMake(ValueError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A document cannot be made; the message says why and what to do."""


@dataclass(slots=True)
class Making:
    """One document on its way; `content` once it is there, or `problem`."""

    begun: float = field(default_factory=time.monotonic)
    words: str = "waiting for its turn"
    done: int = 0
    total: int = 0
    content: bytes | None = None
    problem: str = ""
    future: Any = None

    @property
    def is_over(self) -> bool:
        """Whether it is made, or has failed."""
        return self.content is not None or bool(self.problem)

    @property
    def seconds(self) -> int:
        """Seconds since it was asked for."""
        return int(time.monotonic() - self.begun)

    def tell(self, words: str, done: int, total: int) -> None:
        """Say how far it is."""
        self.words, self.done, self.total = words, done, total


_held: OrderedDict[str, Making] = OrderedDict()
_door = Lock()
_hands: Executor | None = None


def key_of(*parts: object) -> str:
    """Name what is asked for by everything it is made from."""
    return hashlib.sha256("\x00".join(map(str, parts)).encode()).hexdigest()


def asked_for(key: str, make: Make, *, wait_s: float) -> Making:
    """
    Return a document that is being made, or have it made.

    Parameters
    ----------
    key : str
        From `key_of`.
    make : callable
        Makes it; told how to say how far it is.
    wait_s : float
        How long to wait for it. [s]
    """
    global _hands
    with _door:
        making = _held.get(key)
        if making is None or making.problem:
            making = _held[key] = Making()
            _hands = _hands or ThreadPoolExecutor(AT_A_TIME, thread_name_prefix="documents")
            making.future = _hands.submit(_make, making, make)
        _held.move_to_end(key)
        _forget_old(key)
    wait_for([making.future], timeout=wait_s)
    return making


def forget(key: str) -> None:
    """Let go of a document, as one with names in it, once it was fetched."""
    with _door:
        _held.pop(key, None)


def _make(making: Making, make: Make) -> None:
    try:
        making.content = make(making.tell)
    except CannotMake as problem:
        making.problem = str(problem)
    except Exception:  # a person waits for it: they are told
        LOG.exception("a document could not be made")
        making.problem = "It could not be made. The server's log says why; nothing was changed."
    finally:
        close_old_connections()


def _forget_old(keep: str) -> None:
    now = time.monotonic()
    size = sum(len(one.content or b"") for one in _held.values())
    for key, one in list(_held.items()):
        too_much = len(_held) > MOST_HELD or size > MOST_BYTES
        if key != keep and one.is_over and (too_much or now - one.begun > HELD_S):
            size -= len(one.content or b"")
            del _held[key]

"""
The engine: a lock of the process around every transaction.

SQLite lets one writer in at a time; whoever finds it busy sleeps and tries again, and the unlucky wait long. Eight
threads that stand in line for a lock instead write as much, and the slowest hundredth of them waits a quarter as long.
All transactions are immediate, so each one takes the lock. It is given back by commit, rollback or close.
"""

from __future__ import annotations

import threading
from collections import defaultdict
from typing import Any

from django.db import OperationalError
from django.db.backends.sqlite3 import base

_LINES: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)
"""One lock a database file."""


class DatabaseWrapper(base.DatabaseWrapper):
    """A connection that writes only when it is its turn."""

    def __init__(self, settings_dict: dict[str, Any], alias: str = "default") -> None:
        super().__init__(settings_dict, alias)
        self._held: threading.Lock | None = None

    def _start_transaction_under_autocommit(self) -> None:
        self._take_turn()
        try:
            super()._start_transaction_under_autocommit()  # type: ignore[misc]
        except BaseException:
            self._give_up_turn()
            raise

    def _commit(self) -> None:
        super()._commit()  # type: ignore[misc]
        self._give_up_turn()

    def _rollback(self) -> None:
        try:
            super()._rollback()  # type: ignore[misc]
        finally:
            self._give_up_turn()

    def _close(self) -> None:
        try:
            super()._close()  # type: ignore[misc]
        finally:
            self._give_up_turn()

    def _take_turn(self) -> None:
        line = _LINES[str(self.settings_dict["NAME"])]
        seconds = float(self.settings_dict["OPTIONS"].get("timeout", 5))
        if not line.acquire(timeout=seconds):
            raise OperationalError(f"database is locked: another request has been writing for {seconds:g} s")
        self._held = line

    def _give_up_turn(self) -> None:
        line, self._held = self._held, None
        if line is not None:
            line.release()

"""A real server in a process of its own, and phones that deliver to it, for the load and the fault runs."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path

from lapel.fieldlog import Entry, chained, entry_record
from lapel.records.entry_frame import new_entry_id

START = datetime(2026, 3, 9, 5, 10, tzinfo=UTC)

_PAIR = """
import json, sys, django
django.setup()
from datetime import date
from django.contrib.auth.models import User
from django.core.management import call_command
from lapel.records.devices import pair_device
from lapel.records.models import Site, Survey
call_command("migrate", verbosity=0, interactive=False)
lead, _ = User.objects.get_or_create(username="lead")
site, _ = Site.objects.get_or_create(code="S-1", defaults={"name": "Works", "zone": "Europe/Madrid"})
Survey.objects.get_or_create(code="V-1", defaults={"site": site, "title": "Survey", "assessed_on": date(2026, 3, 9),
    "rule_book": "niosh"})
codes = [f"phone-{number}" for number in range(1, int(sys.argv[1]) + 1)]
print(json.dumps({code: pair_device(site, code=code, user=lead)[1] for code in codes}))
"""
_STORED = "SELECT entry_id, receipt FROM records_logentry"


class Office:
    """A server on SQLite in `home`, or on the PostgreSQL database at `address`, answering on the loopback only."""

    def __init__(self, home: Path, address: str = "", **environment: str) -> None:
        self.environment = {
            **os.environ,
            "LAPEL_HOME": str(home),
            "LAPEL_DATABASE": address,
            "DJANGO_SETTINGS_MODULE": "lapel.site.settings",
            **environment,
        }
        self.home, self.port, self.process = home, _free_port(), None

    def pair(self, count: int) -> dict[str, str]:
        """Make the records and pair so many phones; return their keys by code."""
        return json.loads(self.python(_PAIR, str(count)))

    def stored(self) -> list[tuple[str, int]]:
        """Read straight from the database which entries it holds, with their receipts."""
        address = self.environment["LAPEL_DATABASE"]
        if address:
            import psycopg

            with psycopg.connect(address) as connection:
                return connection.execute(_STORED).fetchall()
        with contextlib.closing(sqlite3.connect(self.home / "lapel.sqlite3")) as connection:
            return connection.execute(_STORED).fetchall()

    def python(self, script: str, *arguments: str) -> str:
        done = subprocess.run(
            [sys.executable, "-c", script, *arguments],
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(done.stderr)
        return done.stdout.strip().splitlines()[-1]

    def lapel(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run the command `lapel` as a person would."""
        command = [sys.executable, "-m", "lapel.cli.main", *arguments]
        return subprocess.run(command, env=self.environment, capture_output=True, text=True, check=False, timeout=300)

    def start(self, *, before: list[str] | None = None, seconds: float = 60) -> None:
        """Start `lapel serve` and wait until it answers."""
        self.log = self.home / "server.out"
        with self.log.open("ab") as output:
            self.process = subprocess.Popen(
                [*(before or []), sys.executable, "-m", "lapel.cli.main", "serve", "--port", str(self.port)],
                env=self.environment, stdout=output, stderr=output, start_new_session=True,
            )  # fmt: skip
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if self.process.poll() is not None:
                raise RuntimeError(self.log.read_text(errors="replace")[-3000:])
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 1):
                return
            time.sleep(0.05)
        raise RuntimeError(f"no answer in {seconds} s")

    def kill(self) -> None:
        """Take the server away as a power cut would take its process: SIGKILL, nothing is finished."""
        if self.process is not None:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None


class Phone:
    """A phone with an outbox: an entry leaves it when the office has named its id, never before."""

    def __init__(self, port: int, code: str, key: str, count: int, *, timeout: float = 30) -> None:
        self.port, self.key, self.timeout = port, key, timeout
        notes = (
            Entry(
                id=new_entry_id(), kind="flow_read", at=START + timedelta(seconds=30 * k), device=code, sequence=k,
                author="R. Vidal", fields={"train": "T-1", "port": "A", "phase": "check", "meter": "M-1",
                                           "reading": f"0.{100 + k % 9}", "unit": "L/min"},
            )
            for k in range(1, count + 1)
        )  # fmt: skip
        self.outbox = {entry.id: entry for entry in chained(notes)}
        self.made = list(self.outbox)
        self.wire = {entry_id: json.dumps(entry_record(entry)) for entry_id, entry in self.outbox.items()}
        self.receipts: dict[str, int] = {}
        self.connection: http.client.HTTPConnection | None = None

    def deliver(self, most: int) -> float:
        """
        Send what waits, at most so many entries; return the seconds until the answer.

        Raises
        ------
        OSError, http.client.HTTPException, RuntimeError
            There was no answer, or it was not 200; what was sent stays in the outbox.
        """
        waiting = islice(self.outbox, most)
        body = '{"survey": "V-1", "entries": [' + ",".join(self.wire[entry_id] for entry_id in waiting) + "]}"
        headers = {"Authorization": f"Bearer {self.key}", "Content-Type": "application/json"}
        if self.connection is None:
            self.connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=self.timeout)
        began = time.perf_counter()
        try:
            self.connection.request("POST", "/api/v1/entries", body, headers)
            answer = self.connection.getresponse()
            content = answer.read()
        except BaseException:
            self.hang_up()
            raise
        seconds = time.perf_counter() - began
        if answer.status != 200:
            raise RuntimeError(f"{answer.status}: {content[:300]!r}")
        said = json.loads(content)
        if said["refused"]:
            raise RuntimeError(f"refused: {said['refused']}")
        for entry_id in said["confirmed"]:
            receipt = said["receipts"][entry_id]
            if self.receipts.setdefault(entry_id, receipt) != receipt:
                raise RuntimeError(f"{entry_id} was receipt {self.receipts[entry_id]}, now {receipt}")
            self.outbox.pop(entry_id, None)
        return seconds

    def hang_up(self) -> None:
        if self.connection is not None:
            self.connection.close()
            self.connection = None


def losses(phones: list[Phone], stored: list[tuple[str, int]]) -> dict[str, int]:
    """
    Let the phones hang up, and count what must be nought.

    That is: confirmed and not stored, stored twice, stored under another receipt, unheard of.
    """
    for phone in phones:
        phone.hang_up()
    by_id = dict(stored)
    confirmed = {entry_id: receipt for phone in phones for entry_id, receipt in phone.receipts.items()}
    made = {entry_id for phone in phones for entry_id in phone.made}
    return {
        "lost": len(confirmed.keys() - by_id.keys()),
        "doubled": len(stored) - len(by_id),
        "other receipt": sum(by_id.get(entry_id, receipt) != receipt for entry_id, receipt in confirmed.items()),
        "unheard of": len(by_id.keys() - made),
    }


def other_content(entry: Entry) -> Entry:
    """Return the same id with another content, as a phone that was tampered with would send it."""
    (changed,) = chained([replace(entry, author="somebody else")], previous_hash=entry.previous_hash)
    return changed


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]

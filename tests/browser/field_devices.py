"""Devices that open the field page in a real browser, and the office they speak to, which can be taken away."""

import contextlib
import json
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import chromium as browsers
from patience import PATIENCE_S, slow_down, until
from serving import environment, started, stopped

SURVEY = "demo"


class Office:
    """A server with a home and a port of its own: started, stopped, started again; its log read from its database."""

    def __init__(self, home: Path) -> None:
        self.home = home
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.process = None
        self.keys = {}

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self, edition: str = "") -> "Office":
        self.process, said = started(self.home, "field_server.py", self.port, *([edition] if edition else []))
        self.keys = json.loads(said)["keys"]
        return self

    def stop(self) -> None:
        if self.process:
            stopped(self.process)
            self.process = None

    def run(self, program: str):
        """Run a few lines on the server's own database, in a process of their own; what they print as JSON."""
        start = "import django; django.setup(); import json\nfrom lapel.records.models import *\n"
        answer = subprocess.run(
            [sys.executable, "-c", start + program],
            env=environment(self.home, DJANGO_SETTINGS_MODULE="lapel.site.settings"),
            capture_output=True,
            text=True,
            check=True,
        )
        return json.loads(answer.stdout) if answer.stdout.strip() else None

    def copy_records(self) -> None:
        """Put the records aside as they are now, as a backup does."""
        with (
            contextlib.closing(sqlite3.connect(self.home / "lapel.sqlite3")) as now,
            contextlib.closing(sqlite3.connect(self.home / "kept.sqlite3")) as kept,
        ):
            now.backup(kept)

    def put_back_records(self) -> None:
        """Go back to the copy; the server is stopped."""
        for name in ("lapel.sqlite3", "lapel.sqlite3-wal", "lapel.sqlite3-shm"):
            (self.home / name).unlink(missing_ok=True)
        (self.home / "kept.sqlite3").rename(self.home / "lapel.sqlite3")

    def log(self):
        """What the devices have delivered, in the order of receipts."""
        with contextlib.closing(sqlite3.connect(self.home / "lapel.sqlite3")) as database:
            rows = database.execute(
                "SELECT receipt, device, sequence, entry_id, kind FROM records_logentry "
                "WHERE device IN ('phone-1', 'tablet-2') ORDER BY receipt"
            ).fetchall()
        return [dict(zip(("receipt", "device", "sequence", "entry_id", "kind"), row, strict=True)) for row in rows]


class Device:
    """A browser with a profile of its own, as a phone has; its page, and a second look at its disk as another tab."""

    def __init__(self, playwright, profile: Path, office: Office, code: str) -> None:
        self.playwright, self.profile = playwright, profile
        self.office, self.code = office, code
        self.context = None
        self.page = None

    def launch(self) -> None:
        self.context = browsers.of_its_own(self.playwright, self.profile, viewport={"width": 390, "height": 844})
        self.context.set_default_timeout(PATIENCE_S * 1000)
        self.page = self.context.pages[0]
        slow_down(self.page)

    def switch_on(self, path: str = "/field/", *, wait: bool = True) -> "Device":
        self.launch()
        self.page.goto(self.office.address + path)
        if wait:
            self.wait_for_worker()
        self.attach()
        return self

    def attach(self, page=None):
        """Take the page's own object at hand: what its screens record with."""
        until(page or self.page, "(globalThis.field = document.getElementById('field').field) !== undefined")

    def wait_for_worker(self) -> None:
        until(self.page, "navigator.serviceWorker.controller !== null")

    def pair(self, key: str | None = None) -> "Device":
        """Put a key on the device as pairing does, choose the survey and say who records."""
        self.page.evaluate(
            """async ([code, key, survey]) => {
                const { field } = globalThis;
                const known = await field.store.setting('chain', null);
                const asked = await fetch('/api/v1/device', { headers: { Authorization: `Bearer ${key}` } });
                const said = await asked.json();
                await field.store.keepSettings({ key, device: { code, name: code, site: '', zone: 'Europe/Berlin' },
                    chain: known ?? { device: code, sequence: said.last_sequence, hash: said.last_hash } });
                await field.choose({ survey, author: 'RK' });
                field.tabs.postMessage('changed');
            }""",
            [self.code, key or self.office.keys[self.code], SURVEY],
        )
        return self

    def ask(self, expression: str, given=None):
        return self.page.evaluate(f"async (given) => {{ const field = globalThis.field; return {expression} }}", given)

    def note(self, count: int, text: str = "note") -> list[str]:
        """Record notes one after the other, as taps do; the ids."""
        return self.ask(
            """await (async () => {
                const ids = [];
                for (let n = 0; n < given.count; n += 1) {
                    ids.push((await field.record('note', { text: `${given.text} ${n}` })).id);
                }
                return ids;
            })()""",
            {"count": count, "text": text},
        )

    @property
    def waiting(self) -> int:
        return self.ask("(await field.store.waiting()).length")

    def sync(self) -> None:
        """Deliver and read back once, from now on: a delivery that runs already began before what was done last."""
        self.ask("await (field.delivery.running ?? Promise.resolve()).then(() => field.sync())")

    def until_delivered(self, seconds: float = 2 * PATIENCE_S) -> None:
        """Deliver until the office answered to the end and nothing waits, as a person would watch it."""
        end = time.monotonic() + seconds
        while True:
            self.sync()
            if self.ask("field.view.outbox.state") == "idle" and not self.waiting:
                return
            assert time.monotonic() < end, self.ask("field.view.outbox")
            time.sleep(0.1)

    def kill(self) -> None:
        """End the whole browser at once, as an empty battery does."""
        mark = f"--user-data-dir={self.profile}"
        found = []
        for entry in Path("/proc").iterdir():
            if entry.name.isdigit():
                try:
                    if mark in (entry / "cmdline").read_bytes().decode().split("\0"):
                        found.append(int(entry.name))
                except OSError:
                    continue
        assert found
        for process in found:
            try:
                os.kill(process, signal.SIGKILL)
            except ProcessLookupError:
                continue
        with contextlib.suppress(Exception):  # the browser at the other end is dead
            self.context.close()
        self.context = None
        for lock in self.profile.glob("Singleton*"):
            lock.unlink()

    def switch_off(self) -> None:
        if self.context:
            self.context.close()
            self.context = None

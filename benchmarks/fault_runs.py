"""
Faults: the server killed in mid-sync, a full disk, a torn write. No accepted entry may be lost, no batch split.

    python benchmarks/fault_runs.py                   # 50 kills, then a full disk, then torn writes
    python benchmarks/fault_runs.py --kills 3
    python benchmarks/fault_runs.py --database postgresql://user@host/empty    # the kills on PostgreSQL

A kill is SIGKILL of the server process at a random moment while eight phones deliver. The full disk is a limit on the
size of any file the server writes (RLIMIT_FSIZE): the kernel then refuses the write in its middle, as on a full disk.
A torn write is what a power cut in a write leaves: the write-ahead log cut off at a random byte, or one sector of it
never written. Answers 1 when anything is lost, split or doubled.
"""

from __future__ import annotations

import argparse
import contextlib
import http.client
import random
import resource
import shutil
import sqlite3
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from field_office import Office, Phone, losses

BATCH = 25
SECTOR = 512


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--torn", type=int, default=40)
    parser.add_argument("--database", default="", help="address of an empty PostgreSQL database to kill the server on")
    options = parser.parse_args()
    if options.database:
        return _reported(
            f"{options.kills} kills", lambda home: kill_runs(home, options.kills, address=options.database)
        )
    failed = False
    for name, run in (
        (f"{options.kills} kills", lambda home: kill_runs(home, options.kills)),
        ("a full disk", full_disk),
        (f"{options.torn} torn writes", lambda home: torn_writes(home, options.torn)),
    ):
        failed |= bool(_reported(name, run))
    return int(failed)


WRONG = ("lost", "doubled", "other receipt", "unheard of", "split batches", "breaks", "torn file")


def _reported(name: str, run: Callable[[Path], dict[str, int]]) -> int:
    """Do one kind of fault in a folder of its own, and say what came of it; 1 when anything is wrong."""
    with tempfile.TemporaryDirectory(prefix="lapel-faults-") as folder:
        began = time.monotonic()
        found = run(Path(folder))
        print(f"{name}: {found} ({time.monotonic() - began:.0f} s)", flush=True)
    return int(any(found[wrong] for wrong in found if wrong in WRONG))


def kill_runs(home: Path, kills: int, *, address: str = "", phones: int = 8, entries: int = 100_000) -> dict[str, int]:
    """
    Kill the server so many times while phones deliver; then let them finish a little and compare.

    A batch is split when only some of its entries are stored after a kill: it came in one request, so it is all there
    or not at all.
    """
    office = Office(home, address)
    keys = office.pair(phones)
    outbox = [Phone(office.port, code, key, min(entries, BATCH * 40 * kills), timeout=10) for code, key in keys.items()]
    chance = random.Random(7)
    split = interrupted = 0
    for _ in range(kills):
        office.start()
        stop, confirmed = threading.Event(), sum(len(phone.receipts) for phone in outbox)
        threads = [threading.Thread(target=_deliver_until, args=(phone, stop)) for phone in outbox]
        for thread in threads:
            thread.start()
        while sum(len(phone.receipts) for phone in outbox) < confirmed + BATCH and any(t.is_alive() for t in threads):
            time.sleep(0.002)
        time.sleep(chance.uniform(0, 0.6))
        office.kill()
        stop.set()
        for thread in threads:
            thread.join()
        stored = dict(office.stored())
        for phone in outbox:
            waiting = list(phone.outbox)[:BATCH]  # the batch that was on its way
            there = sum(entry_id in stored for entry_id in waiting)
            interrupted += there > 0
            split += 0 < there < len(waiting)
    office.start()
    for phone in outbox:
        _deliver_patiently(phone)
    office.kill()
    stored_rows = office.stored()
    proof = office.lapel("log", "verify")
    return {
        "kills": kills,
        "confirmed": sum(len(phone.receipts) for phone in outbox),
        "stored, answer lost": interrupted,
        **losses(outbox, stored_rows),
        "split batches": split,
        "breaks": int("does NOT hold" in proof.stdout or proof.returncode == 2),
    }


def full_disk(home: Path, *, entries: int = 3000) -> dict[str, int]:
    """Let the disk fill while phones deliver; then give it room again and deliver the rest."""
    office = Office(home)
    keys = office.pair(2)
    phones = [Phone(office.port, code, key, entries) for code, key in keys.items()]
    office.start()
    phones[0].deliver(BATCH)
    room = sum(path.stat().st_size for path in home.glob("lapel.sqlite3*")) + 300_000
    resource.prlimit(office.process.pid, resource.RLIMIT_FSIZE, (room, resource.RLIM_INFINITY))
    refused = Counter()
    for _ in range(120):
        for phone in phones:
            try:
                phone.deliver(BATCH)
            except (OSError, http.client.HTTPException, RuntimeError) as problem:
                refused[str(problem)[:3]] += 1
        if sum(refused.values()) >= 6:
            break
    full = dict(office.stored())
    lost_when_full = sum(entry_id not in full for phone in phones for entry_id in phone.receipts)
    split = sum(0 < sum(e in full for e in list(phone.outbox)[:BATCH]) < BATCH for phone in phones if phone.outbox)
    resource.prlimit(office.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    for phone in phones:
        while phone.outbox:
            phone.deliver(200)
    office.kill()
    proof = office.lapel("log", "verify")
    found = losses(phones, office.stored())
    found["lost"] += lost_when_full
    return {
        "refused while full": sum(refused.values()),
        **found,
        "split batches": split,
        "breaks": int(proof.returncode != 0 or not refused),
    }


def torn_writes(home: Path, times: int) -> dict[str, int]:
    """Tear the write-ahead log of a killed server in many places; whole batches must be left, in their order."""
    office = Office(home)
    ((code, key),) = office.pair(1).items()
    phone = Phone(office.port, code, key, 20 * BATCH)
    office.start()
    while phone.outbox:
        phone.deliver(BATCH)
    office.kill()
    database, log = home / "lapel.sqlite3", home / "lapel.sqlite3-wal"
    whole = log.read_bytes()
    chance = random.Random(7)
    found: Counter[str] = Counter(
        {"in the write-ahead log, kB": len(whole) // 1024, "split batches": 0, "torn file": 0}
    )
    with tempfile.TemporaryDirectory(dir=home) as folder:
        for number in range(times):
            copy = Path(folder) / f"{number}.sqlite3"
            shutil.copy(database, copy)
            place = chance.randrange(len(whole) // SECTOR) * SECTOR
            missing = whole[:place] + bytes(SECTOR) + whole[place + SECTOR :]
            copy.with_name(copy.name + "-wal").write_bytes(
                whole[: place + chance.randrange(SECTOR)] if number % 2 else missing
            )
            with contextlib.closing(sqlite3.connect(copy)) as there:
                (answer,) = there.execute("PRAGMA integrity_check").fetchone()
                tables = there.execute("SELECT COUNT(*) FROM sqlite_master WHERE name = 'records_logentry'").fetchone()[
                    0
                ]
                rows = (
                    there.execute("SELECT sequence FROM records_logentry ORDER BY receipt").fetchall() if tables else []
                )
            found["torn file"] += answer != "ok"
            found["split batches"] += len(rows) % BATCH != 0 or [row[0] for row in rows] != list(
                range(1, len(rows) + 1)
            )
    return dict(found) | losses([phone], office.stored())


def _deliver_patiently(phone: Phone, times: int = 30) -> None:
    """Deliver one batch, sent again where a busy machine answers too late, as a phone does."""
    for _ in range(times):
        with contextlib.suppress(OSError, http.client.HTTPException):
            phone.deliver(BATCH)
            return
    raise RuntimeError(f"no answer to one phone in {times} tries")


def _deliver_until(phone: Phone, stop: threading.Event) -> None:
    while phone.outbox and not stop.is_set():
        try:
            phone.deliver(BATCH)
        except (OSError, http.client.HTTPException):
            stop.wait(0.05)


if __name__ == "__main__":
    sys.exit(main())

"""
Load: 200 phones deliver 500 entries each in batches of 50 to a real server on the loopback, on SQLite and PostgreSQL.

    python benchmarks/sync_load.py                    # phones come home over two minutes, each then sends all it has
    python benchmarks/sync_load.py --window 0         # all 200 begin in the same second: what the queue costs
    python benchmarks/sync_load.py --engine sqlite --devices 50

Wanted: nothing lost, nothing doubled, the 95th percentile of a batch below 500 ms. Server, database and phones share
this machine. Answers 1 when anything wanted is missed (the percentile counts with the window of two minutes or more).
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from field_office import Office, Phone, losses

LIMIT_MS = 500
LONGEST_S = 900


def main() -> int:
    options = _options()
    missed = False
    for engine in ["sqlite", "postgresql"] if options.engine == "both" else [options.engine]:
        with tempfile.TemporaryDirectory(prefix="lapel-load-") as home, _address(engine) as address:
            office = Office(Path(home), address)
            keys = office.pair(options.devices)
            phones = [Phone(office.port, code, key, options.entries, timeout=LONGEST_S) for code, key in keys.items()]
            load = os.getloadavg()[0]
            office.start()
            try:
                seconds, took = run(phones, options.batch, options.window)
                stored = office.stored()
            finally:
                office.kill()
            proof = office.lapel("log", "verify")
        counts = losses(phones, stored)
        p50, p95, p99 = (1000 * value for value in (_share(took, 0.5), _share(took, 0.95), _share(took, 0.99)))
        wanted = options.devices * options.entries
        print(
            f"{engine}: {options.devices} phones, {len(stored)} of {wanted} entries in {len(took)} batches of "
            f"{options.batch} over {seconds:.0f} s; a batch took p50 {p50:.0f}, "
            f"p95 {p95:.0f}, p99 {p99:.0f}, at most {1000 * max(took):.0f} ms; "
            + ", ".join(f"{name} {count}" for name, count in counts.items())
            + f"; log verify answered {proof.returncode}; other work on this machine: load {load:.1f} before"
        )
        missed |= any(counts.values()) or len(stored) != wanted or proof.returncode != 0
        missed |= options.window >= 120 and p95 >= LIMIT_MS
    return int(missed)


def run(phones: list[Phone], batch: int, window: float) -> tuple[float, list[float]]:
    """Let every phone begin at a moment of the window and send until its outbox is empty; return all batch times."""
    took: list[float] = []
    faults: list[BaseException] = []
    chance = random.Random(7)
    began = time.monotonic()

    def deliver(phone: Phone, wait: float) -> None:
        try:
            time.sleep(wait)
            while phone.outbox:
                if time.monotonic() - began > LONGEST_S:
                    raise TimeoutError(f"not done after {LONGEST_S} s")
                took.append(phone.deliver(batch))
        except BaseException as fault:
            faults.append(fault)
        finally:
            phone.hang_up()

    threads = [threading.Thread(target=deliver, args=(phone, chance.uniform(0, window))) for phone in phones]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if faults:
        raise faults[0]
    return time.monotonic() - began, took


@contextlib.contextmanager
def _address(engine: str) -> Iterator[str]:
    if engine == "sqlite":
        yield ""
        return
    import postgres

    cluster = postgres.start(durable=True)
    try:
        cluster.sql("CREATE DATABASE load")
        yield cluster.address("load")
    finally:
        postgres.stop(cluster.folder)


def _share(values: list[float], share: float) -> float:
    return statistics.quantiles(values, n=1000, method="inclusive")[round(share * 1000) - 1]


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--devices", type=int, default=200)
    parser.add_argument("--entries", type=int, default=500)
    parser.add_argument("--batch", type=int, default=50)
    parser.add_argument("--window", type=float, default=120, help="seconds over which the phones begin")
    parser.add_argument("--engine", choices=["sqlite", "postgresql", "both"], default="both")
    return parser.parse_args()


if __name__ == "__main__":
    raise SystemExit(main())

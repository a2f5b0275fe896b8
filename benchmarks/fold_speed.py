"""
How long the fold takes: 10,000 samples with 300,000 entries, and whether time grows with the number of entries.

Run: ``python benchmarks/fold_speed.py [SAMPLES ...]``. Wanted: 300,000 entries under 4 s and 400 MB.
"""

from __future__ import annotations

import random
import resource
import sys
import time
from datetime import UTC, datetime, timedelta

from lapel.fieldlog import Entry, fold


def entries_of(samples: int) -> list[Entry]:
    """Return thirty entries a sample: three ports a train, two trains a device, a train a shift."""
    made: list[Entry] = []
    sequence: dict[str, int] = {}
    begin = datetime(2026, 5, 4, 3, 0, tzinfo=UTC)
    words: dict[str, str] = {}

    def write(day: datetime, minute: float, kind: str, device: str, **fields: str) -> None:
        sequence[device] = sequence.get(device, 0) + 1
        number = sequence[device]
        at = day + timedelta(minutes=minute)
        author = words.setdefault("author", "RK")
        received = at + timedelta(seconds=20)
        shared = {name: words.setdefault(value, value) for name, value in fields.items()}
        made.append(Entry(f"{device}-{number:07}", kind, at, device, number, author, shared, received_at=received))

    for train_number in range(-(-samples // 3)):
        train, device = f"T{train_number}", f"phone-{train_number // 2}"
        day = begin + timedelta(days=train_number % 200)
        write(day, 0, "train_prepared", device, train=train, pump=f"P{train_number % 50}", warm_up_min="10")
        for port in "ABC":
            write(
                day,
                5,
                "port_prepared",
                device,
                train=train,
                port=port,
                tube=f"C-{port}",
                target="0.1",
                target_unit="L/min",
            )
            write(day, 6, "leak_checked", device, train=train, port=port, passed="yes")
            for phase, minute in (("setting", 10), ("closing", 20), ("post", 600)):
                for n in range(3):
                    write(
                        day, minute + n / 10, "flow_read", device, train=train, port=port, phase=phase, meter="M-1",
                        reading=f"0.1{n}", unit="L/min", basis="actual", temperature="21", temperature_unit="C",
                    )  # fmt: skip
            sampler = f"S{train_number}{port}"
            write(day, 58, "sampler_fitted", device, train=train, port=port, sampler=sampler, lot="L1")
            write(
                day,
                240,
                "sampler_removed",
                device,
                train=train,
                port=port,
                sampler=f"S{train_number}{port}",
                why="lunch",
            )
            write(day, 270, "sampler_fitted", device, train=train, port=port, sampler=sampler, lot="L1")
        write(day, 25, "closing_round", device, train=train, ports="A B C", valve_touched="no")
        write(day, 55, "train_hung", device, train=train, worker=f"W{train_number % 300}")
        write(day, 60, "pump_started", device, train=train, counter_min="0")
        for n in range(4):
            write(day, 90 + 100 * n, "pump_checked", device, train=train, running="yes", counter_min=str(30 + 100 * n))
        for n in range(20):
            write(day, 100 + 5 * n, "note", device, about=train, text="fan on")
        for n in range(14):
            write(day, 101 + 5 * n, "conditions", device, place=f"hall {train}", temperature="21", temperature_unit="C")
        write(day, 540, "pump_stopped", device, train=train, counter_min="480", why="shift end")
        write(
            day, 610, "post_round", device, train=train, valve_touched="no", recharged="no", same_tubes="yes",
        )  # fmt: skip
    random.Random(5).shuffle(made)
    return made


def main() -> None:
    """Print a line a size."""
    sizes = [int(argument) for argument in sys.argv[1:]] or [1_250, 2_500, 5_000, 10_000]
    for samples in sizes:
        entries = entries_of(samples)
        before_mb = _peak_mb()
        began, began_cpu = time.perf_counter(), time.process_time()
        day = fold(entries)
        seconds, cpu_seconds = time.perf_counter() - began, time.process_time() - began_cpu
        print(
            f"{len(day.runs):5} samples {len(entries):7} entries  {seconds:5.2f} s ({cpu_seconds:5.2f} s of processor, "
            f"{1e6 * cpu_seconds / len(entries):4.1f} us an entry)  peak {_peak_mb():4.0f} MB, {before_mb:4.0f} MB "
            f"before the fold; {len(day.conflicts)} conflicts, {len(day.remarks)} remarks"
        )


def _peak_mb() -> float:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1024.0 if sys.platform == "linux" else 1024.0**2)


if __name__ == "__main__":
    main()

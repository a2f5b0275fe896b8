"""How fast the posteriors of groups are: one core, two processes, memory, and the first group from a cold start.

    python benchmarks/group_speed.py [groups]

Times are of the processor and, for two processes against one, of the clock; there the other work of the machine is
told beside them. Set OMP_NUM_THREADS=1 and OPENBLAS_NUM_THREADS=1 for one core.
"""

import math
import os
import resource
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from lapel.statistics.bulk import BulkQuestion, bulk_posteriors
from lapel.statistics.chunks import Crew
from lapel.statistics.observed import Observations
from lapel.statistics.posterior import posterior

ROUNDS = 3
QUANTITIES = ("gm", "gsd", "mean", "p95", "exceedance")
QUESTION = BulkQuestion(quantiles={"p95": (0.05, 0.5, 0.95)}, above={"p95": 1.0})
COLD = (
    "import time; t = time.perf_counter(); from lapel.statistics import posterior; "
    "posterior([0.1, 0.3, 0.2, 0.5, 0.15, 0.08], limit=1.0).quantiles('p95', [0.05, 0.5, 0.95]); "
    "print(time.perf_counter() - t)"
)


def mixed_groups(count: int, seed: int = 1):
    """Invented groups of 3 to 12 results: half measured throughout, most others part censored, 5 % all non-detects."""
    rng = np.random.default_rng(seed)
    for k in range(count):
        n = int(rng.integers(3, 13))
        x = np.exp(rng.normal(-2.0, 1.0) + max(0.2, rng.normal(0.85, 0.25)) * rng.standard_normal(n))
        kind = k % 20
        share = 0.0 if kind < 10 else 1.0 if kind == 19 else (0.3, 0.5, 0.7)[kind % 3]
        held = np.sort(x)
        cut = held[min(n - 1, max(0, round(share * n) - 1))] if share else 0.0
        yield Observations(np.where(x <= cut, 0.0, x), np.maximum(x, cut)), 1.0


def timed(work, clock=time.process_time) -> float:
    start = clock()
    work()
    return clock() - start


def consume(groups, workers: int | Crew) -> None:
    for _ in bulk_posteriors(groups, QUESTION, workers=workers):
        pass


@dataclass
class Run:
    """One measured call: by the clock; of the processor here, in our other process, and in anybody else's work."""

    clock: float
    here: float
    beside: float
    others: float

    def __str__(self) -> str:
        beside = f" and {self.beside:.1f} s in the other process" if self.beside > 0.05 else ""
        return f"{self.clock:.2f} s ({self.here:.1f} s of the processor here{beside}; other work {self.others:.1f} s)"


def machine_busy() -> float:
    """Seconds all processors have worked since the start of the machine, whoever for; NaN where that is not told."""
    told = Path("/proc/stat")
    if not told.exists():
        return math.nan
    user, nice, system, _, _, interrupts, soft, steal = map(int, told.read_text().split()[1:9])
    return (user + nice + system + interrupts + soft + steal) / os.sysconf("SC_CLK_TCK")


def measured(groups, workers: int | Crew) -> Run:
    """One call over all groups. A process beside this one is counted once it has ended."""
    before, start = (time.process_time(), seconds_of_ended_processes(), machine_busy()), time.perf_counter()
    consume(groups, workers)
    clock = time.perf_counter() - start
    after = time.process_time(), seconds_of_ended_processes(), machine_busy()
    here, beside, busy = (b - a for a, b in zip(before, after, strict=True))
    return Run(clock, here, beside, max(0.0, busy - here - beside))


def seconds_of_ended_processes() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def two_against_one(groups) -> None:
    """In turn, so that other work on the machine falls on both: with it there is no second processor to be had."""
    print(f"{len(groups)} groups by one process, by two (the start of the second included), by two that stand ready:")
    rounds = []
    for _ in range(ROUNDS):
        one, two = measured(groups, 1), measured(groups, 2)
        with Crew(2) as crew:
            crew.wait_until_ready()
            ready = timed(lambda crew=crew: consume(groups, crew), time.perf_counter)
        rounds.append((one.clock, two.clock, ready))
        longer = max(two.here, two.beside)
        print(f"   one {one}\n   two {two}: {one.clock / two.clock:.2f} times as fast")
        print(f"   (of the processor the busier of the two used {longer:.1f} s: {one.here / longer:.2f} times)")
        print(f"   two, ready {ready:.2f} s: {one.clock / ready:.2f} times")
    one, two, ready = (min(column) for column in zip(*rounds, strict=True))
    gain, ready_gain = one / two, one / ready
    print(f"   best of {ROUNDS}: {one:.2f}, {two:.2f} and {ready:.2f} s: {gain:.2f} and {ready_gain:.2f} times as fast")


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    cold = subprocess.run([sys.executable, "-c", COLD], capture_output=True, text=True, check=True)
    print(f"first group from a cold interpreter, imports included: {float(cold.stdout):.2f} s")

    groups = [rows for rows, _ in mixed_groups(1000)]
    posterior(groups[:40], limit=1.0).quantiles("p95", [0.5])
    seconds = min(timed(lambda: posterior(groups, limit=1.0).quantiles("p95", [0.05, 0.5, 0.95])) for _ in range(3))
    print(f"1000 mixed groups, warm, 95th percentile with its interval: {seconds:.3f} s")
    bands = timed(lambda: posterior(groups, limit=1.0).band_probabilities())
    print(f"1000 mixed groups, warm, band probabilities: {bands:.3f} s")
    for what in QUANTITIES:
        ready = posterior(groups, limit=1.0)
        print(f"   {what}, region known: {timed(lambda r=ready, w=what: r.quantiles(w, [0.05, 0.5, 0.95])):.3f} s")

    busy = timed(lambda: consume(mixed_groups(count), 1))
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{count} mixed groups, made and judged in chunks: {busy:.1f} s of the processor, at most {memory:.0f} MB")
    two_against_one(list(mixed_groups(count)))


if __name__ == "__main__":
    main()

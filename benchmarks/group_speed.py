"""How fast the posteriors of groups are: one core, two processes, memory, and the first group from a cold start.

    python benchmarks/group_speed.py [groups]

Times are of the processor (and, for two processes against one, of the clock). Set OMP_NUM_THREADS=1 and
OPENBLAS_NUM_THREADS=1 for one core.
"""

import resource
import subprocess
import sys
import time

import numpy as np

from lapel.statistics.bulk import BulkQuestion, bulk_posteriors
from lapel.statistics.observed import Observations
from lapel.statistics.posterior import posterior

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


def consume(groups, workers: int) -> None:
    for _ in bulk_posteriors(groups, QUESTION, workers=workers):
        pass


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
    ready = list(mixed_groups(count // 5))
    one = timed(lambda: consume(ready, 1), time.perf_counter)
    own = time.process_time()
    two = timed(lambda: consume(ready, 2), time.perf_counter)
    own = time.process_time() - own
    print(
        f"{len(ready)} groups by the clock: one process {one:.1f} s, two {two:.1f} s: {one / two:.2f} times as fast; "
        f"of that {own:.2f} s of the processor to hand out and collect"
    )


if __name__ == "__main__":
    main()

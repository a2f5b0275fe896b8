"""
How long `lapel assess` takes on a big survey folder, how much memory, and whether both grow linearly.

    python benchmarks/assess_speed.py [--samples 10000] [--template examples/small]

Makes two folders with `make_big_folder`, a quarter of the size and the whole, and runs `lapel assess FOLDER --quiet` on
each in a process of its own. Wall time depends on what else the machine does; processor time is given beside it.
Wanted: 10,000 samples under 20 s and 1 GB on 2 cores; `lapel --help` under 0.3 s.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from make_big_folder import ROOT, make_big_folder

RUN = [sys.executable, "-c", "from lapel.cli.main import run; run()"]


def main() -> None:
    arguments = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0].strip())
    arguments.add_argument("--samples", type=int, default=10_000)
    arguments.add_argument("--template", type=Path, default=ROOT / "examples" / "small")
    given = arguments.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        spent = []
        for samples in (given.samples // 4, given.samples):
            folder = Path(scratch) / str(samples)
            rows = make_big_folder(folder, samples=samples, template=given.template, seed=7)
            wall, processor, peak_mb, code = measured([*RUN, "assess", str(folder), "--quiet"])
            spent.append((processor, peak_mb))
            print(
                f"{samples:6} samples, {rows:7} log rows: {wall:5.1f} s, {processor:5.1f} s of processor, "
                f"{peak_mb:5.0f} MB, exit {code}"
            )
    (small_s, small_mb), (big_s, big_mb) = spent
    print(f"four times the samples: {big_s / small_s:.2f} times the processor time, {big_mb / small_mb:.2f} the memory")
    times = sorted(measured([*RUN, "--help"])[:2] for _ in range(5))
    print(f"lapel --help: {times[2][0]:.2f} s, {times[2][1]:.2f} s of processor (median of 5)")


def measured(command: list[str]) -> tuple[float, float, float, int]:
    """Wall and processor seconds of one process, its peak memory [MB] and its exit code."""
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    wall = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    return wall, usage.ru_utime + usage.ru_stime, _megabytes(usage), process.returncode


def _megabytes(usage: resource.struct_rusage) -> float:
    """Peak resident memory; Linux counts it in kilobytes, macOS in bytes."""
    return usage.ru_maxrss / (1024.0 if sys.platform != "darwin" else 1024.0**2)


if __name__ == "__main__":
    main()

"""
How long a dossier of a big survey takes to make and to verify, with every figure computed again.

    python benchmarks/dossier_speed.py [--samples 10000] [--template examples/small]

Makes a folder with `make_big_folder`, its dossier without the PDF, and verifies it, each in a process of its own. Wall
time depends on what else the machine does; processor time is given beside it. Wanted: 10,000 samples verified in under
60 s on 2 cores.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from assess_speed import RUN, measured
from make_big_folder import ROOT, make_big_folder


def main() -> None:
    arguments = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0].strip())
    arguments.add_argument("--samples", type=int, default=10_000)
    arguments.add_argument("--template", type=Path, default=ROOT / "examples" / "small")
    given = arguments.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder, dossier = Path(scratch) / "survey", Path(scratch) / "survey.zip"
        rows = make_big_folder(folder, samples=given.samples, template=given.template, seed=7)
        for what, command in (
            ("made", ["dossier", str(folder), str(dossier), "--no-pdf"]),
            ("verified", ["verify", str(dossier)]),
        ):
            wall, processor, peak_mb, code = measured([*RUN, *command])
            size = dossier.stat().st_size / 1e6
            print(
                f"{given.samples} samples, {rows} log rows, {size:.1f} MB: {what} in {wall:.1f} s, {processor:.1f} s "
                f"of processor, {peak_mb:.0f} MB, exit {code}"
            )


if __name__ == "__main__":
    main()

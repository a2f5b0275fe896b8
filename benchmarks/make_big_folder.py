"""
Make a big survey folder from a small one: its rows copied under new codes, days and seeded results.

    python benchmarks/make_big_folder.py OUT --samples 10000 [--template examples/small] [--seed 7]

Every copy is one morning of the template: people, shifts, trains, samplers, blanks and parcels get the copy's number,
equipment is shared, days move on by a week every few copies. Readings and masses are spread at random around those of
the template. More checks, notes and air readings are added until there are about thirty log rows a sample.
"""

from __future__ import annotations

import argparse
import csv
import re
import shutil
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
SHARED = {"groups.csv", "agents.csv", "limits.csv", "methods.csv", "media.csv"}
CODES = {
    "code",
    "worker",
    "shift",
    "train",
    "sampler",
    "samplers",
    "blank",
    "parcel",
    "about",
    "id",
    "corrects",
    "Sample",
}
DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
COPIES_A_WEEK = 100
ROWS_A_SAMPLE = 30


def main() -> None:
    arguments = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0].strip())
    arguments.add_argument("out", type=Path)
    arguments.add_argument("--samples", type=int, default=10_000)
    arguments.add_argument("--template", type=Path, default=ROOT / "examples" / "small")
    arguments.add_argument("--seed", type=int, default=7)
    given = arguments.parse_args()
    rows = make_big_folder(given.out, samples=given.samples, template=given.template, seed=given.seed)
    print(f"{given.out}: {rows} log rows")


def make_big_folder(out: Path, *, samples: int, template: Path, seed: int) -> int:
    """Write the folder, replacing what is there, and return the number of log rows."""
    shutil.rmtree(out, ignore_errors=True)
    tables = {str(path.relative_to(template)): read(path) for path in sorted(template.rglob("*.csv"))}
    in_one = len(tables["samples.csv"][1])
    copies = -(-samples // in_one)
    log_rows = sum(len(rows) for name, (_, rows) in tables.items() if name.startswith("log/"))
    checks = max(0, ROWS_A_SAMPLE * in_one - log_rows)
    add_checks(tables, checks)
    spread = np.random.default_rng(seed)
    written = 0
    for name, (header, rows) in tables.items():
        shared = name in SHARED or name.startswith("equipment/")
        numbers = [0] if shared else range(copies)
        (out / name).parent.mkdir(parents=True, exist_ok=True)
        with (out / name).open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(header)
            for number in numbers:
                writer.writerows(rows if shared else (copied(header, row, number, spread) for row in rows))
        written += len(rows) * len(numbers) if name.startswith("log/") else 0
    for path in sorted(template.rglob("*.toml")):
        text = path.read_text(encoding="utf-8")
        (out / path.relative_to(template)).write_text(moved_on(text, copies), encoding="utf-8")
    return written


def read(path: Path) -> tuple[list[str], list[list[str]]]:
    with path.open(newline="", encoding="utf-8") as file:
        header, *rows = csv.reader(file)
    return header, rows


def add_checks(tables: dict[str, tuple[list[str], list[list[str]]]], count: int) -> None:
    """Add checks of the running pumps, air readings and notes, at the minutes between the first two checks."""
    header, checks = tables["log/pump_checked.csv"]
    first = dict(zip(header, checks[0], strict=True))
    start = datetime.fromisoformat(first["at"])
    notes = [
        [(start + timedelta(minutes=k)).isoformat(timespec="minutes"), "Nothing unusual"] for k in range(count // 3)
    ]
    tables["log/note.csv"] = (["at", "text"], notes)
    air_header, air = tables["log/conditions.csv"]
    for k in range(count - len(notes)):
        at = (start + timedelta(minutes=k)).isoformat(timespec="minutes")
        if k % 2:
            air.append([at if name == "at" else cell for name, cell in zip(air_header, air[0], strict=True)])
        else:
            later = first | {"at": at, "counter_min": str(int(first["counter_min"]) + k)}
            checks.append([later[name] for name in header])


def copied(header: list[str], row: list[str], number: int, spread: np.random.Generator) -> list[str]:
    cells = []
    for name, cell in zip(header, row, strict=True):
        if name in CODES and cell:
            cells.append(" ".join(f"{code}-{number:05d}" for code in cell.split()))
        elif name in ("reading", "Front, ug") and cell and not cell.startswith("<"):
            width = 0.004 if name == "reading" else 0.8
            cells.append(f"{float(cell) * float(np.exp(spread.normal(0.0, width))):.4g}")
        elif DAY.match(cell):
            day = date.fromisoformat(cell[:10])
            moves = name in ("at", "start", "end", "until", "charged_at")
            cells.append((day + timedelta(weeks=number // COPIES_A_WEEK) if moves else day).isoformat() + cell[10:])
        else:
            cells.append(cell)
    return cells


def moved_on(text: str, copies: int) -> str:
    """Move the days of the assessment and of the laboratory behind the last copy."""
    weeks = timedelta(weeks=copies // COPIES_A_WEEK)

    def later(match: re.Match[str]) -> str:
        return f"{match[1]} = {(date.fromisoformat(match[2]) + weeks).isoformat()}"

    return re.sub(r"^(assessed_on|received_on|samples_received_on) = (\d{4}-\d{2}-\d{2})", later, text, flags=re.M)


if __name__ == "__main__":
    main()

"""
Large campaigns through the tables and through the records: python benchmarks/plan_tables.py [order|big|scaling].

An invented survey folder of the size is written, read, planned and checked; then brought into records of its own, read
from there, planned and checked again. Prints one row a case with wall and CPU seconds, the load of the machine, what
each goal reached and its gap. `scaling` runs growing sizes.
"""

from __future__ import annotations

import argparse
import csv
import os
import random
import resource
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any

SIZES = {"order": (40, 12, 15, 5, 30.0), "big": (200, 20, 40, 20, 120.0)}
"""Workers, agents, pumps, days, seconds granted."""

SCALING = ((10, 6, 6, 5), (20, 8, 10, 5), (30, 10, 12, 5), (40, 12, 15, 5), (60, 14, 20, 8), (80, 16, 25, 10))


def write_folder(root: Path, workers: int, agents: int, pumps: int, days: int, *, seed: int = 1) -> None:
    """Write an invented survey folder that only plans: groups of ten, each asked about some of the agents."""
    chance = random.Random(seed)
    names = [f"agent-{n + 1:02d}" for n in range(agents)]
    groups = [f"G{n + 1:02d}" for n in range(-(-workers // 10))]
    first = date(2026, 6, 1)
    field_days = [first + timedelta(days=n) for n in range(days)]
    media = {name: f"medium {n // 2 + 1:02d}" for n, name in enumerate(names)}
    tables: dict[str, list[dict[str, Any]]] = {
        "groups.csv": [{"code": g, "name": f"Group {g}"} for g in groups],
        "workers.csv": [{"code": f"W{n + 1:03d}", "group": groups[n // 10]} for n in range(workers)],
        "agents.csv": [{"key": name, "name": name, "molar_mass": 100} for name in names],
        "limits.csv": [
            {"agent": name, "authority": "House", "kind": "TWA", "value": 50, "unit": "mg/m3", "averaging_min": 480,
             "source": "invented"}
            for name in names
        ],
        "methods.csv": [
            {"code": f"m-{name}", "agent": name, "medium": media[name], "flow_min": 10, "flow_max": 200,
             "flow_unit": "mL/min", "volume_max": chance.choice([6, 12, 24]), "volume_unit": "L", "reporting_limit": 5,
             "reporting_limit_unit": "ug"}
            for name in names
        ],
        "media.csv": [{"lot": f"L{n}", "medium": m} for n, m in enumerate(dict.fromkeys(media.values()), 1)],
        "equipment/pumps.csv": [
            {"code": f"P-{n + 1:02d}", "flow_min": 5, "flow_max": 500, "flow_unit": "mL/min"} for n in range(pumps)
        ],
        "equipment/splitters.csv": [
            {"code": f"D-{n + 1:02d}", "ports": "A; B" if n % 3 else "A; B; C"} for n in range(max(1, pumps * 2 // 3))
        ],
        "plan/wanted.csv": [
            {"code": f"Q-{group}-{name}", "group": group, "agent": name, "purpose": "full shift",
             "least_share_percent": 90, "results": chance.randint(5, 9), "why": "invented"}
            for group in groups
            for name in chance.sample(names, min(agents, chance.randint(4, 7)))
        ],
        "plan/days.csv": [
            {"start": f"{day}T{hour:02d}:00", "end": f"{day}T{hour + 8:02d}:00", "group": group}
            for place, group in enumerate(groups)
            for hour in [(6, 7, 14)[place % 3]]
            for day in field_days
        ],
        "plan/technicians.csv": [{"code": f"T{n + 1}"} for n in range(max(2, pumps // 10))],
        "plan/workers.csv": [
            {"worker": f"W{n + 1:03d}", "days_at_most": 2,
             "away_on": "; ".join(str(day) for day in field_days if chance.random() < 0.15)}
            for n in range(workers)
        ],
        "plan/laboratory.csv": [
            {"method": f"m-{name}", "laboratory": "Invented", "desorption": "solvent", "shared_analysis": media[name],
             "cost": 30}
            for name in names
        ],
    }  # fmt: skip
    for file, rows in tables.items():
        path = root / file
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("w", newline="", encoding="utf-8") as stream:
            writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)
    (root / "survey.toml").write_text(
        'title = "Benchmark"\npurpose = "speed"\nprepared_by = "nobody"\nassessed_on = 2026-06-01\n'
        'rule_book = "practice"\n\n[site]\nname = "Benchmark"\nzone = "UTC"\n',
        encoding="utf-8",
    )
    (root / "plan" / "plan.toml").write_text(
        'strategy = "invented"\nseed = "benchmark"\n\n[splitter]\n'
        'port_min = "5"\nport_max = "300"\nflow_unit = "mL/min"\n',
        encoding="utf-8",
    )


def cpu_seconds() -> float:
    """CPU time of this process so far."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def planned(inputs: Any, way: str, size: tuple[int, ...], seconds: float) -> dict[str, Any]:
    """Plan, check again from the trains alone, and print a row."""
    from lapel.assessment.plan_by_hand import as_it_stands, hand_trains
    from lapel.assessment.planned import groundwork, plan_survey

    wall, cpu = time.monotonic(), cpu_seconds()
    plan = plan_survey(inputs, seconds=seconds)
    wall, cpu = time.monotonic() - wall, cpu_seconds() - cpu
    again = as_it_stands(groundwork(inputs), hand_trains(plan), found=plan.campaign)
    row = {"size": size, "way": way, "wall": wall, "cpu": cpu, "gap": plan.campaign.gap, "faults": len(again.faults)}
    print(
        f"{way:8} {size[0]:4} workers {size[1]:3} agents {size[2]:3} pumps {size[3]:3} days: wall {wall:6.1f} s, CPU "
        f"{cpu:6.1f} s, load {os.getloadavg()[0]:.1f}; {len(plan.trains)} trains; {plan.campaign.proof}; "
        f"largest gap {plan.campaign.gap:.2%}; checker: {len(again.faults)} faults",
        flush=True,
    )
    return row


def both_ways(size: tuple[int, int, int, int], seconds: float) -> list[dict[str, Any]]:
    """A survey of this size through its tables, and through records."""
    from lapel.assessment.recorded_plan import recorded_plan
    from lapel.exchange.plan_folder.reader import read_plan
    from lapel.exchange.record_transfer import import_survey

    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "survey"
        write_folder(root, *size)
        rows = [planned(read_plan(root), "tables", size, seconds)]
        code = "-".join(map(str, size))
        survey = import_survey(root, survey_code=code, site_code=code).survey
        return [*rows, planned(recorded_plan(survey), "records", size, seconds)]


def main() -> None:
    """Run the cases asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("case", nargs="?", default="order", choices=[*SIZES, "scaling"])
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as home:
        os.environ |= {"LAPEL_HOME": home, "LAPEL_DATABASE": "", "DJANGO_SETTINGS_MODULE": "lapel.site.settings"}
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        if options.case == "scaling":
            for size in SCALING:
                both_ways(size, 30.0)
        else:
            *size, seconds = SIZES[options.case]
            both_ways((size[0], size[1], size[2], size[3]), seconds)


if __name__ == "__main__":
    main()

"""
How fast campaigns are designed, and how far they are proven: python benchmarks/plan_speed.py [small|order|big|scaling].

Invented surveys with a fixed seed: workers want 1 to 7 of the agents, media differ in flow and number of samplers,
85 % presence, two pumps at most on a worker, hang windows around three shift starts. Prints one row a case.
"""

from __future__ import annotations

import argparse
import resource
import time

import numpy as np

from lapel.planning.checker import check_campaign
from lapel.planning.demand import Crew, Demand, Equipment, PumpKind, SamplerOption, SplitterKind, Worker
from lapel.planning.solve import design_campaign


def survey(workers: int, agents: int, pumps: int, days: int, *, seed: int = 1) -> tuple[Demand, Equipment]:
    """An invented survey of this size."""
    rng = np.random.default_rng(seed)
    names = [f"agent {i + 1:02d}" for i in range(agents)]
    # Three of four agents share a medium in pairs or triples; one in five is an aerosol on a filter at high flow.
    aerosols = names[: max(1, agents // 5)]
    vapours = names[len(aerosols) :]
    options: dict[str, SamplerOption] = {}

    def add(name: str, on: list[str], low: float, high: float, samplers: int, cost: float) -> None:
        options[name] = SamplerOption(
            name, name, frozenset(on), 480.0, samplers, low, high, low * 480 / samplers, high * 480 / samplers, cost
        )

    for i, agent in enumerate(aerosols):
        add(f"filter {i + 1}", [agent], 1.0, float(rng.choice([2.0, 2.5, 4.0])), 1, 40.0)
    at, number = 0, 0
    while at < len(vapours):
        take = int(rng.choice([1, 1, 2, 3]))
        group = vapours[at : at + take]
        low = float(rng.choice([0.01, 0.02, 0.05]))
        number += 1
        add(f"tube {number}", group, low, low * 2.5, int(rng.choice([1, 1, 1, 2, 4])), 25.0 + 15.0 * len(group))
        at += take
    labels = tuple(f"day {d + 1:02d}" for d in range(days))
    people = []
    for w in range(workers):
        wanted = rng.choice(names, size=int(rng.integers(1, min(7, agents) + 1)), replace=False)
        mine = tuple(name for name, option in options.items() if option.agents & set(wanted.tolist()))
        present = frozenset(day for day in labels if rng.random() < 0.85)
        people.append(
            Worker(
                f"W{w + 1:03d}",
                {str(agent): 1 for agent in wanted},
                mine,
                shift_start_min=int(rng.choice([360, 360, 420, 840])),
                pumps_at_once=2,
                days=present or frozenset(labels[:1]),
                days_at_most=2,
            )
        )
    high = pumps // 3
    equipment = Equipment(
        pumps=(
            PumpKind("high-flow pump", high, direct_lpm=(0.5, 4.0)),
            PumpKind("low-flow pump", pumps - high, direct_lpm=(0.01, 0.5), split_total_lpm=(0.02, 0.5)),
        ),
        splitters=(
            SplitterKind("two-port", max(1, (pumps - high) * 6 // 10), 2, (0.01, 0.25)),
            SplitterKind("three-port", max(1, (pumps - high) * 4 // 10), 3, (0.01, 0.25)),
        ),
        crew=Crew(technicians=max(2, pumps // 10), hang_min=4, before_min=20, after_min=4,
                  pumps_per_technician=12, changes_per_technician=20),
    )  # fmt: skip
    return Demand(tuple(people), options, labels), equipment


def run(workers: int, agents: int, pumps: int, days: int, *, seconds: float, seed: int) -> None:
    """Design one campaign and print its row."""
    demand, equipment = survey(workers, agents, pumps, days, seed=seed)
    began = time.perf_counter()
    plan = design_campaign(demand, equipment, seconds=seconds)
    took = time.perf_counter() - began
    faults = check_campaign(plan, demand, equipment)
    standing = "proven" if plan.is_proven else f"gap {plan.gap:.1%}"
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{workers:4d} workers {agents:3d} agents {pumps:3d} pumps {days:3d} days  seed {seed}  {took:6.1f} s "
        f"{memory:5.0f} MB  faults {len(faults)}  {standing}  | {plan.proof}",
        flush=True,
    )


def main() -> None:
    """Run the cases asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("case", choices=("small", "order", "big", "scaling"), nargs="?", default="small")
    parser.add_argument("--seeds", type=int, default=3)
    case = parser.parse_args()
    for seed in range(1, case.seeds + 1):
        if case.case == "small":
            run(12, 6, 8, 4, seconds=10, seed=seed)
        elif case.case == "order":
            run(40, 12, 15, 5, seconds=30, seed=seed)
        elif case.case == "big":
            run(200, 20, 40, 20, seconds=110, seed=seed)
        else:
            for workers in (10, 20, 40, 80, 120):
                run(workers, 12, max(6, workers * 3 // 8), 5, seconds=30, seed=seed)


if __name__ == "__main__":
    main()

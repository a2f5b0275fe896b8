"""
How often two exchanged samples are found, and how often nothing is wrong and a question comes all the same.

Surveys are simulated with the structure real ones have: groups with levels and compositions of their own, workers'
shifts, tubes one after another and side by side on a splitter, several agents. In some, two tubes are exchanged.

    python benchmarks/swap_study.py                      the study as kept in the documentation (some minutes)
    python benchmarks/swap_study.py --surveys 60         a quick look

Prints a table in Markdown: questions where nothing was exchanged, and exchanges found, at the threshold in use and at
the threshold that gave 1 % in the simulation itself.
"""

import argparse
import math
import time
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from lapel.assessment.swap_model import SwapSample
from lapel.assessment.swaps import FALSE_ALARMS, pair_ratios, threshold_for

AGENTS = ("toluene", "n-hexane", "benzene")


@dataclass(frozen=True)
class Design:
    """How a survey is laid out and how its results truly scatter."""

    name: str
    agents: int = 3
    tubes: int = 2
    companion: bool = True
    printed_volumes: bool = False
    shifts: int = 6
    groups: int = 2
    shift: float = 0.9
    time: float = 0.5
    blend: float = 0.3
    error: float = 0.15
    heavy_tails: bool = False


DESIGNS = (
    Design("three agents, two tubes in turn and one beside them"),
    Design("three agents, one tube a shift", tubes=1, companion=False),
    Design("one agent, two tubes in turn and one beside them", agents=1),
    Design("one agent, one tube a shift", agents=1, tubes=1, companion=False),
    Design("three agents, one tube a shift, volumes printed", tubes=1, companion=False, printed_volumes=True),
    Design("as the first, composition scattering widely", blend=0.7),
    Design("as the first, tails of four degrees of freedom", heavy_tails=True),
)
KINDS = (
    "another worker, other group",
    "another worker, same group",
    "same shift, tube in turn",
    "same shift, tube beside",
)


def simulated(design, rng):
    """One survey without any exchange."""

    def drawn(spread):
        if not design.heavy_tails:
            return float(rng.normal(0.0, spread))
        return float(rng.standard_t(4)) * spread / math.sqrt(2.0)

    samples = []
    for group in range(design.groups):
        levels = {agent: rng.normal(0.0, 1.0) + rng.normal(0.0, 1.0) for agent in AGENTS[: design.agents]}
        for shift in range(design.shifts):
            of_shift = drawn(design.shift)
            blends = {agent: drawn(design.blend) for agent in levels}
            times = [drawn(design.time) for _ in range(design.tubes)]
            plan = [(f"A{n + 1}", n * 240.0, (n + 1) * 240.0, times[n]) for n in range(design.tubes)]
            if design.companion:
                both = float(np.log(np.mean(np.exp(times))))
                plan.append(("C", 0.0, 240.0 * design.tubes, both))
            for port, start, stop, of_time in plan:
                flow = {"A": 0.1, "C": 0.04}[port[0]] * float(np.exp(rng.normal(0, 0.2)))
                volume = flow * (stop - start)
                masses = {
                    agent: float(np.exp(level + of_shift + of_time + blends[agent] + drawn(design.error))) * volume
                    for agent, level in levels.items()
                }
                printed = volume * float(np.exp(rng.normal(0, 0.01))) if design.printed_volumes else None
                samples.append(
                    SwapSample(
                        code=f"{group}-{shift}-{port}", shift=f"{group}-{shift}", group=str(group), start_min=start,
                        stop_min=stop, medium="charcoal", day=date(2026, 4, 1 + shift % 3), masses_ug=masses,
                        volume_l=volume, port=port[0], laboratory_volume_l=printed,
                    )
                )  # fmt: skip
    return samples


def exchanged(samples, kind, rng):
    """The same survey with two samples changed about at the laboratory, and which; None where there is no such pair."""
    pairs = []
    for i, one in enumerate(samples):
        for j in range(i + 1, len(samples)):
            other = samples[j]
            same_shift = one.shift == other.shift
            together = min(one.stop_min, other.stop_min) > max(one.start_min, other.start_min)
            fits = {
                KINDS[0]: not same_shift and one.group != other.group,
                KINDS[1]: not same_shift and one.group == other.group,
                KINDS[2]: same_shift and not together,
                KINDS[3]: same_shift and together,
            }[kind]
            if fits:
                pairs.append((i, j))
    if not pairs:
        return None
    i, j = pairs[int(rng.integers(len(pairs)))]
    changed = list(samples)
    for here, there in ((i, j), (j, i)):
        changed[here] = replace(
            samples[here], masses_ug=samples[there].masses_ug, laboratory_volume_l=samples[there].laboratory_volume_l
        )
    return changed, {samples[i].code, samples[j].code}


def strongest(samples):
    """The strongest pair, its ratio, and the threshold in use."""
    ratios = pair_ratios(samples)
    pair = max(ratios, key=ratios.get)
    return set(pair), ratios[pair], threshold_for(len(ratios))


def main():
    arguments = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0].strip())
    arguments.add_argument("--surveys", type=int, default=400)
    arguments.add_argument("--found", type=int, default=100)
    arguments.add_argument("--seed", type=int, default=7)
    given = arguments.parse_args()
    started = time.monotonic()
    print("| Survey | Exchange | Asked without one | Found | Found at the simulated 1 % |")
    print("|---|---|---:|---:|---:|")
    for design in DESIGNS:
        rng = np.random.default_rng(given.seed)
        quiet = [strongest(simulated(design, rng)) for _ in range(given.surveys)]
        alarms = sum(ratio > threshold for _, ratio, threshold in quiet) / len(quiet)
        own = float(np.quantile([ratio - threshold for _, ratio, threshold in quiet], 1.0 - FALSE_ALARMS))
        for kind in KINDS:
            hits = at_own = tried = 0
            for _ in range(given.found):
                made = exchanged(simulated(design, rng), kind, rng)
                if made is None:
                    break
                pair, ratio, threshold = strongest(made[0])
                tried += 1
                hits += pair == made[1] and ratio > threshold
                at_own += pair == made[1] and ratio > threshold + own
            if tried:
                found = f"{100 * hits / tried:.0f} % | {100 * at_own / tried:.0f} %"
                print(f"| {design.name} | {kind} | {100 * alarms:.1f} % | {found} |", flush=True)
    took = time.monotonic() - started
    print(f"\n{given.surveys} surveys without and {given.found} with an exchange a line; {took:.0f} s.")


if __name__ == "__main__":
    main()

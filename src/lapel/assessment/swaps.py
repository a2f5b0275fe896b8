"""
Were two samples exchanged? A likelihood ratio from what each of them should have looked like, put as a question.

The samples of one worker tell one story: ports that drew at the same time saw the same air, the agents of one process
come in like proportions, and the groups have levels of their own. If the story holds better with the masses of two
samplers changed about, somebody should look at the labels. Nothing is ever changed here.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from lapel.assessment.reconcile_matters import short
from lapel.assessment.swap_model import SPREADS, Spread, StoryModel, SwapSample, shared_time, volume_log_ratio

FALSE_ALARMS = 0.01
"""Chance that a report without any exchange raises a question, at most, if the model holds. [-]"""
SLACK = 2.5
"""
How far the threshold lies below the bound of Markov's inequality, which is never reached by chance. [ln]

In simulated surveys of seven designs the strongest pair of the worst one, with heavy tails, stays below in 99 of 100.
"""
MOST_PAIRS = 40_000
"""Pairs looked at in one go; of larger reports those of one shift go first, then those of one day."""


@dataclass(frozen=True, slots=True)
class Suspicion:
    """
    Two samplers that may have been exchanged.

    Attributes
    ----------
    log_ratio : float
        Natural logarithm of how much likelier the report is with the two changed about.
    threshold : float
        What it had to exceed.
    evidence : tuple of str
        What speaks for it, in words with the numbers.
    """

    one: str
    other: str
    log_ratio: float
    threshold: float
    evidence: tuple[str, ...]

    def question(self) -> str:
        """Ask a laboratory."""
        return (
            f"Please look at the labels, positions and raw data of samples {self.one} and {self.other}: the "
            f"results read "
            f"as if the two had changed places ({'; '.join(self.evidence)}). Can that be excluded?"
        )


def suspected_swaps(
    samples: Sequence[SwapSample],
    *,
    false_alarms: float = FALSE_ALARMS,
    spreads: Sequence[Spread] = SPREADS,
    progress: Callable[[str, int, int], None] | None = None,
) -> tuple[Suspicion, ...]:
    """
    Find pairs of samplers whose masses fit each other's place better than their own.

    Parameters
    ----------
    samples : sequence of SwapSample
        Of one survey, with results and volumes.
    false_alarms : float
        Chance of at least one question where nothing was exchanged. [-]
    spreads : sequence of Spread
        Considered together, weighted by the survey.

    Returns
    -------
    tuple of Suspicion
        The strongest first; each sampler in one pair at most.

    Notes
    -----
    Under no exchange the expectation of a likelihood ratio is 1, so the chance that it exceeds m / alpha for any of m
    pairs is at most alpha (Markov's inequality and a sum over pairs). The threshold is ln(m / alpha) less `SLACK`, by
    which simulation shows the bound to be too careful; docs/science/exchanged-samples.md has the figures.
    """
    ratios = pair_ratios(samples, spreads=spreads, progress=progress)
    if not ratios:
        return ()
    threshold = threshold_for(len(ratios), false_alarms)
    by_code = {sample.code: sample for sample in samples}
    found: list[Suspicion] = []
    taken: set[str] = set()
    for (one, other), ratio in sorted(ratios.items(), key=lambda item: -item[1]):
        if ratio <= threshold:
            break
        if one in taken or other in taken:
            continue
        taken |= {one, other}
        evidence = _evidence(by_code[one], by_code[other], samples)
        found.append(Suspicion(one, other, round(ratio, 3), round(threshold, 3), evidence))
    return tuple(found)


def threshold_for(pairs: int, false_alarms: float = FALSE_ALARMS) -> float:
    """Log likelihood ratio above which one of so many pairs is asked about."""
    return math.log(pairs / false_alarms) - SLACK


def pair_ratios(
    samples: Sequence[SwapSample],
    *,
    spreads: Sequence[Spread] = SPREADS,
    progress: Callable[[str, int, int], None] | None = None,
) -> dict[tuple[str, str], float]:
    """
    Logarithm of the likelihood ratio of every pair that can have been exchanged: one medium, agents in common.

    Returns
    -------
    dict
        By the two codes; above 0 where the exchange explains the results better.
    """
    usable = [sample for sample in samples if sample.volume_l > 0.0 and sample.masses_ug]
    pairs = _pairs(usable)
    if not pairs:
        return {}
    model = StoryModel(usable, spreads)
    found = {}
    for done, (one, other) in enumerate(pairs):
        if progress is not None and done % 500 == 0:
            progress("looking for exchanged samples", done, len(pairs))
        found[one.code, other.code] = model.log_ratio(one, other)
    return found


def _pairs(samples: Sequence[SwapSample]) -> list[tuple[SwapSample, SwapSample]]:
    """Pairs of one medium that share an agent; the nearest first, where there are too many."""
    by_medium: dict[str, list[SwapSample]] = defaultdict(list)
    for sample in samples:
        by_medium[sample.medium].append(sample)
    chosen: dict[tuple[str, str], tuple[SwapSample, SwapSample]] = {}
    nearness: tuple[Callable[[SwapSample], object], ...] = (
        lambda sample: sample.shift,
        lambda sample: sample.day,
        lambda sample: "",
    )
    for near in nearness:
        for members in by_medium.values():
            together: dict[object, list[SwapSample]] = defaultdict(list)
            for sample in members:
                together[near(sample)].append(sample)
            for group in together.values():
                for one, other in combinations(group, 2):
                    if len(chosen) >= MOST_PAIRS:
                        return list(chosen.values())
                    if not one.masses_ug.keys().isdisjoint(other.masses_ug):
                        chosen.setdefault((one.code, other.code), (one, other))
    return list(chosen.values())


def _evidence(one: SwapSample, other: SwapSample, samples: Iterable[SwapSample]) -> tuple[str, ...]:
    """Say in words and numbers what speaks for the exchange."""
    words = []
    everyone = list(samples)
    for sample, source in ((one, other), (other, one)):
        companions = [s for s in everyone if s.shift == sample.shift and s.code not in (one.code, other.code)]
        together = [s for s in companions if shared_time((s, sample))[0, 1] > 0.5]
        for companion in together or companions[:1]:
            shared = sorted(set(companion.masses_ug) & set(sample.masses_ug) & set(source.masses_ug))
            for agent in shared[:2]:
                beside = companion.masses_ug[agent] / companion.volume_l
                words.append(
                    f"{agent} on {companion.code} beside {sample.code} was {short(beside, 3)} mg/m³; {sample.code} as "
                    f"labelled "
                    f"{short(sample.masses_ug[agent] / sample.volume_l, 3)}, with the mass of {source.code} "
                    f"{short(source.masses_ug[agent] / sample.volume_l, 3)}"
                )
                break
        blend = sorted(set(one.masses_ug) & set(other.masses_ug))
        if len(blend) > 1:
            first, second = blend[:2]
            usual = [
                s.masses_ug[first] / s.masses_ug[second]
                for s in everyone
                if s.group == sample.group
                and s.code not in (one.code, other.code)
                and {first, second} <= set(s.masses_ug)
            ]
            if len(usual) >= 2:
                words.append(
                    f"{first} over {second} is {short(float(np.median(usual)), 3)} in group {sample.group}; "
                    f"{short(sample.masses_ug[first] / sample.masses_ug[second], 3)} on {sample.code}, "
                    f"{short(source.masses_ug[first] / source.masses_ug[second], 3)} on {source.code}"
                )
    if one.laboratory_volume_l and other.laboratory_volume_l and volume_log_ratio(one, other) > 1.0:
        words.append(
            f"the laboratory printed {short(one.laboratory_volume_l)} L and {short(other.laboratory_volume_l)} L, "
            f"ours are {short(one.volume_l)} L and {short(other.volume_l)} L"
        )
    return tuple(words) or (f"the masses fit volumes of {short(other.volume_l)} L and {short(one.volume_l)} L",)

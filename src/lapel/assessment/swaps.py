"""
Were two samples exchanged? A likelihood ratio from what each of them should have looked like, put as a question.

The samples of one worker tell one story: ports that drew at the same time saw the same air, the agents of one process
come in like proportions, and the groups have levels of their own. If the story holds better with the masses of two
samplers changed about, somebody should look at the labels. Nothing is ever changed here.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

FALSE_ALARMS = 0.01
"""Chance that a report without any exchange raises a question, at most, if the model holds. [-]"""
SLACK = 2.5
"""
How far the threshold lies below the bound of Markov's inequality, which is never reached by chance. [ln]

In simulated surveys of seven designs the strongest pair of the worst one, with heavy tails, stays below in 99 of 100.
"""
MOST_PAIRS = 40_000
"""Pairs looked at in one go; of larger reports those of one shift go first, then those of one day."""
_LOG_2_PI = math.log(2.0 * math.pi)


@dataclass(frozen=True, slots=True)
class Spread:
    """
    How results scatter, as standard deviations of natural logarithms.

    Attributes
    ----------
    shift : float
        Between shifts of one group, all agents together.
    time : float
        Between stretches of one shift.
    blend : float
        Of one agent against the others, shift by shift: the composition.
    error : float
        Of one result: flow, analysis, and where on the person the sampler hung.
    """

    shift: float
    time: float
    blend: float
    error: float


SPREADS: tuple[Spread, ...] = tuple(
    Spread(shift, time, blend, error)
    for shift in (0.6, 1.1)
    for time in (0.4, 0.8)
    for blend in (0.15, 0.35, 0.8)
    for error in (0.12, 0.25)
)
"""Spreads considered, each with the weight the survey itself gives it; the range is judgement, see the science page."""
LEVEL_PRIOR = 2.5
"""Standard deviation of a group's level before any result. [ln]"""
BLEND_PRIOR = 2.0
"""Standard deviation of an agent's share in a group before any result. [ln]"""


@dataclass(frozen=True, slots=True)
class SwapSample:
    """
    One sampler, as the laboratory and the field know it.

    Attributes
    ----------
    start_min, stop_min : float
        When it drew, on any clock: samplers of one shift that drew together saw the same air. [min]
    masses_ug : mapping of str to float
        By agent, above the reporting limit only. [ug]
    volume_l : float
        Worked out from the field log. [L]
    laboratory_volume_l : float or None
        As the laboratory printed it. [L]
    """

    code: str
    shift: str
    group: str
    start_min: float
    stop_min: float
    medium: str
    day: date | None
    masses_ug: Mapping[str, float]
    volume_l: float
    port: str = ""
    laboratory_volume_l: float | None = None
    medium_seen: str = ""


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
    model = _Model(usable, spreads)
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


Rows = list[tuple[SwapSample, str, float]]
"""Sampler in its place, agent, and natural logarithm of its concentration in mg/m3."""


class _Model:
    """Levels of groups from the shifts not in question, and the likelihood of a shift's results."""

    def __init__(self, samples: Sequence[SwapSample], spreads: Sequence[Spread]) -> None:
        self._spread = np.array([[s.shift, s.time, s.blend, s.error] for s in spreads]) ** 2
        self._by_shift: dict[str, list[SwapSample]] = defaultdict(list)
        for sample in samples:
            self._by_shift[sample.shift].append(sample)
        self._group_of = {shift: members[0].group for shift, members in self._by_shift.items()}
        self._rows = {shift: _rows(members) for shift, members in self._by_shift.items()}
        self._means: dict[str, dict[str, float]] = {}
        self._sums: dict[str, dict[str, tuple[float, int]]] = defaultdict(dict)
        self._shifts: dict[str, int] = defaultdict(int)
        for shift, rows in self._rows.items():
            by_agent: dict[str, list[float]] = defaultdict(list)
            for _, agent, value in rows:
                by_agent[agent].append(value)
            self._means[shift] = {agent: sum(values) / len(values) for agent, values in by_agent.items()}
            sums = self._sums[self._group_of[shift]]
            self._shifts[self._group_of[shift]] += 1
            for agent, mean in self._means[shift].items():
                total, count = sums.get(agent, (0.0, 0))
                sums[agent] = total + mean, count + 1
        self._precisions: dict[object, tuple[NDArray[np.float64], NDArray[np.float64]]] = {}
        self._weights = self._survey_weights()

    def log_ratio(self, one: SwapSample, other: SwapSample) -> float:
        """Log likelihood ratio of the two changed about, over as labelled."""
        shifts = tuple(dict.fromkeys((one.shift, other.shift)))
        swapped = {one.code: other, other.code: one}
        before, after = self._weights, self._weights
        for shift in shifts:
            before = before + self._log_likelihoods(shift, self._rows[shift], shifts)
            after = after + self._log_likelihoods(shift, _rows(self._by_shift[shift], swapped), shifts)
        ratio = float(np.logaddexp.reduce(after) - np.logaddexp.reduce(before))
        return ratio + _volume_log_ratio(one, other) + _medium_log_ratio(one, other)

    def _survey_weights(self) -> NDArray[np.float64]:
        """Log weight of each spread: how well it explains the survey as labelled, one shift given the others."""
        total = np.full(len(self._spread), -math.log(len(self._spread)))
        for shift in list(self._rows)[:400]:
            total = total + self._log_likelihoods(shift, self._rows[shift], (shift,))
        return np.asarray(total - np.logaddexp.reduce(total))

    def _levels(self, shift: str, without: tuple[str, ...]) -> tuple[dict[str, tuple[float, int]], int]:
        """Mean of each agent over a group's other shifts with their number, and the number of those shifts."""
        group = self._group_of[shift]
        left_out = [self._means[other] for other in without if self._group_of[other] == group]
        found = {}
        for agent, (total, count) in self._sums[group].items():
            for means in left_out:
                if agent in means:
                    total, count = total - means[agent], count - 1
            if count:
                found[agent] = total / count, count
        return found, self._shifts[group] - len(left_out)

    def _log_likelihoods(self, shift: str, rows: Rows, without: tuple[str, ...]) -> NDArray[np.float64]:
        """Log likelihood of one shift's results under each spread, given the group's other shifts."""
        if not rows:
            return np.zeros(len(self._spread))
        levels, others = self._levels(shift, without)
        middle = sum(mean for mean, _ in levels.values()) / len(levels) if levels else 0.0
        offset = np.array([value - levels.get(agent, (middle, 0))[0] for _, agent, value in rows])
        known = tuple(levels.get(agent, (0.0, 0))[1] for _, agent, _ in rows)
        precision, log_determinant = self._precision(rows, known, others)
        quadratic = np.einsum("i,kij,j->k", offset, precision, offset)
        return np.asarray(-0.5 * (quadratic + log_determinant + len(offset) * _LOG_2_PI))

    def _precision(
        self, rows: Rows, known: tuple[int, ...], others: int
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Inverse covariance of a shift's results under each spread, and the logarithm of its determinant."""
        key = (tuple((place.code, agent) for place, agent, _ in rows), known, others)
        found = self._precisions.get(key)
        if found is None:
            agents = np.array([agent for _, agent, _ in rows])
            same_agent = (agents[:, None] == agents[None, :]).astype(float)
            same_time = _shared_time([place for place, _, _ in rows])
            shift, time, blend, error = (column[:, None, None] for column in self._spread.T)
            level = 1.0 / (others / (shift + time / 2.0) + 1.0 / LEVEL_PRIOR**2)
            of_blend = 1.0 / (np.array(known)[None, :] / (blend + error)[:, :, 0] + 1.0 / BLEND_PRIOR**2)
            blend_known = np.sqrt(of_blend[:, :, None] * of_blend[:, None, :])
            covariance = shift + level + time * same_time + same_agent * (blend + blend_known)
            covariance = covariance + error * np.eye(len(rows))
            found = np.linalg.inv(covariance), np.linalg.slogdet(covariance)[1]
            self._precisions[key] = found
        return found


def _rows(members: Sequence[SwapSample], swapped: Mapping[str, SwapSample] | None = None) -> Rows:
    rows: Rows = []
    for place in members:
        source = swapped.get(place.code, place) if swapped else place
        rows += [(place, agent, math.log(mass / place.volume_l)) for agent, mass in source.masses_ug.items()]
    return rows


def _shared_time(samples: Sequence[SwapSample]) -> NDArray[np.float64]:
    """Share of time two samplers drew together: minutes in common over the geometric mean of their minutes."""
    start = np.array([sample.start_min for sample in samples])
    stop = np.array([sample.stop_min for sample in samples])
    minutes = np.maximum(stop - start, 1e-6)
    common = np.minimum.outer(stop, stop) - np.maximum.outer(start, start)
    return np.asarray(np.clip(common, 0.0, None) / np.sqrt(np.outer(minutes, minutes)))


_VOLUME_SD = 0.02
_ODD_VOLUME_SHARE = 0.05
"""Share of printed volumes that are off for reasons of their own."""


def _volume_log_ratio(one: SwapSample, other: SwapSample) -> float:
    """Printed volumes that fit each other's place: laboratories echo what stood on the form with the label."""
    if not one.laboratory_volume_l or not other.laboratory_volume_l:
        return 0.0
    straight = _volume_fit(one.laboratory_volume_l, one.volume_l) + _volume_fit(
        other.laboratory_volume_l, other.volume_l
    )
    across = _volume_fit(one.laboratory_volume_l, other.volume_l) + _volume_fit(other.laboratory_volume_l, one.volume_l)
    return across - straight


def _volume_fit(printed: float, ours: float) -> float:
    z = math.log(printed / ours) / _VOLUME_SD
    narrow = math.exp(-0.5 * min(z * z, 1400.0)) / (_VOLUME_SD * math.sqrt(2 * math.pi))
    return math.log((1 - _ODD_VOLUME_SHARE) * narrow + _ODD_VOLUME_SHARE / (2 * 3.0))


def _medium_log_ratio(one: SwapSample, other: SwapSample) -> float:
    """Media seen that are each other's; 1 in 50 is described wrongly for other reasons."""
    if not one.medium_seen or not other.medium_seen or one.medium == other.medium:
        return 0.0
    fits = (one.medium_seen == other.medium) + (other.medium_seen == one.medium)
    fits -= (one.medium_seen == one.medium) + (other.medium_seen == other.medium)
    return fits * math.log(49.0)


def _evidence(one: SwapSample, other: SwapSample, samples: Iterable[SwapSample]) -> tuple[str, ...]:
    """Say in words and numbers what speaks for the exchange."""
    words = []
    everyone = list(samples)
    for sample, source in ((one, other), (other, one)):
        companions = [s for s in everyone if s.shift == sample.shift and s.code not in (one.code, other.code)]
        together = [s for s in companions if _shared_time((s, sample))[0, 1] > 0.5]
        for companion in together or companions[:1]:
            shared = sorted(set(companion.masses_ug) & set(sample.masses_ug) & set(source.masses_ug))
            for agent in shared[:2]:
                beside = companion.masses_ug[agent] / companion.volume_l
                words.append(
                    f"{agent} on {companion.code} beside {sample.code} was {beside:.3g} mg/m3; {sample.code} as "
                    f"labelled "
                    f"{sample.masses_ug[agent] / sample.volume_l:.3g}, with the mass of {source.code} "
                    f"{source.masses_ug[agent] / sample.volume_l:.3g}"
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
                    f"{first} over {second} is {float(np.median(usual)):.3g} in group {sample.group}; "
                    f"{sample.masses_ug[first] / sample.masses_ug[second]:.3g} on {sample.code}, "
                    f"{source.masses_ug[first] / source.masses_ug[second]:.3g} on {source.code}"
                )
    if one.laboratory_volume_l and other.laboratory_volume_l and _volume_log_ratio(one, other) > 1.0:
        words.append(
            f"the laboratory printed {one.laboratory_volume_l:.4g} L and {other.laboratory_volume_l:.4g} L, ours are "
            f"{one.volume_l:.4g} L and {other.volume_l:.4g} L"
        )
    return tuple(words) or (f"the masses fit volumes of {other.volume_l:.4g} L and {one.volume_l:.4g} L",)

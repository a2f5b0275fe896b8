"""How likely a shift's results are as labelled, and with two samplers changed about, given the group's other shifts."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

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


Rows = list[tuple[SwapSample, str, float]]
"""Sampler in its place, agent, and natural logarithm of its concentration in mg/m3."""


class StoryModel:
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
        return ratio + volume_log_ratio(one, other) + _medium_log_ratio(one, other)

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
            same_time = shared_time([place for place, _, _ in rows])
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


def shared_time(samples: Sequence[SwapSample]) -> NDArray[np.float64]:
    """Share of time two samplers drew together: minutes in common over the geometric mean of their minutes."""
    start = np.array([sample.start_min for sample in samples])
    stop = np.array([sample.stop_min for sample in samples])
    minutes = np.maximum(stop - start, 1e-6)
    common = np.minimum.outer(stop, stop) - np.maximum.outer(start, start)
    return np.asarray(np.clip(common, 0.0, None) / np.sqrt(np.outer(minutes, minutes)))


_VOLUME_SD = 0.02
_ODD_VOLUME_SHARE = 0.05
"""Share of printed volumes that are off for reasons of their own."""


def volume_log_ratio(one: SwapSample, other: SwapSample) -> float:
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

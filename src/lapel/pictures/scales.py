"""Scales: where a value stands along an axis, and which values the axis names."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Protocol

NICE_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
PROBABILITY_TICKS = (0.01, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99)


class Scale(Protocol):
    """Anything that puts values along an axis."""

    def at(self, value: float) -> float:
        """Place of a value; values beyond the ends stand at the end."""

    def ticks(self) -> list[tuple[float, str]]:
        """Values the axis names, with their labels."""


@dataclass(frozen=True, slots=True)
class LinearScale:
    """Equal steps for equal differences, from `low` at `start` to `high` at `end`."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Place of a value."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def ticks(self) -> list[tuple[float, str]]:
        """Three to seven round values."""
        rough = (self.high - self.low) / 6.0
        power = 10.0 ** math.floor(math.log10(rough))
        step = next(nice * power for nice in NICE_STEPS if nice * power >= rough * (1 - 1e-9))
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return [(index * step, f"{index * step:.6g}") for index in range(first, last + 1)]


@dataclass(frozen=True, slots=True)
class LogScale:
    """Equal steps for equal ratios, from `low` at `start` to `high` at `end`; both above 0."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Place of a value; 0 stands at the lower end."""
        held = min(max(value, self.low), self.high)
        share = math.log(held / self.low) / math.log(self.high / self.low)
        return self.start + share * (self.end - self.start)

    def ticks(self) -> list[tuple[float, str]]:
        """Powers of ten; between them 2 and 5 where there are at most four decades, and more where there is one."""
        first, last = math.floor(math.log10(self.low) + 1e-9), math.ceil(math.log10(self.high) - 1e-9)
        leads = (1.0,) if last - first > 4 else (1.0, 2.0, 5.0) if last - first > 1 else (1.0, 2.0, 3.0, 5.0, 7.0)
        values = [lead * 10.0**power for power in range(first, last + 1) for lead in leads]
        return [(v, f"{v:g}") for v in values if self.low * (1 - 1e-9) <= v <= self.high * (1 + 1e-9)]


@dataclass(frozen=True, slots=True)
class ProbabilityScale:
    """Equal steps for equal normal deviates: a normal distribution becomes a straight line."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Place of a probability above 0 and below 1."""
        normal = NormalDist()
        held = min(max(value, self.low), self.high)
        bottom, top = normal.inv_cdf(self.low), normal.inv_cdf(self.high)
        return self.start + (normal.inv_cdf(held) - bottom) / (top - bottom) * (self.end - self.start)

    def ticks(self) -> list[tuple[float, str]]:
        """Round percentages."""
        return [(p, f"{100 * p:g} %") for p in PROBABILITY_TICKS if self.low <= p <= self.high]


def decades_around(low: float, high: float) -> tuple[float, float]:
    """Whole decades that hold both values, at least one wide."""
    first, last = math.floor(math.log10(low) + 1e-9), math.ceil(math.log10(high) - 1e-9)
    return 10.0**first, 10.0 ** max(last, first + 1)

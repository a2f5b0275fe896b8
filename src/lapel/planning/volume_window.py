"""How much air one sampler must see, and the question it answers.

The lower end comes from the laboratory's reporting limit and the share of the exposure limit one wants to
see; the upper end is in `lapel.planning.safe_volume`. Litres, minutes, L/min, µg and mg/m³ throughout; note that
1 mg/m³ x 1 L = 1 µg.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lapel.figures.formula import (
    Condition,
    Litres,
    Micrograms,
    MilligramsPerCubicMetre,
    Ratio,
    above_zero,
    formula,
)
from lapel.planning.arguments import above, at_least, ordered, share

#: The purpose whose ports may share a pump: they start and stop together.
FULL_SHIFT = "full shift"

#: What a share of the limit must be.
wanted_share = Condition(lambda x: 0.0 < x <= 1.0, "above 0 and at most 1")


@formula(
    "required volume",
    "V = LOQ / (f·L)",
    unit="L",
    source="EN 482 and ISO 20581: the measuring range begins at 0.1 of the limit value for shift-long work",
    needs={"loq_ug": above_zero, "limit_mg_m3": above_zero, "fraction": wanted_share},
    falls_with=("limit_mg_m3", "fraction"),
    symbols={"loq_ug": "LOQ", "limit_mg_m3": "L", "fraction": "f"},
)
def required_volume(loq_ug: Micrograms, limit_mg_m3: MilligramsPerCubicMetre, *, fraction: Ratio = 0.1) -> Any:
    """
    Least volume in which a wanted share of the limit still gives a mass the laboratory reports.

    Parameters
    ----------
    loq_ug : number or Figure
        The laboratory's reporting limit per sampler. [µg]
    limit_mg_m3 : number or Figure
        The exposure limit. [mg/m³]
    fraction : number or Figure
        Share of the limit that must be seen, 0.1 for a full shift. [-]

    Returns
    -------
    Figure
        Volume. [L]

    Raises
    ------
    ValueError
        A value is not finite and above 0, or ``fraction`` is above 1.
    """
    return loq_ug / (fraction * limit_mg_m3)


@formula(
    "expected mass",
    "m = s·L·V",
    unit="ug",
    source="mass balance: 1 mg/m3 in 1 L is 1 ug",
    needs={"limit_mg_m3": above_zero, "volume_l": above_zero, "limit_share": above_zero},
    symbols={"limit_mg_m3": "L", "volume_l": "V", "limit_share": "s"},
)
def expected_mass(limit_mg_m3: MilligramsPerCubicMetre, volume_l: Litres, *, limit_share: Ratio = 1.0) -> Any:
    """
    Mass on a sampler that has seen a share of the limit all the time.

    Parameters
    ----------
    limit_mg_m3 : number or Figure
        The exposure limit. [mg/m³]
    volume_l : number or Figure
        Volume drawn. [L]
    limit_share : number or Figure
        Concentration over limit. [-]

    Returns
    -------
    Figure
        Mass. [µg]

    Raises
    ------
    ValueError
        A value is not finite and above 0.
    """
    return limit_share * limit_mg_m3 * volume_l


@dataclass(frozen=True)
class MethodWindow:
    """What a sampling method and the laboratory allow for one agent."""

    agent: str
    method: str
    flow_min_lpm: float
    flow_max_lpm: float
    loq_ug: float
    volume_min_l: float | None = None
    volume_max_l: float | None = None
    breakthrough_l: float | None = None

    def __post_init__(self) -> None:
        above(0.0, flow_min_lpm=self.flow_min_lpm, flow_max_lpm=self.flow_max_lpm, loq_ug=self.loq_ug)
        above(0.0, volume_min_l=self.volume_min_l, volume_max_l=self.volume_max_l)
        above(0.0, breakthrough_l=self.breakthrough_l)
        ordered("flow_min_lpm", self.flow_min_lpm, "flow_max_lpm", self.flow_max_lpm)


@dataclass(frozen=True)
class Purpose:
    """
    The question a sample answers: over which period, against which limit, seeing which share of it.

    ``least_min`` is how much of the period must be sampled; ``samplers_max`` how many samplers may follow
    one another on the port. A pump that is hung in a start window and stopped in turn runs up to ``shorter_min``
    less and ``longer_min`` more than the period, and each sampler's own start, change and stop may slip by
    ``slip_min``; the volume must be right for all of them.
    """

    name: str
    minutes: float
    limit_mg_m3: float
    fraction: float
    least_min: float
    samplers_max: int
    shorter_min: float = 0.0
    longer_min: float = 0.0
    slip_min: float = 0.0

    def __post_init__(self) -> None:
        above(0.0, minutes=self.minutes, limit_mg_m3=self.limit_mg_m3, least_min=self.least_min)
        share(fraction=self.fraction)
        ordered("least_min", self.least_min, "minutes", self.minutes)
        at_least(0.0, shorter_min=self.shorter_min, longer_min=self.longer_min, slip_min=self.slip_min)
        if self.samplers_max < 1:
            raise ValueError(f"`samplers_max` must be at least 1; it is {self.samplers_max}")

    def shortest_each(self, minutes: float, samplers: int) -> float:
        """Fewest minutes any one of so many samplers runs in a planned run; not above 0 where none is sure. [min]"""
        return (minutes - self.shorter_min) / samplers - (self.slip_min if samplers > 1 else 0.0)

    def longest_each(self, minutes: float, samplers: int) -> float:
        """Most minutes any one of so many samplers runs in a planned run. [min]"""
        return (minutes + self.longer_min) / samplers + self.slip_min


def full_shift(
    limit_mg_m3: float,
    *,
    minutes: float = 480.0,
    fraction: float = 0.1,
    least_share: float = 1.0,
    samplers_max: int = 8,
    shorter_min: float = 0.0,
    longer_min: float = 0.0,
    slip_min: float = 0.0,
) -> Purpose:
    """Compare the shift average with its limit; consecutive samplers allowed (NIOSH 77-173's preference)."""
    share(least_share=least_share)
    least_min = least_share * minutes
    return Purpose(
        FULL_SHIFT, minutes, limit_mg_m3, fraction, least_min, samplers_max, shorter_min, longer_min, slip_min
    )


def short_term(limit_mg_m3: float, *, minutes: float = 15.0, fraction: float = 0.5) -> Purpose:
    """Compare one 15-minute average with a short-term limit; half of it must be seen (EN 482's range)."""
    return Purpose("STEL", minutes, limit_mg_m3, fraction, minutes, 1)


def task(limit_mg_m3: float, *, minutes: float, fraction: float = 0.1, samplers_max: int = 1) -> Purpose:
    """Measure one task from its start to its end."""
    return Purpose("task", minutes, limit_mg_m3, fraction, minutes, samplers_max)

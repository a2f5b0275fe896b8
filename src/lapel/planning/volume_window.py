"""
How much air one sampler must and may see, and at which flow over how many minutes that is possible.

The lower end comes from the laboratory's reporting limit and the share of the exposure limit one wants to
see; the upper end from the method and from breakthrough, cut back by margins that each state their reason.
Litres, minutes, L/min, µg and mg/m³ throughout; note that 1 mg/m³ x 1 L = 1 µg.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
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

#: Share of the 5 % breakthrough volume that is planned for: two thirds (ISO 16017-1 and ISO 22065 family).
BREAKTHROUGH_SHARE = 2 / 3

#: Relative humidity above which charcoal is planned with less volume. [%] A working default, not a clause.
CHARCOAL_HUMIDITY_PERCENT = 60.0

#: Below this flow diffusion adds noticeably to what is pumped. [L/min] NMAM's evaluation chapter warns at
#: about 0.005 L/min; a pump to ISO 13137 need only hold flows above 0.01 L/min.
DIFFUSION_FLOW_LPM = 0.010


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
class Margin:
    """A cut in the volume that may be drawn: the factor, and why."""

    cause: str
    factor: float
    reason: str

    def __post_init__(self) -> None:
        share(factor=self.factor)


def humidity_margin(
    relative_humidity_percent: float, *, medium_kind: str, tested_at_percent: float | None = None
) -> Margin:
    """
    Margin for moist air on charcoal; none where the volume was measured in air at least as moist.

    Parameters
    ----------
    relative_humidity_percent : float
        Worst humidity expected. [%]
    medium_kind : str
        ``"charcoal"`` loses capacity to water; other kinds get no margin here.
    tested_at_percent : float, optional
        Humidity at which the breakthrough volume was measured. [%]

    Returns
    -------
    Margin
        Factor 1 or 0.5.

    Notes
    -----
    One half above 60 % is a working default: weakly held and polar compounds can lose far more (on a
    multi-bed carbon tube C2 volumes fell 13 to 22 times at 90 % humidity, paper of 2017), strongly
    held ones less. A measured volume at the day's humidity replaces it.
    """
    at_least(0.0, relative_humidity_percent=relative_humidity_percent, tested_at_percent=tested_at_percent)
    if medium_kind != "charcoal" or relative_humidity_percent <= CHARCOAL_HUMIDITY_PERCENT:
        return Margin("humidity", 1.0, "no allowance for humidity: not charcoal, or not above 60 %")
    if tested_at_percent is not None and tested_at_percent >= relative_humidity_percent:
        return Margin("humidity", 1.0, f"the volume was measured at {tested_at_percent:g} % humidity")
    return Margin(
        "humidity",
        0.5,
        f"{relative_humidity_percent:g} % humidity: water takes room on charcoal above about 60 %; "
        "weakly held or polar compounds can lose more than this half",
    )


def temperature_margin(temperature_k: float, *, tested_at_k: float = 293.15) -> Margin:
    """
    Margin for air warmer than at the breakthrough test: one half for each 10 K, none when cooler.

    Parameters
    ----------
    temperature_k : float
        Highest air temperature expected. [K]
    tested_at_k : float
        Temperature at which the breakthrough volume was measured. [K]

    Returns
    -------
    Margin
        Factor 0.5 ** (difference / 10 K), at most 1. A rule of thumb for weak retention.
    """
    above(0.0, temperature_k=temperature_k, tested_at_k=tested_at_k)
    warmer_k = temperature_k - tested_at_k
    if warmer_k <= 0:
        return Margin("temperature", 1.0, "not warmer than at the breakthrough test")
    return Margin(
        "temperature",
        0.5 ** (warmer_k / 10.0),
        f"{warmer_k:.3g} K warmer than at the breakthrough test: about one half less for each 10 K",
    )


def co_vapour_margin(own_mg_m3: float, others_mg_m3: float) -> Margin:
    """
    Margin for other vapours on the same bed: the bed's room is shared by mass.

    Parameters
    ----------
    own_mg_m3 : float
        Concentration of the agent in the breakthrough test, usually twice its limit. [mg/m³]
    others_mg_m3 : float
        Sum of the other vapours expected at the same time. [mg/m³]

    Returns
    -------
    Margin
        Factor own / (own + others). A more strongly held neighbour can displace more than its share.
    """
    above(0.0, own_mg_m3=own_mg_m3)
    at_least(0.0, others_mg_m3=others_mg_m3)
    if others_mg_m3 == 0:
        return Margin("co-vapours", 1.0, "no other vapour expected on this bed")
    return Margin(
        "co-vapours",
        own_mg_m3 / (own_mg_m3 + others_mg_m3),
        f"{others_mg_m3:g} mg/m³ of other vapours share the bed with {own_mg_m3:g} mg/m³ of this one",
    )


@dataclass(frozen=True)
class SafeVolume:
    """The most air one sampler may see, what set it, and the margins that were taken off."""

    litres: float
    basis: str
    before_margins_l: float
    margins: tuple[Margin, ...]

    @property
    def reasons(self) -> tuple[str, ...]:
        """The basis and every margin that bites, in words."""
        bites = tuple(f"x {m.factor:.3g} ({m.cause}: {m.reason})" for m in self.margins if m.factor < 1)
        return (f"{self.before_margins_l:.4g} L: {self.basis}", *bites)


def safe_maximum_volume(
    *,
    method_max_l: float | None = None,
    breakthrough_l: float | None = None,
    breakthrough_share: float = BREAKTHROUGH_SHARE,
    margins: Sequence[Margin] = (),
) -> SafeVolume:
    """
    Largest volume to plan for: the method's maximum or a share of the breakthrough volume, less margins.

    Parameters
    ----------
    method_max_l : float, optional
        Maximum volume printed in the method. [L]
    breakthrough_l : float, optional
        Volume at 5 % breakthrough. [L]
    breakthrough_share : float
        Share of it that is planned for. [-]
    margins : sequence of Margin
        Cuts for what the day is expected to be worse in than the test.

    Returns
    -------
    SafeVolume
        Volume with its reasons; ``litres`` is infinite where neither bound was given, and says so.

    Raises
    ------
    ValueError
        A volume is not above 0, or the share is not between 0 and 1.

    Notes
    -----
    The smaller of the two bounds, times every margin. The margins are applied to the method's maximum
    too: it was set for the conditions of its own test.
    """
    above(0.0, method_max_l=method_max_l, breakthrough_l=breakthrough_l)
    share(breakthrough_share=breakthrough_share)
    bounds: list[tuple[float, str]] = []
    if method_max_l is not None:
        bounds.append((method_max_l, "the method's maximum volume"))
    if breakthrough_l is not None:
        words = f"{breakthrough_share:.3g} of the {breakthrough_l:g} L breakthrough volume"
        bounds.append((breakthrough_share * breakthrough_l, words))
    if not bounds:
        return SafeVolume(math.inf, "no maximum volume and no breakthrough volume is known", math.inf, tuple(margins))
    litres, basis = min(bounds)
    return SafeVolume(litres * math.prod(m.factor for m in margins), basis, litres, tuple(margins))


@formula(
    "diffusive uptake",
    "Q_d = 0.06·D·A / l, A = pi·d²/4",
    unit="L/min",
    source="Fick's first law along the open entry of a tube; lengths in cm, 0.06 from cm³/s to L/min",
    needs={"bore_mm": above_zero, "open_length_mm": above_zero, "diffusivity_cm2_s": above_zero},
    falls_with=("open_length_mm",),
    symbols={"bore_mm": "d", "open_length_mm": "l", "diffusivity_cm2_s": "D"},
)
def diffusive_uptake(*, bore_mm: Any = 4.0, open_length_mm: Any = 10.0, diffusivity_cm2_s: Any = 0.08) -> Any:
    """
    Air an open tube clears by diffusion alone.

    Parameters
    ----------
    bore_mm, open_length_mm : number or Figure
        Inner diameter of the entry and its free length before the bed. [mm]
    diffusivity_cm2_s : number or Figure
        Diffusion coefficient of the vapour in air. [cm²/s]

    Returns
    -------
    Figure
        Equivalent flow. [L/min]

    Raises
    ------
    ValueError
        A value is not finite and above 0.
    """
    area_cm2 = math.pi * (bore_mm / 20.0) ** 2
    return 0.06 * diffusivity_cm2_s * area_cm2 / (open_length_mm / 10.0)


@dataclass(frozen=True)
class DiffusionShare:
    """What diffusion may add to the pumped amount, as shares of it."""

    at_most: float
    steady_one_dimensional: float


def diffusion_share(flow_lpm: float, *, uptake_lpm: float | None = None) -> DiffusionShare:
    """
    Extra amount by diffusion into a tube that is being pumped.

    Parameters
    ----------
    flow_lpm : float
        Pumped flow. [L/min]
    uptake_lpm : float, optional
        Diffusive uptake of the entry; a 4 mm bore with 10 mm free length where not given. [L/min]

    Returns
    -------
    DiffusionShare
        ``at_most`` adds both flows, Q_d/Q. ``steady_one_dimensional`` is the steady solution of flow and
        diffusion along the entry, 1/(exp(Q/Q_d) - 1), and is smaller. Plans use the first.
    """
    above(0.0, flow_lpm=flow_lpm, uptake_lpm=uptake_lpm)
    uptake = float(diffusive_uptake.raw()) if uptake_lpm is None else uptake_lpm
    ratio = flow_lpm / uptake
    return DiffusionShare(1.0 / ratio, 1.0 / math.expm1(ratio) if ratio < 700 else 0.0)


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
    one another on the port.
    """

    name: str
    minutes: float
    limit_mg_m3: float
    fraction: float
    least_min: float
    samplers_max: int

    def __post_init__(self) -> None:
        above(0.0, minutes=self.minutes, limit_mg_m3=self.limit_mg_m3, least_min=self.least_min)
        share(fraction=self.fraction)
        ordered("least_min", self.least_min, "minutes", self.minutes)
        if self.samplers_max < 1:
            raise ValueError(f"`samplers_max` must be at least 1; it is {self.samplers_max}")


def full_shift(
    limit_mg_m3: float,
    *,
    minutes: float = 480.0,
    fraction: float = 0.1,
    least_share: float = 1.0,
    samplers_max: int = 8,
) -> Purpose:
    """Compare the shift average with its limit; consecutive samplers allowed (NIOSH 77-173's preference)."""
    share(least_share=least_share)
    return Purpose(FULL_SHIFT, minutes, limit_mg_m3, fraction, least_share * minutes, samplers_max)


def short_term(limit_mg_m3: float, *, minutes: float = 15.0, fraction: float = 0.5) -> Purpose:
    """Compare one 15-minute average with a short-term limit; half of it must be seen (EN 482's range)."""
    return Purpose("STEL", minutes, limit_mg_m3, fraction, minutes, 1)


def task(limit_mg_m3: float, *, minutes: float, fraction: float = 0.1, samplers_max: int = 1) -> Purpose:
    """Measure one task from its start to its end."""
    return Purpose("task", minutes, limit_mg_m3, fraction, minutes, samplers_max)

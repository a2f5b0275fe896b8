"""How much air one sampler may see.

The method's maximum or a share of the breakthrough volume, cut back by margins that each state their reason.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lapel.planning.arguments import above, at_least, share

#: Share of the 5 % breakthrough volume that is planned for: two thirds (ISO 16017-1 and ISO 22065 family).
BREAKTHROUGH_SHARE = 2 / 3

#: Relative humidity above which charcoal is planned with less volume. [%] A working default, not a clause.
CHARCOAL_HUMIDITY_PERCENT = 60.0


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

"""What field blanks say about the mass that was never in the air."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from lapel.figures import Figure, Micrograms, formula, number, reading, zero_or_more
from lapel.said import said


@formula(
    "mean blank",
    "b = Σbᵢ/n + s",
    unit="ug",
    source="mean of the field blanks; the blank inside one sample is one more draw: s·√(1 + 1/n)",
    needs={"masses": zero_or_more},
    symbols={"masses": "b", "spread_ug": "s"},
)
def _mean_blank(masses: Any, *, spread_ug: Micrograms) -> Any:
    return sum(masses) / len(masses) + spread_ug


@formula(
    "mean blank, some below the reporting limit",
    "b = (Σ detected + ½·Σ limits)/n + s",
    unit="ug",
    source="a blank below its limit is between 0 and it: middle of the interval, half-width in s (JCGM 100, 4.3.7)",
    needs={"detected": zero_or_more, "limits": zero_or_more},
    symbols={"spread_ug": "s"},
)
def _mean_blank_of_interval(detected: Any, limits: Any, *, spread_ug: Micrograms) -> Any:
    return (sum(detected) + 0.5 * sum(limits)) / (len(detected) + len(limits)) + spread_ug


@formula(
    "bound of the blank",
    "b ≤ max(Lᵢ)",
    unit="ug",
    source="every blank was below its reporting limit",
    needs={"largest_ug": zero_or_more, "limits": zero_or_more},
    symbols={"largest_ug": "max(Lᵢ)", "limits": "L"},
)
def _blank_bound(largest_ug: Micrograms, *, limits: Any) -> Any:
    return largest_ug


def mean_blank(masses: Sequence[Any]) -> Figure:
    """
    What the field blanks say about the mass that was never in the air.

    Parameters
    ----------
    masses : sequence of float or Figure
        One a blank; below its reporting limit it is that limit, "at most". [ug]

    Returns
    -------
    Figure
        - All detected: the mean. Standard uncertainty s·√(1 + 1/n), for the sample's own blank is one more draw; for a
          single blank b/√3 (anything from 0 to 2b), since one blank is not a distribution.
        - Some below their limits: the middle between the mean with those at 0 and at their limits; the interval's
          half-width adds to the uncertainty.
        - All below: the largest limit, "at most". Such a blank is not subtracted, see `laboratory_mass`. [ug]

    Raises
    ------
    ValueError
        There is no blank, or a mass is negative.
    """
    if len(masses) == 0:
        raise ValueError("`masses` must have 1 blank or more; found none")
    limits = [item for item in masses if is_at_most(item)]
    detected = [item for item in masses if not is_at_most(item)]
    if not detected:
        return _blank_bound(max(limits, key=number), limits=limits).named("blank, below its reporting limit")
    n = len(masses)
    middles = [number(item) for item in detected] + [number(item) / 2.0 for item in limits]
    mean = sum(middles) / n
    if n == 1:
        u, how = mean / math.sqrt(3.0), "a single blank: anything from 0 to twice it"
    else:
        s = math.sqrt(sum((value - mean) ** 2 for value in middles) / (n - 1))
        half_width = sum(number(item) for item in limits) / n / 2.0
        u = math.hypot(s * math.sqrt(1.0 + 1.0 / n), half_width / math.sqrt(3.0))
        how = said("{n} blanks, {below} of them below the reporting limit", n=n, below=len(limits))
    spread = reading(
        0.0, "ug", name="spread of the blanks", uncertainty=u if math.isfinite(u) else 0.0, cause="blank", source=how
    )
    if limits:
        return _mean_blank_of_interval(detected, [item.bounding("exactly") for item in limits], spread_ug=spread).named(
            "mean blank"
        )
    return _mean_blank(detected, spread_ug=spread)


def is_at_most(value: Any) -> bool:
    """Say whether a mass is a figure below its reporting limit."""
    return isinstance(value, Figure) and value.sense == "at most"
